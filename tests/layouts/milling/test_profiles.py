"""Profiles by depth: united exactly where they overlap, apart where they do not."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo
from sample_jobs import BACK, GROOVE, SLOT, TANK

from geom.outline import Arc, loop_area, outline_circle, outline_rectangle, region_polygon
from layouts.milling.profiles import list_profiles


def test_pockets_of_one_depth_that_overlap_are_one_profile():
    groove, pocket = list_profiles(BACK)
    assert (groove.floor, groove.pockets) == (2.2, ("groove 1",))
    assert (pocket.floor, pocket.pockets) == (9.0, ("channel slot", "tank"))
    outer, island = pocket.loops
    slot, tank = 40.0 * 8.0 + 16.0 * math.pi, 600.0 - (4 - math.pi) * 16.0
    assert loop_area(outer) == pytest.approx(slot + tank - 40.0 - 8.0 * math.pi, rel=1e-12)
    assert abs(loop_area(island)) == pytest.approx(9.0 * math.pi)
    # The slot's far cap lies in the tank: what is left are its near cap and the tank's corners.
    assert sum(isinstance(s, Arc) for s in outer) == 5


def test_other_depths_and_pockets_apart_stay_their_own():
    deep = replace(TANK, name="deep tank", floor=12.0)
    far = replace(SLOT, name="far slot", region=(outline_rectangle(5.0, 50.0, 40.0, 56.0, 3.0),))
    profiles = list_profiles(replace(BACK, pockets=(SLOT, deep, far)))
    assert [(p.floor, p.pockets) for p in profiles] == [
        (9.0, ("channel slot",)),
        (9.0, ("far slot",)),
        (12.0, ("deep tank",)),
    ]


def test_a_pocket_across_anothers_island_keeps_a_profile_of_its_own():
    across = replace(GROOVE, name="bar", region=(outline_rectangle(5.0, 28.0, 95.0, 31.0, 1.0),), islands=())
    inside = replace(GROOVE, name="disc", region=(outline_circle((50.0, 20.0), 3.0),), islands=())
    assert [p.pockets for p in list_profiles(replace(BACK, pockets=(GROOVE, across)))] == [
        ("groove 1",),
        ("bar",),
    ]
    assert [p.pockets for p in list_profiles(replace(BACK, pockets=(GROOVE, inside)))] == [
        ("groove 1",),
        ("disc",),
    ]


@pytest.mark.parametrize("name", ["laser-driver", "observatory-camera"])
def test_profiles_of_the_examples_cover_what_the_pockets_cover(name: str):
    milled = plan_demo(name).milled
    assert milled is not None
    for setup in milled.setups:
        for profile in list_profiles(setup):
            mine = [p for p in setup.pockets if p.name in profile.pockets]
            union = region_polygon(mine[0].region, islands=mine[0].islands)
            for pocket in mine[1:]:
                union = union.union(region_polygon(pocket.region, islands=pocket.islands))
            outer = [loop for loop in profile.loops if not any(loop in p.islands for p in mine)]
            islands = math.fsum(abs(loop_area(loop)) for p in mine for loop in p.islands)
            exact = math.fsum(loop_area(loop) for loop in outer) - islands
            assert exact == pytest.approx(union.area, rel=2e-4)
