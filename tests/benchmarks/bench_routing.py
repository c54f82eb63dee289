"""Routing instances: time, cost against the best known, and what is proven. Run this file with Python.

`--class 40x40-6` keeps the instances whose names begin so; `--effort` is the command's.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import sys
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import EFFORTS, QUICK, THOROUGH, Effort
from layouts.routing.instance import read_instance
from layouts.routing.solve import describe_proof, solve_instance

INSTANCES = Path(__file__).parents[1] / "layouts" / "routing" / "instances"


@dataclass(frozen=True, slots=True)
class Target:
    """What a class must reach: seconds and shares; None where nothing is asked.

    `proven` is the least share of instances proven optimal, `gap` the most that the bound may lie below the cost,
    `first` the median time to a first routing.
    """

    proven: float | None
    gap: float | None
    median: float | None
    worst: float
    first: float


TARGETS = {
    "40x40-6nets": Target(1.0, 0.0, 0.1, 5.0, 0.1),
    "60x80-8nets": Target(12 / 14, 0.01, 0.5, 8.0, 0.1),
    "40x40-10nets": Target(None, 0.02, None, 15.0, 0.1),
    "44x44-12nets": Target(None, 0.02, None, 15.0, 0.1),
    "50x50-16nets": Target(None, 0.05, None, 30.0, 0.1),
    "100x100-12nets": Target(None, 0.01, None, 20.0, 0.6),
    "200x200-16nets": Target(None, 0.01, None, 40.0, 0.6),
    "impossible": Target(None, None, None, 1.0, math.inf),
}


@dataclass(frozen=True, slots=True)
class Result:
    """What one instance came to; `gap` and `excess` are shares, infinite where there is no bound or no routing."""

    name: str
    first: float
    seconds: float
    cost: float
    known: float | None
    gap: float
    proof: str

    @property
    def excess(self) -> float:
        """Cost above the best known, as a share of it."""
        return self.cost / self.known - 1 if self.known else 0.0


def main() -> None:
    """Print every instance, then each class against its target."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--class", dest="prefix", default="", help="names that begin so")
    parser.add_argument("--effort", choices=sorted(EFFORTS), default=THOROUGH.name)
    options = parser.parse_args()
    paths = [p for p in sorted(INSTANCES.glob("*.json")) if p.stem.startswith(options.prefix)]
    if not paths:
        parser.error(f"--class {options.prefix}: no instance in {INSTANCES} begins so")
    effort = EFFORTS[options.effort]
    _warm_up(effort)
    results = []
    print(
        f"{'instance':33s} {'first':>7s} {'all':>8s} {'cost':>8s} {'known':>8s} {'excess':>8s} {'gap':>7s}  proof"
    )
    for path in paths:
        results.append(_measure(path, effort))
        _print_result(results[-1])
    print()
    for name, target in TARGETS.items():
        mine = [r for r in results if _class_of(r.name) == name]
        if mine:
            _print_class(name, target, mine)
    better = [r for r in results if r.excess < 0]
    print()
    print("better than the best known: " + (", ".join(f"{r.name} ({r.cost:g})" for r in better) or "none"))


def _class_of(name: str) -> str:
    return "impossible" if "impossible" in name else name.rsplit("-", 2)[0]


def _warm_up(effort: Effort) -> None:
    """Compile, or load from numba's cache, all that the instances need."""
    for name in ("40x40-6nets-s1-06", "40x40-6nets-s1-impossible-104", "100x100-12nets-s2-00"):
        instance = read_instance(INSTANCES / f"{name}.json")
        solve_instance(instance, effort=effort if name.startswith("40") else QUICK)


def _measure(path: Path, effort: Effort) -> Result:
    known = json.loads(path.read_text())["best_known"]
    instance = read_instance(path)
    start = time.process_time()
    route_instance(instance, steps=0)
    first = time.process_time() - start
    start = time.process_time()
    solution = solve_instance(instance, effort=effort)
    seconds = time.process_time() - start
    gap = math.inf
    if solution.traces and solution.bound is not None:
        gap = max(1 - solution.bound / solution.cost, 0.0)
    if solution.traces:
        proof = describe_proof(solution.cost, solution.bound)
    else:
        assert solution.reason is not None
        proof = f"{solution.reason.kind}: {', '.join(solution.reason.channels)}"
    return Result(path.stem, first, seconds, solution.cost, known, gap, proof)


def _print_result(result: Result) -> None:
    known = f"{result.known:g}" if result.known else "-"
    excess = f"{100 * result.excess:+.2f} %" if result.known else "-"
    gap = f"{100 * result.gap:.2f} %" if math.isfinite(result.gap) else "-"
    print(
        f"{result.name:33s} {result.first:7.3f} {result.seconds:8.3f} {result.cost:8g} {known:>8s} {excess:>8s} "
        f"{gap:>7s}  {result.proof}",
        flush=True,
    )


def _print_class(name: str, target: Target, results: list[Result]) -> None:
    """Print what a class reaches over what it must: 1.00 or less is reached."""
    seconds = [r.seconds for r in results]
    ratios = [("worst time", max(seconds) / target.worst)]
    if target.median is not None:
        ratios.append(("median time", statistics.median(seconds) / target.median))
    if math.isfinite(target.first):
        ratios.append(("median first routing", statistics.median(r.first for r in results) / target.first))
    if target.gap:
        ratios.append(("worst gap", max(r.gap for r in results) / target.gap))
    if target.proven is not None:
        # Of fewer instances than the share was told for, the whole number below it must be proven.
        must = math.floor(target.proven * len(results))
        proven = sum(r.gap <= 1e-6 for r in results)
        ratios.append((f"proven ({proven} of {len(results)})", must / proven if proven else math.inf))
    if name == "impossible":
        proven = sum(r.proof.startswith(("conflict", "narrow", "unreachable")) for r in results)
        ratios.append((f"proven ({proven} of {len(results)})", len(results) / proven if proven else math.inf))
    else:
        above = sum(r.excess > 1e-9 for r in results)
        ratios.append((f"above the best known ({above})", 1.0 + above if above else 1.0))
    told = ", ".join(f"{what} {ratio:.2f}" for what, ratio in ratios)
    missed = [what for what, ratio in ratios if ratio > 1.0]
    print(f"{name:15s} {'reached' if not missed else 'not reached'}: {told}")


if __name__ == "__main__":
    main()
