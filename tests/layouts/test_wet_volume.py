"""What channels and bores hold, against closed forms and the exact volume of the plan's features."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from exports.pipeline import plan_panel
from geom.features import Detail
from geom.volume import plan_volume
from layouts.clearance import clearances_of
from layouts.detail import detail_panel
from layouts.feed import tank_volume_ml
from layouts.panel import Panel
from layouts.plan import Routed, Sealed
from layouts.wet_volume import channel_volume_ml
from tests.layouts.sample_routed import sample_panel, sample_routed

PANELS = Path(__file__).resolve().parents[2] / "layouts" / "panels"
SAG_MM = 0.02


def measure_exactly(detail: Detail) -> float:
    """Return the volume of all wet features but the fill port's bore, which stands in air, [mL]."""
    kept = tuple(feature for feature in detail.features if not feature.name.startswith("port fill"))
    assert len(kept) < len(detail.features) or not any("fill" in f.name for f in detail.features)
    return plan_volume(replace(detail, features=kept), SAG_MM) / 1e3


def hold_all(panel: Panel, routed: Routed) -> float:
    pocket = tank_volume_ml(panel, routed) if routed.tank.box is not None else 0.0
    return channel_volume_ml(panel, routed) + (pocket or 0.0)


@pytest.mark.parametrize("name", ["laser-driver", "new", "cupboard-server"])
def test_shipped_panels_hold_what_their_features_do(name):
    plan = plan_panel(PANELS / f"{name}.toml")
    assert hold_all(plan.panel, plan.routed) == pytest.approx(measure_exactly(plan.detail), rel=0.005)


@pytest.mark.parametrize("closing", ["cord", "bonded", "one-piece"])
@pytest.mark.parametrize("on", ["front", "back"])
@pytest.mark.parametrize("tank_depth", [6.0, 13.0])
def test_sample_holds_what_its_features_do(closing, on, tank_depth):
    """In every way of closing, with the pump on either face, the tank shallower or deeper than the channels."""
    panel, routed = sample_panel(closing), sample_routed(closing)
    panel = replace(
        panel, pump=replace(panel.pump, on=on), tank=replace(panel.tank, depth=tank_depth), keep_clear=()
    )
    detail = detail_panel(panel, routed, Sealed((), ()), clearances_of(panel))
    assert hold_all(panel, routed) == pytest.approx(measure_exactly(detail), rel=0.005)


@pytest.mark.published(source="closed form: sections times lengths, half discs at free ends, cylinders")
def test_feed_alone_in_closed_form():
    """45 mm down from the tank's wall, a half disc round the inlet, and the bores from the seat to mid-depth.

    The channel's other end lies inside the tank, and there counts to the tank.
    """
    panel, whole = sample_panel(), sample_routed()
    panel = replace(panel, pump=replace(panel.pump, inlet_bore=8.0, outlet_bore=0.0))
    feed = whole.channel("feed")
    routed = replace(whole, channels=(feed,), ports=())
    expected = (feed.width * 45 + math.pi * feed.width**2 / 8) * 9
    out_of_channel = panel.make.body - panel.pump.seat_depth - 9
    expected += math.pi / 4 * panel.pump.inlet_bore**2 * out_of_channel
    assert channel_volume_ml(panel, routed) == pytest.approx(expected / 1e3, rel=1e-3)


def test_a_port_more_holds_its_bore_more():
    """A bore clear of its channel's plan adds all of itself; on an edge without its part over the channel."""
    panel, routed = sample_panel(), sample_routed()
    port = next(p for p in routed.ports if p.name == "radiator inlet")
    without = replace(routed, ports=tuple(p for p in routed.ports if p is not port))
    added = channel_volume_ml(panel, routed) - channel_volume_ml(panel, without)
    bore = math.pi / 4 * 11.8**2 * port.depth / 1e3
    assert 0.3 * bore < added < bore
    aside = replace(port, at=(port.at[0] + 30.0, *port.at[1:]))
    moved = replace(routed, ports=(*without.ports, aside))
    assert channel_volume_ml(panel, moved) - channel_volume_ml(panel, without) == pytest.approx(
        bore, rel=1e-9
    )
