"""The drawing's sheets: nothing overlaps, every hole is in a table once with its number beside it, all to scale."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from printed import assert_as_printed
from sample_sheets import SPLIT, demo_views, draw_demo, drawn_plan, plan_of

from exports.drawing.annotations import (
    item_labels,
    linear_text,
    on_paper,
    ordinate_label,
    ordinate_value,
    sheet_labels,
)
from exports.drawing.callouts import list_holes
from exports.drawing.draft import LEFT_OUT
from exports.drawing.draw_sheets import lay_sheets
from exports.drawing.needed_views import part_faces, take_views
from exports.drawing.overlaps import count_overlaps
from exports.drawing.paper import SIZES, frame_box
from exports.drawing.projection import turn_point
from exports.drawing.scales import SCALES
from exports.drawing.title_block import WIDTH
from exports.drawing.values import HoleRow, Label, Leader, Linear, Ordinate, PlacedView, Sheet, Stroke
from exports.pipeline import plan_panel
from exports.tables.parts_list import COVER_SCREW, COVER_WASHER, list_parts, name_cord
from exports.wording.figures import HASH_DIGITS
from geom.build import build_solids
from geom.frame import EDGES
from geom.outline import Arc
from layouts.drawing_choice import PaperName, Projection
from layouts.milling.frame import plane_of
from layouts.panels.catalogue import DEMOS, demo_path

NAMES = (*DEMOS, SPLIT)
WAYS: tuple[tuple[PaperName, Projection], ...] = (
    ("A3", "first angle"),
    ("A3", "third angle"),
    ("A4", "first angle"),
    ("A4", "third angle"),
)
MAIN = "workshop-render"


def texts(sheet: Sheet) -> list[str]:
    return [label.text for label in sheet_labels(sheet)]


def as_it_stands(placed: PlacedView, at: tuple[float, float]) -> tuple[float, float]:
    """Return where a place of the set-up's frame stands in a view that may be turned, [mm] in its plane."""
    w, h = placed.view.size
    return turn_point(at, (h, w) if placed.turns % 2 else (w, h), placed.turns)


def rows(name: str, paper: PaperName = "A3") -> Iterator[tuple[Sheet, HoleRow]]:
    for sheet in draw_demo(name, paper).sheets:
        for row in sheet.holes:
            yield sheet, row


@pytest.mark.parametrize("name", NAMES)
def test_no_label_overlaps_anything(name: str):
    for paper, projection in WAYS:
        for sheet in draw_demo(name, paper, projection).sheets:
            assert count_overlaps(sheet) == (), f"{name} {paper} {projection} sheet {sheet.number}"


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_left_unnamed(name: str):
    for paper, projection in WAYS:
        said = [text for sheet in draw_demo(name, paper, projection).sheets for text in texts(sheet)]
        assert not [text for text in said if LEFT_OUT in text]


@pytest.mark.parametrize("name", NAMES)
def test_every_round_cut_of_the_solid_is_in_the_table_once(name: str):
    """The views come from the solids: what is a whole circle there is a hole, or a post left standing."""
    views, plan = demo_views(name), plan_of(name)
    for blank in plan.detail.blanks:
        for face in ("front", "back"):
            view = views.get(f"{blank.name} {face}")
            told = [row for _, row in rows(name) if row.view == f"{blank.name} {face}"]
            if view is None:
                assert told == []
                continue
            arcs = [line.segment for line in view.lines if isinstance(line.segment, Arc)]
            centres = {
                tuple(round(x, 3) for x in arc.centre) for arc in arcs if abs(arc.sweep) > 2 * math.pi - 1e-6
            }
            # What is bored from the other side is seen where it opens into a pocket; posts are left standing.
            plane, other = plane_of(blank, face), plane_of(blank, "front" if face == "back" else "back")
            behind = [
                other.to_panel((*row.at, 0.0))
                for _, row in rows(name)
                if row.view == f"{blank.name} {other.face}"
            ]
            others = {
                tuple(round(x, 3) for x in plane.to_plane(point)[:2])
                for point in (*behind, *((*post, 0.0) for post in plan.routed.tank.posts))
            }
            places = [tuple(round(x, 3) for x in row.at) for row in told]
            # A seat and the bore in its middle share a place; one row each.
            assert len({(row.at, row.callout) for row in told}) == len(told)
            assert centres - others <= set(places)
            partly = {tuple(round(x, 3) for x in arc.centre) for arc in arcs}
            assert set(places) <= partly


