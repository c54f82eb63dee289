"""The panel with its tubes from three sides, to one scale: front, right side beside it, top above it (third angle)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from exports.pictures.labels import LabelRequest, Rect, place_labels
from exports.pictures.plan_symbols import FINE, INK, SHEET, SOFT
from exports.pictures.setup_symbols import TAG_TEXT, draw_number_tag, tag_size
from exports.pictures.svg import guess_width, number, text_at
from exports.wording.tube_words import marks_of, number_of, show_cut
from geom.frame import Face, Vec, to_vec
from geom.outline import Point
from geom.standards import tables
from layouts.place import pump_reach
from layouts.plan import PlacedPort, Plan
from layouts.tubes.centreline import trace_chords
from layouts.tubes.ends import leave_face
from layouts.tubes.obstacles import panel_box
from layouts.tubes.values import TubeRun

VIEW_WIDTH, VIEW_HEIGHT = 1060.0, 760.0
"""Most room of all views together, in picture units."""

BETWEEN = 46.0
"""Between two views, with a view's name in it."""

AROUND = 34.0
"""Round what a view shows: tags stand there."""

TUBE = "#e9f1f5"
TICK = 2.5
"""Fill of a tube; how far the mark of a bend's start reaches past it, in picture units."""

SHORE_STEP = 5.0
"""Between the points of tubes that tags keep off, in picture units."""

NAME_SIZE = 12.0


@dataclass(frozen=True, slots=True)
class _Side:
    """A side that the panel is seen from: across and down of a point of the panel frame, [mm], and how near it is."""

    name: str
    flat: Callable[[Vec], Point]
    near: Callable[[Vec], float]
    face: Face


FRONT = _Side("from the front", lambda p: (p[0], -p[1]), lambda p: p[2], "front")
RIGHT = _Side("from the right", lambda p: (-p[2], -p[1]), lambda p: p[0], "right")
TOP = _Side("from above", lambda p: (p[0], p[2]), lambda p: p[1], "top")


def draw_views(plan: Plan) -> tuple[list[str], Rect]:
    """Return the three views and what they cover, in picture units.

    Parameters
    ----------
    plan : Plan
        With tubes.
    """
    points = _all_points(plan)
    low, high = points.min(axis=0), points.max(axis=0)
    wide, tall, deep = (float(c) for c in high - low)
    rooms = 4 * AROUND + BETWEEN
    scale = min((VIEW_WIDTH - rooms) / (wide + deep), (VIEW_HEIGHT - rooms) / (tall + deep))
    corners = [to_vec(low), to_vec(high)]
    drawing: list[str] = []
    left, top = 0.0, 0.0
    below = deep * scale + 2 * AROUND + BETWEEN
    beside = wide * scale + 2 * AROUND + BETWEEN
    for side, x, y in ((TOP, left, top), (FRONT, left, below), (RIGHT, beside, below)):
        seen, _ = _draw_side(plan, side, corners, scale)
        drawing += [f'<g transform="translate({number(x)} {number(y)})">', *seen, "</g>"]
    bar = _draw_bar(scale, beside, below - BETWEEN - 8.0)
    right = beside + deep * scale + 2 * AROUND
    bottom = below + tall * scale + 2 * AROUND
    return [*drawing, *bar], (0.0, -NAME_SIZE - 14.0, max(right, beside + 160.0), bottom)


def _draw_side(plan: Plan, side: _Side, corners: list[Vec], scale: float) -> tuple[list[str], Rect]:
    """Return one view, its upper left corner at the origin, and what it covers."""
    flats = [side.flat(corner) for corner in corners]
    x0, y0 = min(x for x, _ in flats), min(y for _, y in flats)
    x1, y1 = max(x for x, _ in flats), max(y for _, y in flats)

    def to(point: Vec) -> Point:
        x, y = side.flat(point)
        return (x - x0) * scale + AROUND, (y - y0) * scale + AROUND

    within = (0.0, 0.0, (x1 - x0) * scale + 2 * AROUND, (y1 - y0) * scale + 2 * AROUND)
    panel, taken, shore = _draw_panel(plan, side, to, scale)
    out = [text_at(AROUND, -6.0, side.name, NAME_SIZE, SOFT)]
    tubes = [tube for tube in plan.tubes if tube.points]
    chains = {tube.name: _chords(tube) for tube in tubes}
    near = {tube.name: max(side.near(p) for p in chains[tube.name]) for tube in tubes}
    far_side = min(side.near(corner) for corner in panel_box(plan.panel))
    # What is nearer to the viewer is drawn over what is farther off; through the panel it still shows.
    tubes_in_order = sorted(tubes, key=lambda tube: near[tube.name])
    behind = [tube for tube in tubes_in_order if near[tube.name] < far_side]
    for tube in behind:
        out += _draw_tube(plan, tube, chains[tube.name], to, scale)
    out += panel
    for tube in tubes_in_order:
        if tube not in behind:
            out += _draw_tube(plan, tube, chains[tube.name], to, scale)
    for chain in chains.values():
        shore += _along([to(point) for point in chain])
    wanted = [_tag(tube, side, chains[tube.name], to) for tube in tubes]
    outer = 0.0 if plan.panel.tubing is None else plan.panel.tubing.outer * scale / 2
    requests = tuple(LabelRequest(at, tag_size(said), outer + 4.0) for said, at in wanted)
    placed = place_labels(requests, tuple(taken), tuple(shore), within)
    for (said, at), label in zip(wanted, placed, strict=True):
        out += draw_number_tag(said, label.box, at)
    return out, within


