"""What stays in the small plan, whose return channel hangs down in a U: closed forms, balances, openings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.features import Cylinder, Feature
from geom.frame import INTO
from geom.wet.raster import raster_wet
from layouts.filling.left import TINY_MM3, add_untold, find_air, find_coolant, find_left, voxels_of
from layouts.filling.openings import find_openings, tank_voxels, vents_of
from layouts.filling.pocket_limits import COOLANT_TOLD_MM3
from layouts.filling.tilts import map_tilts, tilted_up
from layouts.filling.values import Opening, Tilt
from tests.sample_plan import BEND, BODY, CHANNEL_DEPTH, CHANNEL_WIDTH, sample_plan

PLAN = sample_plan()
RETURN = "channel block - tank"
UPRIGHT, HANGING = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)


def look(spacing, up=UPRIGHT, features=PLAN.detail.features):
    voxels = raster_wet(features, spacing)
    openings = find_openings(PLAN.panel, PLAN.routed, features, voxels)
    return voxels, openings, find_left(voxels, openings, up, tank_voxels(voxels))


COARSE = look(2.0)
MIDDLE = look(1.0)


def part_of_ring(radius: float, height: float) -> float:
    """Return the area of a quarter disc up to a height over its straight side."""
    return (height * math.sqrt(radius**2 - height**2) + radius**2 * math.asin(height / radius)) / 2


INNER, OUTER = BEND - CHANNEL_WIDTH / 2, BEND + CHANNEL_WIDTH / 2
WEIR = math.sqrt(INNER**2 - 4.0**2)
"""Of the U's way out over the middle of its upper bends, [mm]: the tank cuts the last one 4 mm before its end."""


def u_volume() -> float:
    """Return what the U of the return channel holds under its weir, by hand, [mm3].

    The surface has 207 mm2: half a voxel of height is 1 % of it at 0.5 mm.

    Below the start of the upper bends a strip of constant width; above it, on each side, a piece of a quarter ring.
    """
    straight = 3 * (30.0 - 2 * BEND) + 2 * math.pi / 2 * BEND
    ends = part_of_ring(OUTER, WEIR) - part_of_ring(INNER, WEIR)
    return (straight * CHANNEL_WIDTH + 2 * ends) * CHANNEL_DEPTH


def own(pockets):
    return [pocket for pocket in pockets if pocket.features[0] == RETURN]


@pytest.mark.parametrize(("spacing", "share"), [(1.0, 0.03), (0.5, 0.015)])
def test_coolant_stays_in_a_u(spacing, share):
    left = look(spacing)[2]
    (pocket,) = own(left.coolant)
    assert pocket.volume_mm3 == pytest.approx(u_volume(), rel=share)
    # Its lowest place is the floor of the U, its way out the tank's wall.
    assert pocket.at[1] == pytest.approx(56.0 + spacing / 2)
    assert 64.0 <= pocket.at[0] <= 66.0
    assert pocket.depth == pytest.approx(20.0 + WEIR, abs=spacing)
    assert pocket.way_out is not None
    assert pocket.way_out[1] == pytest.approx(76.0 + WEIR, abs=spacing)
    assert own(left.air) == []


@pytest.mark.parametrize(("spacing", "share"), [(1.0, 0.03), (0.5, 0.015)])
def test_air_stays_in_it_upside_down(spacing, share):
    left = look(spacing, HANGING)[2]
    (pocket,) = own(left.air)
    assert pocket.volume_mm3 == pytest.approx(u_volume(), rel=share)
    assert pocket.at[1] == pytest.approx(56.0 + spacing / 2)
    assert pocket.depth == pytest.approx(20.0 + WEIR, abs=spacing)


@settings(max_examples=20, deadline=None)
@given(right=st.floats(-180, 180), front=st.floats(-90, 90))
def test_air_is_somewhere(right, front):
    """Air in pockets, air that leaves and the tank's own are the wet volume, however the panel is turned."""
    voxels, openings, _ = COARSE
    left = find_left(voxels, openings, tilted_up(UPRIGHT, Tilt(right, front)), tank_voxels(voxels))
    assert left.air_mm3 + left.tank_air_mm3 + sum(mm3 for _, mm3 in left.leaves) == left.wet_mm3
    assert left.air_mm3 == pytest.approx(sum(pocket.volume_mm3 for pocket in left.air))
    assert left.coolant_mm3 == pytest.approx(sum(pocket.volume_mm3 for pocket in left.coolant))
    assert 0.0 <= left.coolant_mm3 <= left.wet_mm3
    assert {name for name, _ in left.leaves} <= {opening.name for opening in vents_of(openings)}
    for pockets in (left.air, left.coolant):
        volumes = [pocket.volume_mm3 for pocket in pockets]
        assert volumes == sorted(volumes, reverse=True)
        assert all(
            pocket.way_out is None or (pocket.depth > 1.5 * 2.0 and pocket.volume_mm3 >= TINY_MM3)
            for pocket in pockets
        )


