"""Laminar friction in any section, held to exact solutions and to printed tables."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.errors import OutOfRange
from geom.outline import Arc, Line, Loop, Point, outline_circle
from layouts.hydraulics.friction import laminar_f_re
from layouts.hydraulics.section_friction import compare_friction, section_f_re

SHAH_LONDON = "Shah and London, Laminar Flow Forced Convection in Ducts (1978), f Re of"


def polygon(*corners: Point) -> Loop:
    return tuple(Line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))


def regular(count: int) -> Loop:
    angle = 2 * math.pi / count
    return polygon(*((math.cos(k * angle), math.sin(k * angle)) for k in range(count)))


@pytest.mark.published(source="Hagen-Poiseuille: f Re of a round pipe, 64 (Darcy), any textbook; exact")
def test_round_pipe():
    assert section_f_re(outline_circle((3.0, -2.0), 5.0)) == pytest.approx(64.0, rel=1e-9)


@pytest.mark.published(source=f"{SHAH_LONDON} rectangles, Fanning: 14.227, 15.548, 18.233, 20.585")
@pytest.mark.parametrize(
    ("aspect", "printed"), [(1.0, "14.227"), (0.5, "15.548"), (0.25, "18.233"), (0.125, "20.585")]
)
def test_rectangles(aspect: float, printed: str):
    section = polygon((0.0, 0.0), (2.0, 0.0), (2.0, 2.0 * aspect), (0.0, 2.0 * aspect))
    assert_as_printed(section_f_re(section) / 4, printed)


@pytest.mark.published(source=f"{SHAH_LONDON} the equilateral triangle, 40/3 (Fanning): exact")
def test_equilateral_triangle():
    assert section_f_re(regular(3)) / 4 == pytest.approx(40 / 3, rel=1e-9)


@pytest.mark.published(source=f"{SHAH_LONDON} the half disc, 15.767 (Fanning); recalled, not verified")
def test_half_disc():
    section = (Line((-1.0, 0.0), (1.0, 0.0)), Arc((0.0, 0.0), 1.0, 0.0, math.pi))
    assert_as_printed(section_f_re(section) / 4, "15.767")


@pytest.mark.published(source=f"{SHAH_LONDON} the regular hexagon, 15.054 (Fanning); recalled, not verified")
def test_hexagon():
    assert_as_printed(section_f_re(regular(6)) / 4, "15.054")


@given(aspect=st.floats(0.1, 1.0), size=st.floats(0.5, 40.0), turn=st.floats(0.0, 6.0))
@settings(max_examples=20, deadline=None)
def test_size_and_turn_change_nothing(aspect: float, size: float, turn: float):
    c, s = math.cos(turn) * size, math.sin(turn) * size
    corners = [(0.0, 0.0), (1.0, 0.0), (1.0, aspect), (0.0, aspect)]
    section = polygon(*((7.0 + c * x - s * y, s * x + c * y) for x, y in corners))
    assert section_f_re(section) == pytest.approx(laminar_f_re(aspect), rel=1e-4)


def test_drop_goes_with_the_rim_and_the_section_s_own_friction():
    """A circle against a square of one area: laminar drop as f Re times rim squared."""
    square, circle = regular(4), outline_circle((0.0, 0.0), math.sqrt(2 / math.pi))
    laminar = (
        64.0 * (2 * math.pi * math.sqrt(2 / math.pi)) ** 2 / (laminar_f_re(1.0) * (4 * math.sqrt(2)) ** 2)
    )
    assert compare_friction(circle, square) >= laminar - 1e-6
    assert compare_friction(circle, square) < 1.0 < compare_friction(square, circle)


def test_rim_the_wrong_way_round_is_refused():
    with pytest.raises(OutOfRange, match="counter-clockwise"):
        section_f_re(polygon((0.0, 0.0), (0.0, 1.0), (1.0, 0.0)))
