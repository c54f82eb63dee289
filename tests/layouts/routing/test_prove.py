"""The lower bound: never above a routing, and what it proves."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest
from sample_grids import make_arcs, make_grid

from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.granularity import find_granularity
from layouts.routing.bound.prove import is_impossible, prove_bound
from layouts.routing.effort import NORMAL, QUICK
from layouts.routing.instance import read_instance

INSTANCES = Path(__file__).parent / "instances"


def is_routing(instance, traces):
    """Whether cells of different nets keep their distance, in each layer, counted pair by pair."""
    near = {(int(x), int(y)) for x, y in instance.offsets[0][0]}
    plane = instance.columns * instance.rows
    for n, a in enumerate(traces):
        for b in traces[:n]:
            for p in a.cells.tolist():
                for q in b.cells.tolist():
                    apart = (p % instance.columns - q % instance.columns,
                             p % plane // instance.columns - q % plane // instance.columns)  # fmt: skip
                    if p // plane == q // plane and apart in near:
                        return False
    return True


@pytest.mark.parametrize(
    ("make", "count"),
    [
        (make_grid, 14),
        (lambda s: make_grid(s, spacing=2, nets=3), 14),
        (lambda s: make_grid(s, layers=2, size=9), 14),
        (make_arcs, 10),
    ],
    ids=["cells", "spacing 2", "two layers", "arcs"],
)
def test_no_bound_lies_above_a_routing(make, count):
    proven = routed = 0
    for seed in range(count):
        instance = make(seed)
        routing = route_instance(instance, 1, 10, 4)
        proof = prove_bound(instance, routing.traces, NORMAL)
        if not routing.traces and not proof.traces:
            continue
        assert proof.bound <= routing.cost, seed
        assert proof.bound <= proof.cost <= routing.cost, seed
        assert is_routing(instance, proof.traces), seed
        # What is found without any routing to begin with must not contradict either.
        if seed % 4 == 0:
            assert prove_bound(instance, (), NORMAL).bound <= proof.cost, seed
        routed += 1
        proven += proof.bound == proof.cost
    assert routed > count / 8
    assert proven > routed / 2


@pytest.mark.parametrize("number", range(0, 20, 2))
def test_channels_on_forty_cells_are_proven_optimal(number):
    path = INSTANCES / f"40x40-6nets-s1-{number:02}.json"
    best = json.loads(path.read_text())["best_known"]
    instance = read_instance(path)
    routing = route_instance(instance, 0, NORMAL.group_steps)
    proof = prove_bound(instance, routing.traces, NORMAL)
    assert proof.cost == best
    # One of them is left to the exact model.
    assert proof.bound == best or number == 6


@pytest.mark.parametrize("number", [0, 4])
def test_channels_on_sixty_by_eighty_cells_are_proven_optimal(number):
    path = INSTANCES / f"60x80-8nets-s1-{number:02}.json"
    best = json.loads(path.read_text())["best_known"]
    instance = read_instance(path)
    proof = prove_bound(instance, route_instance(instance, 0, 30).traces, NORMAL)
    assert proof.bound == proof.cost == best


@pytest.mark.parametrize("name", ["104", "110"])
def test_the_impossible_instances_are_proven_so_by_two_channels(name):
    path = INSTANCES / f"40x40-6nets-s1-impossible-{name}.json"
    conflicting = json.loads(path.read_text())["conflicting"]
    instance = read_instance(path)
    assert prove_bound(instance, (), NORMAL).bound == math.inf
    names = [net.name for net in instance.nets]
    pair = tuple(sorted(names.index(c) for c in conflicting))
    assert is_impossible(instance, pair, NORMAL)
    for net in range(len(names)):
        assert not is_impossible(instance, (net,), NORMAL)


def test_nothing_that_can_be_routed_is_called_impossible():
    for seed in range(25):
        instance = make_grid(seed)
        if route_instance(instance, 0, 0, 4).traces:
            assert not is_impossible(instance, tuple(range(len(instance.nets))), NORMAL)


def test_a_bound_to_beat_ends_the_search_at_once():
    instance = read_instance(INSTANCES / "40x40-6nets-s1-04.json")
    proof = prove_bound(instance, (), NORMAL, beat=1500.0)
    assert proof.bound >= 1500.0
    assert proof.rounds == 1


def test_a_quick_bound_is_what_the_channels_cost_alone():
    instance = read_instance(INSTANCES / "40x40-6nets-s1-04.json")
    routing = route_instance(instance, 0, 5)
    proof = prove_bound(instance, routing.traces, QUICK)
    assert proof.bound == sum(routing.ideal)


def test_costs_are_multiples_of_the_granularity():
    assert find_granularity(make_grid(0)) == 10
    assert find_granularity(make_arcs(0)) == 1


def test_two_processes_prove_the_same():
    code = (
        "from pathlib import Path\n"
        "from layouts.routing.instance import read_instance\n"
        "from layouts.routing.bound.prove import prove_bound\n"
        "from layouts.routing.effort import NORMAL\n"
        f"i = read_instance(Path({str(INSTANCES / '40x40-6nets-s1-16.json')!r}))\n"
        "p = prove_bound(i, (), NORMAL)\n"
        "print(p.bound, p.cost, p.rounds, p.pairs, [t.path for t in p.traces])\n"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert told[0] == told[1]
    assert told[0]
