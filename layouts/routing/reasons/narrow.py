"""A gap too narrow for the channels that must pass it: proven by a least cut of the wall.

Channels are taken as ways of any course between two groups of ends, so what is found holds for every routing:
fewer ways than channels fit through the cut, however they bend.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from layouts.routing.instance import CHANNEL, Instance
from layouts.routing.reasons.flow_graph import count_ways, gather_pieces, link_pieces, measure_steps

MOST_PAIRS = 15
"""Pairs of nets of unlike widths that are looked at."""

Tile = tuple[int, int, int, int]
"""Width and height of the tiles, and where the first whole one begins, in cells."""


@dataclass(frozen=True, slots=True)
class Narrow:
    """A gap, and the nets that must pass it.

    Parameters
    ----------
    nets : tuple of int
        As few as the lack allows: each one left out would ease it.
    fit : int
        Nets that can pass at most.
    cells : tuple of int
        Free cells that close the gap, sorted.
    lacking_cells : int
        By which the gap is too narrow where channels pass it straight.
    """

    nets: tuple[int, ...]
    fit: int
    cells: tuple[int, ...]
    lacking_cells: int


@dataclass(frozen=True, slots=True)
class _Sides:
    """Which nets are looked at, and for each the ends that count as its first and its last."""

    nets: tuple[int, ...]
    ends: tuple[tuple[int, int], ...]

    def without(self, place: int) -> _Sides:
        return _Sides(self.nets[:place] + self.nets[place + 1 :], self.ends[:place] + self.ends[place + 1 :])


@dataclass(frozen=True, slots=True)
class _Cut:
    piece: np.ndarray
    pieces: int
    ways: int
    side: np.ndarray


def find_narrow(instance: Instance) -> Narrow | None:
    """Return the gap that lacks most room for the channels that must pass it; None where none is too narrow.

    Parameters
    ----------
    instance : Instance
        Each of its nets can be routed alone.

    Returns
    -------
    Narrow or None
        None proves nothing.
    """
    if len(instance.nets) < 2:
        return None
    search = _Search(instance)
    worst: tuple[int, _Sides, Tile] | None = None
    for tile in _list_tiles(instance):
        for sides in search.sides:
            lack = len(sides.nets) - search.cut(sides, tile).ways
            if lack > 0 and (worst is None or lack > worst[0]):
                worst = (lack, sides, tile)
    if worst is None:
        return None
    lack, sides, tile = worst
    # A net whose absence eases nothing has no part in it.
    for place in reversed(range(len(sides.nets))):
        fewer = sides.without(place)
        if fewer.nets and len(fewer.nets) - search.cut(fewer, tile).ways >= lack:
            sides = fewer
    cut = search.cut(sides, tile)
    cells = search.close_gap(sides, cut)
    wide = max(w for w, h in _tile_shapes(instance) if h == 1)
    chains = len(split_chains(instance, cells))
    needed = (len(sides.nets) - chains) * wide + chains
    return Narrow(sides.nets, cut.ways, cells, max(1, needed - len(cells)))


def find_narrow_pair(instance: Instance, likely: tuple[int, ...]) -> Narrow | None:
    """Return the gap that lacks most room for two nets of unlike widths; None where none is too narrow.

    Among many nets a gap counts as wide enough where the narrowest of them would fit.

    Parameters
    ----------
    instance : Instance
        Each of its nets can be routed alone.
    likely : tuple of int
        Nets of which pairs are looked at.

    Returns
    -------
    Narrow or None
    """
    worst: Narrow | None = None
    for pair in list(combinations(likely, 2))[:MOST_PAIRS]:
        nets = tuple(instance.nets[net] for net in pair)
        if nets[0].channel_class == nets[1].channel_class == CHANNEL:
            continue
        found = find_narrow(replace(instance, nets=nets))
        if found is not None and (worst is None or found.lacking_cells > worst.lacking_cells):
            worst = replace(found, nets=tuple(pair[k] for k in found.nets))
    return worst


def split_chains(instance: Instance, cells: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
    """Return cells by chains whose cells touch, if only at a corner."""
    left = set(cells)
    chains = []
    while left:
        waiting = [min(left)]
        left.discard(waiting[0])
        chain = []
        while waiting:
            cell = waiting.pop()
            chain.append(cell)
            near = [c for c in left if _touch(instance, c, cell)]
            waiting += near
            left.difference_update(near)
        chains.append(tuple(sorted(chain)))
    return tuple(chains)


def _touch(instance: Instance, a: int, b: int) -> bool:
    layer = instance.columns * instance.rows
    (ya, xa), (yb, xb) = divmod(a % layer, instance.columns), divmod(b % layer, instance.columns)
    return max(abs(xa - xb), abs(ya - yb)) <= 1 and a // layer == b // layer


class _Search:
    """The free cells of an instance with the ends of its nets, for one cut after the other."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        classes = sorted({net.channel_class for net in instance.nets})
        self.free = np.logical_not(instance.blocked[classes]).any(axis=0)
        # Of each end, the cells where a channel may begin.
        self.ends = [
            [np.unique([t.cell for t in end if self.free[t.cell]]).astype(np.int64) for end in net.ends]
            for net in instance.nets
        ]
        self.sides = _list_sides(self)
        self._tile: Tile | None = None
        self._piece = np.empty(self.free.size, np.int64)
        self._pieces = 0
        self._listed: dict[_Sides, tuple[tuple[np.ndarray, np.ndarray], ...]] = {}

    def cut(self, sides: _Sides, tile: Tile) -> _Cut:
        """Return the least cut between the first and the last ends of nets, for one grid of tiles."""
        columns, rows = self.instance.columns, self.instance.rows
        if tile != self._tile:
            self._tile = tile
            self._pieces = int(gather_pieces(columns, rows, self.free, *tile, self._piece))
        piece, pieces = self._piece.copy(), self._pieces
        (firsts, first_ends), (lasts, last_ends) = self._list_ends(sides)
        start, heads = link_pieces(
            columns,
            rows,
            piece,
            pieces,
            piece[firsts],
            first_ends,
            piece[lasts],
            last_ends,
            len(sides.nets),
        )
        ways, side = count_ways(start, heads, pieces, pieces + len(sides.nets))
        return _Cut(piece, pieces, int(ways), side)

    def _list_ends(self, sides: _Sides) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
        """Return the cells of the first and of the last ends, each with the number of their nets in `sides`."""
        if sides not in self._listed:
            self._listed[sides] = tuple(
                _number_ends(
                    [self.ends[net][ends[k]] for net, ends in zip(sides.nets, sides.ends, strict=True)]
                )
                for k in (0, 1)
            )
        return self._listed[sides]

    def close_gap(self, sides: _Sides, cut: _Cut) -> tuple[int, ...]:
        """Return the fewest free cells within the pieces of a cut that close the gap."""
        instance = self.instance
        side = np.where(cut.piece >= 0, cut.side[np.maximum(cut.piece, 0)], -1)
        inside = side == 1
        near = {
            k: inside & (_beside(instance, side == k) | self._at_ends(sides, which))
            for k, which in ((2, 0), (0, 1))
        }
        piece = np.where(inside, np.cumsum(inside) - 1, -1)
        # Two starts and goals a cell: the cut then lies in cells, never in them.
        firsts, lasts = (np.repeat(np.flatnonzero(near[k]), 2) for k in (2, 0))
        ends = max(len(firsts), len(lasts))
        pieces = int(inside.sum())
        start, heads = link_pieces(
            instance.columns,
            instance.rows,
            piece,
            pieces,
            piece[firsts],
            np.arange(len(firsts)),
            piece[lasts],
            np.arange(len(lasts)),
            ends,
        )
        _, closing = count_ways(start, heads, pieces, pieces + ends)
        return tuple(int(c) for c in np.flatnonzero(inside)[closing[:pieces] == 1])

    def _at_ends(self, sides: _Sides, which: int) -> np.ndarray:
        out = np.zeros(self.free.size, dtype=bool)
        for net, ends in zip(sides.nets, sides.ends, strict=True):
            out[self.ends[net][ends[which]]] = True
        return out


