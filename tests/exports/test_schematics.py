"""The schematic plans on the sheets, read back from the PDF: each number at its place, back ones mirrored."""

from __future__ import annotations

import itertools
import math
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_demos import plan_demo

from exports.drawing.callouts import list_holes
from exports.sheets.assembly_sheet import assembly_sheet
from exports.sheets.plan_figures import APART, spread_marks
from exports.sheets.values import FigureKind, Grid, Say, Schematic, WorkSheet
from exports.sheets.whole import write_pages
from exports.wording.cord_names import cord_tag
from exports.wording.figures import show_mm
from exports.wording.hole_numbers import port_numbers, screw_numbers
from layouts.closing.seams import place_seam
from layouts.leak_test import plan_leak_test
from layouts.panels.catalogue import demo_names
from layouts.plan import Layer, Plan
from layouts.strength.fastening import fasten_plan
from layouts.strength.tightening_order import order_screws

Point = tuple[float, float]

pytestmark = pytest.mark.needs("pdftotext")

A4_HIGH = 842.0


def read_marks(folder: Path, plan: Plan, kind: FigureKind, layer: Layer) -> dict[str, list[Point]]:
    """Return the middles of the words of a sheet that holds nothing but one figure, [pt], y upwards."""
    path = folder / "figure.pdf"
    write_pages(path, plan, (WorkSheet("x", (Schematic(kind, layer, "x"),)),))
    done = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True)
    found: dict[str, list[Point]] = {}
    pattern = r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]*)</word>'
    for x0, y0, x1, y1, word in re.findall(pattern, done.stdout):
        at = ((float(x0) + float(x1)) / 2, A4_HIGH - (float(y0) + float(y1)) / 2)
        # The edges of the page have numbers too.
        if 60.0 < at[1] < 785.0:
            found.setdefault(word, []).append(at)
    return found


def assert_alike(printed: list[Point], places: list[Point], mirrored: bool) -> None:
    """Assert that points lie to each other as places of the panel do, up to scale and shift, and mirrored or not."""
    sign = -1.0 if mirrored else 1.0
    expected = [(sign * x, y) for x, y in places]
    far = max(range(len(places)), key=lambda k: math.dist(places[0], places[k]))
    scale = math.dist(printed[0], printed[far]) / math.dist(places[0], places[far])
    for (px, py), (ex, ey) in zip(printed, expected, strict=True):
        x = printed[0][0] + scale * (ex - expected[0][0])
        y = printed[0][1] + scale * (ey - expected[0][1])
        assert math.dist((px, py), (x, y)) < 2.5


def only(marks: dict[str, list[Point]], word: str) -> Point:
    (at,) = marks[word]
    return at


@pytest.mark.parametrize(
    ("name", "layer"),
    [("workshop-render", "back"), ("observatory-camera", "back"), ("observatory-camera", "front")],
)
def test_numbers_of_the_tightening_stand_at_their_screws(name, layer, tmp_path):
    plan = plan_demo(name)
    marks = read_marks(tmp_path, plan, "tightening", layer)
    screws = plan.sealed.screws_of(layer)
    places = [screws[k] for k in order_screws(screws)]
    counted = [word for word in marks if word.isdigit()]
    assert sorted(map(int, counted)) == list(range(1, len(screws) + 1))
    printed = [only(marks, str(number)) for number in range(1, len(screws) + 1)]
    assert_alike(printed, places, mirrored=layer == "back")
    # The drawing's own number stands at the same screw.
    own = [only(marks, number) for number in screw_numbers(plan, layer)]
    for k, screw in enumerate(order_screws(screws)):
        assert math.dist(printed[k], own[screw]) < 15.0


@pytest.mark.parametrize("layer", ["back", "front"])
def test_tags_of_cords_stand_on_their_cords(layer, tmp_path):
    plan = plan_demo("observatory-camera")
    marks = read_marks(tmp_path, plan, "cords", layer)
    for loop in plan.sealed.loops_of(layer):
        assert cord_tag(loop) in marks


