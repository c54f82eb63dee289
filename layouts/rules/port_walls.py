"""Design rule of the walls round a port's thread: to faces and edges, grooves, holes and other coolant.

The bores themselves are measured on the exact solids; a thread is cut wider than its bore, and that part is
measured here, on the plan's features.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geom.features import Cylinder, Detail, Feature
from geom.findings import Finding
from geom.frame import EDGES, INTO, SAME_MM
from geom.standards import tables
from geom.standards.tables import Thread
from layouts.detail import cast_shadow
from layouts.faces import joints_of
from layouts.outlines import sheet_outline
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.rules.findings import make_finding
from layouts.rules.port_rules import thread_room

THREAD_HEIGHT = 0.640327
"""Height of a pipe thread over its pitch, ISO 228-1."""

STEP = 0.2
"""Outlines past a thread's end are measured at places this far apart, [mm]."""

ROUND = 64
"""Chords to a quarter of a round hole."""


@dataclass(frozen=True, slots=True)
class ThreadCut:
    """A port's internal thread as it is cut: a cylinder along a face's inward normal, [mm].

    Parameters
    ----------
    port : PlacedPort
    thread : Thread
    axis : ((float, float), (float, float))
        Mouth and end in plan.
    z : (float, float)
        Of the axis, mouth and end in order of height.
    sheet : (float, float)
        z between which the sheet that holds it lies.
    """

    port: PlacedPort
    thread: Thread
    axis: tuple[tuple[float, float], tuple[float, float]]
    z: tuple[float, float]
    sheet: tuple[float, float]

    @property
    def radius(self) -> float:
        """To the root of the internal thread, [mm]."""
        return self.thread.major / 2


Standing = tuple[Feature, shapely.Geometry, float, float]
"""A feature, its outline in plan, and the z between which it stands, [mm]."""


