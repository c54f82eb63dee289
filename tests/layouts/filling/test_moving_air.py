"""Air that the flow should carry: legs by hand, all verdicts, bores that hold bubbles."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.filling import moving_air
from layouts.filling.carry_tilts import find_rising_tilt
from layouts.filling.moving_air import (
    at_full_speed,
    find_carries,
    find_locked_bores,
    full_speed_rpm,
    judge_carry,
)
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Carry, Tilt, TiltMap
from layouts.flow import size_flow
from layouts.hydraulics.pump import scale_affinity
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_panel, sample_routed, with_curve, with_parts

GRAVITY = 9.80665
PANEL, ROUTED = sample_panel(), sample_routed()
FLOWING = size_flow(PANEL, ROUTED)
RETURN = "radiator - tank"


def at_speed(velocity: float, name: str = RETURN) -> Flowing:
    """Return the sample's flow with another velocity in one channel."""
    channels = []
    for channel, flow in zip(ROUTED.channels, FLOWING.channels, strict=True):
        if flow.channel == name:
            moved = velocity * channel.width * channel.depth * 1e-6
            legs = tuple(replace(leg, flow_m3_s=moved, velocity_m_s=velocity) for leg in flow.legs)
            flow = replace(flow, flow_m3_s=moved, velocity_m_s=velocity, legs=legs)
        channels.append(flow)
    return replace(FLOWING, channels=tuple(channels))


def turn_round(flowing: Flowing) -> Flowing:
    """Return the flow the other way round."""
    channels = tuple(
        replace(flow, legs=tuple(replace(leg, flow_m3_s=-leg.flow_m3_s) for leg in flow.legs))
        for flow in flowing.channels
    )
    return replace(flowing, channels=channels)


def of_return(panel: Panel, flowing: Flowing, routed: Routed = ROUTED) -> tuple[Carry, ...]:
    return tuple(carry for carry in find_carries(panel, routed, flowing) if carry.channel == RETURN)


def slow_pump(running: float, most: float) -> Panel:
    """Return the sample with a pump of a range, running slower than it may; parts rule the loop."""
    panel = with_parts(with_curve(PANEL, 4.0, 0.03, 11.5), block_a=1.0, block_b=1.0, radiator=50.0)
    choice = replace(panel.pump.choices[0], curve=panel.pump.curve, speed=(500.0, most))
    curve = scale_affinity(choice.curve, running / most)
    return replace(panel, pump=replace(panel.pump, curve=curve, choices=(choice,), run_at_rpm=running))


def test_leg_that_falls_straight_down_by_hand():
    """8 x 9 mm: hydraulic diameter 144/17 mm; 20 mm from (75, 120) to (75, 100), then level."""
    (carry,) = of_return(PANEL, at_speed(0.3))
    root = math.sqrt(GRAVITY * 0.144 / 17)
    assert (carry.top, carry.foot, carry.layer) == ((75.0, 120.0), (75.0, 100.0), "back")
    assert (carry.falls, carry.slope_deg) == pytest.approx((20.0, 90.0))
    assert carry.bore == pytest.approx(144 / 17)
    assert carry.velocity_m_s == pytest.approx(0.3)
    assert carry.clears_m_s == pytest.approx((1.075 * root, 1.17 * root))
    assert carry.surely_m_s == pytest.approx(1.2 * root)
    # By its smaller side, at 35 °C: the printed 33 mm/s in 8 mm of water at 25 °C.
    assert carry.rise_m_s == pytest.approx(0.033, rel=0.15)


def test_slopes_are_those_of_the_panel_as_installed():
    """Turned by 10 degrees, the level piece falls too, and both are one fall."""
    turned = math.radians(10.0)
    panel = replace(PANEL, up=(-math.sin(turned), math.cos(turned), 0.0))
    (carry,) = of_return(panel, at_speed(0.3))
    assert carry.foot == (110.0, 100.0)
    assert carry.falls == pytest.approx(20.0 * math.cos(turned) + 35.0 * math.sin(turned))
    assert carry.slope_deg == pytest.approx(80.0)
    # The other way the level piece rises and ends the fall.
    panel = replace(PANEL, up=(math.sin(turned), math.cos(turned), 0.0))
    (carry,) = of_return(panel, at_speed(0.3))
    assert carry.foot == (75.0, 100.0)


def test_up_may_leave_the_panels_plane():
    """Leaned back to 30 degrees over the floor, a leg that ran straight down has that slope."""
    panel = replace(PANEL, up=(0.0, 0.5, math.sqrt(0.75)))
    (carry,) = of_return(panel, at_speed(0.3))
    assert carry.slope_deg == pytest.approx(30.0)
    assert carry.falls == pytest.approx(10.0)


