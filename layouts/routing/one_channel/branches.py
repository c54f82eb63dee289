"""Branches of a tree: where a T may stand on the runs so far, and the cheapest path from an end to one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layouts.routing.instance import DX, DY, Instance, Net, Rates, Terminal
from layouts.routing.one_channel.ends import Starts
from layouts.routing.one_channel.path_search import PathSearch, Piece, Targets
from layouts.routing.one_channel.runs import TEE, GridRun
from layouts.routing.one_channel.trail import cost_trail, draw_trail, turn_round
from layouts.routing.trees.tree_costs import TreeFlow, follow_flow, price_upgrades, split_path


@dataclass(frozen=True, slots=True)
class TeePlaces:
    """Where a branch may begin on a tree so far.

    Parameters
    ----------
    own : (cells,) bool
        Blocked for the branch.
    tees : (n,) int
        The Ts' cells.
    stubs : (n, reach) int
        Their straight stubs.
    starts : Starts
        The states past these.
    price : (n,) float
        What the stubs' cells but the last are priced at.
    flow : TreeFlow or None
        The tree as its flow goes, where legs have their own rates.
    """

    own: np.ndarray
    tees: np.ndarray
    stubs: np.ndarray
    starts: Starts
    price: np.ndarray
    flow: TreeFlow | None


def find_tee_places(
    instance: Instance,
    net: Net,
    runs: list[GridRun],
    path: list[int],
    chosen: dict[int, Terminal],
    blocked: np.ndarray,
    cell_price: np.ndarray,
) -> TeePlaces:
    """Return where a branch may begin on the runs so far.

    Parameters
    ----------
    instance : Instance
    net : Net
    runs : list of GridRun
    path : list of int
        The runs' cells in order.
    chosen : dict of int to Terminal
        Of the ends that the runs join.
    blocked : (classes, cells) bool
    cell_price : (cells,) float

    Returns
    -------
    TeePlaces
    """
    own = blocked[net.channel_class]
    if instance.bend_cells == 0:
        tees = np.repeat(np.array(sorted(set(path)), np.int64), 4)
        stubs = np.zeros((len(tees), 0), np.int64)
        states = tees * 4 + np.tile(np.arange(4), len(tees) // 4)
    else:
        own = own.copy()
        near = instance.offsets[net.channel_class][net.channel_class]
        _block_near(instance, near, own, set(path))
        reach = int(np.abs(near).max()) + 1
        tees, stubs, away = _list_stubs(
            instance, list_tee_cells(instance, runs), reach, blocked[net.channel_class], own
        )
        states = stubs[:, -1] * 4 + away
    # The search itself pays for the cell that it begins at.
    price = cell_price[stubs[:, :-1]].sum(axis=1)
    flow = None
    if net.leg_rates:
        ways = split_path(instance.columns * instance.rows, instance.columns, runs, path)
        flow = follow_flow(net, ways, chosen)
    return TeePlaces(own, tees, stubs, Starts((), states >> 2, np.arange(len(tees)), states), price, flow)


def list_tee_cells(instance: Instance, runs: list[GridRun]) -> list[tuple[int, int]]:
    """Return the (cell, direction) of runs at which a T may stand, those beside an earlier T left out."""
    columns, rows, margin = instance.columns, instance.rows, instance.tee_margin
    tees = [(*run.corners[-1], run.layer) for run in runs if run.last == TEE]
    return [
        (cell, along)
        for run in runs
        for cell, along in run.straight
        if all(
            abs(cell % columns - x) + abs(cell // columns % rows - y) >= margin
            for x, y, layer in tees
            if layer == run.layer
        )
    ]


def group_ends(net: Net, waiting: list[int]) -> list[list[int]]:
    """Return ends by the rates of their legs: those of one rate are searched for at once."""
    if not net.leg_rates:
        return [waiting]
    groups: dict[Rates, list[int]] = {}
    for end in waiting:
        groups.setdefault(net.leg_rates[1 << end], []).append(end)
    return list(groups.values())


def attach_end(
    search: PathSearch,
    net: Net,
    usable: list[np.ndarray],
    prices: list[np.ndarray],
    group: list[int],
    chosen: dict[int, Terminal],
    places: TeePlaces,
    cell_price: np.ndarray,
) -> Piece | None:
    """Return the cheapest path from any end of a group to a T on the runs so far; None where there is none.

    It is looked for from the Ts: what is missing to the ends is known for every state.

    Parameters
    ----------
    search : PathSearch
    net : Net
    usable : list of (n,) bool
        For each end of the net which terminals may be taken.
    prices : list of (n,) float
        For each end what its terminals cost.
    group : list of int
        Ends whose legs have the same rates.
    chosen : dict of int to Terminal
        Of the ends that the tree has.
    places : TeePlaces
    cell_price : (cells,) float

    Returns
    -------
    Piece or None
    """
    search.use_leg(net, group[0])
    instance, rates, tables = search.instance, search.rates, search.tables[net.name]
    tees, stubs = places.tees, places.stubs
    tee_prices = places.price + (rates.tee + rates.step * stubs.shape[1])
    if places.flow is not None:
        dearer = price_upgrades(net, places.flow, group[0])
        tee_prices = tee_prices + np.array([dearer.get(cell, 0.0) for cell in tees.tolist()])
    states, owners = [], []
    firsts = [0]
    for end in group:
        table = tables[end]
        may = usable[end] & ~places.own[table.cell] & search.clear_of_all(net, end, chosen)
        here = may[table.owner]
        states.append(table.arriving[here])
        owners.append(table.owner[here] + firsts[-1])
        firsts.append(firsts[-1] + len(table.terminals))

    def end_of(number: int) -> tuple[int, Terminal]:
        place = next(n for n in range(len(group)) if number < firsts[n + 1])
        return group[place], tables[group[place]].terminals[number - firsts[place]]

    def draw(trail: list[int], tee: int, number: int) -> tuple[tuple[GridRun, ...], list[int]]:
        stub = [int(c) for c in stubs[tee]]
        tail = (int(tees[tee]), *stub[:-1]) if stub else ()
        landing = Terminal(cell=trail[0] >> 2, node=int(tees[tee]), tail=tail)
        end, terminal = end_of(number)
        return draw_trail(instance, search.arcs, turn_round(trail), terminal, landing, end, TEE)

    found = search.search_apart(
        places.starts,
        np.ones(len(tees), dtype=bool),
        tee_prices,
        Targets(
            np.concatenate(states), np.concatenate(owners), np.concatenate([prices[end] for end in group])
        ),
        places.own,
        cell_price,
        search.ahead_of_group(net, group),
        draw,
    )
    if found is None:
        return None
    end, terminal = end_of(found.goal)
    cost = cost_trail(instance, rates, turn_round(found.trail), terminal.cost)
    cost += rates.tee + rates.step * stubs.shape[1]
    return Piece(found.priced, cost, found.trail, found.runs, found.cells, {end: terminal}, end)


def _block_near(instance: Instance, near: np.ndarray, own: np.ndarray, cells: set[int]) -> None:
    """Block, in place, what lies too near the channel's own cells."""
    columns, rows = instance.columns, instance.rows
    at = np.array(sorted(cells), np.int64)
    x = (at % columns)[:, None] + near[None, :, 0]
    y = (at // columns % rows)[:, None] + near[None, :, 1]
    base = (at - at % (columns * rows))[:, None]
    inside = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
    own[(base + y * columns + x)[inside]] = True


def _list_stubs(
    instance: Instance, places: list[tuple[int, int]], reach: int, blocked: np.ndarray, own: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the Ts that may stand: their cells (n,), straight stubs (n, reach) and directions (n,)."""
    columns, rows = instance.columns, instance.rows
    cells = np.array([c for c, _ in places for _ in range(2)], np.int64)
    away = np.array([(d + turn) % 4 for _, d in places for turn in (1, 3)], np.int64)
    steps = np.arange(1, reach + 1)
    x = (cells % columns)[:, None] + np.array(DX)[away][:, None] * steps
    y = (cells // columns % rows)[:, None] + np.array(DY)[away][:, None] * steps
    inside = ((x >= 0) & (x < columns) & (y >= 0) & (y < rows)).all(axis=1)
    stubs = ((cells - cells % (columns * rows))[:, None] + y * columns + x)[inside]
    cells, away = cells[inside], away[inside]
    free = ~blocked[stubs].any(axis=1) & ~own[stubs[:, -1]]
    return cells[free], stubs[free], away[free]
