"""How a cover bows: the picture, the table, the report, and what a run does with them."""

from __future__ import annotations

import itertools
import json
import math
import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from exports.check_solids import Checked, _bend_covers
from exports.pictures.bow_picture import BANDS, MARK, _places, draw_bow
from exports.pictures.svg import View
from exports.pipeline import join_findings
from exports.report.cover import cover_section
from exports.tables.cover_tables import bending_rows, describe_bending, show_lift
from geom.errors import GeometryError
from layouts.rules.findings import make_finding
from layouts.strength.peaks import cord_lifts
from tests.exports.test_charts import VISIONS, linear_light, to_lab
from tests.layouts.sample_faces import sample_faces
from tests.layouts.strength.sample_cover import cord_plan, made_up, whole_plan
from tests.picture_texts import assert_inside, assert_no_text_over_text, texts_of

PLAN = cord_plan()
BENDING = made_up(PLAN, (0.02, 3.1), (0.034, 4.2))


def said(picture: str) -> str:
    return " ".join(text for text, _ in texts_of(picture))


def test_picture_tells_the_worse_case_with_its_places():
    picture = draw_bow(PLAN, BENDING)
    words = said(picture)
    for wanted in (
        "How the cover of sample cord bows",
        "8 mm of PMMA cast at the test pressure (50 kPa, 37 °C), modulus 2800 MPa",
        "seen from the front, through the body",
        "joint opens 0.034 mm",
        "groove 1",
        "caution over 0.08 mm",
        "fault over 0.128 mm",
        "most stress 4.2 MPa",
        "fault over 17 MPa",
        "cover lifts",
        "cover's lift, mm",
        "Calculated as a plate",
    ):
        assert wanted in words, wanted
    assert len(picture.encode()) < 300_000
    assert picture == draw_bow(PLAN, BENDING)
    ElementTree.fromstring(picture)
    assert_no_text_over_text(picture)
    assert_inside(picture)


def test_only_what_holds_is_cautioned():
    assert "A plastic's stiffness" in said(draw_bow(PLAN, BENDING))
    assert "the other one left out" not in said(draw_bow(PLAN, BENDING))
    metal = cord_plan(material="aluminium 6082-T6", cover_material="aluminium 6082-T6")
    assert "plastic" not in said(draw_bow(metal, made_up(metal, (0.02, 3.1), (0.034, 4.2))))


def test_map_steps_lie_over_each_other_from_light_to_dark():
    picture = draw_bow(PLAN, BENDING)
    used = [colour for colour in re.findall(r'z" fill="(#[0-9a-f]{6})"/>', picture) if colour in BANDS]
    assert used == sorted(used, key=BANDS.index)
    assert (used[0], used[-1]) == (BANDS[0], BANDS[-1])


def test_a_cover_that_hardly_lifts_has_a_scale_of_thousandths():
    words = said(draw_bow(PLAN, made_up(PLAN, (0.002, 1.0), (0.001, 1.0))))
    assert "cover's lift, µm" in words
    still = draw_bow(PLAN, made_up(PLAN, (0.0, 1.0), (0.0, 1.0)))
    assert_inside(still)


def test_no_mark_hides_a_screw():
    """With the most stress at a screw's very middle its mark stands beside it, and a line leads there."""
    top = int(np.argmax(BENDING.cases[1].bent.stress_mpa))
    screw = tuple(float(c) for c in BENDING.cases[1].bent.points[top])
    plan = replace(PLAN, sealed=replace(PLAN.sealed, screws=(screw, *PLAN.sealed.screws[1:])))
    view = View(2.0, plan.panel.height)
    worst = max(cord_lifts(plan.sealed, BENDING), key=lambda one: one.lift)
    stress = _places(plan, "back", worst, view)[2]
    assert stress.kind == "stress"
    assert stress.at == view.to(screw)
    assert math.dist(stress.mark, stress.at) >= 7.0 / 2 * 2.0 + MARK


def test_the_front_cover_has_its_own_picture():
    plan = whole_plan(*sample_faces())
    picture = draw_bow(plan, made_up(plan, (0.02, 3.1), (0.01, 4.2), "front"))
    assert "How the front cover of" in said(picture)
    assert "through the body" not in said(picture)
    assert "the other one left out" in said(picture)
    assert_inside(picture)


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.published(
    source="Machado, Oliveira, Fernandes, A physiologically-based model for simulation of color vision deficiency, "
    "IEEE TVCG 15 (2009), matrices of severity 1 (read in copies), on linear sRGB; CIE 1976 lightness"
)
def test_each_step_is_darker_for_every_colour_vision(vision):
    lightness = [to_lab(VISIONS[vision] @ linear_light(colour))[0] for colour in BANDS]
    assert all(a - b >= 8.0 for a, b in itertools.pairwise(lightness))