def check_port_walls(panel: Panel, routed: Routed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether enough solid stands round each port's thread (`port.wall`).

    Ports with the same thread beside the same kind of thing are named in one finding.
    """
    groups: dict[tuple[str, str], list[tuple[float, str, PlacedPort]]] = {}
    cured: dict[tuple[str, str], bool] = {}
    standing = _outline_features(detail)
    for port in routed.ports:
        thread = tables.thread(port.thread)
        thin = find_thin(panel, standing, cut_thread(panel, routed, port, thread.full_thread))
        if not thin:
            continue
        short = cut_thread(panel, routed, port, thread.short_thread + thread.pitch)
        left = find_thin(panel, standing, short)
        for kind, (wall, what) in thin.items():
            key = (port.thread, kind)
            groups.setdefault(key, []).append((wall, what, port))
            cured[key] = cured.get(key, True) and kind not in left
    return tuple(_tell_walls(panel, key[0], rows, cured[key]) for key, rows in groups.items())


def _tell_walls(panel: Panel, name: str, rows: list[tuple[float, str, PlacedPort]], shorter: bool) -> Finding:
    """Return the finding of ports with too thin a wall; `shorter`: a shorter thread cures them all."""
    thread = tables.thread(name)
    limit = max(panel.rules.least_wall, thread.pitch)
    wall, what, worst = min(rows, key=lambda row: row[0])
    shown = max(wall, 0.0)
    others = [f'"{port.name}"' for _, _, port in rows if port is not worst]
    cures = ["move the port", "use a smaller thread"]
    if worst.on in EDGES:
        cures.append("use a thicker body")
    if shorter:
        cures.append(f"tap it no deeper than {thread.short_thread + thread.pitch:.1f} mm for short fittings")
    return make_finding(
        "port.wall",
        "fault" if wall < THREAD_HEIGHT * thread.pitch - SAME_MM else "caution",
        f'{shown:.3g} mm stand between the {name} thread of "{worst.name}", {thread.major:g} mm wide, and '
        f"{what}; {limit:.3g} mm are wanted" + (f"; as with {', '.join(others)}" if others else ""),
        f"{', '.join(cures[:-1])}, or {cures[-1]}",
        shown,
        limit,
        "mm",
        worst.at,
        tuple(port.name for _, _, port in rows),
    )


def find_thin(panel: Panel, standing: tuple[Standing, ...], cut: ThreadCut) -> dict[str, tuple[float, str]]:
    """Return for each kind of neighbour the thinnest wall under the limit, [mm], and what it is to."""
    limit = max(panel.rules.least_wall, cut.thread.pitch)
    least: dict[str, tuple[float, str]] = {}
    for kind, wall, what in (*_list_faces(panel, cut), *_list_beside(cut, standing, limit)):
        if wall < limit - SAME_MM and (kind not in least or wall < least[kind][0]):
            least[kind] = (wall, what)
    return least


def cut_thread(panel: Panel, routed: Routed, port: PlacedPort, longest: float) -> ThreadCut:
    """Return the thread of a port as it is cut.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    port : PlacedPort
    longest : float
        Its length where the bore is as long, and the sheet as thick, [mm].
    """
    thread = tables.thread(port.thread)
    whole, _ = thread_room(panel, routed, port)
    length = max(0.0, min(whole, longest))
    x, y, z = port.at
    body = (0.0, panel.make.body)
    dx, dy, dz = INTO[port.on]
    if port.on in EDGES:
        return ThreadCut(port, thread, ((x, y), (x + dx * length, y + dy * length)), (z, z), body)
    covered = port.on in joints_of(panel)
    if covered:
        length = min(length, panel.make.cover)
    ends = (z, z + dz * length)
    sheet = sorted((z, z + dz * panel.make.cover)) if covered else body
    return ThreadCut(port, thread, ((x, y), (x, y)), (min(ends), max(ends)), (sheet[0], sheet[1]))


def measure_wall(cut: ThreadCut, outline: shapely.Geometry, z0: float, z1: float) -> float:
    """Return the solid between a thread and what stands upright on an outline in plan.

    Parameters
    ----------
    cut : ThreadCut
    outline : shapely.Geometry
        [mm]
    z0, z1 : float
        Between which it stands, [mm].

    Returns
    -------
    float
        [mm]; negative where they overlap.
    """
    up = max(0.0, z0 - cut.z[1], cut.z[0] - z1)
    start, end = cut.axis
    if start == end:
        beside = outline.distance(shapely.Point(start)) - cut.radius
        return beside if up == 0 else math.hypot(max(beside, 0.0), up)
    # Beside the thread the nearest point lies across its axis; past its flat ends it lies off their discs.
    axis = shapely.LineString([start, end])
    low_x, low_y, high_x, high_y = outline.bounds
    strip = axis.buffer(outline.distance(axis) + math.hypot(high_x - low_x, high_y - low_y), cap_style="flat")
    beside, past = outline.intersection(strip), outline.difference(strip)
    walls = [] if beside.is_empty else [math.hypot(beside.distance(axis), up) - cut.radius]
    if not past.is_empty:
        x, y = (shapely.get_coordinates(shapely.segmentize(past, STEP)) - start).T
        dx, dy = (end[0] - start[0]) / axis.length, (end[1] - start[1]) / axis.length
        along = x * dx + y * dy
        off = np.maximum(-along, along - axis.length)
        around = np.maximum(np.hypot(x * dy - y * dx, up) - cut.radius, 0.0)
        walls.append(float(np.hypot(off, around).min()))
    return min(walls)


def _list_faces(panel: Panel, cut: ThreadCut) -> list[tuple[str, float, str]]:
    """Return the walls between a thread and the outer faces that it does not open in, and what each is to."""
    low, high = cut.sheet
    x, y, z = cut.port.at
    if cut.port.on in EDGES:
        walls: list[tuple[str, float, str]] = [
            ("face", z - cut.radius - low, "the body's back"),
            ("face", high - z - cut.radius, "the body's front"),
        ]
        across = (y, panel.height) if cut.port.on in ("left", "right") else (x, panel.width)
        near = min(across[0], across[1] - across[0])
        return [*walls, ("face", near - cut.radius, "the panel's edge beside it")]
    off = sheet_outline(panel).exterior.distance(shapely.Point(x, y))
    return [("face", off - cut.radius, "the panel's edge")]


def _outline_features(detail: Detail) -> tuple[Standing, ...]:
    """Return every feature with its outline in plan and the z between which it stands, [mm]."""
    found = []
    for feature in detail.features:
        outline, z0, z1 = cast_shadow(feature.shape)
        if isinstance(feature.shape, Cylinder) and feature.shape.direction[2] != 0:
            # The shadow is coarser than the walls that are told.
            radius = feature.shape.radius + feature.shape.chamfer
            outline = shapely.Point(feature.shape.mouth[:2]).buffer(radius, quad_segs=ROUND)
        found.append((feature, outline, z0, z1))
    return tuple(found)


def _list_beside(
    cut: ThreadCut, standing: tuple[Standing, ...], within: float
) -> list[tuple[str, float, str]]:
    """Return the walls between a thread and other features of the same sheet in a distance, and what each is to.

    What the port opens into, what holds the same coolant, and its own spot face are no neighbours.
    """
    name = f"port {cut.port.name} {cut.thread.name}"
    own = next((feature for feature, _, _, _ in standing if feature.name == name), None)
    if own is None:
        return []
    axis = shapely.LineString(cut.axis)
    found: list[tuple[str, float, str]] = []
    for feature, outline, low, high in standing:
        if feature is own or feature.name in own.joins or own.name in feature.joins:
            continue
        if feature.region == own.region and feature.kind in ("channel", "through hole", "tank"):
            continue
        z0, z1 = max(low, cut.sheet[0]), min(high, cut.sheet[1])
        if z1 - z0 < SAME_MM or not outline.dwithin(axis, cut.radius + within):
            continue
        found.append((feature.kind, measure_wall(cut, outline, z0, z1), _name_feature(feature)))
    return found


def _name_feature(feature: Feature) -> str:
    """Return a feature in words: a port's bore is where its thread is."""
    is_port = feature.kind == "port" and isinstance(feature.shape, Cylinder)
    return f"that of {feature.name}" if is_port else feature.name
