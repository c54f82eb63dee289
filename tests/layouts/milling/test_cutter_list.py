"""The cutter list: times reckoned by hand, volumes once each, one job for a tool in a set-up."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo
from sample_jobs import BACK, CUTTINGS, FRONT, GROOVE, MILL_2, MILL_6, PORT, SETUPS, SLOT, TANK
from sample_plan import sample_plan

from geom.build import build_solids, make_solid
from geom.features import Prism
from layouts.milling import cut_times
from layouts.milling.cutter_list import list_jobs
from layouts.milling.cutting_data import CuttingData, Running, run_drill, run_mill
from layouts.milling.drilling import tip_height
from layouts.milling.stock import OUTLINE, choose_outline_mill
from layouts.milling.work import Cutting
from layouts.panel import EndMill, Milling, Panel

PLAIN = CuttingData(
    "test", (), (1e4, 1e4), ((10.0, 0.1),), 0.5, 0.5, (1e4, 1e4), ((10.0, 0.1),), (1e4, 1e4), ""
)
"""At 1000 turns a minute an end mill of 10 mm with two teeth feeds 200 mm/min, a drill 100 mm/min."""


CHORDS = 2e-5
"""Relative, [-]: where two cuts cross, chords stand for arcs."""


@pytest.fixture(scope="module")
def panel() -> Panel:
    panel = sample_plan().panel
    return replace(panel, make=replace(panel.make, method="milled", material="PMMA cast", cover_material=""))


@pytest.mark.published(
    source="metal removal rate Q = width of cut x depth of cut x feed, as any machining handbook; worked by hand"
)
def test_time_of_a_pocket_by_hand():
    """40 x 20 mm, 10 mm deep, with 10 mm: two levels of 5 mm; 13.3 mm wide in the mean, in two cuts of 6.67 mm."""
    run = run_mill(PLAIN, 10.0, 2, 1000.0)
    assert run == Running(1000.0, 200.0)
    width = cut_times.width_of_cut(800.0, 120.0, 10.0, PLAIN)
    assert width == pytest.approx(20.0 / 3)
    rough = cut_times.time_rough(8000.0, width, 10.0, 10.0, PLAIN, run)
    assert rough == pytest.approx(8000.0 / (20.0 / 3 * 5.0 * 200.0) + 10.0 / (200.0 / 3))
    assert cut_times.time_finish(120.0, 10.0, 10.0, run) == pytest.approx(0.6)


def test_a_slot_as_wide_as_the_cutter_is_one_pass_at_each_level():
    """100 mm of slot: 200 mm of way in two levels take a minute, and the way in 0.15."""
    area, around = 100.0 * 10.0 + math.pi * 25.0, 200.0 + math.pi * 10.0
    run = run_mill(PLAIN, 10.0, 2, 1000.0)
    width = cut_times.width_of_cut(area, around, 10.0, PLAIN)
    length = 2 * area / width
    assert length == pytest.approx(around, rel=1e-12)
    assert cut_times.time_rough(area * 10.0, width, 10.0, 10.0, PLAIN, run) == pytest.approx(
        length / 200.0 + 0.15
    )


def test_clearing_a_square_is_as_long_as_the_rings_that_clear_it():
    """30 x 30 mm with 6 mm, half of it wide: rings 3, 6, 9 and 12 mm inside are 240 mm long."""
    width = cut_times.width_of_cut(900.0, 120.0, 6.0, PLAIN)
    rings = sum(4 * (30.0 - 2 * off) for off in (3.0, 6.0, 9.0, 12.0))
    assert 900.0 / width == pytest.approx(rings)


def test_time_of_a_hole_by_hand():
    """10 mm wide, 45 mm deep, 100 mm/min: lifted at 30 and 40 mm."""
    run = run_drill(PLAIN, 10.0, 1000.0)
    assert run == Running(1000.0, 100.0)
    assert cut_times.time_drill(10.0, 45.0, False, run) == pytest.approx(0.45 + 2 * 90.0 / 5000.0)
    assert cut_times.time_drill(10.0, 20.0, False, run) == pytest.approx(0.2)
    assert cut_times.time_drill(10.0, 20.0, True, run) == pytest.approx((20.0 + tip_height(10.0)) / 100.0)
    assert cut_times.time_tap(12.0, Running(100.0, 120.0)) == pytest.approx(0.2)


def test_time_of_an_outline_by_hand():
    """A round part of 100 mm, 10 mm thick: the cutter's way is that of 110 mm, twice in levels and once to finish."""
    run = run_mill(PLAIN, 10.0, 2, 1000.0)
    took = cut_times.time_outline(100.0 * math.pi, 10.0, 10.0, PLAIN, run)
    assert took == pytest.approx(110.0 * math.pi * 3 / 200.0 + 0.15)


def test_one_job_for_a_tool_in_a_set_up_in_order(panel: Panel):
    listed = list_jobs(panel, SETUPS, CUTTINGS)
    assert [(job.face, job.tool, job.size, job.cuts) for job in listed.jobs] == [
        ("back", "end mill", "6 mm", (SLOT.name, TANK.name)),
        ("back", "end mill", "2 mm", (GROOVE.name,)),
        ("back", "drill", "3.3 mm", ("cover screw 1",)),
        ("back", "tap", "M4", ("cover screw 1",)),
        ("back", "end mill", "6 mm", (OUTLINE,)),
        ("front", "drill", "11.8 mm", (PORT.name,)),
        ("front", "chamfer cutter", "90°", (PORT.name,)),
        ("front", "tap", "G1/4", (PORT.name,)),
    ]
    assert listed == list_jobs(panel, SETUPS, CUTTINGS)


