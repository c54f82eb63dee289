"""Wet regions and their cord loops."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import GeometryError
from geom.outline import loop_area, region_polygon
from geom.standards.tables import cord, cord_sections
from layouts.clearance import clearances_of
from layouts.closing.cords import corner_fillet, seal_panel
from layouts.closing.wet_regions import group_wet, joint_discs, outline_channel, outline_tank
from layouts.panel import Closing, Panel
from layouts.plan import Channel, CordLoop, Leg, Routed, Run
from tests.layouts.sample_routed import sample_back, sample_panel, sample_routed


def seal_sample(panel: Panel, routed: Routed) -> tuple[CordLoop, ...]:
    """Return the cord loops of a panel."""
    return seal_panel(panel, routed, clearances_of(panel))


def lone_channel(points: tuple[tuple[float, float], ...]) -> Routed:
    """Return a routed panel with one channel from the pump and nothing else."""
    leg = Leg("lone", "pump outlet", "end", points)
    channel = Channel("lone", ("pump outlet", "end"), (Run(points),), (leg,), (), 8.0, 9.0, 14.0)
    routed = sample_routed()
    pump = replace(routed.pump, outlet=points[0])
    tank = replace(routed.tank, box=None)
    return replace(routed, ports=(), channels=(channel,), tank=tank, pump=pump)


def test_what_touches_is_one_region() -> None:
    regions = group_wet(sample_panel(), sample_routed())
    assert [(r.name, r.channels, r.tank) for r in regions] == [
        ("tank", ("feed", "radiator - tank", "drain"), True),
        ("pump - blocks", ("pump - blocks",), False),
        ("blocks - radiator", ("blocks - radiator",), False),
    ]


def test_a_channel_moved_off_is_a_region_of_its_own() -> None:
    routed = sample_routed()
    away = replace(routed.channel("drain"), runs=(Run(((165.0, 40.0), (165.0, 20.0))),), ends=("x", "drain"))
    regions = group_wet(sample_panel(), replace(routed, channels=(*routed.channels[:-1], away)))
    assert [r.name for r in regions] == ["tank", "pump - blocks", "blocks - radiator", "drain"]
    assert regions[0].channels == ("feed", "radiator - tank")


@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_only_a_cord_needs_loops(closing: Closing) -> None:
    assert seal_sample(sample_panel(closing), sample_routed(closing)) == ()


def test_land_and_groove_have_their_widths_all_round() -> None:
    panel, routed = sample_panel(), sample_routed()
    gaps = clearances_of(panel)
    for loop, region in zip(seal_sample(panel, routed), group_wet(panel, routed), strict=True):
        assert loop.region == region.name
        loops = [piece for name in region.channels for piece in outline_channel(routed.channel(name), 0.0)]
        wet = region_polygon((*loops, *((outline_tank(routed, 0.0),) if region.tank else ())))
        inner, outer = region_polygon(loop.inner), region_polygon(loop.outer)
        cord_inner, cord_outer = region_polygon(loop.cord_inner), region_polygon(loop.cord_outer)
        assert wet.distance(inner.exterior) == pytest.approx(gaps.land, abs=0.02)
        assert inner.distance(outer.exterior) == pytest.approx(gaps.groove_width, abs=0.02)
        side = (gaps.groove_width - math.pi * 2.0**2 / (4 * gaps.groove_depth)) / 2
        assert inner.distance(cord_inner.exterior) == pytest.approx(side, abs=0.02)
        assert cord_outer.distance(outer.exterior) == pytest.approx(side, abs=0.02)
        assert wet.within(inner)
        assert inner.within(cord_inner)
        assert cord_inner.within(cord_outer)
        assert cord_outer.within(outer)


def test_grooves_of_different_regions_stay_apart() -> None:
    panel = sample_panel()
    outers = [region_polygon(loop.outer) for loop in seal_sample(panel, sample_routed())]
    for k, a in enumerate(outers):
        for b in outers[:k]:
            assert a.distance(b) >= panel.rules.least_wall - 0.02


@pytest.mark.published(source="closed form: volume of rubber is constant; ring of a stadium 2 L + 2 pi r")
@settings(max_examples=25, deadline=None)
@given(length=st.floats(20, 150), section=st.sampled_from(cord_sections()))
def test_a_squeezed_cord_keeps_its_volume(length: float, section: float) -> None:
    panel = replace(sample_panel(), make=replace(sample_panel().make, cord=section))
    (loop,) = seal_sample(panel, lone_channel(((30.0, 40.0), (30.0 + length, 40.0))))
    row = cord(section)
    ring = loop_area(loop.cord_outer[0]) - loop_area(loop.cord_inner[0])
    centreline = 2 * length + 2 * math.pi * (4.0 + panel.rules.least_wall + row.groove_width / 2)
    assert ring * row.groove_depth == pytest.approx(math.pi / 4 * section**2 * centreline, rel=1e-9)
    groove = loop_area(loop.outer[0]) - loop_area(loop.inner[0])
    assert ring < groove
    assert groove == pytest.approx(row.groove_width * centreline, rel=1e-9)


@pytest.mark.published(
    source="groove patterns for cords, https://barnwell.co.uk: 2.62 mm turns on at least 7.9 mm"
)
def test_a_cord_turns_on_three_sections() -> None:
    panel = replace(sample_panel(), make=replace(sample_panel().make, cord=2.62))
    assert corner_fillet(panel) == pytest.approx(7.9, abs=0.05)


def test_a_bore_from_the_back_is_inside_the_land() -> None:
    panel, routed = sample_back()
    assert joint_discs(panel, routed) == (("blocks - radiator", (60.0, 80.0), 5.9),)
    loop = next(one for one in seal_sample(panel, routed) if one.region == "blocks - radiator")
    disc = shapely.Point(60.0, 80.0).buffer(5.9 + panel.rules.least_wall - 0.05)
    assert disc.within(region_polygon(loop.inner))
    bare = next(one for one in seal_sample(sample_panel(), sample_routed()) if one.region == loop.region)
    assert not disc.within(region_polygon(bare.inner))


def test_a_pump_on_the_back_passes_the_joint() -> None:
    panel, routed = sample_panel(), sample_routed()
    panel = replace(panel, pump=replace(panel.pump, on="back"))
    discs = joint_discs(panel, routed)
    assert discs == (("feed", (145.0, 40.0), 5.0), ("pump - blocks", (125.0, 40.0), 4.0))


def test_a_bend_tighter_than_the_groove_is_refused() -> None:
    panel, routed = sample_panel(), sample_routed()
    channels = tuple(replace(channel, bend_radius=7.0) for channel in routed.channels)
    with pytest.raises(GeometryError, match=r"7 mm is tighter than half of the 17\.6 mm outline"):
        seal_sample(panel, replace(routed, channels=channels))
