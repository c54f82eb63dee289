"""Tubes on the terminal, in the report and in their picture."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_plan import sample_plan

from exports.pictures.tube_picture import draw_tubes
from exports.report.tubes import tubes_section
from exports.tables.panel_tables import describe_plan
from exports.tables.tube_tables import describe_tubes, tube_rows
from exports.wording.figures import show_degrees
from exports.wording.tube_words import tell_turn
from layouts.case import Tubing
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan
from layouts.tubes.values import TooNear, TubeRun

TUBING = Tubing(10.0, 30.0, 6.0, 12.0)


def sample_tubes(plan: Plan) -> tuple[TubeRun, ...]:
    """Return a straight tube, one of three bends in space, one that comes too near, and one that is not there."""
    port = plan.routed.ports[0]
    x, y, z = port.at
    up = z + 6.0
    reach = 60.0 + 3 * 100.0 - 6 * 30.0 + 3 * math.pi * 15.0
    straight = TubeRun("tube 1", port.name, port.part, ((x, y, up), (x, y, up + 90.0)), (), 0.0, 90.0)
    corners = (
        (x, y, up),
        (x, y, up + 60.0),
        (x + 100.0, y, up + 60.0),
        (x + 100.0, y + 100.0, up + 60.0),
        (x + 100.0, y + 100.0, up - 40.0),
    )
    bent = TubeRun("tube 2", port.name, port.part, corners, (90.0, 90.0, 90.0), 30.0, reach)
    near = replace(
        bent,
        name="tube 3",
        near=(TooNear("tube 2", 0.0, 10.0, corners[2]), TooNear("the panel", 2.0, 5.0, corners[3])),
    )
    none = TubeRun("tube 4", port.name, port.part, (), (), 0.0, 0.0, "it is too far", cure_none="move it")
    return straight, bent, near, none


@pytest.fixture(scope="module")
def plan() -> Plan:
    plan = sample_plan()
    return replace(plan, panel=replace(plan.panel, tubing=TUBING), tubes=sample_tubes(plan))


def test_a_line_for_each_tube(plan: Plan):
    port = plan.routed.ports[0]
    joins = f"{port.name} ({port.on}) to {port.part}"
    assert describe_tubes(plan) == [
        "",
        f"tube 1: {joins}, straight, cut to 90 mm",
        f"tube 2: {joins}, 3 bends 90°, 90°, 90°, cut to 321 mm",
        f"tube 3: {joins}, 3 bends 90°, 90°, 90°, cut to 321 mm; too near to tube 2; too",
        "  near to the panel",
        f"tube 4: {joins}, none: it is too far",
    ]
    assert "\n".join(describe_tubes(plan)) in describe_plan(plan)
    assert "tube" not in describe_plan(sample_plan())


def test_the_table_tells_where_each_bend_is_marked(plan: Plan):
    head, straight, bent, _, none = tube_rows(plan)
    assert len({len(row) for row in (head, straight, bent, none)}) == 1
    assert straight[-2:] == ("90 mm", "straight")
    # First leg 60 less a setback of 30; then a bend of 47.1, and 40 straight.
    assert bent[-1] == (
        "90° from 30 to 77 mm; 90° from 117 to 164 mm, pointing 90° clockwise of the one before; "
        "90° from 204 to 251 mm, pointing 90° counter-clockwise of the one before"
    )
    assert none[-2:] == ("none", "it is too far")


@pytest.mark.parametrize(
    ("turned", "said"),
    [
        (0.0, "to the same side"),
        (-0.04, "to the same side"),
        (180.0, "to the opposite side"),
        (-179.99, "to the opposite side"),
        (35.25, "pointing 35.2° clockwise of the one before"),
        (-120.0, "pointing 120° counter-clockwise of the one before"),
    ],
)
def test_turns_in_words(turned: float, said: str):
    assert tell_turn(turned) == said


def test_degrees_to_a_tenth():
    assert [show_degrees(angle) for angle in (89.9999, 44.958, 7.25)] == ["90°", "45°", "7.2°"]


def test_the_report_holds_every_tube(plan: Plan):
    section = tubes_section(plan)
    assert section is not None
    json.dumps(section, allow_nan=False)
    assert (section["outer_mm"], section["bend_radius_mm"]) == (10.0, 30.0)
    straight, bent, near, none = section["runs"]
    assert (straight["cut_mm"], straight["bends"]) == (90.0, [])
    assert [bend["start_mm"] for bend in bent["bends"]] == [30.0, 117.1, 204.2]
    assert bent["cut_mm"] == 321.4
    assert [one["what"] for one in near["near"]] == ["tube 2", "the panel"]
    assert (none["cut_mm"], none["why_none"], none["points_mm"]) == (None, "it is too far", [])
    assert tubes_section(sample_plan()) is None


def test_the_picture_shows_every_tube_and_its_marks(plan: Plan):
    picture = draw_tubes(plan)
    ElementTree.fromstring(picture)
    said = [text for text, _ in texts_of(picture)]
    for text in ("1 · 90 mm", "2 · 321 mm", "3 · 321 mm", "30", "117", "204", "from the front", "from above"):
        assert text in said, text
    assert "no tube: it is too far" in said
    # In three views and in the list.
    assert said.count("1") == 3
    assert said.count("4") == 1
    assert any("too near to tube 2" in text for text in said)


def test_no_label_over_another_on_the_sample(plan: Plan):
    apart = replace(plan, tubes=(*plan.tubes[:2], plan.tubes[3]))
    assert_no_text_over_text(draw_tubes(apart))
    assert_inside(draw_tubes(apart))


def test_marks_of_a_long_tube_stand_apart(plan: Plan):
    """Bends 87 mm apart on a tube of three metres: their marks would run into each other."""
    bent = plan.tubes[1]
    far = (*bent.points[:-1], (bent.points[-1][0], bent.points[-1][1], bent.points[-1][2] - 2900.0))
    long = replace(plan, tubes=(replace(bent, points=far, length=bent.length + 2900.0),))
    assert_no_text_over_text(draw_tubes(long))


def test_the_picture_is_to_scale(plan: Plan):
    """The bar of 50 mm against the panel's width in the front view."""
    root = ElementTree.fromstring(draw_tubes(plan))
    rects = [r for r in root.iter("{http://www.w3.org/2000/svg}rect") if r.get("fill-opacity")]
    top, front, right = rects
    bar = next(
        p.get("d") for p in root.iter("{http://www.w3.org/2000/svg}path") if "v-6v3h" in (p.get("d") or "")
    )
    scale = float(bar.split("v-6v3h")[1].split("v")[0]) / 50.0
    panel = plan.panel
    thick = panel.make.body + panel.make.cover
    sizes = ((top, panel.width, thick), (front, panel.width, panel.height), (right, thick, panel.height))
    for rect, wide, tall in sizes:
        assert float(rect.get("width")) == pytest.approx(wide * scale, abs=0.1)
        assert float(rect.get("height")) == pytest.approx(tall * scale, abs=0.1)


def test_without_tubes_there_is_no_picture():
    with pytest.raises(ValueError, match="no tubes"):
        draw_tubes(sample_plan())


@pytest.mark.parametrize("name", demo_names())
def test_pictures_of_the_demos(name: str):
    plan = plan_demo(name)
    if not plan.tubes:
        assert plan.panel.tubing is None
        return
    picture = draw_tubes(plan)
    assert_no_text_over_text(picture)
    assert_inside(picture)


def test_the_workshop_has_straight_and_bent_tubes_and_no_finding_of_them():
    plan = plan_demo("workshop-render")
    assert [len(tube.bends) for tube in plan.tubes] == [0, 0, 1, 1, 1, 1, 2, 2, 2, 2]
    assert not [finding for finding in plan.findings if finding.code.startswith("tube.")]