def _draw_panel(
    plan: Plan, side: _Side, to: Callable[[Vec], Point], scale: float
) -> tuple[list[str], list[Rect], list[Point]]:
    """Return the panel, its ports and pump as a side shows them, with what tags keep off: boxes and points."""
    low, high = panel_box(plan.panel)
    (ax, ay), (bx, by) = to(low), to(high)
    x, y, width, height = min(ax, bx), min(ay, by), abs(bx - ax), abs(by - ay)
    radius = plan.panel.corner_radius * scale if side is FRONT else 0.0
    out = [
        f'<rect x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}" '
        f'rx="{number(radius)}" fill="{SHEET}" fill-opacity="0.8" stroke="{INK}" stroke-width="1.4"/>'
    ]
    box = [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)]
    shore, taken = _along(box), []
    joined = {tube.port for tube in plan.tubes}
    for port in plan.routed.ports:
        if port.on != side.face:
            out += _draw_fitting(plan, port, to, scale) if port.name in joined else []
            continue
        (px, py), r = to(port.at), tables.thread(port.thread).collar / 2 * scale
        ink = INK if port.name in joined else FINE
        out.append(
            f'<circle cx="{number(px)}" cy="{number(py)}" r="{number(r)}" fill="none" stroke="{ink}" stroke-width="1"/>'
        )
        taken.append((px - r, py - r, px + r, py + r))
    if side.face == plan.panel.pump.on:
        px, py = to((*plan.routed.pump.inlet, high[2]))
        r = pump_reach(plan.panel) * scale
        out.append(
            f'<circle cx="{number(px)}" cy="{number(py)}" r="{number(r)}" fill="none" stroke="{FINE}" '
            f'stroke-width="1"/>'
        )
        out.append(text_at(px, py + 4.0, "pump", NAME_SIZE, SOFT, 'text-anchor="middle"'))
        half = guess_width("pump", NAME_SIZE) / 2
        taken.append((px - half, py - 8.0, px + half, py + 8.0))
    return out, taken, shore


def _draw_fitting(plan: Plan, port: PlacedPort, to: Callable[[Vec], Point], scale: float) -> list[str]:
    """Return a fitting from beside: as wide as its collar, as long as the tube is inserted; none from its ends."""
    tubing = plan.panel.tubing
    assert tubing is not None
    mouth, out = np.array(port.at), np.array(leave_face(port.on))
    (ax, ay), (bx, by) = to(port.at), to(to_vec(mouth + (tubing.stop + tubing.insertion) * out))
    if float(np.hypot(bx - ax, by - ay)) < 0.5:
        return []
    half = tables.thread(port.thread).collar / 2 * scale
    # Fittings stand square to a face: one of both lengths is along an axis of the view.
    grow = (half, 0.0) if abs(bx - ax) < abs(by - ay) else (0.0, half)
    x0, x1 = min(ax, bx) - grow[0], max(ax, bx) + grow[0]
    y0, y1 = min(ay, by) - grow[1], max(ay, by) + grow[1]
    return [
        f'<rect x="{number(x0)}" y="{number(y0)}" width="{number(x1 - x0)}" height="{number(y1 - y0)}" '
        f'fill="{SHEET}" stroke="{SOFT}" stroke-width="1"/>'
    ]


