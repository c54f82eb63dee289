"""What the rules of feed and filling say of a panel that lies flat, hangs upside down or leans."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from geom.findings import Finding
from layouts.feed import examine_feed
from layouts.flow import size_flow
from layouts.installed import TURN_UPRIGHT, outlet_stands_high
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules import feed_rules, fill_rules
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
FLOWING = size_flow(PANEL, ROUTED)
SEPARATE = replace(ROUTED, tank=replace(ROUTED.tank, box=None))
FRONT_UP, COVER_UP, UPSIDE_DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (0.0, -1.0, 0.0)


def lean(degrees: float) -> tuple[float, float, float]:
    """Return up where the panel's own y leans that far to the right."""
    return (math.sin(math.radians(degrees)), math.cos(math.radians(degrees)), 0.0)


def judge(panel: Panel, routed: Routed = ROUTED) -> dict[str, Finding]:
    """Return the findings of feed and filling, one of each code."""
    feeding = examine_feed(panel, routed, FLOWING)
    found = (
        *feed_rules.check_feed_column(panel, routed),
        *feed_rules.check_feed_low(panel, routed),
        *feed_rules.check_feed_depth(panel, routed, FLOWING, feeding),
        *feed_rules.check_feed_tilt(panel, routed, feeding),
        *fill_rules.check_fill(panel, routed),
        *fill_rules.note_volume(panel, routed, feeding),
    )
    return {finding.code: finding for finding in found}


@pytest.mark.published(source="common practice, no source")
@pytest.mark.parametrize(
    ("up", "on", "severity", "words"),
    [
        (
            FRONT_UP,
            "front",
            "fault",
            "its pocket, 13 mm, and does not stand above the inlet of the pump on top",
        ),
        (COVER_UP, "back", "fault", "so it is not fed by height"),
        (COVER_UP, "front", "caution", "covers the inlet of the pump under it no longer than"),
        (FRONT_UP, "back", "caution", "its pocket, 13 mm"),
    ],
)
def test_panel_that_lies_flat_does_not_feed_its_pump_by_height(up, on, severity, words):
    panel = replace(PANEL, up=up, pump=replace(PANEL.pump, on=on))
    found = judge(panel)
    assert found["feed.low"].severity == severity
    assert "the panel lies flat" in found["feed.low"].text
    assert words in found["feed.low"].text
    assert found["feed.low"].remedy.lower().startswith('correct "up"')
    assert "make sure by filling" not in found["feed.column"].remedy
    assert not {"feed.depth", "feed.tilt"} & found.keys()
    # Its mouth lies in the top edge, at the height of the channels.
    assert found["tank.fill"].remedy.lower().startswith('correct "up"')


def test_separate_tank_of_a_flat_panel_may_stand_high_enough():
    (finding,) = feed_rules.check_feed_low(replace(PANEL, up=FRONT_UP), SEPARATE)
    assert finding.severity == "caution"
    assert "separate tank" in finding.text
    assert finding.remedy.startswith("Set the tank above the panel")


def test_upside_down_every_remedy_turns_the_panel():
    found = judge(replace(PANEL, up=UPSIDE_DOWN))
    assert found["feed.low"].severity == found["feed.depth"].severity == "fault"
    for code in ("feed.column", "feed.depth", "feed.tilt", "tank.fill"):
        assert found[code].remedy.lower().startswith(TURN_UPRIGHT.lower()), code
        assert not any(word in found[code].remedy for word in ("level", "taller", "filling", "fill port"))


def test_inlet_as_high_as_the_outlet():
    assert "stands as high as the tank's outlet" in judge(replace(PANEL, up=lean(90.0)))["feed.low"].text


def test_fill_port_on_the_top_edge_is_not_sent_there():
    """The panel on its right edge: the tank's top edge stands upright, and the port's mouth in mid-height."""
    found = judge(replace(PANEL, up=lean(-90.0)))
    assert "fill =" not in found["tank.fill"].remedy
    assert "lower level" in found["tank.fill"].remedy
    ports = tuple(replace(p, on="front") if p.name == "fill" else p for p in ROUTED.ports)
    aside = judge(replace(PANEL, up=UPSIDE_DOWN), replace(ROUTED, ports=ports))["tank.fill"].remedy
    assert aside.lower().startswith(TURN_UPRIGHT.lower())
    assert 'fill = { on = "top" }' in aside


def test_a_panel_that_leans_keeps_the_remedies_of_an_upright_one():
    found = judge(replace(PANEL, up=lean(20.0), tank=replace(PANEL.tank, level=0.1)))
    assert "make sure by filling" in found["feed.column"].remedy
    assert found["feed.depth"].remedy.startswith("Raise level")
    assert found["feed.tilt"].remedy.startswith("Raise level")


@pytest.mark.parametrize(
    ("up", "high"),
    [
        ((0.0, 1.0, 0.0), False),
        (UPSIDE_DOWN, True),
        (lean(80.0), False),
        (lean(100.0), True),
        (FRONT_UP, False),
    ],
)
def test_outlet_stands_high(up, high):
    assert outlet_stands_high(replace(PANEL, up=up), ROUTED) is high
    assert not outlet_stands_high(replace(PANEL, up=up), SEPARATE)
