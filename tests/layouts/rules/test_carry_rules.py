"""Air that should be carried down: what is found, and that what a remedy says cures it."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from sample_demos import plan_demo

from geom.findings import Finding
from layouts.file.read import read_panel
from layouts.filling.moving_air import at_full_speed, find_carries
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Filling, Left, Pocket, Tilt
from layouts.flow import size_flow
from layouts.hydraulics.pump import scale_affinity
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path
from layouts.plan import PlacedPort, Routed
from layouts.route import route_panel
from layouts.routing.effort import QUICK
from layouts.rules.carry_rules import check_carries
from layouts.rules.filling_rules import check_filling
from tests.layouts.sample_routed import sample_panel, sample_routed, with_curve, with_parts

PANEL, ROUTED = sample_panel(), sample_routed()
RETURN = "radiator - tank"
CURVE = 'curve = [["0 L/min", "3.2 m"], ["4 L/min", "2.6 m"], ["8 L/min", "1.4 m"]]'


def ask(panel: Panel, routed: Routed = ROUTED, air: tuple[Pocket, ...] = ()) -> tuple[Finding, ...]:
    carries = find_carries(panel, routed, size_flow(panel, routed))
    left = Left(panel.up, 1.0, 1e5, air, (), sum(pocket.volume_mm3 for pocket in air), 0.0)
    return tuple(
        each for each in check_carries(panel, routed, Filling(left, carries=carries)) if RETURN in each.text
    )


def slow(velocity: float) -> Panel:
    """Return the sample with so weak a pump that its return runs at some velocity: all goes with the square."""
    flow = velocity * 72e-6 * 6e4
    fall = 50.25 + 0.03
    return with_parts(
        with_curve(PANEL, fall * flow**2, 0.03, min(11.5, 30.0 * flow)),
        block_a=1.0,
        block_b=1.0,
        radiator=50.0,
    )


def pocket_at(height: float, depth: float = 5.0, name: str = RETURN) -> Pocket:
    return Pocket(2500.0, (75.0, height, 4.5), None, depth, (f"channel {name}",))


def test_leg_that_carries_is_silent():
    assert ask(slow(0.40)) == ()
    assert ask(slow(0.40), air=(pocket_at(124.0),)) == ()


def test_air_that_goes_back_up_is_a_note_where_none_stays():
    (finding,) = ask(slow(0.25))
    assert (finding.code, finding.severity, finding.unit) == ("air.carry", "note", "m/s")
    assert finding.value == pytest.approx(0.25, rel=0.02)
    assert finding.limit == pytest.approx(1.2 * math.sqrt(9.80665 * 0.144 / 17))
    assert finding.at_mm == (75.0, 120.0, 4.5)
    assert finding.features == (f"channel {RETURN}",)
    assert "runs 20 mm down, at 90 degrees, at 0.25 m/s; air goes back up" in finding.text
    assert "bleed port" not in finding.remedy


def test_air_that_stays_at_its_head_is_a_caution_and_a_bleed_port_there_cures_it():
    panel = slow(0.20)
    (finding,) = ask(panel, air=(pocket_at(124.0),))
    assert finding.severity == "caution"
    assert (
        "2.5 mL of air stays at its head when it is filled and costs up to 20 mm of the pump's head"
        in finding.text
    )
    assert f'bleed = ["{RETURN}"] in [service]' in finding.remedy
    port = PlacedPort(
        "bleed 1", "bleed", "bleed", "G1/8", "front", (75.0, 120.0, 20.0), (75.0, 120.0), RETURN, 15.5
    )
    assert ask(panel, replace(ROUTED, ports=(*ROUTED.ports, port)), (pocket_at(124.0),)) == ()
    # One at its foot or of another channel lets no air out of its head, nor does one over a valley.
    for other in (replace(port, foot=(75.0, 100.0)), replace(port, channel="feed")):
        (found,) = ask(panel, replace(ROUTED, ports=(*ROUTED.ports, other)), (pocket_at(124.0),))
        assert found.severity == "caution"


def valley(foot: tuple[float, float], *points: tuple[float, float]) -> Routed:
    """Return the sample whose return falls, rises and falls again, with a bleed port at one place."""
    channels = tuple(
        replace(each, legs=(replace(each.legs[0], points=points),)) if each.name == RETURN else each
        for each in ROUTED.channels
    )
    port = PlacedPort("bleed 1", "bleed", "bleed", "G1/8", "front", (*foot, 20.0), foot, RETURN, 15.5)
    return replace(ROUTED, ports=(*ROUTED.ports, port), channels=channels)


@pytest.mark.parametrize(
    ("foot", "deep", "silent"),
    [
        # Over the second fall: that of 20 mm before the valley stays; over the first one, that after it.
        ((95.0, 125.0), 100.0, False),
        ((75.0, 120.0), 100.0, False),
        # What is no valley, being not half as deep as the channel is wide, hides nothing from a port beyond it; nor
        # must a port stand at a corner.
        ((95.0, 125.0), 117.0, True),
        ((90.0, 125.0), 117.0, True),
    ],
)
def test_bleed_port_beyond_a_valley_clears_no_fall(foot, deep, silent):
    routed = valley(
        foot,
        (75.0, 120.0),
        (75.0, deep),
        (85.0, deep),
        (85.0, 125.0),
        (95.0, 125.0),
        (95.0, 95.0),
        (110.0, 95.0),
    )
    panel = slow(0.20)
    carries = find_carries(panel, routed, size_flow(panel, routed))
    assert sum(carry.channel == RETURN for carry in carries) == (1 if silent else 2)
    found = ask(panel, routed)
    assert (found == ()) is silent
    if not silent:
        assert found[0].at_mm[:2] == ((75.0, 120.0) if foot == (95.0, 125.0) else (95.0, 125.0))


@pytest.mark.published(
    source="May, Allen and Nelson 2018, Int. J. Hydraulic Engineering 7(3):51-57, abstract: the head that a pocket "
    "costs came close to its measured vertical height"
)
@pytest.mark.parametrize(("up", "printed"), [((0.0, 1.0, 0.0), "20"), ((0.0, 0.5, math.sqrt(0.75)), "10")])
def test_air_in_a_leg_costs_its_height(up, printed):
    """20 mm of channel, upright and leaned back to 30 degrees."""
    panel = replace(slow(0.20), up=up)
    high = tuple(part * 124.0 for part in up)
    (finding,) = ask(panel, air=(replace(pocket_at(124.0), at=(75.0, 124.0, 4.5), depth=high[1] + 5.0),))
    told = re.search(r"costs up to (\d+) mm of the pump's head", finding.text)
    assert told is not None
    assert told[1] == printed


@pytest.mark.parametrize("air", [pocket_at(145.0), pocket_at(124.0, name="blocks - radiator")])
def test_air_elsewhere_leaves_it_a_note(air):
    (finding,) = ask(slow(0.20), air=(air,))
    assert finding.severity == "note"


def test_air_that_may_be_carried_is_a_note_though_some_stays():
    (finding,) = ask(slow(0.33), air=(pocket_at(124.0),))
    assert finding.severity == "note"
    assert "air may be carried along from 0.31 m/s (0.34 m/s by another formula)" in finding.text


def test_narrow_channel_locks_bubbles():
    channels = tuple(
        replace(each, width=4.5, depth=4.5) if each.name == RETURN else each for each in ROUTED.channels
    )
    routed = replace(ROUTED, channels=channels)
    (finding,) = ask(slow(0.06), routed, (pocket_at(121.0),))
    assert finding.severity == "caution"
    assert "bubbles lock in bores under 5.0 mm" in finding.text


def test_full_speed_that_carries_is_told_and_does():
    panel = slow(0.45)
    choice = replace(panel.pump.choices[0], curve=panel.pump.curve, speed=(1000.0, 4000.0))
    pump = replace(
        panel.pump, curve=scale_affinity(panel.pump.curve, 0.6), choices=(choice,), run_at_rpm=2400.0
    )
    panel = replace(panel, pump=pump)
    (finding,) = ask(panel)
    assert finding.severity == "note"
    assert "which it has with the pump at full speed (0.45 m/s)" in finding.text
    assert "bleed with the pump at full speed, 4000 rpm" in finding.remedy.lower()
    assert ask(at_full_speed(panel)) == ()


def test_tilt_of_the_remedy_lets_the_leg_rise():
    turned = math.radians(60.0)
    panel = replace(slow(0.20), up=(math.sin(turned), math.cos(turned), 0.0))
    (finding,) = ask(panel)
    told = re.search(r"tilt the panel by ([\d.]+)° to the (right|left)", finding.remedy.lower())
    assert told is not None
    tilt = Tilt(float(told[1]) * (1 if told[2] == "right" else -1), 0.0)
    assert ask(replace(panel, up=tilted_up(panel.up, tilt))) == ()


def test_flow_of_the_remedy_carries():
    panel = slow(0.15)
    (finding,) = ask(panel)
    told = re.search(r"let ([\d.]+) times as much coolant", finding.remedy.lower())
    assert told is not None
    assert ask(slow(0.15 * float(told[1]) * 1.01)) == ()


def test_flow_that_no_pump_of_this_loop_gives_is_not_asked_for():
    (finding,) = ask(slow(0.05))
    assert "times as much" not in finding.remedy
    assert finding.remedy == "Let it rise along its flow: no flow of this pump does it."


def test_width_of_the_remedy_carries_once_it_stands_in_the_file(tmp_path):
    """Routed and solved anew from the file that the remedy asks for; half a millimetre more would not do."""
    text = demo_path("new").read_text(encoding="utf-8")
    assert CURVE in text
    weak = text.replace(CURVE, 'curve = [["0 L/min", "0.45 m"], ["1 L/min", "0.36 m"], ["3 L/min", "0.1 m"]]')
    (finding,) = ask(*_route(tmp_path, weak))
    told = re.search(rf'own = {{ "{RETURN}" = "([\d.]+) mm" }} into \[channel\]', finding.remedy)
    assert told is not None
    width = float(told[1])
    assert 6.0 <= width < 8.0
    for own_width, silent in ((width, True), (width + 0.5, False)):
        own = f'width = "8 mm"\nown = {{ "{RETURN}" = "{own_width:g} mm" }}\n'
        assert (ask(*_route(tmp_path, weak.replace('width = "8 mm"\n', own))) == ()) is silent
    # None narrower than the cutter, and none where the file widens all again.
    for key, other in (
        ('cutter = "6 mm"', 'cutter = "8 mm"'),
        ('width = "8 mm"\n', 'width = "8 mm"\nwiden_to = "9 mm"\n'),
    ):
        (finding,) = ask(*_route(tmp_path, weak.replace(key, other)))
        assert "own = " not in finding.remedy


def _route(folder: Path, text: str) -> tuple[Panel, Routed]:
    path = folder / "panel.toml"
    path.write_text(text, encoding="utf-8")
    panel = read_panel(path)
    return panel, route_panel(panel, 0, QUICK)


def test_demo_whose_plates_stand_under_their_manifold():
    plan = plan_demo("cell-tester")
    assert plan.filling is not None
    (finding,) = (each for each in plan.findings if each.code == "air.carry")
    assert finding.features == ("channel pump - cold plate 1 + cold plate 2 + cold plate 3 + cold plate 4",)
    assert finding in check_filling(plan.panel, plan.routed, plan.filling)


def test_filling_that_was_not_looked_at_says_nothing():
    assert check_filling(PANEL, ROUTED, None) == ()
