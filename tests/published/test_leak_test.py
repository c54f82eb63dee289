"""Gas laws, leaks and locked-in liquid against tables, formulas as printed, and property libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
from iapws import IAPWS95
from printed import assert_as_printed

from layouts.hydraulics.compressed_air import (
    AIR_KG_M3,
    AIR_M2_S,
    AIR_PA_S,
    ATMOSPHERE_PA,
    LIQUID_PER_PA,
    cooling_time_s,
    cushion_pa,
    drift_pa_k,
    leaked_ml_min,
    liquid_energy_j,
    locked_pa_k,
    orifice_share,
    stored_energy_j,
    viscous_share,
    warmed_k,
)


@pytest.mark.published(
    source="ideal gas: at 0.5 bar gauge and 20 °C a kelvin of cooling is 5.16 mbar (derived)"
)
def test_a_gauge_falls_as_the_air_cools():
    assert_as_printed(drift_pa_k(5e4, 293.15) / 100.0, "5.16")


@pytest.mark.published(
    source="ASME PCC-2, Mandatory Appendix 501-II, II-2: E = 2.5 Pt V (1 - (Pa / Pt)^0.286)"
)
@pytest.mark.parametrize("gauge_pa", [1e4, 3e4, 5e4, 1e5])
def test_stored_energy_is_that_of_the_printed_formula(gauge_pa):
    test_pa = ATMOSPHERE_PA + gauge_pa
    printed = 2.5 * test_pa * 1e-3 * (1 - (ATMOSPHERE_PA / test_pa) ** 0.286)
    assert stored_energy_j(gauge_pa, 1e-3) == pytest.approx(printed, rel=2e-3)


def test_stored_energy_is_the_work_of_an_isentropic_expansion():
    """Summed up in small steps: p V^1.4 stays."""
    gauge, volume = 5e4, 150e-6
    start = ATMOSPHERE_PA + gauge
    volumes = np.geomspace(volume, volume * (start / ATMOSPHERE_PA) ** (1 / 1.4), 20001)
    work = np.trapezoid(start * (volume / volumes) ** 1.4, volumes)
    assert stored_energy_j(gauge, volume) == pytest.approx(work, rel=1e-6)


@pytest.mark.published(
    source="NACA Report 1135 (1953), table I: p/pt 0.5283 and T/Tt 0.8333 at Mach 1, recalled"
)
def test_air_pumped_in_at_once_warms_isentropically():
    gauge = ATMOSPHERE_PA * (1 / 0.5283 - 1)
    assert 300.0 / (300.0 + warmed_k(gauge, 300.0)) == pytest.approx(0.8333, abs=1e-4)


@pytest.mark.published(source="Lemmon et al. 2000 and Lemmon and Jacobsen 2004, dry air, in CoolProp")
def test_properties_of_air():
    from CoolProp.CoolProp import PropsSI

    density, viscosity, conductivity, heat = (
        PropsSI(name, "T", 293.15, "P", ATMOSPHERE_PA, "Air") for name in ("D", "V", "L", "C")
    )
    assert pytest.approx(density, rel=2e-3) == AIR_KG_M3
    assert pytest.approx(viscosity, rel=5e-3) == AIR_PA_S
    assert pytest.approx(conductivity / (density * heat), rel=1e-2) == AIR_M2_S


@pytest.mark.published(
    source="IAPWS-95 by the iapws package: compressibility of water at 20 °C, 0.101325 MPa"
)
def test_water_is_as_stiff_as_that():
    assert pytest.approx(IAPWS95(T=293.15, P=0.101325).kappa * 1e-6, rel=5e-3) == LIQUID_PER_PA


@pytest.mark.published(source="IAPWS-95 by the iapws package: pressure of water warmed at constant density")
@pytest.mark.parametrize(("celsius", "bar"), [(20.0, 4.6), (25.0, 5.7), (35.0, 7.8)])
def test_water_shut_in_presses_by_bars_for_each_kelvin(celsius, bar):
    cold = IAPWS95(T=celsius + 273.15, P=0.101325)
    warm = IAPWS95(T=celsius + 274.15, rho=cold.rho)
    risen = (warm.P - cold.P) * 10.0
    assert risen == pytest.approx(bar, abs=0.3)
    growth = cold.rho / IAPWS95(T=celsius + 274.15, P=0.101325).rho - 1.0
    assert locked_pa_k(growth) / 1e5 == pytest.approx(risen, rel=0.06)


@pytest.mark.published(
    source="Carslaw and Jaeger: mean temperature of a slab, series of 8 / ((2n+1) pi)^2 terms"
)
def test_air_between_walls_cools_as_a_slab():
    seconds = cooling_time_s(14.0, 5e4, 36.0, 0.1)
    diffusivity = AIR_M2_S / (1 + 5e4 / ATMOSPHERE_PA)
    left = sum(
        8
        / ((2 * n + 1) * math.pi) ** 2
        * math.exp(-(((2 * n + 1) * math.pi / 0.014) ** 2) * diffusivity * seconds)
        for n in range(50)
    )
    assert 36.0 * left == pytest.approx(0.1, rel=1e-6)


def test_a_leak_from_the_fall_of_a_gauge():
    assert leaked_ml_min(0.01 * ATMOSPHERE_PA, 1000.0, 10.0) == pytest.approx(1.0)


def test_a_long_leak_passes_liquid_by_viscosity():
    """Poiseuille step by step along a capillary: the gas's volume flow grows as its pressure falls."""
    gauge, radius, length, viscosity = 5e4, 5e-6, 5e-3, 7e-4
    conductance = math.pi * radius**4 / 8
    start, end = ATMOSPHERE_PA + gauge, ATMOSPHERE_PA
    pressures = np.linspace(start, end, 10001)
    # p Q is the same everywhere: its integral over the length is the conductance's over p dp.
    moved = conductance / (AIR_PA_S * length) * -np.trapezoid(pressures, pressures)
    air = moved / ATMOSPHERE_PA
    water = conductance * 4e4 / (viscosity * length)
    assert viscous_share(gauge, 4e4, viscosity) == pytest.approx(water / air, rel=1e-6)


