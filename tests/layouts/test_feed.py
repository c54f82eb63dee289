"""What keeps the pump's inlet in coolant: heads, depths, volumes, growth."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from printed import assert_as_printed

from layouts.feed import (
    available_inlet_head_m,
    bare_surface,
    examine_feed,
    find_basin,
    growth_share,
    inlet_head_m,
    least_submergence,
    loop_volume_ml,
    pocket_basin,
    tank_volume_ml,
)
from layouts.flow import size_flow
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.panel import CoolantChoice, Panel, Port
from layouts.wet_volume import channel_volume_ml
from tests.layouts.sample_routed import L_MIN, TANK_BOX, sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
FLOWING = size_flow(PANEL, ROUTED)
CHANNELS_ML = channel_volume_ml(PANEL, ROUTED)
INCH, US_GPM, FOOT = 0.0254, 3.785411784e-3 / 60, 0.3048
TALL = TANK_BOX[3] - TANK_BOX[1]


def hold(level: float, *volumes: float | None, hoses: float | None = None) -> Panel:
    """Return the sample filled to a level, with what its three parts and its hoses hold, [mL]."""
    given = volumes or (None, None, None)
    parts = tuple(replace(p, volume_ml=v) for p, v in zip(PANEL.parts, given, strict=True))
    return replace(PANEL, tank=replace(PANEL.tank, level=level), parts=parts, hose_volume_ml=hoses)


@pytest.mark.published(
    source="climate-policy-watcher.org, Calculating NPSHA: 34 + 15 - 0.6 - 0.4 - 2 = 46 ft; with lift 11 ft"
)
@pytest.mark.parametrize(("height_ft", "printed"), [(15.0, "46"), (-20.0, "11")])
def test_inlet_head_in_feet(height_ft, printed):
    density = 1000.0
    foot_pa = density * GRAVITY_M_S2 * FOOT
    head = inlet_head_m(34 * foot_pa, height_ft * FOOT, (0.4 + 2) * foot_pa, 0.6 * foot_pa, density)
    assert_as_printed(head / FOOT, printed, rel=1e-9)


@pytest.mark.published(
    source="IAPWS-95 vapour pressure and density; open tank 0.2 m over the inlet, 0.1 m of loss; 0.5 %"
)
@pytest.mark.parametrize(("celsius", "printed"), [(20.0, "10.21"), (40.0, "9.75"), (60.0, "8.54")])
def test_inlet_head_of_an_open_tank(celsius, printed):
    water = coolant_properties("water", 0.0, celsius)
    loss = 0.1 * water.density_kg_m3 * GRAVITY_M_S2
    head = inlet_head_m(101_325.0, 0.2, loss, water.vapour_pressure_pa or 0.0, water.density_kg_m3)
    assert_as_printed(head, printed, rel=5e-3)


def test_inlet_head_of_the_panel():
    """The surface stands at 85 % of 35 mm from 85 mm, the inlet at 40 mm."""
    water = coolant_properties("water", 0.0, 35.0)
    height = (85 + 0.85 * TALL - 40) / 1e3
    head = available_inlet_head_m(PANEL, ROUTED, 4 * L_MIN, 300.0)
    rest = (101_325 - 300 - water.vapour_pressure_pa) / (water.density_kg_m3 * GRAVITY_M_S2)
    assert head == pytest.approx(height + rest, abs=1e-6)
    assert available_inlet_head_m(PANEL, ROUTED, -1e-6, 300.0) is None


@pytest.mark.published(source="Raoult's law: a solute lowers the vapour pressure of water")
@pytest.mark.parametrize("celsius", [-5.0, 35.0])
def test_glycol_is_taken_to_boil_as_water_does(celsius):
    panel = replace(PANEL, coolant=CoolantChoice("ethylene glycol", 0.3, celsius))
    mix = coolant_properties("ethylene glycol", 0.3, celsius)
    water = coolant_properties("water", 0.0, max(1.0, celsius))
    head = available_inlet_head_m(panel, ROUTED, 4 * L_MIN, 0.0)
    vapour = water.vapour_pressure_pa or 0.0
    assert head == pytest.approx(
        inlet_head_m(101_325.0, (45 + 0.85 * TALL) / 1e3, 0.0, vapour, mix.density_kg_m3), abs=1e-6
    )


@pytest.mark.published(source="ANSI/HI 9.8-1998, section 9.8.7: S = D + 0.574 Q / D^1.5; 3200 US gpm, 16 in")
@pytest.mark.parametrize(("gpm", "bore_in", "printed"), [(3200, 16, "44.7"), (1000, 16, "25.0")])
def test_submergence(gpm, bore_in, printed):
    depth_m = least_submergence(bore_in * INCH, gpm * US_GPM)
    assert_as_printed(depth_m / INCH, printed, rel=5e-3)


@pytest.mark.published(
    source="ANSI/HI 9.8-1998, section 9.8.7, in SI: S = D + 0.935 Q / D^1.5; in inches and US gpm 0.574"
)
def test_submergence_in_both_units():
    assert_as_printed(least_submergence(1.0, 1.0) - 1.0, "0.935")
    assert_as_printed(least_submergence(INCH, US_GPM) / INCH - 1.0, "0.574", rel=1e-3)


@pytest.mark.published(source="ANSI/HI 9.8-1998, section 9.8.7, worked out at the size of a panel; 1 %")
@pytest.mark.parametrize(
    ("bore", "flow", "printed"), [(10, 4, "72"), (8, 4, "95"), (12, 4, "59"), (10, 2, "41")]
)
def test_submergence_at_panel_size(bore, flow, printed):
    assert_as_printed(least_submergence(bore / 1e3, flow * L_MIN) * 1e3, printed, rel=0.01)


@pytest.mark.published(
    source="IAPWS-95, water from 20 to 60 °C: +1.527 %; Melinder, IIR 2010, 30 % ethylene glycol: +2.02 %"
)
@pytest.mark.parametrize(
    ("fluid", "fraction", "printed"), [("water", 0.0, "1.527"), ("ethylene glycol", 0.3, "2.02")]
)
def test_growth(fluid, fraction, printed):
    panel = replace(PANEL, coolant=CoolantChoice(fluid, fraction, 35.0))
    assert_as_printed(100 * growth_share(panel), printed, rel=2e-3)


def test_growth_counts_up_to_a_hotter_coolant():
    hotter = replace(PANEL, coolant=CoolantChoice("water", 0.0, 75.0))
    cold, hot = (coolant_properties("water", 0.0, celsius).density_kg_m3 for celsius in (20.0, 75.0))
    assert growth_share(hotter) == pytest.approx(cold / hot - 1)


def test_volumes_of_the_loop():
    panel = hold(0.85, 30.0, 40.0, 180.0, hoses=60.0)
    assert loop_volume_ml(panel, ROUTED) == pytest.approx(CHANNELS_ML + 310)
    feeding = examine_feed(panel, ROUTED, FLOWING)
    assert feeding.unknown_parts == ()
    assert feeding.tank_ml == pytest.approx(0.85 * tank_volume_ml(panel, ROUTED))
    assert feeding.room_ml == pytest.approx(0.15 * tank_volume_ml(panel, ROUTED))
    assert feeding.growth_ml == pytest.approx((feeding.tank_ml + feeding.loop_ml) * growth_share(panel))
    some = examine_feed(hold(0.85, 30.0, None, 180.0), ROUTED, FLOWING)
    assert some.unknown_parts == ("block b", "hoses")
    assert some.loop_ml == pytest.approx(CHANNELS_ML + 210)


def test_cover_at_the_cold_level():
    assert examine_feed(hold(0.6), ROUTED, FLOWING).cover_mm == pytest.approx(0.6 * TALL)


@pytest.mark.parametrize("level", [1e-6, 0.001, 0.05])
def test_no_less_than_nothing_stands_over_the_outlet(level):
    """Tilted by 30 degrees a nearly empty tank has its surface far under the outlet."""
    up = (0.5, math.cos(math.radians(30.0)), 0.0)
    assert examine_feed(replace(hold(level), up=up), ROUTED, FLOWING).cover_mm == 0.0


def test_the_outlet_is_about_to_be_bared_half_a_bore_over_it():
    """Upright half of its bore over the floor; lying flat where the feed's upper edge comes out."""
    basin = pocket_basin(PANEL, ROUTED)
    assert basin is not None
    feed = ROUTED.channel("feed")
    bore = math.sqrt(4 / math.pi * feed.width * feed.depth)
    assert bare_surface(PANEL, ROUTED, basin) == pytest.approx(TANK_BOX[1] + bore / 2)
    flat = replace(PANEL, up=(0.0, 0.0, 1.0))
    assert bare_surface(flat, ROUTED, basin) == pytest.approx(feed.depth)
    assert find_basin(flat, ROUTED) is None
    assert pocket_basin(PANEL, replace(ROUTED, tank=replace(ROUTED.tank, box=None))) is None


