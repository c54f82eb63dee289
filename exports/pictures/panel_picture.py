"""The finished panel as a picture (SVG): the body from its joint side, the cover lifted off towards the viewer.

With covers on both faces there are two views side by side: the front one is that of the panel turned about.

Faces are painted from the far side to the near one. For a plate cut from its joint face the order is simply
the height of each face's nearest point, since a nearer layer can only hide a farther one; the plate's rim comes
after all that lies inside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from exports.pictures.colours import Colour, part_colour
from exports.pictures.svg import FONT, attribute, number, text_at
from geom.frame import SAME_MM
from layouts.plan import Layer, Plan

if TYPE_CHECKING:
    import cadquery as cq
    import trimesh

    from exports.check_solids import Checked

WIDTH = 1100.0
"""Of the drawing, in picture units."""
PAIR_WIDTH = 760.0
"""Of each of two views."""
PAIR_GAP = 48.0
MARGIN = 26.0
SHARP_RAD = 0.6
"""Edges between faces that turn by more than this are drawn as lines."""
SHADES = 16
COARSE_MM = 0.2
COARSE_RAD = 0.45
LARGE_RAD = 0.7
LARGE_MM = 450.0
"""Of the meshes that are drawn: finer ones only make the file larger. From `LARGE_MM` on, a panel's bores are so small
on the picture that the larger turn is not seen."""
LINE = "#525e66"
"""Of sharp edges: ink that lets a little through."""
APART_MM = 40.0
"""How far the pieces of a split panel are pulled apart."""
PAPER = "#f4f2ec"
SOFT = "#66747e"

TO_VIEWER = (-0.24, 0.62, -1.0)
"""Direction to the viewer in the panel frame: behind the panel, above it, and to one side."""
LIGHT = (-0.25, 0.75, -0.9)


@dataclass(frozen=True, slots=True)
class _Camera:
    """Orthographic: unit vectors to the right, up, and to the viewer, in the panel frame."""

    right: np.ndarray
    up: np.ndarray
    viewer: np.ndarray

    def project(self, points: np.ndarray) -> np.ndarray:
        """Return (n, 3) points, [mm], as (n, 2) in mm on the picture, y down."""
        return np.column_stack((points @ self.right, -(points @ self.up)))


@dataclass(frozen=True, slots=True)
class _Patch:
    """Triangles of one face with one shade: loops and sharp lines on the picture, [mm].

    `outer`: they belong to the plate's rim. `near`, `far`: least and greatest z, for the order.
    """

    outer: bool
    near: float
    far: float
    colour: str
    opacity: float
    loops: tuple[np.ndarray, ...]
    lines: tuple[np.ndarray, ...]


def draw_panel(plan: Plan, checked: Checked) -> str:
    """Return the picture of the finished panel.

    Parameters
    ----------
    plan : Plan
    checked : Checked

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same solids.
    """
    camera = _look(TO_VIEWER)
    blanks = plan.detail.blanks
    if plan.printed is not None and plan.printed.split is not None:
        view = _pull_apart(plan, checked, camera)
        return _document(
            f"{plan.panel.name}: from the back, its pieces pulled apart, coolant inside", (view,)
        )
    if len(blanks) == 1:
        still = np.zeros(3)
        inside = _patches(_coarse(checked.solids.wet), (*part_colour("coolant")[:3], 1.0), camera, still)
        shell = _patches(
            _coarse(checked.solids.part(blanks[0].name)),
            (*part_colour(blanks[0].name)[:3], 0.30),
            camera,
            still,
        )
        return _document(f"{plan.panel.name}: from the back, coolant inside", (_View("", [*inside, *shell]),))
    if all(blank.z0 < blanks[0].z1 for blank in blanks):
        view = _open_side(plan, checked, camera, "back")
        return _document(f"{plan.panel.name}: from the joint side, cover lifted off", (view,))
    views = tuple(_open_side(plan, checked, camera, side) for side in ("back", "front"))
    return _document(f"{plan.panel.name}: from both joint sides, covers lifted off", views)


@dataclass(frozen=True, slots=True)
class _View:
    """One view: what stands under it, the body's patches, the ways of lifted corners, the cover's patches."""

    said: str
    body: list[_Patch]
    lifted: list[tuple[np.ndarray, np.ndarray]] = field(default_factory=list)
    covers: list[_Patch] = field(default_factory=list)


def _pull_apart(plan: Plan, checked: Checked, camera: _Camera) -> _View:
    """Return the view of both pieces of a split panel, away from each other, with the coolant in each."""
    from geom.build import make_solid
    from geom.features import Prism
    from geom.kernel import cut_shape

    solids, painted = checked.solids, []
    first, second = plan.detail.blanks
    sheets = [make_solid(blank.name, Prism((blank.loop,), blank.z0, blank.z1)) for blank in (first, second)]
    way = np.asarray(plan.printed.split.forward if plan.printed and plan.printed.split else (0.0, 0.0, 0.0))
    for blank, other, side in ((first, sheets[1], -1.0), (second, sheets[0], 1.0)):
        moved = way * side * APART_MM / 2
        wet = cut_shape(solids.wet, [other])
        # All coolant may be in one of the pieces.
        inside = (
            _patches(_coarse(wet), (*part_colour("coolant")[:3], 1.0), camera, moved) if wet.Solids() else []
        )
        colour = (*part_colour(blank.name)[:3], 0.30)
        shell = _patches(_coarse(solids.part(blank.name)), colour, camera, moved)
        painted.append((float(moved @ camera.viewer), [*inside, *shell]))
    # The piece farther from the viewer comes first.
    return _View("", [patch for _, patches in sorted(painted, key=lambda row: row[0]) for patch in patches])


def _coarse(shape: cq.Shape) -> trimesh.Trimesh:
    from geom.tessellate import mesh_solid

    box = shape.BoundingBox()
    large = max(box.xlen, box.ylen) >= LARGE_MM
    return mesh_solid(shape, COARSE_MM, LARGE_RAD if large else COARSE_RAD)


def _open_side(plan: Plan, checked: Checked, camera: _Camera, side: Layer) -> _View:
    """Return the view of the body from one of its joints, that side's cover lifted off; the other is left out."""
    from geom.build import make_solid
    from geom.features import Prism
    from geom.kernel import cut_shape

    first, *others = plan.detail.blanks
    solids, still = checked.solids, np.zeros(3)
    lids = [blank for blank in others if (blank.z0 < first.z1) == (side == "back")]

    def turned(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
        """Turn the panel about its upright axis where it is seen from the front: its front joint is then z = 0."""
        if side == "back":
            return mesh
        about = mesh.copy()
        about.vertices = np.asarray(mesh.vertices) * (-1, 1, -1) + (plan.panel.width, 0.0, first.z1)
        return about

    # A bore runs on through the cover: without the cover its coolant ends at the joint.
    sheets = [make_solid(blank.name, Prism((blank.loop,), blank.z0, blank.z1)) for blank in lids]
    wet = turned(_coarse(solids.wet))
    if wet.bounds[0][2] < -SAME_MM:
        wet = turned(_coarse(cut_shape(solids.wet, sheets)))
    solid = _patches(turned(_coarse(solids.part(first.name))), part_colour(first.name), camera, still)
    # The coolant's own face at the joint lies over the channels like a pane of glass.
    pane = _patches(wet, part_colour("coolant"), camera, still)
    coolant = [p for p in pane if p.far < SAME_MM and p.near > -SAME_MM]
    deep, joint = [p for p in solid if p.far >= SAME_MM], [p for p in solid if p.far < SAME_MM]
    lift = _lift(plan, camera)
    covers: list[_Patch] = []
    for blank in lids:
        colour = (*part_colour(blank.name)[:3], 1.0)
        covers += _patches(
            turned(_coarse(solids.part(blank.name))), colour, camera, np.array((0.0, 0.0, -lift))
        )
    said = f"{side} face, its cover lifted off"
    return _View(said, [*deep, *coolant, *joint], _corner_lines(plan, camera, lift), covers)


def _document(title: str, views: tuple[_View, ...]) -> str:
    most = WIDTH if len(views) == 1 else PAIR_WIDTH
    out: list[str] = []
    left = MARGIN
    tall = 0.0
    for view in views:
        drawing, width, height = _draw_view(view, most)
        out += [
            f'<g transform="translate({number(left)} {number(MARGIN + 34.0)}) scale(0.1)" '
            # What most paths have stands once: it was half of the file.
            f'fill="none" fill-rule="evenodd" stroke="{LINE}" stroke-width="6" stroke-linejoin="round">',
            *drawing,
            "</g>",
        ]
        tall = max(tall, height)
        if len(views) > 1:
            out.append(text_at(left, MARGIN + 34.0 + height + 24.0, view.said, 14.0, SOFT))
        left += width + (PAIR_GAP if view is not views[-1] else 0.0)
    wide, high = left + MARGIN, tall + 2 * MARGIN + (34.0 if len(views) == 1 else 58.0)
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(wide)}" height="{number(high)}" '
            f'viewBox="0 0 {number(wide)} {number(high)}" font-family={attribute(FONT)} role="img" '
            f"aria-label={attribute(title)}>",
            f'<rect width="100%" height="100%" fill="{PAPER}"/>',
            text_at(MARGIN, MARGIN + 8.0, title, 14.0, SOFT),
            *out,
            "</svg>",
            "",
        )
    )


