"""Wet regions and their cord loops."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.build import make_track
from geom.errors import GeometryError
from geom.features import Track
from geom.outline import (
    Arc,
    loop_area,
    loop_polygon,
    path_length,
    path_points,
    region_polygon,
    reverse_path,
    track_polygon,
)
from geom.standards.tables import cord, cord_sections
from layouts.clearance import clearances_of
from layouts.closing.cords import (
    CORNER_SECTIONS,
    PREFERRED_SECTIONS,
    corner_fillet,
    draw_middles,
    seal_panel,
)
from layouts.closing.wet_regions import group_wet, joint_discs, outline_channel, outline_tank
from layouts.panel import Closing, KeepClear, Panel
from layouts.plan import Channel, CordLoop, Leg, Routed, Run
from tests.layouts.sample_routed import sample_back, sample_panel, sample_routed


def seal_sample(panel: Panel, routed: Routed) -> tuple[CordLoop, ...]:
    """Return the cord loops of a panel."""
    return seal_panel(panel, routed, clearances_of(panel))


def only_channels(*runs: tuple[tuple[float, float], ...], bend: float = 14.0, width: float = 8.0) -> Routed:
    """Return a routed panel with one channel from the pump, of these runs, and nothing else."""
    leg = Leg("lone", "pump outlet", "end", runs[0])
    channel = Channel(
        "lone", ("pump outlet", "end"), tuple(Run(run) for run in runs), (leg,), (), width, 9.0, bend
    )
    routed = sample_routed()
    pump = replace(routed.pump, outlet=runs[0][0], inlet=(185.0, 15.0), screws=())
    tank = replace(routed.tank, box=None)
    return replace(routed, ports=(), channels=(channel,), tank=tank, pump=pump)


def bare_panel() -> Panel:
    """Return the sample without anything that a groove has to keep off."""
    panel = sample_panel()
    return replace(panel, keep_clear=(), pump=replace(panel.pump, seat_depth=0.0))


def inside(loop: CordLoop) -> shapely.Geometry:
    """Return what lies inside a loop's path."""
    return loop_polygon(loop.path if loop_area(loop.path) > 0 else reverse_path(loop.path), 1e-3)


def wet_shape(panel: Panel, routed: Routed, name: str) -> shapely.Geometry:
    """Return a region's outline at the back joint."""
    (region,) = (r for r in group_wet(panel, routed) if r.name == name)
    loops = [piece for each in region.channels for piece in outline_channel(routed.channel(each), 0.0)]
    tank = (outline_tank(routed, 0.0),) if region.tank else ()
    discs = [
        shapely.Point(at).buffer(radius, quad_segs=200)
        for channel, at, radius in joint_discs(panel, routed)
        if channel in region.channels
    ]
    return shapely.union_all([region_polygon((*loops, *tank), 1e-3), *discs])


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


def assert_path(loop: CordLoop) -> None:
    """Assert that a loop is closed without corners, does not meet itself, and turns no tighter than it can."""
    path = loop.path
    for here, after in pairwise((*path, path[0])):
        assert math.dist(here.end, after.start) < 1e-6
        (ax, ay), (bx, by) = _heading(here, 1.0), _heading(after, 0.0)
        assert ax * bx + ay * by > 1 - 1e-7
    assert min((s.radius for s in path if isinstance(s, Arc)), default=9.0) > loop.groove_width / 2
    track = track_polygon(path, True, loop.groove_width)
    assert track.is_valid
    assert track.area == pytest.approx(loop.length * loop.groove_width, rel=1e-4)


def _heading(s, fraction: float) -> tuple[float, float]:
    if isinstance(s, Arc):
        angle = s.first + s.sweep * fraction + math.copysign(math.pi / 2, s.sweep)
        return math.cos(angle), math.sin(angle)
    return (s.end[0] - s.start[0]) / s.length, (s.end[1] - s.start[1]) / s.length


@pytest.mark.parametrize("back", [False, True])
def test_land_and_groove_have_their_widths_all_round(back: bool) -> None:
    panel, routed = sample_back() if back else (sample_panel(), sample_routed())
    gaps = clearances_of(panel)
    loops = seal_sample(panel, routed)
    assert [loop.region for loop in loops] == [region.name for region in group_wet(panel, routed)]
    assert [loop.name for loop in loops] == ["groove 1", "groove 2", "groove 3"]
    middle = gaps.land + gaps.groove_width / 2
    for loop in loops:
        assert_path(loop)
        assert loop_area(loop.path) > 0
        wet = wet_shape(panel, routed, loop.region)
        off = shapely.distance(shapely.points(path_points(loop.path, 0.5)), wet)
        assert off.min() == pytest.approx(middle, abs=2e-3)
        assert wet.within(inside(loop))
        # Away from corners to the right it keeps just that distance.
        assert (off < middle + 2e-3).mean() > 0.7


