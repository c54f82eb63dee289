"""What the rules of heat say where the coolant would boil."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layouts.heat import find_hottest
from layouts.rules import heat_rules
from tests.layouts.sample_heat import follow_series, loop_of
from tests.layouts.sample_routed import L_MIN

PARTS = {"block": (500.0, 0.0), "radiator": (0.0, 30.0)}


def test_absurd_heat_is_told_without_its_numbers():
    """500 W on 0.06 mL/min."""
    panel = loop_of(
        {"block": (500.0, 0.0), "meter": (0.0, 0.0), "tube": (0.0, 0.0)}, "block", "meter", "tube"
    )
    heating = follow_series(panel, 6e-5 * L_MIN)
    assert find_hottest(heating)[0] == "block"
    assert find_hottest(heating)[1] > 1e4
    (level,) = heat_rules.check_coolant_level(panel, heating)
    assert 'at "block" the coolant would become hotter than any coolant' in level.text.lower()
    (rise,) = heat_rules.check_rises(heating)
    assert 'would boil in "block", which gets 0.00006 L/min for its 500 W' in rise.text
    assert heat_rules.check_order(replace(heating, order_effect_k=1e5)) == ()


@pytest.mark.parametrize(
    ("flow", "words"),
    [
        (0.12, 'reaches 95 °C at "block", above 60 °C'),
        (0.1, 'would reach 107 °C at "block", and boil'),
        (0.02, 'at "block" the coolant would become hotter than any coolant'),
    ],
)
def test_level_tells_boiling_from_hot(flow, words):
    """From 35 °C, 500 W over 994 kg/m3, 4.18 kJ/(kg K) and the flow: 60 K, 72 K and 361 K."""
    panel = loop_of(PARTS, "block", "radiator", ambient=None)
    found = heat_rules.check_coolant_level(panel, follow_series(panel, flow * L_MIN))
    assert any(words.lower() in finding.text.lower() for finding in found), [f.text for f in found]


@pytest.mark.parametrize(
    ("bare", "told"),
    [
        ((), None),
        (("cold",), '"cold" has neither heat nor capacity, and counts as taking no heat away'),
        (("cold", "meter"), '"cold", "meter" have neither heat nor capacity, and count as'),
    ],
)
def test_radiator_without_capacity_beside_one_with_it_is_named(bare, told):
    parts = PARTS | dict.fromkeys(bare, (0.0, 0.0))
    panel = loop_of(parts, *parts)
    found = heat_rules.check_capacities(panel, follow_series(panel))
    assert [f.code for f in found] == ["heat.capacity"] * (told is not None)
    assert all(str(told) in f.text and f.features == bare for f in found)


def test_parts_without_capacity_that_share_the_heat_are_not_idle():
    panel = loop_of({"block": (500.0, 0.0), "cold": (0.0, 0.0)}, "block", "cold")
    assert heat_rules.check_capacities(panel, follow_series(panel)) == ()


def test_tank_hotter_than_any_coolant_is_told_once():
    panel = loop_of({"block": (500.0, 0.0), "radiator": (0.0, 1.0)}, "block", "radiator")
    heating = follow_series(panel, L_MIN)
    assert heating.tank_c > 400
    assert not any("to 4" in rise.text or "boil" in rise.text for rise in heat_rules.check_rises(heating))
    (finding,) = heat_rules.check_coolant_level(panel, heating)
    assert "hotter than any coolant" in finding.text
    assert "more capacity" in finding.remedy
