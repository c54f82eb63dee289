"""Channels of unlike width as solids: nothing thinner than asked for, and the volumes that the plan says."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_plan import sample_plan

from exports.check_solids import check_solids
from geom.findings import has_fault
from layouts import sizes, widen
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.detail import detail_panel
from layouts.flow import size_flow
from layouts.panel import Closing
from layouts.plan import Plan
from layouts.widen import widen_channels
from tests.layouts.sample_routed import sample_panel, sample_routed


def plan_widened(closing: Closing, widen_to: float) -> Plan:
    """Return the plan of the sample with its channels widened."""
    panel = sample_panel(closing)
    panel = replace(panel, channel=replace(panel.channel, widen_to=widen_to))
    routed = widen_channels(panel, sample_routed(closing))
    gaps = clearances_of(panel)
    sealed = close_panel(panel, routed, gaps)
    detail = detail_panel(panel, routed, sealed, gaps)
    flowing = size_flow(panel, routed)
    return replace(sample_plan(), panel=panel, routed=routed, sealed=sealed, flowing=flowing, detail=detail)


@pytest.mark.parametrize(
    ("closing", "widen_to"),
    [
        ("cord", 13.0),
        ("bonded", 14.0),
        ("one-piece", 12.5),
        # As wide as the ports' bores and as the pump's inlet bore: walls touch along lines.
        ("bonded", 11.8),
        ("one-piece", 10.0),
        # The feed's drawn end comes near the fill bore: inside the tank, where no wall is.
        ("bonded", 14.5),
        ("one-piece", 14.5),
        ("bonded", 15.43),
        ("one-piece", 15.43),
        ("bonded", 17.3),
        ("one-piece", 17.3),
        # More than any channel gets.
        ("cord", 25.0),
        ("bonded", 25.0),
        ("one-piece", 25.0),
    ],
)
def test_widened_panel_is_made_without_a_fault(
    closing: Closing, widen_to: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Roofs may be as wide as they like here: the solids of a closed print must hold at any width."""
    for module in (sizes, widen):
        monkeypatch.setattr(module, "find_widest_roof", lambda panel: math.inf)
    plan = plan_widened(closing, widen_to)
    widths = {channel.width for channel in plan.routed.channels}
    most = {"cord": 13.4}.get(closing, 23.32)
    assert max(widths) == min(widen_to, most)
    checked = check_solids(plan)
    assert not has_fault(checked.findings), checked.findings
    assert checked.volumes.wet_solid == pytest.approx(checked.volumes.wet_plan, rel=1e-6)
    assert checked.volumes.wet_mesh == pytest.approx(checked.volumes.wet_solid, rel=1e-3)


def test_corded_panel_above_has_the_widths_of_all_that_ask_for_more() -> None:
    """So its solids stand for 14.5, 15.43 and 17.3 mm too."""
    panel, routed = sample_panel("cord"), sample_routed("cord")
    made = [
        widen_channels(replace(panel, channel=replace(panel.channel, widen_to=wide)), routed)
        for wide in (14.5, 15.43, 17.3, 25.0)
    ]
    assert all(other == made[0] for other in made)
