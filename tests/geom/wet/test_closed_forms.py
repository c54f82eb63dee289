"""Air and coolant that stay, against closed forms; how their errors fall; and turned together with gravity."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.features import Cylinder
from geom.frame import Vec
from geom.wet.flooding import climb
from geom.wet.links import join_links
from geom.wet.raster import raster_wet
from tests.geom.wet.sample_parts import (
    Part,
    ball_with_port,
    bent,
    make_wet,
    stays,
    stepped,
    tank_with_side_outlet,
)

SPACINGS = (2.0, 1.0, 0.5, 0.25)
PLACES = 6


@pytest.mark.published(
    source="Pappus of Alexandria, Collection, book 7: what turns about an axis; prisms; ball's cap"
)
@pytest.mark.parametrize(
    ("part", "offsets"),
    [
        pytest.param(bent(air=True), 1, id="inverted U"),
        pytest.param(bent(air=False), 1, id="U"),
        pytest.param(stepped(air=False), 1, id="stepped channel, coolant"),
        pytest.param(stepped(air=True), 1, id="stepped channel, air"),
        pytest.param(tank_with_side_outlet(), 3, id="tank with a side outlet"),
        pytest.param(ball_with_port(40.0, 5.0, 5.0), 1, id="ball with a port at an angle"),
    ],
)
def test_what_stays_is_within_a_hundredth_at_half_a_millimetre(part: Part, offsets: int) -> None:
    chance = np.random.default_rng(0)
    for n in range(offsets):
        x, y, z = chance.uniform(0.0, 0.5, 3) * bool(n)
        assert part.measure(0.5, (x, y, z)) == pytest.approx(part.stays_mm3, rel=0.01)


@pytest.mark.parametrize(
    "make",
    [
        pytest.param(lambda a, b: bent(True, 6.0 + 4.0 * a, 6.0 + 4.0 * b), id="inverted U"),
        pytest.param(lambda a, b: stepped(False, 6.0 + 4.0 * a), id="stepped channel"),
        pytest.param(lambda a, b: ball_with_port(15.0, 7.0 * a - 2.0, 2.5 + b), id="ball"),
    ],
)
def test_errors_fall_at_least_like_the_voxels(make: Callable[[float, float], Part]) -> None:
    """Mean error over sizes and places on the grid that no voxel fits, for voxels of half the size each time."""
    errors = np.zeros(len(SPACINGS))
    for n in range(PLACES):
        # Spread evenly: parts of the multiples of numbers that no ratio joins.
        a, b, x, y, z = (n + 0.5) * np.sqrt((2.0, 3.0, 5.0, 7.0, 11.0)) % 1.0
        part = make(a, b)
        errors += [abs(part.measure(h, (2 * x, 2 * y, 2 * z)) / part.stays_mm3 - 1.0) for h in SPACINGS]
    order = float(np.polyfit(np.log(SPACINGS), np.log(errors), 1)[0])
    assert order > 0.9, errors / PLACES
    assert errors[-1] / PLACES < 0.02


LEG, ACROSS, BORE = 45.0, 36.0, 4.0


def turn(axis: tuple[float, float, float], angle: float) -> np.ndarray:
    """Return the matrix that turns about an axis (Rodrigues)."""
    k = np.asarray(axis) / np.linalg.norm(axis)
    cross = np.array([[0.0, -k[2], k[1]], [k[2], 0.0, -k[0]], [-k[1], k[0], 0.0]])
    return np.eye(3) + math.sin(angle) * cross + (1 - math.cos(angle)) * cross @ cross


def hump(turned: np.ndarray, spacing: float, air: bool) -> float:
    """Return what stays in two bored legs joined by a level bore at their tops, all turned with gravity, [mm3].

    The legs go on by 5 mm past their mouths.
    """

    def at(x: float, y: float) -> Vec:
        point = turned @ np.array([x, y, 0.0]) + 50.0
        return (point[0], point[1], point[2])

    def along(x: float, y: float) -> Vec:
        way = turned @ np.array([x, y, 0.0])
        return (way[0], way[1], way[2])

    sense = 1.0 if air else -1.0
    legs = [
        Cylinder(at(x, -sense * (reach + 5.0)), along(0.0, sense), reach + 5.0, BORE)
        for x, reach in ((0.0, LEG), (ACROSS, LEG - 12.0))
    ]
    voxels = raster_wet(
        make_wet(*legs, Cylinder(at(-6.0, 0.0), along(1.0, 0.0), ACROSS + 12.0, BORE)), spacing
    )
    places = (voxels.centres() - 50.0) @ turned
    mouths = sense * places[:, 1] < np.where(places[:, 0] < ACROSS / 2, -LEG, 12.0 - LEG)
    return stays(voxels, mouths, along(0.0, 1.0), air)


@cache
def hump_at_rest(air: bool) -> float:
    """Return the same as it stands, of fine voxels, [mm3]."""
    return hump(np.eye(3), 0.25, air)


@settings(max_examples=12, deadline=None)
@given(
    axis=st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda way: np.linalg.norm(way) > 0.1),
    angle=st.floats(-math.pi, math.pi),
    air=st.booleans(),
)
def test_turning_part_and_gravity_together_changes_less_than_a_voxel_of_the_skin(
    axis: tuple[float, float, float], angle: float, air: bool
) -> None:
    spacing = 1.0
    still = hump_at_rest(air)
    skin = 2 * math.pi * BORE * (2 * (LEG - 12.0) + ACROSS + 12.0)
    assert hump(turn(axis, angle), spacing, air) == pytest.approx(still, abs=spacing * skin / 4)


@settings(max_examples=15, deadline=None)
@given(at=st.floats(0.0, 36.0), down=st.floats(-30.0, 0.0), tilt=st.floats(-0.7, 0.7))
def test_a_vent_more_in_a_real_part_never_leaves_more_air(at: float, down: float, tilt: float) -> None:
    legs = [Cylinder((x, -45.0, 0.0), (0.0, 1.0, 0.0), 45.0, BORE) for x in (0.0, 36.0)]
    voxels = raster_wet(make_wet(*legs, Cylinder((-6.0, 0.0, 0.0), (1.0, 0.0, 0.0), 48.0, BORE)), 1.0)
    heights = -voxels.elevations((math.sin(tilt), math.cos(tilt), 0.0))
    none = join_links(voxels.count, (), ())
    vents = np.flatnonzero(voxels.cells[:, 1] == voxels.cells[:, 1].min())
    more = np.argmin(np.linalg.norm(voxels.centres() - (at, down, 0.0), axis=1))
    few, many = (climb(voxels, heights, seeds, none) for seeds in (vents, np.append(vents, more)))
    assert (many <= few).all()
    assert ((many > heights) <= (few > heights)).all()
