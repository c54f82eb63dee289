"""When a roughing cutter is worth its change: against sums by hand, and on the demos."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo
from sample_jobs import BACK, TANK

from geom.outline import outline_rectangle
from layouts.milling import cut_times
from layouts.milling.cutting_data import CuttingData
from layouts.milling.roughing import drop_roughing, saved_by
from layouts.milling.work import Cutting, Pocket
from layouts.panel import EndMill

PLAIN = CuttingData(
    "test", (), (1e4, 1e4), ((10.0, 0.1),), 0.5, 0.5, (1e4, 1e4), ((10.0, 0.1),), (1e4, 1e4), ""
)
"""At 1000 turns a minute an end mill of 10 mm with two teeth feeds 200 mm/min."""

ROUGH, FINISH = EndMill(10.0), EndMill(5.0)


def square(side: float, corner: float = 5.0) -> Pocket:
    """Return a pocket 10 mm deep."""
    area = side * side - (4 - math.pi) * corner * corner
    return replace(
        TANK,
        region=(outline_rectangle(0, 0, side, side, corner),),
        islands=(),
        floor=10.0,
        volume_mm3=area * 10,
    )


def cutting(pocket: Pocket, rough: EndMill = ROUGH, finish: EndMill = FINISH) -> Cutting:
    return Cutting("body", "back", pocket.name, rough, finish)


def test_what_a_roughing_cutter_saves_by_hand():
    """Corners of 5 mm: the 10 mm cutter leaves nothing. Volume over width, depth and feed, and the way in, for each."""
    pocket = square(60.0)
    area, around = pocket.volume_mm3 / 10.0, 4 * 60.0 - (8 - 2 * math.pi) * 5.0
    took = []
    for mill, levels, feed in ((ROUGH, 2, 200.0), (FINISH, 4, 100.0)):
        width = cut_times.width_of_cut(area, around, mill.diameter, PLAIN)
        took.append(area * levels / (width * feed) + 10.0 / (feed / 3))
    # What is left counts as a last look at the floor by the finishing cutter.
    last = 10.0 / (100.0 / 3)
    assert saved_by(pocket, ROUGH, FINISH, PLAIN, 1000.0) == pytest.approx(took[1] - took[0] - last, rel=1e-3)


def test_a_roughing_cutter_stays_where_it_saves_more_than_its_change():
    for side in (14.0, 20.0, 40.0, 60.0):
        pocket = square(side)
        saves = saved_by(pocket, ROUGH, FINISH, PLAIN, 1000.0)
        setup = replace(BACK, pockets=(pocket,))
        (kept,) = drop_roughing(setup, (cutting(pocket),), PLAIN, 1000.0)
        assert kept.finish == FINISH
        assert kept.rough == (ROUGH if saves > cut_times.CHANGE_MIN else FINISH)
    assert kept.rough == ROUGH
    (small,) = drop_roughing(replace(BACK, pockets=(square(14.0),)), (cutting(square(14.0)),), PLAIN, 1000.0)
    assert small.rough == FINISH


def test_pockets_add_up_and_a_cutter_at_hand_costs_no_change():
    one = square(14.0)
    saves = saved_by(one, ROUGH, FINISH, PLAIN, 1000.0)
    assert 0.0 < saves < cut_times.CHANGE_MIN
    many = tuple(replace(one, name=f"tank {n}") for n in range(math.ceil(cut_times.CHANGE_MIN / saves) + 1))
    kept = drop_roughing(replace(BACK, pockets=many), tuple(cutting(p) for p in many), PLAIN, 1000.0)
    assert {c.rough for c in kept} == {ROUGH}
    other = replace(square(40.0), name="seat")
    both = (cutting(one), cutting(other, ROUGH, ROUGH))
    kept = drop_roughing(replace(BACK, pockets=(one, other)), both, PLAIN, 1000.0)
    assert [c.rough for c in kept] == [ROUGH, ROUGH]


@pytest.mark.parametrize(
    "name", ["workshop-render", "laser-driver", "new", "observatory-camera", "cell-tester"]
)
def test_no_end_mill_of_the_demos_takes_next_to_nothing(name: str):
    milled = plan_demo(name).milled
    assert milled is not None
    assert min(job.volume_mm3 for job in milled.jobs if job.tool == "end mill") > 100.0
