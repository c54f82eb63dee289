"""The fill step by step, on panels laid by hand, against volumes by hand and the plan's own."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_demos import plan_demo

from geom.volume import plan_volume
from geom.wet.raster import raster_wet
from geom.wet.voxels import WetVoxels
from layouts.detail import cut_openings
from layouts.feed import HOSES, loop_volume_ml, outlet_bore, outside_volume_ml, tank_volume_ml
from layouts.filling.fill_steps import fill_in_steps
from layouts.filling.held import TANK, find_tank, weigh_voxels
from layouts.filling.hose_ways import find_range, show_ends
from layouts.filling.left import find_air
from layouts.filling.openings import find_openings
from layouts.filling.sequence_values import FillSequence
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Filling, Left, Tilt
from layouts.nets import PUMP_INLET
from layouts.panel import Panel
from layouts.plan import Channel, Leg, Routed, Run
from layouts.rules import feed_rules
from layouts.rules.first_fill_rules import check_first_fill
from layouts.wet_volume import channel_volume_ml
from tests.layouts.sample_routed import TANK_BOX, sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
TALL = TANK_BOX[3] - TANK_BOX[1]
WIDE, DEEP = 8.0, 9.0
BEND = 14.0
SAG_MM = 0.02


def fill(panel: Panel, routed: Routed = ROUTED, spacing: float = 1.0) -> FillSequence:
    sequence, _, _ = fill_with_voxels(panel, routed, spacing)
    return sequence


def fill_with_voxels(
    panel: Panel, routed: Routed = ROUTED, spacing: float = 1.0
) -> tuple[FillSequence, WetVoxels, np.ndarray]:
    """Return the sequence, with the voxels and those that air stays in."""
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, spacing)
    openings = find_openings(panel, routed, features, voxels)
    tank = find_tank(panel, routed, voxels)
    air = find_air(voxels, openings, voxels.elevations(panel.up), tank).number >= 0
    sequence = fill_in_steps(panel, routed, voxels, openings, air)
    assert sequence is not None
    return sequence, voxels, air


def hold(level: float, *volumes: float | None, hoses: float | None = 0.0) -> Panel:
    """Return the sample filled to a level, with what its three parts and its hoses hold, [mL]."""
    given_ml = volumes or (0.0, 0.0, 0.0)
    parts = tuple(replace(part, volume_ml=ml) for part, ml in zip(PANEL.parts, given_ml, strict=True))
    return replace(PANEL, tank=replace(PANEL.tank, level=level), parts=parts, hose_volume_ml=hoses)


def without_parts(level: float, riser: tuple[tuple[float, float], ...]) -> tuple[Panel, Routed]:
    """Return the sample with no part: from the pump's outlet back into the tank, round these corners."""
    name = "pump - tank"
    back = Channel(
        name,
        ("pump outlet", "tank return"),
        (Run(riser),),
        (Leg(name, "pump outlet", "tank return", riser),),
        (),
        WIDE,
        DEEP,
        BEND,
    )
    panel = replace(hold(level), parts=(), loop=("tank", "pump", "tank"), drain=None, keep_clear=())
    ports = tuple(port for port in ROUTED.ports if port.role == "fill")
    return panel, replace(ROUTED, ports=ports, channels=(ROUTED.channel("feed"), back))


def kinds(sequence: FillSequence) -> list[str]:
    return [step.kind for step in sequence.steps]


def total_after(sequence: FillSequence, kind: str) -> float:
    return next(step.total_ml for step in sequence.steps if step.kind == kind)


RISER = ((125.0, 40.0), (95.0, 40.0), (95.0, 112.0), (118.0, 112.0))
"""From the pump's outlet to the left, up beside the tank, and into its left wall 27 mm over its floor."""


def segment_area(radius: float, deep: float) -> float:
    """Return the area of a quarter disc down to a depth under its middle."""
    return (deep * math.sqrt(radius**2 - deep**2) + radius**2 * math.asin(deep / radius)) / 2


