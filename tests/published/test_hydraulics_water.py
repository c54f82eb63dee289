"""Water and glycol mixes against formulations that the property library does not use, and what follows from them."""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS95
from printed import assert_as_printed

from layouts.hydraulics.coolant import coolant_properties, temperature_rise_k
from layouts.hydraulics.pump import head_pressure_pa

L_MIN = 1e-3 / 60
US_GPM = 3.785411784e-3 / 60
ATMOSPHERE_PA = 101_325.0


@pytest.fixture(autouse=True)
def computed_anew(tmp_path, monkeypatch):
    """Keep remembered answers of earlier runs out of the comparison."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))


@pytest.mark.published(source="IAPWS-95 (Wagner and Pruss 2002) and IAPWS 2008 viscosity, 101.325 kPa")
@pytest.mark.parametrize(
    ("celsius", "density", "viscosity", "heat_capacity", "vapour"),
    [(30.0, "995.649", "797.22", "4179.8", "4247.0"), (50.0, "988.035", "546.52", "4181.3", "12352")],
)
def test_warm_water_as_printed(celsius, density, viscosity, heat_capacity, vapour):
    water = coolant_properties("water", 0.0, celsius)
    assert_as_printed(water.density_kg_m3, density)
    assert_as_printed(water.viscosity_pa_s * 1e6, viscosity, rel=1e-4)
    assert_as_printed(water.heat_capacity_j_kgk, heat_capacity)
    assert_as_printed(water.vapour_pressure_pa, vapour, rel=1e-4)


@pytest.mark.published(
    source="Kell, J. Chem. Eng. Data 20 (1975) 97, as quoted by Jones and Harris, J. Res. NIST 97 (1992) 335, "
    "equation 1, whose denominator has two digits exchanged (16.879850 recalled, not verified); 0.003 %"
)
@pytest.mark.parametrize("celsius", [5.0, 20.0, 35.0, 50.0, 65.0, 90.0])
def test_density_after_kell(celsius):
    t = celsius
    above = 999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3
    above += 105.56302e-9 * t**4 - 280.54253e-12 * t**5
    kell = above / (1 + 16.879850e-3 * t)
    assert coolant_properties("water", 0.0, celsius).density_kg_m3 == pytest.approx(kell, rel=3e-5)


@pytest.mark.published(
    source="Tanaka et al., Metrologia 38 (2001) 301: recommended density of water, 0 to 40 °C (constants recalled, not "
    "verified); 2 ppm"
)
@pytest.mark.parametrize("celsius", [4.0, 10.0, 20.0, 25.0, 30.0, 40.0])
def test_density_after_tanaka(celsius):
    t = celsius
    tanaka = 999.97495 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522_528.9 * (t + 69.34881)))
    assert coolant_properties("water", 0.0, celsius).density_kg_m3 == pytest.approx(tanaka, rel=2e-6)


@pytest.mark.published(
    source="Kestin, Sokolov and Wakeham, J. Phys. Chem. Ref. Data 7 (1978) 941: viscosity over 1002.0 uPa s at 20 °C, "
    "0 to 40 °C (constants recalled, not verified); 0.15 %"
)
@pytest.mark.parametrize("celsius", [5.0, 10.0, 20.0, 25.0, 30.0, 40.0])
def test_viscosity_after_kestin(celsius):
    d = 20.0 - celsius
    ratio = 10 ** (d / (celsius + 96.0) * (1.2364 - 1.37e-3 * d + 5.7e-6 * d**2))
    assert coolant_properties("water", 0.0, celsius).viscosity_pa_s == pytest.approx(
        1.0020e-3 * ratio, rel=1.5e-3
    )


@pytest.mark.published(source="ISO/TR 3666 (1998): water at 20 °C, 1.0016 mPa s (recalled, not verified)")
def test_viscosity_of_the_standard():
    assert_as_printed(coolant_properties("water", 0.0, 20.0).viscosity_pa_s * 1e3, "1.0016")


@pytest.mark.published(
    source="Buck, vapour pressure over water (1996 form; constants recalled, not verified), 5 to 80 °C; 0.1 %"
)
@pytest.mark.parametrize("celsius", [5.0, 20.0, 40.0, 60.0, 80.0])
def test_vapour_pressure_after_buck(celsius):
    buck = 611.21 * math.exp((18.678 - celsius / 234.5) * (celsius / (257.14 + celsius)))
    assert coolant_properties("water", 0.0, celsius).vapour_pressure_pa == pytest.approx(buck, rel=1e-3)


@pytest.mark.published(source="The 15 °C calorie: 4.1855 J warm a gram of water by 1 K (CIPM 1950); 0.1 %")
def test_heat_capacity_by_the_calorie():
    assert_as_printed(coolant_properties("water", 0.0, 15.0).heat_capacity_j_kgk, "4185.5", rel=1e-3)


@pytest.mark.published(source="IAPWS-95 by the library iapws: growth of water from 20 °C")
@pytest.mark.parametrize(("celsius", "printed"), [(40.0, "0.604"), (45.0, "0.807"), (50.0, "1.030")])
def test_growth_of_water(celsius, printed):
    cold, warm = (coolant_properties("water", 0.0, t).density_kg_m3 for t in (20.0, celsius))
    assert_as_printed(100 * (cold / warm - 1), printed)
    cold, warm = (IAPWS95(T=t + 273.15, P=0.101325).rho for t in (20.0, celsius))
    assert_as_printed(100 * (cold / warm - 1), printed)


GLYCOLS = [("ethylene glycol", "AEG", 1110.0), ("propylene glycol", "APG", 1033.0)]


@pytest.mark.published(
    source="ASHRAE Handbook Fundamentals 2001, chapter 21, glycols by volume (CoolProp AEG, APG): rho 0.6, mu 5, cp 2 %"
)
@pytest.mark.parametrize(("fluid", "ashrae", "glycol_density"), GLYCOLS)
@pytest.mark.parametrize("by_volume", [0.20, 0.50])
def test_thin_and_strong_glycol_against_ashrae(fluid, ashrae, glycol_density, by_volume):
    by_mass = by_volume * glycol_density / (by_volume * glycol_density + (1 - by_volume) * 997.0)
    mix = coolant_properties(fluid, by_mass, 25.0)
    density, viscosity, heat_capacity = (
        PropsSI(q, "T", 298.15, "P", ATMOSPHERE_PA, f"INCOMP::{ashrae}[{by_volume}]") for q in "DVC"
    )
    assert mix.density_kg_m3 == pytest.approx(density, rel=0.006)
    assert mix.viscosity_pa_s == pytest.approx(viscosity, rel=0.05)
    assert mix.heat_capacity_j_kgk == pytest.approx(heat_capacity, rel=0.02)


@pytest.mark.published(
    source="Lange's Handbook of Chemistry, 15th edition, table 5.13: propylene glycol by volume, freezing point and "
    "specific gravity at 15.6 °C; 1 K, 0.5 %"
)
@pytest.mark.parametrize(
    ("by_volume", "gravity", "freezing"),
    [(0.20, 1.017, -6.7), (0.30, 1.024, -12.8), (0.40, 1.032, -20.6), (0.50, 1.040, -33.3)],
)
def test_propylene_glycol_after_lange(by_volume, gravity, freezing):
    by_mass = by_volume * 1038.0 / (by_volume * 1038.0 + (1 - by_volume) * 999.0)
    mix = coolant_properties("propylene glycol", by_mass, 15.6)
    assert mix.density_kg_m3 == pytest.approx(gravity * 999.0, rel=0.005)
    assert mix.freezing_c == pytest.approx(freezing, abs=1.0)


@pytest.mark.published(source="Enthalpy of water by IAPWS-95 (library iapws) at 25 °C: coolant rise; 0.2 %")
@pytest.mark.parametrize(
    ("heat_w", "flow", "printed"),
    [(400.0, US_GPM, "1.521"), (400.0, L_MIN, "5.757"), (100.0, L_MIN, "1.439")],
)
def test_coolant_rise(heat_w, flow, printed):
    rise = temperature_rise_k(heat_w, flow, coolant_properties("water", 0.0, 25.0))
    assert_as_printed(rise, printed, rel=2e-3)
    cold, warm = IAPWS95(T=298.15, P=0.101325), IAPWS95(T=298.15 + rise, P=0.101325)
    assert (warm.h - cold.h) * 1e3 * cold.rho * flow == pytest.approx(heat_w, rel=2e-3)


@pytest.mark.published(
    source="Standard gravity and IAPWS-95 density at 20 °C: 1 bar is 10.2155 m, 1 psi 0.7043 m"
)
def test_pressure_to_head():
    metre = head_pressure_pa(1.0, coolant_properties("water", 0.0, 20.0))
    assert_as_printed(1e5 / metre, "10.2155", rel=1e-4)
    assert_as_printed(6894.757 / metre, "0.7043")
