"""The steps of bleeding: their order, what they name, what they never leave out."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from layouts.filling.bleed_order import order_bleeding
from layouts.filling.moving_air import find_carries
from layouts.filling.values import BleedStep, Left, LockedBore, Pocket, Tilt, TiltMap
from layouts.flow import size_flow
from layouts.plan import PlacedPort
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
CARRIES = find_carries(PANEL, ROUTED, size_flow(PANEL, ROUTED))
EMPTY = Left(PANEL.up, 1.0, 1e5, (), (), 0.0, 0.0)
POCKET = Pocket(2500.0, (75.0, 124.0, 4.5), None, 5.0, ("channel radiator - tank", "channel feed"))


def find(steps: tuple[BleedStep, ...], words: str) -> int:
    """Return the place of the only step that holds some words."""
    (place,) = (k for k, step in enumerate(steps) if words in step.text)
    return place


def bleed(name: str, at: tuple[float, float], channel: str) -> PlacedPort:
    return PlacedPort(name, "bleed", "bleed", "G1/8", "front", (*at, 20.0), at, channel, 15.5)


def test_steps_hold_with_nothing_known():
    steps = order_bleeding(PANEL, ROUTED, (), EMPTY)
    places = [
        find(steps, words)
        for words in (
            "Switch off and unplug everything near the panel",
            "fill the tank to its level, 85 %, through its fill port",
            "stop it before the tank's outlet comes bare",
            "Let the air out of the parts",
            "for 10 s and stop it for 20 s, 5 times",
            "the loop is bled when for 10 minutes no bubbles come back",
        )
    ]
    assert places == list(range(len(steps)))
    assert [step.opening for step in steps] == ["", "fill", "", "", "", ""]
    assert "never before its inlet stands in coolant" in steps[0].text
    assert "dry everything before anything else gets power" in steps[-1].text
    assert all(
        (step.text.endswith(".") and step.text[0].isupper()) or step.text[0].isdigit() for step in steps
    )


@pytest.mark.published(
    source="Simpson 1968: a drain vents itself under V / sqrt(g D) = 0.3; recalled, not verified"
)
def test_filling_is_as_slow_as_air_needs_to_come_out():
    """Through the tap drill of G1/4, 11.8 mm: 0.102 m/s, 0.67 L/min."""
    steps = order_bleeding(PANEL, ROUTED, (), EMPTY)
    assert "no faster than 0.67 L/min" in steps[1].text


def test_bleed_ports_are_opened_from_the_lowest_and_of_equals_nearest_to_the_pump():
    """In the order of the flow the channel to the radiator comes before that from it."""
    ports = (
        bleed("bleed 1", (75.0, 120.0), "pump - blocks"),
        bleed("bleed 2", (30.0, 100.0), "radiator - tank"),
        bleed("bleed 3", (80.0, 100.0), "blocks - radiator"),
    )
    steps = order_bleeding(PANEL, replace(ROUTED, ports=(*ROUTED.ports, *ports)), (), EMPTY)
    opened = [step.opening for step in steps if step.opening.startswith("bleed")]
    assert opened == ["bleed 3", "bleed 2", "bleed 1"]
    first = find(steps, 'open "bleed 3" of channel blocks - radiator until coolant without bubbles comes')
    assert first < find(steps, "Run the pump for a few seconds")
    assert find(steps, 'open "bleed 3", "bleed 2" and "bleed 1" once more') == len(steps) - 2


def test_parts_that_take_air_are_told_from_the_lowest():
    leaves = (
        ("radiator inlet", 3000.0),
        ("block b inlet", 900.0),
        ("radiator outlet", 500.0),
        ("block a inlet", 10.0),
    )
    steps = order_bleeding(PANEL, ROUTED, (), replace(EMPTY, leaves=leaves))
    assert find(
        steps, 'rises from the panel, "block b" (0.9 mL) and "radiator" (3.5 mL): open their bleed screws'
    )
    assert not any('"block a"' in step.text for step in steps)
    nothing = replace(EMPTY, leaves=(("fill", 5000.0),))
    assert not any("parts" in step.text for step in order_bleeding(PANEL, ROUTED, (), nothing))


def test_air_that_stays_is_tilted_out():
    left = replace(EMPTY, air=(POCKET,), air_mm3=2500.0)
    steps = order_bleeding(PANEL, ROUTED, (), left)
    told = steps[find(steps, "2.5 mL of air stay in channel radiator - tank as it stands")]
    assert "tilt the panel slowly to all sides" in told.text
    degrees = tuple(-45.0 + 7.5 * k for k in range(13))
    air = np.full((13, 13), 2500.0)
    air[5, 8] = 400.0
    best = Tilt(degrees[8], degrees[5])
    tilts = TiltMap(degrees, air, air, air > 0, best, best, 1.0)
    steps = order_bleeding(PANEL, ROUTED, (), left, (), tilts)
    assert find(
        steps, "tilt the panel by 15° to the right and 7.5° backwards, which leaves 0.4 mL, and back again"
    )
    level = replace(tilts, fill_best=Tilt(0.0, 0.0))
    assert find(order_bleeding(PANEL, ROUTED, (), left, (), level), "no tilt clears it; the flow must")


def test_slow_legs_are_tilted_or_flushed():
    """One that lies at 30 degrees can be held so that it rises, one that falls straight down cannot."""
    (fall,) = (carry for carry in CARRIES if carry.channel == "radiator - tank")
    back = replace(fall, verdict="rises back")
    assert not any("Tilt" in step.text for step in order_bleeding(PANEL, ROUTED, (back,), EMPTY))
    leaned = replace(PANEL, up=(np.sqrt(0.75), 0.5, 0.0))
    steps = order_bleeding(leaned, ROUTED, (back,), EMPTY)
    assert re.search(
        r"Tilt the panel by 37.5° to the (left|right) with the pump running, so that channel radiator - tank rises",
        steps[find(steps, "Tilt the panel")].text,
    )
    fast = replace(fall, verdict="carried at full speed")
    choice = replace(PANEL.pump.choices[0], speed=(1500.0, 4000.0))
    panel = replace(PANEL, pump=replace(PANEL.pump, choices=(choice,), run_at_rpm=2500.0))
    steps = order_bleeding(panel, ROUTED, (fast,), EMPTY)
    burst = steps[find(steps, "Run the pump at full speed, 4000 rpm, for 10 s")]
    assert "channel radiator - tank needs it" in burst.text
    assert find(steps, "Run the pump at its least speed, 1500 rpm") < find(steps, "at full speed")
    assert "Run the pump at 2500 rpm: the loop is bled" in steps[-1].text


def test_bores_that_hold_bubbles_are_tapped():
    locked = (LockedBore("channel feed", (0.0, 0.0, 0.0), 4.5, 4.9),)
    steps = order_bleeding(PANEL, ROUTED, (), EMPTY, locked)
    assert "tap there" in steps[find(steps, "do not rise by themselves in channel feed")].text


def test_tank_of_its_own_is_filled_as_a_vessel():
    panel = replace(PANEL, tank=replace(PANEL.tank, kind="separate", fill=None))
    assert "fill the tank's vessel to its level" in order_bleeding(panel, ROUTED, (), EMPTY)[1].text