@pytest.mark.parametrize("name", NAMES)
def test_every_bore_of_the_plan_has_one_row_in_each_part(name: str):
    plan = plan_of(name)
    counted = Counter((row.view, row.number) for _, row in rows(name))
    assert set(counted.values()) == {1}
    holes = list_holes(plan)
    assert {(f"{hole.part} {hole.face}", hole.number) for hole in holes} == set(counted)
    ports = {hole.what for hole in holes if hole.sort == "port" and hole.number.startswith("P")}
    assert ports == {port.name for port in plan.routed.ports}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", ["A3", "A4"])
def test_every_number_stands_at_its_hole(name: str, paper: PaperName):
    for sheet, row in rows(name, paper):
        index = next(k for k, placed in enumerate(sheet.views) if placed.view.name == row.view)
        placed = sheet.views[index]
        at = as_it_stands(placed, row.at)
        middle = on_paper(placed, at)
        near = math.inf
        for item in sheet.items:
            for label in item_labels(item, sheet.views):
                if label.text == row.number and isinstance(item, Leader):
                    near = min(near, math.dist(item.points[0], middle))
                elif label.text == row.number and isinstance(item, Label):
                    near = min(near, math.dist(label.at, middle))
        arcs = [line.segment for line in placed.view.lines if isinstance(line.segment, Arc)]
        largest = max((arc.radius for arc in arcs if math.dist(arc.centre, at) < 1e-3), default=0.0)
        assert near <= largest * placed.scale + 8.0, (sheet.title, row)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("projection", ["first angle", "third angle"])
def test_places_in_the_table_are_the_ports_places_turned_into_the_view(name: str, projection: Projection):
    plan, drawing = plan_of(name), draw_demo(name, "A3", projection)
    found = set()
    for sheet in drawing.sheets:
        for row in sheet.holes:
            port = next((port for port in plan.routed.ports if port.name == row.what), None)
            part, _, face = row.view.rpartition(" ")
            if port is None or face != port.on:
                continue
            x, y, z = port.at
            blank = next(blank for blank in plan.detail.blanks if blank.name == part)
            # Of a split panel each piece has its own corner.
            xs, ys = zip(*(piece.start for piece in blank.loop), strict=True)
            left, right, low, high, up = x - min(xs), max(xs) - x, y - min(ys), max(ys) - y, z - blank.z0
            expected = {
                "front": (left, low),
                "back": (right, low),
                "top": (right, up),
                "bottom": (left, up),
                "left": (high, up),
                "right": (low, up),
            }[face]
            assert row.at == pytest.approx(expected, abs=1e-6)
            found.add(port.name)
    assert found == {port.name for port in plan.routed.ports}


