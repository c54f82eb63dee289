"""Tee losses for every direction of flow."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.tees import find_tee_drops, loss_opposed_tee, loss_tee


def test_dividing_and_merging_signs():
    on_run, on_branch = find_tee_drops(2.0, -1.0, -1.0)
    assert on_run == pytest.approx(-4.0 * loss_tee("run", False, 0.5))
    assert on_branch == pytest.approx(-4.0 * loss_tee("branch", False, 0.5))
    on_run, on_branch = find_tee_drops(-2.0, 1.5, 0.5)
    assert on_run == pytest.approx(4.0 * loss_tee("run", True, 0.25))
    assert on_branch == pytest.approx(4.0 * loss_tee("branch", True, 0.25))


def test_run_may_carry_the_whole_flow():
    on_run, on_branch = find_tee_drops(-1.5, 2.0, -0.5)
    assert on_run == pytest.approx(4.0 * loss_tee("run", False, 0.25))
    assert on_branch - on_run == pytest.approx(-4.0 * loss_tee("branch", False, 0.25))


def test_branch_may_carry_the_whole_flow():
    assert find_tee_drops(-1.0, -1.0, 2.0) == pytest.approx((0.0, 4.0 * loss_opposed_tee(False, 0.5)))
    assert find_tee_drops(1.0, 1.0, -2.0) == pytest.approx((0.0, -4.0 * loss_opposed_tee(True, 0.5)))


def test_still_branch_lies_between_the_two_formulas():
    assert find_tee_drops(1.0, -1.0, 0.0) == pytest.approx((0.0, -0.95))
    assert find_tee_drops(0.0, 0.0, 0.0) == (0.0, 0.0)


@settings(max_examples=300, deadline=None)
@given(st.floats(0.0, 2 * math.pi), st.floats(0.01, 5.0))
def test_continuous_all_round(angle, speed):
    def at(turn: float) -> tuple[float, float]:
        combined, run = (speed * math.cos(turn + k) for k in (0.0, 2 * math.pi / 3))
        return find_tee_drops(combined, run, -(combined + run))

    assert at(angle + 1e-7) == pytest.approx(at(angle), abs=2e-5 * speed**2)


@pytest.mark.parametrize("axis", range(12))
def test_continuous_where_a_leg_stands_still(axis):
    angle = axis * math.pi / 6
    values = []
    for turn in (angle - 1e-9, angle + 1e-9):
        combined, run = (math.cos(turn + k) for k in (0.0, 2 * math.pi / 3))
        values.append(find_tee_drops(combined, run, -(combined + run)))
    assert values[0] == pytest.approx(values[1], abs=1e-6)


@pytest.mark.parametrize("call", [lambda: loss_tee("run", True, 1.1), lambda: loss_opposed_tee(True, -0.1)])
def test_refused(call):
    with pytest.raises(OutOfRange, match="must be 0 to 1"):
        call()
