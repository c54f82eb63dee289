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
from layouts.filling.left import find_air
from layouts.filling.openings import find_openings
from layouts.filling.tilts import tilted_up
from layouts.filling.values import FillSequence, Tilt
from layouts.panel import Panel
from layouts.plan import Channel, Leg, Routed, Run
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
    # The pump may run once its inlet and half a bore over the tank's outlet stand in coolant: the leg to there too.
    bare = (outlet_bore(routed) or 0.0) / 2
    leg = WIDE * DEEP * (surface - TANK_BOX[1] - bare) / 1e3
    covered = channels - pushed - leg + bare / TALL * tank
    assert sequence.inlet_covered_ml == pytest.approx(covered, rel=0.01)
    assert sequence.run_ml == pytest.approx((level - bare / TALL) * tank, rel=1e-3)
    assert sequence.tops == 1
    assert kinds(sequence) == ["pour", "inlet covered", "level reached", "run", "top up", "end"]
    # It stands down to the outlet once all is out of it that the loop takes.
    assert sequence.level_falls_mm == pytest.approx(surface - TANK_BOX[1])
    (run,) = (step for step in sequence.steps if step.kind == "run")
    assert run.level_mm == pytest.approx((level - sequence.push_ml / tank) * TALL, rel=1e-3)


def test_a_loop_under_the_level_fills_by_itself():
    panel, routed = without_parts(0.95, RISER)
    sequence = fill(panel, routed)
    assert sequence.push_ml == pytest.approx(0.0, abs=1e-9)
    assert sequence.tops == 0
    assert kinds(sequence) == ["pour", "inlet covered", "level reached", "end"]
    assert sequence.steps[-1].loop_share == pytest.approx(1.0)


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
    assert sequence.inlet_covered_ml < at_level.total_ml


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
    assert all(step.poured_ml >= 0 for step in steps)
    assert math.fsum(step.poured_ml for step in steps) == pytest.approx(sequence.total_ml)
    tank = find_tank(panel, routed, voxels)
    for before, after in pairwise(steps):
        assert not (before.wet & ~after.wet & ~tank).any()
        assert before.loop_share <= after.loop_share + 1e-9
    assert not any((step.wet & air & ~tank).any() for step in steps)
    tank_ml = (tank_volume_ml(panel, routed) or 0.0) * level
    if steps[-1].kind == "end":
        held = weigh_voxels(panel, routed, voxels)
        whole = tank_ml + loop_volume_ml(panel, routed) - held.voxels_ml[air & ~tank].sum()
        assert sequence.total_ml == pytest.approx(whole)
        assert (steps[-1].wet | air | tank | (held.voxels_ml == 0)).all()
    assert sequence.tops == 0 or sequence.inlet_covered_ml is not None
