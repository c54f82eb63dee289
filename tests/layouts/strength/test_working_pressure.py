"""The pressure in use by hydrostatics, and the warmest coolant."""

from dataclasses import replace

import pytest
from printed import assert_as_printed

from layouts.advice import Heating, HeatStep
from layouts.strength.working_pressure import find_working_pressure, hottest_coolant_c
from tests.layouts.sample_routed import sample_panel


@pytest.mark.published(source="hydrostatics: 1 m of water at 20 °C is 998.2 kg/m3 * 9.80665 m/s2 = 9.79 kPa")
def test_a_metre_of_water():
    panel = sample_panel()
    working = find_working_pressure(replace(panel, coolant=replace(panel.coolant, temperature_c=20.0)))
    assert_as_printed(working.pressure_pa / (working.head_m + working.height_m) / 1e3, "9.79")
    assert working.head_m == 3.9
    # Upright, the panel's 140 mm stand over its lowest place.
    assert working.height_m == pytest.approx(0.140)


def test_height_follows_how_the_panel_is_installed():
    panel = sample_panel()
    flat = find_working_pressure(replace(panel, up=(0.0, 0.0, -1.0)))
    assert flat.height_m == pytest.approx(0.028)
    askew = find_working_pressure(replace(panel, up=(-0.6, 0.8, 0.0)))
    assert askew.height_m == pytest.approx(0.6 * 0.2 + 0.8 * 0.14)


def test_a_pump_that_is_slowed_counts_at_its_most_speed():
    panel = sample_panel()
    slowed = replace(panel.pump, curve=tuple((q, h / 2) for q, h in panel.pump.curve), run_at_rpm=2000.0)
    assert find_working_pressure(replace(panel, pump=slowed)).head_m == 3.9


@pytest.mark.parametrize(
    ("tank", "inlet", "outlet"), [(36.0, 35.0, 41.5), (41.5, 30.0, 20.0), (30.0, 41.5, 20.0)]
)
def test_the_warmest_place_counts(tank, inlet, outlet):
    step = HeatStep("block", 5e-5, 100.0, inlet, outlet)
    heating = Heating((step,), tank, 0.0, 100.0, None, False, None, "")
    assert hottest_coolant_c(sample_panel(), heating) == 41.5


def test_the_file_counts_where_nothing_is_warmer():
    heating = Heating((), 20.0, 0.0, 100.0, None, False, None, "")
    assert hottest_coolant_c(sample_panel(), heating) == 35.0
