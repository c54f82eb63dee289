"""Planted cavities and cups: each found, each where it was planted, none in sound parts."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh

from geom.printing.hollow import find_cavities, find_cups

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
