"""The finished panel as a picture (SVG): the body from its joint side, the cover lifted off towards the viewer.

Faces are painted from the far side to the near one. For a plate cut from its joint face the order is simply
the height of each face's nearest point, since a nearer layer can only hide a farther one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from exports.colours import Colour, part_colour
from exports.svg import FONT, attribute, number, text_at
from geom.frame import SAME_MM
from layouts.plan import Plan

if TYPE_CHECKING:
    import trimesh

    from exports.pipeline import Checked

WIDTH = 1100.0
"""Of the drawing, in picture units."""
MARGIN = 26.0
SHARP_RAD = 0.45
"""Edges between faces that turn by more than this are drawn as lines."""
SHADES = 24
PAPER = "#f4f2ec"
INK = "#22303a"
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
    """Triangles of one face with one shade: its loops and sharp edges on the picture, [mm], and its order."""

    near: float
    far: float
    colour: str
    opacity: float
    loops: tuple[np.ndarray, ...]
    edges: np.ndarray


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
    body, pane = part_colour(blanks[0].name), part_colour("coolant")
    still = np.zeros(3)
    if len(blanks) == 1:
        inside = _patches(checked.wet_mesh, (*pane[:3], 1.0), camera, still)
        shell = _patches(checked.meshes[blanks[0].name], (*body[:3], 0.30), camera, still)
        return _document(plan, [*inside, *shell], [], [])
    solid = _patches(checked.meshes[blanks[0].name], body, camera, still)
    # The coolant's own face at the joint lies over the channels like a pane of glass.
    coolant = [
        p for p in _patches(checked.wet_mesh, pane, camera, still) if p.far < SAME_MM and p.near > -SAME_MM
    ]
    deep, joint = [p for p in solid if p.far >= SAME_MM], [p for p in solid if p.far < SAME_MM]
    lift = _lift(plan, camera)
    covers: list[_Patch] = []
    for blank in blanks[1:]:
        # A front cover lies behind the body as it is seen here.
        if blank.z0 < 0.0:
            colour = (*part_colour(blank.name)[:3], 1.0)
            covers += _patches(checked.meshes[blank.name], colour, camera, np.array((0.0, 0.0, -lift)))
    return _document(plan, [*deep, *coolant, *joint], _corner_lines(plan, camera, lift), covers)


def _document(
    plan: Plan, body: list[_Patch], lifted: list[tuple[np.ndarray, np.ndarray]], covers: list[_Patch]
) -> str:
    every = np.vstack([loop for patch in (*body, *covers) for loop in patch.loops])
    low, high = every.min(axis=0), every.max(axis=0)
    scale = min(WIDTH / (high[0] - low[0]), 0.9 * WIDTH / (high[1] - low[1]))

    def place(points: np.ndarray) -> list[str]:
        return [f"{number(x)} {number(y)}" for x, y in np.round((points - low) * scale, 1).tolist()]

    out = [piece for patch in body for piece in _draw_patch(patch, place)]
    for a, b in lifted:
        start, end = place(np.array((a, b)))
        out.append(f'<path d="M{start}L{end}" stroke="{SOFT}" stroke-width="0.9" stroke-dasharray="7 5"/>')
    out += [piece for patch in covers for piece in _draw_patch(patch, place)]
    width = float((high[0] - low[0]) * scale) + 2 * MARGIN
    height = float((high[1] - low[1]) * scale) + 2 * MARGIN + 34.0
    said = "from the back, coolant inside" if not covers else "from the joint side, cover lifted off"
    title = f"{plan.panel.name}: {said}"
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" height="{number(height)}" '
            f'viewBox="0 0 {number(width)} {number(height)}" font-family={attribute(FONT)} role="img" '
            f"aria-label={attribute(title)}>",
            f'<rect width="100%" height="100%" fill="{PAPER}"/>',
            text_at(MARGIN, MARGIN + 8.0, title, 14.0, SOFT),
            f'<g transform="translate({number(MARGIN)} {number(MARGIN + 34.0)})" stroke-linejoin="round">',
            *out,
            "</g>",
            "</svg>",
            "",
        )
    )


def _draw_patch(patch: _Patch, place: Callable[[np.ndarray], list[str]]) -> list[str]:
    d = "".join("M" + "L".join(place(loop)) + "Z" for loop in patch.loops)
    # A thin stroke of the fill's own colour closes the hairlines between opaque patches.
    seam = f' stroke="{patch.colour}" stroke-width="0.5"' if patch.opacity >= 1.0 else ""
    veil = f' fill-opacity="{number(patch.opacity)}"' if patch.opacity < 1.0 else ""
    out = [f'<path d="{d}" fill="{patch.colour}" fill-rule="evenodd"{veil}{seam}/>']
    if len(patch.edges):
        ends = place(patch.edges.reshape(-1, 2))
        lines = "".join(f"M{a}L{b}" for a, b in zip(ends[::2], ends[1::2], strict=True))
        out.append(f'<path d="{lines}" stroke="{INK}" stroke-width="0.7" stroke-opacity="0.75"/>')
    return out


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
        edges = [edge for edge in rim if tuple(sorted(edge)) in sharp_edges]
        patches.append(
            _Patch(
                float(z.min()),
                float(z.max()),
                _shaded(colour, int(shade[group[0]])),
                colour[3],
                tuple(flat[loop] for loop in _chain(rim)),
                flat[np.array(edges, dtype=np.int64).reshape(-1, 2)].reshape(-1, 2, 2),
            )
        )
    return sorted(patches, key=lambda p: (-round(p.near, 4), -round(p.far, 4)))


def _rim(triangles: np.ndarray) -> list[tuple[int, int]]:
    """Return the directed edges that only one of the triangles has."""
    edges = np.vstack((triangles[:, :2], triangles[:, 1:], triangles[:, ::2][:, ::-1])).tolist()
    every = {(a, b) for a, b in edges}
    return [(a, b) for a, b in edges if (b, a) not in every]


def _chain(rim: list[tuple[int, int]]) -> list[list[int]]:
    """Return the rim as closed loops of vertices."""
    following: dict[int, list[int]] = {}
    for a, b in rim:
        following.setdefault(a, []).append(b)
    loops = []
    for start in [a for a, _ in rim]:
        if not following.get(start):
            continue
        loop = [start]
        here = following[start].pop()
        while here != start and following.get(here):
            loop.append(here)
            here = following[here].pop()
        loops.append(loop)
    return loops


def _shaded(colour: Colour, shade: int) -> str:
    lit = 0.45 + 0.62 * math.pow(shade / SHADES, 1.2)
    return "#" + "".join(f"{min(255, round(255 * c * lit)):02x}" for c in colour[:3])
