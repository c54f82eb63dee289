"""Bores as they are drilled: pieces, order, points; and how two bores lie to each other, against other ways."""

from __future__ import annotations

import math

import cadquery as cq
import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from printed import assert_as_printed
from sample_demos import plan_demo

from geom.build import make_solid
from geom.features import Blank, Cylinder
from geom.frame import INTO
from geom.kernel import measure_distance
from geom.outline import outline_rectangle
from layouts.milling.bore_gaps import measure_gap, meet_axis, overlap_share
from layouts.milling.drill_points import distances_to
from layouts.milling.drilling import cut_piece, list_drilled, tip_height
from layouts.milling.work import Hole
from tests.layouts.rules.sample_bores import bore

UP = (0.0, 0.0, 1.0)
unit = st.floats(-1, 1).map(lambda value: round(value, 3))
place = st.tuples(*[st.floats(-15, 15).map(lambda value: round(value, 2))] * 3)


def turn(direction: tuple[float, float, float]) -> tuple[float, float, float]:
    x, y, z = (value / math.hypot(*direction) for value in direction)
    return x, y, z


def drilled(name: str) -> tuple[Hole, ...]:
    milled = plan_demo(name).milled
    assert milled is not None
    return list_drilled(milled)


@pytest.mark.published(source="cone of a 118 degree point: 11.8 mm drill, r / tan 59 deg = 3.545 mm")
def test_height_of_a_drills_point() -> None:
    assert_as_printed(tip_height(11.8), "3.545")


@pytest.mark.published(
    source="https://calcady.com drill point calculator: 118 deg is 0.300 diameters, 0.150 in of 0.500 in"
)
def test_height_of_a_half_inch_drills_point() -> None:
    assert_as_printed(tip_height(1.0), "0.300")
    assert_as_printed(tip_height(0.5), "0.150")


@pytest.mark.parametrize("name", ["workshop-render", "observatory-camera"])
def test_drills_come_in_the_order_of_the_cutter_list(name: str) -> None:
    """Set-up by set-up, and within one from narrow to wide: as the jobs say."""
    milled = plan_demo(name).milled
    assert milled is not None
    jobs = [job for job in milled.jobs if job.tool == "drill"]
    listed = [(job.part, job.face, cut) for job in jobs for cut in job.cuts]
    assert listed == [(hole.part, hole.face, hole.name) for hole in drilled(name)]
    # The front first: it has the fewest pockets.
    assert list(dict.fromkeys(hole.face for hole in drilled("workshop-render")))[:2] == ["front", "top"]


def test_a_port_through_a_cover_is_two_bores() -> None:
    """The camera's outlet: 9.5 mm of the 10 mm front cover under its spot face, then 18.5 mm of the body."""
    port = [hole for hole in drilled("observatory-camera") if hole.name == "port camera outlet G1/8"]
    assert [(piece.part, piece.face, piece.starts, piece.through) for piece in port] == [
        ("body", "front", True, False),
        ("front cover", "front", False, True),
    ]
    assert [piece.depth for piece in port] == pytest.approx([18.5, 9.5])
    # The lead chamfer stands at the mouth in the cover only.
    assert [piece.chamfer > 0 for piece in port] == [False, True]


def test_bores_are_as_long_as_those_of_the_features() -> None:
    """All pieces of a feature together are as long as what of it lies in the parts."""
    for name in ("workshop-render", "cell-tester"):
        features = plan_demo(name).detail.features
        lengths = {f.name: f.shape.length for f in features if isinstance(f.shape, Cylinder)}
        for hole in drilled(name):
            assert hole.depth == pytest.approx(lengths[hole.name])


@settings(max_examples=40, deadline=None)
@given(
    place,
    st.tuples(unit, unit, unit).filter(lambda v: math.hypot(*v) > 0.3),
    st.floats(0.5, 6),
    st.floats(0.5, 6),
    st.floats(2, 20),
)
def test_gaps_agree_with_the_kernel(at, direction, radius, other, length) -> None:
    """The CAD kernel measures the same distance between the same two solids."""
    a = Cylinder((0.0, 0.0, -8.0), UP, 16.0, radius)
    b = Cylinder(at, turn(direction), length, other)
    gap, middle = measure_gap(a, b)
    apart, _, _ = measure_distance(make_solid("a", a), make_solid("b", b))
    overlap = (
        cq.Shape.cast(make_solid("a", a).intersect(make_solid("b", b)).wrapped).Volume()
        if apart < 1e-6
        else 0.0
    )
    if overlap > 1e-6:
        assert gap <= 1e-6
        return
    assert max(gap, 0.0) == pytest.approx(apart, abs=2e-3)
    if apart > 0.01:
        # The middle of the wall is half of it from either bore, wherever along parallel walls it lies.
        halves = [float(distances_to(bored, np.array([middle]), None)[0]) for bored in (a, b)]
        assert halves == pytest.approx([apart / 2] * 2, abs=2e-3)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.5, 8), st.floats(0.5, 8), st.floats(0, 1))