def _draw_tube(
    plan: Plan, tube: TubeRun, chain: list[Vec], to: Callable[[Vec], Point], scale: float
) -> list[str]:
    """Return a tube as wide as it is, a tick at each bend's start, and its end in the part's port."""
    tubing = plan.panel.tubing
    assert tubing is not None
    flat = [to(point) for point in chain]
    path = f"M{'L'.join(f'{number(x)} {number(y)}' for x, y in flat)}"
    wide = max(tubing.outer * scale, 3.0)
    out = []
    for (x, y), end in zip((flat[0], flat[-1]), chain[:: len(chain) - 1], strict=True):
        # Seen from its end a tube is a circle.
        if _ends_on(chain, end, to):
            out.append(_disc(x, y, wide / 2))
    out += [
        f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="{number(wide)}" stroke-linejoin="round"/>',
        f'<path d="{path}" fill="none" stroke="{TUBE}" stroke-width="{number(wide - 2.0)}" stroke-linejoin="round"/>',
    ]
    for at, way in _bend_starts(tube):
        (x, y), (u, v) = to(at), to(to_vec(np.array(at) + np.array(way)))
        dx, dy = u - x, v - y
        length = float(np.hypot(dx, dy))
        if length < 0.05 * scale:
            continue
        half = wide / 2 + TICK
        nx, ny = -dy / length * half, dx / length * half
        out.append(
            f'<path d="M{number(x - nx)} {number(y - ny)}L{number(x + nx)} {number(y + ny)}" stroke="{INK}" '
            'stroke-width="1.6"/>'
        )
    x, y = flat[-1]
    out.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(0.28 * wide)}" fill="{INK}"/>')
    return out


def _disc(x: float, y: float, r: float) -> str:
    return (
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r - 0.5)}" fill="{TUBE}" stroke="{INK}" '
        'stroke-width="1"/>'
    )


def _ends_on(chain: list[Vec], end: Vec, to: Callable[[Vec], Point]) -> bool:
    """Return whether a tube's end points at the viewer, or away."""
    other = chain[1] if end == chain[0] else chain[-2]
    return float(np.hypot(*np.subtract(to(end), to(other)))) < 0.5


def _bend_starts(tube: TubeRun) -> list[tuple[Vec, Vec]]:
    """Return where each bend starts, with the way along the tube there, a unit vector."""
    found = []
    line = np.array(tube.points)
    for k, mark in enumerate(marks_of(tube), 1):
        along = line[k] - line[k - 1]
        along = along / np.linalg.norm(along)
        setback = tube.bend_radius * float(np.tan(np.radians(mark.angle_deg) / 2))
        found.append((to_vec(line[k] - setback * along), to_vec(along)))
    return found


def _tag(tube: TubeRun, side: _Side, chain: list[Vec], to: Callable[[Vec], Point]) -> tuple[str, Point]:
    """Return what a tube's tag says on a side, and where it belongs: the middle of its longest straight."""
    said = f"{number_of(tube)} · {show_cut(tube.length)}" if side is FRONT else number_of(tube)
    flat = [to(point) for point in chain]
    pieces = list(pairwise(flat))
    (ax, ay), (bx, by) = max(pieces, key=lambda piece: round(float(np.hypot(*np.subtract(*piece))), 3))
    return said, ((ax + bx) / 2, (ay + by) / 2)


def _draw_bar(scale: float, x: float, y: float) -> list[str]:
    """Return a bar of 50 mm."""
    long = 50.0 * scale
    return [
        f'<path d="M{number(x)} {number(y)}v-6v3h{number(long)}v-3v6" fill="none" stroke="{INK}" stroke-width="1.2"/>',
        text_at(x + long + 8.0, y + 1.0, "50 mm", TAG_TEXT, INK),
    ]


def _along(path: list[Point]) -> list[Point]:
    """Return points along a polyline, `SHORE_STEP` apart or closer."""
    out = []
    for (ax, ay), (bx, by) in pairwise(path):
        steps = max(1, int(np.ceil(np.hypot(bx - ax, by - ay) / SHORE_STEP)))
        out += [(ax + (bx - ax) * k / steps, ay + (by - ay) * k / steps) for k in range(steps + 1)]
    return out


def _chords(tube: TubeRun) -> list[Vec]:
    return [to_vec(point) for point in trace_chords(np.array(tube.points)[None], tube.bend_radius)[0]]


def _all_points(plan: Plan) -> np.ndarray:
    """Return every point that is drawn, half a tube round each, (n, 3) float, [mm]."""
    tubing = plan.panel.tubing
    half = 0.0 if tubing is None else tubing.outer / 2
    fitting = 0.0 if tubing is None else tubing.stop + tubing.insertion
    joined = {tube.port for tube in plan.tubes}
    points = [*panel_box(plan.panel)]
    for tube in plan.tubes:
        points += [] if not tube.points else _chords(tube)
    for port in plan.routed.ports:
        if port.name in joined:
            points.append(to_vec(np.array(port.at) + fitting * np.array(leave_face(port.on))))
    grown = np.array(points)
    return np.concatenate([grown - half, grown + half])