def test_turns_about_dry_body_are_six_sections_where_there_is_room() -> None:
    """The two corners of a T; beside another groove only the three that a cord must have."""
    panel = bare_panel()
    routed = only_channels(((40.0, 60.0), (140.0, 60.0)), ((90.0, 62.0), (90.0, 110.0)))
    (loop,) = seal_sample(panel, routed)
    half = loop.groove_width / 2
    turns = [s.radius - half for s in loop.path if isinstance(s, Arc) and s.sweep < 0]
    assert turns == pytest.approx([PREFERRED_SECTIONS * 2.0] * 2)
    corner = 60.0 + 4.0 + 2.0 + half
    in_the_way = replace(
        panel, keep_clear=(KeepClear("post", (100.0, corner + 5.6, 101.0, corner + 9.0), 1),)
    )
    (loop,) = seal_sample(in_the_way, routed)
    turns = [s.radius - half for s in loop.path if isinstance(s, Arc) and s.sweep < 0]
    assert sorted(turns) == pytest.approx([CORNER_SECTIONS * 2.0, PREFERRED_SECTIONS * 2.0])


def test_grooves_of_different_regions_stay_apart() -> None:
    panel = sample_panel()
    tracks = [
        track_polygon(loop.path, True, loop.groove_width, 1e-3)
        for loop in seal_sample(panel, sample_routed())
    ]
    for a, b in combinations(tracks, 2):
        assert a.distance(b) >= panel.rules.least_wall - 2e-3


@pytest.mark.published(source="closed form: volume of rubber is constant; ring of a stadium 2 L + 2 pi r")
@settings(max_examples=25, deadline=None)
@given(length=st.floats(20, 150), section=st.sampled_from(cord_sections()))
def test_a_squeezed_cord_keeps_its_volume(length: float, section: float) -> None:
    panel = replace(sample_panel(), make=replace(sample_panel().make, cord=section))
    (loop,) = seal_sample(panel, only_channels(((30.0, 40.0), (30.0 + length, 40.0))))
    row = cord(section)
    centreline = 2 * length + 2 * math.pi * (4.0 + panel.rules.least_wall + row.groove_width / 2)
    assert loop.length == pytest.approx(centreline, rel=1e-12)
    assert loop.cord_width * row.groove_depth == pytest.approx(math.pi / 4 * section**2, rel=1e-12)
    assert loop.cord_width < loop.groove_width == row.groove_width


@pytest.mark.published(
    source="Guldin: a strip of width w along a closed smooth line of length l has area w l"
)
def test_groove_area_is_length_times_width() -> None:
    """By the kernel, and by polygons."""
    for loop in seal_sample(sample_panel(), sample_routed()):
        faces = make_track(loop.name, Track(loop.path, True, loop.groove_width, 0.0, 1.5))
        area = path_length(loop.path) * loop.groove_width
        assert math.fsum(face.Area() for face in faces) == pytest.approx(area, rel=1e-9)
        assert track_polygon(loop.path, True, loop.groove_width, 1e-5).area == pytest.approx(area, rel=1e-6)


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
    disc = shapely.Point(60.0, 80.0).buffer(5.9 + panel.rules.least_wall + loop.groove_width / 2 - 0.01)
    assert disc.within(inside(loop))
    bare = next(one for one in seal_sample(sample_panel(), sample_routed()) if one.region == loop.region)
    assert not disc.within(inside(bare))


def test_a_pump_on_the_back_passes_the_joint() -> None:
    panel, routed = sample_panel(), sample_routed()
    panel = replace(panel, pump=replace(panel.pump, on="back"))
    discs = joint_discs(panel, routed)
    assert discs == (("feed", (145.0, 40.0), 5.0), ("pump - blocks", (125.0, 40.0), 4.0))


