"""What is cut in which set-up, where, and how much it takes."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from sample_demos import plan_demo

from geom.features import Blank, Cylinder, Detail, Prism, Track
from geom.outline import (
    loop_polygon,
    outline_circle,
    outline_rectangle,
    outline_route,
    region_polygon,
    round_corners,
)
from layouts.milling.drilling import list_drilled
from layouts.milling.plan_milling import plan_milling
from layouts.milling.setups import list_setups
from layouts.milling.work import Milled
from tests.layouts.milling.sample_sheet import TALL, THICK, WIDE, body, bore, cut, pocket, sheet_panel, slot


def milled(name: str) -> Milled:
    plan = plan_demo(name)
    assert plan.milled is not None
    return plan.milled


def test_the_main_demo_is_cut_from_the_front_then_its_edges_then_the_back():
    setups = milled("workshop-render").setups
    assert [(s.part, s.face) for s in setups] == [
        ("body", "front"),
        ("body", "top"),
        ("body", "bottom"),
        ("body", "left"),
        ("body", "back"),
        ("cover", "back"),
    ]
    # Each part's outline is cut once, before its edges are drilled.
    assert [s.outline is not None for s in setups] == [True, False, False, False, False, True]


@pytest.mark.parametrize("name", ["workshop-render", "observatory-camera", "laser-driver"])
def test_every_feature_is_cut(name):
    plan = plan_demo(name)
    done = {c.name for s in milled(name).setups for c in (*s.pockets, *s.holes)}
    assert done == {f.name for f in plan.detail.features}


def test_threads_are_those_of_the_features_and_inserts_are_not_tapped():
    holes = {hole.name: hole for s in milled("workshop-render").setups for hole in s.holes}
    assert holes["port drain G1/4"].thread == "G1/4"
    assert holes["pump screw 1 M4"].thread == "M4"
    assert holes["cover clearance 1"].thread == ""
    # Half a diameter of the hole stays below the thread.
    assert holes["pump screw 1 M4"].depth - holes["pump screw 1 M4"].thread_depth == pytest.approx(2.0)
    screw = holes["cover screw 1 M4"]
    # The screw reaches 11.1 mm; a pitch of thread is left under its tip, two pitches of bore under that.
    assert (screw.depth, screw.thread_depth) == (pytest.approx(13.2), pytest.approx(11.8))
    (setup,) = list_setups(
        sheet_panel(),
        body(bore("cover screw 1 M4 insert", "screw hole", "back", (60, 40, 0), 9, 2.8)),
    )
    assert setup.holes[0].thread == ""


def test_a_front_covers_ports_open_its_far_side():
    holes = [hole for setup in milled("observatory-camera").setups for hole in setup.holes]
    ports = [hole for hole in holes if hole.part == "front cover" and hole.kind == "port"]
    assert len(ports) == 3
    assert all(port.through and port.depth == 9.5 for port in ports)


def test_a_wide_bore_in_an_edge_is_milled_too():
    detail = body(bore("port x", "port", "left", (0.0, 40.0, 10.0), 15.0, 10.1), thick=24.0)
    plan = plan_milling(sheet_panel(), detail)
    assert plan is not None
    assert list_drilled(plan) == ()
    assert [(job.tool, job.size) for job in plan.jobs if job.face == "left"] == [("end mill", "20.2 mm")]


def test_a_bore_through_the_cover_is_cut_in_both_parts_with_its_mouth_in_one():
    loop = outline_rectangle(0, 0, WIDE, TALL, 6.0)
    blanks = (Blank("body", loop, 0.0, THICK), Blank("cover", loop, -8.0, 0.0))
    port = replace(
        cut("port x G1/4", "port", Cylinder((30.0, 40.0, -7.5), (0, 0, 1), 12.0, 5.9, 0.7)),
        thread="G1/4",
        thread_depth=7.0,
    )
    flat = cut("spot face x", "spot face", Cylinder((30.0, 40.0, -8.0), (0, 0, 1), 0.5, 9.5))
    first, second = list_setups(sheet_panel(), Detail(blanks, (flat, port), ()))
    (inner,), (outer,) = first.holes, second.holes
    assert (first.part, first.face, second.part, second.face) == ("body", "back", "cover", "back")
    assert (inner.top, inner.depth, inner.chamfer, inner.thread, inner.through) == (0.0, 4.5, 0.0, "", False)
    assert (outer.top, outer.depth, outer.chamfer, outer.thread) == (0.5, 7.5, 0.7, "G1/4")
    # Under a spot face it starts inside the cover, and opens its far side.
    assert (inner.starts, outer.starts, outer.through) == (True, False, True)
    assert (inner.thread_depth, outer.thread_depth) == (0.0, 7.0)
    # Mirrored: seen from behind.
    assert inner.at == outer.at == (WIDE - 30.0, 40.0)
    assert inner.volume_mm3 == pytest.approx(math.pi * 5.9**2 * 4.5)
    cone = math.pi / 3 * 0.7 * (6.6**2 + 6.6 * 5.9 + 5.9**2) - math.pi * 5.9**2 * 0.7
    assert outer.volume_mm3 == pytest.approx(math.pi * 5.9**2 * 7.5 + cone)
    assert second.pockets[0].volume_mm3 == pytest.approx(math.pi * 9.5**2 * 0.5)


def test_a_bore_of_an_edge_stands_at_its_height_over_the_back():
    detail = body(
        bore("port x G1/4", "port", "left", (0.0, 30.0, 4.5), 20.0, 4.0),
        slot("channel a", ((20, 30), (60, 30)), 8),
    )
    setups = list_setups(
        replace(sheet_panel(), milling=replace(sheet_panel().milling, edges="drill press")), detail
    )
    # Nothing is cut in the front: the outline is cut with the channels, and the edge after it.
    assert [s.face for s in setups] == ["back", "left"]
    assert setups[0].outline is not None
    (hole,) = setups[1].holes
    assert (hole.at, hole.top, hole.depth, hole.through) == ((TALL - 30.0, 4.5), 0.0, 20.0, False)
    assert setups[1].on == "drill press"
    assert setups[0].on == "machine"
    assert hole.volume_mm3 == pytest.approx(math.pi * 16 * 20)


def test_a_bore_that_leaves_the_part_counts_what_lies_in_it():
    detail = body(bore("port x G1/4", "port", "left", (0.0, 30.0, 0.0), 20.0, 4.0))
    (hole,) = (h for s in list_setups(sheet_panel(), detail) for h in s.holes)
    assert hole.volume_mm3 == pytest.approx(math.pi * 16 * 20 / 2)


@pytest.mark.parametrize(
    ("low", "high", "face"), [(4.5, 16.0, "front"), (4.0, 15.5, "back"), (4.5, 15.5, "front")]
)
def test_through_holes_between_layers_are_bored_from_where_they_are_shorter(low, high, face):
    hole = cut("through hole a 1", "through hole", Cylinder((60, 40, high), (0, 0, -1), high - low, 3.0))
    detail = body(slot("channel a", ((20, 40), (60, 40)), 8), hole)
    found = [(s.face, h) for s in list_setups(sheet_panel(), detail) for h in s.holes]
    # Both depths alike: as the plan draws it, from the front.
    assert [(f, h.through) for f, h in found] == [(face, False)]
    assert found[0][1].top == pytest.approx(THICK - high if face == "front" else low)


def test_wide_bores_are_milled():
    detail = body(bore("pump inlet bore", "pump bore", "front", (60, 40, THICK), 10.0, 10.1))
    (setup,) = list_setups(sheet_panel(), detail)
    assert [p.name for p in setup.pockets] == ["pump inlet bore"]
    assert not setup.holes


def test_pockets_are_united_and_their_volume_is_exact():
    crossed = (outline_route(((20, 40), (90, 40)), 14, 8), outline_route(((60, 20), (60, 60)), 14, 8))
    posts = (outline_circle((75, 40), 1.5),)
    detail = body(cut("channel a", "channel", Prism(crossed, 0.0, 9.0, posts)))
    (setup,) = list_setups(sheet_panel(), detail)
    (one,) = setup.pockets
    assert len(one.region) == 1
    # Two slots with round ends less the square in which they cross, less the post.
    area = 70 * 8 + 40 * 8 + 2 * math.pi * 16 - 64 - math.pi * 1.5**2
    assert one.volume_mm3 == pytest.approx(9 * area, rel=1e-12)
    assert region_polygon(one.region, 1e-4, one.islands).area == pytest.approx(area, rel=1e-6)


def test_a_ring_groove_has_what_it_goes_round_as_an_island():
    path = outline_rectangle(20, 20, 80, 60, 10.0)
    detail = body(cut("groove 1", "groove", Track(path, True, 2.8, 0.0, 1.5)))
    (setup,) = list_setups(sheet_panel(), detail)
    (one,) = setup.pockets
    length = 2 * (60 + 40) - 8 * 10 + 2 * math.pi * 10
    assert (len(one.region), len(one.islands)) == (1, 1)
    assert one.volume_mm3 == pytest.approx(length * 2.8 * 1.5)
    open_path = round_corners(((20, 20), (60, 20), (60, 60)), 10.0)
    (setup,) = list_setups(
        sheet_panel(), body(cut("groove 1", "groove", Track(open_path, False, 2.8, 0.0, 1.5)))
    )
    assert (len(setup.pockets[0].region), len(setup.pockets[0].islands)) == (1, 0)


def test_what_opens_both_faces_and_neither():
    through = pocket("tank", (outline_rectangle(20, 20, 60, 50, 6),), THICK)
    inside = cut("channel a", "channel", Prism((outline_rectangle(70, 20, 90, 50, 6),), 12.0, 18.0))
    back, front = (
        next(s for s in list_setups(sheet_panel(), body(through, inside)) if s.face == face)
        for face in ("back", "front")
    )
    assert [(p.name, p.top, p.floor) for p in back.pockets] == [("tank", 0.0, THICK)]
    assert [(p.name, p.top, p.floor) for p in front.pockets] == [("channel a", 2.0, 8.0)]


def test_outlines_are_seen_from_their_face():
    for setup in milled("workshop-render").setups:
        if setup.outline is not None:
            assert loop_polygon(setup.outline).bounds == pytest.approx((0.0, 0.0, *setup.size), abs=0.01)
        for one in setup.pockets:
            plan = region_polygon(one.region, islands=one.islands)
            assert shapely.box(0, 0, *setup.size).contains(plan)


@pytest.mark.parametrize(
    ("method", "material", "parts"),
    [
        ("milled", "", {"body", "cover"}),
        ("printed", "aluminium 6082-T6", {"cover"}),
        ("printed", "PETG", None),
    ],
)
def test_a_printed_panels_cover_of_sheet_is_milled(method, material, parts):
    panel = sheet_panel()
    body_of = "PMMA cast" if method == "milled" else "PETG"
    make = replace(panel.make, method=method, material=body_of, cover_material=material, cutter=0.0)
    loop = outline_rectangle(0, 0, WIDE, TALL, 6.0)
    blanks = (Blank("body", loop, 0.0, THICK), Blank("cover", loop, -8.0, 0.0))
    hole = bore("cover clearance 1", "clearance hole", "back", (30.0, 40.0, -8.0), 8.0, 2.25)
    plan = plan_milling(replace(panel, make=make), Detail(blanks, (hole,), ()))
    assert (None if plan is None else {job.part for job in plan.jobs}) == parts
    if plan is not None:
        assert {stock.part for stock in plan.stocks} == parts
        assert [h.name for s in plan.setups for h in s.holes] == ["cover clearance 1"]