@pytest.mark.published(
    source="closed form: communicating vessels; sections times lengths, half discs, cylinders"
)
def test_a_tank_over_a_straight_feed_with_a_pump_and_a_leg_over_its_level():
    """Filled to 95 mm the tank fills the leg to the same height; the pump pushes the rest over.

    The leg stands straight to 98 mm, turns with the bend's radius and runs 1 mm to the tank's wall at 110 mm.
    """
    surface = 95.0
    level = (surface - TANK_BOX[1]) / TALL
    panel, routed = without_parts(level, RISER)
    sequence = fill(panel, routed, 0.5)
    pushed = WIDE * DEEP * (112.0 - BEND - surface + math.pi / 2 * BEND + 110.0 - 95.0 - BEND) / 1e3
    tank = tank_volume_ml(panel, routed) or 0.0
    channels = channel_volume_ml(panel, routed)
    assert sequence.push_ml == pytest.approx(pushed, rel=0.03)
    assert total_after(sequence, "level reached") == pytest.approx(level * tank + channels - pushed, rel=5e-3)
    assert sequence.total_ml == pytest.approx(level * tank + channels, rel=1e-3)
    assert sequence.whole_ml == pytest.approx(level * tank + channels)
    # The pump may run once its inlet and half a bore over the tank's outlet stand in coolant: the leg to there too.
    bare = (outlet_bore(routed) or 0.0) / 2
    leg = WIDE * DEEP * (surface - TANK_BOX[1] - bare) / 1e3
    ready = channels - pushed - leg + bare / TALL * tank
    assert sequence.may_run_ml == pytest.approx(ready, rel=0.01)
    # The inlet's mouth stands in coolant long before: the drop above it and the leg are still empty.
    mouth = 40.0 + panel.pump.inlet_bore / 2
    feed = routed.channel("feed")
    inside, outside, deep = BEND - WIDE / 2, BEND + WIDE / 2, 40.0 + BEND - mouth
    turn = segment_area(outside, deep) - segment_area(inside, deep)
    empty = feed.width * (TANK_BOX[1] - mouth) + turn + WIDE * (TANK_BOX[1] + bare - 40.0 - BEND)
    lowest_row = (TANK_BOX[2] - TANK_BOX[0]) * panel.tank.depth * 0.5 / 1e3
    covered = ready - bare / TALL * tank - DEEP * empty / 1e3
    # Some of the lowest voxels of the tank are wet too before any coolant runs out of it.
    assert 0.98 * covered <= sequence.inlet_covered_ml <= 1.02 * covered + lowest_row
    assert sequence.run_ml == pytest.approx((level - bare / TALL) * tank, rel=1e-3)
    assert sequence.tops == 1
    assert kinds(sequence) == ["inlet covered", "may run", "level reached", "run", "top up", "end"]
    # It stands down to the outlet once all is out of it that the loop takes.
    assert sequence.level_falls_mm == pytest.approx(surface - TANK_BOX[1])
    (run,) = (step for step in sequence.steps if step.kind == "run")
    assert run.level_mm == pytest.approx((level - sequence.push_ml / tank) * TALL, rel=1e-3)


def test_a_loop_under_the_level_fills_by_itself():
    panel, routed = without_parts(0.95, RISER)
    sequence = fill(panel, routed)
    assert sequence.push_ml == pytest.approx(0.0, abs=1e-9)
    assert sequence.tops == 0
    assert kinds(sequence) == ["inlet covered", "may run", "level reached", "end"]
    assert sequence.steps[-1].loop_share == pytest.approx(1.0)


def test_a_level_that_bares_the_outlet_lets_the_pump_not_run():
    """At a tenth of its height the tank stands 3.5 mm over its outlet's middle, half of whose diameter is more."""
    panel, routed = without_parts(0.1, RISER)
    assert (outlet_bore(routed) or 0.0) / 2 > 3.5
    sequence = fill(panel, routed)
    assert kinds(sequence) == ["level reached"]
    assert (sequence.may_run_ml, sequence.run_ml, sequence.level_falls_mm) == (None, None, None)
    assert sequence.dry is not None
    assert (sequence.dry.cause, sequence.dry.code) == ("bare", "feed.depth")
    assert sequence.dry.value == pytest.approx((outlet_bore(routed) or 0.0) / 2 - 3.5)
    assert sequence.total_ml == total_after(sequence, "level reached")


def test_a_panel_upside_down_takes_what_fills_its_tank():
    sequence = fill(replace(hold(0.85, 30.0, 40.0, 180.0), up=(0.0, -1.0, 0.0)))
    assert kinds(sequence) == ["level reached"]
    assert sequence.dry is not None
    assert (sequence.inlet_covered_ml, sequence.may_run_ml, sequence.run_ml) == (None, None, None)


