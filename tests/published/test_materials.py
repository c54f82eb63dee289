"""Materials against what is printed of them."""

from __future__ import annotations

import pytest
from printed import assert_as_printed

from geom.standards.tables import material, material_names, screw
from layouts.rules.material_rules import growth_between


@pytest.mark.published(
    source="data of extruded acrylic sheet 1/4 in: 160 °F (71 °C) continuous, 7.2e-5 per °C"
)
def test_extruded_acrylic() -> None:
    m = material("PMMA extruded")
    assert_as_printed(m.limit_c, "71")
    assert_as_printed(m.expansion_1_k * 1e5, "7.2")


@pytest.mark.published(
    source="UFGS 4-159-01 table 3-1, after ASME PVHO-1: cast acrylic, 4.3e-5 per °F at 80 °F, 62 and 2760 MPa at least"
)
def test_cast_acrylic() -> None:
    m = material("PMMA cast")
    assert_as_printed(m.expansion_1_k * 1e5 / 1.8, "4.3")
    assert m.young_mpa >= 2760
    assert m.allowable_short_mpa < 62 / 3


@pytest.mark.published(source="data of cast acrylic sheet 6 mm: at most 80 °C in continuous operation")
def test_cast_acrylic_limit() -> None:
    assert_as_printed(material("PMMA cast").limit_c, "80")


@pytest.mark.published(
    source="acrylic design stress table: 1500 psi (10.3 MPa) cast, 750 psi (5.2 MPa) extruded, continuous, clean air, "
    "73 °F (22.8 °C)"
)
@pytest.mark.parametrize(("name", "printed"), [("PMMA cast", "10.3"), ("PMMA extruded", "5.2")])
def test_acrylic_stress_at_room_temperature(name: str, printed: str) -> None:
    assert_as_printed(material(name).allowable_at(22.8, lasting=True), printed)


@pytest.mark.published(
    source="creep modulus of cast acrylic after ten years about half: recalled, not verified"
)
def test_acrylic_after_years() -> None:
    assert_as_printed(material("PMMA cast").young_at(23, lasting=True) / 1000, "1.6")


@pytest.mark.published(
    source="polycarbonate technical data sheet: in water up to 140 °F (60 °C), yield stress 62 MPa"
)
def test_polycarbonate() -> None:
    m = material("PC")
    assert_as_printed(m.limit_c, "60")
    assert m.allowable_short_mpa < 62 / 2


@pytest.mark.published(
    source="chemical resistance of polycarbonate sheet: not with alkali, amines, ketones, methanol"
)
def test_what_attacks_polycarbonate() -> None:
    assert {"alkali", "amines", "methanol", "solvents"} == set(material("PC").attacked_by)


@pytest.mark.published(
    source="Margolis, Engineering Plastics Handbook, pages 90-91: acetal, 180 °F (82 °C) in water, 65 MPa, "
    "2.5 and 2.6 GPa"
)
def test_acetal() -> None:
    m = material("POM-C")
    assert_as_printed(m.limit_c, "82")
    assert m.allowable_short_mpa < 65 / 2
    assert 2500 <= m.young_mpa <= 2600
    assert {"acids", "phenols"} < set(m.attacked_by)


@pytest.mark.published(source="data of PETG sheet: deflection at 60-71 °C under load, 3.8e-5 per °F")
def test_petg() -> None:
    m = material("PETG")
    assert_as_printed(m.limit_c, "60")
    assert_as_printed(m.expansion_1_k * 1e5 / 1.8, "3.8")


@pytest.mark.published(source="material data of printed PETG: 44-56 MPa along, 25-38 MPa across the layers")
def test_petg_across_its_layers() -> None:
    assert material("PETG").allowable_short_mpa < 25 / 2


@pytest.mark.published(
    source="PETG: good against alcohols, attacked by ketones, aromatic and halogenated solvents"
)
def test_what_attacks_petg() -> None:
    assert not {"alcohol", "glycol"} & set(material("PETG").attacked_by)
    assert "ketones" in material("PETG").attacked_by


