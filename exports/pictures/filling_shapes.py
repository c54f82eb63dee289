"""The panel in the pictures of filling: turned so that up is up, its wet outlines, and voxels as areas.

All is drawn once, in tenths of a millimetre, and used again in every small picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from exports.pictures.svg import View
from geom.features import Cylinder, Prism, Track, Vault
from geom.outline import Line, Loop, Point, Region, outline_circle
from geom.wet.voxels import WetVoxels
from layouts.detail import name_port
from layouts.installed import lies_flat
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import Layer, Plan

PER_MM = 10.0
"""Units of the shared drawing a millimetre."""

SMOOTH = 1.0
"""Farthest that the edge of an area may lie beside that of its voxels, in their sides: stairs become lines."""

PARTLY, FULLY = 0.1, 0.9
"""Share of a column of voxels from which on it is drawn as partly, and as wholly filled."""

BEYOND = 2
"""Voxels by which areas are drawn out over the shore, where the exact outline cuts them off."""


@dataclass(frozen=True, slots=True)
class TurnedView(View):
    """A view turned in the picture's plane, so that what is up when installed is up.

    Parameters
    ----------
    cosine, sine : float
        Of the turn, counter-clockwise.
    left : float
        The least x once turned, [mm].
    """

    cosine: float = 1.0
    sine: float = 0.0
    left: float = 0.0

    def to(self, p: Point) -> Point:
        """Return a point of the panel in picture units."""
        x = self.cosine * p[0] - self.sine * p[1] - self.left
        y = self.sine * p[0] + self.cosine * p[1]
        return (x * self.scale, (self.height - y) * self.scale)

    def along(self, d: Point) -> Point:
        """Return a direction of the panel as one of the picture, y down."""
        return (self.cosine * d[0] - self.sine * d[1], -self.sine * d[0] - self.cosine * d[1])


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Voxels of one layer in columns along the panel's normal.

    Parameters
    ----------
    which : numpy.ndarray
        (m,) int: the voxels.
    number : numpy.ndarray
        (m,) int: the column of each.
    whole : numpy.ndarray
        (columns,) int: how many voxels each holds.
    shape : (int, int)
        Columns along x and y.
    spacing : float
        Side of a voxel, [mm].
    corner : (float, float)
        Of the columns with `BEYOND` more all round, [mm].
    """

    which: np.ndarray
    number: np.ndarray
    whole: np.ndarray
    shape: tuple[int, int]
    spacing: float
    corner: Point


def turn_view(panel: Panel, scale: float) -> tuple[TurnedView, float, float]:
    """Return the view in which up is up, and the width and height that the panel takes in it, [mm].

    Parameters
    ----------
    panel : Panel
    scale : float
        Picture units a millimetre.
    """
    across = math.hypot(panel.up[0], panel.up[1])
    cosine, sine = (1.0, 0.0) if lies_flat(panel) else (panel.up[1] / across, panel.up[0] / across)
    corners = [(x, y) for x in (0.0, panel.width) for y in (0.0, panel.height)]
    xs = [cosine * x - sine * y for x, y in corners]
    ys = [sine * x + cosine * y for x, y in corners]
    left, top = min(xs), max(ys)
    return TurnedView(scale, top, cosine, sine, left), max(xs) - left, top - min(ys)


def layer_of_features(plan: Plan) -> dict[str, Layer]:
    """Return the layer of channels that each wet feature belongs to; through holes, which join both, are left out.

    Parameters
    ----------
    plan : Plan
    """
    panel, routed = plan.panel, plan.routed
    layers: dict[str, Layer] = {name_port(port): port.layer for port in routed.ports}
    layers |= {f"{PUMP_INLET} bore": "back", f"{PUMP_OUTLET} bore": routed.pump.outlet_layer}
    for feature in plan.detail.features:
        shape = feature.shape
        if feature.medium == "wet" and isinstance(shape, Prism | Vault):
            front = panel.channel.layers == 2 and shape.z0 + shape.z1 > panel.make.body
            layers[feature.name] = "front" if front else "back"
    return layers


def outline_wet(plan: Plan, layer: Layer) -> Region:
    """Return the outlines in plan of what is wet in a layer: channels, tank, bores.

    Parameters
    ----------
    plan : Plan
    layer : {"back", "front"}
    """
    layers = layer_of_features(plan)
    loops: list[Loop] = []
    for feature in plan.detail.features:
        shape = feature.shape
        if feature.medium != "wet" or layers.get(feature.name, layer) != layer:
            continue
        if isinstance(shape, Cylinder):
            loops.append(_outline_bore(shape))
        elif not isinstance(shape, Track):
            loops += shape.region
    return tuple(loops)


