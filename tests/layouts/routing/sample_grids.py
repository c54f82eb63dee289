"""Small random routing instances, on one layer or two, with cells or arcs for bends."""

from __future__ import annotations

import numpy as np

from layouts.routing.instance import Instance, Net, Rates, Terminal, disc_offsets, square_offsets


def make_grid(
    seed: int, *, size: int = 12, nets: int = 4, spacing: int = 1, layers: int = 1, border: bool = True
) -> Instance:
    """Return a random instance whose bends turn within a cell: some blocked cells, ends of one to three cells."""
    rng = np.random.default_rng(seed)
    blocked = rng.random((1, layers * size * size)) < 0.12
    free = [int(c) for c in rng.permutation(np.flatnonzero(~blocked[0, : size * size]))]
    made = []
    for n in range(nets):
        ends = []
        for _ in range(2):
            at = free.pop()
            cells = [at]
            if border and rng.random() < 0.5:
                row = int(rng.integers(2)) * (size - 1)
                start = int(rng.integers(size - 2))
                cells = [row * size + start + k for k in range(3) if not blocked[0, row * size + start + k]]
                cells = cells or [at]
            ends.append(tuple(Terminal(cell=c, node=c) for c in cells))
        made.append(Net(f"c{n}", tuple(ends)))
    return Instance(
        size,
        size,
        tuple(made),
        blocked,
        ((square_offsets(spacing),),),
        Rates(10.0, 20.0, 0.0, 50.0),
        layers=layers,
    )


def make_arcs(seed: int, *, size: int = 34, nets: int = 3) -> Instance:
    """Return a random instance whose bends take two cells each way, with ports that keep their distance."""
    rng = np.random.default_rng(seed)
    blocked = np.zeros((2, size * size), dtype=bool)
    for _ in range(3):
        x, y = rng.integers(2, size - 6, 2)
        w, h = rng.integers(1, 5, 2)
        inside = np.zeros((size, size), dtype=bool)
        inside[y : y + h, x : x + w] = True
        blocked[:, inside.ravel()] = True
    free = [int(c) for c in rng.permutation(np.flatnonzero(~blocked[0]))]
    made = []
    for n in range(nets):
        ends = []
        for _ in range(2):
            cells = [free.pop() for _ in range(1 + int(rng.random() < 0.2))]
            ends.append(
                tuple(Terminal(cell=c, node=c, port_class=1, cost=float(k)) for k, c in enumerate(cells))
            )
        made.append(Net(f"c{n}", tuple(ends), rates=Rates(10.0 + n, 7.0)))
    near = disc_offsets(2.9)
    return Instance(
        size,
        size,
        tuple(made),
        blocked,
        ((near, disc_offsets(3.5)), (disc_offsets(3.5), disc_offsets(4.2))),
        Rates(10.0, 7.0),
        bend_cells=2,
        bend_radius_cells=1.6,
    )
