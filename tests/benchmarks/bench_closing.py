"""Time of cords and cover screws on the demos, against the target; how many screws, and how few there could be.

Run: ``python tests/benchmarks/bench_closing.py [RUNS]``. The best of the runs, once all is imported. A ratio under 1
meets the target. "before" is how many screws the demo had while they were placed one after the other.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.cords import seal_panel
from layouts.file.read import read_panel
from layouts.panel import Panel
from layouts.plan import Coverage, Routed
from layouts.route import route_panel
from layouts.strength.posts import add_posts
from layouts.widen import widen_channels

PANELS = Path(__file__).parents[2] / "layouts" / "panels"
TARGET_S = 0.5
BEFORE = {"workshop-render": 75, "cell-tester": 103, "observatory-camera": 52, "new": 41}


def best(runs: int, panel: Panel, routed: Routed) -> tuple[float, float]:
    """Return the best times of the cords alone, and of all, [s]."""
    gaps = clearances_of(panel)
    cords, whole = [], []
    for _ in range(runs):
        start = time.perf_counter()
        seal_panel(panel, routed, gaps)
        between = time.perf_counter()
        close_panel(panel, routed, gaps)
        cords.append(between - start)
        whole.append(time.perf_counter() - between)
    return min(cords), min(whole)


def main(runs: int) -> None:
    """Print the figures."""
    heads = ("demo", "cord", "cords", "all", "target", "ratio", "screws", "least", "before", "reach", "open")
    print("{:<20}{:>9}{:>9}{:>9}{:>9}{:>8}{:>8}{:>8}{:>8}{:>10}{:>9}".format(*heads))
    for name, before in BEFORE.items():
        panel = read_panel(PANELS / f"{name}.toml")
        routed = add_posts(panel, widen_channels(panel, route_panel(panel)))
        sealed = close_panel(panel, routed, clearances_of(panel))
        cords, whole = best(runs, panel, routed)
        length = sum(loop.length for loop in sealed.loops)
        count = len(sealed.screws) + len(sealed.front_screws)
        covers: tuple[Coverage, ...] = sealed.coverage
        bare = sum(stretch.length for cover in covers for stretch in cover.stretches)
        print(
            f"{name:<20}{length:>6.0f} mm{cords:>7.3f} s{whole:>7.3f} s{TARGET_S:>7g} s{whole / TARGET_S:>8.2f}"
            f"{count:>8}{sum(cover.least for cover in covers):>8}{before:>8}"
            f"{max(cover.reach for cover in covers):>7.2f} mm{bare:>6.0f} mm"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
