"""The picture of the set-ups, the cutter list on the terminal, and both in the report."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_jobs import BACK, CUTTINGS, SETUPS
from sample_plan import sample_plan

from exports.pictures.setup_picture import DRAWING_HEIGHT, DRAWING_WIDTH, draw_setups
from exports.pictures.setup_symbols import DepthScale
from exports.report.milling import milling_section
from exports.tables.milling_tables import describe_cutters, describe_setups
from exports.wording.milling_words import show_minutes, show_speed, tell_axes, tell_total
from geom.frame import Face
from layouts.milling.cut_times import TIME_BAND
from layouts.milling.cutter_list import list_jobs
from layouts.milling.frame import SetUpPlane
from layouts.milling.work import Milled, Stock
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan


@pytest.fixture(scope="module")
def milled() -> Milled:
    panel = sample_plan().panel
    panel = replace(panel, make=replace(panel.make, method="milled", material="PMMA cast", cover_material=""))
    listed = list_jobs(panel, SETUPS, CUTTINGS)
    return Milled(
        SETUPS,
        CUTTINGS,
        (),
        listed.jobs,
        listed.removed_mm3,
        listed.minutes,
        listed.assumptions,
        listed.outline_mm3,
    )


@pytest.fixture(scope="module")
def plan(milled: Milled) -> Plan:
    return replace(sample_plan(), milled=milled)


def test_every_set_up_and_job_is_told(plan: Plan, milled: Milled):
    picture = draw_setups(plan)
    ElementTree.fromstring(picture)
    said = [text for text, _ in texts_of(picture)]
    assert "1 of 2: body, back face up, stands 20 mm high, cuts the outline" in said
    assert "2 of 2: body, front face up, stands 20 mm high" in said
    for number in range(1, len(milled.jobs) + 1):
        assert str(number) in said
    for wanted in ("end mill 6 mm", "channel, tank", "groove", "tap G1/4", "the part free", "9 mm deep"):
        assert wanted in said
    assert any("±40 %" in text for text in said)
    assert picture == draw_setups(plan)


def test_a_face_says_how_it_is_seen_and_how_the_part_is_held(plan: Plan, milled: Milled):
    said = [text for text, _ in texts_of(draw_setups(plan))]
    assert "u = 100 - x, v = y: mirrored, the left edge on the right" in said
    assert any("tabs" in text and "tape" in text and "last" in text for text in said)
    assert not {"front", "back"} & set(said)
    own = replace(milled, stocks=(Stock("body", 100.0, 60.0, 20.0),))
    said = [text for text, _ in texts_of(draw_setups(replace(plan, milled=own)))]
    assert any(text.startswith("the sheet is no larger than the part: clamped from above") for text in said)
    top = replace(BACK, face="top", size=(100.0, 20.0), height=60.0, outline=None, pockets=(), holes=())
    edged = replace(plan, milled=replace(milled, setups=(*SETUPS, top)))
    picture = draw_setups(edged)
    said = [text for text, _ in texts_of(picture)]
    assert {"front", "back"} <= set(said)
    assert any(text.startswith("u = 100 - x, mirrored; v from the back face up") for text in said)
    assert_no_text_over_text(picture)


@pytest.mark.parametrize("face", ["front", "back", "top", "bottom", "left", "right"])
def test_axes_are_told_as_the_plane_of_the_set_up_has_them(face: Face):
    """What is said of u is held to where the frame puts a place of the panel."""
    plane = SetUpPlane(face, (0.0, 0.0, 0.0), (100.0, 60.0, 20.0))
    u, v, _ = plane.to_plane((30.0, 10.0, 5.0))
    told = tell_axes(replace(BACK, face=face, size=plane.size))
    (formula,) = re.findall(r"u = ([\d xy-]+)", told)
    assert eval(formula, {"x": 30.0, "y": 10.0}) == pytest.approx(u)
    assert ("mirrored" in told) == ("-" in formula)
    assert v == pytest.approx(10.0 if face in ("front", "back") else 5.0)


def test_holes_have_their_places_to_mark_them_out_by(plan: Plan):
    said = [text for text, _ in texts_of(draw_setups(plan))]
    assert "11.8: (75, 35)" in said
    assert "3.3: (5, 5)" in said


def test_tags_key_features_to_the_list(plan: Plan):
    """The tank by the end mill of line 1, the groove by that of 2, the screw hole by drill 3 and tap 4."""
    said = [text for text, _ in texts_of(draw_setups(plan))]
    assert {"1", "2", "3 4", "6 7 8"} <= set(said)


def test_faces_are_to_scale_and_pockets_shaded_by_depth(plan: Plan):
    picture = draw_setups(plan)
    scale = min(DRAWING_WIDTH / 100.0, DRAWING_HEIGHT / 60.0)
    groove = DepthScale(15.5).fill(2.2)
    (d,) = re.findall(rf'<path d="([^"]+)" fill="{groove}" [^>]*fill-rule="evenodd"', picture)
    ends = [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)(?=[MLAZ])", d)]
    for k, size in ((0, 84.0), (1, 36.0)):
        assert (max(p[k] for p in ends) - min(p[k] for p in ends)) / scale == pytest.approx(size, abs=0.01)
    depths = DepthScale(15.5)
    shades = [
        sum(int(depths.fill(depth)[k : k + 2], 16) for k in (1, 3, 5)) for depth in (0.5, 2.2, 9.0, 15.5)
    ]
    assert shades == sorted(shades, reverse=True)
    assert len(set(shades)) == 4


@pytest.mark.parametrize("name", demo_names())
def test_pictures_of_the_examples_have_no_text_over_text(name: str):
    planned = plan_demo(name)
    if planned.milled is None:
        with pytest.raises(ValueError, match="printed"):
            draw_setups(planned)
        return
    picture = draw_setups(planned)
    assert_inside(picture)
    assert_no_text_over_text(picture)


def test_terminal_tells_set_ups_then_jobs_then_where_more_is_told(plan: Plan, milled: Milled):
    lines = describe_setups(plan)
    assert lines[2:] == [
        "  1  body, back face up, stands 20 mm high, cuts the outline",
        "  2  body, front face up, stands 20 mm high",
    ]
    assert re.fullmatch(r"milling: 2 set-ups, about \d+ min \(±40 %\), 11 cm3 cut out", lines[1])
    told = describe_cutters(milled)
    assert told.index("body, back up") < told.index("end mill 6 mm") < told.index("body, front up")
    # What the times stand on is long, and stands in the picture and the report.
    assert "it is reckoned from volumes" not in told
    assert told.splitlines()[-1].endswith("setups.svg, report.json")
    assert max(len(line) for line in told.splitlines()) <= 100
    assert describe_setups(replace(plan, milled=None)) == []


def test_minutes_have_no_more_digits_than_the_band_allows():
    assert [show_minutes(m) for m in (0.01, 0.213, 1.237, 12.37)] == ["< 0.1", "0.21", "1.2", "12"]
    assert [show_speed(v) for v in (24_000.0, 553.0, 27.0, 6.2)] == ["24000", "550", "27", "6"]


def test_long_work_is_told_in_hours(milled: Milled):
    assert tell_total(replace(milled, minutes=192.0)) == "about 3.2 h (±40 %)"
    assert tell_total(replace(milled, minutes=47.0)) == "about 50 min (±40 %)"


def test_report_holds_all_of_it(plan: Plan, milled: Milled):
    section = milling_section(plan)
    assert section is not None
    assert json.loads(json.dumps(section, allow_nan=False)) == section
    assert section.keys() == {
        "setups",
        "cutters",
        "jobs",
        "rests",
        "minutes",
        "minutes_band",
        "removed_mm3",
        "outline_mm3",
        "assumptions",
    }
    assert [setup["dxf"] for setup in section["setups"]] == ["body-back.dxf", "body-front.dxf"]
    assert [job["setup"] for job in section["jobs"]] == [1, 1, 1, 1, 1, 2, 2, 2]
    assert section["setups"][1]["holes_uv_mm"] == [[75.0, 35.0]]
    assert section["setups"][0]["axes"].startswith("u = 100 - x")
    assert "tabs" in section["setups"][0]["held"]
    inside = math.fsum(job["removed_mm3"] for job in section["jobs"] if job["cuts"] != ["outline"])
    assert section["removed_mm3"] == pytest.approx(inside, abs=1.0)
    assert section["minutes"] == pytest.approx(milled.minutes, rel=0.1)
    assert section["minutes_band"] == TIME_BAND
    assert milling_section(replace(plan, milled=None)) is None


def test_a_drill_press_is_named(plan: Plan, milled: Milled):
    top = replace(
        BACK, face="top", size=(100.0, 20.0), height=60.0, outline=None, pockets=(), on="drill press"
    )
    lines = describe_setups(replace(plan, milled=replace(milled, setups=(*SETUPS, top))))
    assert lines[-1] == "  3  body, top edge up, stands 60 mm high, on the drill press"
