"""Which cutters are at hand, and which cut what."""

from __future__ import annotations

import math

import pytest
from sample_demos import plan_demo

from geom.features import Cylinder, Feature, Prism, Track
from geom.outline import outline_circle, outline_rectangle
from layouts.milling.cutters import COMMON_SIZES, choose_cutters, cutters_at_hand, cutters_for, usable_reach
from layouts.panel import EndMill, Panel
from layouts.rules.cutter_rules import check_cutter, check_milled_floors, check_radius, check_reach
from tests.layouts.milling.sample_sheet import body, bore, cut, open_back, pocket, sheet_panel, slot


def sizes(feature: Feature, panel: Panel) -> tuple[float, float]:
    """Return the roughing and the finishing cutter of a feature in the back, alone."""
    _, (space,) = open_back(body(feature), panel)
    cutting = choose_cutters(panel, space).cutting
    assert cutting.rough is not None
    assert cutting.finish is not None
    return cutting.rough.diameter, cutting.finish.diameter


def test_cutters_at_hand():
    assert tuple(c.diameter for c in cutters_at_hand(sheet_panel(6.0))) == COMMON_SIZES
    # The file's own cutter is at hand, whatever its size.
    assert 7.0 in {c.diameter for c in cutters_at_hand(sheet_panel(7.0))}
    given = sheet_panel(6.0, ((8.0, 30.0), (6.0, None), (2.0, 5.0)))
    assert [c.diameter for c in cutters_at_hand(given)] == [2.0, 6.0, 8.0]
    assert [c.diameter for c in cutters_for(given, "channel")] == [6.0, 8.0]
    assert [c.diameter for c in cutters_for(given, "groove")] == [2.0, 6.0, 8.0]


@pytest.mark.published(
    source="DFM basics for CNC parts: hole or pocket depth up to about 4 to 6 times the tool diameter, "
    "https://fenvaprecision.com/zh/post-cnc-dfm-basics"
)
def test_a_cutter_without_a_reach_reaches_six_diameters():
    assert usable_reach(EndMill(5.0)) == 6 * 5.0
    assert usable_reach(EndMill(5.0, 12.0)) == 12.0


@pytest.mark.parametrize(
    ("feature", "cutter", "expected"),
    [
        # Room on both sides of the cutter: 1.3 times 6 mm is under 8 mm.
        (slot("channel a", ((20, 40), (90, 40)), 8), 6.0, (6.0, 6.0)),
        # 6 mm would fill it; the smallest has most room.
        (slot("channel a", ((20, 40), (90, 40)), 6), 5.0, (5.0, 5.0)),
        (slot("channel a", ((20, 40), (90, 40)), 14), 6.0, (10.0, 10.0)),
        # Corners of 6 mm are cut with 8 mm, the rest with 12 mm.
        (pocket("tank", (outline_rectangle(20, 20, 90, 60, 6.0),)), 6.0, (12.0, 8.0)),
        (pocket("tank", (outline_rectangle(20, 20, 90, 60, 9.0),)), 6.0, (12.0, 12.0)),
        # A post 9 mm from the wall: what has no room there does not rough.
        (
            pocket("tank", (outline_rectangle(20, 20, 90, 60, 6.0),), 14.0, (outline_circle((50, 33), 4.0),)),
            6.0,
            (12.0, 6.0),
        ),
        # Grooves are cut with what fits them, whatever the channels' cutter.
        (
            cut("groove 1", "groove", Track(outline_rectangle(20, 20, 90, 60, 9.0), True, 2.8, 0, 1.5)),
            6.0,
            (2.0, 2.0),
        ),
        (bore("spot face x", "spot face", "back", (50, 40, 0), 0.5, 9.5), 6.0, (12.0, 12.0)),
    ],
)
def test_what_cuts_what(feature, cutter, expected):
    assert sizes(feature, sheet_panel(cutter)) == expected


def test_a_stiffer_cutter_is_taken_where_the_one_with_room_is_too_long():
    deep = slot("channel a", ((20, 40), (90, 40)), 4.1, 13.0)
    # 3 mm has room but goes in 4.3 diameters; 4 mm stays within four.
    assert sizes(deep, sheet_panel(3.0)) == (4.0, 4.0)
    assert sizes(slot("channel a", ((20, 40), (90, 40)), 4.1, 11.0), sheet_panel(3.0)) == (3.0, 3.0)


