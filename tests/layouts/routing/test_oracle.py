"""Whole solutions of small instances against another method; bounds against routings; the same in two processes."""

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest
from oracle import enumerate_least_cost, least_cost, make_instance

from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import NORMAL, THOROUGH
from layouts.routing.solve import describe_proof, solve_instance

INSTANCES = Path(__file__).parent / "instances"
ROOT = Path(__file__).parents[3]

KINDS = (
    # spacing, layers, sides, nets, instances, first seed: 200 instances in all.
    (1, 1, (5, 6), (2, 4), 65, 1000),
    (1, 1, (8, 10), (2, 2), 5, 2000),
    (2, 1, (5, 7), (2, 3), 70, 3000),
    (1, 2, (4, 4), (2, 3), 30, 4000),
    (2, 2, (5, 5), (2, 2), 30, 5000),
)

LEAST_PROVEN = 0.95

SMALL = 500
"""Random instances on which a bound is held against a routing."""


@pytest.mark.published(source="OR-Tools, CP-SAT; networkx, all simple paths: every pair of paths looked at")
@pytest.mark.parametrize("spacing", [1, 2])
def test_two_other_methods_agree_with_each_other(spacing):
    costs = []
    for seed in range(8):
        instance = make_instance(seed, (4, 4), (2, 2), spacing)
        costs.append(least_cost(instance, spacing))
        assert costs[-1] == enumerate_least_cost(instance, spacing), seed
    assert any(cost is None for cost in costs) or spacing == 1
    assert any(cost is not None for cost in costs)


@pytest.fixture(scope="module")
def solved():
    """Return (kind and seed, the other method's cost, our solution) of 200 random instances."""
    out = []
    for spacing, layers, sides, nets, count, first in KINDS:
        for seed in range(first, first + count):
            instance = make_instance(seed, sides, nets, spacing, layers)
            told = f"spacing {spacing}, layers {layers}, seed {seed}"
            out.append((told, least_cost(instance, spacing), solve_instance(instance, effort=THOROUGH)))
    return out


@pytest.mark.published(source="OR-Tools, CP-SAT: the least cost of 200 random instances")
def test_what_is_proven_optimal_is_the_least_cost(solved):
    assert len(solved) == 200
    wrong = [
        (told, best, ours.cost)
        for told, best, ours in solved
        if ours.traces and (best is None or ours.cost < best or (_is_proven(ours) and ours.cost != best))
    ]
    assert not wrong


@pytest.mark.published(source="OR-Tools, CP-SAT: the least cost of 200 random instances")
def test_no_bound_is_above_the_least_cost(solved):
    wrong = [
        (told, best, ours.bound)
        for told, best, ours in solved
        if best is not None and ours.bound is not None and ours.bound > best + 1e-6
    ]
    assert not wrong


@pytest.mark.published(source="OR-Tools, CP-SAT: which of 200 random instances have no routing")
def test_impossible_is_said_only_of_what_has_no_routing(solved):
    wrong = [told for told, best, ours in solved if best is not None and ours.reason and ours.reason.proven]
    assert not wrong


@pytest.mark.published(
    source="OR-Tools, CP-SAT: the least cost, or that there is none, of 200 random instances"
)
def test_nearly_all_are_proven(solved):
    open_ones = [
        told
        for told, best, ours in solved
        if not (_is_proven(ours) if best is not None else ours.reason is not None and ours.reason.proven)
    ]
    assert len(open_ones) <= (1 - LEAST_PROVEN) * len(solved), open_ones


def _is_proven(solution):
    return bool(solution.traces) and describe_proof(solution.cost, solution.bound) == "optimal (proven)"


def test_no_bound_is_above_the_cost_of_a_routing_found_by_plain_search():
    routed = 0
    for seed in range(SMALL):
        instance = make_instance(seed, (6, 8), (2, 3), 1 + seed % 2)
        routing = route_instance(instance, seed=seed, steps=0, restarts=2)
        if not routing.traces:
            continue
        routed += 1
        bound = solve_instance(instance, effort=NORMAL).bound
        assert bound is None or bound <= routing.cost + 1e-6, seed
    assert routed > SMALL / 2


@pytest.mark.parametrize("name", ["40x40-6nets-s1-00", "40x40-6nets-s1-impossible-104"])
def test_two_processes_say_the_same(name):
    answers = []
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-m", "layouts.routing", str(INSTANCES / f"{name}.json"), "--effort", "normal"],
            capture_output=True,
            text=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=False,
        )
        assert done.returncode == (3 if "impossible" in name else 0), done.stderr
        answer = json.loads(done.stdout)
        assert math.isfinite(answer.pop("seconds"))
        answers.append(answer)
    assert answers[0] == answers[1]
