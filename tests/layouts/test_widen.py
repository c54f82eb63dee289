"""Channels of unlike width: none shrinks, none comes too near, and each takes all that its walls leave."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.standards.tables import cord, thread
from layouts import panels, sizes, widen
from layouts.clearance import PAST_FOOT, clearances_of, feed_width
from layouts.file.read import read_panel
from layouts.panel import Closing, Panel
from layouts.plan import Leg, Routed, Run
from layouts.printing.plan_print import plan_print
from layouts.printing.roof_shapes import find_widest_roof
from layouts.route import route_panel
from layouts.rules.roof_rules import check_bridges
from layouts.verify import verify_routed
from layouts.widen import find_widest, set_widths, widen_channels
from tests.layouts.sample_routed import centreline_points, sample_panel, sample_routed

CLOSINGS: tuple[Closing, ...] = ("cord", "bonded", "one-piece")
MOST = 30.0
BRIDGE = 10.0


@pytest.fixture
def free_roofs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let roofs be as wide as they like, so that only walls stop a channel."""
    for module in (sizes, widen):
        monkeypatch.setattr(module, "find_widest_roof", lambda panel: math.inf)


def widen_sample(closing: Closing, widen_to: float) -> tuple[Panel, Routed]:
    """Return the sample with its channels widened."""
    panel = sample_panel(closing)
    panel = replace(panel, channel=replace(panel.channel, widen_to=widen_to))
    return panel, widen_channels(panel, sample_routed(closing))


def widths_of(routed: Routed) -> dict[str, float]:
    return {channel.name: channel.width for channel in routed.channels}


def part_from(routed: Routed, channel: str, width: float, panel: Panel) -> Routed:
    """Return the routing with one channel of another width."""
    return set_widths(panel, routed, {**widths_of(routed), channel: width})


def change_pump(panel: Panel, **new: Any) -> Panel:
    return replace(panel, pump=replace(panel.pump, **new))


def test_nothing_is_asked_for_and_nothing_changes() -> None:
    routed = sample_routed()
    assert widen_channels(sample_panel(), routed) is routed


@pytest.mark.parametrize("closing", CLOSINGS)
@given(widen_to=st.floats(8.0, 26.0))
@settings(max_examples=12, deadline=None)
def test_widened_panel_verifies_and_no_width_shrinks(closing: Closing, widen_to: float) -> None:
    panel, routed = widen_sample(closing, widen_to)
    assert verify_routed(panel, routed) == ()
    for name, width in widths_of(sample_routed(closing)).items():
        assert width <= routed.channel(name).width <= max(width, widen_to)


@pytest.mark.parametrize("closing", CLOSINGS)
def test_widened_neighbours_keep_the_wall_between_them(closing: Closing) -> None:
    """Measured on dense points of the centrelines, without the outlines that the verifier makes."""
    panel, routed = widen_sample(closing, 14.0)
    assert any(channel.width > 8.8 for channel in routed.channels)
    points = {
        channel.name: shapely.MultiPoint(
            [p for run in channel.runs for p in centreline_points(run.points, channel.bend_radius, 0.2)]
        )
        for channel in routed.channels
    }
    gap = clearances_of(panel).channel_gap
    for a, b in combinations(routed.channels, 2):
        if {a.name, b.name} != {"feed", "drain"} and not {"tank outlet", "tank return"} <= {*a.ends, *b.ends}:
            apart = points[a.name].distance(points[b.name]) - (a.width + b.width) / 2
            assert apart >= gap - 1e-3


@pytest.mark.parametrize("closing", CLOSINGS)
def test_channels_of_a_closed_print_grow_no_wider_than_their_roofs_may_be(closing: Closing) -> None:
    panel, routed = widen_sample(closing, MOST)
    grown = [
        channel for channel in routed.channels if channel.width > sample_routed().channel(channel.name).width
    ]
    assert grown
    widest = find_widest(panel, sample_routed(closing), MOST)
    found = check_bridges(panel, routed, plan_print(panel, routed))
    roofed = [f.features for f in found if f.features != ("tank",)]
    if closing == "one-piece":
        assert roofed == []
        assert max(channel.width for channel in grown) == find_widest_roof(panel) == max(widest.values())
    else:
        assert find_widest_roof(panel) == math.inf
        assert max(widest.values()) > BRIDGE


@pytest.mark.parametrize("closing", CLOSINGS)
def test_last_step_reaches_what_is_asked_for_exactly(closing: Closing) -> None:
    _, routed = widen_sample(closing, 9.3)
    reached = {w for w in widths_of(routed).values() if w > 8.8}
    assert reached <= {9.3, feed_width(sample_panel(closing))}
    assert 9.3 in reached


