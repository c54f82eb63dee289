"""Place and route on whole panels: walls kept, ends reached, reasons given; and the verifier's own teeth."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sample_demos import route_demo

from geom.errors import LayoutError, RillplateError
from geom.standards import tables
from layouts.clearance import clearances_of, ports_apart
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.nets import channels_needed
from layouts.panel import Panel
from layouts.panels.catalogue import demo_names, demo_path
from layouts.place_bounds import find_placements
from layouts.plan import Routed, Run
from layouts.route import route_panel
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import NORMAL, QUICK
from layouts.routing.instance import Instance, Net, Rates, Terminal, disc_offsets
from layouts.routing.one_channel.trace import Tracer
from layouts.verify import verify_routed
from tests.layouts.sample_routed import centreline_points


def least_gap(one, two) -> float:
    """Return the least distance between two channels' outlines by dense points on their centrelines, [mm].

    Points 0.5 mm apart make the distance at most 0.25 mm too large at each side.
    """
    a = np.vstack([centreline_points(run.points, one.bend_radius, 0.5) for run in one.runs])
    b = np.vstack([centreline_points(run.points, two.bend_radius, 0.5) for run in two.runs])
    nearest = min(float(np.hypot(*(b - p).T).min()) for p in a)
    return nearest - (one.width + two.width) / 2


def assert_walls_kept(panel: Panel, routed: Routed) -> None:
    """Assert by points, not by outlines, that channels and ports keep their distances."""
    gap = clearances_of(panel).channel_gap
    for one, two in itertools.combinations(routed.channels, 2):
        if {one.name, two.name} != {"feed", "drain"}:
            assert least_gap(one, two) >= gap - 0.01, (one.name, two.name)
    for a, b in itertools.combinations(routed.ports, 2):
        if a.on == b.on:
            apart = ports_apart(tables.thread(a.thread), tables.thread(b.thread))
            assert np.hypot(*(np.array(a.at) - b.at)[:2]) >= apart - 1e-9 or a.on not in ("front", "back")
    assert routed.pump.inlet[0] == routed.tank.outlet[0]
    assert routed.tank.outlet[1] > routed.pump.inlet[1]


@pytest.mark.parametrize("name", demo_names())
def test_every_demo_is_routed_and_verified(name):
    panel = read_panel(demo_path(name))
    routed = route_demo(name, QUICK)
    assert verify_routed(panel, routed) == ()
    if panel.channel.layers == 1:
        assert_walls_kept(panel, routed)
    assert 0 < routed.bound <= routed.cost * (1 + 1e-12)
    ends = {end for channel in routed.channels for end in channel.ends}
    for part in panel.parts:
        assert {f"{part.name} inlet", f"{part.name} outlet"} <= ends


def test_the_same_file_gives_the_same_routing():
    panel = read_panel(demo_path("laser-driver"))
    assert route_panel(panel, seed=1) == route_panel(panel, seed=1)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    width=st.sampled_from([5.0, 6.0, 8.0]),
    pitch=st.sampled_from([4.0, 5.0]),
    wall=st.sampled_from([1.5, 2.0, 3.0]),
    radius=st.sampled_from([12.0, 15.0]),
    dx=st.integers(-6, 6),
    dy=st.integers(-6, 6),
)
def test_channels_never_come_closer_than_their_wall(width, pitch, wall, radius, dx, dy):
    panel = read_panel(demo_path("new"))
    parts = tuple(
        replace(p, inlet=_moved(p.inlet, pitch, dx, dy), outlet=_moved(p.outlet, pitch, dy, dx))
        for p in panel.parts
    )
    varied = replace(
        panel,
        pitch=pitch,
        parts=parts,
        pump=replace(panel.pump, outlet_offset=(20.0, 0.0)),
        channel=replace(panel.channel, width=width, bend_radius=radius),
        rules=replace(panel.rules, least_wall=wall),
    )
    try:
        routed = route_panel(varied, 0, QUICK)
    except RillplateError:
        return
    assert verify_routed(varied, routed) == ()
    assert_walls_kept(varied, routed)


def _moved(port, pitch, dx, dy):
    """Return a port shifted by whole pitches, fixed ones put on the grid."""
    if port.at is not None:
        x, y = (round(v / pitch + d) * pitch for v, d in zip(port.at, (dx, dy), strict=True))
        return replace(port, at=(x, y))
    if port.within is not None:
        x0, y0, x1, y1 = port.within
        return replace(port, within=(x0 + dx * pitch, y0 + dy * pitch, x1 + dx * pitch, y1 + dy * pitch))
    return port


@pytest.fixture(scope="module")
def routed() -> tuple[Panel, Routed]:
    """Return a small demo and its routing."""
    panel = read_panel(demo_path("laser-driver"))
    return panel, route_demo("laser-driver")


class TestVerifier:
    """The verifier must see what a wrong router would do."""

    def test_a_channel_moved_onto_another_is_seen(self, routed):
        panel, good = routed
        pair = [c for c in good.channels if c.name not in ("feed", "drain")][:2]
        moved = replace(
            pair[1], runs=tuple(Run(tuple((x + 0.3, y) for x, y in r.points)) for r in pair[0].runs)
        )
        bad = replace(good, channels=tuple(moved if c is pair[1] else c for c in good.channels))
        assert any(
            pair[0].name in problem and "mm between them" in problem for problem in verify_routed(panel, bad)
        )

    def test_a_drop_that_leans_is_seen(self, routed):
        panel, good = routed
        feed = good.channel("feed")
        (top, bottom) = feed.runs[0].points
        leaning = replace(feed, runs=(Run(((top[0] + 1, top[1]), bottom)),))
        bad = replace(good, channels=(leaning, *good.channels[1:]))
        assert any("straight column" in problem for problem in verify_routed(panel, bad))

    def test_two_ports_without_room_for_a_spanner_are_seen(self, routed):
        panel, good = routed
        a, b = [p for p in good.ports if p.on == "front"][:2]
        near = replace(b, at=(a.at[0] + 15, a.at[1], a.at[2]))
        bad = replace(good, ports=tuple(near if p is b else p for p in good.ports))
        assert any("apart" in problem for problem in verify_routed(panel, bad))

    def test_a_bend_without_room_is_seen(self, routed):
        panel, good = routed
        channel = next(c for c in good.channels if c.name not in ("feed", "drain"))
        start = channel.runs[0].points[0]
        tight = replace(channel, runs=(Run((start, (start[0] + 5, start[1]), (start[0] + 5, start[1] + 5))),))
        bad = replace(good, channels=tuple(tight if c is channel else c for c in good.channels))
        assert any("radius" in problem for problem in verify_routed(panel, bad))

    def test_a_channel_too_near_the_edge_is_seen(self, routed):
        panel, good = routed
        channel = next(c for c in good.channels if c.name not in ("feed", "drain"))
        low = replace(channel, runs=(Run(((20.0, 2.0), (60.0, 2.0))),))
        bad = replace(good, channels=tuple(low if c is channel else c for c in good.channels))
        assert any("to the edge" in problem for problem in verify_routed(panel, bad))


class TestReasons:
    """When nothing is found the message says which channel, and what blocks it."""

    def test_a_port_walled_in_by_keep_clear_names_both(self):
        panel = read_panel(demo_path("laser-driver"))
        part = panel.parts[0]
        ring = read_panel(demo_path("workshop-render")).keep_clear[0]
        box = part.inlet.within or (*part.inlet.at, *part.inlet.at)
        wall = replace(ring, name="clamp", box=(box[0] - 3, box[1] - 3, box[2] + 3, box[3] + 3))
        with pytest.raises(LayoutError, match=f"{part.name} inlet"):
            route_panel(replace(panel, keep_clear=(wall,)))

    def test_a_fence_across_the_panel_is_named(self):
        panel = read_panel(demo_path("laser-driver"))
        ring = read_panel(demo_path("workshop-render")).keep_clear[0]
        x = panel.pump.within[0] - 2.0
        fence = replace(ring, name="cable duct", box=(x - 3, 0.0, x, panel.height))
        with pytest.raises(LayoutError, match="cable duct"):
            route_panel(replace(panel, keep_clear=(fence,)))

    def test_no_place_for_the_pump_says_why(self):
        panel = read_panel(demo_path("laser-driver"))
        small = replace(panel.pump, at=None, within=(10.0, 10.0, 20.0, 20.0))
        with pytest.raises(LayoutError, match="no place for the pump"):
            next(find_placements(survey_panel(replace(panel, pump=small))))


class TestTwoFaces:
    """A panel that one face cannot hold is routed on two, its channels joined by through holes."""

    def test_one_face_is_not_enough_and_two_are(self):
        panel = read_panel(demo_path("observatory-camera"))
        with pytest.raises(LayoutError):
            route_panel(replace(panel, channel=replace(panel.channel, layers=1)), 0, QUICK)
        routed = route_demo("observatory-camera", QUICK)
        assert verify_routed(panel, routed) == ()
        assert any(channel.holes for channel in routed.channels)

    def test_legs_pass_where_the_holes_are(self):
        routed = route_demo("observatory-camera", QUICK)
        for channel in routed.channels:
            passed = [leg.points[k] for leg in channel.legs for k in leg.holes]
            assert sorted(passed) == sorted(channel.holes)
            assert {run.layer for run in channel.runs} <= {"back", "front"}
            for leg in channel.legs:
                assert all(0 < k < len(leg.points) - 1 for k in leg.holes)
                layers = [leg.layer]
                for _ in leg.holes:
                    layers.append("front" if layers[-1] == "back" else "back")
                for end, at, layer in ((leg.start, 0, layers[0]), (leg.end, -1, layers[-1])):
                    port = next((p for p in routed.ports if p.name == end), None)
                    assert port is None or port.layer == layer
                    # A leg's end lies on a run of the same layer.
                    assert any(
                        np.hypot(*(np.array(run.points[k]) - leg.points[at])) <= channel.width
                        for run in channel.runs
                        if run.layer == layer
                        for k in (0, -1)
                    )
            if "pump outlet" in channel.ends:
                leg = next(leg for leg in channel.legs if leg.start == "pump outlet")
                assert routed.pump.outlet_layer == leg.layer
            if "pump inlet" in channel.ends and channel.name == "drain":
                assert channel.legs[0].layer == "back"

    def test_a_second_face_never_costs_more(self):
        panel = read_panel(demo_path("laser-driver"))
        thick = replace(panel, make=replace(panel.make, body=30.0))
        two = replace(thick, channel=replace(thick.channel, layers=2))
        one_face, two_faces = route_panel(thick, 0, QUICK), route_panel(two, 0, QUICK)
        assert verify_routed(two, two_faces) == ()
        assert two_faces.bound <= one_face.cost + 1e-9


class TestOwnWidths:
    """Channels with a width of their own keep their walls, and cost what their width makes of them."""

    def test_each_keeps_its_width_and_its_walls(self):
        panel = read_panel(demo_path("workshop-render"))
        names = [need.name for need in channels_needed(panel)[1:]]
        own = ((names[0], 10.0), (names[2], 6.0))
        mixed = replace(panel, channel=replace(panel.channel, own=own))
        routed = route_panel(mixed, 0, QUICK)
        assert verify_routed(mixed, routed) == ()
        assert_walls_kept(mixed, routed)
        widths = {channel.name: channel.width for channel in routed.channels}
        assert widths[names[0]] == 10.0
        assert widths[names[2]] == 6.0
        assert widths[names[3]] == panel.channel.width

    def test_a_wider_channel_takes_less_of_the_head(self):
        panel = read_panel(demo_path("laser-driver"))
        names = [need.name for need in channels_needed(panel)[1:] if need.name != "drain"]
        wide = replace(panel, channel=replace(panel.channel, own=tuple((name, 8.0) for name in names)))
        assert route_panel(wide).channels_pa < route_demo("laser-driver").channels_pa


class TestEffort:
    """Counts alone decide how long is looked: no clock, and never a worse answer for more."""

    def test_quick_is_no_better_than_normal(self):
        quick, normal = (route_demo("cupboard-server", effort) for effort in (QUICK, NORMAL))
        assert normal.cost <= quick.cost + 1e-9
        assert normal.bound >= quick.bound - 1e-9

    def test_the_status_says_what_bound_and_cost_say(self):
        routed = route_demo("laser-driver")
        assert routed.gap == pytest.approx((routed.cost - routed.bound) / routed.cost, abs=1e-12)
        assert (routed.status == "optimal (proven)") == (routed.gap <= 1e-6)


class TestHardCases:
    """Panels on which an easy router fails or draws something wrong."""

    def test_a_fill_port_that_cannot_meet_the_tank_is_refused(self):
        panel = read_panel(demo_path("new"))
        fill = replace(panel.tank.fill, at=(25.0, panel.height))
        with pytest.raises(LayoutError, match="fill port would miss the tank"):
            route_panel(replace(panel, tank=replace(panel.tank, fill=fill)))

    def test_two_ports_of_one_channel_that_share_a_span_stand_apart(self):
        panel = read_panel(demo_path("laser-driver"))
        block, radiator = panel.parts
        span = {"on": "left", "at": None, "within": None, "between": (25.0, 100.0)}
        parts = (
            replace(block, outlet=replace(block.outlet, **span)),
            replace(radiator, inlet=replace(radiator.inlet, **span)),
        )
        shared = replace(panel, parts=parts)
        routed = route_panel(shared, 0, QUICK)
        assert verify_routed(shared, routed) == ()
        a, b = [p for p in routed.ports if p.on == "left"]
        thread = tables.thread(a.thread)
        assert abs(a.at[1] - b.at[1]) >= ports_apart(thread, thread) - 1e-9

    def test_ports_keep_off_a_separate_tanks_outlet(self):
        panel = read_panel(demo_path("cupboard-server"))
        inlet = replace(panel.tank.inlet, between=(90.0, 190.0))
        wide = replace(panel, tank=replace(panel.tank, inlet=inlet))
        routed = route_panel(wide)
        assert verify_routed(wide, routed) == ()

    def test_a_corner_cut_off_by_rounding_is_no_place_for_the_tank(self):
        panel = read_panel(demo_path("laser-driver"))
        round_panel = replace(panel, corner_radius=45.0)
        try:
            routed = route_panel(round_panel)
        except LayoutError:
            return
        assert verify_routed(round_panel, routed) == ()

    def test_a_pump_on_the_back_keeps_its_bores_apart_at_the_joint(self):
        panel = read_panel(demo_path("laser-driver"))
        turned = replace(panel, pump=replace(panel.pump, on="back", outlet_offset=(10.0, 0.0)))
        with pytest.raises(LayoutError, match="pump outlet"):
            route_panel(turned)

    def test_a_channel_that_crosses_itself_is_seen(self, routed):
        panel, good = routed
        channel = next(c for c in good.channels if c.name not in ("feed", "drain"))
        loop = ((30.0, 60.0), (80.0, 60.0), (80.0, 90.0), (50.0, 90.0), (50.0, 30.0))
        bad_channel = replace(channel, runs=(Run(loop),))
        bad = replace(good, channels=tuple(bad_channel if c is channel else c for c in good.channels))
        assert any("itself" in problem for problem in verify_routed(panel, bad))

    def test_a_port_that_misses_the_tank_is_seen(self, routed):
        panel, good = routed
        fill = next(p for p in good.ports if p.channel == "tank")
        moved = replace(fill, at=(20.0, *fill.at[1:]), foot=(20.0, fill.foot[1]))
        bad = replace(good, ports=tuple(moved if p is fill else p for p in good.ports))
        assert any("misses the tank" in problem for problem in verify_routed(panel, bad))


def winding_instances():
    """Yield instances of one net whose forced directions and obstacles make its path wind."""
    rng = np.random.default_rng(5)
    for _ in range(150):
        cells = np.zeros((1, 400), dtype=bool)
        cells[0, rng.choice(400, 40, replace=False)] = True
        pair = [int(cell) for cell in rng.choice(np.flatnonzero(~cells[0]), 2, replace=False)]
        net = Net("a", tuple((Terminal(cell=c, node=c, leaves=(int(rng.integers(4)),)),) for c in pair))
        offsets = ((disc_offsets(3.0),),)
        yield Instance(20, 20, (net,), cells, offsets, Rates(10.0, 20.0), bend_cells=2, bend_radius_cells=1.5)


def test_paths_found_never_come_back_to_themselves():
    """Obstacles and forced directions once made one in fourteen such paths cross itself."""
    for instance in winding_instances():
        trace = Tracer(instance).trace(instance.nets[0], instance.blocked, np.zeros(400))
        if trace is None:
            continue
        legs = list(itertools.pairwise(trace.runs[0].corners))
        for n, later in enumerate(legs):
            for earlier in legs[: max(0, n - 1)]:
                a, b = (shapely.LineString(leg) for leg in (earlier, later))
                assert a.distance(b) >= 3.0 - 1e-9


def test_a_path_kept_off_itself_costs_no_less_than_its_bound():
    """The bound is that of the path that may come back to itself: it counts, but proves no more."""
    told = set()
    for instance in winding_instances():
        tracer = Tracer(instance)
        if tracer.trace(instance.nets[0], instance.blocked, np.zeros(400)) is not None:
            told.add(tracer.narrowed)
            routing = route_instance(instance)
            assert routing.bound <= routing.cost
            assert tracer.narrowed or routing.bound == routing.cost
    assert told == {True, False}
