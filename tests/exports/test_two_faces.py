"""Channels in both faces: what every file, table and picture of such a panel must hold."""

from __future__ import annotations

import itertools
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import cadquery as cq
import pytest
import shapely
import trimesh
from picture_texts import assert_inside, assert_no_text_over_text, pane_area, texts_of
from sample_plan import sample_plan
from sample_two_face_plan import HOLE, HOLE_RADIUS, OUTLET, RETURN, TURN, still_return, two_face_plan

from exports.check_solids import Checked, check_solids
from exports.pictures.colours import part_colour
from exports.pictures.panel_picture import draw_panel
from exports.pictures.plan_layers import list_discs, sort_screws
from exports.pictures.plan_picture import draw_plan
from exports.pictures.plan_places import list_symbols, place_arrows, place_tags
from exports.pictures.plan_symbols import FRONT_STILL, FRONT_WATER, HIDDEN, SOFT, TAG_RADIUS, WATER
from exports.pictures.svg import View
from exports.report.document import report_document
from exports.tables.panel_tables import describe_plan
from exports.wording.channel_ways import cut_leg, list_branches, main_way
from exports.written_files import write_made
from geom.outline import Loop, outline_circle, outline_rectangle, outline_route, region_polygon
from layouts.closing.wet_regions import group_wet
from layouts.cost.quantities import cost_sheet
from layouts.plan import Channel, Leg, Plan, Run


@pytest.fixture(scope="module")
def plan() -> Plan:
    return two_face_plan()


@pytest.fixture(scope="module")
def checked(plan: Plan) -> Checked:
    return check_solids(plan)


