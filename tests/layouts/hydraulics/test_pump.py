"""Pump curves: what is refused, and how they are read."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.network import operating_point
from layouts.hydraulics.pump import (
    check_pump_curve,
    combine_parallel,
    combine_series,
    pump_head_m,
    scale_affinity,
)

CURVE = ((0.0, 3.9), (4.0, 3.3), (8.0, 2.3), (12.0, 0.8))


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ((), "0 point"),
        (((0.0, 3.0),), "at least 2"),
        (((0.0, 3.0), (1.0, 3.1)), "rises from 3 m"),
        (((0.0, 3.0), (1.0, 2.0), (2.0, 2.5)), "rises from 2 m"),
        (((0.0, 3.0), (0.0, 2.0)), "rising flow"),
        (((1.0, 3.0), (0.5, 2.0)), "rising flow"),
        (((0.0, 3.0), (1.0, -0.1)), "0 or more"),
        (((-1.0, 3.0), (1.0, 1.0)), "0 or more"),
        (((0.0, float("nan")), (1.0, 1.0)), "0 or more"),
        (((0.0, 0.0), (1.0, 0.0)), "drives nothing"),
    ],
)
def test_curve_refused(points, says):
    with pytest.raises(OutOfRange, match=says):
        check_pump_curve(points)


def test_curve_is_met_at_its_points_and_goes_on_falling():
    for flow, head in CURVE:
        assert pump_head_m(CURVE, flow) == pytest.approx(head)
    assert pump_head_m(CURVE, -3.0) == 3.9
    assert pump_head_m(CURVE, 13.0) < 0.8 - 0.3
    first, second = pump_head_m(CURVE, 14.0), pump_head_m(CURVE, 15.0)
    assert pump_head_m(CURVE, 16.0) - second == pytest.approx(second - first)


def test_curve_that_levels_out_still_ends():
    points = ((0.0, 3.0), (1.0, 1.0), (2.0, 0.9))
    assert pump_head_m(points, 20.0) < 0


@settings(max_examples=80, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6), st.floats(-1.0, 12.0))
def test_head_never_rises(falls, flow):
    heads = [5.0]
    for fall in falls:
        heads.append(heads[-1] - 0.8 * fall)
    points = tuple((float(i), head) for i, head in enumerate(heads))
    assert pump_head_m(points, flow + 1e-3) <= pump_head_m(points, flow) + 1e-12


def test_joined_curves_are_curves():
    weak = ((0.0, 2.0), (6.0, 0.5))
    for joined in (combine_series([CURVE, weak]), combine_parallel([CURVE, weak, CURVE])):
        check_pump_curve(joined)
    assert combine_parallel([CURVE]) == combine_series([CURVE]) == CURVE
    level = ((0.0, 2.0), (5.0, 2.0))
    assert combine_parallel([level, level]) == ((0.0, 2.0), (10.0, 2.0))


def test_joining_refuses():
    with pytest.raises(OutOfRange, match="at least one"):
        combine_series([])
    with pytest.raises(OutOfRange, match="at most 3 m, another's curve ends at 4 m"):
        combine_parallel([((0.0, 5.0), (1.0, 4.0)), ((0.0, 3.0), (1.0, 1.0))])
    with pytest.raises(OutOfRange, match="speed ratio 0"):
        scale_affinity(CURVE, 0.0)


def test_no_operating_point():
    with pytest.raises(OutOfRange, match="no flow is possible"):
        operating_point(CURVE, lambda flow: 4.0 + flow)
    with pytest.raises(OutOfRange, match="above the system's"):
        operating_point(((0.0, 2.0), (1.0, 2.0)), lambda flow: 1.0)


def test_operating_point_beyond_the_last_point():
    flow, head = operating_point(CURVE, lambda flow: 0.001 * flow**2)
    assert flow > 12.0
    assert head == pytest.approx(0.001 * flow**2)
