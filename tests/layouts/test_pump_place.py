"""Seats at the pump's place and at all that the file allows, on the sample: its pump stands at (145, 40) mm."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import LayoutError
from layouts.flow import size_flow
from layouts.ground import survey_panel
from layouts.panel import Box, KeepClear, Panel, PumpChoice
from layouts.place_bounds import find_placements
from layouts.pump_place import find_move, find_seat_obstacle, find_seat_trouble
from layouts.pumps import rate_pumps
from tests.layouts.sample_routed import CURVE, sample_panel, sample_routed

ROUTED = sample_routed()
PLAIN = PumpChoice("pump", CURVE, 10.0, 8.0, 66.0, None, None, None, None, 33)
WITHIN = (100.0, 6.0, 190.0, 80.0)


def in_box(box: Box = WITHIN, seat: float = 66.0, *clear: Box) -> Panel:
    """Return the sample whose pump may stand in a box, with regions kept clear."""
    panel = sample_panel()
    pump = replace(panel.pump, at=None, within=box, seat_diameter=seat)
    regions = tuple(KeepClear(f"slot {k}", one, 1) for k, one in enumerate(clear))
    return replace(panel, pump=pump, keep_clear=regions)


def with_seat(seat: float) -> PumpChoice:
    return replace(PLAIN, name="other", seat_diameter=seat)


def test_seat_that_fits_somewhere_else_is_no_obstacle():
    panel = in_box()
    # 1 mm past the box where the pump stands; from y = 41 to 45 mm there is room.
    assert find_seat_trouble(panel, ROUTED.pump.inlet, 70.0) == (
        "its seat of 70 mm about (145, 40) mm reaches 1 mm out of the box that [pump] within allows"
    )
    assert find_seat_obstacle(panel, ROUTED, with_seat(70.0)) is None
    assert find_move(panel, ROUTED, with_seat(70.0)) == (
        "its seat of 70 mm does not fit where the pump stands now"
    )
    assert find_move(panel, ROUTED, with_seat(66.0)) is None


def test_pump_that_would_be_placed_anew_is_rated_as_one_that_fits():
    panel = in_box()
    panel = replace(panel, pump=replace(panel.pump, choices=(PLAIN, with_seat(70.0)), used="pump"))
    own, other = rate_pumps(panel, ROUTED, size_flow(panel, ROUTED)).ratings
    assert (own.move, own.obstacles) == (None, ())
    assert other.obstacles == ()
    assert other.move is not None


@pytest.mark.parametrize(
    ("panel", "seat", "told"),
    [
        (in_box(), 74.5, "larger than the box that [pump] within allows, 90 x 74 mm"),
        # From y = 42 to 44 mm lies no node of the grid.
        (in_box(), 72.0, "has no place in the box that [pump] within allows"),
        (in_box(WITHIN, 66.0, (140.0, 79.0, 150.0, 80.0), (100.0, 6.0, 103.0, 80.0)), 70.0, "has no place"),
        # Over the whole width of the panel the tank's column is as free as before, so its box decides.
        (in_box((0.0, 6.0, 90.0, 80.0)), 66.0, "has no place"),
    ],
)
def test_seat_without_any_place(panel, seat, told):
    found = find_seat_obstacle(panel, ROUTED, with_seat(seat))
    assert found is not None
    assert told in found
    assert find_move(panel, ROUTED, with_seat(seat)) is None


def test_fixed_pump_is_judged_where_it_stands():
    panel = sample_panel()
    assert panel.pump.within is None
    assert find_seat_obstacle(panel, ROUTED, with_seat(80.0)) is None
    found = find_seat_obstacle(panel, ROUTED, with_seat(82.0))
    assert found == "its seat of 82 mm about (145, 40) mm reaches 1 mm out of the panel"
    assert find_move(panel, ROUTED, with_seat(82.0)) is None


def test_seat_over_what_is_kept_clear():
    panel = in_box((100.0, 0.0, 190.0, 80.0), 66.0, (140.0, 5.0, 150.0, 6.0))
    found = find_seat_trouble(panel, ROUTED.pump.inlet, 70.0)
    assert found == 'its seat of 70 mm about (145, 40) mm reaches 1 mm over "slot 0", which is kept clear'


@settings(max_examples=25, deadline=None)
@given(
    seat=st.floats(50.0, 100.0),
    low=st.tuples(st.integers(0, 140), st.integers(0, 40)),
    size=st.tuples(st.integers(60, 200), st.integers(60, 140)),
    clear=st.tuples(st.integers(100, 190), st.integers(0, 80)),
)
def test_seat_that_can_be_placed_is_no_obstacle(seat, low, size, clear):
    """Whatever placing finds must pass: the test here is necessary, not sufficient."""
    box = (*map(float, low), min(200.0, float(low[0] + size[0])), min(140.0, float(low[1] + size[1])))
    panel = in_box(box, seat, (*map(float, clear), clear[0] + 5.0, clear[1] + 5.0))
    try:
        next(find_placements(survey_panel(panel)))
    except LayoutError:
        return
    assert find_seat_obstacle(panel, ROUTED, with_seat(seat)) is None