@pytest.mark.usefixtures("free_roofs")
@pytest.mark.parametrize("closing", CLOSINGS)
def test_channel_takes_all_the_room_that_others_leave_it(closing: Closing) -> None:
    """A little wider than the greatest width, a channel meets something: most often the verifier says what."""
    panel, routed = sample_panel(closing), sample_routed(closing)
    widest = find_widest(panel, routed, MOST)
    for name, width in widest.items():
        assert verify_routed(panel, part_from(routed, name, width, panel)) == ()
        if width > routed.channel(name).width:
            wider = part_from(routed, name, width + 0.03, panel)
            assert verify_routed(panel, wider) or meets_own_bound(panel, wider, name), name


def meets_own_bound(panel: Panel, routed: Routed, name: str) -> bool:
    """Return whether a channel meets what the verifier does not measure: its bends, threads, or the feed's end."""
    channel = routed.channel(name)
    inner = panel.make.cutter / 2 if panel.make.cutter else 0.5
    if panel.make.closing == "cord":
        inner = 2.0 + cord(2.0).groove_width + 3 * 2.0
    bent = (
        any(len(run.points) > 2 for run in channel.runs) and channel.bend_radius - channel.width / 2 < inner
    )
    g = thread("G1/4")
    short = any(
        math.dist(port.at[:2], port.foot) - channel.width / 2 < g.short_thread + g.pitch
        for port in routed.ports
        if port.channel == name and port.on == "top"
    )
    # The radius of a port's bore, a wall and half of the branch between a port's foot and a T.
    own = any(
        math.dist(junction.at, port.foot) < thread("G1/4").tap_drill / 2 + 2.0 + channel.width / 2
        for junction in channel.junctions
        for port in routed.ports
        if port.channel == name
    )
    beside = name == "drain" and channel.width > routed.channel("feed").width
    return bent or short or own or beside


@given(first=st.floats(8.0, 30.0), second=st.floats(8.0, 30.0), closing=st.sampled_from(CLOSINGS))
@settings(max_examples=25, deadline=None)
def test_more_asked_for_never_gives_one_channel_less(first: float, second: float, closing: Closing) -> None:
    panel, routed = sample_panel(closing), sample_routed(closing)
    less, more = sorted((first, second))
    for name in widths_of(routed):
        assert find_widest(panel, routed, less)[name] <= find_widest(panel, routed, more)[name]


def test_room_between_two_channels_is_shared_and_used_up() -> None:
    """Feed and pump outlet stand 20 mm apart; 11.6 mm between them leave 16.8 mm for both widths."""
    panel, routed = sample_panel(), sample_routed()
    narrow = part_from(routed, "feed", 8.0, panel)
    assert find_widest(panel, narrow, MOST)["feed"] == pytest.approx(8.8)
    assert find_widest(panel, narrow, MOST)["pump - blocks"] == pytest.approx(8.8)
    panel = replace(panel, channel=replace(panel.channel, widen_to=12.0))
    both = widen_channels(panel, narrow)
    assert both.channel("feed").width + both.channel("pump - blocks").width == pytest.approx(16.8)
    # The one with more drop takes its whole step first.
    assert both.channel("pump - blocks").width == 8.5


def test_bend_keeps_its_inner_radius_for_the_cord() -> None:
    """On a bend of 20 mm: 2 mm of land, 2.8 mm of groove and 6 mm inside leave 9.2 mm for half the width."""
    panel, routed = sample_panel(), sample_routed()
    way = ((75.0, 60.0), (75.0, 102.0), (110.0, 102.0))
    bent = replace(
        routed.channel("radiator - tank"),
        bend_radius=20.0,
        runs=(Run(way),),
        legs=(Leg("bent", "radiator outlet", "tank return", way),),
    )
    # Nothing but the bend bounds it: no other channels, and no port on an edge.
    alone = replace(routed, channels=(bent,), ports=())
    assert find_widest(panel, alone, MOST)["radiator - tank"] == pytest.approx(18.4)


@pytest.mark.parametrize("closing", CLOSINGS)
def test_edge_bore_follows_the_width_of_its_channel(closing: Closing) -> None:
    _, routed = widen_sample(closing, 14.0)
    for port in routed.ports:
        if port.on in ("top", "bottom") and port.channel != "tank":
            inset = math.dist(port.at[:2], port.foot)
            assert port.depth == pytest.approx(inset + PAST_FOOT * routed.channel(port.channel).width)