@settings(max_examples=12, deadline=None)
@given(right=st.floats(-180, 180), front=st.floats(-90, 90))
def test_a_bleed_at_the_highest_place_clears_its_pocket(right, front):
    """And takes nothing away elsewhere: what stays is no more than before."""
    voxels, openings, _ = COARSE
    up = tilted_up(UPRIGHT, Tilt(right, front))
    heights, tank = voxels.elevations(up), tank_voxels(voxels)
    before = find_air(voxels, openings, heights, tank)
    if not before.pockets:
        return
    bleed = Opening("bleed", "bleed", "", before.pockets[0].at, before.tops[:1])
    after = find_air(voxels, (*openings, bleed), heights, tank)
    assert after.number[before.tops[0]] < 0
    assert not ((after.number >= 0) & (before.number < 0)).any()
    still = np.count_nonzero((after.number >= 0) & (before.number == 0))
    # What is left of it can only be another height of its own, beside a lower place.
    assert still < np.count_nonzero(before.number == 0)


def test_bleed_clears_the_planted_pocket():
    voxels, openings, left = look(1.0, HANGING)
    (pocket,) = own(left.air)
    number = int(np.argmin(np.linalg.norm(voxels.centres() - np.array(pocket.at), axis=1)))
    bleed = Opening("bleed", "bleed", "", pocket.at, np.array([number], np.int32))
    assert own(find_left(voxels, (*openings, bleed), HANGING, tank_voxels(voxels)).air) == []


def test_hoses_that_fall_let_no_air_out():
    """With both hoses of the part falling, air that left through its ports stays; the tank's return is open still."""
    voxels, openings, left = MIDDLE
    falling = tuple(
        replace(opening, hose="falls") if opening.kind == "part" else opening for opening in openings
    )
    shut = find_left(voxels, falling, UPRIGHT, tank_voxels(voxels))
    assert {name for name, _ in left.leaves} == {"block inlet", "block outlet", "fill"}
    assert {name for name, _ in shut.leaves} == {"fill"}
    # The supply lies over no way out but the pump's, up through the feed: only what bores have higher than that stays.
    assert shut.air_mm3 > left.air_mm3


def test_coolant_passes_a_part_unless_its_hoses_rise():
    """The level end of the return drains back through the part, whose other port stands lower at the drain."""
    voxels, openings, left = MIDDLE
    rising = tuple(
        replace(opening, hose="rises") if opening.kind == "part" else opening for opening in openings
    )
    shut = find_left(voxels, rising, UPRIGHT, tank_voxels(voxels))
    before, after = own(left.coolant)[0].volume_mm3, own(shut.coolant)[0].volume_mm3
    # Its bore hangs under the level end's floor: that much stays besides.
    assert after >= before
    assert shut.coolant_mm3 > left.coolant_mm3
    assert shut.air_mm3 == left.air_mm3


def test_without_a_drain_hoses_are_taken_off():
    voxels, openings, _ = MIDDLE
    none = tuple(opening for opening in openings if opening.kind != "drain")
    left = find_left(voxels, none, UPRIGHT, tank_voxels(voxels))
    # What lies under the inlet stays then: the leg down to where the drain was.
    assert any("port drain G1/4" in pocket.features for pocket in left.coolant)


def test_no_way_at_all():
    """Without any opening all air but the tank's stays, with no way out; nothing fails."""
    voxels, _, _ = COARSE
    tank = tank_voxels(voxels)
    left = find_left(voxels, (), UPRIGHT, tank)
    assert all(pocket.way_out is None for pocket in (*left.air, *left.coolant))
    assert left.air_mm3 == np.count_nonzero(~tank) * 8.0
    assert left.coolant_mm3 == left.wet_mm3
    assert left.leaves == ()


@pytest.mark.parametrize("spacing", [0.5, 0.7, 1.0, 1.3, 2.0, 3.0])
def test_every_mouth_is_one_layer(spacing):
    """Across a whole bore: as many voxels as the circle with its chamfer holds, wherever the grid cuts its face."""
    _, openings, _ = look(spacing)
    assert [opening.kind for opening in openings] == ["part", "part", "fill", "drain", "pump", "pump"]
    for opening in openings:
        radius = 4.0 if opening.kind == "pump" else 6.25
        assert len(opening.voxels) * spacing**2 == pytest.approx(
            math.pi * radius**2, rel=0.12 * max(1.0, spacing)
        )