def test_table_has_a_row_for_each_case():
    head, working, test = bending_rows(PLAN, (BENDING,))
    assert len(head) == len(working) == len(test)
    assert working[:3] == ("cover", "in use", "groove 1")
    assert "0.034 mm" in test
    assert "4.2 MPa" in test
    told = describe_bending(PLAN, (BENDING,))
    assert "opening of the joint at a cord: caution over 0.08 mm, fault over 0.128 mm" in told.replace(
        "\n", " "
    )
    assert "modulus 1400 MPa (in use) and 2800 MPa (test)" in told.replace("\n", " ")
    assert working[-2:] == ("4.25 MPa", "8.5 MPa")
    assert test[-2:] == ("-", "17 MPa")
    assert "3.9 m of head without flow and 0.14 m of coolant" in told.replace("\n", " ")
    assert max(len(line) for line in told.splitlines()) <= 100


@pytest.mark.parametrize(("lift", "text"), [(0.0314, "0.031 mm"), (0.00001, "0 mm"), (0.25, "0.25 mm")])
def test_lift_in_words(lift, text):
    assert show_lift(lift) == text


def test_report_tells_every_case():
    (cover,) = json.loads(json.dumps(cover_section(PLAN, (BENDING,)), allow_nan=False))
    assert (cover["layer"], cover["caution_mm"], cover["fault_mm"]) == ("back", 0.08, 0.128)
    working, test = cover["cases"]
    assert (working["name"], test["name"]) == ("working", "test")
    assert test["pressure_kpa"] == 50.0
    assert (test["at_cord_mm"], test["cord"]) == (0.034, "groove 1")
    assert (test["stress_mpa"], test["allowable_mpa"]) == (4.2, 17.0)
    assert (working["caution_mpa"], test["caution_mpa"]) == (4.25, 17.0)
    assert test["bow_mm"] == pytest.approx(1.5 * 0.034, rel=0.02)
    assert np.hypot(test["bow_at_mm"][0] - 100.0, test["bow_at_mm"][1] - 70.0) < 8.0
    assert cover_section(PLAN, ()) == []


def test_a_run_leaves_the_estimate_out_once_the_cover_is_calculated():
    back, front = (0.0, 0.0, -PLAN.panel.make.cover), (0.0, 0.0, PLAN.panel.make.body)
    estimate = make_finding("cover.thick", "caution", "by a quick estimate", "wait", at_mm=back)
    in_front = make_finding("cover.thick", "caution", "by a quick estimate", "wait", at_mm=front)
    other = make_finding("floor.thick", "caution", "the body over the tank", "make it thicker")
    share = make_finding("screw.thread", "caution", "by its share", "use more screws")
    plan = replace(PLAN, findings=(estimate, in_front, other, share))
    assert join_findings(plan, None) == (estimate, in_front, other, share)
    solids: Any = None
    bent = Checked(solids, {}, solids, solids, None, (), (BENDING,))
    assert join_findings(plan, bent) == (in_front, other)
    assert join_findings(plan, replace(bent, bending=())) == (estimate, in_front, other, share)


def test_a_cover_that_cannot_be_meshed_is_told_and_stops_nothing(monkeypatch):
    def refuse(plan, layer):
        raise GeometryError("no screw holds the plate")

    monkeypatch.setattr("layouts.strength.cover.bend_cover", refuse)
    bending, (finding,) = _bend_covers(PLAN)
    assert bending == ()
    assert finding.code == "cover.bow"
    assert "no screw holds the plate" in finding.text


def test_one_cover_that_cannot_be_meshed_leaves_the_other(monkeypatch):
    def refuse_back(plan, layer):
        if layer == "back":
            raise GeometryError("no screw holds the plate")
        return replace(BENDING, layer="front")

    monkeypatch.setattr("layouts.strength.cover.bend_cover", refuse_back)
    monkeypatch.setattr("layouts.rules.cover_rules.check_bending", lambda plan, bendings: ())
    panel = replace(PLAN.panel, channel=replace(PLAN.panel.channel, layers=2))
    (bending,), (finding, *_) = _bend_covers(replace(PLAN, panel=panel))
    assert bending.layer == "front"
    assert finding.text.startswith("How the cover bows")
