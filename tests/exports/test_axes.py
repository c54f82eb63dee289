"""Ticks, frames and places of labels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from exports.pictures.axes import Frame, fit_text, round_ticks, show_tick, widen_to_ticks
from exports.pictures.chart_labels import DENSE, ChartLabels, fill_densely
from exports.pictures.labels import meet
from exports.pictures.svg import guess_width

FRAME = Frame((60.0, 40.0, 960.0, 440.0), (0.0, 9.0), (-2.0, 6.0))


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (0.0, 6.0, 8, (0, 1, 2, 3, 4, 5, 6)),
        (0.0, 0.7, 8, (0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7)),
        (-1.3, 33.0, 8, (0, 5, 10, 15, 20, 25, 30)),
        (0.0, 18.0, 12, (0, 2, 4, 6, 8, 10, 12, 14, 16, 18)),
        (0.0, 2000.0, 5, (0, 500, 1000, 1500, 2000)),
    ],
)
def test_ticks_are_round(low: float, high: float, most: int, ticks: tuple[float, ...]):
    assert round_ticks(low, high, most) == ticks


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e4), st.integers(2, 12))
def test_ticks_are_even_few_and_inside(low: float, span: float, most: int):
    ticks = round_ticks(low, low + span, most)
    assert 1 <= len(ticks) <= most + 1
    assert all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in ticks)
    steps = np.diff(ticks)
    assert np.allclose(steps, steps[:1])
    wide = widen_to_ticks(low, low + span, most)
    assert wide[0] <= low + 1e-6 * span
    assert wide[1] >= low + span * (1 - 1e-6)


def test_tick_labels_have_the_decimals_of_their_step():
    assert [show_tick(v, (0.0, 0.5)) for v in (0.0, 0.5)] == ["0.0", "0.5"]
    assert show_tick(20.0, (0.0, 20.0)) == "20"
    assert show_tick(0.04, (0.02, 0.04)) == "0.04"


def test_a_frame_maps_its_corners():
    assert FRAME.to(0.0, -2.0) == (60.0, 440.0)
    assert FRAME.to(9.0, 6.0) == (960.0, 40.0)


@given(st.text(alphabet="aimW +-", min_size=1, max_size=90), st.floats(20.0, 300.0))
def test_fitted_texts_fit(text: str, width: float):
    assert guess_width(fit_text(text, 12.0, width), 12.0) <= width


def test_dense_points_leave_no_gap():
    points = fill_densely([(0.0, 0.0), (100.0, 0.0), (100.0, 33.0)])
    assert np.linalg.norm(np.diff(points, axis=0), axis=1).max() <= DENSE
    assert tuple(points[-1]) == (100.0, 33.0)


@given(
    st.lists(st.tuples(st.floats(70.0, 950.0), st.floats(50.0, 430.0)), min_size=1, max_size=14),
    st.lists(st.tuples(st.floats(60.0, 960.0), st.floats(40.0, 440.0)), min_size=2, max_size=6),
)
def test_labels_cover_no_line_no_mark_and_no_label(
    anchors: list[tuple[float, float]], line: list[tuple[float, float]]
):
    marks = [(x - 5.0, y - 5.0, x + 5.0, y + 5.0) for x, y in anchors]
    labels = ChartLabels(FRAME.box, [line], marks)
    for k, anchor in enumerate(anchors):
        labels.write(anchor, f"label {k}", "#000000", 6.0)
    boxes = labels.boxes[len(marks) :]
    drawn = fill_densely(line)
    for k, (x0, y0, x1, y1) in enumerate(boxes):
        assert FRAME.box[0] <= x0
        assert x1 <= FRAME.box[2]
        assert all(meet((x0, y0, x1, y1), other) == 0.0 for other in (*boxes[:k], *marks))
        assert not np.any((drawn[:, 0] > x0) & (drawn[:, 0] < x1) & (drawn[:, 1] > y0) & (drawn[:, 1] < y1))


def test_a_label_stands_at_its_anchor_where_there_is_room():
    labels = ChartLabels(FRAME.box, [])
    assert labels.write((500.0, 200.0), "here", "#000000", 6.0)
    x0, y0, x1, y1 = labels.boxes[-1]
    near = (min(max(500.0, x0), x1), min(max(200.0, y0), y1))
    assert math.dist(near, (500.0, 200.0)) < 10.0
    assert len(labels.elements) == 1


def test_a_label_without_room_is_left_out_and_one_far_off_is_led_to_its_anchor():
    wall = [[(60.0, y), (960.0, y)] for y in np.arange(40.0, 441.0, 12.0)]
    assert not ChartLabels(FRAME.box, wall).write((500.0, 200.0), "no room", "#000000", 6.0)
    hedge = [[(480.0, y), (560.0, y)] for y in np.arange(140.0, 261.0, 6.0)]
    led = ChartLabels(FRAME.box, hedge)
    assert not led.write((520.0, 200.0), "far", "#000000", 6.0, led=False)
    assert led.write((520.0, 200.0), "far", "#000000", 6.0)
    assert "<path" in led.elements[0]