def _draw_view(view: _View, most: float) -> tuple[list[str], float, float]:
    """Return a view's paths in tenths of a unit, and its width and height in units."""
    every = np.vstack([loop for patch in (*view.body, *view.covers) for loop in patch.loops])
    low, high = every.min(axis=0), every.max(axis=0)
    scale = min(most / (high[0] - low[0]), 0.9 * most / (high[1] - low[1]))

    def place(points: np.ndarray) -> str:
        # Tenths of a unit as whole steps from point to point: a third of the bytes of plain coordinates.
        tenths = np.round((points - low) * scale * 10.0).astype(int)
        steps = np.diff(tenths, axis=0)
        steps = steps[np.any(steps != 0, axis=1)]
        return f"M{tenths[0, 0]} {tenths[0, 1]}" + ("l" + _numbers(steps) if len(steps) else "")

    out = [piece for patch in view.body for piece in _draw_patch(patch, place)]
    for a, b in view.lifted:
        way = place(np.array((a, b)))
        out.append(f'<path d="{way}" stroke="{SOFT}" stroke-width="9" stroke-dasharray="70 50"/>')
    out += [piece for patch in view.covers for piece in _draw_patch(patch, place)]
    return out, float((high[0] - low[0]) * scale), float((high[1] - low[1]) * scale)


