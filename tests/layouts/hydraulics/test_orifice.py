"""Orifices: limits, direction, and the bore for a drop."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.orifice import MOST_BORE_SHARE, fitting_bore_mm, loss_orifice, size_orifice_m
from layouts.hydraulics.segments import Orifice, drop_band, drop_kind, drop_pa

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 25.0, 997.05, 890.1e-6, 4181.3, 3169.9, 0.0)
FITTING_M = 0.0088


def test_no_orifice_no_loss():
    assert loss_orifice(1.0) == 0.0
    assert fitting_bore_mm(11.8) == pytest.approx(8.8)


@pytest.mark.parametrize("ratio", [0.0, -0.1, 1.1, math.nan])
def test_area_ratio_refused(ratio):
    with pytest.raises(OutOfRange, match="area ratio"):
        loss_orifice(ratio)


@pytest.mark.parametrize(
    ("bore", "fitting", "says"),
    [(0.009, 0.0088, "less than"), (0.0, 0.0088, "bore 0 m"), (0.004, 0.0, "fitting 0")],
)
def test_orifice_refused(bore, fitting, says):
    with pytest.raises(OutOfRange, match=says):
        Orifice(bore, fitting)


def test_drop_goes_with_the_square_either_way_and_counts_as_the_part():
    orifice = Orifice(0.004, FITTING_M)
    assert drop_pa(orifice, 2 * L_MIN, WATER) == pytest.approx(4 * drop_pa(orifice, L_MIN, WATER))
    assert drop_pa(orifice, -L_MIN, WATER) == -drop_pa(orifice, L_MIN, WATER)
    velocity = L_MIN / (math.pi / 4 * 0.004**2)
    head = 0.5 * WATER.density_kg_m3 * velocity**2
    assert drop_pa(orifice, L_MIN, WATER) == pytest.approx(loss_orifice((0.004 / FITTING_M) ** 2) * head)
    assert drop_kind(orifice) == "part"
    assert drop_band(orifice, L_MIN, WATER) == 0.30
    assert drop_band(orifice, 0.01 * L_MIN, WATER) == 0.60


@given(st.floats(0.001, MOST_BORE_SHARE * FITTING_M * 0.999), st.floats(0.01, 30.0))
def test_bore_for_a_drop_costs_it(bore, flow):
    drop = drop_pa(Orifice(bore, FITTING_M), flow * L_MIN, WATER)
    found = size_orifice_m(drop, flow * L_MIN, FITTING_M, WATER)
    assert found == pytest.approx(bore, rel=1e-6)


def test_less_than_the_widest_costs_is_no_bore():
    assert size_orifice_m(1e-3, L_MIN, FITTING_M, WATER) is None
