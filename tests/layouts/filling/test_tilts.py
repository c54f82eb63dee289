"""Tilts in the panel's frame, and maps over them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.wet.raster import raster_wet
from layouts.filling import tilts
from layouts.filling.left import find_left
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.tilts import DEGREES, AtTilt, map_tilts, tilted_up, turned_by
from layouts.filling.values import Tilt
from tests.sample_plan import WIDTH, sample_plan

PLAN = sample_plan()
COARSE = (-45.0, -22.5, 0.0, 22.5, 45.0)


def look(spacing):
    voxels = raster_wet(PLAN.detail.features, spacing)
    openings = find_openings(PLAN.panel, PLAN.routed, PLAN.detail.features, voxels)
    return voxels, openings, tank_voxels(voxels)


VOXELS, OPENINGS, TANK = look(1.0)
MAP = map_tilts(PLAN.panel, PLAN.routed, VOXELS, OPENINGS, TANK, COARSE)


def mirror(voxels):
    """Return the voxels of the panel as seen in a mirror at its middle, and the new number of each."""
    cells = voxels.cells.copy()
    cells[:, 0] = voxels.shape[0] - 1 - cells[:, 0]
    order = np.lexsort((cells[:, 2], cells[:, 1], cells[:, 0]))
    new = np.empty(voxels.count, np.int32)
    new[order] = np.arange(voxels.count, dtype=np.int32)
    swapped = voxels.beside[:, [1, 0, 2, 3, 4, 5]]
    beside = np.where(swapped >= 0, new[swapped], -1)[order].astype(np.int32)
    origin = (WIDTH - voxels.origin[0] - voxels.shape[0] * voxels.spacing, *voxels.origin[1:])
    return (
        replace(voxels, origin=origin, cells=cells[order], beside=beside, owner=voxels.owner[order]),
        new,
        order,
    )


@pytest.mark.parametrize(
    ("up", "tilt", "points"),
    [
        ((0, 1, 0), Tilt(90, 0), (-1, 0, 0)),
        ((0, 1, 0), Tilt(-90, 0), (1, 0, 0)),
        ((0, 1, 0), Tilt(0, 90), (0, 0, -1)),
        ((0, 1, 0), Tilt(0, -90), (0, 0, 1)),
        ((0, 0, 1), Tilt(90, 0), (-1, 0, 0)),
        ((0, 0, 1), Tilt(0, 90), (0, 1, 0)),
        ((0, 0, -1), Tilt(0, 90), (0, -1, 0)),
        ((1, 0, 0), Tilt(0, 90), (0, 0, -1)),
    ],
)
def test_sides_go_down(up, tilt, points):
    """What is lowered by a quarter turn points straight down: its side is the opposite of up."""
    assert tilted_up(up, tilt) == pytest.approx(points)


@given(right=st.floats(-45, 45), front=st.floats(-45, 45))
def test_turned_by_is_the_angle_between(right, front):
    up = tilted_up((0.0, 1.0, 0.0), Tilt(right, front))
    assert math.hypot(*up) == pytest.approx(1.0)
    assert math.cos(math.radians(turned_by(Tilt(right, front)))) == pytest.approx(up[1])


def test_middle_of_the_map_is_the_installed_attitude():
    left = find_left(VOXELS, OPENINGS, PLAN.panel.up, TANK)
    assert MAP.degrees[2] == 0.0
    assert (MAP.air_mm3[2, 2], MAP.coolant_mm3[2, 2]) == (left.air_mm3, left.coolant_mm3)
    assert DEGREES == (-45, -37.5, -30, -22.5, -15, -7.5, 0, 7.5, 15, 22.5, 30, 37.5, 45)


@settings(max_examples=8, deadline=None)
@given(right=st.floats(-45, 45), front=st.floats(-45, 45))
def test_every_place_of_the_map_is_what_is_left(right, front):
    """The floods that find the pockets take heights 6 um apart as one: some voxels more or less."""
    mapped = map_tilts(PLAN.panel, PLAN.routed, VOXELS, OPENINGS, TANK, (0.0, right))
    up = tilted_up(PLAN.panel.up, Tilt(right, 0.0))
    left = find_left(VOXELS, OPENINGS, up, TANK)
    assert mapped.air_mm3[0, 1] == pytest.approx(left.air_mm3, abs=30.0)
    assert mapped.coolant_mm3[0, 1] == pytest.approx(left.coolant_mm3, abs=30.0)


def test_a_mirrored_panel_has_a_mirrored_map():
    voxels, new, order = mirror(VOXELS)
    openings = tuple(
        replace(o, at=(WIDTH - o.at[0], *o.at[1:]), voxels=np.sort(new[o.voxels])) for o in OPENINGS
    )
    x0, y0, x1, y1 = PLAN.routed.tank.box
    x, y = PLAN.routed.tank.outlet
    routed = replace(
        PLAN.routed,
        tank=replace(PLAN.routed.tank, box=(WIDTH - x1, y0, WIDTH - x0, y1), outlet=(WIDTH - x, y)),
    )
    mirrored = map_tilts(PLAN.panel, routed, voxels, openings, TANK[order], COARSE)
    np.testing.assert_allclose(mirrored.air_mm3, MAP.air_mm3[:, ::-1], atol=30.0)
    np.testing.assert_allclose(mirrored.coolant_mm3, MAP.coolant_mm3[:, ::-1], atol=30.0)
    assert (mirrored.tank_stays == MAP.tank_stays[:, ::-1]).all()


@pytest.mark.parametrize(
    ("installed", "others", "best"),
    [
        # Half a millilitre of 5.8 is nothing to tilt a panel for.
        (5800.0, {Tilt(-22.5, -22.5): 5300.0}, Tilt(0.0, 0.0)),
        # Of those within 0.2 mL of the least the nearest.
        (
            4000.0,
            {Tilt(45.0, 0.0): 1500.0, Tilt(22.5, 0.0): 1690.0, Tilt(0.0, 22.5): 1710.0},
            Tilt(22.5, 0.0),
        ),
        # More than a millilitre, but not half of it; half of it, but no more than a millilitre.
        (4000.0, {Tilt(22.5, 0.0): 2010.0}, Tilt(0.0, 0.0)),
        (1000.0, {Tilt(22.5, 0.0): 0.0}, Tilt(0.0, 0.0)),
        (1010.0, {Tilt(22.5, 0.0): 0.0}, Tilt(22.5, 0.0)),
        (2010.0, {Tilt(0.0, -45.0): 1005.0}, Tilt(0.0, -45.0)),
    ],
)
def test_best_tilt_is_worth_it_or_none(monkeypatch, installed, others, best):
    def look(tilt):
        stays = others.get(tilt, 0.9999 * installed if tilt != Tilt(0.0, 0.0) else installed)
        return AtTilt(stays, stays, True)

    monkeypatch.setattr(tilts, "look_at_tilts", lambda *_: look)
    mapped = map_tilts(PLAN.panel, PLAN.routed, VOXELS, OPENINGS, TANK, COARSE)
    assert (mapped.fill_best, mapped.drain_best) == (best, best)


def test_to_fill_only_tilts_count_that_the_tank_stands(monkeypatch):
    """By hand: as installed it bares its outlet, and where least stays too."""
    stays = {Tilt(0.0, 0.0): (0.0, False), Tilt(0.0, 45.0): (0.0, False), Tilt(22.5, 0.0): (700.0, True)}
    monkeypatch.setattr(
        tilts,
        "look_at_tilts",
        lambda *_: (
            lambda tilt: AtTilt(stays.get(tilt, (3000.0, True))[0], 0.0, stays.get(tilt, (0.0, True))[1])
        ),
    )
    mapped = map_tilts(PLAN.panel, PLAN.routed, VOXELS, OPENINGS, TANK, COARSE)
    assert mapped.fill_best == Tilt(22.5, 0.0)


def test_the_tank_stays_while_its_outlet_is_covered():
    """By hand: a box of 50 x 30 mm, the middle of its floor open; with a tenth in it a tilt of 45 degrees bares it."""
    low = replace(PLAN.panel, tank=replace(PLAN.panel.tank, level=0.15))
    stays = map_tilts(low, PLAN.routed, VOXELS, OPENINGS, TANK, COARSE).tank_stays
    assert stays[2, 2]
    # A wedge over half of the floor at 45 degrees needs 25 x 25 / 2 of 50 x 30 mm2, 21 %.
    assert not stays[2, 0]
    assert not stays[2, 4]
    # Full to the brim nothing bares the outlet, but it runs over at the fill port once that lies under the surface.
    full = replace(PLAN.panel, tank=replace(PLAN.panel.tank, level=1.0))
    assert map_tilts(full, PLAN.routed, VOXELS, OPENINGS, TANK, (0.0,)).tank_stays.all()


def test_a_separate_tank_stays_anyhow():
    routed = replace(PLAN.routed, tank=replace(PLAN.routed.tank, box=None))
    assert map_tilts(PLAN.panel, routed, VOXELS, OPENINGS, TANK, (0.0, 45.0)).tank_stays.all()


def test_a_panel_that_lies_flat_is_mapped_too():
    flat = replace(PLAN.panel, up=(0.0, 0.0, 1.0))
    mapped = map_tilts(flat, PLAN.routed, VOXELS, OPENINGS, TANK, (0.0, 30.0))
    left = find_left(VOXELS, OPENINGS, flat.up, TANK)
    assert (mapped.air_mm3[0, 0], mapped.coolant_mm3[0, 0]) == (left.air_mm3, left.coolant_mm3)