def test_panel_that_lies_flat_has_no_depths():
    flat = replace(PANEL, up=(0.0, 0.0, 1.0))
    feeding = examine_feed(flat, ROUTED, FLOWING)
    assert feeding.cover_mm is feeding.needs_mm is None
    assert feeding.tilt_left_deg is feeding.tilt_back_deg is None
    water = coolant_properties("water", 0.0, 35.0)
    feed = next(c.drop_pa for c in FLOWING.channels if c.channel == "feed")
    level = inlet_head_m(101_325.0, 0.0, feed, water.vapour_pressure_pa or 0.0, water.density_kg_m3)
    assert feeding.available_head_m == pytest.approx(level)


def test_upside_down_the_outlet_is_bare():
    feeding = examine_feed(replace(PANEL, up=(0.0, -1.0, 0.0)), ROUTED, FLOWING)
    assert feeding.cover_mm == 0.0
    assert feeding.tilt_left_deg == feeding.tilt_front_deg == 0.0


def test_separate_tank_tells_its_volumes_only():
    outlet = Port(
        "tank outlet", "tank", "outlet", "top", "G1/4", None, None, (140.0, 150.0), "tank.outlet", 24
    )
    tank = replace(
        PANEL.tank, kind="separate", size=None, depth=0.0, at=None, fill=None, outlet=outlet, volume_ml=250.0
    )
    fill = next(port for port in ROUTED.ports if port.name == "fill")
    routed = replace(
        ROUTED,
        tank=replace(ROUTED.tank, box=None),
        ports=(*ROUTED.ports, replace(fill, name="tank outlet", at=(145.0, 140.0, 10.0))),
    )
    feeding = examine_feed(replace(PANEL, tank=tank), routed, FLOWING)
    assert feeding.cover_mm is feeding.needs_mm is feeding.tilt_left_deg is None
    assert (feeding.tank_ml, feeding.room_ml) == (pytest.approx(212.5), pytest.approx(37.5))
    water = coolant_properties("water", 0.0, 35.0)
    feed = next(c.drop_pa for c in FLOWING.channels if c.channel == "feed")
    port_high = inlet_head_m(101_325.0, 0.1, feed, water.vapour_pressure_pa or 0.0, water.density_kg_m3)
    assert feeding.available_head_m == pytest.approx(port_high)
