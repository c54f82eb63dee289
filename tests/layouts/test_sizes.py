"""Advised widths do what they promise, checked by solving the loop anew; estimated gains are the exact ones."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_demos import route_demo

from layouts import sizes
from layouts.advice import Sizing
from layouts.clearance import feed_width
from layouts.file.read import read_panel
from layouts.flow import size_flow
from layouts.panel import Panel
from layouts.panels.catalogue import TEMPLATE, demo_names, demo_path
from layouts.plan import Flowing, Routed
from layouts.routing.effort import NORMAL
from layouts.rules.channel_rules import check_narrow
from layouts.sizes import (
    HARD_VELOCITY_M_S,
    KEPT_BAND,
    KEPT_FLOW,
    LEAST_GAIN,
    LEAST_PRINTED_MM,
    STEP_MM,
    find_least_made,
    size_channels,
)
from layouts.widen import set_widths
from tests.layouts.sample_routed import L_MIN, sample_panel, sample_routed

NEAR = 0.1 * (1 - KEPT_FLOW)
"""The estimate of a change of flow may be a tenth of it off, [-]."""


def route_shipped(name: str) -> tuple[Panel, Routed]:
    return read_panel(demo_path(name)), route_demo(name, NORMAL)


def with_width(routed: Routed, name: str, width: float) -> Routed:
    """Return the routing with one channel of another width."""
    channels = tuple(replace(c, width=width) if c.name == name else c for c in routed.channels)
    return replace(routed, channels=channels)


def with_fine_cutter(panel: Panel) -> Panel:
    """Return the panel milled with a cutter that bounds no width."""
    return replace(panel, make=replace(panel.make, method="milled", cutter=0.5))


def solve_flow(panel: Panel, routed: Routed, name: str, width: float) -> float:
    return size_flow(panel, with_width(routed, name, width)).flow_m3_s


@pytest.mark.parametrize("name", [*demo_names(), TEMPLATE])
@pytest.mark.parametrize("factor", [0.75, 1.1, 1.5, 3.0])
def test_gain_is_that_of_solving_anew(name, factor, monkeypatch):
    panel, routed = route_shipped(name)
    flowing = size_flow(panel, routed)
    monkeypatch.setattr(
        sizes, "find_widest", lambda _p, r, _m: {c.name: c.width * factor for c in r.channels}
    )
    found = size_channels(panel, routed, flowing).channels
    assert len(found) >= 3
    for size in found:
        exact = solve_flow(panel, routed, size.channel, size.widest_mm) / flowing.flow_m3_s - 1
        assert (exact > 0) == (factor > 1)
        # Where a channel feeds parallel branches its width shifts flow between them, which the estimate holds fixed:
        # 3.3 % of the gain on the cell tester's supply, under 1 % elsewhere.
        branches = any(len(c.legs) > 1 for c in routed.channels if c.name == size.channel)
        assert size.gain == pytest.approx(exact, rel=0.04 if branches else 0.01, abs=1e-6)


@pytest.mark.parametrize("name", [*demo_names(), TEMPLATE])
def test_advised_widths_keep_their_promises(name):
    panel, routed = route_shipped(name)
    panel = replace(with_fine_cutter(panel), wanted_flow_m3_s=None)
    flowing = size_flow(panel, routed)
    carried = {flow.channel: flow.flow_m3_s for flow in flowing.channels}
    for size in size_channels(panel, routed, flowing).channels:
        channel = routed.channel(size.channel)

        def speed(width: float, carries=carried[size.channel], depth=channel.depth) -> float:
            return 1e6 * carries / (width * depth)

        def keeps(width: float, size=size) -> float:
            return solve_flow(panel, routed, size.channel, width) / flowing.flow_m3_s

        def gains(width: float, keeps=keeps) -> float:
            return keeps(width + 1.0) / keeps(width) - 1

        assert speed(size.least_mm) <= HARD_VELOCITY_M_S + 1e-9
        assert keeps(size.least_mm) >= KEPT_FLOW - NEAR
        assert size.least_mm <= size.recommended_mm
        assert speed(size.recommended_mm) <= panel.rules.most_velocity_m_s + 1e-9
        assert gains(size.recommended_mm) < LEAST_GAIN * 1.02
        if size.channel == "feed":
            assert size.least_mm >= feed_width(panel)
            continue
        under = size.least_mm - STEP_MM
        assert speed(under) > HARD_VELOCITY_M_S or keeps(under) < KEPT_FLOW + NEAR
        under = size.recommended_mm - STEP_MM
        assert (
            under < size.least_mm
            or speed(under) > panel.rules.most_velocity_m_s
            or gains(under) > LEAST_GAIN * 0.98
        )


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["feed", "pump - blocks", "blocks - radiator", "radiator - tank"]),
    st.floats(3.0, 40.0),
    st.floats(0.1, 30.0),
)
def test_a_wider_channel_never_lowers_the_flow(name, width, more):
    panel, routed = sample_panel(), sample_routed()
    narrow, wide = (solve_flow(panel, routed, name, w) for w in (width, width + more))
    assert wide >= narrow * (1 - 1e-9)


def test_the_feed_is_as_wide_as_the_inlet_asks_for():
    panel, routed = sample_panel(), sample_routed()
    found = {size.channel: size for size in size_channels(panel, routed, size_flow(panel, routed)).channels}
    assert list(found) == ["feed", "pump - blocks", "blocks - radiator", "radiator - tank"]
    assert found["feed"].least_mm == found["feed"].recommended_mm == feed_width(panel)
    assert all(size.width_mm == routed.channel(name).width for name, size in found.items())


def test_wanted_flow():
    panel, routed = with_fine_cutter(sample_panel()), sample_routed()
    flowing = size_flow(panel, routed)
    assert 5.0 < flowing.flow_m3_s / L_MIN < 6.0

    def least(wanted: float | None) -> list[float | None]:
        asking = replace(panel, wanted_flow_m3_s=None if wanted is None else wanted * L_MIN)
        return [size.least_mm for size in size_channels(asking, routed, flowing).channels][1:]

    little, near, more = least(2.0), least(5.4), least(9.0)
    assert all(one < two for one, two in zip(little, near, strict=True))
    # No width makes up for a pump that is too weak: then the flow reached is what counts.
    assert more == least(None)
    for name, width in zip(("pump - blocks", "blocks - radiator", "radiator - tank"), near, strict=True):
        assert solve_flow(panel, routed, name, width) >= 5.4 * L_MIN * (1 - KEPT_BAND * flowing.band - 1e-3)


@pytest.mark.parametrize("width", [8.0, 8.4, 9.3])
@pytest.mark.parametrize("margin", [0.0, 1e-7, 1e-4, 0.02])
def test_a_pump_that_only_just_reaches_the_wanted_flow_asks_for_no_width(width, margin):
    """Widened channels are no whole multiples of a step; what carries the wanted flow is wide enough."""
    panel, routed = with_fine_cutter(sample_panel()), sample_routed()
    routed = set_widths(panel, routed, {channel.name: width for channel in routed.channels} | {"feed": 12.0})
    flowing = size_flow(panel, routed)
    asking = replace(panel, wanted_flow_m3_s=flowing.flow_m3_s * (1 - margin))
    found = size_channels(asking, routed, flowing)
    free = size_channels(replace(panel, wanted_flow_m3_s=0.3 * flowing.flow_m3_s), routed, flowing)
    for size, alone in zip(found.channels, free.channels, strict=True):
        assert size.least_mm < size.width_mm
        # Its speed and what a millimetre gains may ask for more, the flow never.
        assert size.recommended_mm <= max(size.width_mm, alone.recommended_mm)
    assert found.flow_m3_s >= asking.wanted_flow_m3_s * (1 - 1e-6)
    assert all(finding.severity == "note" for finding in check_narrow(asking, routed, found.channels))


def test_deeper_channels_may_be_narrower():
    panel, routed = sample_panel(), sample_routed()
    deep = replace(routed, channels=tuple(replace(c, depth=14.0) for c in routed.channels))
    shallow, deeper = (
        [size.recommended_mm for size in size_channels(panel, r, size_flow(panel, r)).channels][1:]
        for r in (routed, deep)
    )
    assert all(one > two for one, two in zip(shallow, deeper, strict=True))


def test_slow_coolant_asks_for_width():
    panel, routed = sample_panel(), sample_routed()
    flowing = size_flow(panel, routed)
    slow = replace(panel, rules=replace(panel.rules, most_velocity_m_s=0.6))
    sizing = size_channels(slow, routed, flowing)
    for size, flow in zip(sizing.channels, flowing.channels, strict=False):
        share = flow.flow_m3_s / flowing.flow_m3_s
        exact = 1e6 * share * sizing.flow_m3_s / (routed.channel(size.channel).depth * 0.6)
        assert exact * (1 - 1e-4) <= size.recommended_mm < exact + STEP_MM
        assert size.least_mm < size.recommended_mm


def solve_together(panel: Panel, routed: Routed, sizing: Sizing) -> Flowing:
    """Return the loop solved anew with every channel as wide as recommended."""
    widths = {channel.name: channel.width for channel in routed.channels}
    for size in sizing.channels:
        widths[size.channel] = size.recommended_mm or size.width_mm
    return size_flow(panel, set_widths(panel, routed, widths))


@pytest.mark.parametrize("name", [*demo_names(), TEMPLATE])
@pytest.mark.parametrize("share", [None, 0.4, 0.9, 0.98, 0.9999])
def test_recommended_widths_hold_together(name, share):
    panel, routed = route_shipped(name)
    flowing = size_flow(panel, routed)
    panel = replace(panel, wanted_flow_m3_s=None if share is None else share * flowing.flow_m3_s)
    sizing = size_channels(panel, routed, flowing)
    together = solve_together(panel, routed, sizing)
    assert together.flow_m3_s >= (share or KEPT_FLOW) * flowing.flow_m3_s
    assert sizing.flow_m3_s == pytest.approx(together.flow_m3_s, rel=1e-6)
    most = min(HARD_VELOCITY_M_S, panel.rules.most_velocity_m_s)
    assert all(flow.velocity_m_s <= most * (1 + 1e-4) for flow in together.channels)


@pytest.mark.published(source="common practice, no source")
def test_channels_that_are_each_wide_enough_alone_choke_the_loop_together():
    panel, routed = route_shipped("workshop-render")
    flowing = size_flow(panel, routed)
    panel = replace(panel, wanted_flow_m3_s=0.98 * flowing.flow_m3_s)
    sizing = size_channels(panel, routed, flowing)
    alone = {size.channel: size.least_mm for size in sizing.channels}
    for channel, width in alone.items():
        most_short = KEPT_BAND * flowing.band + 1e-3
        assert solve_flow(panel, routed, channel, width) >= panel.wanted_flow_m3_s * (1 - most_short)
    least = size_flow(panel, set_widths(panel, routed, {c.name: c.width for c in routed.channels} | alone))
    assert least.flow_m3_s < panel.wanted_flow_m3_s < sizing.flow_m3_s


@pytest.mark.parametrize("name", [*demo_names(), TEMPLATE])
def test_every_width_can_be_made(name):
    panel, routed = route_shipped(name)
    flowing = size_flow(panel, routed)
    milled = panel.make.method == "milled"
    assert find_least_made(panel) == (panel.make.cutter if milled else LEAST_PRINTED_MM)
    panel = replace(panel, wanted_flow_m3_s=0.2 * flowing.flow_m3_s)
    for size in size_channels(panel, routed, flowing).channels:
        assert find_least_made(panel) <= size.least_mm <= size.recommended_mm
    if milled:
        own = replace(panel, make=replace(panel.make, cutter=5.3))
        found = size_channels(own, routed, flowing).channels
        assert [size.least_mm for size in found if size.channel != "feed"] == [5.3] * (len(found) - 1)


@pytest.mark.parametrize("name", [*demo_names(), TEMPLATE])
@pytest.mark.parametrize("share", [0.3, 0.8])
def test_the_least_width_is_slow_enough_at_the_flow_reached(name, share):
    panel, routed = route_shipped(name)
    flowing = size_flow(panel, routed)
    carried = {flow.channel: flow.flow_m3_s for flow in flowing.channels}
    panel = replace(with_fine_cutter(panel), wanted_flow_m3_s=share * flowing.flow_m3_s)
    for size in size_channels(panel, routed, flowing).channels:
        depth = routed.channel(size.channel).depth
        assert 1e6 * carried[size.channel] / (size.least_mm * depth) <= HARD_VELOCITY_M_S


def test_a_channel_that_must_grow_is_slow_enough_at_the_flow_it_then_carries():
    panel, routed = with_fine_cutter(sample_panel()), sample_routed()
    narrow = with_width(routed, "pump - blocks", 2.0)
    flowing = size_flow(panel, narrow)
    (least,) = (
        s.least_mm for s in size_channels(panel, narrow, flowing).channels if s.channel == "pump - blocks"
    )
    assert least > 2.0
    widened = size_flow(panel, with_width(narrow, "pump - blocks", least))
    (speed,) = (flow.velocity_m_s for flow in widened.channels if flow.channel == "pump - blocks")
    assert speed <= HARD_VELOCITY_M_S