@pytest.mark.published(
    source="stress cracking of acrylic: alcohols and solvents, at the surface of a stressed sheet"
)
@pytest.mark.parametrize("name", ["PMMA cast", "PMMA extruded"])
def test_what_attacks_acrylic(name: str) -> None:
    assert {"alcohol", "solvents"} < set(material(name).attacked_by)


@pytest.mark.published(
    source="EN 1999-1-2 tables 1 and 2: 6061-T6 at 100 °C, 95 % of proof stress, 97 % of modulus"
)
def test_warm_6061() -> None:
    m = material("aluminium 6061-T6")
    assert_as_printed(m.young_at(100) / m.young_at(20), "0.97")
    assert_as_printed(m.allowable_at(100) / m.allowable_at(20), "0.95")


@pytest.mark.published(source="EN 1999-1-2 table 2: modulus at 100 °C 67 900 N/mm2, at 20 °C 70 000 N/mm2")
def test_warm_6082() -> None:
    m = material("aluminium 6082-T6")
    assert_as_printed(m.young_at(100), "67900")
    assert_as_printed(m.young_at(20), "70000")


@pytest.mark.published(
    source="EN 1999-1-2 table 1: 6082-T6 at 100 °C, 90 % of proof stress: recalled, not verified"
)
def test_warm_6082_stress() -> None:
    m = material("aluminium 6082-T6")
    assert_as_printed(m.allowable_at(100) / m.allowable_at(20), "0.90")


@pytest.mark.published(
    source="EN 10088-1: 1.4301 and 1.4404, 200 GPa at 20 °C, 194 GPa at 100 °C, 16.0e-6 per K"
)
@pytest.mark.parametrize(
    ("name", "density"), [("stainless steel 304", "7900"), ("stainless steel 316", "8000")]
)
def test_stainless_steel(name: str, density: str) -> None:
    m = material(name)
    assert_as_printed(m.young_at(20) / 1000, "200")
    assert_as_printed(m.young_at(100) / 1000, "194")
    assert_as_printed(m.expansion_1_k * 1e6, "16.0")
    assert_as_printed(m.density_kg_m3, density)


@pytest.mark.published(
    source="EN 10088-2: 210 and 220 MPa proof; EN 10028-7: 157 and 166 MPa at 100 °C, both 0.75 of it: recalled, not "
    "verified"
)
@pytest.mark.parametrize(("name", "proof"), [("stainless steel 304", "210"), ("stainless steel 316", "220")])
def test_stainless_steel_stress(name: str, proof: str) -> None:
    m = material(name)
    assert_as_printed(2 * m.allowable_mpa, proof)
    assert_as_printed(m.allowable_at(100) / m.allowable_at(20), "0.75")


@pytest.mark.parametrize("name", [name for name in material_names() if material(name).kind == "metal"])
def test_metals_for_hours(name: str) -> None:
    """Half of the proof stress for years, two thirds for hours: common practice, no source."""
    m = material(name)
    assert m.allowable_short_mpa == pytest.approx(m.allowable_mpa * 4 / 3, abs=0.5)


@pytest.mark.published(
    source="acrylic 77e-6, aluminium 23.6e-6 per K: 200 mm, 20 K, 0.21 mm (calculated by hand)"
)
@pytest.mark.parametrize("body", ["aluminium 6061-T6", "aluminium 6082-T6"])
def test_acrylic_on_aluminium(body: str) -> None:
    acrylic, metal = material("PMMA cast"), material(body)
    assert_as_printed(growth_between(acrylic.expansion_1_k, metal.expansion_1_k, 200.0, 20.0), "0.21")


@pytest.mark.published(source="ISO 273, medium: M3 3.4, M4 4.5, M5 5.5, M6 6.6 mm")
@pytest.mark.parametrize(("name", "play"), [("M3", "0.2"), ("M4", "0.25"), ("M5", "0.25"), ("M6", "0.3")])
def test_play_of_a_screw_in_its_hole(name: str, play: str) -> None:
    assert_as_printed((screw(name).clearance - screw(name).diameter) / 2, play)
