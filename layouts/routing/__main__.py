"""One routing instance alone: ``python -m layouts.routing INSTANCE.json [--seed N]`` prints its solution."""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from pathlib import Path

from geom.errors import RillplateError
from layouts.routing.instance import Instance, read_instance
from layouts.routing.negotiate import Routing, route_instance

SEED_DIGITS = 18


def describe_routing(instance: Instance, routing: Routing, seconds: float) -> dict[str, object]:
    """Return the solution as the contract's keys: status, cost, bound, channels, conflicting, seconds."""
    columns = instance.columns
    status = "routed" if routing.traces else "impossible" if routing.unreachable else "not found"
    return {
        "status": status,
        "cost": routing.cost if math.isfinite(routing.cost) else None,
        "bound": routing.bound if routing.bound is not None and math.isfinite(routing.bound) else None,
        "channels": {
            net.name: [[int(c % columns), int(c // columns)] for c in trace.path]
            for net, trace in zip(instance.nets, routing.traces, strict=False)
        },
        "conflicting": list(routing.conflicting),
        "seconds": round(seconds, 4),
    }


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
    options = parser.parse_args(arguments)
    try:
        instance = read_instance(options.instance)
    except RillplateError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    start = time.perf_counter()
    routing = route_instance(instance, seed=options.seed)
    print(json.dumps(describe_routing(instance, routing, time.perf_counter() - start)))
    return 0 if routing.traces else 3


if __name__ == "__main__":
    sys.exit(main())
