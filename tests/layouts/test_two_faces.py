"""A panel with channels in both faces: verified, sealed, detailed, filled, flowed through, widened."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.features import Cylinder, Detail, Prism, Track
from geom.outline import loop_polygon, region_polygon, track_polygon
from geom.standards.tables import screw
from geom.volume import plan_volume
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.spacing import limit_spacing
from layouts.closing.wet_regions import group_wet, joint_discs
from layouts.detail import cover_screw_depth, detail_panel
from layouts.feed import tank_volume_ml
from layouts.flow import size_flow
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.losses import LOSS_BANDS
from layouts.hydraulics.segments import Bend, Bore, PortTurn, Straight, drop_band, drop_pa
from layouts.legs import last_layer, list_pieces, measure_leg, split_at_holes
from layouts.loop_network import find_end_ports, list_hole_elements, list_leg_edges, pump_bore
from layouts.plan import Channel, Leg, Run, Sealed
from layouts.rules.floor_rules import check_layer_floor
from layouts.rules.flow_rules import check_velocity
from layouts.rules.screw_rules import check_cover_screws
from layouts.rules.seal_rules import check_groove_bends
from layouts.verify import verify_routed
from layouts.wet_volume import channel_volume_ml
from layouts.widen import find_widest, set_widths
from tests.layouts.sample_faces import CROSSING, HOLE, move_port, sample_faces, with_channel

CROSS, TO_BLOCKS = "blocks - radiator", "pump - blocks"


def detail_faces(body: float = 24.0) -> Detail:
    """Return the detail of the sample, closed by a cord."""
    panel, routed = sample_faces(body=body)
    gaps = clearances_of(panel)
    return detail_panel(panel, routed, close_panel(panel, routed, gaps), gaps)


def shape_of(detail: Detail, name: str):
    """Return the shape of the feature called `name`."""
    return next(feature.shape for feature in detail.features if feature.name == name)


def problems_of(panel, routed) -> str:
    """Return what the verifier says, as one text."""
    return "\n".join(verify_routed(panel, routed))


def shift_crossing(channel: Channel, hole) -> Channel:
    """Return the channel that crosses, with its through hole elsewhere in its front run's column."""
    front, back, branch = channel.runs
    first = channel.legs[0]
    corner = (30.0, hole[1])
    return replace(
        channel,
        runs=(
            Run((front.points[0], hole), "front"),
            Run((hole, corner, back.points[-1])),
            branch,
        ),
        legs=(replace(first, points=(first.points[0], hole, corner, first.points[-1])), *channel.legs[1:]),
        holes=(hole,),
    )


@pytest.mark.parametrize("closing", ["cord", "bonded"])
def test_the_sample_keeps_all_distances(closing):
    assert verify_routed(*sample_faces(closing)) == ()


def test_in_one_face_the_same_ways_would_meet():
    panel, routed = sample_faces()
    channel = routed.channel(CROSS)
    flat = replace(channel, runs=tuple(replace(run, layer="back") for run in channel.runs))
    assert f'channels "{TO_BLOCKS}" and "{CROSS}": 0.000 mm between them in the back face' in problems_of(
        panel, with_channel(routed, CROSS, flat)
    )


def test_a_thin_floor_is_found():
    panel, routed = sample_faces(body=19.5)
    assert "leaves 1.500 mm between channels 9 mm deep in both faces, 2 needed" in problems_of(panel, routed)
    (found,) = check_layer_floor(panel)
    assert (found.code, found.severity, found.value, found.limit) == ("wall.floor", "fault", 1.5, 2.0)
    assert 'body = "20 mm"' in found.remedy
    assert 'depth = "8.75 mm"' in found.remedy
    assert check_layer_floor(replace(panel, make=replace(panel.make, body=20.0))) == ()


def test_a_hole_too_near_a_channel_of_the_other_face_is_found():
    panel, routed = sample_faces()
    near = with_channel(routed, CROSS, shift_crossing(routed.channel(CROSS), (60.0, 54.0)))
    told = problems_of(panel, near)
    assert f'channels "{TO_BLOCKS}" and "{CROSS}": 6.000 mm between them in the back face' in told
    over = with_channel(routed, CROSS, shift_crossing(routed.channel(CROSS), (60.0, 44.5)))
    assert (
        f'a through hole of channel "{CROSS}": 0.000 mm to channel "{TO_BLOCKS}" in the back face'
        in problems_of(panel, over)
    )


