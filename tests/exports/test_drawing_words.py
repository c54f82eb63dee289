"""What the drawing says in words: faces and sides of views, tolerances that findings ask for, notes by part."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sample_demos import plan_demo
from sample_sheets import draw_demo, drawn_plan

from exports.drawing.annotations import item_labels
from exports.drawing.channel_table import tabulate_channels
from exports.drawing.face_captions import joint_faces, tell_face
from exports.drawing.item_balloons import tell_not_drawn
from exports.drawing.needed_views import list_cuts
from exports.drawing.notes import list_notes
from exports.drawing.values import Leader, Ordinate, Sheet
from exports.sheets.making_sheets import milling_sheet
from exports.tables.parts_list import list_parts, name_closure
from exports.wording.finish_words import show_edges, tell_flatness
from geom.features import Blank
from layouts.panels.catalogue import DEMOS
from layouts.plan import Plan
from layouts.rules.tolerance_rules import check_tolerance_screws, check_tolerance_seal

MAIN, BONDED, TWO_FACED = "workshop-render", "laser-driver", "observatory-camera"
NAMES = tuple(DEMOS)


def blank_of(plan: Plan, part: str) -> Blank:
    return next(blank for blank in plan.detail.blanks if blank.name == part)


def texts(sheet: Sheet) -> list[str]:
    return [label.text for item in sheet.items for label in item_labels(item, sheet.views)]


def notes_on(name: str, part: str) -> str:
    rows = [row for sheet in draw_demo(name).sheets if sheet.part == part for row in sheet.holes]
    plan = drawn_plan(name)
    return " ".join(list_notes(plan, blank_of(plan, part), rows))


def test_views_say_which_face_is_seen_and_that_the_back_is_mirrored():
    plan = plan_demo(MAIN)
    back = tell_face(plan, blank_of(plan, "body"), "back")
    assert back == "joint face; seen from behind: x runs from the panel's right edge"
    assert tell_face(plan, blank_of(plan, "body"), "front") == ""
    outer = tell_face(plan, blank_of(plan, "cover"), "back")
    assert outer.startswith("outer face; the joint face, its front, is not shown; seen from behind")
    both = plan_demo(TWO_FACED)
    assert joint_faces(both, blank_of(both, "body")) == ("back", "front")
    assert tell_face(both, blank_of(both, "body"), "front") == "joint face"
    front = tell_face(both, blank_of(both, "front cover"), "front")
    assert front == "outer face; the joint face, its back, is not shown"
    one_piece = plan_demo("cupboard-server")
    assert joint_faces(one_piece, one_piece.detail.blanks[0]) == ()


@pytest.mark.parametrize("name", NAMES)
def test_what_is_said_of_a_view_stands_on_its_sheet(name: str):
    plan = plan_demo(name)
    for way in (("A3", "first angle"), ("A4", "third angle")):
        for sheet in draw_demo(name, *way).sheets:
            said = " ".join(texts(sheet))
            for placed in sheet.views:
                part, _, face = placed.view.name.rpartition(" ")
                if sheet.part == part and face in ("front", "back"):
                    words = tell_face(plan, blank_of(plan, part), face)
                    assert words in said, (sheet.title, face)


@pytest.mark.parametrize("name", [MAIN, TWO_FACED, "cell-tester", BONDED])
def test_tolerances_that_findings_refer_to_stand_on_the_drawing(name: str):
    plan = plan_demo(name)
    findings = (
        *check_tolerance_screws(plan.panel, plan.sealed),
        *check_tolerance_seal(plan.panel, plan.sealed),
    )
    assert bool(findings) == (name != BONDED)
    parts = {blank.name: notes_on(name, blank.name) for blank in plan.detail.blanks}
    said = {
        part: " ".join(
            text for sheet in draw_demo(name).sheets if sheet.part == part for text in texts(sheet)
        )
        for part in parts
    }
    for finding in findings:
        assert "calls out" in finding.remedy
        zone = re.search(r"position of ([\d.]+) mm diameter", finding.remedy)
        flat = re.search(r"flat within ([\d.]+) mm", finding.remedy)
        groove = re.search(r"grooves are ([^;]+?)(;|\.$)", finding.remedy)
        for part, notes in parts.items():
            if zone:
                assert f"within Ø{zone[1]}" in notes
                assert f"position Ø{zone[1]}" in said[part]
            if flat and part == "body":
                assert float(re.search(r"and ([\d.]+) mm between neighbouring", notes)[1]) <= float(flat[1])
            if groove and part == "body":
                assert groove[1] in notes


def test_a_class_that_lets_every_screw_in_calls_out_no_position():
    plan = drawn_plan(TWO_FACED)
    close = replace(plan, sealed=replace(plan.sealed, screws=((2.0, 2.0),), front_screws=()))
    fine = replace(close, panel=replace(close.panel, make=replace(close.panel.make, tolerance="f")))
    assert check_tolerance_screws(fine.panel, fine.sealed) == ()
    assert "position" not in " ".join(list_notes(fine, blank_of(fine, "body"), ()))


def test_sheets_and_drawing_tell_one_flatness_and_one_break_of_edges():
    plan = plan_demo(MAIN)
    flat = tell_flatness(plan, ("back",))
    assert flat == "within 0.1 mm over all and 0.02 mm between neighbouring screws"
    for part in ("body", "cover"):
        assert flat in notes_on(MAIN, part)
    assert tell_flatness(plan_demo(BONDED), ("back",)) == "within 0.1 mm"
    assert plan.milled is not None
    sheet = repr(milling_sheet(plan, plan.milled, ()))
    assert flat in sheet
    for said in (sheet, notes_on(MAIN, "body"), " ".join(texts(draw_demo(MAIN).sheets[0]))):
        assert show_edges() in said


def test_notes_speak_of_what_a_part_has():
    assert "a groove or its land" in notes_on(MAIN, "body")
    for name, part in ((MAIN, "cover"), (BONDED, "body"), (BONDED, "cover")):
        assert "groove" not in notes_on(name, part)
    assert "channels" in notes_on(BONDED, "body")
    for name in (MAIN, BONDED):
        assert "channel" not in notes_on(name, "cover")
    assert "bores" not in notes_on(BONDED, "cover")
    assert "Joint face (the front, not shown)" in notes_on(MAIN, "cover")
    assert "Where they differ, body.step holds." in notes_on(MAIN, "body")


def test_notes_turn_places_of_the_back_into_those_of_plan_and_report():
    plan = plan_demo(MAIN)
    shift = float(re.search(r"In the back view x = ([\d.]+) - x of plan", notes_on(MAIN, "body"))[1])
    rows = {
        row.number: row.at
        for sheet in draw_demo(MAIN).sheets
        for row in sheet.holes
        if row.view == "body back"
    }
    for number, (x, y) in enumerate(plan.sealed.screws, 1):
        assert rows[f"S{number}"] == pytest.approx((shift - x, y))
    assert "back view" not in notes_on(TWO_FACED, "front cover")


def test_channel_table_repeats_its_numbers_and_keeps_each_place_together():
    plan = plan_demo(MAIN)
    (table,) = tabulate_channels(plan, blank_of(plan, "body"), "back")
    assert table.heading[0] == "Channels, in the back view"
    numbers = [row[0][0] for row in table.rows]
    assert all(numbers)
    assert len(numbers) > len(set(numbers))
    for row in table.rows:
        for line in row[-1]:
            assert re.fullmatch(r"(\([\d.]+, [\d.]+\) ?)+", line), line


@pytest.mark.parametrize("name", NAMES)
def test_assembly_names_what_comes_into_each_port_and_what_is_not_drawn(name: str):
    plan = plan_demo(name)
    rows = list_parts(plan)
    said = [
        item.text[0]
        for sheet in draw_demo(name).sheets
        if sheet.title.startswith("assembly")
        for item in sheet.items
        if isinstance(item, Leader) and item.text
    ]
    for thread in {port.thread for port in plan.routed.ports}:
        for closure in {name_closure(port) for port in plan.routed.ports}:
            number = next(
                (
                    str(k)
                    for k, row in enumerate(rows, 1)
                    if row.item == closure and row.size.split(",")[0] == thread
                ),
                None,
            )
            ports = [p for p in plan.routed.ports if name_closure(p) == closure and p.thread == thread]
            assert (number is None) == (not ports)
            if number is not None:
                assert said.count(number) == len(ports)
    pump = next(
        str(k) for k, row in enumerate(rows, 1) if row.item.split()[0] == "pump" and "seat" in row.size
    )
    assert said.count(pump) == 1
    headings = [text for sheet in draw_demo(name).sheets for text in texts(sheet)]
    assert [text for text in headings if text.startswith("Items ") and text.endswith(" are not drawn")]


def test_items_not_drawn_are_told_in_runs():
    rows = dict(enumerate(list_parts(plan_demo(BONDED)), 1))
    assert tell_not_drawn({k: rows[k] for k in (1, 2, 4, 5, 6, 10, 11)}, ("body", "cover")) == (
        "items 4 to 6, 10 and 11 are not drawn"
    )
    assert tell_not_drawn({k: rows[k] for k in (1, 2, 4)}, ("body", "cover")) == "item 4 is not drawn"
    assert tell_not_drawn({k: rows[k] for k in (1, 2)}, ("body", "cover")) == ""


@pytest.mark.parametrize("name", NAMES)
def test_cutting_planes_have_ordinates(name: str):
    plan = plan_demo(name)
    main = plan.detail.blanks[0]
    sheet = next(s for s in draw_demo(name).sheets if s.part == main.name)
    for cut in list_cuts(plan):
        if cut.plane.axis == "z" or cut.letter not in "AB":
            continue
        axis, k = ("u", 0) if cut.plane.axis == "x" else ("v", 1)
        told = [
            item.at[k]
            for item in sheet.items
            if isinstance(item, Ordinate) and (item.view, item.axis) == (0, axis)
        ]
        assert any(abs(at - cut.plane.at) < 6e-3 for at in told), cut.letter


def test_assembly_marks_where_its_section_is_cut():
    for name in NAMES:
        sheet = draw_demo(name).sheets[0]
        assert texts(sheet).count("A") >= 2
