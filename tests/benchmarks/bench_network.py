"""A network of 181 edges: seconds a solution against the target. Run this file with Python."""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.network import Edge, Network, solve_network
from layouts.hydraulics.segments import Bend, PumpCurve, Straight

MOST_SECONDS = 0.05
SIZE = 10
CURVE = ((0.0, 3.9), (4 / 6e4, 3.3), (8 / 6e4, 2.3), (12 / 6e4, 0.8))


def make_grid() -> Network:
    """Return a square grid of channels between the outlet and the inlet of a pump."""
    edges = [Edge("pump", f"{SIZE - 1},{SIZE - 1}", "0,0", (PumpCurve(CURVE),))]
    for i in range(SIZE):
        for j in range(SIZE):
            length = 0.01 + 0.01 * ((3 * i + 7 * j) % 11)
            run = (Straight(length, 0.008, 0.009), Bend(0.014, 0.008, 0.009))
            if i + 1 < SIZE:
                edges.append(Edge(f"down {i},{j}", f"{i},{j}", f"{i + 1},{j}", run))
            if j + 1 < SIZE:
                edges.append(Edge(f"right {i},{j}", f"{i},{j}", f"{i},{j + 1}", run))
    return Network(tuple(edges))


def main() -> None:
    """Print the best and the worst of ten solutions after a first one."""
    network, water = make_grid(), coolant_properties("water", 0.0, 35.0)
    solve_network(network, water)
    seconds = []
    for _ in range(10):
        start = time.perf_counter()
        solve_network(network, water)
        seconds.append(time.perf_counter() - start)
    for name, took in (("best", min(seconds)), ("worst", max(seconds))):
        print(
            f"{len(network.edges)} edges, {name} {took:.3f} s, {took / MOST_SECONDS:.2f} of {MOST_SECONDS} s"
        )


if __name__ == "__main__":
    main()