def test_a_hole_without_its_runs_is_found():
    panel, routed = sample_faces()
    channel = routed.channel(CROSS)
    short = replace(channel.runs[0], points=(channel.runs[0].points[0], (60.0, 64.0)))
    told = problems_of(panel, with_channel(routed, CROSS, replace(channel, runs=(short, *channel.runs[1:]))))
    assert "at (60, 70) mm does not end a run in the front face" in told
    told = problems_of(panel, with_channel(routed, CROSS, replace(channel, holes=())))
    assert "its legs pass other through holes than it has" in told


def test_a_front_bore_too_near_a_front_channel_is_found():
    """It opens into the back face, and passes the front one on its way."""
    panel, routed = sample_faces()
    moved = move_port(panel, routed, "block b inlet", (70.5, 40.0), "back")
    assert f'port "block b inlet": 0.600 mm to channel "{CROSS}" in the front face' in problems_of(
        panel, moved
    )
    # A bore that ends in the front face does not disturb the back one.
    moved = move_port(panel, routed, "block b inlet", (100.0, 40.0), "front")
    assert f'to channel "{TO_BLOCKS}" in the back' not in problems_of(panel, moved)


def test_a_channel_over_its_own_bore_is_found():
    """A bore into the back face cuts its own channel's front run as it would any other."""
    panel, routed = sample_faces()
    moved = move_port(panel, routed, "block b outlet", (60.0, 50.0), "back")
    assert f'port "block b outlet": -5.900 mm to channel "{CROSS}" in the front face' in problems_of(
        panel, moved
    )


def test_pieces_of_one_channel_keep_room_for_two_cords():
    panel, routed = sample_faces()
    moved = move_port(panel, routed, "block b outlet", (75.0, 50.0), "back")
    assert f'channel "{CROSS}": 5.100 mm between its own pieces' in problems_of(panel, moved)
    assert "own pieces" not in problems_of(*sample_faces())


@pytest.mark.parametrize(("depth", "fits"), [(13.0, True), (14.0, False)])
def test_a_front_channel_over_a_deep_tank_is_found(depth, fits):
    panel, routed = sample_faces()
    panel = replace(panel, tank=replace(panel.tank, depth=depth))
    channel = routed.channel("radiator - tank")
    over = replace(channel, runs=(*channel.runs, Run(((115.0, 112.0), (115.0, 92.0)), "front")))
    told = problems_of(panel, with_channel(routed, "radiator - tank", over))
    assert ("to the tank in the front face, 2 needed" in told) != fits


def test_bores_of_the_pump_that_pass_the_front_face_are_found():
    panel, routed = sample_faces()
    channel = routed.channel(CROSS)
    front = Run(((60.0, 20.0), (130.0, 20.0), (130.0, 60.0)), "front")
    told = problems_of(panel, with_channel(routed, CROSS, replace(channel, runs=(front, *channel.runs[1:]))))
    assert f'the bore of the pump outlet: -2.000 mm to channel "{CROSS}" in the front face' in told
    behind = replace(panel, pump=replace(panel.pump, on="back"))
    told = problems_of(behind, with_channel(routed, CROSS, replace(channel, runs=(front, *channel.runs[1:]))))
    assert "the bore of the pump outlet" not in told


def test_an_end_in_the_other_face_is_found():
    panel, routed = sample_faces()
    ports = tuple(
        replace(port, layer="back") if port.name == "block a outlet" else port for port in routed.ports
    )
    told = problems_of(panel, replace(routed, ports=ports))
    assert f'channel "{CROSS}" passes "block a outlet" in the front face' in told
    pump = replace(routed.pump, outlet_layer="front")
    assert f'channel "{TO_BLOCKS}" passes "pump outlet" in the back face' in problems_of(
        panel, replace(routed, pump=pump)
    )


def test_a_drop_in_the_front_face_is_none():
    panel, routed = sample_faces()
    feed = routed.channel("feed")
    feed = replace(feed, runs=(replace(feed.runs[0], layer="front"),))
    assert "is not one straight column" in problems_of(panel, with_channel(routed, "feed", feed))


def test_regions_go_through_holes_and_not_through_the_floor():
    regions = group_wet(*sample_faces())
    assert [region.channels for region in regions] == [
        ("feed", "radiator - tank", "drain"),
        (TO_BLOCKS,),
        (CROSS,),
    ]