@pytest.mark.published(
    source="incompressible limit: at equal small pressure the flows are as the roots of the densities"
)
def test_a_short_leak_passes_liquid_by_density():
    assert orifice_share(10.0, 10.0, 998.0) == pytest.approx(math.sqrt(AIR_KG_M3 / 998.0), rel=1e-3)


def test_a_choked_hole_passes_no_more_volume_than_its_pressure_gives():
    """Twice the absolute pressure of choked air is twice its flow."""
    one, two = (orifice_share(gauge, 4e4, 998.0) for gauge in (2 * ATMOSPHERE_PA, 5 * ATMOSPHERE_PA))
    assert one / two == pytest.approx(2.0, rel=1e-9)


@pytest.mark.parametrize("gauge_pa", [5e4, 2e5, 1e6])
def test_water_holds_less_than_a_thousandth_of_the_energy_of_air(gauge_pa):
    kappa = IAPWS95(T=293.15, P=0.101325 + gauge_pa / 1e6).kappa * 1e-6
    # Compressed in small steps, p dV.
    steps = np.linspace(0.0, gauge_pa, 1001)
    work = np.trapezoid(steps * kappa * 150e-6, steps)
    assert liquid_energy_j(gauge_pa, 150e-6) == pytest.approx(work, rel=0.02)
    assert liquid_energy_j(gauge_pa, 150e-6) < 1e-3 * stored_energy_j(gauge_pa, 150e-6)


@pytest.mark.published(
    source="ideal gas law, and IAPWS-95 by the iapws package: density of water; a rigid vessel"
)
@pytest.mark.parametrize(
    ("celsius", "bar"),
    [(35.0, 0.40), (60.0, 10.1)],
)
def test_air_over_water_that_grows_in_a_shut_vessel(celsius, bar):
    """13.0 mL of air over 764.6 mL of water at 20 °C, as in the first demo: the same moles in what is left."""
    air, water = 13.0e-6, 764.6e-6
    cold, warm = (IAPWS95(T=t + 273.15, P=0.101325).rho for t in (20.0, celsius))
    moles = ATMOSPHERE_PA * air / (8.314462618 * 293.15)
    left = air + water - water * cold / warm
    pressure = moles * 8.314462618 * (celsius + 273.15) / left - ATMOSPHERE_PA
    told = cushion_pa(air, water * (cold / warm - 1), 293.15, celsius + 273.15)
    assert told == pytest.approx(pressure, rel=1e-9)
    assert told / 1e5 == pytest.approx(bar, rel=0.02)


def test_a_liquid_that_outgrows_its_room_has_no_bound():
    assert cushion_pa(1e-6, 1e-6, 293.15, 333.15) == math.inf
    assert cushion_pa(1e-6, 0.0, 293.15, 293.15) == pytest.approx(0.0, abs=1e-6)