def _draw_patch(patch: _Patch, place: Callable[[np.ndarray], str]) -> list[str]:
    d = "".join(place(loop) + "z" for loop in patch.loops)
    # A thin stroke of the fill's own colour closes the hairlines between opaque patches.
    seam = patch.colour if patch.opacity >= 1.0 else "none"
    veil = f' fill-opacity="{number(patch.opacity)}"' if patch.opacity < 1.0 else ""
    out = [f'<path d="{d}" fill="{patch.colour}" stroke="{seam}"{veil}/>']
    if patch.lines:
        lines = "".join(place(line) for line in patch.lines)
        out.append(f'<path d="{lines}"/>')
    return out


def _numbers(steps: np.ndarray) -> str:
    text = " ".join(str(n) for n in steps.ravel().tolist())
    # A minus sign parts numbers as well as a space does.
    return text.replace(" -", "-")


def _look(to_viewer: tuple[float, float, float]) -> _Camera:
    viewer = np.array(to_viewer) / np.linalg.norm(to_viewer)
    right = np.cross((0.0, 1.0, 0.0), viewer)
    right /= np.linalg.norm(right)
    return _Camera(right, np.cross(viewer, right), viewer)


def _lift(plan: Plan, camera: _Camera) -> float:
    """Return how far a cover is lifted so that it does not hide the body, [mm]."""
    panel = plan.panel
    xs, ys, zs = (0.0, panel.width), (0.0, panel.height), (0.0, panel.make.body)
    corners = np.array([(x, y, z) for x in xs for y in ys for z in zs])
    tall = np.ptp(camera.project(corners)[:, 1])
    fall = abs(float(camera.up[2]))
    return 0.96 * float(tall) / fall


def _corner_lines(plan: Plan, camera: _Camera, lift: float) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return the ways of the cover's two lower corners from the body, on the picture, [mm]."""
    lines = []
    for x in (0.0, plan.panel.width):
        a, b = camera.project(np.array(((x, 0.0, 0.0), (x, 0.0, -lift))))
        lines.append((a, b))
    return lines


