"""Rules of a bonded joint, each red and green once."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from geom.standards.tables import material
from layouts.closing.bond import bond_lands, rim_pull
from layouts.panel import Panel
from layouts.plan import Sealed
from layouts.rules.bond_rules import (
    check_bond_lands,
    check_bond_material,
    check_bond_pull,
    check_clamps,
    check_squeeze_out,
)
from layouts.rules.cautions import BONDING_CAUTIONS, list_bonding_cautions
from layouts.strength.working_pressure import find_working_pressure
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL, ROUTED = sample_panel("bonded"), sample_routed("bonded")
(LANDS,) = bond_lands(PANEL, ROUTED)


def seal(**changes: object) -> Sealed:
    return Sealed((), (), lands=(replace(LANDS, **changes),))


def make(panel: Panel = PANEL, **changes: object) -> Panel:
    return replace(panel, make=replace(panel.make, **changes))


def test_land_too_narrow():
    assert check_bond_lands(PANEL, seal(least_width=4.0)) == ()
    (found,) = check_bond_lands(PANEL, seal(least_width=2.8, between=("channel a", "channel b")))
    assert (found.code, found.severity, found.value, found.limit) == ("bond.land", "fault", 2.8, 4.0)
    assert found.features == ("channel a", "channel b")
    assert "only 2.8 mm of land" in found.text
    assert "apart by 1.2 mm" in found.remedy
    assert found.at_mm is not None
    assert found.at_mm[2] == 0.0


def test_land_of_the_front_joint_lies_at_its_height():
    (found,) = check_bond_lands(PANEL, seal(least_width=1.0, layer="front"))
    assert found.at_mm is not None
    assert found.at_mm[2] == PANEL.make.body


def test_pull_at_a_rim():
    assert check_bond_pull(PANEL, seal(span=20.0, beside=10.0)) == ()
    (found,) = check_bond_pull(PANEL, seal(span=60.0, beside=10.0))
    assert (found.code, found.severity, found.unit) == ("bond.pull", "caution", "MPa")
    assert found.limit == pytest.approx(2.77 / 6.75)
    assert found.text.startswith("In use (")
    assert "rim of the 60 mm wide tank, beside 10 mm of land" in found.text
    (worse,) = check_bond_pull(PANEL, seal(span=120.0, beside=10.0))
    assert (worse.severity, worse.limit) == ("fault", 2.77)
    hard = replace(PANEL, rules=replace(PANEL.rules, test_pressure_pa=2e5))
    (tested,) = check_bond_pull(hard, seal(span=30.0, beside=10.0))
    assert (tested.severity, tested.limit) == ("caution", pytest.approx(2.77 / 2.25))
    assert tested.text.startswith("At the test pressure")


def test_a_joint_that_only_bores_pass_has_rims():
    panel, routed = sample_faces("bonded")
    front = bond_lands(panel, routed)[1]
    assert front.pulled.startswith("channel ")
    assert front.span > 0.0
    assert check_bond_pull(panel, seal(pulled="", span=0.0, beside=0.0)) == ()


def test_remedy_names_a_cover_that_would_do():
    (found,) = check_bond_pull(PANEL, seal(span=60.0, beside=10.0))
    thickness = float(found.remedy.split("cover of ")[1].split(" mm")[0])
    pressure, limit = find_working_pressure(PANEL).pressure_pa, 2.77 / 6.75
    assert (
        rim_pull(pressure, 60.0, 10.0, thickness) <= limit < rim_pull(pressure, 60.0, 10.0, thickness - 0.5)
    )
    (hopeless,) = check_bond_pull(PANEL, seal(span=400.0, beside=10.0))
    assert "No cover of up to 40 mm" in hopeless.remedy


def test_pull_in_the_mean():
    (found,) = check_bond_pull(PANEL, seal(span=5.0, wet_mm2=9e4, area_mm2=1e4))
    assert (found.severity, found.value) == ("caution", pytest.approx(0.45))
    assert "in the mean over 100 cm2" in found.text


def test_squeezed_out():
    (note,) = check_squeeze_out(ROUTED, seal())
    assert (note.code, note.severity) == ("bond.squeeze", "note")
    (found,) = check_squeeze_out(ROUTED, seal(rim=100.0))
    assert found.severity == "caution"
    assert check_squeeze_out(ROUTED, Sealed((), ())) == ()
    assert "written have none" in note.remedy


def test_clamps_are_told():
    (note,) = check_clamps(PANEL, seal())
    assert (note.code, note.severity) == ("bond.clamp", "note")
    assert f"{len(LANDS.clamps)} clamps" in note.text
    assert "closing.svg" in note.remedy
    assert "flames" in note.remedy
    assert "gloves" in note.remedy
    metal = make(material="aluminium 6082-T6")
    assert "starves" in check_clamps(metal, seal())[0].remedy
    assert "anneal" not in check_clamps(metal, seal())[0].remedy
    assert "anneal" in check_clamps(make(cover_material="aluminium 6082-T6"), seal())[0].remedy
    assert "acrylic" in note.remedy
    assert "acrylic" not in check_clamps(make(material="PC"), seal())[0].remedy
    assert any("acrylic" in text for text in list_bonding_cautions(PANEL))
    assert not any("acrylic" in text for text in list_bonding_cautions(metal))
    assert "closing-front.svg" in check_clamps(PANEL, seal(layer="front"))[0].remedy


def test_land_that_nothing_presses():
    found = check_clamps(PANEL, seal(unpressed_mm2=150.0, unpressed_at=(10.0, 20.0)))
    assert [f.severity for f in found] == ["caution", "note"]
    assert found[0].at_mm == (10.0, 20.0, 0.0)
    (bare,) = check_clamps(
        PANEL, seal(clamps=(), weights=(), pressed_mm2=(), unpressed_mm2=9.0, unpressed_at=(1.0, 1.0))
    )
    assert bare.severity == "caution"


def test_material_that_bonds():
    assert check_bond_material(PANEL) == ()
    assert check_bond_material(sample_panel("cord")) == ()
    (poor,) = check_bond_material(make(material="POM-C"))
    assert (poor.code, poor.severity) == ("bond.material", "caution")
    (unlike,) = check_bond_material(make(cover_material="aluminium 6082-T6"))
    apart = material("PMMA cast").expansion_1_k - material("aluminium 6082-T6").expansion_1_k
    assert unlike.value == pytest.approx(apart * 20.0 * math.hypot(200.0, 140.0) / 2)


@pytest.mark.parametrize(
    "word", ["vapour", "gloves", "flame", "moving air", "data sheet", "crazes", "cure", "anneal"]
)
def test_cautions_of_bonding_name_what_hurts(word):
    assert any(word in text.lower() for text in BONDING_CAUTIONS)