def test_through_holes_fall_where_the_panel_lies_flat():
    """Coolant goes from the front layer to the back one, 13 mm down; the hole is narrower than its channel."""
    panel, routed = sample_faces()
    flowing = size_flow(panel, routed)
    (carry,) = find_carries(replace(panel, up=(0.0, 0.0, 1.0)), routed, flowing)
    channel = routed.channel("blocks - radiator")
    assert (carry.channel, carry.slope_deg) == (channel.name, pytest.approx(90.0))
    assert carry.falls == pytest.approx(panel.make.body - channel.depth)
    assert carry.top == carry.foot == channel.holes[0]
    assert carry.layer == "front"
    assert carry.bore == 7.6
    flow = next(leg.flow_m3_s for leg in flowing.channels[2].legs if leg.leg == carry.leg)
    assert carry.velocity_m_s == pytest.approx(abs(flow) / (math.pi / 4 * 7.6e-3**2))
    # On its face they rise, and fall where the flow turns round.
    face_down = replace(panel, up=(0.0, 0.0, -1.0))
    assert find_carries(face_down, routed, flowing) == ()
    (back,) = find_carries(face_down, routed, turn_round(flowing))
    assert (back.layer, back.top, back.falls) == ("back", carry.top, carry.falls)


def test_turned_flow_falls_where_it_rose():
    ahead, back = (
        {carry.channel for carry in find_carries(PANEL, ROUTED, flow)}
        for flow in (FLOWING, turn_round(FLOWING))
    )
    assert ahead == {"pump - blocks", RETURN}
    assert back == {"blocks - radiator"}


def test_feed_drain_and_low_falls_are_left_out():
    upside = replace(PANEL, up=(0.0, -1.0, 0.0))
    for panel in (PANEL, upside):
        assert not {"feed", "drain"} & {carry.channel for carry in find_carries(panel, ROUTED, FLOWING)}
    # From 20 mm on a fall of a channel of 20 mm is none.
    wide = tuple(replace(each, width=20.0) if each.name == RETURN else each for each in ROUTED.channels)
    assert of_return(PANEL, FLOWING, replace(ROUTED, channels=wide)) == ()


def test_full_speed_is_solved_anew():
    """Where the parts rule the loop and all goes with the square, twice the speed is twice the flow."""
    panel = slow_pump(2000.0, 4000.0)
    flowing = size_flow(panel, ROUTED)
    (carry,) = of_return(panel, flowing)
    assert carry.full_velocity_m_s == pytest.approx(2 * carry.velocity_m_s, rel=0.02)
    full = at_full_speed(panel)
    solved = size_flow(full, ROUTED)
    assert carry.full_velocity_m_s == pytest.approx(
        next(flow.velocity_m_s for flow in solved.channels if flow.channel == RETURN), rel=1e-6
    )
    assert full_speed_rpm(panel) == 4000.0
    assert full_speed_rpm(PANEL) is None
    assert at_full_speed(PANEL) is PANEL
    assert [c.full_velocity_m_s for c in of_return(PANEL, FLOWING)] == [
        c.velocity_m_s for c in of_return(PANEL, FLOWING)
    ]


def test_every_verdict_by_the_velocity():
    assert [of_return(PANEL, at_speed(v))[0].verdict for v in (0.35, 0.32, 0.30)] == [
        "carried",
        "may be carried",
        "rises back",
    ]
    narrow = tuple(replace(each, width=4.5) if each.name == RETURN else each for each in ROUTED.channels)
    (locked,) = of_return(PANEL, at_speed(0.1), replace(ROUTED, channels=narrow))
    assert (locked.verdict, locked.rise_m_s) == ("locks", 0.0)
    # The sure velocity in 4.5 x 9 mm is 0.29 m/s, wherever bubbles lock.
    (pushed,) = of_return(PANEL, at_speed(0.2), replace(ROUTED, channels=narrow))
    assert pushed.velocity_m_s > pushed.surely_m_s
    assert pushed.verdict == "carried"


@pytest.mark.parametrize(
    ("velocity", "full", "locks", "verdict"),
    [
        (0.40, 0.40, False, "carried"),
        (0.40, 0.40, True, "carried"),
        (0.20, 0.36, False, "carried at full speed"),
        (0.20, 0.36, True, "carried at full speed"),
        (0.31, 0.31, False, "may be carried"),
        (0.20, 0.31, False, "may be carried"),
        (0.20, 0.29, False, "rises back"),
        (0.31, 0.31, True, "locks"),
    ],
)
def test_verdicts(velocity, full, locks, verdict):
    assert judge_carry(velocity, full, 0.30, 0.35, locks) == verdict


@settings(max_examples=40, deadline=None)
@given(
    slow=st.floats(0.01, 1.0),
    more=st.floats(1.0, 2.0),
    full=st.floats(1.0, 2.0),
    locks=st.booleans(),
)
def test_more_speed_is_never_worse(slow, more, full, locks):
    order = ("locks", "rises back", "may be carried", "carried at full speed", "carried")
    one, two = (order.index(judge_carry(v, v * full, 0.30, 0.35, locks)) for v in (slow, slow * more))
    assert two >= one


