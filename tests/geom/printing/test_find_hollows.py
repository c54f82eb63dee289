"""Planted cavities and cups: each found, each where it was planted, none in sound parts."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
import trimesh

from geom.printing.find_hollows import find_cavities, find_cups

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
BLOCK = manifold3d.Manifold.cube((40.0, 30.0, 20.0))
CUP = manifold3d.Manifold.cylinder(30.0, 8.0, 8.0, 64).translate((25.0, 15.0, 5.0))


def mesh_of(solid: manifold3d.Manifold) -> trimesh.Trimesh:
    data = solid.to_mesh64()
    return trimesh.Trimesh(
        np.array(data.vert_properties)[:, :3], np.array(data.tri_verts, dtype=np.int64), process=False
    )


def side_bore(z: float) -> manifold3d.Manifold:
    """Return a bore of 4 mm from the left side into the cup."""
    return (
        manifold3d.Manifold.cylinder(25.0, 2.0, 2.0, 48).rotate((0.0, 90.0, 0.0)).translate((-1.0, 15.0, z))
    )


def test_a_closed_cavity_is_found_where_it_is():
    ball = manifold3d.Manifold.sphere(4.0, 64).translate((11.3, 12.7, 9.9))
    small = manifold3d.Manifold.cube((1.0, 2.0, 3.0), True).translate((30.0, 8.0, 7.0))
    first, second = find_cavities(mesh_of(BLOCK - ball - small))
    assert first.at == pytest.approx((11.3, 12.7, 9.9), abs=1e-6)
    assert second.at == pytest.approx((30.0, 8.0, 7.0), abs=1e-6)
    assert second.volume == pytest.approx(6.0)


def test_open_hollows_are_no_cavities():
    assert find_cavities(mesh_of(BLOCK - CUP)) == ()


def test_a_part_inside_a_cavity_is_not_turned_inward():
    shell = BLOCK - manifold3d.Manifold.cube((20.0, 20.0, 10.0)).translate((5.0, 5.0, 5.0))
    loose = manifold3d.Manifold.cube((4.0, 4.0, 4.0)).translate((10.0, 10.0, 8.0))
    (cavity,) = find_cavities(mesh_of(shell + loose))
    assert cavity.volume == pytest.approx(4000.0)


def test_a_cup_that_stands_on_its_floor_sucks_to_the_end():
    (cup,) = find_cups(mesh_of(BLOCK - CUP), UP, 50.0, 3.0)
    assert cup.at[:2] == pytest.approx((25.0, 15.0), abs=0.1)
    assert (cup.on_bed, cup.depth) == (False, pytest.approx(15.0, abs=0.5))
    assert cup.area == pytest.approx(np.pi * 64, rel=0.01)


def test_a_cup_that_lies_on_its_rim_is_closed_by_the_bed():
    (cup,) = find_cups(mesh_of(BLOCK - CUP), DOWN, 50.0, 3.0)
    assert cup.at[:2] == pytest.approx((25.0, 15.0), abs=0.1)
    assert cup.on_bed


def test_a_cup_on_its_side_is_open():
    assert find_cups(mesh_of(BLOCK - CUP), (1.0, 0.0, 0.0), 50.0, 3.0) == ()


@pytest.mark.parametrize(("z", "shut"), [(7.0, False), (15.0, True)])
def test_a_bore_vents_what_is_printed_after_it(z, shut):
    cups = find_cups(mesh_of(BLOCK - CUP - side_bore(z)), UP, 50.0, 3.0)
    assert bool(cups) == shut
    if shut:
        assert cups[0].depth == pytest.approx(z - 2.0 - 5.0, abs=1.0)


def test_narrow_and_shallow_hollows_are_passed_over():
    mesh = mesh_of(BLOCK - CUP)
    assert find_cups(mesh, UP, 300.0, 3.0) == ()
    assert find_cups(mesh, UP, 50.0, 16.0) == ()


def bore(x: float, y: float, z0: float, z1: float, radius: float = 4.0) -> manifold3d.Manifold:
    return manifold3d.Manifold.cylinder(z1 - z0, radius, radius, 48).translate((x, y, z0))


@pytest.mark.parametrize("radius", [3.0, 5.0, 6.0])
@pytest.mark.parametrize("angle", [0.0, 90.0, 180.0, 270.0])
def test_what_opens_a_hollow_is_no_part_of_it(angle, radius):
    """A seat of 26 mm over a shut bore and a bore with a way out: it opens the shut one, and is open itself."""
    shut, vent = bore(14.0, 15.0, 4.0, 19.0, radius), bore(28.0, 15.0, 4.0, 19.0)
    out = (
        manifold3d.Manifold.cylinder(25.0, 2.0, 2.0, 48).rotate((0.0, 90.0, 0.0)).translate((28.0, 15.0, 6.0))
    )
    solid = BLOCK - shut - vent - out - bore(20.0, 15.0, 16.0, 21.0, 13.0)
    (cup,) = find_cups(mesh_of(solid.rotate((0.0, 0.0, angle))), UP, 20.0, 3.0)
    turn = math.radians(angle)
    x, y = (
        14 * math.cos(turn) - 15 * math.sin(turn),
        14 * math.sin(turn) + 15 * math.cos(turn),
    )
    assert cup.at == pytest.approx((x, y, 4.5), abs=0.1)
    assert cup.area == pytest.approx(math.pi * radius**2, rel=0.01)
    assert cup.depth == pytest.approx(12.0, abs=0.5)


def test_voids_of_one_layer_share_the_way_out_of_one_of_them():
    """Two arms over one hollow: the one that is vented opens both, in whichever order they are looked at."""
    hollow = manifold3d.Manifold.cube((30.0, 20.0, 6.0)).translate((5.0, 5.0, 4.0))
    left, right = bore(11.0, 15.0, 9.0, 21.0), bore(29.0, 15.0, 9.0, 21.0)
    for x in (-1.0, 29.0):
        out = (
            manifold3d.Manifold.cylinder(12.0, 1.5, 1.5, 48)
            .rotate((0.0, 90.0, 0.0))
            .translate((x, 15.0, 14.0))
        )
        (cup,) = find_cups(mesh_of(BLOCK - hollow - left - right - out), UP, 50.0, 3.0)
        assert cup.area == pytest.approx(600.0, rel=0.001)
        assert cup.depth == pytest.approx(8.5, abs=1.0)
        assert cup.at == pytest.approx((20.0, 15.0, 4.5), abs=0.1)


def test_a_shallow_step_lends_a_hollow_no_area():
    """A seat 1 mm deep round a bore of 15 mm: what sucks is the bore."""
    seat = bore(20.0, 15.0, 19.0, 21.0, 12.0)
    (cup,) = find_cups(mesh_of(BLOCK - bore(20.0, 15.0, 4.0, 21.0, 6.0) - seat), UP, 50.0, 3.0)
    assert cup.area == pytest.approx(np.pi * 36, rel=0.01)
    assert cup.at == pytest.approx((20.0, 15.0, 4.5), abs=0.1)


def test_the_place_lies_in_the_hollow():
    """Of a hollow like a U the centroid lies in the material."""
    arms = manifold3d.Manifold.cube((30.0, 24.0, 20.0)).translate((5.0, 3.0, 4.0))
    rib = manifold3d.Manifold.cube((24.0, 18.0, 20.0)).translate((11.0, 9.0, 4.0))
    (cup,) = find_cups(mesh_of(BLOCK - (arms - rib)), UP, 50.0, 3.0)
    x, y, z = cup.at
    assert z == pytest.approx(4.5, abs=0.1)
    assert (5 < x < 11 and 3 < y < 27) or (5 < x < 35 and 3 < y < 9)
