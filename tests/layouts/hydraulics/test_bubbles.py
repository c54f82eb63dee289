"""Air in bores, against printed formulas and values."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.errors import OutOfRange
from layouts.hydraulics.bubbles import (
    SURE_FROUDE,
    bubble_rise_m_s,
    buoyancy_reynolds,
    coolant_lock_diameter_m,
    escarameia_velocity_m_s,
    lock_diameter_m,
    rise_froude,
    self_venting_flow_m3_s,
    sure_velocity_m_s,
    wisner_velocity_m_s,
)
from layouts.hydraulics.coolant import coolant_properties

GRAVITY = 9.80665


@pytest.mark.published(
    source="Bretherton 1961, J. Fluid Mech. 10:166, abstract: rho g r2 / sigma < 0.842; density and surface tension "
    "of water by IAPWS"
)
@pytest.mark.parametrize(("celsius", "printed"), [(25.0, "4.98"), (40.0, "4.91")])
def test_bore_that_locks_a_bubble(celsius, printed):
    water = coolant_properties("water", 0.0, celsius)
    assert_as_printed(coolant_lock_diameter_m(water) * 1e3, printed, rel=0.01)


@pytest.mark.published(source="APS DFD 2016, abstract on Bretherton 1961: r < 0.918 sqrt(sigma / (rho g))")
def test_lock_radius_over_the_capillary_length():
    assert_as_printed(lock_diameter_m(1000.0, 0.072) / 2 / math.sqrt(0.072 / (1000.0 * GRAVITY)), "0.918")


@pytest.mark.published(
    source="Viana et al. 2003, J. Fluid Mech. 494:379, abstract: Fr = 0.34 / (1 + 3805 / Eo^3.06)^0.58 for a buoyancy "
    "Reynolds number over 200; water at 25 °C"
)
@pytest.mark.parametrize(
    ("bore_mm", "printed"), [(6.0, "11"), (8.0, "33"), (10.0, "66"), (12.0, "95"), (15.0, "123")]
)
def test_rise_of_a_long_bubble_in_water(bore_mm, printed):
    water = coolant_properties("water", 0.0, 25.0)
    assert buoyancy_reynolds(bore_mm / 1e3, water) > 200
    assert_as_printed(bubble_rise_m_s(bore_mm / 1e3, water) * 1e3, printed, rel=0.15)


@pytest.mark.published(
    source="Dumitrescu 1943; Davies and Taylor 1950: U = 0.34 to 0.35 sqrt(g D); recalled, not verified"
)
def test_rise_of_a_long_bubble_in_a_wide_bore():
    assert 0.335 < rise_froude(1e5, 1e4) < 0.355


@pytest.mark.published(
    source="Dumitrescu 1943: inertial limit U = 0.35 sqrt(g D), in bores far wider than these; recalled, not verified"
)
@pytest.mark.parametrize(("bore_mm", "printed"), [(10.0, "0.110"), (12.0, "0.120")])
def test_inertial_limit_of_the_rise(bore_mm, printed):
    """Within 4 %: the correlation's own limit is 0.34 sqrt(g D)."""
    assert_as_printed(rise_froude(1e6, 1e6) * math.sqrt(GRAVITY * bore_mm / 1e3), printed, rel=0.04)


@pytest.mark.published(
    source="Viana et al. 2003, J. Fluid Mech. 494:379, abstract: the two limits of the correlation, for a buoyancy "
    "Reynolds number over 200 and under 10"
)
@pytest.mark.parametrize("eotvos", [20.0, 30.0, 60.0, 100.0, 1000.0])
def test_correlation_of_the_rise_meets_both_limits(eotvos):
    fast = 0.34 / (1 + 3805 / eotvos**3.06) ** 0.58
    for reynolds in (200.0, 500.0, 2000.0):
        assert rise_froude(reynolds, eotvos) == pytest.approx(fast, rel=0.07)
    for reynolds in (1.0, 4.0, 10.0):
        slow = 9.494e-3 / (1 + 6197 / eotvos**2.561) ** 0.5793 * reynolds**1.026
        assert rise_froude(reynolds, eotvos) == pytest.approx(slow, rel=0.10)


