"""The crossing rules, asserted against every feasible routing found."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sample_grids import make_arcs, make_grid
from shapely.geometry import LineString

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.curves import count_line_crossings
from layouts.routing.bound.one_layer import usable_ends
from layouts.routing.bound.topology import Topology, count_crossings, find_topology, find_violated
from layouts.routing.instance import Instance, read_instance

FILES = sorted((Path(__file__).parent / "instances").glob("*.json"))
FEASIBLE = [
    path for path in FILES if "impossible" not in path.name and not path.name.startswith(("100", "200"))
]


def topology_of(instance: Instance) -> Topology:
    search = Negotiation(instance)
    return find_topology(instance, tuple(search.fixed), usable_ends(instance, search))


@pytest.mark.parametrize("path", FEASIBLE, ids=lambda path: path.stem)
def test_routings_of_the_instance_files_obey_every_rule(path):
    instance = read_instance(path)
    topology = topology_of(instance)
    count = len(instance.nets)
    assert topology.holds.sum() >= 0.9 * count * (count - 1)
    for seed in range(1):
        routing = route_instance(instance, seed, 5)
        assert routing.traces
        assert find_violated(instance, topology, routing.traces) == []


@pytest.mark.parametrize("make", [make_grid, make_arcs], ids=["cells", "arcs"])
def test_routings_of_random_grids_obey_every_rule(make):
    ruled = routed = 0
    for seed in range(100):
        instance = make(seed)
        routing = route_instance(instance, 0, 3, 3)
        if not routing.traces:
            continue
        topology = topology_of(instance)
        assert find_violated(instance, topology, routing.traces) == [], seed
        routed += 1
        ruled += int(topology.holds.any())
    assert routed > 15
    assert ruled > 10


def test_a_channel_moved_to_the_other_side_breaks_the_rule():
    """Two channels side by side; swapping the traces of the first only makes them cross."""
    path = next(path for path in FEASIBLE if path.name.startswith("40x40-6nets-s1-00"))
    instance = read_instance(path)
    topology = topology_of(instance)
    routing = route_instance(instance, 0, 5)
    alone = Negotiation(instance)
    broken = 0
    for net in range(len(instance.nets)):
        trace = alone.route_alone(net)
        traces = (*routing.traces[:net], trace, *routing.traces[net + 1 :])
        broken += len(find_violated(instance, topology, traces))
    assert broken > 0


def test_a_rule_s_arrays_give_the_crossings_that_are_counted():
    for seed in range(20):
        instance = make_arcs(seed)
        topology = topology_of(instance)
        routing = route_instance(instance, 0, 3)
        if routing.traces and topology.holds.any():
            break
    i, j = sorted(int(n) for n in np.argwhere(topology.holds)[0])
    row = topology.row(i, j)
    counted = [count_crossings(instance, topology, n, routing.traces[n]) for n in (i, j)]
    assert counted[0][j] - counted[1][i] == row.kappa
    assert np.array_equal(row.moves_i, topology.moves[j])
    assert np.array_equal(row.arcs_j, topology.arcs[i])


@pytest.mark.published(source="shapely (GEOS): crossings of two lines, counted without their signs")
def test_lines_cross_as_often_as_shapely_says():
    rng = np.random.default_rng(5)
    for _ in range(200):
        a, b = rng.random((6, 2)), rng.random((7, 2))
        found = LineString(a).intersection(LineString(b))
        parts = 0 if found.is_empty else len(getattr(found, "geoms", [found]))
        assert (abs(count_line_crossings(a, b)) - parts) % 2 == 0
        assert abs(count_line_crossings(a, b)) <= parts


def test_an_end_in_open_ground_has_no_rule():
    instance = make_grid(1, border=False)
    assert topology_of(instance).holds.any()
    net = instance.nets[0]
    free = np.flatnonzero(~instance.blocked[0])
    middle = [int(c) for c in free if 3 <= c % 12 <= 8 and 3 <= c // 12 <= 8][:2]
    loose = tuple(replace(net.ends[0][0], cell=c, node=c) for c in middle)
    changed = replace(instance, nets=(replace(net, ends=(loose, net.ends[1])), *instance.nets[1:]))
    whole = replace(changed, blocked=np.zeros_like(instance.blocked))
    assert not topology_of(whole).holds[0].any()