def test_tilt_with_which_a_leg_rises():
    """Turned by 60 degrees the first piece falls at 30: 37.5 degrees more to that side and it rises."""
    turned = math.radians(60.0)
    panel = replace(PANEL, up=(math.sin(turned), math.cos(turned), 0.0))
    (carry,) = of_return(panel, at_speed(0.1))
    assert carry.slope_deg == pytest.approx(30.0)
    tilt = find_rising_tilt(panel, ROUTED, carry)
    assert tilt is not None
    assert max(abs(tilt.right), abs(tilt.front)) == 37.5
    assert of_return(replace(panel, up=tilted_up(panel.up, tilt)), at_speed(0.1)) == ()
    # No tilt with which the tank's outlet is bare.
    degrees = tuple(-45.0 + 7.5 * k for k in range(13))
    none = np.zeros((13, 13))
    bare = TiltMap(degrees, none, none, none > 0, Tilt(0.0, 0.0), Tilt(0.0, 0.0), 1.0)
    assert find_rising_tilt(panel, ROUTED, carry, bare) is None
    held = replace(bare, tank_stays=none == 0)
    assert find_rising_tilt(panel, ROUTED, carry, held) == tilt
    # What falls straight down cannot be held so that it rises.
    (steep,) = of_return(PANEL, at_speed(0.1))
    assert find_rising_tilt(PANEL, ROUTED, steep) is None


def test_tilt_that_leaves_a_leg_level_is_none():
    """It falls at 29.98 degrees: 30 to that side leave it a rise of 7 um over its 20 mm, less than a thousandth."""
    turned = math.radians(60.02)
    panel = replace(PANEL, up=(math.sin(turned), math.cos(turned), 0.0))
    (carry,) = of_return(panel, at_speed(0.1))
    assert carry.slope_deg == pytest.approx(29.98)
    tilt = find_rising_tilt(panel, ROUTED, carry)
    assert tilt is not None
    assert max(abs(tilt.right), abs(tilt.front)) == 37.5


def test_bores_that_hold_bubbles():
    """In water filled in at 20 °C 5.00 mm holds one, in use at 35 °C 4.94 mm does: panels are bled cold."""
    assert find_locked_bores(PANEL, ROUTED) == ()
    narrow = tuple(replace(each, width=4.97) if each.name == RETURN else each for each in ROUTED.channels)
    parts = tuple(replace(part, restrictor=3.0) if part.name == "block b" else part for part in PANEL.parts)
    panel = replace(PANEL, parts=parts, pump=replace(PANEL.pump, outlet_bore=4.0))
    routed = replace(ROUTED, channels=narrow)
    found = find_locked_bores(panel, routed)
    assert [(bore.feature, bore.bore) for bore in found] == [
        (f"channel {RETURN}", 4.97),
        ("restrictor in port block b inlet G1/4", 3.0),
    ]
    assert all(bore.least == pytest.approx(5.00, rel=0.002) for bore in found)
    assert found[0].at == (75.0, 110.0, 4.5)
    # Bores in the front stand upright where the panel lies flat, and its channels lie level.
    assert [bore.feature for bore in find_locked_bores(replace(panel, up=(0.0, 0.0, 1.0)), routed)] == [
        "restrictor in port block b inlet G1/4",
        "pump outlet bore",
    ]


def test_ports_that_hold_bubbles(monkeypatch):
    """No thread of the table is as narrow: with bubbles of 12 mm a G1/4 is, where it stands upright."""
    monkeypatch.setattr(moving_air, "coolant_lock_diameter_m", lambda _: 0.012)
    ports = {bore.feature for bore in find_locked_bores(PANEL, ROUTED) if bore.feature.startswith("port")}
    assert ports == {f"port {name} G1/4" for name in ("radiator inlet", "radiator outlet", "drain", "fill")}


def test_restrictor_behind_a_hose_that_falls_passes_no_air_upwards():
    parts = tuple(
        replace(part, restrictor=3.0, inlet=replace(part.inlet, hose="falls"))
        if part.name == "block b"
        else part
        for part in PANEL.parts
    )
    assert find_locked_bores(replace(PANEL, parts=parts), ROUTED) == ()


def test_through_holes_that_hold_bubbles():
    panel, routed = sample_faces()
    narrow = tuple(replace(each, width=5.0) for each in routed.channels)
    found = find_locked_bores(replace(panel, up=(0.0, 0.0, 1.0)), replace(routed, channels=narrow))
    assert [(bore.feature, bore.bore) for bore in found] == [("through hole blocks - radiator 1", 4.7)]
