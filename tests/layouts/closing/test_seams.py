"""Where a cord's ends meet: on its longest straight, in the middle."""

from __future__ import annotations

import math

import pytest
from sample_demos import plan_demo

from geom.outline import Line, outline_circle, outline_rectangle
from layouts.closing.seams import place_seam
from layouts.plan import CordLoop


def loop_of(path, closed=True):
    return CordLoop("groove 1", "tank", path, 2.8, 2.4, closed=closed)


def test_a_seam_lies_in_the_middle_of_the_longest_side():
    at = place_seam(loop_of(outline_rectangle(0.0, 0.0, 60.0, 20.0, 4.0)))
    assert at is not None
    assert at[0] == pytest.approx(30.0)
    assert at[1] in (pytest.approx(0.0), pytest.approx(20.0))


def test_a_ring_and_an_open_cord_have_none():
    assert place_seam(loop_of(outline_circle((0.0, 0.0), 5.0))) is None
    assert place_seam(loop_of((Line((0.0, 0.0), (9.0, 0.0)),), closed=False)) is None


@pytest.mark.parametrize("name", ["workshop-render", "observatory-camera"])
def test_seams_of_demos_lie_on_their_cords(name):
    for loop in plan_demo(name).sealed.loops:
        at = place_seam(loop)
        straights = [piece for piece in loop.path if isinstance(piece, Line)]
        assert (at is None) == (not straights)
        if at is not None:
            longest = max(piece.length for piece in straights)
            ends = [(piece.start, piece.end) for piece in straights if piece.length > longest - 1e-6]
            assert any(math.dist(a, at) == pytest.approx(math.dist(b, at)) for a, b in ends)
