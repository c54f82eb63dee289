"""Coolant in a box that stands askew, against closed forms and against polygons cut by shapely."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from layouts.basin import Basin, find_surface, tilt_until_bare, turn_up, volume_under

UPRIGHT = (0.0, 1.0, 0.0)
WIDE, TALL, DEEP = 70.0, 35.0, 13.0


def basin_of(left: float, right: float, near: float = 0.0, far: float = 9.0) -> Basin:
    """Return a pocket whose opening in the lower wall goes from `left` to `right`, `near` to `far`."""
    rim = tuple((x, 85.0, z) for x in (110.0 + left, 110.0 + right) for z in (near, far))
    return Basin((110.0, 85.0, 0.0), (WIDE, TALL, DEEP), rim)


@pytest.mark.published(
    source="closed form: coolant of constant volume in a tilted box is a triangle over the lower wall"
)
@pytest.mark.parametrize("level", [0.1, 0.25, 0.4])
def test_tilt_of_a_triangle(level):
    right = 66.0
    expected = math.degrees(math.atan(2 * level * WIDE * TALL / right**2))
    assert right * math.tan(math.radians(expected)) < TALL
    basin = basin_of(58.0, right)
    held = level * basin.volume
    assert tilt_until_bare(basin, UPRIGHT, held, "left") == pytest.approx(expected, abs=1e-9)
    mirrored = basin_of(WIDE - right, WIDE - 58.0)
    assert tilt_until_bare(mirrored, UPRIGHT, held, "right") == pytest.approx(expected, abs=1e-9)


@pytest.mark.published(
    source="closed form: a surface that cuts the upper wall leaves a trapezium over the lower wall"
)
@pytest.mark.parametrize("level", [0.55, 0.7, 0.85])
def test_tilt_of_a_trapezium(level):
    right = 66.0
    expected = math.degrees(math.atan(TALL**2 / (2 * (right * TALL - level * WIDE * TALL))))
    assert right * math.tan(math.radians(expected)) > TALL
    basin = basin_of(58.0, right)
    assert tilt_until_bare(basin, UPRIGHT, level * basin.volume, "left") == pytest.approx(expected, abs=1e-9)


@pytest.mark.published(source="closed form: the same in the pocket's depth")
def test_tilt_forwards_and_backwards():
    level = 0.1
    for near, far, side, reach in ((0.0, 9.0, "front", DEEP), (0.0, 9.0, "back", 9.0)):
        basin = basin_of(31.0, 39.0, near, far)
        tangent = 2 * level * DEEP * TALL / reach**2
        if reach * tangent > TALL:
            tangent = TALL**2 / (2 * (reach * TALL - level * DEEP * TALL))
        tilt = tilt_until_bare(basin, UPRIGHT, level * basin.volume, side)
        assert tilt == pytest.approx(math.degrees(math.atan(tangent)), abs=1e-9)


def test_opening_over_the_low_side_is_never_bared():
    basin = basin_of(31.0, 39.0)
    assert tilt_until_bare(basin, UPRIGHT, 0.85 * basin.volume, "left") == 90.0


def test_bare_opening_needs_no_tilt():
    basin = basin_of(31.0, 39.0)
    assert tilt_until_bare(basin, UPRIGHT, 0.0, "left") == 0.0
    assert tilt_until_bare(basin, (0.0, -1.0, 0.0), 0.85 * basin.volume, "left") == 0.0


def test_tilt_is_counted_from_how_the_panel_is_installed():
    basin = basin_of(58.0, 66.0)
    held = 0.25 * basin.volume
    upright = tilt_until_bare(basin, UPRIGHT, held, "left")
    leaning = tilt_until_bare(basin, turn_up(UPRIGHT, "left", 5.0), held, "left")
    assert leaning == pytest.approx(upright - 5.0, abs=1e-9)


@pytest.mark.parametrize("level", [0.25, 0.5, 0.85])
@pytest.mark.parametrize("reach", [45.0, 60.0])
def test_rounded_corners_change_the_tilt_by_little(level, reach):
    """The tank's corners are rounded; the box leaves that out: 0.6 degrees at usual tilts, 1.2 near 90."""
    rounded = box(110.0, 85.0, 180.0, 120.0).buffer(-6.0).buffer(6.0, quad_segs=32)
    pivot = 110.0 + reach

    def area_under(tilt: float) -> float:
        slope, far = math.tan(math.radians(tilt)), 500.0
        under = Polygon(
            ((pivot - far, 85.0 + far * slope), (pivot + far, 85.0 - far * slope), (pivot - far, -1e5))
        )
        return rounded.intersection(under).area

    low, high = 0.0, 89.9
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if area_under(middle) < level * rounded.area else (low, middle)
    basin = basin_of(reach - 8.0, reach)
    tilt = tilt_until_bare(basin, UPRIGHT, level * basin.volume, "left")
    assert tilt == pytest.approx(low, abs=0.6 if low < 60.0 else 1.2)


