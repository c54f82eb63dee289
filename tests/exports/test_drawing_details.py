"""What a drawing shows of each part: threads where it is tapped, every cut with its size, marks where they belong."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from sample_sheets import POSTS, ROOF, SPLIT, demo_views, draw_demo, drawn_plan, plan_of

from exports.drawing.annotations import linear_text, sheet_labels
from exports.drawing.assembly_sheet import is_listed, tabulate_parts
from exports.drawing.callouts import list_holes
from exports.drawing.draft import LEFT_OUT
from exports.drawing.face_tags import number_channels
from exports.drawing.groove_table import tabulate_grooves, tell_grooves
from exports.drawing.marked_sections import mark_section
from exports.drawing.needed_views import list_cuts
from exports.drawing.overlaps import count_overlaps
from exports.drawing.round_features import OPEN_AT, major_diameter
from exports.drawing.values import DrawingSet, Item, Label, Leader, Linear, Sheet, Stroke
from exports.tables.parts_list import list_parts
from geom.features import Cylinder, Feature, Prism, Track, Vault
from geom.outline import Arc, Line, region_polygon
from layouts.clearance import clearances_of
from layouts.milling.frame import plane_of
from layouts.panels.catalogue import DEMOS
from layouts.plan import Layer, Plan

EXTRA = (SPLIT, ROOF, POSTS)
NAMES = (*DEMOS, *EXTRA)
MAIN, SERVER = "workshop-render", "cupboard-server"
CORDED = (MAIN, "cell-tester", "synthesizer-rack", POSTS)


def texts(drawing: DrawingSet, part: str = "") -> list[str]:
    return [label.text for sheet in drawing.sheets if part in sheet.part for label in sheet_labels(sheet)]


@pytest.mark.parametrize("name", EXTRA)
def test_panels_that_no_demo_is_are_drawn_as_clean(name: str):
    for sheet in draw_demo(name).sheets:
        assert count_overlaps(sheet) == (), f"{name} sheet {sheet.number}"
        assert not [label.text for label in sheet_labels(sheet) if LEFT_OUT in label.text]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("projection", ["first angle", "third angle"])
def test_threads_are_drawn_where_the_table_says_tapped_and_open_at_the_upper_right(name: str, projection):
    for sheet in draw_demo(name, "A3", projection).sheets:
        for placed in sheet.views:
            rows = [row for row in sheet.holes if row.view == placed.view.name]
            if not rows:
                continue
            threads = [line.segment for line in placed.view.lines if line.style == "thread"]
            arcs = [arc for arc in threads if isinstance(arc, Arc)]
            tapped = [
                row.callout.split(" ")[0] for row in rows if not row.callout.startswith(("Ø", "insert"))
            ]
            drawn = Counter(round(2 * arc.radius, 3) for arc in arcs)
            assert drawn == Counter(round(major_diameter(thread), 3) for thread in tapped), placed.view.name
            for arc in arcs:
                turned = (arc.first - math.pi / 2 - OPEN_AT) % (2 * math.pi)
                assert min(turned, 2 * math.pi - turned) < 1e-9
                assert arc.sweep == pytest.approx(1.5 * math.pi)


def told(plan: Plan, drawing: DrawingSet, feature: Feature) -> bool:
    """Return whether the size, depth and place of a cut stand on some sheet."""
    said, shape = texts(drawing), feature.shape
    if isinstance(shape, Cylinder):
        if feature.kind == "spot face":
            rows = [row for sheet in drawing.sheets for row in sheet.holes if row.callout.count("spot face")]
            return len(rows) == sum(one.kind == "spot face" for one in plan.detail.features)
        holes = [hole for hole in list_holes(plan) if hole.feature == feature.name]
        rows = [row for sheet in drawing.sheets for row in sheet.holes]
        return bool(holes) and all(
            any(
                (row.number, row.callout, row.view) == (h.number, h.callout, f"{h.part} {h.face}")
                for row in rows
            )
            for h in holes
        )
    if feature.kind == "channel":
        name = next(name for name in number_channels(plan) if feature.name.startswith(f"channel {name}"))
        table = [text for text in said if text == number_channels(plan)[name]]
        return len(table) >= 2 and f"R{plan.routed.channel(name).bend_radius:g}" in said
    if feature.kind == "tank":
        return any(text.startswith("tank ↧") for text in said)
    if feature.kind == "groove":
        number = feature.name.rsplit(" ", 1)[-1]
        return any(text.startswith("grooves ") for text in said) and (number in said or f"P{number}" in said)
    assert feature.kind == "screw well", feature
    wells = sum(one.kind == "screw well" for one in plan.detail.features)
    return sum(text.startswith("well ↧") for text in said) == wells


@pytest.mark.parametrize("name", NAMES)
def test_every_cut_of_the_plan_is_told_on_some_sheet(name: str):
    plan, drawing = plan_of(name), draw_demo(name)
    assert [one.name for one in plan.detail.features if not told(plan, drawing, one)] == []


def ends_near(sheet: Sheet, stroke: Stroke) -> bool:
    """Return whether a thick end of a cutting plane lies beside a view of its sheet."""
    assert isinstance(stroke.segment, Line)
    x, y = stroke.segment.at(0.5)
    for placed in sheet.views:
        (u, v), (w, h) = placed.corner, placed.view.size
        if u - 8 < x < u + w * placed.scale + 8 and v - 8 < y < v + h * placed.scale + 8:
            return True
    return False


@pytest.mark.parametrize("name", NAMES)
def test_cutting_planes_are_marked_on_the_parts_that_they_pass(name: str):
    plan, drawing = plan_of(name), draw_demo(name)
    for sheet in drawing.sheets:
        strokes = [item for item in sheet.items if isinstance(item, Stroke) and item.style == "cut"]
        assert all(ends_near(sheet, stroke) for stroke in strokes)
    marked = {
        label.text
        for sheet in drawing.sheets
        if any(isinstance(item, Stroke) and item.style == "cut" for item in sheet.items)
        for label in sheet_labels(sheet)
    }
    assert {cut.letter for cut in list_cuts(plan)} <= marked


def test_each_piece_of_a_split_panel_has_its_own_marks():
    plan, drawing = plan_of(SPLIT), draw_demo(SPLIT)
    for blank in plan.detail.blanks:
        low, high = plane_of(blank, "front").low, plane_of(blank, "front").high
        passed = [
            cut
            for cut in list_cuts(plan)
            for k in ("xyz".index(cut.plane.axis),)
            if k < 2 and low[k] < cut.plane.at < high[k]
        ]
        sheet = next(sheet for sheet in drawing.sheets if sheet.part == blank.name)
        strokes = [item for item in sheet.items if isinstance(item, Stroke) and item.style == "cut"]
        assert len(strokes) == 2 * len(passed) > 0


def test_screws_of_a_split_are_bored_no_deeper_than_the_wall_before_their_well():
    plan = plan_of(SPLIT)
    assert plan.printed is not None
    split = plan.printed.split
    assert split is not None
    assert split.screw is not None
    bored = [hole for hole in list_holes(plan) if hole.sort == "joint screw" and "well" in hole.callout]
    assert len(bored) == len(split.screws)
    for well in split.wells:
        wall = split.at - well.box[2] if well.forward else well.box[0] - split.at
        assert wall == pytest.approx(split.screw.flange)
    assert {hole.callout for hole in bored} == {f"Ø4.5 ↧{split.screw.flange:g} into the well"}


def test_the_joint_of_a_split_is_shown_cut_through_screw_ring_and_pin():
    drawing = draw_demo(SPLIT)
    shown = {placed.view.name for sheet in drawing.sheets for placed in sheet.views}
    assert {"section F-F", "section G-G", "section H-H"} <= shown
    said = texts(drawing)
    assert any(text.startswith("M4 x 20") for text in said)
    assert any(text.startswith("ring of cord Ø1.78") for text in said)
    assert "pin Ø4 x 16" in said


def test_a_split_panel_is_seen_whole():
    plan, drawing = plan_of(SPLIT), draw_demo(SPLIT)
    whole = drawing.sheets[0].views[0]
    assert whole.view.size == (plan.panel.width, plan.panel.height)
    lengths = {linear_text(item) for item in drawing.sheets[0].items if isinstance(item, Linear)}
    assert {f"{plan.panel.width:g}", f"{plan.panel.height:g}"} <= lengths


def test_each_piece_is_told_to_tap_its_own_holes():
    plan, drawing = plan_of(SPLIT), draw_demo(SPLIT)
    for piece in ("panel left", "panel right"):
        count = sum(hole.part == piece and hole.sort == "port" for hole in list_holes(plan))
        said = " ".join(text.strip() for text in texts(drawing, piece))
        assert f"port threads tapped, {count} of G1/4" in said
        assert ("holes of the pump M3 tapped" in said) == (piece == "panel right")


@pytest.mark.parametrize("name", [SERVER, SPLIT, ROOF])
@pytest.mark.parametrize("paper", ["A3", "A4"])
def test_the_table_of_channels_never_vanishes_and_has_no_place_outside(name: str, paper):
    drawing, plan = draw_demo(name, paper), plan_of(name)
    said = texts(drawing)
    assert any(text.startswith("Channels, ") for text in said)
    for number in number_channels(plan).values():
        assert said.count(number) >= 2
    assert not [text for text in said if text.startswith("(-")]


@pytest.mark.parametrize("name", [SERVER, SPLIT, ROOF])
def test_the_section_along_a_panel_runs_through_no_floor(name: str):
    plan = plan_of(name)
    (z,) = (cut.plane.at for cut in list_cuts(plan) if cut.letter == "C")
    assert abs(z - plan.panel.make.body / 2) < 2.0
    for feature in plan.detail.features:
        shape = feature.shape
        if isinstance(shape, Cylinder):
            end = shape.mouth[2] + shape.direction[2] * shape.length
            assert min(abs(shape.mouth[2] - z), abs(end - z)) > 0.1 or shape.direction[2] == 0.0
        else:
            assert min(abs(shape.z0 - z), abs(shape.z1 - z)) > 0.1


def test_roofs_of_printed_channels_are_told_and_measured():
    plan, drawing = plan_of(ROOF), draw_demo(ROOF)
    vaults = [one.shape for one in plan.detail.features if isinstance(one.shape, Vault)]
    assert vaults
    said = texts(drawing)
    assert "roof" in said
    assert any(text.startswith("pointed, rise ") for text in said)
    sheet = next(sheet for sheet in drawing.sheets if "sections" in sheet.title)
    number = next(k for k, placed in enumerate(sheet.views) if placed.view.name == "section B-B")
    lengths = [
        abs(item.end[k] - item.start[k])
        for item in sheet.items
        if isinstance(item, Linear) and item.view == number
        for k in (0 if item.axis == "u" else 1,)
    ]
    for wanted in (vaults[0].rise, vaults[0].inset, plan.panel.channel.width):
        assert min(abs(length - wanted) for length in lengths) < 1e-6
    assert "Print it on its back; the roofs of its channels are shaped for that." in " ".join(
        text.split(". ", 1)[-1].strip() for text in said
    )


@pytest.mark.parametrize("name", NAMES)
def test_the_width_of_a_channel_is_measured_outside_of_its_section(name: str):
    plan, drawing = plan_of(name), draw_demo(name)
    (cut,) = (cut for cut in list_cuts(plan) if cut.letter == "B")
    found = 0
    for sheet in drawing.sheets:
        for item in sheet.items:
            if isinstance(item, Linear) and sheet.views[item.view].view.name == "section B-B":
                placed, k = sheet.views[item.view], 1 if cut.plane.axis == "x" else 0
                if (item.axis == "v") == (k == 1) and abs(item.end[k] - item.start[k]) > cut.width - 1e-6:
                    assert item.line < placed.corner[1 - k]
                    found += 1
    assert found == 1


def names(item: Item, letter: str, circle: Arc) -> bool:
    """Return whether an item writes a letter beside a circle, with a leader to it or without."""
    if isinstance(item, Leader):
        near = abs(math.dist(item.points[0], circle.centre) - circle.radius)
        return item.text == (letter,) and near < 1e-6
    return (
        isinstance(item, Label)
        and item.text == letter
        and math.dist(item.at, circle.centre) < circle.radius + 8
    )


@pytest.mark.parametrize("name", NAMES)
def test_what_is_drawn_larger_is_circled(name: str):
    plan, drawing = plan_of(name), draw_demo(name)
    for letter, wanted in (("D", plan.sealed.loops), ("E", plan.sealed.screws)):
        circled = [
            item
            for sheet in drawing.sheets
            for item in sheet.items
            if isinstance(item, Stroke) and isinstance(item.segment, Arc) and item.style == "thin"
            if any(names(other, letter, item.segment) for other in sheet.items)
        ]
        assert len(circled) == (1 if wanted else 0)


def test_a_seat_is_numbered_with_a_leader():
    for name in NAMES:
        for sheet in draw_demo(name).sheets:
            if any(row.number == "E1" for row in sheet.holes):
                assert [item for item in sheet.items if isinstance(item, Leader) and item.text == ("E1",)]


def test_detail_of_a_screw_says_what_the_table_says():
    plan = plan_of(MAIN)
    row = next(hole for hole in list_holes(plan) if hole.part == "body" and hole.sort == "cover screw")
    said = " ".join(texts(draw_demo(MAIN), "whole"))
    assert row.callout in said


@pytest.mark.parametrize("name", NAMES)
def test_parts_list_leaves_out_only_what_is_not_of_the_panel(name: str):
    rows = [row for row in list_parts(drawn_plan(name)) if is_listed(row)]
    table = tabulate_parts(list_parts(drawn_plan(name)))
    assert len(table.rows) == len(rows)
    assert [
        row.item for row in list_parts(drawn_plan(name)) if row.item.startswith("hose") and row not in rows
    ] == []
    lists = [sheet for sheet in draw_demo(name).sheets if sheet.title == "assembly, parts list"]
    assert len(lists) == 1


@pytest.mark.parametrize("name", CORDED)
def test_grooves_run_as_far_from_what_is_wet_as_the_drawing_says(name: str):
    plan = plan_of(name)
    land, half = clearances_of(plan.panel).land, plan.sealed.loops[0].groove_width / 2
    assert f"near edge {land:g} from them" in tell_grooves(plan)
    layers: tuple[Layer, ...] = ("back", "front")
    for layer in layers:
        for loop in plan.sealed.loops_of(layer):
            line = region_polygon((loop.path,)).boundary if loop.closed else None
            if line is None:
                continue
            wet = [
                region_polygon(one.shape.region).boundary
                for one in plan.detail.features
                if one.medium == "wet" and isinstance(one.shape, Prism) and one.region == loop.region
            ]
            near = min((line.distance(shape) for shape in wet), default=land + half)
            assert near >= land + half - 0.05
    blank = plan.detail.blanks[0]
    tables = [table for face in layers for table in tabulate_grooves(plan, blank, face)]
    assert sum(len(table.rows) for table in tables) == len(plan.sealed.loops)
    grooves = [one for one in plan.detail.features if isinstance(one.shape, Track)]
    assert len(grooves) == len(plan.sealed.loops)


def test_a_thread_that_is_cut_along_begins_where_its_chamfer_is_as_wide_as_it_is():
    plan = plan_of(MAIN)
    (cut,) = (cut for cut in list_cuts(plan) if cut.letter == "A")
    drain = next(one for one in plan.detail.features if one.name.startswith("port drain G"))
    assert isinstance(drain.shape, Cylinder)
    first = drain.shape.radius + drain.shape.chamfer - major_diameter(drain.thread) / 2
    view = mark_section(plan, cut, demo_views(MAIN)[cut.name])
    lines = [line.segment for line in view.lines if line.style == "thread" and isinstance(line.segment, Line)]
    starts = [min(line.start[1], line.end[1]) for line in lines]
    assert len(starts) >= 2
    assert starts == pytest.approx([first] * len(starts), abs=1e-6)
