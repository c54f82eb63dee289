"""What heat, coolant and unlike growth do to the materials of a panel."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.standards import tables
from layouts.advice import Heating, HeatStep
from layouts.file.model import PartTable
from layouts.panel import Panel
from layouts.plan import Sealed
from layouts.rules.material_rules import (
    check_material_coolant,
    check_material_heat,
    check_printable,
    check_screw_growth,
    growth_between,
    metal_of,
)
from tests.layouts.sample_routed import L_MIN, sample_panel

ALUMINIUM = "aluminium 6082-T6"
CORNERS = ((10.0, 10.0), (190.0, 10.0), (10.0, 130.0), (190.0, 130.0))


def made(body: str, cover: str = "", **coolant: object) -> Panel:
    panel = sample_panel("one-piece" if cover == "none" else "cord")
    cover_row = "" if cover == "none" else cover
    return replace(
        panel,
        make=replace(panel.make, material=body, cover_material=cover_row),
        coolant=replace(panel.coolant, **coolant),
    )


def with_metals(panel: Panel, *metals: str | None) -> Panel:
    parts = tuple(replace(part, metal=metal) for part, metal in zip(panel.parts, metals, strict=True))
    return replace(panel, parts=parts)


def heat_to(celsius: float) -> Heating:
    step = HeatStep("block a", 3 * L_MIN, 100.0, celsius - 1, celsius)
    return Heating((step,), celsius - 1, 1.0, 100.0, None, False, None, "")


COLD = replace(heat_to(0.0), steps=(), tank_c=0.0)


@pytest.mark.parametrize(
    ("celsius", "severity"), [(70.0, None), (70.1, "caution"), (80.0, "caution"), (80.1, "fault")]
)
def test_heat_of_acrylic(celsius: float, severity: str | None) -> None:
    found = check_material_heat(made("PMMA cast"), heat_to(celsius))
    assert [f.severity for f in found] == [severity] * (severity is not None)
    for finding in found:
        assert f'{celsius:.0f} °C at "block a"' in finding.text
        assert "80 °C that body and cover of PMMA cast" in finding.text
        assert (finding.value, finding.limit) == (celsius, 80.0)
        assert ALUMINIUM in finding.remedy
        assert "PC" not in finding.remedy


def test_heat_of_the_file_and_of_each_sheet() -> None:
    panel = made("PMMA extruded", "PETG", temperature_c=65.0)
    body, cover = check_material_heat(panel, COLD)
    assert (body.severity, cover.severity) == ("caution", "fault")
    assert "in use" in body.text
    assert "the cover of PETG" in cover.text
    assert check_material_heat(made("PMMA cast"), COLD) == ()


def test_heat_of_a_print_offers_what_prints_and_no_number_is_told_beyond_all_coolants() -> None:
    (finding,) = check_material_heat(made("PETG", "none"), heat_to(55.0))
    assert finding.remedy == "Keep the coolant well below 60 °C."
    (finding,) = check_material_heat(made("PETG", "none"), heat_to(400.0))
    assert "becomes hotter than any coolant" in finding.text
    assert "400" not in finding.text


@pytest.mark.parametrize("body", ["PMMA cast", "PMMA extruded"])
def test_glycol_on_acrylic_halves_its_lasting_stress(body: str) -> None:
    panel = made(body, fluid="propylene glycol", mass_fraction=0.3, inhibited=True)
    (finding,) = check_material_coolant(panel, heat_to(35.0))
    assert finding.severity == "caution"
    whole, half = (float(n) for n in re.findall(r"([0-9.]+) MPa", finding.text))
    assert half == pytest.approx(whole / 2, rel=0.03)
    assert whole == pytest.approx(tables.material(body).allowable_at(35.0, lasting=True), rel=0.01)
    assert check_material_coolant(made(body), heat_to(35.0)) == ()


@pytest.mark.parametrize("body", ["POM-C", "PETG", "PC"])
def test_glycol_is_quiet_on_others(body: str) -> None:
    panel = made(body, fluid="ethylene glycol", mass_fraction=0.3)
    assert check_material_coolant(panel, COLD) == ()


def test_inhibitors_on_polycarbonate() -> None:
    (finding,) = check_material_coolant(made("POM-C", "PC", inhibited=True), COLD)
    assert finding.severity == "note"
    assert "the cover of PC" in finding.text


def test_copper_beside_aluminium() -> None:
    panel = with_metals(made(ALUMINIUM), "copper", "nickel", "brass")
    (finding,) = check_material_coolant(panel, COLD)
    assert finding.severity == "caution"
    assert (
        'the aluminium of body and cover, the faster beside "block a" of copper and "radiator" of brass'
        in (finding.text)
    )
    assert finding.features == ("block a", "radiator")
    assert check_material_coolant(replace(panel, coolant=replace(panel.coolant, inhibited=True)), COLD) == ()


def test_aluminium_alone_in_a_part_and_unknown_metals() -> None:
    panel = with_metals(made("PMMA cast"), "aluminium", None, None)
    caution, note = check_material_coolant(panel, COLD)
    assert 'water without inhibitor corrodes the aluminium of "block a"' in caution.text.lower()
    assert (note.severity, note.features) == ("note", ("block b", "radiator"))
    assert '"block b" and "radiator" are' in note.text
    (alone,) = check_material_coolant(with_metals(made("PMMA cast"), *["aluminium"] * 3), COLD)
    assert "faster" not in alone.text
    assert check_material_coolant(with_metals(made("PMMA cast"), "copper", "brass", None), COLD) == ()


def test_cover_of_another_metal() -> None:
    panel = with_metals(made(ALUMINIUM, "stainless steel 304"), *["aluminium"] * 3)
    (finding,) = check_material_coolant(panel, COLD)
    assert "faster beside the cover of stainless steel" in finding.text


def test_every_metal_of_the_table_is_one_that_parts_may_be_of() -> None:
    metals = {metal_of(tables.material(name)) for name in tables.material_names()} - {None}
    literal = next(a for a in get_args(PartTable.model_fields["metal"].annotation) if get_args(a))
    assert metals == {"aluminium", "stainless steel"} <= set(get_args(literal))
    assert metal_of(tables.material("PC")) is None


def test_growth_over_an_aluminium_body() -> None:
    """(77 - 23.4)e-6 / K, 108.2 mm from the middle to a screw, 50 K: 0.29 mm; an M4's hole leaves 0.25 mm."""
    panel = made(ALUMINIUM, "PMMA cast")
    (finding,) = check_screw_growth(panel, Sealed((), CORNERS), heat_to(70.0))
    assert finding.value == pytest.approx(53.6e-6 * (90**2 + 60**2) ** 0.5 * 50)
    assert (finding.severity, finding.limit) == ("caution", 0.25)
    assert finding.text.startswith("At 70 °C the cover of PMMA cast has moved by 0.29 mm")
    assert finding.remedy == 'Set screw_hole = "4.6 mm" in [make], or use a cover of aluminium 6082-T6.'
    assert finding.at_mm == (*CORNERS[0], 0.0)
    assert check_screw_growth(panel, Sealed((), CORNERS), heat_to(60.0)) == ()