def test_a_shallow_face_asks_for_no_cutter_of_its_own():
    """A spot face of 15 mm: 12 mm, which cuts the outline too, clears it; deeper it wants room beside the cutter."""
    shallow = cut("spot face a", "spot face", Cylinder((50.0, 40.0, 0.0), (0.0, 0.0, 1.0), 0.5, 7.5))
    deep = cut("spot face a", "spot face", Cylinder((50.0, 40.0, 0.0), (0.0, 0.0, 1.0), 5.0, 7.5))
    assert sizes(shallow, sheet_panel()) == (12.0, 12.0)
    assert sizes(deep, sheet_panel()) == (10.0, 10.0)


def test_reach_that_the_file_gives_decides():
    deep = pocket("tank", (outline_rectangle(20, 20, 90, 60, 9.0),))
    assert sizes(deep, sheet_panel(6.0, ((6.0, None), (8.0, None), (12.0, 13.9)))) == (8.0, 8.0)
    assert sizes(deep, sheet_panel(6.0, ((6.0, None), (8.0, None), (12.0, 14.0)))) == (12.0, 12.0)


@pytest.mark.parametrize(("depth", "mill"), [(16.0, 4.0), (16.5, 4.0), (17.9, 4.0), (18.1, 4.0), (26.0, 4.0)])
def test_what_is_long_for_the_depth_is_the_stiffest(depth, mill):
    """A 4 mm channel, 3 mm at hand: 16.5 mm are 4.1 diameters of 4 mm; deeper never asks for less of a cutter."""
    deep = slot("channel a", ((20, 40), (90, 40)), 4.0, depth)
    _, (space,) = open_back(body(deep, thick=30.0), sheet_panel(2.0))
    finish = choose_cutters(sheet_panel(2.0), space).cutting.finish
    assert finish is not None
    assert finish.diameter == mill


def test_what_is_cut_through_an_equally_deep_neighbour_is_not_left_out():
    tank = pocket("tank", (outline_rectangle(20, 20, 60, 60, 6.0),), 9.0)
    narrow = slot("channel a", ((50, 40), (80, 40)), 5.0, 9.0)
    panel = sheet_panel(6.0, ((6.0, None),))
    _, spaces = open_back(body(tank, narrow), panel)
    choice = choose_cutters(panel, next(s for s in spaces if s.pocket.name == "channel a"))
    assert choice.cutting.finish == EndMill(6.0)
    assert [rest.width for rest in choice.rests] == [5.0]


def test_none_goes_in():
    panel = sheet_panel(6.0, ((6.0, None),))
    groove = cut("groove 1", "groove", Track(outline_rectangle(20, 20, 90, 60, 9.0), True, 2.8, 0, 1.5))
    _, (space,) = open_back(body(groove), panel)
    choice = choose_cutters(panel, space)
    assert (choice.cutting.rough, choice.cutting.finish) == (None, None)
    assert choice.rests[0].width == pytest.approx(2.8, abs=0.02)


def test_the_tightest_corner_is_told_with_its_place():
    feature = cut("tank", "tank", Prism((outline_rectangle(20, 20, 90, 60, 6.0),), 0.0, 14.0))
    _, (space,) = open_back(body(feature))
    cutting = choose_cutters(sheet_panel(), space).cutting
    assert cutting.tightest == 6.0
    assert cutting.tightest_at is not None
    assert cutting.tightest_at[2] == 14.0
    inset = 6 * (1 - math.sqrt(0.5))
    assert min(abs(cutting.tightest_at[0] - 20), abs(cutting.tightest_at[0] - 90)) == pytest.approx(inset)


@pytest.mark.parametrize(
    "name", ["workshop-render", "cell-tester", "laser-driver", "new", "observatory-camera"]
)
def test_the_demos_are_cut_clean(name):
    plan = plan_demo(name)
    milled = plan.milled
    assert milled is not None
    assert milled.rests == ()
    assert all(cutting.finish is not None for cutting in milled.cuttings)
    assert len(milled.cuttings) == sum(len(setup.pockets) for setup in milled.setups)
    for found in (
        check_cutter(plan.panel, milled),
        check_radius(plan.panel, milled),
        check_reach(plan.panel, milled),
        check_milled_floors(plan.panel, plan.detail, milled),
    ):
        assert found == ()
