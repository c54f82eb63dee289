"""Least costs of a panel's channels to every node of its plate, whatever the place of tank and pump.

Each channel is measured from its ports with nothing in its way but what stands fast: the panel's edge, keep-clear
regions and the ports of other channels that have no choice; and once the pump's place is chosen, with the start of its
feed.

Source
------
Dijkstra, "A note on two problems in connexion with graphs", Numerische Mathematik 1 (1959); Dreyfus and Wagner,
"The Steiner Problem in Graphs", Networks 1 (1971).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layouts.costs import ChannelCosts
from layouts.ground import Ground, port_terminals
from layouts.nets import DRAIN, PUMP_OUTLET, TANK_RETURN, ChannelNeed
from layouts.place import DRAIN_LEAVES, PumpPlace, tank_walls
from layouts.routing.instance import CHANNEL, DX, DY, Instance, Rates
from layouts.routing.one_channel.ends import EndTable
from layouts.routing.one_channel.search import BREATH, INFINITE, measure_ahead
from layouts.routing.one_channel.trail import arc_cells
from layouts.terrain import near_feed

MOST_TREE_ENDS = 6
"""Ends of a channel up to which its least tree is worked out: each further one makes the work threefold."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """The last search of a channel's least cost: its goals with what they cost, at which rates, round what."""

    need: ChannelNeed
    goals: np.ndarray
    price: np.ndarray
    rates: Rates
    blocked: np.ndarray


@dataclass(frozen=True, slots=True)
class _Channel:
    """A channel of one movable end: its width, what a step costs there, (cells, 4) least costs, its last search."""

    width: float
    step: float
    least: np.ndarray
    stage: _Stage | None

    @property
    def tree(self) -> bool:
        """Whether it has many ends."""
        return self.stage is None or len(self.stage.need.ends) > 2