def test_cords_lie_in_both_joints():
    """One round each piece of a region's outline: in the front joint every bore on its way has its own."""
    panel, routed = sample_faces()
    loops = close_panel(panel, routed, clearances_of(panel)).loops
    assert [loop.name for loop in loops] == [f"groove {k}" for k in range(1, len(loops) + 1)]
    back = [loop.region for loop in loops if loop.layer == "back"]
    front = [loop.region for loop in loops if loop.layer == "front"]
    assert back == ["tank", TO_BLOCKS, CROSS]
    # The pump's inlet; its outlet and both ports of the split; the run with its port, and the port beside it.
    assert sorted(front) == sorted(["tank", *[TO_BLOCKS] * 3, *[CROSS] * 2])
    gaps = clearances_of(panel)
    for layer in ("back", "front"):
        rings = [
            track_polygon(loop.path, loop.closed, loop.groove_width) for loop in loops if loop.layer == layer
        ]
        for one, two in combinations(rings, 2):
            assert one.distance(two) >= panel.rules.least_wall - 0.01
        discs = shapely.MultiPoint([at for _, at, _ in joint_discs(panel, routed, layer)])
        inside = shapely.union_all([loop_polygon(loop.path, 0.001) for loop in loops if loop.layer == layer])
        assert discs.is_empty or inside.contains(discs)
    assert gaps.groove_depth > 0


def test_grooves_and_cords_are_cut_from_their_own_joint():
    panel, _ = sample_faces()
    detail, gaps = detail_faces(), clearances_of(panel)
    heights = {(f.shape.z0, f.shape.z1) for f in detail.features if isinstance(f.shape, Track)}
    assert heights == {(0.0, gaps.groove_depth), (24.0 - gaps.groove_depth, 24.0)}
    assert [(insert.shape.z0, insert.shape.z1) for insert in detail.inserts] == [
        (f.shape.z0, f.shape.z1) for f in detail.features if isinstance(f.shape, Track)
    ]


def test_features_of_two_faces():
    detail = detail_faces()
    assert [(blank.name, blank.z0, blank.z1) for blank in detail.blanks] == [
        ("body", 0.0, 24.0),
        ("cover", -10.0, 0.0),
        ("front cover", 24.0, 34.0),
    ]
    names = [feature.name for feature in detail.features]
    assert len(set(names)) == len(names)
    assert {join for feature in detail.features for join in feature.joins} <= {*names}
    front, back = shape_of(detail, f"channel {CROSS} front"), shape_of(detail, f"channel {CROSS}")
    assert isinstance(front, Prism)
    assert isinstance(back, Prism)
    assert (front.z0, front.z1, back.z0, back.z1) == (15.0, 24.0, 0.0, 9.0)
    assert f"channel {TO_BLOCKS} front" not in names
    hole = next(feature for feature in detail.features if feature.kind == "through hole")
    assert hole.name == f"through hole {CROSS} 1"
    assert (hole.medium, hole.region) == ("wet", CROSS)
    assert set(hole.joins) == {f"channel {CROSS}", f"channel {CROSS} front"}
    assert isinstance(hole.shape, Cylinder)
    assert hole.shape == Cylinder((*HOLE, 19.5), (0.0, 0.0, -1.0), 15.0, 3.8)
    joins = {feature.name: feature.joins for feature in detail.features}
    # Where they cross they are not meant to meet.
    assert f"channel {TO_BLOCKS}" not in joins[f"channel {CROSS} front"]
    assert f"channel {CROSS} front" in joins["port block a outlet G1/4"]
    assert f"channel {CROSS}" in joins["port block b outlet G1/4"]
    port = shape_of(detail, "port block a inlet G1/4")
    assert port.mouth[2] == pytest.approx(34.0 - 0.5)
    assert port.mouth[2] - port.length == pytest.approx(4.5)
    outlet = shape_of(detail, "port block a outlet G1/4")
    assert outlet.mouth[2] - outlet.length == pytest.approx(19.5)
    assert shape_of(detail, "pump inlet bore").mouth[2] == pytest.approx(34.0 - 1.5)