def test_the_whole_time_is_jobs_changes_and_set_ups(panel: Panel):
    listed = list_jobs(panel, SETUPS, CUTTINGS)
    jobs = math.fsum(job.minutes for job in listed.jobs)
    assert listed.minutes == pytest.approx(jobs + 2 * cut_times.SETUP_MIN + 8 * cut_times.CHANGE_MIN)
    assert any("15 min" in said and "2 min" in said for said in listed.assumptions)


def test_what_two_pockets_share_counts_with_the_first(panel: Panel):
    """The slot's end from x = 55 lies in the tank: 5 x 8 mm and half of a disc of 8 mm."""
    shared = (40.0 + 8.0 * math.pi) * 9.0
    listed = list_jobs(panel, (BACK,), CUTTINGS)
    mill = listed.jobs[0]
    assert mill.volume_mm3 == pytest.approx(SLOT.volume_mm3 + TANK.volume_mm3 - shared, rel=CHORDS)
    assert listed.jobs[1].volume_mm3 == pytest.approx(GROOVE.volume_mm3, rel=CHORDS)
    assert listed.removed_mm3 == pytest.approx(
        SLOT.volume_mm3 + TANK.volume_mm3 - shared + GROOVE.volume_mm3 + BACK.holes[0].volume_mm3, rel=CHORDS
    )


def test_the_outline_is_told_apart(panel: Panel):
    listed = list_jobs(panel, SETUPS, CUTTINGS)
    inside = math.fsum(job.volume_mm3 for job in listed.jobs if job.cuts != (OUTLINE,))
    assert listed.removed_mm3 == pytest.approx(inside)
    assert listed.outline_mm3 == listed.jobs[4].volume_mm3
    assert listed.jobs[4].cuts == (OUTLINE,)


def test_taps_go_as_deep_as_the_thread_and_drills_to_the_bottom(panel: Panel):
    """10 mm of hole for 8 mm of M4, 15.5 mm for 12 mm of G1/4."""
    deepest = {(job.tool, job.size): job.deepest for job in list_jobs(panel, SETUPS, CUTTINGS).jobs}
    assert (deepest["drill", "3.3 mm"], deepest["tap", "M4"]) == (10.0, 8.0)
    assert (deepest["drill", "11.8 mm"], deepest["tap", "G1/4"]) == (15.5, 12.0)


def test_rough_takes_what_it_sweeps_and_finish_the_corners(panel: Panel):
    """In a corner of 4 mm a cutter of 10 mm leaves (1 - pi / 4) (5^2 - 4^2) mm2."""
    both = Cutting("body", "back", TANK.name, EndMill(10.0), MILL_6)
    listed = list_jobs(panel, (replace(BACK, pockets=(replace(TANK, islands=()),), holes=()),), (both,))
    rough, finish = listed.jobs[0], listed.jobs[1]
    left = (4 - math.pi) * (5.0**2 - 4.0**2) * 9.0
    assert finish.volume_mm3 == pytest.approx(left, rel=0.02)
    assert rough.volume_mm3 + finish.volume_mm3 == pytest.approx(
        (600.0 - (4 - math.pi) * 16.0) * 9.0, rel=CHORDS
    )


def test_a_pocket_without_end_mill_is_left_out_and_told(panel: Panel):
    none = Cutting("body", "back", GROOVE.name, None, None)
    listed = list_jobs(panel, SETUPS, (*CUTTINGS[:2], none))
    assert all(GROOVE.name not in job.cuts for job in listed.jobs)
    assert "Left out, as no end mill at hand goes in: groove 1." in listed.assumptions


def test_a_drill_press_is_slow_and_told(panel: Panel):
    top = replace(FRONT, face="top", size=(100.0, 20.0), height=60.0, on="drill press")
    hole = replace(PORT, face="top", at=(50.0, 10.0))
    listed = list_jobs(panel, (BACK, replace(top, holes=(hole,))), CUTTINGS)
    drill = next(job for job in listed.jobs if job.face == "top" and job.tool == "drill")
    assert drill.speed_rpm <= 2500
    assert drill.minutes > cut_times.PRESS_HOLE_MIN
    assert any("drill press" in said for said in listed.assumptions)
    fast = list_jobs(panel, (BACK, replace(top, on="machine", holes=(hole,))), CUTTINGS)
    assert not any("drill press" in said for said in fast.assumptions)


def test_the_outline_is_cut_by_the_largest_that_reaches_through(panel: Panel):
    short, long = EndMill(10.0, 12.0), EndMill(8.0, 25.0)
    cuttings = (Cutting("body", "back", TANK.name, short, long), CUTTINGS[2])
    assert choose_outline_mill(panel, BACK, cuttings) == long
    assert choose_outline_mill(panel, replace(BACK, height=12.0), cuttings) == short
    alone = replace(panel, milling=Milling((MILL_2, EndMill(4.0, 22.0))))
    assert choose_outline_mill(alone, BACK, (CUTTINGS[2],)) == EndMill(4.0, 22.0)


@pytest.mark.parametrize("name", ["laser-driver", "observatory-camera"])
def test_jobs_add_up_to_what_the_kernel_takes_from_the_blanks(name: str):
    plan = plan_demo(name)
    assert plan.milled is not None
    solids, total = build_solids(plan.detail), 0.0
    for blank in plan.detail.blanks:
        whole = make_solid(blank.name, Prism((blank.loop,), blank.z0, blank.z1)).Volume()
        taken = whole - solids.part(blank.name).Volume()
        jobs = [job for job in plan.milled.jobs if job.part == blank.name and job.cuts != (OUTLINE,)]
        assert math.fsum(job.volume_mm3 for job in jobs) == pytest.approx(taken, rel=CHORDS, abs=1e-3)
        total += taken
    assert plan.milled.removed_mm3 == pytest.approx(total, rel=CHORDS)
