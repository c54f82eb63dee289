"""Ways of nets with two ends: found in one compiled call, and turned into traces only where one is asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layouts.routing.instance import CHANNEL, Instance, Net, Terminal
from layouts.routing.one_channel.find_way import find_way
from layouts.routing.one_channel.search import INFINITE
from layouts.routing.one_channel.trace import Trace, Tracer
from layouts.routing.one_channel.trail import cost_bend


@dataclass(slots=True, eq=False)
class Way:
    """How a net stands in the plate, as far as rip-up and reroute must know.

    Parameters
    ----------
    cost : float
    cells, of_class : (n,) int
        Cells of all its features, and the class of what stands at each.
    channel : (m,) int
        Those of its channel.
    trace : Trace or None
        The same as a trace, once asked for.
    trail : (k,) int
    ends : tuple of Terminal
        Of the first and the last state, where there is no trace yet.
    """

    cost: float
    cells: np.ndarray
    of_class: np.ndarray
    channel: np.ndarray
    trace: Trace | None
    trail: np.ndarray
    ends: tuple[Terminal, ...]


def way_of(net: Net, trace: Trace) -> Way:
    """Return how a net stands that has this trace."""
    cells, of_class = _features(net, trace.cells, trace.chosen)
    return Way(trace.cost, cells, of_class, trace.cells, trace, np.array(trace.trail, np.int64), trace.chosen)


def _features(net: Net, channel: np.ndarray, ends: tuple[Terminal, ...]) -> tuple[np.ndarray, np.ndarray]:
    cells = [channel]
    classes = [np.full(len(channel), net.channel_class, np.int64)]
    for t in ends:
        if t.port_class != CHANNEL:
            port = np.array([t.node, *t.bore], np.int64)
            cells.append(port)
            classes.append(np.full(len(port), t.port_class, np.int64))
    return np.concatenate(cells), np.concatenate(classes)


class WayFinder:
    """Arrays and work space for finding ways of one instance's nets of two ends.

    Parameters
    ----------
    instance : Instance
    fixed : list of (classes, cells) bool
        For each net where a feature of each class may never stand.
    near_others : list of (cells,) bool
        For each net where ends of others keep its tails away.
    tracer : Tracer
        Knows the distances to each end.
    near_first, near : (classes * classes + 1,) int, (m, 2) int
        As `mark_features` has them.
    """

    def __init__(
        self,
        instance: Instance,
        fixed: list[np.ndarray],
        near_others: list[np.ndarray],
        tracer: Tracer,
        near_first: np.ndarray,
        near: np.ndarray,
    ) -> None:
        self.instance = instance
        self.fixed = fixed
        self.near_others = near_others
        self.tracer = tracer
        self.near_first, self.near = near_first, near
        self.own: dict[int, tuple[tuple[object, ...], list[Terminal]]] = {}
        cells = instance.cells
        self.work = (
            np.full(cells * 4, INFINITE),
            np.full(cells * 4, -1, np.int64),
            np.full(cells * 4, -1, np.int64),
            np.zeros(cells, np.bool_),
            np.zeros(cells),
            np.full(cells, -1, np.int64),
        )
        self.trail = np.zeros(2 * cells, np.int64)
        longest = max((len(t.tail) for net in instance.nets for end in net.ends for t in end), default=0)
        # A bend takes all cells of its arc, a net two tails.
        self.cells = np.zeros(2 * cells * max(1, tracer.arcs[0].shape[1]) + 2 * longest, np.int64)
        self.no_walls = np.zeros((1, 1), np.bool_)
        self.no_history = np.zeros((1, 1))
        self.no_noise = np.zeros(1)

    def find(
        self,
        net: int,
        taken: np.ndarray,
        walls: np.ndarray | None = None,
        hard: bool = False,
        history: np.ndarray | None = None,
        price: float = -1.0,
        noise: np.ndarray | None = None,
        most: float = INFINITE,
    ) -> Way | None:
        """Return the cheapest way of a net, None where there is none.

        Parameters
        ----------
        net : int
        taken, walls, hard, history, price, noise, most
            As `find_way` has them; without `history` nothing is priced.

        Returns
        -------
        Way or None
        """
        if net not in self.own:
            self.own[net] = self._lay(net)
        fields, terminals = self.own[net]
        length, size, start, goal, cost = find_way(
            *fields,
            taken,
            self.no_walls if walls is None else walls,
            walls is not None,
            hard,
            self.no_history if history is None else history,
            -1.0 if history is None else float(price),
            self.no_noise if noise is None else noise,
            noise is not None,
            float(most),
            *self.work,
            self.trail,
            self.cells,
        )
        if not length:
            return None
        channel = self.cells[:size].copy()
        ends = (terminals[start], terminals[goal])
        cells, of_class = _features(self.instance.nets[net], channel, ends)
        return Way(cost, cells, of_class, channel, None, self.trail[:length].copy(), ends)

    def trace_of(self, net: int, way: Way) -> Trace:
        """Return a way as a trace."""
        if way.trace is None:
            trail = tuple(int(state) for state in way.trail)
            way.trace = self.tracer.read_trail(self.instance.nets[net], trail, way.ends[0], way.ends[1])
        return way.trace

    def _lay(self, net: int) -> tuple[tuple[object, ...], list[Terminal]]:
        """Return the first arguments of `find_way` for a net, and its terminals that may stand."""
        instance, own, tracer = self.instance, self.instance.nets[net], self.tracer
        tracer.rates = rates = instance.rates_of(own)
        terminals: list[Terminal] = []
        counts = []
        for end, table in zip(own.ends, tracer.tables[own.name], strict=True):
            usable = table.usable(self.fixed[net], None)
            terminals.extend(t for t, may in zip(end, usable, strict=True) if may)
            counts.append(len(terminals))
        extras = [cells for t in terminals for cells in (t.tail, t.bore)]
        fields = (
            instance.columns,
            instance.rows,
            instance.layers,
            instance.bend_cells,
            *tracer.arcs,
            np.ascontiguousarray(instance.offsets[own.channel_class][own.channel_class], np.int64),
            self.near,
            self.near_first,
            own.channel_class,
            own.straight_down,
            float(rates.step),
            float(cost_bend(instance, rates)),
            float(rates.through),
            self.fixed[net][own.channel_class].copy(),
            self.near_others[net].copy(),
            np.zeros(0) if own.straight_down else tracer.ahead_of(own, 1),
            counts[0],
            np.array([t.cell for t in terminals], np.int64),
            np.array([t.node for t in terminals], np.int64),
            np.array([t.port_class for t in terminals], np.int64),
            np.array([sum(1 << d for d in t.leaves) for t in terminals], np.int64),
            np.array([t.cost for t in terminals], np.float64),
            np.cumsum([0, *(len(cells) for cells in extras)]).astype(np.int64),
            # One entry more than are counted: the loops over a bore end with the port's own cell.
            np.array([*(c for cells in extras for c in cells), 0], np.int64),
        )
        return fields, terminals