@pytest.mark.parametrize("body", [24.0, 20.5])
def test_screws_of_both_covers_meet_nothing(body):
    """Each hole keeps a wall to every wet feature, and to the other cover's screws.

    In the thinner body they reach down to the channels of the other face.
    """
    panel, routed = sample_faces(body=body)
    detail = detail_faces(body)
    sealed = close_panel(panel, routed, clearances_of(panel))
    assert len(sealed.screws) > 8
    assert len(sealed.front_screws) > 8
    holes = [f for f in detail.features if f.name.startswith(("cover screw", "front cover screw"))]
    assert len(holes) == len(sealed.screws) + len(sealed.front_screws)
    depth, radius = cover_screw_depth(panel), screw("M4").tap_drill / 2
    for hole in holes:
        front = hole.name.startswith("front")
        assert hole.shape.mouth[2] == (body if front else 0.0)
        assert hole.shape.length == depth
        low, high = (body - depth, body) if front else (0.0, depth)
        for feature in detail.features:
            if feature.medium != "wet":
                continue
            shape = feature.shape
            if isinstance(shape, Prism):
                plan, z0, z1 = region_polygon(shape.region), shape.z0, shape.z1
            elif abs(shape.direction[2]) > 0.5:
                plan = shapely.Point(shape.mouth[:2]).buffer(shape.radius, quad_segs=64)
                z0, z1 = sorted((shape.mouth[2], shape.mouth[2] + shape.direction[2] * shape.length))
            else:
                end = [shape.mouth[k] + shape.direction[k] * shape.length for k in (0, 1)]
                plan = shapely.LineString([shape.mouth[:2], end]).buffer(shape.radius, cap_style="flat")
                z0, z1 = shape.mouth[2] - shape.radius, shape.mouth[2] + shape.radius
            if max(z0 - high, low - z1) < 2.0 - 1e-6:
                assert plan.distance(shapely.Point(hole.shape.mouth[:2])) >= radius + 2.0 - 0.02, feature.name
    assert (depth + 2.0 > body - 9.0) == (body < 21.0)
    if 2 * depth + 2.0 > body:
        for a in sealed.screws:
            assert all(math.dist(a, b) >= 2 * radius + 2.0 - 1e-6 for b in sealed.front_screws)


def test_screws_of_a_thin_body_stand_side_by_side():
    panel, routed = sample_faces(body=20.0)
    sealed = close_panel(panel, routed, clearances_of(panel))
    assert 2 * cover_screw_depth(panel) + 2.0 > 20.0
    apart = min(math.dist(a, b) for a in sealed.screws for b in sealed.front_screws)
    assert apart >= screw("M4").tap_drill + 2.0


def test_each_cover_has_its_own_findings():
    panel, routed = sample_faces()
    sealed = close_panel(panel, routed, clearances_of(panel))
    bare = replace(sealed, front_screws=())
    texts = [f.text for f in check_cover_screws(panel, routed, bare) if f.severity == "fault"]
    assert texts == ["No place was left for a single front cover screw."]
    assert limit_spacing(panel, "front")[0] >= limit_spacing(panel, "back")[0]
    (bend,) = check_groove_bends(panel, sealed)
    assert bend.severity == "caution"
    assert bend.text.startswith(f'The cord in groove 7, round "{TO_BLOCKS}", turns at (')
    assert bend.text.endswith("on an inner radius of 5 mm, 2.5 cord sections, under 3 (6 mm).")
    assert bend.at_mm is not None
    assert math.dist(bend.at_mm, (125.0, 40.0, 24.0)) == pytest.approx(3.0 + 2.0 + 1.4)


@pytest.mark.parametrize("closing", ["cord", "bonded"])
def test_two_faces_hold_what_their_features_do(closing):
    panel, routed = sample_faces(closing)
    detail = detail_panel(panel, routed, Sealed((), ()), clearances_of(panel))
    kept = tuple(feature for feature in detail.features if not feature.name.startswith("port fill"))
    exact = plan_volume(replace(detail, features=kept), 0.02) / 1e3
    assert channel_volume_ml(panel, routed) + tank_volume_ml(panel, routed) == pytest.approx(exact, rel=0.005)


@pytest.mark.published(source="closed form: sections times lengths, half discs at free ends, cylinders")
def test_a_channel_through_a_hole_in_closed_form():
    """30 mm in the back face, a hole of 7.6 mm through a floor of 6 mm, 40 mm in the front face."""
    panel, routed = sample_faces()
    points = ((30.0, 70.0), (60.0, 70.0), (100.0, 70.0))
    runs = (Run(points[:2]), Run(points[1:], "front"))
    leg = Leg("way", "a", "b", points, "back", (1,))
    way = Channel("way", ("a", "b"), runs, (leg,), (), 8.0, 9.0, 14.0, (points[1],))
    alone = replace(routed, channels=(way,), ports=(), tank=replace(routed.tank, box=None))
    expected = 9 * (8 * (30 + 40) + 2 * math.pi * 4**2) + math.pi / 4 * 7.6**2 * 6
    assert channel_volume_ml(panel, alone) == pytest.approx(expected / 1e3, rel=3e-3)
    whole = replace(alone, channels=(replace(way, holes=()),))
    hole = channel_volume_ml(panel, alone) - channel_volume_ml(panel, whole)
    assert hole == pytest.approx(math.pi / 4 * 7.6**2 * 6 / 1e3, rel=1e-9)