@pytest.mark.published(
    source="Wisner, in Sanks, Pumping Station Design: V / sqrt(g D) = 0.825 + 0.25 sqrt(sin slope)"
)
@pytest.mark.parametrize(
    ("bore_mm", "slope", "printed"),
    [(10.0, 5.0, "0.281"), (10.0, 30.0, "0.314"), (10.0, 90.0, "0.337"), (8.0, 90.0, "0.301")],
)
def test_clearing_by_wisner(bore_mm, slope, printed):
    assert_as_printed(wisner_velocity_m_s(bore_mm / 1e3, slope), printed)


@pytest.mark.published(
    source="Escarameia, HR Wallingford SR 649: V / sqrt(g D) = a + 0.56 sqrt(sin slope); a = 0.61: recalled, not "
    "verified"
)
@pytest.mark.parametrize(("slope", "printed"), [(5.0, "0.243"), (30.0, "0.315"), (90.0, "0.366")])
def test_clearing_by_escarameia(slope, printed):
    assert_as_printed(escarameia_velocity_m_s(0.010, slope), printed)


@pytest.mark.published(source="V = 1.2 sqrt(g D) over both formulas of clearing at any slope, derived; 10 mm")
def test_sure_velocity():
    assert_as_printed(sure_velocity_m_s(0.010), "0.376")


@settings(max_examples=50, deadline=None)
@given(bore=st.floats(1e-3, 0.1), slope=st.floats(0.0, 90.0))
def test_sure_velocity_is_over_both_formulas(bore, slope):
    both = wisner_velocity_m_s(bore, slope), escarameia_velocity_m_s(bore, slope)
    assert max(both) < sure_velocity_m_s(bore) <= SURE_FROUDE * 1.0001 * math.sqrt(GRAVITY * bore)


@pytest.mark.published(
    source="Simpson 1968, Chemical Engineering 75(13):192: a drain vents itself under V / sqrt(g D) = 0.3; its "
    "value is recalled, not verified"
)
def test_self_venting_flow():
    velocity = self_venting_flow_m3_s(0.020) / (math.pi / 4 * 0.020**2)
    assert velocity / math.sqrt(GRAVITY * 0.020) == pytest.approx(0.3)


@settings(max_examples=30, deadline=None)
@given(small=st.floats(4e-3, 0.05), wider=st.floats(1.0, 2.0))
def test_wider_bores_let_bubbles_rise_faster(small, wider):
    water = coolant_properties("water", 0.0, 20.0)
    assert bubble_rise_m_s(small, water) <= bubble_rise_m_s(small * wider, water) * (1 + 1e-12)


def test_locked_bubble_does_not_rise():
    water = coolant_properties("water", 0.0, 25.0)
    assert bubble_rise_m_s(0.0049, water) == 0.0
    assert bubble_rise_m_s(0.0051, water) > 0.0
    # Thick coolant holds it back too.
    thick = replace(water, viscosity_pa_s=100 * water.viscosity_pa_s)
    assert 0.0 < bubble_rise_m_s(0.012, thick) < 0.7 * bubble_rise_m_s(0.012, water)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: lock_diameter_m(0.0, 0.07), "density"),
        (lambda: sure_velocity_m_s(0.0), "must be greater than 0"),
        (lambda: bubble_rise_m_s(-1.0, coolant_properties("water", 0.0, 25.0)), "must be greater than 0"),
        (lambda: wisner_velocity_m_s(0.01, 91.0), "between 0 and 90"),
        (lambda: self_venting_flow_m3_s(0.0), "must be greater than 0"),
    ],
)
def test_what_no_bore_has_is_refused(call, match):
    with pytest.raises(OutOfRange, match=match):
        call()
