"""Hollows of a part that liquid resin cannot leave: closed cavities, and cups that suck while it is printed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import manifold3d
import numpy as np
import trimesh
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geom.printing.trapped import Cavity, Cup, Vec
from geom.tessellate import to_manifold

SLICE_MM = 1.0
"""Distance of the layers that are looked at; what vents a hollow is a bore, wider than that."""

LEAST_OVERLAP = 1e-3
"""Voids of two layers that share less than this are not one, [mm2]."""

WIDER = 1 + 1e-6
"""From this share on a layer is wider than another."""


def find_cavities(mesh: trimesh.Trimesh) -> tuple[Cavity, ...]:
    """Return the closed cavities of a part, the largest first.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, [mm].

    Returns
    -------
    tuple of Cavity
        One for each skin of its own that is turned inward.
    """
    count = len(mesh.faces)
    links = mesh.face_adjacency
    table = coo_array((np.ones(len(links), dtype=np.int8), (links[:, 0], links[:, 1])), shape=(count, count))
    number, skins = connected_components(table, directed=False)
    corners = np.asarray(mesh.triangles)
    sixth = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6
    found = []
    for skin in range(number):
        mine = skins == skin
        volume = float(sixth[mine].sum())
        if volume < 0:
            middle = (sixth[mine, None] * corners[mine].sum(axis=1) / 4).sum(axis=0) / volume
            found.append(Cavity(_vec(middle), -volume))
    return tuple(sorted(found, key=lambda cavity: (-cavity.volume, cavity.at)))


def find_cups(mesh: trimesh.Trimesh, up: Vec, least_area: float, least_depth: float) -> tuple[Cup, ...]:
    """Return the hollows that are shut off from the air while a part is printed, the widest first.

    A void of a layer is open to the air where it reaches the part's outside, or touches a void of the layer below
    that is open. The bed closes what lies on it, the film of the vat what is above: until a hollow has a way out
    through what is already printed, each peel draws a vacuum in it.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, [mm].
    up : (float, float, float)
        Unit vector of the layers' growth in the part's frame.
    least_area, least_depth : float
        Narrower and shallower hollows are passed over, [mm2], [mm].

    Returns
    -------
    tuple of Cup
    """
    turn = _stand_up(up)
    solid = to_manifold(mesh).transform(np.column_stack((turn, np.zeros(3))))
    x0, y0, z0, x1, y1, z1 = solid.bounding_box()
    box = manifold3d.CrossSection.square((x1 - x0 + 2.0, y1 - y0 + 2.0)).translate((x0 - 1.0, y0 - 1.0))
    layers = max(2, math.ceil((z1 - z0) / SLICE_MM))
    step = (z1 - z0) / layers
    hollows: list[_Hollow] = []
    below: list[tuple[manifold3d.CrossSection, _Hollow]] = []
    for layer in range(layers):
        z = z0 + (layer + 0.5) * step
        here = []
        for void in (box - solid.slice(z)).decompose():
            outside = void.bounds()[0] < x0 - 0.5
            middle = _middle(void)
            hollow = _Hollow(z - step / 2, void.area(), (*middle, z), layer == 0, vented=outside)
            hollows.append(hollow)
            for other, known in below:
                if _meet(void, other):
                    hollow = _join(known, hollow, z)
            here.append((void, hollow))
        below = [(void, hollow.root()) for void, hollow in here]
    cups = []
    for hollow in hollows:
        depth = (z1 if hollow.closed_until is None else hollow.closed_until) - hollow.start
        shut = (hollow.into is None and not hollow.vented) or hollow.closed_until is not None
        if shut and hollow.area >= least_area and depth >= least_depth:
            cups.append(Cup(_vec(turn.T @ np.array(hollow.at)), hollow.area, depth, hollow.on_bed))
    return tuple(sorted(cups, key=lambda cup: (-cup.area, cup.at)))


@dataclass(slots=True, eq=False)
class _Hollow:
    """Voids of layers that hang together, as far as is printed: where they start, their widest layer.

    `into` is what it grew together with; `closed_until` the height at which it found a way out.
    """

    start: float
    area: float
    at: Vec
    on_bed: bool
    vented: bool = False
    into: _Hollow | None = None
    closed_until: float | None = None

    def root(self) -> _Hollow:
        """Return the hollow that it is a part of by now."""
        hollow = self
        while hollow.into is not None:
            hollow = hollow.into
        return hollow


def _join(known: _Hollow, new: _Hollow, z: float) -> _Hollow:
    """Return what two hollows that touch are together, and note for one that was shut where it found its way out."""
    one, other = known.root(), new.root()
    if one is other:
        return one
    if one.vented != other.vented:
        shut, free = (other, one) if one.vented else (one, other)
        shut.closed_until, shut.into = z, free
        return free
    other.into = one
    if not one.vented:
        if other.area > WIDER * one.area:
            one.area, one.at = other.area, other.at
        one.start, one.on_bed = min(one.start, other.start), one.on_bed or other.on_bed
    return one


def _stand_up(up: Vec) -> np.ndarray:
    """Return the turn that brings the layers' growth upright, (3, 3) float."""
    axis = np.asarray(up) / np.linalg.norm(up)
    across = np.cross((0.0, 1.0, 0.0) if abs(axis[1]) < 0.9 else (1.0, 0.0, 0.0), axis)
    across /= np.linalg.norm(across)
    return np.vstack((across, np.cross(axis, across), axis))


def _meet(one: manifold3d.CrossSection, other: manifold3d.CrossSection) -> bool:
    a, b = one.bounds(), other.bounds()
    if a[0] > b[2] or b[0] > a[2] or a[1] > b[3] or b[1] > a[3]:
        return False
    return bool((one ^ other).area() > LEAST_OVERLAP)


def _middle(section: manifold3d.CrossSection) -> tuple[float, float]:
    """Return the centroid of an area, [mm]."""
    area = x = y = 0.0
    for ring in section.to_polygons():
        here, there = np.asarray(ring), np.roll(np.asarray(ring), -1, axis=0)
        cross = here[:, 0] * there[:, 1] - there[:, 0] * here[:, 1]
        area += float(cross.sum()) / 2
        x += float(((here[:, 0] + there[:, 0]) * cross).sum()) / 6
        y += float(((here[:, 1] + there[:, 1]) * cross).sum()) / 6
    return x / area, y / area


def _vec(row: np.ndarray) -> Vec:
    return float(row[0]), float(row[1]), float(row[2])
