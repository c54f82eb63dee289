"""A network of 200 edges: seconds a solution against the target. Run this file with Python."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.loops import find_loops
from layouts.hydraulics.network import Edge, Network, prepare_network, solve_network
from layouts.hydraulics.segments import Bend, PumpCurve, Straight

MOST_SECONDS = 0.05
ROWS, COLUMNS = 10, 11
CURVE = ((0.0, 3.9), (4 / 6e4, 3.3), (8 / 6e4, 2.3), (12 / 6e4, 0.8))


def make_grid() -> Network:
    """Return a grid of channels between the outlet and the inlet of a pump."""
    edges = [Edge("pump", f"{ROWS - 1},{COLUMNS - 1}", "0,0", (PumpCurve(CURVE),))]
    for i in range(ROWS):
        for j in range(COLUMNS):
            length = 0.01 + 0.01 * ((3 * i + 7 * j) % 11)
            run = (Straight(length, 0.008, 0.009), Bend(0.014, 0.008, 0.009))
            if i + 1 < ROWS:
                edges.append(Edge(f"down {i},{j}", f"{i},{j}", f"{i + 1},{j}", run))
            if j + 1 < COLUMNS:
                edges.append(Edge(f"right {i},{j}", f"{i},{j}", f"{i},{j + 1}", run))
    return Network(tuple(edges))


def main() -> None:
    """Print the best and the worst of ten solutions after a first one, afresh and from a like answer."""
    network, water = make_grid(), coolant_properties("water", 0.0, 35.0)
    first = solve_network(network, water)

    def solve_afresh() -> None:
        prepare_network.cache_clear()
        find_loops.cache_clear()
        solve_network(network, water)

    ways: tuple[tuple[str, Callable[[], object]], ...] = (
        ("afresh", solve_afresh),
        ("made ready", lambda: solve_network(network, water)),
        ("from a like answer", lambda: solve_network(network, water, near=first.flow_m3_s)),
    )
    for way, solve in ways:
        seconds = []
        for _ in range(10):
            start = time.perf_counter()
            solve()
            seconds.append(time.perf_counter() - start)
        print(
            f"{len(network.edges)} edges {way}: best {min(seconds):.4f} s, worst {max(seconds):.4f} s, "
            f"{min(seconds) / MOST_SECONDS:.2f} of {MOST_SECONDS} s"
        )


if __name__ == "__main__":
    main()
