"""Names, counts and sentences."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geom.words import capitalise, ends_within, make_sentence, tell_torque, tell_within


def test_only_the_first_letter_is_made_large():
    assert capitalise("pH of DI water") == "PH of DI water"
    assert capitalise("12 mm") == "12 mm"


def test_empty_text_stays_empty():
    assert capitalise("") == ""
    assert make_sentence("") == ""


def test_sentence_ends_with_a_full_stop():
    assert make_sentence("the cover bows 0.2 mm") == "The cover bows 0.2 mm."


@given(st.floats(1.0, 5000.0), st.floats(0.0, 200.0))
def test_a_range_is_told_inwards(least, wide):
    ends = [float(end) for end in ends_within(least, least + wide)]
    if len(ends) == 2:
        assert least - 1e-6 <= ends[0] < ends[1] <= least + wide + 1e-6
    else:
        assert abs(ends[0] - least - wide / 2) <= 0.5
        assert wide < 0.2 + 1e-6


@pytest.mark.parametrize(
    ("least", "most", "told"),
    [
        (1855.8, 1911.5, "1856 to 1911 mm"),
        (48.26, 49.74, "48.3 to 49.7 mm"),
        (63.6, 63.6, "64 mm"),
        (10.0, 20.0, "10 to 20 mm"),
    ],
)
def test_ranges_of_lengths(least, most, told):
    assert tell_within(least, most) == told


def test_torque_is_told_to_two_digits():
    assert tell_torque(0.1234, 0.2) == "0.12 to 0.2 N m"
