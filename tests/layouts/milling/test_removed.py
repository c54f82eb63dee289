"""What cuts take where they overlap, against closed forms."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.milling.removed import Level, Slab, measure_removed

BLANK = Slab(shapely.box(0.0, 0.0, 100.0, 50.0), 0.0, 20.0)


@pytest.mark.published(
    source="closed form: two round bores of one radius that cross at right angles share 16 r^3 / 3 (Steinmetz)"
)
def test_two_bores_that_cross():
    along, across = Level((0.0, 25.0), (100.0, 25.0), 10.0, 4.0), Level((50.0, 0.0), (50.0, 50.0), 10.0, 4.0)
    first, second = measure_removed((along, across), BLANK)
    assert first == pytest.approx(math.pi * 16.0 * 100.0, rel=1e-6)
    assert first + second == pytest.approx(math.pi * 16.0 * 150.0 - 16.0 / 3 * 64.0, rel=1e-6)


def test_a_bore_into_a_pocket_takes_only_what_is_left():
    """The pocket opens the lower 9 mm: of the bore's middle line at 10 mm the upper segment stays."""
    pocket, bore = (
        Slab(shapely.box(10.0, 10.0, 40.0, 40.0), 0.0, 9.0),
        Level((0.0, 25.0), (30.0, 25.0), 10.0, 4.0),
    )
    opened, bored = measure_removed((pocket, bore), BLANK)
    assert opened == pytest.approx(30.0 * 30.0 * 9.0)
    upper = 16.0 * (math.pi - math.acos(0.25)) + math.sqrt(15.0)
    assert bored == pytest.approx(math.pi * 16.0 * 10.0 + upper * 20.0, rel=1e-6)


def test_what_lies_outside_the_blank_does_not_count():
    cut = Slab(shapely.box(90.0, -10.0, 110.0, 60.0), -5.0, 30.0)
    assert measure_removed((cut,), BLANK) == pytest.approx((10.0 * 50.0 * 20.0,))


@given(st.permutations(range(4)))
@settings(max_examples=12, deadline=None)
def test_the_sum_does_not_depend_on_the_order(order: list[int]):
    cuts = (
        Slab(shapely.box(10.0, 10.0, 60.0, 20.0), 0.0, 9.0),
        Slab(shapely.box(40.0, 5.0, 55.0, 45.0), 0.0, 14.0),
        Level((0.0, 15.0), (50.0, 15.0), 10.0, 4.0),
        Level((48.0, 50.0), (48.0, 10.0), 12.0, 3.0),
    )
    whole = sum(measure_removed(cuts, BLANK))
    assert sum(measure_removed(tuple(cuts[k] for k in order), BLANK)) == pytest.approx(whole, rel=1e-6)
