"""Surface tension, against the release's values."""

from __future__ import annotations

import pytest
from printed import assert_as_printed

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.surface_tension import most_surface_tension_n_m, water_surface_tension_n_m


@pytest.mark.published(source="IAPWS R1-76(2014), by the library iapws 1.5.5 and CoolProp 8.0.0, [mN/m]")
@pytest.mark.parametrize(
    ("celsius", "printed"),
    [
        (10.0, "74.22"),
        (20.0, "72.74"),
        (25.0, "71.97"),
        (30.0, "71.19"),
        (40.0, "69.60"),
        (50.0, "67.94"),
        (60.0, "66.24"),
    ],
)
def test_water(celsius, printed):
    assert_as_printed(water_surface_tension_n_m(celsius) * 1e3, printed)


def test_a_mix_is_taken_to_have_no_more_than_water():
    mix = coolant_properties("ethylene glycol", 0.5, 40.0)
    assert most_surface_tension_n_m(mix) == water_surface_tension_n_m(40.0)
    cold = coolant_properties("ethylene glycol", 0.5, -30.0)
    assert most_surface_tension_n_m(cold) == water_surface_tension_n_m(-25.0)


@pytest.mark.parametrize("celsius", [-25.1, 374.0, float("nan")])
def test_temperatures_without_a_value_are_refused(celsius):
    with pytest.raises(OutOfRange, match="known from -25"):
        water_surface_tension_n_m(celsius)