@pytest.fixture(scope="module")
def made(plan: Plan, checked: Checked, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("two faces")
    write_made(plan, checked, checked.findings, cost_sheet(plan), folder)
    return folder


def view_of(plan: Plan) -> View:
    return View(min(900.0 / plan.panel.width, 620.0 / plan.panel.height), plan.panel.height)


def test_the_sample_is_sound(plan: Plan, checked: Checked):
    # Its walls of 2.5 mm are none too thick for class m, by which nobody called out anything; the port at y = 15 mm
    # lies under the drain's channel.
    found = [
        ("tolerance.wall", "caution"),
        ("feed.first", "note"),
        ("drain.left", "caution"),
        ("screw.torque", "note"),
    ]
    assert [(f.code, f.severity) for f in checked.findings] == found
    assert len(checked.solids.wet.Solids()) == len(group_wet(plan.panel, plan.routed)) == 2
    assert checked.wet_mesh.body_count == 2


def test_both_covers_have_files_of_their_own(made: Path):
    names = {path.name for path in made.iterdir()}
    wanted = {
        f"{stem}.{kind}" for stem in ("body", "cover", "front-cover") for kind in ("step", "stl", "3mf")
    }
    assert wanted <= names
    assert {"assembly.step", "assembly.glb", "panel.svg", "plan.svg"} <= names
    for stem in ("body", "cover", "front-cover"):
        assert trimesh.load_mesh(made / f"{stem}.stl").is_watertight
    assert b"rillplate front cover" in (made / "front-cover.stl").read_bytes()[:80]


def test_step_reads_back_with_three_sheets_and_the_cord(made: Path, checked: Checked):
    again = cq.Assembly.importStep(str(made / "assembly.step"))
    children = {child.name: child for child in again.children}
    assert children.keys() == {"body", "cover", "front cover", "cord 1"}
    for name, child in children.items():
        assert child.obj.isValid()
        assert child.obj.Volume() == pytest.approx(checked.solids.part(name).Volume(), rel=1e-8)
        assert child.color.toTuple()[:3] == pytest.approx(part_colour(name)[:3], abs=0.01)
    low, high = children["front cover"].obj.BoundingBox().zmin, children["front cover"].obj.BoundingBox().zmax
    assert (low, high) == pytest.approx((20.0, 28.0), abs=1e-6)


def test_screws_in_line_in_both_faces_keep_their_own_names(made: Path):
    text = (made / "body.step").read_text(encoding="ascii")
    faces = re.findall(r"ADVANCED_FACE\('([^']+)'", text)
    for wanted in ("cover screw 1 M4", "front cover screw 1 M4", "through hole block - tank 1"):
        assert faces.count(wanted) == 1, wanted
    cover = re.findall(r"ADVANCED_FACE\('([^']+)'", (made / "front-cover.step").read_text(encoding="ascii"))
    assert "front cover clearance 1" in cover
    assert "cover clearance 1" not in cover


def test_viewer_file_has_the_front_cover_and_the_coolant(made: Path):
    scene = trimesh.load_scene(made / "assembly.glb")
    assert set(scene.geometry) == {"body", "cover", "front cover", "cord 1", "coolant"}
    assert scene.geometry["coolant"].body_count == 2
    assert scene.geometry["front cover"].bounds[:, 2] == pytest.approx((0.020, 0.028), abs=1e-6)


def test_report_tells_layers_and_holes(plan: Plan, made: Path):
    report = json.loads((made / "report.json").read_text("utf-8"))
    assert report["result"] == "ok"
    assert report["panel"]["layers"] == 2
    assert len(report["panel"]["front_screws_mm"]) == 10
    channels = {channel["name"]: channel for channel in report["channels"]}
    back = channels["block - tank"]
    assert back["layer"] == "front"
    assert back["path_mm"] == [list(p) for p in (OUTLET, HOLE, TURN, RETURN)]
    assert back["holes_mm"] == [list(HOLE)]
    assert back["branches_mm"] == []
    supply = channels["pump - block"]
    assert (supply["layer"], supply["holes_mm"], supply["branch_layers"]) == ("back", [], ["back"])
    assert {port["name"]: port["layer"] for port in report["ports"]} == {
        "block inlet": "back",
        "block outlet": "front",
        "fill": "back",
        "drain": "back",
    }
    (volume,) = [p["solid_mm3"] for p in report["volumes"]["parts"] if p["part"] == "front cover"]
    assert volume < 160 * 120 * 8


def test_one_face_has_no_holes_in_its_report():
    document = report_document(sample_plan(), None, (), (), {})
    assert {channel["layer"] for channel in document["channels"]} == {"back"}
    assert document["panel"]["front_screws_mm"] == []


def test_tables_tell_holes_and_faces_only_where_there_are_two(plan: Plan):
    said, plain = describe_plan(plan), describe_plan(sample_plan())
    head = next(line for line in said.splitlines() if line.startswith("channel "))
    row = next(line for line in said.splitlines() if line.startswith("block - tank "))
    assert head.split() == ["channel", "length", "bends", "holes", "flow", "velocity", "Re"]
    assert row.split()[:7] == ["block", "-", "tank", "118", "mm", "1", "1"]
    assert "front face" in next(line for line in said.splitlines() if line.startswith("block outlet "))
    assert "holes" not in plain
    assert "face" not in plain


def test_plan_shows_front_channels_apart_and_says_so(plan: Plan):
    picture = draw_plan(plan)
    said = [text for text, _ in texts_of(picture)]
    for wanted in ("in the front face", "through hole", "through holes", "cord groove in the front face"):
        assert wanted in said
    assert picture.count(f'fill="{FRONT_WATER}"') == 2, "the run and the legend"
    assert 'pattern id="front"' in picture
    assert "cover screw M4, back only" in said
    assert "cover screw M4, front only" in said
    # Sixteen of the back alone, and the legend's.
    assert picture.count(f'stroke="{SOFT}" stroke-width="1.1" {HIDDEN}') == 17
    assert_inside(picture)
    assert_no_text_over_text(picture)


def test_plan_of_one_face_tells_nothing_of_the_other():
    picture = draw_plan(sample_plan())
    assert "front" not in picture.replace("seen from the front", "")
    assert "through hole" not in picture


def test_standing_coolant_in_front_is_lighter(plan: Plan):
    picture = draw_plan(still_return(plan))
    assert picture.count(f'fill="{FRONT_STILL}"') == 1


def test_screws_are_sorted_by_the_covers_they_are_in(plan: Plan):
    back, front = plan.sealed.screws, plan.sealed.front_screws
    assert sort_screws(plan) == {"back": back[2:], "both": back[:2], "front": front[2:]}
    assert sort_screws(sample_plan()) == {"both": sample_plan().sealed.screws}
    assert sort_screws(replace(plan, sealed=replace(plan.sealed, screws=(), front_screws=()))) == {}


def test_front_channels_are_painted_over_back_ones(plan: Plan):
    drawing = re.split("(?=<g transform)", draw_plan(plan))[1]
    back = [m.start() for m in re.finditer(f'fill="{WATER}"', drawing)]
    assert len(back) == 4, (
        "the drop, the supply, the return behind its hole, the tank; the drain stands still"
    )
    assert max(back) < drawing.index(f'fill="{FRONT_WATER}"')


def test_numbers_stand_clear_of_holes_and_crossings(plan: Plan):
    view = view_of(plan)
    tags = place_tags(plan, view)
    arrows = place_arrows(plan, view, tags)
    assert {arrow.channel for arrow in arrows} == {"feed", "pump - block", "block - tank"}
    holes = [(view.to(HOLE), HOLE_RADIUS * view.scale)]
    assert set(holes) <= set(list_symbols(plan, view))
    for at in tags.values():
        assert all(math.dist(at, hole) >= radius + TAG_RADIUS for hole, radius in holes)
    crossing = view.to((52.0, 35.0))
    assert math.dist(tags["block - tank"], crossing) > 4.0 * view.scale


def test_no_arrow_of_a_back_channel_stands_over_a_front_one(plan: Plan):
    """The front run is laid over each arrow of the supply in turn: that arrow then gives way."""
    view = view_of(plan)

    def arrows_of(plan: Plan) -> list[tuple[float, float]]:
        placed = place_arrows(plan, view, place_tags(plan, view))
        return [arrow.at for arrow in placed if arrow.channel == "pump - block"]

    before = arrows_of(plan)
    assert before
    for x, _ in before:
        column = x / view.scale
        back = plan.routed.channels[2]
        moved = replace(back, runs=(Run(((column, 15.0), (column, 62.0)), "front"), back.runs[1]))
        crossed = replace(plan, routed=replace(plan.routed, channels=(*plan.routed.channels[:2], moved)))
        over = list_discs(crossed, view, "front")
        for at in arrows_of(crossed):
            assert min(math.dist(at, centre) - radius for centre, radius in over) > 0.0


def test_arrows_point_along_the_flow_on_both_sides_of_a_hole(plan: Plan):
    view = view_of(plan)
    ways = {
        (round(a.along[0], 6), round(a.along[1], 6))
        for a in place_arrows(plan, view, place_tags(plan, view))
        if a.channel == "block - tank"
    }
    assert {(0.0, 1.0), (1.0, 0.0)} <= ways


def test_panel_picture_shows_both_joints(plan: Plan, checked: Checked):
    picture = draw_panel(plan, checked)
    said = [text for text, _ in texts_of(picture)]
    assert said[1:] == ["back face, its cover lifted off", "front face, its cover lifted off"]
    assert "covers lifted off" in said[0]
    assert picture == draw_panel(plan, checked)
    assert_inside(picture)
    assert_no_text_over_text(picture)
    assert len(picture) < 400_000


@pytest.mark.published(source="closed form: a plane's areas keep their ratio in a parallel projection")
def test_each_joint_shows_the_coolant_of_its_own_face(plan: Plan, checked: Checked):
    back, front = (pane_area(view) for view in re.split("(?=<g transform)", draw_panel(plan, checked))[1:])

    def union(*loops: Loop) -> float:
        return shapely.union_all([region_polygon((loop,)) for loop in loops]).area

    def outlines(layer: str) -> list[Loop]:
        return [
            outline_route(run.points, 14.0, 8.0)
            for c in plan.routed.channels
            for run in c.runs
            if run.layer == layer
        ]

    expected_back = union(*outlines("back"), outline_rectangle(90.0, 75.0, 140.0, 105.0, 6.0))
    bores = [outline_circle(at, 5.9) for at in ((40.0, 35.0), OUTLET)]
    bores += [outline_circle(at, 4.0) for at in ((115.0, 35.0), (90.0, 35.0))]
    expected_front = union(*outlines("front"), *bores)
    assert front / back == pytest.approx(expected_front / expected_back, rel=5e-3)


def way(
    *runs: tuple[str, tuple[tuple[float, float], ...]], holes: tuple[tuple[float, float], ...]
) -> Channel:
    made = tuple(Run(points, layer) for layer, points in runs)
    return Channel("a", ("in", "out"), made, (), (), 8.0, 9.0, 14.0, holes)


def test_a_way_goes_on_through_its_holes_and_branches_stay_apart():
    channel = way(
        ("back", ((0, 0), (30, 0))),
        ("front", ((30, 0), (30, 40))),
        ("back", ((30, 40), (60, 40))),
        ("front", ((80, 20), (30, 20))),
        holes=((30, 0), (30, 40)),
    )
    assert main_way(channel) == ((0, 0), (30, 0), (30, 40), (60, 40))
    assert [run.points for run in list_branches(channel)] == [((80, 20), (30, 20))]


def test_a_branch_that_begins_where_the_way_ends_is_none_of_it():
    """Two runs in one layer, or at a place without a hole, are two ways."""
    same = way(("back", ((0, 0), (30, 0))), ("back", ((30, 0), (30, 40))), holes=((30, 0),))
    apart = way(("back", ((0, 0), (30, 0))), ("front", ((30, 0), (30, 40))), holes=())
    for channel in (same, apart):
        assert main_way(channel) == ((0, 0), (30, 0))
        assert len(list_branches(channel)) == 1


def test_a_leg_is_cut_at_its_holes_and_changes_its_layer_there():
    leg = Leg("a", "in", "out", ((0, 0), (30, 0), (30, 40), (60, 40)), "front", (1, 2))
    assert [(run.layer, run.points) for run in cut_leg(leg)] == [
        ("front", ((0, 0), (30, 0))),
        ("back", ((30, 0), (30, 40))),
        ("front", ((30, 40), (60, 40))),
    ]
    plain = replace(leg, holes=())
    assert cut_leg(plain) == (Run(leg.points, "front"),)
    assert all(a.points[-1] == b.points[0] for a, b in itertools.pairwise(cut_leg(leg)))