class CostField:
    """Least costs of a panel's channels to every node of its plate.

    Parameters
    ----------
    ground : Ground
    """

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.plane = ground.grid.cells
        self.fixed = self.fixed_trees = 0.0
        """Of channels that meet neither tank nor pump, infinite where one of them cannot be had; those of many ends."""
        self.kept = sum(one.cost for one in ground.kept)
        """Of channels whose routes are kept."""
        self.outlet: list[_Channel] = []
        self.inlet: list[_Channel] = []
        self.tank: list[_Channel] = []
        self.direct: Rates | None = None
        grid, costs = ground.grid, ground.costs
        self.arcs = arc_cells(
            Instance(
                grid.columns,
                grid.rows,
                (),
                ground.blocked,
                ground.offsets,
                costs.rates,
                ground.bend_cells,
                ground.panel.channel.bend_radius / grid.pitch,
            )
        )
        for need in ground.needs:
            self._add(need)

    def feed(self, drops: np.ndarray | float) -> np.ndarray:
        """Return what feeds of these lengths [mm] cost."""
        return np.round(self.ground.costs.feed * np.asarray(drops, dtype=float))

    def bound_pump(self, place: PumpPlace) -> float:
        """Return what the channels that end at the pump cost at least, with those that meet neither."""
        outlets = sum(self._at_outlet(one, place) for one in self.outlet)
        return self.fixed + self._bound_drain(place) + outlets + self.kept

    def bound_trees(self, place: PumpPlace) -> float:
        """Return what of `bound_pump` is that of channels of many ends."""
        return self.fixed_trees + sum(self._at_outlet(one, place) for one in self.outlet if one.tree)

    def refine_pump(self, place: PumpPlace, low: float) -> float:
        """Return `bound_pump` with the feed in the way from the pump's inlet up to y = `low`, [mm]."""
        ground = self.ground
        bound = self.fixed + self._bound_drain(place)
        for one in self.outlet:
            stage = one.stage
            if stage is None or ground.panel.channel.layers == 2:
                bound += self._at_outlet(one, place)
                continue
            blocked = stage.blocked.copy()
            top = (place.inlet[0], low)
            own = ground.channel_class(stage.need)
            gap = ground.tank_gaps[own]
            blocked[own] |= near_feed(ground.panel, ground.grid, top, place.inlet, one.width, gap)
            least = self._measure(stage.need, stage.goals, stage.price, stage.rates, blocked)
            bound += float(least[ground.grid.cell_at(place.outlet)].min())
        return bound + self.kept

    def bound_tanks(self, boxes: np.ndarray, trees: bool = False) -> np.ndarray:
        """Return what the channels that end at a pocket tank cost at least, or those of many ends, (n,) float."""
        bounds = np.zeros(len(boxes))
        panel, grid = self.ground.panel, self.ground.grid
        for one in self.tank:
            if trees and not one.tree:
                continue
            for n, box in enumerate(boxes):
                x0, y0, x1, y1 = (float(v) for v in box)
                bounds[n] += min(
                    (
                        float(one.least[nodes, d].min()) + np.floor(one.step * beyond)
                        for d, beyond, nodes in tank_walls(panel, grid, (x0, y0, x1, y1), one.width)
                        if nodes
                    ),
                    default=np.inf,
                )
        return bounds

    def _at_outlet(self, one: _Channel, place: PumpPlace) -> float:
        return float(one.least[self.ground.grid.cell_at(place.outlet)].min())

    def _bound_drain(self, place: PumpPlace) -> float:
        cell = self.ground.grid.cell_at(place.inlet)
        return sum(float(one.least[cell, list(DRAIN_LEAVES)].min()) for one in self.inlet)

    def bound_direct(self, place: PumpPlace, boxes: np.ndarray) -> np.ndarray:
        """Return what a channel from the pump straight to a pocket tank costs at least, (n,) float."""
        if self.direct is None:
            return np.zeros(len(boxes))
        x, y = place.outlet
        dx = np.maximum(np.maximum(boxes[:, 0] - x, x - boxes[:, 2]), 0.0)
        dy = np.maximum(np.maximum(boxes[:, 1] - y, y - boxes[:, 3]), 0.0)
        return np.floor(self.direct.step * (dx + dy) / self.ground.grid.pitch)

    def _add(self, need: ChannelNeed) -> None:
        ground = self.ground
        costs = ground.costs.channels[need.name]
        movable = [k for k, end in enumerate(need.ends) if end.port is None]
        if len(movable) == 2:
            self.direct = costs.rates
            return
        root = movable[0] if movable else 0
        blocked = self.block_for(need)
        least, stage = self._measure_channel(need, root, costs, blocked)
        one = _Channel(costs.width, costs.end_rates[root].step, least, stage)
        if not movable:
            starts = self._states(need, 0, blocked, leaving=True)
            cost = float(least.reshape(-1)[starts].min()) if len(starts) else np.inf
            self.fixed += cost
            self.fixed_trees += cost if one.tree else 0.0
        elif need.name == DRAIN:
            self.inlet.append(one)
        elif need.ends[root].name == PUMP_OUTLET:
            self.outlet.append(one)
        else:
            assert need.ends[root].name == TANK_RETURN
            self.tank.append(one)

    def _measure_channel(
        self, need: ChannelNeed, root: int, costs: ChannelCosts, blocked: np.ndarray
    ) -> tuple[np.ndarray, _Stage | None]:
        """Return what a channel costs at least that leaves its root in some state, (cells, 4) float; its last search.

        Of many ends: from the sets of one far end to the set of all, each from what its parts cost from where
        they meet, at the rates of the flow that they have together.
        """
        far = [k for k in range(len(need.ends)) if k != root]
        goals = [self._states(need, k, blocked, leaving=False) for k in far]
        if len(far) == 1:
            stage = _Stage(need, goals[0], np.zeros(len(goals[0])), costs.rates, blocked)
            return self._measure(need, stage.goals, stage.price, stage.rates, blocked), stage
        legs = costs.leg_rates or (costs.rates,) * 2 ** len(need.ends)
        if len(need.ends) > MOST_TREE_ENDS:
            ways = [
                self._measure(
                    need, goal, np.zeros(len(goal)), _least_rates(legs, root, k, costs.rates.tee), blocked
                )
                for k, goal in zip(far, goals, strict=True)
            ]
            return np.maximum.reduce(ways), None
        known: dict[int, np.ndarray] = {}
        steps: dict[int, float] = {}
        for held in sorted(range(1, 2 ** len(far)), key=int.bit_count):
            mask = sum(1 << k for n, k in enumerate(far) if held >> n & 1)
            steps[held] = legs[mask].step
            if held.bit_count() == 1:
                goal = goals[held.bit_length() - 1]
                price = np.zeros(len(goal))
            else:
                goal, price = self._meet(known, steps, held, blocked[self.ground.channel_class(need)])
                price = price + costs.rates.tee
            stage = _Stage(need, goal, price, legs[mask], blocked)
            known[held] = self._measure(need, goal, price, legs[mask], blocked)
        return known[2 ** len(far) - 1], stage

    def _meet(
        self, known: dict[int, np.ndarray], steps: dict[int, float], held: int, closed: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return the states from which a T is reached that parts a set of ends, and what it costs from there.

        A T stands on a straight: of its three legs two lie in line. The third, its branch, begins with as many
        straight cells as keep it off the others, or keep two Ts apart.
        """
        ground = self.ground
        columns, rows = ground.grid.columns, ground.grid.rows
        parts = [part for part in range(1, held) if part & held == part]
        if ground.panel.channel.layers == 2 or ground.bend_cells == 0 or ground.tee_margin == 0:
            meeting = np.full(self.plane, np.inf)
            for part in parts:
                meeting = np.minimum(meeting, known[part].min(axis=1) + known[held - part].min(axis=1))
            cells = np.flatnonzero(np.isfinite(meeting))
            return (cells[:, None] * 4 + np.arange(4)).ravel(), np.repeat(meeting[cells], 4)
        reach = int(np.abs(ground.offsets[CHANNEL][CHANNEL]).max()) + 1
        straight = min(reach, ground.tee_margin)
        free = ~closed.reshape(rows, columns)
        out = np.full((4, rows, columns), np.inf)
        ways = {part: known[part].reshape(rows, columns, 4) for part in parts}
        branches = {
            part: [_shift(way[:, :, d], d, straight) + straight * steps[part] for d in range(4)]
            for part, way in ways.items()
        }
        for d in range(4):
            left, right = (d + 1) % 4, (d + 3) % 4
            for part in parts:
                # Straight on, the rest as the branch; or what comes in is the branch itself.
                aside = branches[held - part]
                out[d] = np.minimum(out[d], ways[part][:, :, d] + np.minimum(aside[left], aside[right]))
                both = ways[part][:, :, left] + ways[held - part][:, :, right]
                out[d] = np.minimum(out[d], _shift(both, d, straight) + straight * steps[held])
            out[d][~free] = np.inf
        price = out.reshape(4, -1).T.ravel()
        goal = np.flatnonzero(np.isfinite(price))
        return goal, price[goal]

    def _measure(
        self, need: ChannelNeed, goals: np.ndarray, price: np.ndarray, rates: Rates, blocked: np.ndarray
    ) -> np.ndarray:
        """Return what the way from every state to a goal and the goal cost at least, (cells, 4) float."""
        ground = self.ground
        corner = rates.bend + 2 * ground.bend_cells * rates.step
        arc_x, arc_y = self.arcs
        if ground.panel.channel.layers == 2:
            # At a through hole a channel may turn within its cell.
            corner, arc_x, arc_y = min(rates.bend, rates.through), arc_x[:, :0], arc_y[:, :0]
        ahead = measure_ahead(
            ground.grid.columns,
            ground.grid.rows,
            1,
            blocked[ground.channel_class(need)],
            rates.step,
            corner,
            0.0,
            np.ascontiguousarray(arc_x),
            np.ascontiguousarray(arc_y),
            goals,
            price,
        )
        return np.where(ahead < INFINITE / 2, ahead / BREATH, np.inf).reshape(-1, 4)

    def _states(self, need: ChannelNeed, end: int, blocked: np.ndarray, leaving: bool) -> np.ndarray:
        port = need.ends[end].port
        assert port is not None
        layered = np.tile(blocked, self.ground.panel.channel.layers)
        table = EndTable(port_terminals(self.ground, layered, port, need))
        states = table.leaving if leaving else table.arriving
        return np.unique(states % (4 * self.plane))

    def block_for(self, need: ChannelNeed) -> np.ndarray:
        """Return what stands fast in a channel's way, (classes, cells) bool."""
        ground = self.ground
        columns, rows = ground.grid.columns, ground.grid.rows
        blocked = ground.blocked.copy()
        if ground.panel.channel.layers == 2:
            # A channel may pass a port, or a kept route, in the other layer.
            return blocked
        blocked |= ground.near_kept
        for other in ground.needs:
            for end in other.ends:
                if other is need or end.port is None:
                    continue
                terminals = port_terminals(ground, ground.blocked, end.port, other)
                if len(terminals) != 1:
                    continue
                there = np.array([terminals[0].node, *terminals[0].bore])
                for here in range(len(blocked)):
                    near = ground.offsets[terminals[0].port_class][here]
                    x = (there % columns)[:, None] + near[None, :, 0]
                    y = (there // columns)[:, None] + near[None, :, 1]
                    inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
                    blocked[here, y[inside] * columns + x[inside]] = True
        return blocked


def _least_rates(legs: tuple[Rates, ...], root: int, end: int, tee: float) -> Rates:
    """Return the least rates of all legs that may stand between a root and an end; a T may stand for a bend."""
    between = [rates for mask, rates in enumerate(legs) if mask >> end & 1 and not mask >> root & 1]
    step = min(rates.step for rates in between)
    return Rates(step, min(tee, *(rates.bend for rates in between)), through=between[0].through)


def _shift(plane: np.ndarray, d: int, cells: int) -> np.ndarray:
    """Return for each place what stands `cells` further in a direction, (rows, columns) float; infinite outside."""
    dx, dy = DX[d] * cells, DY[d] * cells
    rows, columns = plane.shape
    out = np.full_like(plane, np.inf)
    inside_y = slice(max(0, -dy), rows - max(0, dy))
    inside_x = slice(max(0, -dx), columns - max(0, dx))
    from_y = slice(max(0, dy), rows + min(0, dy))
    from_x = slice(max(0, dx), columns + min(0, dx))
    out[inside_y, inside_x] = plane[from_y, from_x]
    return out