def test_clamps_stand_where_they_press(tmp_path):
    plan = plan_demo("laser-driver")
    lands = plan.sealed.lands_of("back")
    marks = read_marks(tmp_path, plan, "clamps", "back")
    places = [*lands.clamps, *lands.weights]
    printed = [only(marks, str(number)) for number in range(1, len(places) + 1)]
    assert_alike(printed, places, mirrored=True)


def test_letters_of_ports_stand_at_their_ports_seen_from_the_front(tmp_path):
    plan = plan_demo("workshop-render")
    marks = read_marks(tmp_path, plan, "ports", "front")
    ports = plan.routed.ports
    fronts = [k for k, port in enumerate(ports) if port.on == "front"]
    numbers = port_numbers(plan)
    holes = {hole.feature: hole.number for hole in list_holes(plan)}
    assert list(numbers) == [holes[f"port {port.name} {port.thread}"] for port in ports]
    assert len(fronts) > 3
    printed = [only(marks, numbers[k]) for k in fronts]
    assert_alike(printed, [ports[k].at[:2] for k in fronts], mirrored=False)


@pytest.mark.parametrize("name", demo_names())
def test_no_mark_of_a_port_hides_another(name, tmp_path):
    plan = plan_demo(name)
    marks = read_marks(tmp_path, plan, "ports", "front")
    places = [only(marks, number) for number in port_numbers(plan)]
    for a, b in itertools.combinations(places, 2):
        assert math.dist(a, b) > APART - 1.0


def test_ports_that_stand_close_get_marks_beside_each_other(tmp_path):
    plan = plan_demo("workshop-render")
    first, second, *others = plan.routed.ports
    x, y, z = first.at
    close = replace(second, at=(x + 2.0, y, z))
    near = replace(plan, routed=replace(plan.routed, ports=(first, close, *others)))
    marks = read_marks(tmp_path, near, "ports", "front")
    assert math.dist(only(marks, "P1"), only(marks, "P2")) > APART - 1.0


@given(st.lists(st.tuples(st.floats(0.0, 60.0), st.floats(0.0, 60.0)), max_size=8))
def test_marks_are_moved_apart_and_no_others(anchors):
    placed = spread_marks(anchors, 5.0)
    near = [math.dist(a, b) for a, b in itertools.combinations(anchors, 2)]
    assert all(math.dist(a, b) > 4.99 for a, b in itertools.combinations(placed, 2))
    if all(gap >= 5.0 for gap in near):
        assert placed == anchors


def test_places_of_seams_and_clamps_are_those_of_the_figure():
    for name in ("workshop-render", "laser-driver"):
        plan = plan_demo(name)
        wide = plan.panel.width
        sheet = assembly_sheet(plan, plan_leak_test(plan), ())
        told = [cell for b in sheet.blocks if isinstance(b, Grid) for row in b.rows for cell in row]
        seams = [place_seam(loop) for loop in plan.sealed.loops_of("back")]
        for x, y in (at for at in seams if at is not None):
            assert f"{round(wide - x)}, {round(y)} mm" in told
        for lands in plan.sealed.lands:
            for x, y in (*lands.clamps, *lands.weights):
                assert f"{show_mm(wide - x)}, {show_mm(y)} mm" in told
        said = " ".join(b.text for b in sheet.blocks if isinstance(b, Say))
        assert "views from the back" in said
        assert "seen from the front" not in said


@pytest.mark.parametrize("name", ["workshop-render", "cell-tester", "observatory-camera", "synthesizer-rack"])
def test_rounds_are_told_with_their_shares_of_the_torque(name):
    plan = plan_demo(name)
    sheet = assembly_sheet(plan, plan_leak_test(plan), ())
    grids = [b for b in sheet.blocks if isinstance(b, Grid) and b.head[:3] == ("round", "share", "torque")]
    fastened = fasten_plan(plan)
    assert len(grids) == len(fastened)
    for grid, one in zip(grids, fastened, strict=True):
        assert [row[:2] for row in grid.rows] == [("1", "30 %"), ("2", "70 %"), ("3", "100 %")]
        for row in grid.rows:
            share = float(row[1].removesuffix(" %")) / 100.0
            told = [float(number) for number in re.findall(r"[\d.]+", row[2])]
            assert told == pytest.approx([share * torque for torque in one.torque_nm], rel=0.06)
            assert row[2].endswith(" N m")