@pytest.mark.usefixtures("free_roofs")
def test_longer_bore_stops_at_another_channel() -> None:
    """A drain that leaves its bore sideways: the bore's end comes nearer to the channel ahead as it grows."""
    panel, routed = sample_panel("one-piece"), sample_routed("one-piece")
    port = next(port for port in routed.ports if port.name == "drain")
    port = replace(port, foot=(150.0, 20.0), at=(150.0, 0.0, port.at[2]))
    sideways = replace(routed.channel("drain"), runs=(Run(((180.0, 20.0), port.foot)),), legs=())
    # Ahead of the bore, 15 mm from its foot: 0.75 w + 2 mm of wall + 4 mm leave w = 12 mm.
    ahead = replace(
        routed.channel("pump - blocks"), runs=(Run(((60.0, 35.0), (160.0, 35.0))),), legs=(), junctions=()
    )
    pump = replace(routed.pump, inlet=(120.0, 100.0), outlet=(80.0, 100.0))
    alone = replace(routed, channels=(ahead, sideways), ports=(port,), pump=pump)
    assert find_widest(panel, alone, MOST)["drain"] == pytest.approx(12.0, abs=0.01)
    assert find_widest(panel, alone, 11.0)["drain"] == 11.0
    # And the channel ahead leaves the bore of a wide drain its wall: 15 - 0.75 * 11 - 2 mm for half of it.
    wide = part_from(alone, "drain", 11.0, panel)
    assert find_widest(panel, wide, MOST)["pump - blocks"] == pytest.approx(9.5)


def test_drawn_ends_go_with_the_width() -> None:
    """Three quarters of a width inside the tank, and a quarter short of the other centreline at a T."""
    panel, routed = sample_panel("bonded"), sample_routed("bonded")
    wide = set_widths(panel, routed, dict.fromkeys(widths_of(routed), 12.0))
    assert wide.channel("feed").runs[0].points[0] == pytest.approx((145.0, 85.0 + 9.0))
    assert wide.channel("radiator - tank").runs[0].points[-1] == pytest.approx((110.0 + 9.0, 100.0))
    assert wide.channel("pump - blocks").runs[1].points == ((90.0, 20.0), pytest.approx((90.0, 40.0 - 3.0)))
    assert wide.channel("drain").runs[0].points[0] == pytest.approx((145.0, 40.0 - 3.0))
    back = set_widths(panel, wide, dict.fromkeys(widths_of(routed), 8.0))
    assert back.channel("feed").runs[0].points[0] == pytest.approx((145.0, 85.0 + 6.0))
    assert all(a.legs == b.legs for a, b in zip(wide.channels, routed.channels, strict=True))


@pytest.mark.published(source="common practice, no source: a pump is fed through no less than its inlet bore")
@pytest.mark.parametrize(
    "path", sorted(Path(panels.__file__).parent.glob("*.toml")), ids=lambda path: path.stem
)
def test_feed_is_no_narrower_than_the_inlet_bore_where_the_pump_leaves_room(path: Path) -> None:
    panel = read_panel(path)
    width, bore = feed_width(panel), panel.pump.inlet_bore
    assert width >= max(panel.channel.width, panel.tank.outlet_bore)
    assert width * panel.channel.depth >= math.pi / 4 * bore**2
    apart = math.hypot(*panel.pump.outlet_offset) - panel.channel.width / 2 - bore / 2
    if apart >= clearances_of(panel).channel_gap:
        assert width >= bore


def test_feed_is_as_wide_as_its_bores_and_their_section_ask_for() -> None:
    roomy = change_pump(sample_panel(), outlet_offset=(40.0, 0.0))
    assert feed_width(roomy) == 10.0
    assert feed_width(replace(roomy, tank=replace(roomy.tank, outlet_bore=12.0))) == 12.0
    shallow = replace(roomy, channel=replace(roomy.channel, depth=5.0))
    assert feed_width(shallow) == pytest.approx(math.ceil(math.pi * 25 / 5 * 10) / 10)
    assert feed_width(change_pump(roomy, inlet_bore=4.0)) == 8.0


def test_feed_takes_the_room_beside_the_pumps_own_outlet() -> None:
    """20 mm less 11.6 mm between channels less half a channel leave 4.4 mm for half the feed."""
    panel = sample_panel()
    assert feed_width(panel) == 8.8
    assert feed_width(change_pump(panel, outlet_offset=(19.0, 0.0))) == 8.0
    # Only a quarter turn puts the outlet beside the column here.
    above = change_pump(panel, outlet_offset=(0.0, 30.0), turns=(90,))
    assert feed_width(above) == 10.0


def test_router_keeps_the_wall_beside_a_wide_feed() -> None:
    path = Path(panels.__file__).parent / "laser-driver.toml"
    panel = read_panel(path)
    panel = replace(panel, tank=replace(panel.tank, outlet_bore=12.0))
    routed = route_panel(panel)
    assert routed.channel("feed").width == 12.0
    assert {c.width for c in routed.channels if c.name != "feed"} == {panel.channel.width}
    assert verify_routed(panel, routed) == ()