def layer_of_voxels(plan: Plan, voxels: WetVoxels) -> np.ndarray:
    """Return which voxels belong to the front layer, (n,) bool; those of a through hole by their height.

    Parameters
    ----------
    plan : Plan
    voxels : WetVoxels
    """
    layers = layer_of_features(plan)
    z = voxels.origin[2] + (voxels.cells[:, 2] + 0.5) * voxels.spacing
    front = np.array([layers.get(name) == "front" for name in voxels.names])[voxels.owner]
    hole = np.array([name not in layers for name in voxels.names])[voxels.owner]
    two = plan.panel.channel.layers == 2
    return np.where(hole, (z > plan.panel.make.body / 2) & two, front)


def _outline_bore(bore: Cylinder) -> Loop:
    (x, y, _), (dx, dy, dz) = bore.mouth, bore.direction
    if abs(dz) > 0.5:
        return outline_circle((x, y), bore.radius)
    r, tip = bore.radius, (x + dx * bore.length, y + dy * bore.length)
    corners = (
        (x + dy * r, y - dx * r),
        (tip[0] + dy * r, tip[1] - dx * r),
        (tip[0] - dy * r, tip[1] + dx * r),
        (x - dy * r, y + dx * r),
    )
    return tuple(Line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))


def stack_columns(voxels: WetVoxels, mine: np.ndarray) -> Columns:
    """Return some voxels in columns along the panel's normal.

    Parameters
    ----------
    voxels : WetVoxels
    mine : numpy.ndarray
        (n,) bool: those that are looked at.
    """
    which = np.flatnonzero(mine)
    number = voxels.cells[which, 0] * voxels.shape[1] + voxels.cells[which, 1]
    shape = (voxels.shape[0], voxels.shape[1])
    whole = np.bincount(number, minlength=shape[0] * shape[1])
    corner = (voxels.origin[0] - BEYOND * voxels.spacing, voxels.origin[1] - BEYOND * voxels.spacing)
    return Columns(which, number, whole, shape, voxels.spacing, corner)


def filled_areas(columns: Columns, wet: np.ndarray, share: float, view: View) -> str:
    """Return the path data of where voxels are filled, seen along the panel's normal.

    Parameters
    ----------
    columns : Columns
    wet : numpy.ndarray
        (n,) bool: those voxels that are filled.
    share : float
        Of a column's voxels, from which on it is filled, [-].
    view : View

    Returns
    -------
    str
        Empty where nothing is.
    """
    held = np.bincount(columns.number[wet[columns.which]], minlength=len(columns.whole))
    flat = (held >= share * columns.whole) & (held > 0)
    mask, dry = flat.reshape(columns.shape), (columns.whole == 0).reshape(columns.shape)
    rings = _trace(_spread(mask, dry), columns.spacing)
    return "".join(_ring_path(ring + np.asarray(columns.corner), view) for ring in rings)


def _spread(mask: np.ndarray, dry: np.ndarray) -> np.ndarray:
    """Return a mask with a rim of `BEYOND` more cells, spread by as many cells over what holds no voxel."""
    mask, dry = np.pad(mask, BEYOND), np.pad(dry, BEYOND, constant_values=True)
    for _ in range(BEYOND):
        wide = np.pad(mask, 1)
        near = np.zeros_like(mask)
        for i in (0, 1, 2):
            for j in (0, 1, 2):
                near |= wide[i : i + mask.shape[0], j : j + mask.shape[1]]
        mask = mask | (near & dry)
    return mask


def _trace(mask: np.ndarray, spacing: float) -> list[np.ndarray]:
    """Return the outlines of a mask's cells as rings, [mm], their stairs smoothed."""
    edges = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    rows, starts = np.nonzero(edges == 1)
    _, ends = np.nonzero(edges == -1)
    if not len(rows):
        return []
    # Runs alike in rows one after the other are one box: far fewer are to be united.
    order = np.lexsort((rows, ends, starts))
    rows, starts, ends = rows[order], starts[order], ends[order]
    first = np.append(True, (np.diff(rows) != 1) | (np.diff(starts) != 0) | (np.diff(ends) != 0))
    last = np.append(first[1:], True)
    boxes = shapely.box(rows[first], starts[first], rows[last] + 1.0, ends[first])
    whole = shapely.simplify(shapely.union_all(boxes), SMOOTH)
    rings: list[np.ndarray] = []
    for piece in shapely.get_parts(whole):
        rings += [np.asarray(ring.coords)[:-1] * spacing for ring in (piece.exterior, *piece.interiors)]
    return rings


def _ring_path(ring: np.ndarray, view: View) -> str:
    """Return a ring as path data in whole units, each point from the one before."""
    units = np.rint([view.to((x, y)) for x, y in ring.tolist()]).astype(int)
    steps = np.diff(units, axis=0)
    steps = steps[np.any(steps != 0, axis=1)]
    return f"M{units[0, 0]} {units[0, 1]}l" + " ".join(f"{dx} {dy}" for dx, dy in steps.tolist()) + "z"
