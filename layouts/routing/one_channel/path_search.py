"""The cheapest path from any of several states to any of several others, which keeps off itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from layouts.routing.instance import CHANNEL, Instance, Net, Rates, Terminal
from layouts.routing.one_channel.ends import EndTable, Starts
from layouts.routing.one_channel.runs import GridRun, find_return
from layouts.routing.one_channel.search import INFINITE, find_path, mark_near, measure_ahead
from layouts.routing.one_channel.trail import arc_cells, cost_bend

MOST_LOOPS = 6
"""Searches for a path that keeps off itself."""


class Guide(Protocol):
    """Finds one path in place of the plain search: one of a given course past the other channels."""

    def find(
        self,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        sources: np.ndarray,
        source_cost: np.ndarray,
        goal: np.ndarray,
        goal_cost: np.ndarray,
    ) -> tuple[list[int], float] | None:
        """Return the states of the cheapest path, first to last, and its cost; None where there is none.

        The arguments are those of `find_path`.
        """


@dataclass(frozen=True, slots=True)
class Targets:
    """Where a path may stop: states (n,) with the number of the goal of each, and the goals' prices (m,)."""

    states: np.ndarray
    numbers: np.ndarray
    cost: np.ndarray


@dataclass(frozen=True, slots=True)
class Found:
    """A path found.

    Parameters
    ----------
    priced : float
        Its cost with all prices.
    trail : list of int
        Its states, first to last.
    start, goal : int
        Numbers of where it begins and stops.
    runs : tuple of GridRun
    cells : list of int
    """

    priced: float
    trail: list[int]
    start: int
    goal: int
    runs: tuple[GridRun, ...]
    cells: list[int]


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a channel, from an end to another or to a T on earlier parts.

    Parameters
    ----------
    priced, cost : float
        With all prices, and without any of congestion.
    trail : list of int
        States as the search went.
    runs : tuple of GridRun
    cells : list of int
        In order along the runs.
    terminals : dict of int to Terminal
        Of the ends that it adds to the channel.
    end : int
        The end that was waiting for it.
    """

    priced: float
    cost: float
    trail: list[int]
    runs: tuple[GridRun, ...]
    cells: list[int]
    terminals: dict[int, Terminal]
    end: int


Draw = Callable[[list[int], int, int], tuple[tuple[GridRun, ...], list[int]]]
"""From a trail and the numbers of its start and goal to its runs and cells."""


class PathSearch:
    """Work space for finding paths of one instance's nets; holds no result.

    `narrowed` is set once a path had to be kept off itself by blocking cells: costs found then bound nothing.
    `least` is the least priced cost of what was found since it was last made infinite.

    Parameters
    ----------
    instance : Instance
    floors : list of (classes, cells) bool or None
        For each net what is blocked whenever it is traced; None: what the instance blocks.
    """

    def __init__(self, instance: Instance, floors: list[np.ndarray] | None = None) -> None:
        self.instance = instance
        self.arcs = arc_cells(instance)
        self.distance = np.full(instance.cells * 4, INFINITE)
        self.parent = np.empty(instance.cells * 4, np.int64)
        self.goal = np.full(instance.cells * 4, -1, np.int64)
        self.near = np.zeros(instance.cells, np.int32)
        self.stamp = np.zeros(instance.cells, np.int64)
        self.tag = 0
        self.narrowed = False
        self.least = math.inf
        self.rates: Rates = instance.rates
        self.guides: dict[str, Guide] = {}
        self.guide: Guide | None = None
        self.channel_class = CHANNEL
        self.tables = {
            net.name: tuple(EndTable(end, net.channel_class) for end in net.ends) for net in instance.nets
        }
        self.floors = {
            net.name: instance.blocked if floors is None else floors[n] for n, net in enumerate(instance.nets)
        }
        self.distances: dict[tuple[str, int, Rates], np.ndarray] = {}
        self.group_distances: dict[tuple[str, tuple[int, ...], Rates], np.ndarray] = {}
        self.clear: dict[tuple[str, int, int, int], np.ndarray] = {}

    def use(self, net: Net) -> None:
        """Take a net's rates and class for what follows."""
        self.rates = self.instance.rates_of(net)
        self.channel_class = net.channel_class

    def use_leg(self, net: Net, end: int) -> None:
        """Take the rates of the leg at an end, where a tree's legs have their own."""
        if net.leg_rates:
            self.rates = net.leg_rates[1 << end]

    def ahead_of(self, net: Net, end: int) -> np.ndarray:
        """Return the least cost from every state to an end of a net, at the present rates, (cells * 4,) float."""
        key = (net.name, end, self.rates)
        if key not in self.distances:
            instance, table = self.instance, self.tables[net.name][end]
            floor = self.floors[net.name][net.channel_class]
            may = ~floor[table.cell[table.owner]]
            self.distances[key] = measure_ahead(
                instance.columns,
                instance.rows,
                instance.layers,
                floor,
                float(self.rates.step),
                float(cost_bend(instance, self.rates)),
                float(self.rates.through),
                *self.arcs,
                table.arriving[may],
                table.cost[table.owner[may]],
            )
        return self.distances[key]

    def ahead_of_group(self, net: Net, group: list[int]) -> np.ndarray:
        """Return the least cost from every state to any end of a group, at the present rates, (cells * 4,) float."""
        if len(group) == 1:
            return self.ahead_of(net, group[0])
        key = (net.name, tuple(group), self.rates)
        if key not in self.group_distances:
            self.group_distances[key] = np.minimum.reduce([self.ahead_of(net, end) for end in group])
        return self.group_distances[key]

    def clear_of(self, table: EndTable, other: Terminal) -> np.ndarray:
        """Return which terminals keep their distance from a port that the channel has already, (n,) bool."""
        instance = self.instance
        out = np.ones(len(table.terminals), dtype=bool)
        if other.port_class == CHANNEL:
            return out
        there = np.array([other.node, *other.bore], np.int64)
        for port_class in np.unique(table.port_class[table.port_class != CHANNEL]):
            self.tag += 1
            near = self.near
            near[:] = 0
            mark_near(
                instance.columns,
                instance.rows,
                there,
                instance.offsets[other.port_class][port_class],
                1,
                near,
                self.stamp,
                self.tag,
            )
            here = table.port_class == port_class
            out[here] &= near[table.node[here]] == 0
            for n, cells in table.bores:
                if here[n] and near[cells].any():
                    out[n] = False
        return out

    def clear_of_all(self, net: Net, end: int, chosen: dict[int, Terminal]) -> np.ndarray:
        """Return which terminals of an end keep their distance from the ports that the channel has, (n,) bool."""
        table = self.tables[net.name][end]
        out = np.ones(len(table.terminals), dtype=bool)
        for other, t in chosen.items():
            key = (net.name, end, other, t.node)
            if key not in self.clear:
                self.clear[key] = self.clear_of(table, t)
            out &= self.clear[key]
        return out

    def search_apart(
        self,
        table: EndTable | Starts,
        usable: np.ndarray,
        prices: np.ndarray,
        targets: Targets,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        ahead: np.ndarray,
        draw: Draw,
    ) -> Found | None:
        """Return the cheapest path with its runs, once they keep off themselves; None where they will not.

        A cheapest path may come back to itself, since a bend passes cells that a straight way would enter.
        The cells where it does are blocked and the search begun again.

        Parameters
        ----------
        table : EndTable or Starts
            Where it may begin.
        usable : (n,) bool
            Which of these.
        prices : (n,) float
            Of each.
        targets : Targets
        blocked : (cells,) bool
        cell_price : (cells,) float
        ahead : (cells * 4,) float
            At most what is missing from each state to a goal.
        draw : Draw

        Returns
        -------
        Found or None
        """
        for _ in range(MOST_LOOPS):
            found = self._search(table, usable, prices, targets, blocked, cell_price, ahead)
            if found is None:
                return None
            priced, trail, start, goal = found
            self.least = min(self.least, priced)
            runs, cells = draw(trail, start, goal)
            near = find_return(self.instance, *runs, channel_class=self.channel_class)
            if not near:
                return Found(priced, trail, start, goal, runs, cells)
            # What is found from here on is no longer sure to be the cheapest there is.
            self.narrowed = True
            blocked = blocked.copy()
            blocked[near] = True
        return None

    def _search(
        self,
        table: EndTable | Starts,
        usable: np.ndarray,
        prices: np.ndarray,
        targets: Targets,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        ahead: np.ndarray,
    ) -> tuple[float, list[int], int, int] | None:
        """Return the cheapest path's priced cost, states, and numbers of its start and goal."""
        may = usable[table.owner]
        sources, owner = table.leaving[may], table.owner[may]
        if not len(sources) or not len(targets.states):
            return None
        # Where two goals share a state the cheaper one holds it; so with sources.
        rank = np.argsort(-targets.cost[targets.numbers], kind="stable")
        self.goal[targets.states[rank]] = targets.numbers[rank]
        source_prices = (prices + cell_price[table.cell])[owner]
        if self.guide is not None:
            found = self.guide.find(blocked, cell_price, sources, source_prices, self.goal, targets.cost)
        else:
            found = self._search_plain(blocked, cell_price, sources, source_prices, targets.cost, ahead)
        goal = int(self.goal[found[0][-1]]) if found is not None else -1
        self.goal[targets.states] = -1
        if found is None:
            return None
        trail, cost = found
        same = np.flatnonzero(sources == trail[0])
        start = int(owner[same[np.argmin(source_prices[same])]])
        return cost, trail, start, goal

    def _search_plain(
        self,
        blocked: np.ndarray,
        cell_price: np.ndarray,
        sources: np.ndarray,
        source_cost: np.ndarray,
        goal_cost: np.ndarray,
        ahead: np.ndarray,
    ) -> tuple[list[int], float] | None:
        """Return the states of the cheapest path to what `goal` marks, and its cost, as a `Guide` does."""
        instance = self.instance
        end, cost = find_path(
            instance.columns,
            instance.rows,
            instance.layers,
            blocked,
            cell_price,
            float(self.rates.step),
            float(cost_bend(instance, self.rates)),
            float(self.rates.through),
            *self.arcs,
            sources,
            source_cost,
            self.goal,
            goal_cost,
            ahead,
            self.distance,
            self.parent,
        )
        if end < 0 or cost >= INFINITE:
            return None
        trail = [int(end)]
        while self.parent[trail[-1]] >= 0:
            trail.append(int(self.parent[trail[-1]]))
        trail.reverse()
        return trail, float(cost)
