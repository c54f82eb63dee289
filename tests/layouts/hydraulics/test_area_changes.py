"""Entrance and exit are continuous and never let a drop fall; area changes end where they must."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.area_changes import loss_contraction, loss_entrance, loss_exit, loss_expansion

res = st.floats(math.log(1.0), math.log(1e6)).map(math.exp)


@settings(max_examples=100, deadline=None)
@given(res, st.one_of(st.none(), st.floats(0.0, 1.0)), st.sampled_from([loss_entrance, loss_exit]))
def test_entrance_and_exit_are_continuous_and_their_drop_rises(re, aspect, function):
    here, there = (function(x, aspect) for x in (re, re * (1 + 1e-6)))
    assert there == pytest.approx(here, rel=1e-4)
    assert there * (1 + 1e-6) ** 2 > here


def test_area_changes_end_at_nothing_and_at_a_tank():
    assert loss_expansion(1.0) == loss_contraction(1.0) == 0.0
    assert (loss_expansion(0.0), loss_contraction(0.0)) == (1.0, 0.5)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: loss_expansion(1.5), "0 to 1"),
        (lambda: loss_contraction(-0.1), "0 to 1"),
        (lambda: loss_exit(-1.0, None), "exit"),
    ],
)
def test_refused(call, says):
    with pytest.raises(OutOfRange, match=says):
        call()