@pytest.mark.parametrize("bend", [2.0, 5.0, 8.7, 9.0])
def test_a_bend_of_any_radius_has_a_groove_that_a_cord_can_follow(bend: float) -> None:
    """However sharp the channel turns, its groove turns rounder: the corner is filled as that of a T."""
    routed = only_channels(((40.0, 60.0), (100.0, 60.0), (100.0, 110.0)), bend=bend, width=4.0)
    (loop,) = seal_sample(bare_panel(), routed)
    assert_path(loop)
    inner = [s.radius - loop.groove_width / 2 for s in loop.path if isinstance(s, Arc) and s.sweep < 0]
    assert inner == pytest.approx([12.0])


@pytest.mark.parametrize(
    ("left", "inserts", "loops"), [(40.0, False, 2), (84.0, False, 2), (84.0, True, 1), (86.0, False, 1)]
)
def test_an_island_has_a_cord_of_its_own_where_a_screw_stands_on_it(
    left: float, inserts: bool, loops: int
) -> None:
    """Within a square of channels: coolant creeps over all its land, and would come out at the screw."""
    square = ((left, 50.0), (110.0, 50.0), (110.0, 100.0), (left, 100.0), (left, 50.0))
    routed = only_channels(*pairwise(square))
    panel = bare_panel()
    found = seal_sample(replace(panel, make=replace(panel.make, inserts=inserts)), routed)
    assert [loop_area(loop.path) > 0 for loop in found] == [True, False][:loops]
    for loop in found:
        assert_path(loop)
    if loops == 2:
        # Coolant lies on the left of both: outside of the inner one.
        assert inside(found[1]).within(inside(found[0]))
        assert not shapely.Point(40.0, 75.0).within(inside(found[1]))


def test_what_has_no_room_to_turn_is_told_with_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two legs 0.6 mm further apart than their grooves' middles: no cord turns between them."""
    monkeypatch.setattr("geom.corners.MOST_PASSED", 0)
    routed = only_channels(
        ((40.0, 50.0), (120.0, 50.0)), ((60.0, 50.0), (60.0, 90.0)), ((75.4, 50.0), (75.4, 90.0))
    )
    with pytest.raises(
        GeometryError, match=r'groove round "lone" turns at \(6[0-9]\.\d, 57\.\d\) mm on a radius of'
    ):
        seal_sample(bare_panel(), routed)


def test_legs_too_near_for_a_cord_between_them_get_one_round_both() -> None:
    routed = only_channels(
        ((40.0, 50.0), (120.0, 50.0)), ((60.0, 50.0), (60.0, 90.0)), ((78.0, 50.0), (78.0, 90.0))
    )
    (loop,) = seal_sample(bare_panel(), routed)
    assert_path(loop)
    assert shapely.Point(69.0, 75.0).within(inside(loop))
    inner = [s.radius - loop.groove_width / 2 for s in loop.path if isinstance(s, Arc) and s.sweep < 0]
    assert min(inner) >= 6.0 - 1e-6


nodes = st.tuples(st.integers(0, 7), st.integers(0, 4)).map(lambda at: (35.0 + 20 * at[0], 25.0 + 20 * at[1]))


@settings(max_examples=30, deadline=None)
@given(
    start=nodes, steps=st.lists(st.tuples(st.sampled_from("xy"), st.integers(1, 3)), min_size=1, max_size=4)
)
def test_any_channel_on_a_grid_has_loops_at_their_distance(start, steps) -> None:
    """Also one that comes back to itself, round an island or over its own way."""
    points, signs = [start], [1, 1, -1, -1]
    for k, (way, length) in enumerate(steps):
        x, y = points[-1]
        step = 20.0 * length * signs[k]
        points.append((x + step, y) if way == "x" else (x, y + step))
    runs = [pair for pair in pairwise(points) if pair[0] != pair[1]]
    panel, routed = bare_panel(), only_channels(*runs)
    gaps = clearances_of(panel)
    middle = gaps.land + gaps.groove_width / 2
    wet = wet_shape(panel, routed, "lone")
    sharp = draw_middles(panel, routed, gaps, "back")
    loops = seal_sample(panel, routed)
    assert len(loops) == len(sharp)
    assert loops == seal_sample(panel, routed)
    for loop in loops:
        assert_path(loop)
        points_on = shapely.points(path_points(loop.path, 1.0))
        assert shapely.distance(points_on, wet).min() > middle - 2e-3
        assert wet.intersects(inside(loop)) == (loop_area(loop.path) > 0)
