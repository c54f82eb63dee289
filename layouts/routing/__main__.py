"""One routing instance alone: ``python -m layouts.routing INSTANCE.json`` prints its solution."""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from pathlib import Path

from geom.errors import RillplateError
from layouts.routing.effort import EFFORTS, NORMAL
from layouts.routing.instance import Instance, read_instance
from layouts.routing.solve import Solution, describe_proof, solve_instance

SEED_DIGITS = 18


def describe_solution(instance: Instance, solution: Solution, seconds: float) -> dict[str, object]:
    """Return the solution as the contract's keys: status, cost, bound, channels, conflicting, seconds; and proof.

    Cells are [column, row], with two layers [column, row, layer]. `proof` is what is proven of the cost, or the
    kind of reason why there is no routing.
    """
    reason = solution.reason
    status = "routed" if solution.traces else "impossible" if reason and reason.proven else "not found"
    return {
        "status": status,
        "cost": solution.cost if solution.traces else None,
        "bound": solution.bound if solution.bound is not None and math.isfinite(solution.bound) else None,
        "proof": reason.kind if reason else describe_proof(solution.cost, solution.bound),
        "channels": {
            net.name: [_place(instance, cell) for cell in trace.path]
            for net, trace in zip(instance.nets, solution.traces, strict=False)
        },
        "conflicting": list(reason.channels) if reason else [],
        "seconds": round(seconds, 4),
    }


def _place(instance: Instance, cell: int) -> list[int]:
    layer, in_layer = divmod(int(cell), instance.columns * instance.rows)
    row, column = divmod(in_layer, instance.columns)
    return [column, row] if instance.layers == 1 else [column, row, layer]


def read_seed(text: str) -> int:
    """Return a seed from the command line; ArgumentTypeError where it is no whole number from 0 up."""
    if not (text.isascii() and text.isdigit() and len(text) <= SEED_DIGITS):
        raise argparse.ArgumentTypeError(f"read {text[:SEED_DIGITS]!r}; expected a whole number from 0 up")
    return int(text)


def main(arguments: list[str] | None = None) -> int:
    """Solve the instance named on the command line; return 0 when routed, 3 when not, 2 on a bad file."""
    parser = argparse.ArgumentParser(prog="python -m layouts.routing", description=__doc__)
    parser.add_argument("instance", type=Path)
    parser.add_argument("--seed", type=read_seed, default=0, help="0 or more; same seed, same answer")
    parser.add_argument("--effort", choices=sorted(EFFORTS), default=NORMAL.name, help="how long to try")
    options = parser.parse_args(arguments)
    try:
        instance = read_instance(options.instance)
    except RillplateError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    start = time.perf_counter()
    solution = solve_instance(instance, options.seed, EFFORTS[options.effort])
    print(json.dumps(describe_solution(instance, solution, time.perf_counter() - start)))
    return 0 if solution.traces else 3


if __name__ == "__main__":
    sys.exit(main())