def test_overlap_of_parallel_bores_agrees_with_polygons(radius: float, other: float, share: float) -> None:
    apart = share * 1.1 * (radius + other)
    assume(apart > 1e-3)
    drill = shapely.Point(0, 0).buffer(radius, quad_segs=512)
    bored = shapely.Point(apart, 0).buffer(other, quad_segs=512)
    expected = drill.intersection(bored).area / drill.area
    assert overlap_share(radius, other, apart) == pytest.approx(expected, abs=1e-4)


@settings(max_examples=30, deadline=None)
@given(st.floats(1, 6), st.floats(0, 0.99), st.floats(30, 150))
def test_slope_where_a_drill_meets_a_bore(radius: float, share: float, angle: float) -> None:
    """Beside the axis by e, at an angle g to it, the slope s has cos s = sin g cos asin(e / r)."""
    off = share * radius
    g = math.radians(angle)
    drill = Cylinder(
        (off, -20.0 * math.sin(g), -20.0 * math.cos(g)), (0.0, math.sin(g), math.cos(g)), 40.0, 0.5
    )
    meeting = meet_axis(drill, Cylinder((0.0, 0.0, -60.0), UP, 120.0, radius))
    assert meeting is not None
    assert math.cos(math.radians(meeting.slope)) == pytest.approx(
        math.sin(g) * math.sqrt(1 - share**2), abs=1e-9
    )
    assert math.hypot(*meeting.at[:2]) == pytest.approx(radius)
    assert meeting.at[1] < 0
    passing = Cylinder((1.01 * radius, *drill.mouth[1:]), drill.direction, 40.0, 0.5)
    assert meet_axis(passing, Cylinder((0.0, 0.0, -60.0), UP, 120.0, radius)) is None


def test_a_drill_that_ends_before_a_bore_does_not_meet_it() -> None:
    across = Cylinder((0.0, -20.0, 0.0), (0.0, 1.0, 0.0), 40.0, 3.0)
    assert meet_axis(Cylinder((0.0, 0.0, -10.0), UP, 6.9, 1.0), across) is None
    assert meet_axis(Cylinder((0.0, 0.0, -10.0), UP, 7.1, 1.0), across) is not None
    # Into its flat end.
    down = meet_axis(Cylinder((0.0, -30.0, 1.0), (0.0, 1.0, 0.0), 20.0, 1.0), across)
    assert down is not None
    assert (down.at, down.slope) == ((0.0, -20.0, 1.0), 0.0)


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from(["front", "back", "top", "bottom", "left", "right"]), st.floats(0, 40), st.floats(1, 60)
)
def test_a_piece_is_what_lies_in_the_part(face, back_by: float, length: float) -> None:
    """A bore whose mouth stands off a block of 40 mm, against what two intervals have in common."""
    block = Blank("body", outline_rectangle(0.0, 0.0, 40.0, 40.0, 3.0), 0.0, 40.0)
    into = INTO[face]
    far = [20.0 - 20.0 * a - back_by * a if face in ("front", "back") else 20.0 - 20.0 * a for a in into]
    feature = bore("port a", (far[0], far[1], far[2]), into, length, 3.0)
    piece = cut_piece(block, feature)
    shift = back_by if face in ("front", "back") else 0.0
    inside = min(length - shift, 40.0)
    if inside < 1e-3:
        assert piece is None or inside > 0
        return
    assert piece is not None
    assert piece.face == face
    assert piece.starts
    assert piece.ends == (inside > 40.0 - 1e-6)
    assert piece.mouthed == (shift < 1e-6)
    if face in ("front", "back"):
        assert piece.bore.length == pytest.approx(inside)
