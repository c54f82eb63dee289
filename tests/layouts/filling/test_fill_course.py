"""The order in which a loop fills, on loops drawn by hand: one letter is one voxel of 1 mm and holds 1 mL.

T: the tank, #: a channel, ~: a channel in which air stays, i and o: the pump's bores, a and b: a part's ports, s: the
port under a separate tank. The lowest row stands at 0.5 mm.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.wet.voxels import WetVoxels, voxels_of_mask
from layouts.filling.fill_course import Course, TankLevels, follow_coolant, link_parts
from layouts.filling.held import Held
from layouts.filling.values import Opening

UP = (0.0, 1.0, 0.0)
BLOCK_ML = 50.0

OVER_THE_TANK = """
......###
TTTT..#.#
TTTT..#.#
TTTT..#.#
.#....#.#
.#....#.#
.#....#.#
.i....o.#
"""
"""A loop that rises over the tank and falls again."""

WITH_PART = """
TTTT.....
TTTT....b
TTTT....#
.#......#
.#..a...#
.#..#...#
.i..o...#
"""
"""A part whose outlet stands over its inlet, as high as the middle row of the tank."""


def read(art: str) -> tuple[WetVoxels, np.ndarray, np.ndarray]:
    """Return the voxels of a drawing, the letter of each, their heights."""
    rows = art.strip().splitlines()[::-1]
    letters = np.array([[row[x] for row in rows] for x in range(len(rows[0]))])[:, :, None]
    voxels = voxels_of_mask(letters != ".", 1.0)
    return voxels, letters[tuple(voxels.cells.T)], voxels.elevations(UP)


def follow(
    art: str, level: float, bare: float = 0.0, hoses: tuple[str | None, str | None] = (None, None)
) -> Course:
    """Return the course of a drawing; `level` and `bare` are shares of its tank."""
    voxels, letters, heights = read(art)

    def opening(letter: str, name: str, kind: str, part: str, hose: str | None = None) -> Opening:
        place = np.flatnonzero(letters == letter).astype(np.int32)
        return Opening(name, kind, part, (0.0, 0.0, 0.0), place, hose)  # type: ignore[arg-type]

    outlet = opening("s", "tank outlet", "tank", "")
    openings = (
        opening("a", "block inlet", "part", "block", hoses[0]),
        opening("b", "block outlet", "part", "block", hoses[1]),
        opening("i", "pump inlet", "pump", ""),
        opening("o", "pump outlet", "pump", ""),
    )
    tank = letters == "T"
    held = Held(tank, float(tank.sum()), (~tank).astype(float), (("block", BLOCK_ML),), ())
    rows = np.sort(heights[tank])
    if len(outlet.voxels):
        levels = TankLevels(level, 0.0, 0.0, float(heights[outlet.voxels].max()))
    else:
        levels = TankLevels(level, bare, 0.0, float(rows[round(level * len(rows)) - 1]))
    aside = outlet if len(outlet.voxels) else None
    return follow_coolant(voxels, openings, aside, heights, held, letters == "~", levels)


@pytest.mark.published(source="closed form: communicating vessels, counted on the drawing")
def test_a_loop_that_rises_over_the_tank_stands_as_high_as_the_tank_until_the_pump_runs():
    """Four voxels down to the inlet; the leg behind the pump stands as high as the tank, to its two rows of three."""
    course = follow(OVER_THE_TANK, level=2 / 3, bare=1 / 3)
    assert course.filled_ml[course.covered.items] == 4
    assert 0 < course.covered.tank <= 1 / 3
    # Down to the inlet and up to under the tank's floor; level with its lowest row one more.
    assert 8 <= course.filled_ml[course.ready.items] <= 9
    assert course.ready.tank == pytest.approx(1 / 3)
    # Both legs end in one row: its last voxel may come before or after that of the leg.
    assert 9 <= course.filled_ml[course.at_level] <= 10
    assert course.filled_ml[-1] - BLOCK_ML == 4 + 8 + 1 + 8


def test_a_level_that_bares_the_outlet_never_covers_it():
    assert follow(OVER_THE_TANK, level=1.0, bare=1.0).ready is None
    assert follow(OVER_THE_TANK, level=1 / 3, bare=2 / 3).ready is None


def test_what_stands_lower_than_a_sill_under_the_level_is_full():
    lower = """