def _number_ends(ends: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return the ends' cells, and the end of each."""
    numbers = [np.full(len(cells), n, np.int64) for n, cells in enumerate(ends)]
    return np.concatenate(ends), np.concatenate(numbers)


def _beside(instance: Instance, cells: np.ndarray) -> np.ndarray:
    """Return the cells one step from some cells, (cells,) bool."""
    at = cells.reshape(instance.layers, instance.rows, instance.columns)
    out = np.zeros_like(at)
    out[:, 1:] |= at[:, :-1]
    out[:, :-1] |= at[:, 1:]
    out[:, :, 1:] |= at[:, :, :-1]
    out[:, :, :-1] |= at[:, :, 1:]
    if instance.layers == 2:
        out |= at[::-1]
    return out.reshape(-1)


def _list_sides(search: _Search) -> tuple[_Sides, ...]:
    """Return the ways of telling the nets' first ends from their last that are worth a cut.

    A wall has two sides: the nets that pass it must all begin on one of them. Cells are ordered from one end
    of a net to the other, by the ways to both, and across the grid; every net begins where it comes first.
    """
    instance = search.instance
    place = np.arange(search.free.size)
    x, y = place % instance.columns, (place // instance.columns) % instance.rows
    orders = [x, y, x + y, x - y]
    for ends in search.ends:
        away = [measure_steps(instance.columns, instance.rows, search.free, cells) for cells in ends]
        orders += [one - other for one, other in pairwise(away)]
    found: dict[tuple[tuple[int, int], ...], None] = {}
    for order in orders:
        picked = []
        for ends in search.ends:
            ranks = [float(order[cells].mean()) if cells.size else 0.0 for cells in ends]
            picked.append((int(np.argmin(ranks)), int(len(ranks) - 1 - np.argmax(ranks[::-1]))))
        sides = tuple((a, b) if a != b else (0, 1) for a, b in picked)
        if tuple((b, a) for a, b in sides) not in found:
            found[sides] = None
    nets = tuple(range(len(instance.nets)))
    return tuple(_Sides(nets, ends) for ends in found)


def _tile_shapes(instance: Instance) -> tuple[tuple[int, int], ...]:
    """Return the widest tiles of each height in which any two channels stand too near each other."""
    pairs = {tuple(sorted((a.channel_class, b.channel_class))) for a, b in combinations(instance.nets, 2)}
    tables = [instance.offsets[a][b] for pair in sorted(pairs) for a, b in (pair, pair[::-1])]
    near = set.intersection(*({(int(x), int(y)) for x, y in table} for table in tables))
    shapes: list[tuple[int, int]] = []
    high = 1
    while (0, high - 1) in near:
        wide = 1
        while all((wide, y) in near for y in range(high)):
            wide += 1
        while shapes and shapes[-1][0] <= wide and shapes[-1][1] > 1:
            shapes.pop()
        shapes.append((wide, high))
        high += 1
    return tuple(shapes)


def _list_tiles(instance: Instance) -> tuple[Tile, ...]:
    return tuple(
        (wide, high, off_x, off_y)
        for wide, high in _tile_shapes(instance)
        for off_x in range(wide)
        for off_y in range(high)
    )