def test_verifier_sees_a_feed_that_is_too_wide() -> None:
    panel, routed = sample_panel(), sample_routed()
    (problem,) = verify_routed(panel, part_from(routed, "feed", 8.9, panel))
    assert 'channels "feed" and "pump - blocks"' in problem


def test_verifier_sees_a_channel_that_enters_the_tank_at_its_corner() -> None:
    panel, routed = sample_panel("bonded"), sample_routed("bonded")
    # The return enters 15 mm above the tank's lower corner of 6 mm.
    assert find_widest(panel, routed, MOST)["radiator - tank"] == pytest.approx(18.0)
    (problem,) = verify_routed(panel, part_from(routed, "radiator - tank", 18.1, panel))
    assert problem == 'channel "radiator - tank" does not enter the tank between its corners'


def make_shallow(closing: Closing) -> Panel:
    """Return the sample's panel with a tank 2 mm less deep than its channels."""
    panel = sample_panel(closing)
    return replace(panel, tank=replace(panel.tank, depth=7.0))


@pytest.mark.usefixtures("free_roofs")
@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_end_drawn_under_the_tanks_floor_keeps_a_wall_to_the_fill_bore(closing: Closing) -> None:
    """The bore ends 20 mm above the outlet: 1.25 widths and 2 mm of wall leave 14.4 mm."""
    panel, routed = make_shallow(closing), sample_routed(closing)
    assert find_widest(panel, routed, 14.6)["feed"] == pytest.approx(14.4, abs=0.011)
    (problem,) = verify_routed(panel, part_from(routed, "feed", 14.5, panel))
    assert problem == 'port "fill": 1.875 mm to channel "feed", 2 needed'


@pytest.mark.usefixtures("free_roofs")
@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_end_drawn_inside_the_tank_may_come_near_the_fill_bore(closing: Closing) -> None:
    """In a tank as deep as its channels coolant stands between them, no wall."""
    panel, routed = sample_panel(closing), sample_routed(closing)
    assert find_widest(panel, routed, 14.6)["feed"] == 14.6
    assert verify_routed(panel, part_from(routed, "feed", 14.6, panel)) == ()


def enter_beside(routed: Routed) -> Routed:
    """Return a feed 15 mm from the tank's left wall, and the return 15 mm over its lower one; nothing else."""
    points = ((125.0, 91.0), (125.0, 40.0))
    feed = routed.channel("feed")
    feed = replace(
        feed,
        width=8.0,
        runs=(Run(points),),
        legs=(replace(feed.legs[0], points=((125.0, 85.0), points[1])),),
    )
    back = routed.channel("radiator - tank")
    back = replace(back, runs=(Run(((75.0, 100.0), (116.0, 100.0))),))
    pump = replace(routed.pump, inlet=(125.0, 40.0), outlet=(60.0, 40.0))
    return replace(routed, channels=(feed, back), ports=(), pump=pump)


@pytest.mark.usefixtures("free_roofs")
def test_two_ends_drawn_under_the_tanks_floor_keep_a_wall() -> None:
    """From (125, 85 + 0.75 w) to (116, 100) stand half a feed, 2 mm of wall and half a return of 8 mm."""
    panel, routed = make_shallow("one-piece"), enter_beside(sample_routed("one-piece"))
    width = (28.5 - math.sqrt(28.5**2 - 4 * 0.3125 * 270)) / (2 * 0.3125)
    assert math.hypot(9.0, 15.0 - 0.75 * width) == pytest.approx(width / 2 + 2 + 4)
    assert find_widest(panel, routed, MOST)["feed"] == pytest.approx(width, abs=0.011)
    problems = verify_routed(panel, part_from(routed, "feed", width + 0.03, panel))
    assert any("under the tank's floor" in problem for problem in problems)
    problems = verify_routed(panel, part_from(routed, "feed", width - 0.03, panel))
    assert not any("under the tank's floor" in problem for problem in problems)


def test_verifier_lets_an_end_inside_the_tank_come_near_a_channel_outside() -> None:
    """A feed of 11 mm comes within 9.5 mm of the return's mouth, all of it coolant; 11.6 mm is for lands."""
    panel, routed = sample_panel(), enter_beside(sample_routed())
    assert find_widest(panel, routed, 11.0)["feed"] == 11.0
    problems = verify_routed(panel, part_from(routed, "feed", 11.0, panel))
    assert not any("feed" in problem and "radiator - tank" in problem for problem in problems)
