"""Routing instances: cost against the best known, time against the target. Run this file with Python."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from layouts.routing.instance import read_instance
from layouts.routing.negotiate import route_instance

INSTANCES = Path(__file__).parents[1] / "layouts" / "routing" / "instances"
MOST_SECONDS, MOST_EXCESS = 0.2, 0.03


def main() -> None:
    """Print every instance, then the ratios for the 40x40 instances of 6 channels."""
    route_instance(read_instance(INSTANCES / "40x40-6nets-s1-00.json"), steps=1)
    excesses, seconds = [], []
    for path in sorted(INSTANCES.glob("*.json")):
        known = json.loads(path.read_text())["best_known"]
        instance = read_instance(path)
        start = time.perf_counter()
        routing = route_instance(instance)
        took = time.perf_counter() - start
        excess = routing.cost / known - 1 if known and routing.traces else None
        told = "not routed" if not routing.traces else f"cost {routing.cost:g}"
        against = "" if excess is None else f", best known {known:g}: {100 * excess:+.2f} %"
        print(f"{path.stem:34s} {took:6.3f} s  {told}{against}")
        if path.stem.startswith("40x40-6") and "impossible" not in path.stem:
            seconds.append(took)
            excesses.append(float("inf") if excess is None else excess)
    mean = sum(excesses) / len(excesses)
    print(f"40x40/6: all routed: {all(e < float('inf') for e in excesses)}")
    print(
        f"40x40/6: mean excess {100 * mean:.2f} %, {mean / MOST_EXCESS:.2f} of the {100 * MOST_EXCESS:g} % allowed"
    )
    print(
        f"40x40/6: slowest {max(seconds):.3f} s, {max(seconds) / MOST_SECONDS:.2f} of the {MOST_SECONDS} s allowed"
    )


if __name__ == "__main__":
    main()