def test_a_leg_through_a_hole_has_two_turns_and_no_bend_there():
    panel, routed = sample_faces()
    channel = routed.channel(CROSS)
    leg = channel.legs[0]
    assert measure_leg(leg.points, channel.bend_radius, leg.holes)[2] == 1
    assert list_pieces(leg) == (
        ("front", ((60.0, 20.0), HOLE)),
        ("back", (HOLE, (30.0, 70.0), (30.0, 95.0))),
    )
    assert (leg.layer, last_layer(leg)) == ("front", "back")
    edge = next(
        edge
        for edge in list_leg_edges(panel, channel, find_end_ports(panel, routed))
        if edge.name.endswith(leg.name)
    )
    kinds = [type(element).__name__ for element in edge.elements]
    assert kinds == [
        "Bore",
        "PortTurn",
        "Straight",
        "PortTurn",
        "Bore",
        "PortTurn",
        "Straight",
        "Bend",
        "Straight",
    ]
    turns = [element for element in edge.elements if isinstance(element, PortTurn)]
    assert [turn.kind for turn in turns] == ["bore_to_channel", "channel_to_bore", "bore_to_channel"]
    assert [turn.close for turn in turns] == [False, True, True]
    assert [e.length_m for e in edge.elements if isinstance(e, Straight)] == pytest.approx(
        [0.05, 0.016, 0.011]
    )
    assert next(e for e in edge.elements[1:] if isinstance(e, Bore)) == Bore(0.006, 0.0076)
    assert any(isinstance(element, Bend) for element in edge.elements)
    to_blocks = routed.channel(TO_BLOCKS)
    for layer, length in (("back", 0.0235), ("front", 0.0085)):
        out = replace(to_blocks, legs=tuple(replace(leg, layer=layer) for leg in to_blocks.legs))
        first = list_leg_edges(panel, out, {})[0].elements[0]
        assert isinstance(first, Bore)
        assert first.length_m == pytest.approx(length)
    assert pump_bore(panel, "back") == pytest.approx(34 - 9 - 1.5)
    assert pump_bore(panel, "front") == pytest.approx(10 - 1.5)


@pytest.mark.published(
    source="SMACNA, HVAC Systems Duct Design, table 14-10 E: mitred elbow that widens to 1.4, 0.95 times 1.40 at "
    "Re 10 000, 15 %; Idelchik: two close 90-degree bends cost 1.37 to 1.70 of one (both as copied in public code)"
)
def test_a_hole_costs_two_close_turns():
    """Of a square channel: its bore has 0.709 of the channel's area."""
    panel, routed = sample_faces()
    channel = replace(routed.channel(CROSS), width=8.0, depth=8.0)
    coolant = coolant_properties("water", 0.0, 35.0)
    into, bore, out = list_hole_elements(panel, channel)
    assert isinstance(bore, Bore)
    assert bore.length_m == pytest.approx(0.008)
    flow = 1e4 * coolant.viscosity_pa_s / coolant.density_kg_m3 * math.pi / 4 * 0.0076
    head = coolant.density_kg_m3 * (flow / (math.pi / 4 * 0.0076**2)) ** 2 / 2
    assert drop_pa(out, flow, coolant) == pytest.approx(1.40 * 0.95 * head, rel=0.15)
    pair = drop_pa(into, flow, coolant) + drop_pa(out, flow, coolant)
    one = pair / 2
    for times in (1.37, 1.70):
        assert times * one == pytest.approx(pair, rel=LOSS_BANDS["close turns"])
    assert drop_band(out, flow, coolant) == pytest.approx(LOSS_BANDS["close turns"])
    assert 0 < drop_pa(bore, flow, coolant) < 0.2 * pair