def test_growth_counts_the_cold_and_the_front_cover() -> None:
    panel = replace(made(ALUMINIUM, "POM-C", fluid="propylene glycol", temperature_c=-15.0), width=200.0)
    panel = replace(panel, channel=replace(panel.channel, layers=2))
    (finding,) = check_screw_growth(panel, Sealed((), (), CORNERS[1:]), COLD)
    assert finding.text.startswith("At -15 °C")
    assert finding.features == ("front cover screw 1 M4",)
    assert finding.at_mm == (190.0, 10.0, 20.0)


@pytest.mark.parametrize(
    ("body", "cover"), [("PMMA cast", ""), ("PC", "PC"), (ALUMINIUM, "aluminium 6061-T6")]
)
def test_alike_materials_grow_alike(body: str, cover: str) -> None:
    assert check_screw_growth(made(body, cover), Sealed((), CORNERS), heat_to(90.0)) == ()


def test_without_screws_nothing_bends() -> None:
    assert check_screw_growth(made(ALUMINIUM, "POM-C"), Sealed((), ()), heat_to(90.0)) == ()


@settings(max_examples=20, deadline=None)
@given(st.floats(1e-6, 2e-4), st.floats(1e-6, 2e-4), st.floats(0, 1000), st.floats(-60, 60))
def test_growth_is_the_same_either_way_round(a: float, b: float, length: float, change: float) -> None:
    assert growth_between(a, b, length, change) == growth_between(b, a, length, -change) >= 0
    assert growth_between(a, a, length, change) == 0


@settings(max_examples=20, deadline=None)
@given(st.floats(21, 100))
def test_the_holes_that_the_remedy_asks_for_leave_enough_play(celsius: float) -> None:
    panel, screw = made(ALUMINIUM, "POM-C"), tables.screw("M4")
    for finding in check_screw_growth(panel, Sealed((), CORNERS), heat_to(celsius)):
        needed = float(re.search(r'screw_hole = "([0-9.]+) mm"', finding.remedy)[1])
        assert finding.value is not None
        assert (
            screw.diameter + 2 * finding.value
            <= needed + 1e-9
            < screw.diameter + 2 * finding.value + 0.1 + 1e-6
        )


@pytest.mark.parametrize(("process", "told"), [("filament", False), ("resin", True)])
@pytest.mark.parametrize("body", ["PETG", "PC"])
def test_filament_printed_in_resin_is_told(body: str, process: str, told: bool) -> None:
    """No row of the table is a resin: what is known of the filament is not known of it."""
    panel = made(body, "none")
    printed = replace(
        panel,
        make=replace(panel.make, method="printed"),
        printing=replace(panel.printing, process=process),
    )
    found = check_printable(printed)
    assert [(f.code, f.severity) for f in found] == [("make.material", "caution")] * told
    for finding in found:
        assert f"printed in resin, but {body}" in finding.text
        assert 'process = "filament"' in finding.remedy
    assert check_printable(replace(printed, make=replace(printed.make, method="milled"))) == ()
