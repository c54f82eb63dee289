"""Coolant properties against independent formulations."""

import pytest
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS95
from printed import assert_as_printed

from layouts.hydraulics.coolant import coolant_properties, temperature_rise_k

L_MIN = 1e-3 / 60
WATER_ROWS = [
    (10.0, "999.702", "1305.9", "4195.2", "1228.2"),
    (20.0, "998.207", "1001.6", "4184.1", "2339.3"),
    (25.0, "997.048", "890.02", "4181.3", "3169.9"),
    (40.0, "992.216", "652.73", "4179.4", "7384.9"),
    (60.0, "983.196", "466.04", "4185.0", "19946"),
]


@pytest.fixture(autouse=True)
def computed_anew(tmp_path, monkeypatch):
    """Keep remembered answers of earlier runs out of the comparison."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))


@pytest.mark.published(source="IAPWS-95 (Wagner and Pruss 2002) and IAPWS 2008 viscosity, 101.325 kPa")
@pytest.mark.parametrize(("celsius", "density", "viscosity", "heat_capacity", "vapour"), WATER_ROWS)
def test_water_as_printed(celsius, density, viscosity, heat_capacity, vapour):
    water = coolant_properties("water", 0.0, celsius)
    assert_as_printed(water.density_kg_m3, density)
    assert_as_printed(water.viscosity_pa_s * 1e6, viscosity, rel=1e-4)
    assert_as_printed(water.heat_capacity_j_kgk, heat_capacity)
    assert_as_printed(water.vapour_pressure_pa, vapour, rel=1e-4)


@pytest.mark.published(source="IAPWS-95 by the independent library iapws")
@pytest.mark.parametrize("celsius", [5.0, 30.0, 50.0, 80.0])
def test_water_against_other_library(celsius):
    water, other = coolant_properties("water", 0.0, celsius), IAPWS95(T=celsius + 273.15, P=0.101325)
    assert water.density_kg_m3 == pytest.approx(other.rho, rel=2e-5)
    assert water.viscosity_pa_s == pytest.approx(other.mu, rel=1e-3)
    assert water.heat_capacity_j_kgk == pytest.approx(other.cp * 1e3, rel=1e-4)


@pytest.mark.published(
    source="ASHRAE Handbook Fundamentals 2001, chapter 21, glycols by volume (CoolProp AEG, APG): rho 0.5, mu 6, cp 2 %"
)
@pytest.mark.parametrize(
    ("fluid", "ashrae", "glycol_density"),
    [("ethylene glycol", "AEG", 1110.0), ("propylene glycol", "APG", 1033.0)],
)
@pytest.mark.parametrize("celsius", [25.0, 40.0])
def test_glycol_against_ashrae(fluid, ashrae, glycol_density, celsius):
    by_volume = 0.30
    by_mass = by_volume * glycol_density / (by_volume * glycol_density + (1 - by_volume) * 997.0)
    mix = coolant_properties(fluid, by_mass, celsius)
    density, viscosity, heat_capacity = (
        PropsSI(q, "T", celsius + 273.15, "P", 101325, f"INCOMP::{ashrae}[{by_volume}]") for q in "DVC"
    )
    assert mix.density_kg_m3 == pytest.approx(density, rel=0.005)
    assert mix.viscosity_pa_s == pytest.approx(viscosity, rel=0.06)
    assert mix.heat_capacity_j_kgk == pytest.approx(heat_capacity, rel=0.02)


@pytest.mark.published(
    source="Melinder, Properties of Secondary Working Fluids (IIR 2010), freezing by mass fraction"
)
@pytest.mark.parametrize(
    ("fluid", "fraction", "printed"),
    [
        ("ethylene glycol", 0.3, "-14.6"),
        ("ethylene glycol", 0.5, "-36.0"),
        ("propylene glycol", 0.3, "-12.8"),
    ],
)
def test_freezing(fluid, fraction, printed):
    assert_as_printed(coolant_properties(fluid, fraction, 25.0).freezing_c, printed)


@pytest.mark.published(
    source="Enthalpy of water by IAPWS-95 (library iapws): 500 W in 4 L/min at 25 °C; 0.2 %"
)
def test_temperature_rise():
    water = coolant_properties("water", 0.0, 25.0)
    rise = temperature_rise_k(500.0, 4 * L_MIN, water)
    assert_as_printed(rise, "1.799", rel=0.002)
    cold, warm = IAPWS95(T=298.15, P=0.101325), IAPWS95(T=298.15 + rise, P=0.101325)
    assert (warm.h - cold.h) * 1e3 * cold.rho * 4 * L_MIN == pytest.approx(500.0, rel=0.002)