def _patches(mesh: trimesh.Trimesh, colour: Colour, camera: _Camera, offset: np.ndarray) -> list[_Patch]:
    """Return the faces of a mesh that look to the viewer, in painting order."""
    vertices = np.asarray(mesh.vertices) + offset
    flat = camera.project(vertices)
    on_rim = _lie_on_rim(vertices)
    triangles, normals = np.asarray(mesh.faces), np.asarray(mesh.face_normals)
    face_ids = np.asarray(mesh.metadata["face_id"])
    facing = normals @ camera.viewer > 1e-6
    light = np.array(LIGHT) / np.linalg.norm(LIGHT)
    shade = np.round((0.5 + 0.5 * np.clip(normals @ light, -1.0, 1.0)) * SHADES).astype(int)
    sharp = np.asarray(mesh.face_adjacency_angles) > SHARP_RAD
    sharp_edges = {tuple(sorted(edge)) for edge in np.asarray(mesh.face_adjacency_edges)[sharp].tolist()}
    key = face_ids.astype(np.int64) * (SHADES + 1) + shade
    order = np.flatnonzero(facing)
    order = order[np.argsort(key[order], kind="stable")]
    cuts = np.flatnonzero(np.diff(key[order])) + 1
    patches = []
    for group in np.split(order, cuts):
        if not len(group):
            continue
        rim = _rim(triangles[group])
        z = vertices[triangles[group]][:, :, 2]
        sharp_rim = [edge for edge in rim if tuple(sorted(edge)) in sharp_edges]
        patches.append(
            _Patch(
                bool(np.all(on_rim[triangles[group]])),
                float(z.min()),
                float(z.max()),
                _shaded(colour, int(shade[group[0]])),
                colour[3],
                tuple(flat[loop] for loop in _chain(rim)),
                tuple(flat[line] for line in _chain(sharp_rim, closed=False)),
            )
        )
    return sorted(patches, key=lambda p: (p.outer, -round(p.near, 4), -round(p.far, 4)))


def _lie_on_rim(vertices: np.ndarray) -> np.ndarray:
    """Return which vertices lie on the plate's outline, (n,) bool; a rounded corner's count too."""
    low, high = vertices[:, :2].min(axis=0), vertices[:, :2].max(axis=0)
    at_side = np.any((vertices[:, :2] < low + SAME_MM) | (vertices[:, :2] > high - SAME_MM), axis=1)
    # Where the straight rim ends, the corner begins: its radius is the least such distance.
    on_left = vertices[vertices[:, 0] < low[0] + SAME_MM, 1]
    radius = float(on_left.min() - low[1])
    centre, half = (low + high) / 2, (high - low) / 2
    beyond = np.abs(vertices[:, :2] - centre) - (half - radius)
    in_corner = np.all(beyond > -SAME_MM, axis=1)
    return at_side | (in_corner & (np.abs(np.linalg.norm(beyond, axis=1) - radius) < 1e-3))


def _rim(triangles: np.ndarray) -> list[tuple[int, int]]:
    """Return the directed edges that only one of the triangles has."""
    edges = np.vstack((triangles[:, :2], triangles[:, 1:], triangles[:, ::2][:, ::-1])).tolist()
    every = {(a, b) for a, b in edges}
    return [(a, b) for a, b in edges if (b, a) not in every]


def _chain(rim: list[tuple[int, int]], closed: bool = True) -> list[list[int]]:
    """Return edges as loops of vertices, or as open lines (a line that closes ends where it began)."""
    following: dict[int, list[int]] = {}
    reached = {b for _, b in rim}
    for a, b in rim:
        following.setdefault(a, []).append(b)
    # Lines begin where nothing leads; what is left then are rings.
    starts = [a for a, _ in rim if a not in reached] + [a for a, _ in rim]
    chains = []
    for start in starts:
        if not following.get(start):
            continue
        chain = [start]
        here = following[start].pop()
        while here != start and following.get(here):
            chain.append(here)
            here = following[here].pop()
        if not closed:
            chain.append(here)
        chains.append(chain)
    return chains


def _shaded(colour: Colour, shade: int) -> str:
    lit = 0.45 + 0.62 * math.pow(shade / SHADES, 1.2)
    return "#" + "".join(f"{min(255, round(255 * c * lit)):02x}" for c in colour[:3])