def test_an_inlet_with_some_air_in_it_is_never_covered_but_may_run():
    panel, routed = without_parts(0.85, RISER)
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, 1.0)
    openings = find_openings(panel, routed, features, voxels)
    mouth = next(opening for opening in openings if opening.name == PUMP_INLET)
    air = np.zeros(voxels.count, bool)
    air[mouth.voxels[: len(mouth.voxels) // 4]] = True
    sequence = fill_in_steps(panel, routed, voxels, openings, air)
    assert sequence is not None
    assert sequence.inlet_covered_ml is None
    assert sequence.may_run_ml is not None
    assert kinds(sequence)[0] == "may run"


@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_parts_volume_adds_just_that(which):
    volumes = [30.0, 40.0, 180.0]
    before = fill(hold(0.85, *volumes, hoses=60.0))
    volumes[which] *= 2
    after = fill(hold(0.85, *volumes, hoses=60.0))
    assert after.total_ml - before.total_ml == pytest.approx(volumes[which] / 2)


def test_hoses_and_parts_that_hold_nothing_known_are_named():
    sequence = fill(hold(0.85, 30.0, None, 180.0, hoses=None))
    assert sequence.unknown == ("block b", HOSES)
    assert fill(hold(0.85, 30.0, 40.0, 180.0)).unknown == ()


def test_hoses_count_whole_even_without_parts():
    panel, routed = without_parts(0.95, RISER)
    more = replace(panel, hose_volume_ml=25.0)
    assert fill(more, routed).total_ml - fill(panel, routed).total_ml == pytest.approx(25.0)


def test_tops_by_hand():
    """Of the radiator on the top edge nothing fills by itself; each run brings what stands over the outlet."""
    panel = hold(0.85, 0.0, 0.0, 180.0)
    sequence = fill(panel)
    tank = tank_volume_ml(panel, ROUTED) or 0.0
    run = tank * (0.85 - (outlet_bore(ROUTED) or 0.0) / 2 / TALL)
    assert sequence.push_ml > 180.0
    left, runs = sequence.push_ml, 0
    while left > 0:
        left, runs = left - run, runs + 1
    assert sequence.tops == runs > 3
    assert {step.times for step in sequence.steps if step.kind in ("run", "top up")} == {runs}


def test_a_hose_that_rises_leaves_its_part_to_the_pump():
    panel = hold(0.85, 30.0, 40.0, 0.0)
    port = replace(panel.parts[0].inlet, hose="rises")
    other = replace(panel, parts=(replace(panel.parts[0], inlet=port), *panel.parts[1:]))
    before, after = fill(panel), fill(other)
    assert total_after(before, "level reached") - total_after(after, "level reached") >= 30.0 - 1e-6
    assert after.total_ml == pytest.approx(before.total_ml)


def separate(volume_ml: float | None, level: float = 0.8) -> tuple[Panel, Routed]:
    """Return the sample fed from a vessel above: a port on the top edge over the feed."""
    outlet = replace(PANEL.parts[2].inlet, name="tank outlet", part="tank", role="outlet")
    tank = replace(
        PANEL.tank,
        kind="separate",
        size=None,
        at=None,
        fill=None,
        outlet=outlet,
        volume_ml=volume_ml,
        level=level,
    )
    fill_port = next(port for port in ROUTED.ports if port.role == "fill")
    mouth = replace(
        fill_port, name="tank outlet", role="outlet", foot=(145.0, 85.0), channel="feed", depth=140.0 - 85.0
    )
    ports = tuple(mouth if port is fill_port else port for port in ROUTED.ports)
    routed = replace(ROUTED, ports=ports, tank=replace(ROUTED.tank, box=None))
    return replace(hold(level), tank=tank), routed


def test_a_separate_tank_is_told_by_its_share_alone():
    panel, routed = separate(250.0)
    sequence = fill(panel, routed)
    assert all(step.level_mm is None for step in sequence.steps)
    at_level = next(step for step in sequence.steps if step.kind == "level reached")
    assert at_level.level == 0.8
    assert sequence.level_falls_mm is None
    assert sequence.total_ml == pytest.approx(200.0 + loop_volume_ml(panel, routed))
    assert sequence.whole_ml == pytest.approx(sequence.total_ml)
    assert sequence.dry is None
    unknown, _ = separate(None)
    sequence = fill(unknown, routed)
    assert sequence.unknown[0] == TANK
    assert sequence.run_ml is None
    assert sequence.total_ml == pytest.approx(loop_volume_ml(panel, routed))


def test_a_separate_tank_of_no_known_volume_is_filled_up_again():
    panel, routed = separate(None)
    parts = tuple(replace(p, inlet=replace(p.inlet, hose="rises"), volume_ml=30.0) for p in panel.parts)
    sequence = fill(replace(panel, parts=parts), routed)
    assert sequence.tops == 1
    (run,) = (step for step in sequence.steps if step.kind == "run")
    assert run.level is None
    assert run.poured_ml == 0.0
    assert sequence.total_ml == pytest.approx(loop_volume_ml(replace(panel, parts=parts), routed))


def test_volumes_do_not_depend_on_the_voxels():
    panel = hold(0.85, 30.0, 40.0, 180.0)
    for spacing in (0.5, 1.0):
        voxels = raster_wet(cut_openings(panel, ROUTED), spacing)
        held = weigh_voxels(panel, ROUTED, voxels)
        assert held.voxels_ml.sum() == pytest.approx(channel_volume_ml(panel, ROUTED))
        assert sum(ml for _, ml in held.parts_ml) == pytest.approx(outside_volume_ml(panel))
        assert held.tank.sum() * spacing**3 / 1e3 == pytest.approx(held.tank_ml, rel=0.005)


@pytest.mark.parametrize("name", ["cupboard-server", "laser-driver", "workshop-render"])
def test_demos_take_what_their_features_hold_but_for_pockets(name):
    """Against the exact volume of the features that are cut, of which the fill port's bore stands in air."""
    plan = plan_demo(name)
    assert plan.filling is not None
    sequence = plan.filling.sequence
    assert sequence is not None
    cut = replace(
        plan.detail, features=tuple(f for f in plan.detail.features if not f.name.startswith("port fill"))
    )
    tank = tank_volume_ml(plan.panel, plan.routed) or 0.0
    exact = plan_volume(cut, SAG_MM) / 1e3 - (tank if plan.routed.tank.box is not None else 0.0)
    whole = exact + outside_volume_ml(plan.panel) + plan.panel.tank.level * tank
    assert sequence.total_ml + plan.filling.left.air_mm3 / 1e3 == pytest.approx(whole, rel=0.005)
    assert sequence.dry is None
    assert sequence.steps[-1].kind == "end"
    at_level = next(step for step in sequence.steps if step.kind == "level reached")
    assert sequence.inlet_covered_ml < sequence.may_run_ml < at_level.total_ml


ups = st.one_of(
    st.just((0.0, 1.0, 0.0)),
    st.builds(tilted_up, st.just((0.0, 1.0, 0.0)), st.builds(Tilt, st.floats(-180, 180), st.floats(-90, 90))),
)


@settings(max_examples=25, deadline=None)
@given(
    up=ups,
    level=st.floats(1e-4, 1.0),
    volumes=st.tuples(*[st.one_of(st.none(), st.floats(0.0, 300.0))] * 3),
    hoses=st.one_of(st.none(), st.floats(0.0, 200.0)),
    ways=st.tuples(*[st.sampled_from([None, "rises", "falls"])] * 3),
    filled=st.booleans(),
)
def test_sums_and_order_in_every_attitude(up, level, volumes, hoses, ways, filled):
    panel = replace(hold(level, *volumes, hoses=hoses), up=up)
    parts = tuple(
        replace(part, inlet=replace(part.inlet, hose=way))
        for part, way in zip(panel.parts, ways, strict=True)
    )
    panel = replace(panel, parts=parts)
    routed = ROUTED
    if not filled:
        panel = replace(panel, tank=replace(panel.tank, fill=None))
        routed = replace(ROUTED, ports=tuple(port for port in ROUTED.ports if port.role != "fill"))
    sequence, voxels, air = fill_with_voxels(panel, routed, 2.0)
    steps = sequence.steps
    assert (sequence.dry is None) == (sequence.may_run_ml is not None)
    if not filled:
        assert steps == ()
        assert sequence.dry is not None
        return
    assert all(step.poured_ml >= 0 for step in steps)
    assert math.fsum(step.poured_ml for step in steps) == pytest.approx(sequence.total_ml)
    tank = find_tank(panel, routed, voxels)
    for before, after in pairwise(steps):
        assert not (before.wet & ~after.wet & ~tank).any()
        assert before.loop_share <= after.loop_share + 1e-9
    assert not any((step.wet & air & ~tank).any() for step in steps)
    tank_ml = (tank_volume_ml(panel, routed) or 0.0) * (steps[-1].level or 0.0)
    assert steps[-1].level <= level + 1e-9
    for low, value, high in (
        (step.total_range_ml[0], step.total_ml, step.total_range_ml[1])
        for step in steps
        if step.total_range_ml
    ):
        assert low - 1e-9 <= value <= high + 1e-9
    if steps[-1].kind == "end":
        held = weigh_voxels(panel, routed, voxels)
        whole = tank_ml + loop_volume_ml(panel, routed) - held.voxels_ml[air & ~tank].sum()
        assert sequence.total_ml == pytest.approx(whole)
        assert (steps[-1].wet | air | tank | (held.voxels_ml == 0)).all()
    runs = sequence.may_run_ml is not None
    assert runs == (steps[-1].kind == "end")
    assert runs == any(step.kind == "may run" for step in steps)
    if runs:
        assert sequence.dry is None
        assert sequence.run_ml > 0
        assert sequence.inlet_covered_ml is None or sequence.inlet_covered_ml <= sequence.may_run_ml
    else:
        assert (sequence.run_ml, sequence.tops, steps[-1].kind) == (None, 0, "level reached")


@pytest.mark.published(source="closed form: share of a box under a level")
@pytest.mark.parametrize("height", [100.0, 110.0])
def test_a_tank_fills_no_higher_than_its_fill_ports_mouth(height):
    """A mouth in the front face, 15 or 25 mm over the tank's floor of 35 mm, against a level of 85 %."""
    panel, routed = without_parts(0.85, RISER)
    (port,) = routed.ports
    routed = replace(routed, ports=(replace(port, on="front", at=(port.at[0], height, 20.0)),))
    sequence = fill(panel, routed)
    at_level = next(step for step in sequence.steps if step.kind == "level reached")
    assert at_level.to_mouth
    assert at_level.level == pytest.approx((height - TANK_BOX[1]) / TALL)
    assert at_level.level_mm == pytest.approx(height - TANK_BOX[1])
    assert all(step.level is None or step.level <= at_level.level for step in sequence.steps)
    over = replace(routed, ports=(replace(port, on="front", at=(port.at[0], 119.0, 20.0)),))
    assert not any(step.to_mouth for step in fill(panel, over).steps)


def test_a_mouth_under_what_covers_the_outlet_lets_the_pump_not_run():
    panel, routed = without_parts(0.85, RISER)
    (port,) = routed.ports
    low = replace(routed, ports=(replace(port, on="front", at=(port.at[0], 89.0, 20.0)),))
    sequence = fill(panel, low)
    assert sequence.dry is not None
    # At the level itself it is covered, so `feed.depth` is silent.
    assert (sequence.dry.cause, sequence.dry.code) == ("bare", "feed.first")
    assert "fill port's mouth" in sequence.dry.why


def test_a_tank_without_a_fill_port_is_not_filled():
    panel = hold(0.85, 30.0, 40.0, 180.0)
    shut = replace(panel, tank=replace(panel.tank, fill=None))
    routed = replace(ROUTED, ports=tuple(port for port in ROUTED.ports if port.role != "fill"))
    sequence = fill(shut, routed)
    assert (sequence.steps, sequence.total_ml, sequence.may_run_ml) == ((), 0.0, None)
    assert sequence.dry is not None
    assert (sequence.dry.cause, sequence.dry.code) == ("shut", "tank.fill")
    assert sequence.whole_ml == fill(panel).whole_ml


@pytest.mark.parametrize(("up", "on"), [((0.0, -1.0, 0.0), None), ((0.0, 0.0, 1.0), "front")])
def test_the_pump_may_not_run_where_it_is_not_fed_by_height(up, on):
    """As `feed.low` says: upside down, and on top of a panel that lies flat."""
    panel, routed = without_parts(1.0, RISER)
    panel = replace(panel, up=up, pump=replace(panel.pump, on=on or panel.pump.on))
    sequence = fill(panel, routed)
    assert sequence.dry is not None
    assert sequence.may_run_ml is None
    assert feed_rules.check_feed_low(panel, routed)[0].severity == "fault"


def test_hoses_whose_way_is_not_told_give_a_range():
    """Between all of them rising and all of them falling, each as if the file told it."""
    panel = hold(0.85, 30.0, 40.0, 180.0, hoses=60.0)

    def told(way: str) -> FillSequence:
        parts = tuple(
            replace(part, inlet=replace(part.inlet, hose=way), outlet=replace(part.outlet, hose=way))
            for part in panel.parts
        )
        return fill(replace(panel, parts=parts))

    sequence, rising, falling = fill(panel), told("rises"), told("falls")
    ways = (sequence, rising, falling)
    assert sequence.may_run_range_ml == (
        min(one.may_run_ml for one in ways),
        max(one.may_run_ml for one in ways),
    )
    at_level = [total_after(one, "level reached") for one in ways]
    assert sequence.level_range_ml == (min(at_level), max(at_level))
    assert sequence.tops_range == (min(one.tops for one in ways), max(one.tops for one in ways))
    assert at_level[1] < at_level[0]
    assert rising.tops > sequence.tops
    step = next(step for step in sequence.steps if step.kind == "level reached")
    assert step.total_range_ml == sequence.level_range_ml
    for one in (rising, falling):
        assert (one.may_run_range_ml, one.level_range_ml, one.tops_range) == (None, None, None)
    assert rising.push_ml == pytest.approx(sequence.push_range_ml[1])


def test_a_range_that_hardly_differs_is_none():
    assert find_range(100.0, [91.0]) is None
    assert find_range(100.0, [89.0, None]) == (89.0, 100.0)
    assert find_range(1.0, [0.5]) is None
    assert find_range(None, [5.0]) is None
    assert show_ends((0.2, 9.0)) == "up to 9"
    assert show_ends((27.2, 452.1)) == "27 to 452"


def test_hoses_that_would_leave_the_inlet_dry_are_told():
    """A drop of 4 mm locks bubbles: air leaves through the parts where their hoses rise, not where they fall."""
    panel = replace(PANEL, channel=replace(PANEL.channel, depth=4.0))
    routed = replace(ROUTED, channels=tuple(replace(channel, depth=4.0) for channel in ROUTED.channels))
    sequence = fill(panel, routed)
    assert sequence.dry is None
    assert sequence.dry_hoses == "falls"
    assert sequence.dry_untold is not None
    assert sequence.dry_untold.cause == "lock"
    (caution,) = (
        finding
        for finding in check_first_fill(panel, routed, filled(panel, sequence))
        if finding.severity != "note"
    )
    assert (caution.code, caution.severity) == ("feed.first", "caution")
    assert 'hose = "rises"' in caution.remedy
    parts = tuple(
        replace(p, inlet=replace(p.inlet, hose="rises"), outlet=replace(p.outlet, hose="rises"))
        for p in panel.parts
    )
    cured = replace(panel, parts=parts)
    assert not [
        finding
        for finding in check_first_fill(cured, routed, filled(cured, fill(cured, routed)))
        if finding.severity != "note"
    ]


def filled(panel: Panel, sequence: FillSequence) -> Filling:
    return Filling(Left(panel.up, 1.0, 0.0, (), (), 0.0, 0.0), sequence)


@pytest.mark.parametrize("up", [(0.0, 0.0, -1.0), (0.0, 0.05, -1.0), (0.0, -0.6, -0.8), (0.8, 0.6, 0.0)])
def test_a_made_panel_is_judged_as_its_plan_is(up):
    """On the finer voxels of a made panel the pump may run where it may on those of the plan."""
    panel = hold(0.85, 30.0, 40.0, 180.0)
    panel = replace(panel, up=tuple(np.array(up) / np.linalg.norm(up)))
    features = cut_openings(panel, ROUTED)
    looked = []
    for spacing in (1.0, 0.7, 0.5):
        voxels = raster_wet(features, spacing)
        openings = find_openings(panel, ROUTED, features, voxels)
        tank = find_tank(panel, ROUTED, voxels)
        air = find_air(voxels, openings, voxels.elevations(panel.up), tank).number >= 0
        looked.append((voxels, openings, air))
    plan = fill_in_steps(panel, ROUTED, *looked[0])
    assert plan is not None
    for fine in looked[1:]:
        made = fill_in_steps(panel, ROUTED, *fine, looked[0])
        assert made is not None
        assert made.dry == plan.dry
        assert (made.may_run_ml is None) == (plan.may_run_ml is None)
        if plan.may_run_ml is not None:
            assert made.may_run_ml == pytest.approx(plan.may_run_ml, rel=0.02)
