"""Times and memory of the command on the main example, against the targets.

Run: ``python tests/benchmarks/bench_main.py [RUNS]``. Each figure is the best of the runs; the first run of all
warms the caches and does not count. A ratio under 1 meets the target.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "layouts" / "panels" / "workshop-render.toml"
HELP_S, PLAN_S, MAKE_S, MAKE_GIB = 0.25, 1.0, 12.0, 1.5


def measure(words: list[str]) -> tuple[float, float]:
    """Return wall clock [s] and peak memory [GiB] of one call of the command."""
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "exports", *words],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    _, status, usage = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(words)} ended with {process.returncode}")
    # Linux counts in KiB, macOS in bytes.
    return seconds, usage.ru_maxrss / (2**30 if sys.platform == "darwin" else 2**20)


def best(words: list[str], runs: int) -> tuple[float, float]:
    """Return the best time and the greatest memory of several calls, after one that warms up."""
    measure(words)
    taken = [measure(words) for _ in range(runs)]
    return min(t for t, _ in taken), max(m for _, m in taken)


def main(runs: int) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        help_s, _ = best(["--help"], runs)
        plan_s, plan_gib = best(["plan", str(DEMO)], runs)
        make_s, make_gib = best(["make", str(DEMO), "--out", folder], runs)
    print(f"{'figure':<22}{'measured':>12}{'target':>12}{'ratio':>8}")
    for name, value, target, unit in (
        ("--help", help_s, HELP_S, "s"),
        ("plan", plan_s, PLAN_S, "s"),
        ("make", make_s, MAKE_S, "s"),
        ("make, peak memory", make_gib, MAKE_GIB, "GiB"),
    ):
        print(f"{name:<22}{f'{value:.2f} {unit}':>12}{f'{target:g} {unit}':>12}{value / target:>8.2f}")
    print(f"plan, peak memory {plan_gib:.2f} GiB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
