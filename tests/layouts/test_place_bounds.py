"""Every place of tank and pump, and the least that a layout there costs."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import islice

import networkx
import numpy as np
import pytest
from sample_demos import route_demo

from geom.errors import LayoutError
from layouts.cost_field import CostField
from layouts.file.read import read_panel
from layouts.ground import port_terminals, survey_panel
from layouts.nets import PUMP_OUTLET
from layouts.panels.catalogue import demo_path
from layouts.place import list_pumps, list_tanks
from layouts.place_bounds import find_placements
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import NORMAL, THOROUGH
from layouts.routing.instance import DX, DY
from layouts.tank_over_pump import match_tanks
from layouts.terrain import lay_terrain


def panel_of(name: str):
    """Return an example panel."""
    return read_panel(demo_path(name))


@pytest.mark.parametrize("name", ["laser-driver", "cupboard-server", "workshop-render", "new"])
def test_no_routing_costs_less_than_its_place_s_bound(name):
    ground = survey_panel(panel_of(name))
    routed = 0
    for placement in islice(find_placements(ground), 0, 240, 24):
        terrain = lay_terrain(ground, placement)
        routing = route_instance(terrain.instance, 0, 0, 1)
        if routing.traces:
            routed += 1
            assert placement.bound <= routing.cost + terrain.feed + 1e-6
    assert routed >= 2


@pytest.mark.parametrize("name", ["laser-driver", "cupboard-server", "workshop-render"])
def test_places_come_with_the_least_bound_first_and_once_each(name):
    placements = list(find_placements(survey_panel(panel_of(name))))
    bounds = [p.bound for p in placements]
    assert bounds == sorted(bounds)
    assert len({(p.inlet, p.turn_deg, p.box, p.top) for p in placements}) == len(placements)


def test_every_pair_that_can_stand_is_among_them():
    """Against all pairs of pump and tank, one by one."""
    ground = survey_panel(panel_of("laser-driver"))
    reasons: Counter[str] = Counter()
    pumps, boxes = list_pumps(ground, reasons), list_tanks(ground, reasons)
    pairs = {
        (place.inlet, place.turn_deg, box)
        for place in pumps
        for box in boxes
        if match_tanks(ground, place, np.array([box]), reasons)[0]
    }
    assert pairs == {(p.inlet, p.turn_deg, p.box) for p in find_placements(ground)}
    grid = ground.grid
    x0, y0, x1, y1 = ground.panel.pump.within
    half = ground.panel.pump.seat_diameter / 2
    assert {place.inlet for place in pumps} <= {
        (c * grid.pitch, r * grid.pitch)
        for c in range(grid.columns)
        for r in range(grid.rows)
        if x0 + half <= c * grid.pitch <= x1 - half and y0 + half <= r * grid.pitch <= y1 - half
    }


def test_what_is_told_to_be_optimal_is_the_best_of_all_places():
    """Each place routed by itself, with long searches: none is cheaper than the one chosen."""
    panel = panel_of("laser-driver")
    chosen = route_demo("laser-driver", NORMAL)
    assert chosen.status == "optimal (proven)"
    ground = survey_panel(panel)
    best = math.inf
    for placement in find_placements(ground):
        terrain = lay_terrain(ground, placement)
        routing = route_instance(terrain.instance, 0, 10, 2)
        best = min(best, routing.cost + terrain.feed)
    assert chosen.cost <= best * ground.costs.unit_pa + 1e-6


@pytest.mark.published(source="networkx.dijkstra_path_length on the graph of states")
def test_a_place_s_bound_is_the_shortest_way_in_the_bare_panel():
    """A panel whose one channel from the pump is bounded by moves of one cell and bends of exact room."""
    panel = panel_of("laser-driver")
    ground = survey_panel(panel)
    need = next(n for n in ground.needs if n.ends[0].name == PUMP_OUTLET)
    rates, k, columns = ground.costs.channels[need.name].rates, ground.bend_cells, ground.grid.columns
    # Fixed ports of other channels stand in the way too: here the bare panel is a lower bound of that bound.
    free = ~ground.blocked[0]
    graph = networkx.DiGraph()

    def free_at(x, y):
        return 0 <= x < columns and 0 <= y < ground.grid.rows and free[y * columns + x]

    for cell in np.flatnonzero(free):
        x, y = int(cell) % columns, int(cell) // columns
        for d in range(4):
            if free_at(x + DX[d], y + DY[d]):
                graph.add_edge((x, y, d), (x + DX[d], y + DY[d], d), weight=rates.step)
            for nd in ((d + 1) % 4, (d + 3) % 4):
                ahead = [(x + DX[d] * m, y + DY[d] * m) for m in range(k)]
                if not free_at(x + k * (DX[d] + DX[nd]), y + k * (DY[d] + DY[nd])):
                    continue
                if all(free_at(*at) for at in ahead[:1]):
                    graph.add_edge(
                        (x, y, d),
                        (x + k * (DX[d] + DX[nd]), y + k * (DY[d] + DY[nd]), nd),
                        weight=rates.bend + 2 * k * rates.step,
                    )
    graph.add_nodes_from(
        (int(c) % columns, int(c) // columns, d) for c in np.flatnonzero(free) for d in range(4)
    )
    goals = [
        (t.cell % columns, t.cell // columns, (d + 2) % 4)
        for t in port_terminals(ground, ground.blocked, need.ends[1].port, need)
        for d in t.leaves
    ]
    away = networkx.multi_source_dijkstra_path_length(graph.reverse(), goals)
    field, pumps = CostField(ground), list_pumps(ground, Counter())
    inlet = pumps[0].inlet
    turned = [place for place in pumps if place.inlet == inlet]
    assert len(turned) > 1
    ways = []
    for place in turned:
        x, y = (round(v / ground.grid.pitch) for v in place.outlet)
        ways.append(min(away.get((x, y, d), math.inf) for d in range(4)))
        assert field.bound_pump(place) >= ways[-1] - 1e-6
    # The difference between two turns of the pump at one place is the difference of their ways.
    for a, way in zip(turned, ways, strict=True):
        assert field.bound_pump(a) - field.bound_pump(turned[0]) == pytest.approx(way - ways[0], abs=1.0)


def test_longer_effort_never_gives_a_lower_bound_or_a_dearer_layout():
    normal, thorough = (route_demo("cupboard-server", effort) for effort in (NORMAL, THOROUGH))
    assert thorough.cost <= normal.cost + 1e-9
    assert thorough.bound >= normal.bound - 1e-9
    assert thorough.bound <= thorough.cost + 1e-9


def test_no_place_says_what_was_in_the_way():
    panel = panel_of("laser-driver")
    low = replace(panel.tank, at=(40.0, 14.0), within=None)
    with pytest.raises(LayoutError, match="too near the tank"):
        next(find_placements(survey_panel(replace(panel, tank=low))))


def test_a_fine_pitch_gives_every_node_without_building_all():
    """Thousands of pairs a pump: the first of them come without the rest."""
    panel = replace(panel_of("workshop-render"), pitch=2.5)
    first = list(islice(find_placements(survey_panel(panel)), 5))
    assert [p.bound for p in first] == sorted(p.bound for p in first)
    assert first[0].bound > 0
