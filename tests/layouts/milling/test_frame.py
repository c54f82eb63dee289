"""Planes of set-ups: right-handed, as seen, there and back without loss."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import GeometryError
from geom.features import Blank
from geom.frame import EDGES, INTO, Face
from geom.outline import Arc, loop_area, outline_rectangle, outline_route, path_length
from layouts.milling.frame import plane_of

BLANK = Blank("body", outline_rectangle(0.0, 0.0, 400.0, 220.0, 6.0), -8.0, 12.0)
FACES: tuple[Face, ...] = ("front", "back", *EDGES)
numbers = st.floats(-500, 500)


@pytest.mark.parametrize("face", FACES)
def test_u_v_and_the_direction_to_the_viewer_are_right_handed(face):
    plane = plane_of(BLANK, face)
    origin = np.array(plane.to_panel((0.0, 0.0, 0.0)))
    u, v, down = (np.array(plane.to_panel(tuple(row))) - origin for row in np.eye(3))
    assert np.array_equal(np.cross(u, v), -down)
    assert tuple(down) == INTO[face]


@pytest.mark.parametrize(
    ("face", "corner", "size", "height"),
    [
        # What stands at the lower left of each face as one looks at it.
        ("front", (0.0, 0.0, 12.0), (400.0, 220.0), 20.0),
        ("back", (400.0, 0.0, -8.0), (400.0, 220.0), 20.0),
        ("top", (400.0, 220.0, -8.0), (400.0, 20.0), 220.0),
        ("bottom", (0.0, 0.0, -8.0), (400.0, 20.0), 220.0),
        ("left", (0.0, 220.0, -8.0), (220.0, 20.0), 400.0),
        ("right", (400.0, 0.0, -8.0), (220.0, 20.0), 400.0),
    ],
)
def test_origin_and_size_of_each_face(face, corner, size, height):
    plane = plane_of(BLANK, face)
    assert plane.to_panel((0.0, 0.0, 0.0)) == corner
    assert plane.to_plane(corner) == (0.0, 0.0, 0.0)
    assert plane.size == size
    assert plane.height == height


@settings(max_examples=30)
@given(point=st.tuples(numbers, numbers, numbers), face=st.sampled_from(FACES))
def test_points_come_back(point, face):
    plane = plane_of(BLANK, face)
    assert plane.to_panel(plane.to_plane(point)) == pytest.approx(point, abs=1e-12)


@settings(max_examples=30)
@given(
    turn=st.floats(20.0, 60.0),
    width=st.floats(1.0, 12.0),
    face=st.sampled_from(("front", "back")),
)
def test_loops_keep_area_length_and_sense_and_come_back(turn, width, face):
    loop = outline_route(((20.0, 30.0), (20.0 + turn, 30.0), (20.0 + turn, 110.0)), 14.0, width)
    plane = plane_of(BLANK, face)
    seen = plane.loop_to_plane(loop)
    assert loop_area(seen) == pytest.approx(loop_area(loop), rel=1e-12)
    assert path_length(seen) == pytest.approx(path_length(loop), rel=1e-12)
    ends = [(s.start, s.end) for s in seen]
    assert all(math.dist(a[1], b[0]) < 1e-9 for a, b in zip(ends, (*ends[1:], ends[0]), strict=True))
    for before, after in zip(loop, plane.loop_to_panel(seen), strict=True):
        assert after.start == pytest.approx(before.start, abs=1e-9)
        assert after.end == pytest.approx(before.end, abs=1e-9)
        assert type(after) is type(before)


def test_an_arc_keeps_its_sense_in_a_loop_and_its_place_is_mirrored():
    loop = outline_route(((20.0, 30.0), (60.0, 30.0), (60.0, 110.0)), 14.0, 8.0)
    plane = plane_of(BLANK, "back")
    arcs = [s for s in plane.loop_to_plane(loop) if isinstance(s, Arc)]
    assert sorted(s.sweep for s in arcs) == sorted(s.sweep for s in loop if isinstance(s, Arc))
    for before, after in zip([s for s in loop if isinstance(s, Arc)], reversed(arcs), strict=True):
        assert after.at(0.5) == pytest.approx((400.0 - before.at(0.5)[0], before.at(0.5)[1]))


def test_an_edge_has_no_outlines_in_plan():
    with pytest.raises(GeometryError, match="top edge"):
        plane_of(BLANK, "top").loop_to_plane(BLANK.loop)