@pytest.mark.parametrize("on", list(INTO))
def test_a_face_through_voxel_centres_has_one_layer(on):
    """Both the layer on the face and the next one lie within a voxel of it: only the outer one is the mouth."""
    into = INTO[on]
    middle = (20.0, 20.0, 20.0)
    mouth = tuple(m - 9.5 * way for m, way in zip(middle, into, strict=True))
    bore = Feature("port fill G1/4", "port", "wet", Cylinder(mouth, into, 12.0, 5.0))
    port = next(port for port in PLAN.routed.ports if port.role == "fill")
    routed = replace(PLAN.routed, ports=(port,))
    voxels = raster_wet((bore,), 1.0)
    (opening,) = find_openings(PLAN.panel, routed, (bore,), voxels)
    along = (voxels.centres()[opening.voxels] - np.array(mouth)) @ np.array(into)
    assert len(set(np.round(along, 6))) == 1
    assert along[0] == (voxels.centres() - np.array(mouth)).dot(into).min()
    assert len(opening.voxels) == pytest.approx(math.pi * 25.0, rel=0.05)


def test_a_bore_narrower_than_a_voxel_fails_nothing():
    """Its mouth is the nearest voxel, or none; vents and links do without it."""
    features = tuple(
        replace(feature, shape=replace(feature.shape, radius=0.2, chamfer=0.0))
        if isinstance(feature.shape, Cylinder) and feature.medium == "wet"
        else feature
        for feature in PLAN.detail.features
    )
    voxels, openings, left = look(2.0, features=features)
    assert all(len(opening.voxels) <= 1 for opening in openings)
    assert left.air_mm3 + left.tank_air_mm3 + sum(mm3 for _, mm3 in left.leaves) == left.wet_mm3
    assert (
        map_tilts(PLAN.panel, PLAN.routed, voxels, openings, tank_voxels(voxels), (0.0,)).air_mm3[0, 0] >= 0
    )


def test_openings_without_their_features_are_left_out():
    features: tuple[Feature, ...] = tuple(f for f in PLAN.detail.features if f.kind != "port")
    voxels = raster_wet(features, 2.0)
    names = [opening.name for opening in find_openings(PLAN.panel, PLAN.routed, features, voxels)]
    assert names == ["pump inlet", "pump outlet"]
    assert len(voxels_of(())) == 0


def test_panel_on_its_back():
    """Mouths look up: air stays in bores that let none out; channels under the drain's bore stay full."""
    voxels, openings, _ = MIDDLE
    left = find_left(voxels, openings, (0.0, 0.0, 1.0), tank_voxels(voxels))
    assert {pocket.features for pocket in left.air} == {
        ("port drain G1/4",),
        ("pump outlet bore",),
        ("pump inlet bore",),
    }
    heights = voxels.elevations((0.0, 0.0, 1.0))
    coolant = find_coolant(voxels, openings, heights)
    # The drain's bore at the edge lies at z = 5.1 to 16.9: its own channel keeps what is under it.
    branch = coolant.number[(voxels.owner == voxels.names.index("channel pump - block")) & (heights < 5.0)]
    assert (branch >= 0).all()
    assert heights[coolant.number == branch[0]].max() == pytest.approx(4.5)
    assert all(heights[number] < BODY for number in coolant.tops)


def test_an_open_fill_port_under_the_coolant_lets_it_out():
    """Upside down the fill port stands lowest: the tank empties through it, which a shut one would keep."""
    voxels, openings = look(1.0)[:2]
    tank = tank_voxels(voxels)
    hanging = (0.0, -1.0, 0.0)
    shut = tuple(opening for opening in openings if opening.kind != "fill")
    open_mm3, shut_mm3 = (find_left(voxels, o, hanging, tank).coolant_mm3 for o in (openings, shut))
    assert shut_mm3 - open_mm3 > 0.5 * np.count_nonzero(tank) * voxels.spacing**3


def test_what_hoses_leave_open_is_that_of_hoses_told_so():
    """The unfavourable way: all that are not told fall for air, rise for coolant."""
    voxels, openings = look(1.0)[:2]
    tank = tank_voxels(voxels)
    for up in (UPRIGHT, (0.0, -1.0, 0.0)):
        left = find_left(voxels, openings, up, tank)
        both = add_untold(left, voxels, openings, tank)
        for hose, told, now, volume_of in (
            ("falls", both.air_falling_mm3, left.air_mm3, lambda one: one.air_mm3),
            ("rises", both.coolant_rising_mm3, left.coolant_mm3, lambda one: one.coolant_mm3),
        ):
            led = tuple(replace(o, hose=hose) if o.kind == "part" else o for o in openings)
            then = volume_of(find_left(voxels, led, up, tank))
            assert told == (then if then > now + COOLANT_TOLD_MM3 else None)
    # Where all are told there is nothing to add.
    told = tuple(replace(o, hose="rises") if o.kind == "part" else o for o in openings)
    again = add_untold(find_left(voxels, told, UPRIGHT, tank), voxels, told, tank)
    assert (again.air_falling_mm3, again.coolant_rising_mm3) == (None, None)
