"""Hollows of a part that liquid resin cannot leave: closed cavities, and cups that suck while it is printed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import manifold3d
import numpy as np
import shapely
import trimesh
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geom.frame import Vec, to_vec
from geom.printing.hollows import Cavity, Cup
from geom.printing.overhangs import plan_axes
from geom.tessellate import to_manifold

SLICE_MM = 1.0
"""Distance of the layers that are looked at; what vents a hollow is a bore, wider than that."""

LEAST_OVERLAP = 1e-3
"""Voids of two layers that share less than this are not one, [mm2]."""

ALIKE = 1.05
"""Up to this share voids of two layers are as wide as each other."""


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
            found.append(Cavity(to_vec(middle), -volume))
    return tuple(sorted(found, key=lambda cavity: (-cavity.volume, cavity.at)))


def find_cups(mesh: trimesh.Trimesh, up: Vec, least_area: float, least_depth: float) -> tuple[Cup, ...]:
    """Return the hollows that are shut off from the air while a part is printed, the widest first.

    A void of a layer is open to the air where it reaches the part's outside, or touches a void of the layer below
    that is open; with it are all that hang together there. The bed closes what lies on it, the film of the vat what
    is above: until a hollow has a way out through what is already printed, each peel draws a vacuum in it.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, [mm].
    up : (float, float, float)
        Unit vector of the layers' growth in the part's frame.
    least_area, least_depth : float
        Hollows that have not that area over that depth are passed over, [mm2], [mm].

    Returns
    -------
    tuple of Cup
    """
    grow = np.asarray(up) / np.linalg.norm(up)
    turn = np.vstack((plan_axes(grow).T, grow))
    solid = to_manifold(mesh).transform(np.column_stack((turn, np.zeros(3))))
    x0, y0, z0, x1, y1, z1 = solid.bounding_box()
    box = manifold3d.CrossSection.square((x1 - x0 + 2.0, y1 - y0 + 2.0)).translate((x0 - 1.0, y0 - 1.0))
    layers = max(2, math.ceil((z1 - z0) / SLICE_MM))
    step = (z1 - z0) / layers
    hollows: list[_Hollow] = []
    below: list[tuple[manifold3d.CrossSection, _Hollow]] = []
    for layer in range(layers):
        z = z0 + (layer + 0.5) * step
        voids = (box - solid.slice(z)).decompose()
        touched = [
            list(dict.fromkeys(known.root() for other, known in below if _meet(void, other)))
            for void in voids
        ]
        above: list[tuple[manifold3d.CrossSection, _Hollow]] = []
        for group in _group(touched):
            roots = list(dict.fromkeys(root for number in group for root in touched[number]))
            parts = [voids[number] for number in group]
            vented = any(void.bounds()[0] < x0 - 0.5 for void in parts) or any(root.vented for root in roots)
            hollow = _join(roots, z - step / 2, layer == 0, vented)
            if not vented:
                hollow.widest[layer] = max((void.area(), _middle(void), z) for void in parts)
            hollows.append(hollow)
            above += [(void, hollow) for void in parts]
        below = above
    thick = math.ceil(least_depth / step - 1e-9)
    cups = []
    for hollow in hollows:
        depth = (z1 if hollow.closed_until is None else hollow.closed_until) - hollow.start
        if hollow.vented or hollow.into is not None or not max(thick, 1) <= len(hollow.widest):
            continue
        area, at = _measure(hollow, max(thick, 1))
        if area >= least_area and depth >= least_depth:
            cups.append(Cup(to_vec(turn.T @ np.array(at)), area, depth, hollow.on_bed))
    return tuple(sorted(cups, key=lambda cup: (-cup.area, cup.at)))


@dataclass(slots=True, eq=False)
class _Hollow:
    """Voids of layers that hang together, as far as is printed: where they start, and their widest in each layer.

    `into` is the shut hollow that it grew together with; `closed_until` the height at which it found a way out.
    """

    start: float
    on_bed: bool
    vented: bool
    widest: dict[int, tuple[float, tuple[float, float], float]]
    into: _Hollow | None = None
    closed_until: float | None = None
    open_to: _Hollow | None = None

    def root(self) -> _Hollow:
        """Return the hollow that it is a part of by now."""
        hollow = self
        while (after := hollow.into or hollow.open_to) is not None:
            hollow = after
        return hollow


def _group(touched: list[list[_Hollow]]) -> list[list[int]]:
    """Return the voids of a layer by what hangs together through the hollows below them, in their order."""
    group_of = list(range(len(touched)))
    first: dict[_Hollow, int] = {}
    for number, roots in enumerate(touched):
        for root in roots:
            one, other = group_of[first.setdefault(root, number)], group_of[number]
            group_of = [min(one, other) if group in (one, other) else group for group in group_of]
    return [
        [number for number, group in enumerate(group_of) if group == each] for each in dict.fromkeys(group_of)
    ]


def _join(roots: list[_Hollow], bottom: float, on_bed: bool, vented: bool) -> _Hollow:
    """Return what the hollows that a layer's voids touch are from that layer on.

    Those that are shut end here where any of them, or a void of this layer, has a way out: what opens them is no part
    of them.
    """
    new = _Hollow(bottom, on_bed, vented, {})
    for root in roots:
        if vented:
            root.open_to = new
            if not root.vented:
                root.closed_until = bottom
            continue
        root.into = new
        new.start, new.on_bed = min(new.start, root.start), new.on_bed or root.on_bed
        for layer, void in root.widest.items():
            new.widest[layer] = max(void, new.widest.get(layer, void))
    return new


def _measure(hollow: _Hollow, thick: int) -> tuple[float, Vec]:
    """Return the area that a hollow has over so many layers, and the middle of the deepest void as wide as that."""
    area = sorted((void[0] for void in hollow.widest.values()), reverse=True)[thick - 1]
    layer = min(layer for layer, void in hollow.widest.items() if area / ALIKE <= void[0] <= area * ALIKE)
    _, (x, y), z = hollow.widest[layer]
    return area, (x, y, z)


def _meet(one: manifold3d.CrossSection, other: manifold3d.CrossSection) -> bool:
    a, b = one.bounds(), other.bounds()
    if a[0] > b[2] or b[0] > a[2] or a[1] > b[3] or b[1] > a[3]:
        return False
    return bool((one ^ other).area() > LEAST_OVERLAP)


def _middle(section: manifold3d.CrossSection) -> tuple[float, float]:
    """Return the centroid of an area, or a point inside where it lies outside, [mm]."""
    rings = [ring for ring in map(shapely.Polygon, section.to_polygons()) if ring.area > 0]
    # The outer ring holds all others.
    outer = max(rings, key=lambda ring: ring.area)
    area = outer.difference(shapely.union_all([ring for ring in rings if ring is not outer]))
    middle = area.centroid if area.contains(area.centroid) else area.representative_point()
    return middle.x, middle.y