def test_a_hole_costs_the_loop_its_head():
    """The same way without the two turns flows more; the drop of the leg tells them."""
    panel, routed = sample_faces()
    flat = tuple(
        replace(leg, holes=(), layer="back") if leg.holes else leg for leg in routed.channel(CROSS).legs
    )
    plain = size_flow(panel, with_channel(routed, CROSS, replace(routed.channel(CROSS), legs=flat)))
    holed = size_flow(panel, routed)
    assert holed.flow_m3_s < plain.flow_m3_s
    leg = next(c for c in holed.channels if c.channel == CROSS).legs[0]
    other = next(c for c in plain.channels if c.channel == CROSS).legs[0]
    coolant = coolant_properties("water", 0.0, 35.0)
    hole = sum(
        drop_pa(element, leg.flow_m3_s, coolant)
        for element in list_hole_elements(panel, routed.channel(CROSS))
    )
    assert leg.turns_pa > other.turns_pa + 0.5 * hole
    assert leg.turns_pa > hole
    assert leg.band > other.band


@settings(max_examples=50, deadline=None)
@given(st.lists(st.integers(1, 8), unique=True, max_size=4), st.floats(0.0, 2.0))
def test_pieces_between_holes_add_up(holes, radius):
    points = tuple((10.0 * ((k + 1) // 2), 10.0 * (k // 2)) for k in range(10))
    holes = tuple(sorted(holes))
    pieces = split_at_holes(points, holes)
    assert len(pieces) == len(holes) + 1
    assert pieces[0][0] == points[0]
    assert pieces[-1][-1] == points[-1]
    straight, length, bends = measure_leg(points, radius, holes)
    assert bends == 8 - len(holes)
    assert straight == pytest.approx(90.0 - 2 * radius * bends)
    assert length == pytest.approx(straight + bends * radius * math.pi / 2)


@pytest.mark.parametrize("closing", ["cord", "bonded"])
def test_channels_grow_in_each_face_up_to_their_walls(closing):
    """At the width found the verifier agrees; where another channel bounds it, half a millimetre more is refused."""
    panel, routed = sample_faces(closing)
    widths = {channel.name: channel.width for channel in routed.channels}
    found = find_widest(panel, routed, 25.0)
    for name, width in found.items():
        grown = set_widths(panel, routed, widths | {name: width})
        assert [run.layer for run in grown.channel(name).runs] == [
            run.layer for run in routed.channel(name).runs
        ]
        assert verify_routed(panel, grown) == (), name
    for name in ("feed", TO_BLOCKS):
        assert verify_routed(panel, set_widths(panel, routed, widths | {name: found[name] + 0.5})), name


def test_a_channel_that_is_crossed_grows_under_the_crossing():
    """What bounds it lies in its own face: the crossing channel does not."""
    panel, routed = sample_faces("bonded")
    assert shapely.LineString(routed.channel(TO_BLOCKS).runs[0].points).distance(shapely.Point(CROSSING)) == 0
    assert find_widest(panel, routed, 25.0)[TO_BLOCKS] == pytest.approx(22.0)


@pytest.mark.parametrize(
    ("name", "foot", "room"), [("block b inlet", (80.0, 20.0), 20.0), ("block b outlet", (75.0, 50.0), 15.0)]
)
def test_a_front_channel_grows_up_to_the_bores_that_pass_it(name, foot, room):
    """A bonded land of 4 mm stands between it and a bore of 11.8 mm, even where that is its own."""
    panel, routed = sample_faces("bonded")
    moved = move_port(panel, routed, name, foot, "back")
    assert find_widest(panel, moved, 25.0)[CROSS] == pytest.approx(2 * (room - 5.9 - 4.0), abs=0.02)


def test_coolant_that_is_fast_in_a_hole_is_told():
    """A bore of 7.6 mm has less area than the channel of 8 x 9 mm: 1.59 times its velocity."""
    panel, routed = sample_faces()
    flowing = size_flow(panel, routed)
    flow = next(c for c in flowing.channels if c.channel == CROSS).legs[0]
    in_hole = flow.velocity_m_s * 72 / (math.pi / 4 * 7.6**2)
    for limit, told in ((0.99 * in_hole, True), (1.01 * in_hole, False)):
        slow = replace(panel, rules=replace(panel.rules, most_velocity_m_s=limit))
        found = [f for f in check_velocity(slow, routed, flowing) if "through hole" in f.text]
        assert bool(found) == told
    hole = check_velocity(replace(panel, rules=replace(panel.rules, most_velocity_m_s=0.01)), routed, flowing)
    (told_hole,) = [f for f in hole if "through hole" in f.text]
    assert told_hole.features == (f"through hole {CROSS} 1",)
    assert told_hole.at_mm is not None
    assert told_hole.at_mm[:2] == HOLE