angles = st.floats(0.0, math.pi)


@given(angles, st.floats(0.0, 2 * math.pi), st.floats(0.0, 1.0))
def test_surface_holds_the_volume_however_the_box_stands(polar, around, share):
    basin = basin_of(31.0, 39.0)
    up = (math.sin(polar) * math.cos(around), math.cos(polar), math.sin(polar) * math.sin(around))
    surface = find_surface(basin, up, share * basin.volume)
    assert volume_under(basin, up, surface) == pytest.approx(share * basin.volume, abs=1e-5 * basin.volume)


@given(st.floats(0.0, math.pi / 2), st.floats(0.0, 1.0))
def test_volume_under_a_slope_in_the_plane_is_that_of_the_cut_polygon(angle, share):
    basin = basin_of(31.0, 39.0)
    up = (math.sin(angle), math.cos(angle), 0.0)
    heights = [up[0] * x + up[1] * y for x in (110.0, 180.0) for y in (85.0, 120.0)]
    surface = min(heights) + share * (max(heights) - min(heights))
    x0, y0 = surface * up[0], surface * up[1]
    along, far = (up[1], -up[0]), 1e3
    under = Polygon(
        (
            (x0 + far * along[0], y0 + far * along[1]),
            (x0 - far * along[0], y0 - far * along[1]),
            (x0 - far * along[0] - far * up[0], y0 - far * along[1] - far * up[1]),
            (x0 + far * along[0] - far * up[0], y0 + far * along[1] - far * up[1]),
        )
    )
    cut = box(110.0, 85.0, 180.0, 120.0).intersection(under).area * DEEP
    assert volume_under(basin, up, surface) == pytest.approx(cut, abs=1e-5 * basin.volume)


@pytest.mark.parametrize("slope", [1e-12, 1e-6, 4e-5, 6e-5, 1e-3])
def test_surface_through_the_middle_halves_the_box_at_any_slope(slope):
    """Edges that are all but level are put at their middle, so no slope makes the volume jump."""
    basin = basin_of(31.0, 39.0)
    up = (math.sin(slope), math.cos(slope), 0.0)
    middle = up[0] * 145.0 + up[1] * 102.5
    assert volume_under(basin, up, middle) == pytest.approx(0.5 * basin.volume, rel=1e-8)


@given(st.floats(0.0, 90.0), st.sampled_from(["left", "right", "front", "back"]))
def test_up_stays_a_unit_vector(angle, side):
    assert math.hypot(*turn_up((0.6, 0.64, 0.48), side, angle)) == pytest.approx(1.0)


def test_sides_go_down():
    for side, low, high in (
        ("left", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0)),
        ("right", (1.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ("front", (0.0, 0.0, 1.0), (0.0, 0.0, 0.0)),
        ("back", (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    ):
        up = turn_up(UPRIGHT, side, 30.0)
        assert sum(u * (b - a) for u, a, b in zip(up, low, high, strict=True)) == pytest.approx(0.5)