TTTT.....
TTTT.....
TTTT..###
.#....#.#
.#....#.#
.i....o.#
"""
    course = follow(lower, level=2 / 3)
    assert course.filled_ml[course.at_level] == course.filled_ml[-1] - BLOCK_ML == 3 + 4 + 1 + 4


@pytest.mark.parametrize(
    ("hoses", "level", "at_rest"),
    [
        ((None, None), 1 / 3, False),  # a hose whose way is not told runs straight: over the higher port
        ((None, None), 1.0, True),
        (("falls", None), 1 / 3, True),
        (("falls", "falls"), 1 / 3, True),
        (("rises", None), 1.0, False),
        (("falls", "rises"), 1.0, False),
    ],
)
def test_when_a_part_fills(hoses, level, at_rest):
    course = follow(WITH_PART, level, hoses=hoses)
    assert (course.filled_ml[course.at_level] >= BLOCK_ML) == at_rest
    assert course.filled_ml[-1] == 4 + 3 + 6 + BLOCK_ML


def test_air_is_passed_and_takes_nothing():
    course = follow(OVER_THE_TANK.replace("......###", "......~~~"), level=1.0)
    assert course.filled_ml[-1] - BLOCK_ML == 4 + 7 + 7


def test_a_separate_tank_stands_over_all_that_is_no_higher_than_its_port():
    art = """
......###
.s....#.#
.#....#.#
.i....o.#
"""
    course = follow(art, level=0.8)
    assert course.filled_ml[course.at_level] == 3 + 3
    assert course.filled_ml[course.covered.items] >= 3
    assert course.filled_ml[-1] - BLOCK_ML == 3 + 4 + 1 + 4


def test_an_inlet_that_coolant_does_not_reach_is_never_covered():
    """The feed climbs over the tank before it comes down to the pump."""
    art = """
...###....
TTT#.#....
TTT#.#....
...#.#....
.....i...o
"""
    course = follow(art, level=0.5)
    assert course.covered is course.ready is None
    assert (
        follow(f"TTT.......\n{art.strip().replace('...###....', 'TTT###....')}", level=1.0).covered
        is not None
    )


def test_links_keep_their_numbers_when_the_pump_runs():
    _, letters, heights = read(WITH_PART)
    ends = [
        Opening(
            name, "part", "block", (0.0, 0.0, 0.0), np.flatnonzero(letters == letter).astype(np.int32), hose
        )
        for name, letter, hose in (("block inlet", "a", "rises"), ("block outlet", "b", None))
    ]
    names, at_rest, running = link_parts(ends, heights)
    assert names == ("block",)
    assert at_rest.heights[0] > 1e8 > running.heights[0] == heights[letters == "b"][0]
    assert link_parts(ends[:1], heights)[0] == ()


@settings(max_examples=40, deadline=None)
@given(
    rows=st.lists(st.text("T#.", min_size=6, max_size=6), min_size=3, max_size=7), level=st.floats(0.05, 1.0)
)
def test_all_that_is_reached_fills_once(rows, level):
    """Nothing fills twice, nothing gives anything back, and the course ends with all that hangs together."""
    art = "\n".join(["T" + rows[0][1:], *rows[1:], "iiiooo"])
    course = follow(art, level)
    assert len(set(course.items.tolist())) == len(course.items)
    assert (np.diff(course.filled_ml) >= 0).all()
    assert 0 <= course.at_level <= len(course.items)
    assert course.whole_ml - BLOCK_ML <= sum(letter in "#io" for letter in art)
