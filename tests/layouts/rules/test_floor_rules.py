"""Flat sheets over tank and channels: the body's floors, one piece, bonded covers, and the plan's quick estimate."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from geom.standards import tables
from layouts.advice import Heating
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.floor_rules import check_cover, check_floors
from layouts.strength.floors import bulge_floor, hold_edges, list_cover_spans, list_floors
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_panel, sample_routed

COOL = Heating((), 23.0, 0.0, 100.0, None, False, None, "")
PANEL, ROUTED = sample_panel(), sample_routed()


def change(panel: Panel, **sections: dict[str, object]) -> Panel:
    return replace(panel, **{name: replace(getattr(panel, name), **new) for name, new in sections.items()})


def bulge_of(panel: Panel, routed: Routed, sheet: str, span: str, covers: bool = False):
    floors = list_cover_spans(panel, routed) if covers else list_floors(panel, routed)
    (floor,) = (f for f in floors if (f.sheet, f.span.name) == (sheet, span))
    return bulge_floor(panel, floor, 23.0)


@pytest.mark.published(
    source="Roark, Formulas for Stress and Strain, 7th ed., table 11.4 cases 1a and 8a, b/a = 2: E 3200 MPa, 40 x 80 "
    "x 8 mm, 0.15 MPa"
)
def test_floor_lies_between_held_and_resting(monkeypatch):
    row = replace(tables.material("PMMA cast"), poisson=0.3, young_mpa=3200.0)
    monkeypatch.setattr(tables, "material", lambda _: row)
    panel = change(PANEL, tank={"depth": 12.0}, rules={"test_pressure_pa": 0.15e6})
    routed = replace(ROUTED, tank=replace(ROUTED.tank, box=(100.0, 85.0, 180.0, 125.0)))
    _, test = bulge_of(panel, routed, "the body over", "tank")
    assert test.floor.thickness == 8.0
    assert hold_edges(test) == pytest.approx((0.00648, 1.865), rel=2e-3)
    assert (test.bow_mm, test.stress_mpa) == pytest.approx((0.0259, 2.288), rel=2e-3)


def test_sheets_of_each_closing():
    def sheets(panel: Panel, routed: Routed) -> dict[tuple[str, str], float]:
        return {(f.sheet, f.span.name): f.thickness for f in list_floors(panel, routed)}

    cord = sheets(PANEL, ROUTED)
    assert cord["the body over", "tank"] == 7.0
    assert cord["the body over", "channel drain"] == 11.0
    assert {sheet for sheet, _ in cord} == {"the body over"}
    printed = sheets(sample_panel("one-piece"), sample_routed("one-piece"))
    assert printed["the body over", "tank"] == printed["the body behind", "tank"] == 3.5
    assert printed["the body behind", "channel drain"] == 5.5
    two = sheets(*sample_faces())
    assert two["the body behind", "channel blocks - radiator"] == 15.0
    covers = {f.sheet for f in list_cover_spans(*sample_faces())}
    assert covers == {"the cover over", "the front cover over"}
    assert list_cover_spans(sample_panel("one-piece"), sample_routed("one-piece")) == ()


def test_cover_on_a_cord_is_pressed_to_the_cords_middle():
    sides = {f.span.name: f.sides for f in list_cover_spans(PANEL, ROUTED)}
    # Least wall as the land, half of a groove of 2.8 mm, on both sides.
    assert sides["tank"] == pytest.approx((70 + 6.8, 35 + 6.8))
    bonded = {f.span.name: f.sides for f in list_cover_spans(sample_panel("bonded"), sample_routed("bonded"))}
    assert bonded["tank"] == (70.0, 35.0)


def test_sample_is_thick_enough():
    for closing in ("cord", "bonded", "one-piece"):
        panel, routed = sample_panel(closing), sample_routed(closing)
        assert check_floors(panel, routed, COOL) == ()
        assert check_cover(panel, routed, COOL) == ()


def test_floors_are_told_by_sheet_and_span():
    panel = change(PANEL, tank={"depth": 17.8}, coolant={"fluid": "ethylene glycol", "mass_fraction": 0.3})
    (finding,) = check_floors(panel, ROUTED, COOL)
    assert (finding.code, finding.severity) == ("floor.thick", "caution")
    assert finding.text.startswith("The body over the tank carries")
    assert "half of what PMMA cast stands for years, for ethylene glycol attacks it" in finding.text
    assert check_floors(change(panel, coolant={"fluid": "water", "mass_fraction": 0.0}), ROUTED, COOL) == ()
    panel = change(PANEL, rules={"test_pressure_pa": 40e5})
    found = check_floors(panel, ROUTED, COOL)
    assert (found[0].severity, found[0].features) == ("fault", ("tank",))
    assert "for the time of a test" in found[0].text


def test_remedies_thickness_is_enough():
    panel = change(PANEL, tank={"depth": 18.2})
    (finding,) = check_floors(panel, ROUTED, COOL)
    thick = float(re.search(r'body = "([\d.]+) mm"', finding.remedy)[1])
    assert check_floors(change(panel, make={"body": thick}), ROUTED, COOL) == ()
    assert check_floors(change(panel, make={"body": thick - 0.5}), ROUTED, COOL) != ()
    closed, routed = sample_panel("one-piece"), sample_routed("one-piece")
    panel = change(closed, tank={"depth": 16.0})
    found = check_floors(panel, routed, COOL)
    assert {f.text.partition(" carries")[0] for f in found} == {
        "The body over the tank",
        "The body behind the tank",
    }
    thick = float(re.search(r'body = "([\d.]+) mm"', found[0].remedy)[1])
    assert check_floors(change(panel, make={"body": thick}), routed, COOL) == ()


def test_estimate_of_a_cover_on_a_cord_is_never_a_fault():
    thin = change(PANEL, make={"cover": 0.8})
    (finding,) = {f.severity: f for f in check_cover(thin, ROUTED, COOL)}.values()
    assert (finding.code, finding.severity) == ("cover.thick", "caution")
    assert finding.text.startswith("By a quick estimate the cover over")
    assert "make calculates the real cover" in finding.remedy
    posts = replace(ROUTED, tank=replace(ROUTED.tank, posts=((145.0, 100.0),), post_diameter=20.0))
    assert all("tank" not in f.features for f in check_cover(thin, posts, COOL))


def test_bonded_cover_stands_or_is_a_fault():
    panel, routed = sample_panel("bonded"), sample_routed("bonded")
    found = check_cover(change(panel, make={"cover": 0.8}), routed, COOL)
    assert found
    assert found[0].severity == "fault"
    assert "estimate" not in found[0].text
    thick = float(re.search(r'cover = "([\d.]+) mm"', found[0].remedy)[1])
    again = check_cover(change(panel, make={"cover": thick}), routed, COOL)
    assert not any(f.severity == "fault" for f in again)


def test_each_cover_of_two_is_told():
    panel, routed = sample_faces()
    weak = replace(panel, rules=replace(panel.rules, test_pressure_pa=2e7))
    starts = {f.text.split(" carries")[0] for f in check_cover(weak, routed, COOL)}
    assert any(start.startswith("By a quick estimate the front cover over channel") for start in starts)
    assert "By a quick estimate the cover over the tank" in starts