@pytest.mark.parametrize("name", NAMES)
def test_places_are_those_of_the_set_ups_on_every_paper_and_in_both_projections(name: str):
    """One hole has one place: in all tables, however an edge's view is turned, and in the programme of its set-up."""
    plan = plan_of(name)
    told = [
        {(row.view, row.number): row.at for sheet in draw_demo(name, *way).sheets for row in sheet.holes}
        for way in WAYS
    ]
    assert told[0]
    assert all(places == told[0] for places in told)
    numbers = {(hole.part, hole.face, hole.feature): hole.number for hole in list_holes(plan)}
    setups = () if plan.milled is None else plan.milled.setups
    cut = [hole for setup in setups for hole in setup.holes]
    assert bool(cut) == (plan.panel.make.method == "milled")
    for hole in cut:
        number = numbers.get((hole.part, hole.face, hole.name))
        # A spot face stands with the bore under it.
        if number is not None:
            assert told[0][f"{hole.part} {hole.face}", number] == pytest.approx(hole.at, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_edges_show_their_datum_and_which_side_is_the_front(name: str):
    for way in WAYS:
        for sheet in draw_demo(name, *way).sheets:
            for placed in sheet.views:
                part, _, face = placed.view.name.rpartition(" ")
                blank = next((blank for blank in plan_of(name).detail.blanks if blank.name == part), None)
                if blank is None or face not in EDGES:
                    continue
                datum = on_paper(placed, placed.datum)
                circles = [
                    item.segment
                    for item in sheet.items
                    if isinstance(item, Stroke) and isinstance(item.segment, Arc)
                ]
                assert any(math.dist(arc.centre, datum) < 1e-9 for arc in circles)
                plane = plane_of(blank, face)
                u = plane.size[0]
                for side, v in (("back", 0.0), ("front", plane.size[1])):
                    edge = [on_paper(placed, as_it_stands(placed, (at, v))) for at in (0.0, u)]
                    other = [
                        on_paper(placed, as_it_stands(placed, (at, plane.size[1] - v))) for at in (0.0, u)
                    ]
                    spots = [
                        label.at for label in sheet_labels(sheet) if label.text == side and not label.bold
                    ]
                    # Its letters stand at an end of its own side, nearer to it than to the other.
                    assert any(
                        min(math.dist(spot, end) for end in edge) < 6.0
                        and min(math.dist(spot, end) for end in edge)
                        < min(math.dist(spot, end) for end in other)
                        for spot in spots
                    ), (sheet.title, placed.view.name, side)


@pytest.mark.parametrize("name", NAMES)
def test_ordinates_measure_every_hole_that_is_not_one_of_many(name: str):
    for sheet in draw_demo(name).sheets:
        for number, placed in enumerate(sheet.views):
            told = [item for item in sheet.items if isinstance(item, Ordinate) and item.view == number]
            holes = [row for row in sheet.holes if row.view == placed.view.name]
            if not told:
                continue
            w, h = placed.view.size
            for axis, k, size in (("u", 0, w), ("v", 1, h)):
                values = [ordinate_value(one, placed) for one in told if one.axis == axis]
                # In a view on its side that along the edge stands upright.
                k = (k + placed.turns) % 2
                assert len(values) == len({round(value, 2) for value in values})
                wanted = {0.0, size} | {row.at[k] for row in holes if row.number[0] not in "ST"}
                for value in wanted:
                    assert min(abs(value - one) for one in values) < 6e-3
            for one in told:
                said = ordinate_label(one, placed).text
                k = 0 if one.axis == "u" else 1
                assert float(said) == pytest.approx(abs(one.at[k] - placed.datum[k]), abs=5e-3)


def test_sections_measure_what_the_plan_cuts():
    plan = plan_of(MAIN)
    sheet = next(sheet for sheet in draw_demo(MAIN).sheets if "sections" in sheet.title)
    said = {placed.view.name: set[str]() for placed in sheet.views}
    for item in sheet.items:
        if isinstance(item, Linear):
            said[sheet.views[item.view].view.name].add(linear_text(item))
    make = plan.panel.make
    assert said["section A-A"] >= {f"{make.body:g}", f"{make.cover:g}", f"{make.body + make.cover:g}"}
    assert f"{plan.panel.tank.depth:g}" in said["section A-A"]
    assert f"{plan.panel.pump.seat_depth:g}" in said["section A-A"]
    assert said["section B-B"] == {f"{plan.panel.channel.width:g}", f"{plan.panel.channel.depth:g}"}


@pytest.mark.published(source="face seal housing table, https://orings.co.uk/o-ring-housing, cord of 2.0 mm")
def test_groove_detail_shows_the_housing_of_the_table():
    sheet = next(sheet for sheet in draw_demo(MAIN).sheets if "sections" in sheet.title)
    index = next(k for k, placed in enumerate(sheet.views) if placed.view.name == "detail D")
    said = {linear_text(item) for item in sheet.items if isinstance(item, Linear) and item.view == index}
    assert {"2.8 +0.2/0", "1.5 +0.1/0"} <= said
    assert sheet.views[index].scale in (5.0, 10.0)
    assert any(text.startswith("R0.3") for text in texts(sheet))


@pytest.mark.published(
    source="ISO 5457:1999, table 1: A3 297 x 420 mm, A4 210 x 297 mm; borders 20 and 10 mm"
)
def test_papers_and_frames_are_those_of_the_standard():
    for paper, (width, height) in (("A3", ("420", "297")), ("A4", ("297", "210"))):
        assert_as_printed(SIZES[paper][0], width)
        assert_as_printed(SIZES[paper][1], height)
        frame = frame_box(paper)
        assert (frame.x0, frame.y0) == (20.0, 10.0)
        assert (SIZES[paper][0] - frame.x1, SIZES[paper][1] - frame.y1) == (10.0, 10.0)
        for sheet in draw_demo(MAIN, paper).sheets:
            assert sheet.size == SIZES[paper]


@pytest.mark.published(
    source="ISO 5457:1999, 4.4 and table 2: fields of 50 mm, A3 8 by 6, A4 6 by 4; recalled"
)
@pytest.mark.parametrize(("paper", "across", "up"), [("A3", "8", "F"), ("A4", "6", "D")])
def test_zones_are_as_many_as_the_standard_has(paper: PaperName, across: str, up: str):
    sheet = draw_demo(MAIN, paper).sheets[0]
    frame = frame_box(paper)
    outside = [
        label
        for label in sheet_labels(sheet)
        if not (frame.x0 < label.at[0] < frame.x1 and frame.y0 < label.at[1] < frame.y1)
    ]
    assert max(label.text for label in outside if label.text.isdigit()) == across
    assert max(label.text for label in outside if label.text.isalpha()) == up


@pytest.mark.published(source="ISO 5455:1979, table 1: 10:1 5:1 2:1, 1:1, 1:2 1:5 1:10 1:20 1:50")
def test_scales_are_those_of_the_standard():
    printed = ("10", "5", "2", "1", "0.5", "0.2", "0.1", "0.05", "0.02")
    for scale, text in zip(SCALES, printed, strict=True):
        assert_as_printed(scale, text)
    for name in NAMES:
        for paper, projection in WAYS:
            for sheet in draw_demo(name, paper, projection).sheets:
                assert {placed.scale for placed in sheet.views} <= set(SCALES)


@pytest.mark.published(
    source="ISO 7200:2004, 5 and 6: at most 180 mm wide; fields of identification and persons; recalled"
)
def test_title_block_has_the_fields_of_the_standard_and_no_name_and_no_date():
    assert_as_printed(WIDTH, "180")
    for name in NAMES:
        plan, drawing = plan_of(name), draw_demo(name)
        count = len(drawing.sheets)
        for number, sheet in enumerate(drawing.sheets, 1):
            said = texts(sheet)
            for caption in (
                "Owner",
                "Title",
                "Document",
                "Sheet",
                "Scale",
                "Material",
                "Projection",
                "Language",
            ):
                assert caption in said
            for blank in ("Drawn, date", "Checked, date", "Approved, date"):
                assert blank in said
            assert f"{number} of {count}" in said
            assert plan.panel.sha256[:HASH_DIGITS] in said
            assert plan.panel.name in said
            assert sheet.title in said
            assert f"ISO 2768-{plan.panel.make.tolerance}" in said
            assert "Engineering estimate, not a certificate" in said
            assert "first angle" in said
            assert not [text for text in said if "20" in text and text.count("-") == 2]


def test_joint_face_is_told_flat_and_smooth_as_the_file_asks():
    plan = drawn_plan("laser-driver")
    choice = replace(plan.panel.drawing, flatness=0.05, roughness=0.8)
    asked = replace(plan, panel=replace(plan.panel, drawing=choice))
    sheets = lay_sheets(asked, demo_views("laser-driver")).sheets
    said = texts(next(sheet for sheet in sheets if sheet.title.startswith("body, front")))
    assert {"0.05", "Ra 0.8 µm"} <= set(said)
    assert "Joint face, flat" not in texts(
        next(sheet for sheet in draw_demo("cupboard-server").sheets if sheet.title.startswith("panel, front"))
    )


def test_edges_stand_on_the_other_side_in_the_other_angle():
    """The left edge stands on the right in first angle, on the left in third; that from above below, and above."""
    where = {}
    for projection in ("first angle", "third angle"):
        sheet = next(s for s in draw_demo(MAIN, "A3", projection).sheets if s.title.startswith("body, front"))
        at = {placed.view.name.removeprefix("body "): placed.corner for placed in sheet.views}
        assert set(at) == {"front", "top", "bottom", "left"}
        assert at["top"][0] == at["bottom"][0] == at["front"][0]
        assert at["left"][1] == at["front"][1]
        where[projection] = (at["left"][0] > at["front"][0], at["top"][1] < at["front"][1])
        assert (at["bottom"][1] > at["front"][1]) == (at["top"][1] < at["front"][1])
    assert where == {"first angle": (True, True), "third angle": (False, False)}


@pytest.mark.parametrize("name", NAMES)
def test_each_part_shows_front_back_and_edges_where_something_opens(name: str):
    plan, views = plan_of(name), demo_views(name)
    holes = list_holes(plan)
    for blank in plan.detail.blanks:
        shown = [
            placed.view.name
            for sheet in draw_demo(name).sheets
            if sheet.part == blank.name
            for placed in sheet.views
        ]
        assert Counter(shown) == {f"{blank.name} {face}": 1 for face in part_faces(plan.detail, blank, holes)}
        assert set(shown) <= set(views)


def test_turned_views_keep_their_points():
    w, h = 30.0, 4.0
    assert turn_point((10.0, 1.0), (w, h), 1) == (3.0, 10.0)
    assert turn_point((10.0, 1.0), (w, h), 2) == (20.0, 3.0)
    assert turn_point((10.0, 1.0), (w, h), 3) == (1.0, 20.0)
    turned = turn_point(turn_point((10.0, 1.0), (w, h), 1), (h, w), 3)
    assert turned == (10.0, 1.0)


def test_printed_parts_say_what_is_left_to_do():
    said = " ".join(text for sheet in draw_demo("synthesizer-rack").sheets for text in texts(sheet))
    assert "After printing: 20 holes of cover screws drilled to" in said
    assert "joint face and grooves made flat" in said
    assert "After printing" not in " ".join(text for sheet in draw_demo(MAIN).sheets for text in texts(sheet))


def test_pieces_of_a_split_panel_have_their_own_holes_and_wells(tmp_path: Path):
    text = demo_path("cupboard-server").read_text("utf-8")
    old = 'room = ["220 mm", "220 mm", "220 mm"]'
    assert old in text
    file = tmp_path / "split.toml"
    file.write_text(text.replace(old, 'room = ["150 mm", "170 mm", "180 mm"]'), "utf-8")
    plan = plan_panel(file)
    assert [blank.name for blank in plan.detail.blanks] == ["panel left", "panel right"]
    drawing = lay_sheets(plan, take_views(plan, build_solids(plan.detail)))
    assert [count_overlaps(sheet) for sheet in drawing.sheets] == [()] * len(drawing.sheets)
    numbers: dict[str, list[str]] = {"panel left": [], "panel right": []}
    for sheet in drawing.sheets:
        for row in sheet.holes:
            numbers[row.view.rpartition(" ")[0]].append(row.number)
            placed = next(placed for placed in sheet.views if placed.view.name == row.view)
            u, v = as_it_stands(placed, row.at)
            assert 0.0 <= u <= placed.view.size[0]
            assert 0.0 <= v <= placed.view.size[1]
    left, right = numbers["panel left"], numbers["panel right"]
    assert {number for number in left if number[0] == "P"} == {f"P{k}" for k in range(1, 8)}
    assert not [number for number in right if number[0] in "PBF"]
    assert {"J1", "J2"} <= set(left) & set(right)
    said = {sheet.part: set(texts(sheet)) for sheet in drawing.sheets if "front" in sheet.title}
    assert [text for text in said["panel right"] if text.startswith("well ↧")]
    # The right piece is small enough for front, edge and back on one sheet: the back stands at the far right.
    whole = next(sheet for sheet in drawing.sheets if sheet.title == "panel right, front, back, edges")
    at = {placed.view.name: placed.corner[0] for placed in whole.views}
    assert at["panel right front"] < at["panel right left"] < at["panel right back"]


def test_cords_screws_and_washers_bear_their_numbers_of_the_parts_list():
    plan = plan_of(MAIN)
    numbers = {row.item: str(k) for k, row in reversed([*enumerate(list_parts(plan), 1)])}
    said = set(texts(next(sheet for sheet in draw_demo(MAIN).sheets if sheet.title == "assembly")))
    assert f"{numbers[COVER_SCREW]}, {numbers[COVER_WASHER]}" in said
    assert {numbers[name_cord(loop)] for loop in plan.sealed.loops} <= said


def test_acrylic_is_kept_from_alcohol():
    said = " ".join(text for sheet in draw_demo(MAIN).sheets for text in texts(sheet))
    assert "alcohol" in said
    aluminium = " ".join(text for sheet in draw_demo("cell-tester").sheets for text in texts(sheet))
    assert "alcohol" not in aluminium


def test_same_plan_same_sheets():
    again = lay_sheets(drawn_plan("laser-driver"), demo_views("laser-driver"))
    assert again == draw_demo("laser-driver")
