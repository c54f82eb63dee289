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
from geom.frame import EDGES, INTO, SAME_MM, Vec
from geom.standards import tables
from geom.standards.tables import Thread
from layouts.detail import cast_shadow, name_port
from layouts.faces import joints_of
from layouts.outlines import sheet_outline
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.port_threads import thread_room
from layouts.rules.findings import make_finding

STEP = 0.2
"""Outlines past a thread's end are measured at places this far apart, [mm]."""

ROUND = 64
"""Chords to a quarter of a round hole."""


@dataclass(frozen=True, slots=True)
class PortThread:
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


@dataclass(frozen=True, slots=True)
class ThinWall:
    """The wall between a thread and something of a kind: `what`, the middle of the wall where it is thinnest, [mm]."""

    kind: str
    wall: float
    what: str
    at: Vec


def check_port_walls(panel: Panel, routed: Routed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether enough solid stands round each port's thread (`port.wall`).

    Ports with the same thread beside the same kind of thing are named in one finding.
    """
    groups: dict[tuple[str, str], list[tuple[ThinWall, PlacedPort]]] = {}
    cured: dict[tuple[str, str], bool] = {}
    standing = _outline_features(detail)
    for port in routed.ports:
        thread = tables.thread(port.thread)
        thin = find_thin(panel, standing, cut_thread(panel, routed, port, thread.full_thread))
        if not thin:
            continue
        short = cut_thread(panel, routed, port, thread.short_thread + thread.pitch)
        left = find_thin(panel, standing, short)
        for kind, wall in thin.items():
            key = (port.thread, kind)
            groups.setdefault(key, []).append((wall, port))
            cured[key] = cured.get(key, True) and kind not in left
    return tuple(_tell_walls(panel, key[0], rows, cured[key]) for key, rows in groups.items())


def _tell_walls(panel: Panel, name: str, rows: list[tuple[ThinWall, PlacedPort]], shorter: bool) -> Finding:
    """Return the finding of ports with too thin a wall; `shorter`: a shorter thread cures them all."""
    thread = tables.thread(name)
    limit = max(panel.rules.least_wall, thread.pitch)
    thin, worst = min(rows, key=lambda row: row[0].wall)
    wall, shown = thin.wall, max(thin.wall, 0.0)
    others = [f'"{port.name}"' for _, port in rows if port is not worst]
    cures = ["move the port", "use a smaller thread"]
    if worst.on in EDGES:
        cures.append("use a thicker body")
    if shorter:
        cures.append(f"tap it no deeper than {thread.short_thread + thread.pitch:.1f} mm for short fittings")
    return make_finding(
        "port.wall",
        "fault" if wall < thread.height - SAME_MM else "caution",
        f'{shown:.3g} mm stand between the {name} thread of "{worst.name}", {thread.major:g} mm wide, and '
        f"{thin.what}; {limit:.3g} mm are wanted" + (f"; as with {', '.join(others)}" if others else ""),
        f"{', '.join(cures[:-1])}, or {cures[-1]}",
        shown,
        limit,
        "mm",
        thin.at,
        tuple(port.name for _, port in rows),
    )


def find_thin(panel: Panel, standing: tuple[Standing, ...], cut: PortThread) -> dict[str, ThinWall]:
    """Return for each kind of neighbour the thinnest wall under the limit."""
    limit = max(panel.rules.least_wall, cut.thread.pitch)
    least: dict[str, ThinWall] = {}
    for thin in (*_list_faces(panel, cut), *_list_beside(cut, standing, limit)):
        if thin.wall < limit - SAME_MM and (thin.kind not in least or thin.wall < least[thin.kind].wall):
            least[thin.kind] = thin
    return least


def cut_thread(panel: Panel, routed: Routed, port: PlacedPort, longest: float) -> PortThread:
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
        return PortThread(port, thread, ((x, y), (x + dx * length, y + dy * length)), (z, z), body)
    covered = port.on in joints_of(panel)
    if covered:
        length = min(length, panel.make.cover)
    ends = (z, z + dz * length)
    sheet = sorted((z, z + dz * panel.make.cover)) if covered else body
    return PortThread(port, thread, ((x, y), (x, y)), (min(ends), max(ends)), (sheet[0], sheet[1]))


def measure_wall(cut: PortThread, outline: shapely.Geometry, z0: float, z1: float) -> tuple[float, Vec]:
    """Return the solid between a thread and what stands upright on an outline in plan, and where it is thinnest.

    Parameters
    ----------
    cut : PortThread
    outline : shapely.Geometry
        [mm]
    z0, z1 : float
        Between which it stands, [mm].

    Returns
    -------
    (float, (float, float, float))
        [mm]; negative where they overlap; the middle of the wall.
    """
    start, end = cut.axis
    if start == end:
        return _measure_upright(cut, outline, z0, z1)
    level = cut.z[0]
    height = min(max(level, z0), z1)
    up = abs(height - level)
    # Beside the thread the nearest point lies across its axis; past its flat ends it lies off their discs.
    axis = shapely.LineString([start, end])
    low_x, low_y, high_x, high_y = outline.bounds
    strip = axis.buffer(outline.distance(axis) + math.hypot(high_x - low_x, high_y - low_y), cap_style="flat")
    beside, past = outline.intersection(strip), outline.difference(strip)
    walls: list[tuple[float, Vec]] = []
    if not beside.is_empty:
        common = axis.intersection(beside)
        if common.is_empty:
            # Of lines along each other the library divides by zero on its way to a sound answer.
            with np.errstate(divide="ignore", invalid="ignore"):
                near, far = shapely.get_coordinates(shapely.shortest_line(axis, beside))
        else:
            near = far = shapely.get_coordinates(shapely.point_on_surface(common))[0]
        wall = math.hypot(math.dist(near, far), up) - cut.radius
        walls.append((wall, _go(cut.radius + wall / 2, (*near, level), (*far, height))))
    if not past.is_empty:
        x, y = (shapely.get_coordinates(shapely.segmentize(past, STEP)) - start).T
        dx, dy = (end[0] - start[0]) / axis.length, (end[1] - start[1]) / axis.length
        along = x * dx + y * dy
        off = np.maximum(-along, along - axis.length)
        around = np.hypot(x * dy - y * dx, up)
        apart = np.hypot(off, np.maximum(around - cut.radius, 0.0))
        k = int(apart.argmin())
        # Its foot on the axis, and on the plane across the axis there.
        px, py, on = x[k] + start[0], y[k] + start[1], min(max(float(along[k]), 0.0), axis.length)
        back = along[k] - on
        foot = (start[0] + on * dx, start[1] + on * dy, level)
        rim = _go(min(cut.radius, float(around[k])), foot, (px - back * dx, py - back * dy, height))
        walls.append((float(apart[k]), _middle(rim, (px, py, height))))
    return min(walls, key=lambda found: found[0])


def _measure_upright(cut: PortThread, outline: shapely.Geometry, z0: float, z1: float) -> tuple[float, Vec]:
    """Return wall and place as `measure_wall`, of a thread that stands upright."""
    (x, y), (low, high) = cut.axis[0], cut.z
    near = shapely.get_coordinates(shapely.shortest_line(shapely.Point(x, y), outline))[1]
    beside = math.dist((x, y), near) - cut.radius
    if z0 <= high and z1 >= low:
        level = (max(low, z0) + min(high, z1)) / 2
        return beside, _go(cut.radius + beside / 2, (x, y, level), (*near, level))
    end, height = (high, z0) if z0 > high else (low, z1)
    rim = _go(min(cut.radius, beside + cut.radius), (x, y, end), (*near, end))
    return math.hypot(max(beside, 0.0), height - end), _middle(rim, (*near, height))


def _go(by: float, start: Vec, towards: Vec) -> Vec:
    """Return the point that lies so far from a start towards another; the start where both are one."""
    apart = math.dist(start, towards)
    share = by / apart if apart > SAME_MM else 0.0
    x, y, z = (float(a + share * (b - a)) for a, b in zip(start, towards, strict=True))
    return x, y, z


def _middle(a: Vec, b: Vec) -> Vec:
    return _go(math.dist(a, b) / 2, a, b)


def _list_faces(panel: Panel, cut: PortThread) -> list[ThinWall]:
    """Return the walls between a thread and the outer faces that it does not open in, half along the thread."""
    low, high = cut.sheet
    (ax, ay), (bx, by) = cut.axis
    x, y, z = (ax + bx) / 2, (ay + by) / 2, (cut.z[0] + cut.z[1]) / 2
    if cut.port.on not in EDGES:
        rim = sheet_outline(panel).exterior
        near = shapely.get_coordinates(shapely.shortest_line(shapely.Point(x, y), rim))[1]
        wall = math.dist((x, y), near) - cut.radius
        place = _go(cut.radius + wall / 2, (x, y, z), (*near, z))
        return [ThinWall("face", wall, "the panel's edge", place)]
    back, front = z - cut.radius - low, high - z - cut.radius
    upright = cut.port.on in ("left", "right")
    at, side = (y, panel.height) if upright else (x, panel.width)
    near_edge = 0.0 if at < side - at else side
    beside = abs(at - near_edge) - cut.radius
    edge = (x, near_edge, z) if upright else (near_edge, y, z)
    return [
        ThinWall("face", back, "the body's back", (x, y, low + back / 2)),
        ThinWall("face", front, "the body's front", (x, y, high - front / 2)),
        ThinWall("face", beside, "the panel's edge beside it", _go(cut.radius + beside / 2, (x, y, z), edge)),
    ]


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


def _list_beside(cut: PortThread, standing: tuple[Standing, ...], within: float) -> list[ThinWall]:
    """Return the walls between a thread and other features of the same sheet in a distance.

    What the port opens into, what holds the same coolant, and its own spot face are no neighbours.
    """
    name = name_port(cut.port)
    own = next((feature for feature, _, _, _ in standing if feature.name == name), None)
    if own is None:
        return []
    axis = shapely.LineString(cut.axis)
    found = []
    for feature, outline, low, high in standing:
        if feature is own or feature.name in own.joins or own.name in feature.joins:
            continue
        if feature.region == own.region and feature.kind in ("channel", "through hole", "tank"):
            continue
        z0, z1 = max(low, cut.sheet[0]), min(high, cut.sheet[1])
        if z1 - z0 < SAME_MM or not outline.dwithin(axis, cut.radius + within):
            continue
        wall, at = measure_wall(cut, outline, z0, z1)
        found.append(ThinWall(feature.kind, wall, _name_feature(feature), at))
    return found


def _name_feature(feature: Feature) -> str:
    """Return a feature in words: a port's bore is where its thread is."""
    is_port = feature.kind == "port" and isinstance(feature.shape, Cylinder)
    return f"that of {feature.name}" if is_port else feature.name
