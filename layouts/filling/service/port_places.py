"""Where a bleed or drain port may stand on a channel, or on the pocket tank, and what keeps it off elsewhere.

A port on the front or the back stands on the channel's centreline, one on an edge comes straight to a straight piece of
it. Either keeps off all that is cut, as routing asks of ports, and a spanner swings on it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from geom.errors import OutOfRange
from geom.frame import EDGES, INTO, SAME_MM, Face
from geom.outline import Arc, Point, region_polygon, round_corners
from geom.standards.tables import Thread
from layouts.clearance import (
    edge_axis_z,
    edge_mouth,
    port_bore_length,
    tank_z,
)
from layouts.closing.wet_regions import layer_runs, outline_tank
from layouts.detail import (
    SHADOW_SAG,
    SPOT_FACE_DEPTH,
)
from layouts.faces import face_z, groove_depth, layer_z, layers_of, passes_joint
from layouts.filling.service.port_blockers import Cut, list_blockers
from layouts.panel import Panel
from layouts.plan import Layer, PlacedPort, Routed

STEP = 2.0
"""Distance of the places tried along a centreline, [mm]; on straight pieces they lie on whole multiples of it."""

UNDER_WALL = 0.5
"""How far a port's bore reaches past the wall of the pocket tank at its foot, [mm]: never tangent to it."""


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Places for a port on one face into one channel.

    Parameters
    ----------
    channel : str
        "tank" for the pocket.
    layer : {"back", "front"}
    on : Face
    mouth_z : float
        z of the mouth, [mm].
    to_wall : float
        How far the coolant reaches from the centreline towards an edge, [mm]; 0 on front and back.
    feet : numpy.ndarray
        (n, 2) float64: where the axis meets the centreline, in plan, [mm].
    blockers : tuple of (str, numpy.ndarray)
        What keeps a port off, and at which of the places: (n,) bool.
    """

    channel: str
    layer: Layer
    on: Face
    mouth_z: float
    to_wall: float
    feet: np.ndarray
    blockers: tuple[tuple[str, np.ndarray], ...]

    def free(self) -> np.ndarray:
        """Return at which places a port may stand, (n,) bool."""
        free = np.ones(len(self.feet), bool)
        for _, blocked in self.blockers:
            free &= ~blocked
        return free

    def name_blockers(self, most: int = 3) -> tuple[str, ...]:
        """Return what keeps ports off: that which takes most places first, then what takes most of the rest."""
        left = np.ones(len(self.feet), bool)
        names: list[str] = []
        while left.any() and len(names) < most:
            taken = [int((blocked & left).sum()) for _, blocked in self.blockers]
            k = max(range(len(taken)), key=lambda n: taken[n], default=-1)
            if k < 0 or not taken[k]:
                break
            names.append(self.blockers[k][0])
            left &= ~self.blockers[k][1]
        return tuple(names)


def list_faces(panel: Panel, routed: Routed, layer: Layer) -> tuple[tuple[Face, ...], tuple[Face, ...]]:
    """Return the faces from which a port may reach a layer: those of the first choice, and the others.

    The first are those that fittings stand on already, so that one gets at them, and from which a bore passes no
    joint; without such a face, those that a bore passes only its own cover from.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    layer : {"back", "front"}
    """
    used = {port.on for port in routed.ports} | {panel.pump.on}
    faces: tuple[Face, ...] = ("front", "back")
    sound = [on for on in faces if not passes_joint(panel, on, layer) and not _passes_other(panel, on, layer)]
    first = [on for on in sound if on in used] or [on for on in faces if on in used] or [*faces]
    return tuple(first), (*(on for on in faces if on not in first), *EDGES)


def list_places(
    panel: Panel,
    routed: Routed,
    cuts: tuple[Cut, ...],
    channel: str,
    layer: Layer,
    on: Face,
    thread: Thread,
    useful: Callable[[np.ndarray], np.ndarray] | None = None,
) -> Places | None:
    """Return the places for a port on a face.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    cuts : tuple of Cut
        Of the same layout.
    channel : str
        "tank" for the pocket.
    layer : {"back", "front"}
    on : Face
    thread : Thread
    useful : callable or None
        Returns which of (n, 2) places are of use, (n,) bool; all of them where None.

    Returns
    -------
    Places or None
        None where no port can reach the channel from that face, wherever it stands.
    """
    axis_z = _axis_z(panel, thread, on, layer)
    if axis_z is None or not holds_thread(panel, channel, layer, on, thread):
        return None
    feet = _list_tank_feet(routed, thread) if channel == "tank" else _list_feet(routed, channel, layer, on)
    if useful is not None:
        feet = feet[useful(feet)]
    if not len(feet):
        return None
    blockers = list_blockers(panel, routed, cuts, channel, layer, on, thread, feet, axis_z)
    to_wall = routed.channel(channel).width / 2 if on in EDGES else 0.0
    return Places(channel, layer, on, axis_z, to_wall, feet, blockers)


def place_port(
    panel: Panel, routed: Routed, places: Places, number: int, thread: Thread, name: str, role: str
) -> PlacedPort:
    """Return a port at one of the places.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    places : Places
    number : int
        Of the place.
    thread : Thread
    name, role : str
        Of the port; its part is called as its role.
    """
    on, layer = places.on, places.layer
    foot: Point = (float(places.feet[number, 0]), float(places.feet[number, 1]))
    mouth = edge_mouth(panel, on, foot)
    depth = _bore_length(panel, places.channel, layer, on, foot)
    at = (*mouth, places.mouth_z)
    return PlacedPort(name, role, role, thread.name, on, at, foot, places.channel, depth, layer)


def holds_thread(panel: Panel, channel: str, layer: Layer, on: Face, thread: Thread) -> bool:
    """Return whether a bore from front or back holds the short thread and one pitch before it meets the coolant."""
    if on in EDGES:
        return True
    return thread_left(panel, channel, layer, on) >= thread.short_thread + thread.pitch - SAME_MM


def thread_left(panel: Panel, channel: str, layer: Layer, on: Face) -> float:
    """Return how long a bore from front or back is from its seat to the coolant, [mm]."""
    low, high = tank_z(panel) if channel == "tank" else layer_z(panel, layer)
    face = face_z(panel, on)
    return (face - high if on == "front" else low - face) - SPOT_FACE_DEPTH


def _passes_other(panel: Panel, on: Face, layer: Layer) -> bool:
    """Return whether a bore passes the joint of its face on the way to the other layer."""
    return on != layer and any(passes_joint(panel, on, other) for other in layers_of(panel))


def _axis_z(panel: Panel, thread: Thread, on: Face, layer: Layer) -> float | None:
    """Return z of a port's mouth, [mm]; None where the body is too thin for it on an edge."""
    if on not in EDGES:
        return face_z(panel, on)
    make, channel = panel.make, panel.channel
    groove = groove_depth(make.closing, make.cord)
    try:
        from_back = edge_axis_z(
            thread, make.closing, make.body, groove, channel.depth, panel.rules.least_wall, channel.layers
        )
    except OutOfRange:
        return None
    return make.body - from_back if layer == "front" else from_back


def _bore_length(panel: Panel, channel: str, layer: Layer, on: Face, foot: Point) -> float:
    if channel == "tank":
        return abs(face_z(panel, on) - sum(tank_z(panel)) / 2)
    # On an edge it ends at the centreline, which it meets at a right angle.
    inset = math.dist(edge_mouth(panel, on, foot), foot)
    return port_bore_length(panel, on, inset, 0.0, layer)


def _list_feet(routed: Routed, channel: str, layer: Layer, on: Face) -> np.ndarray:
    """Return places on a channel's centreline in a layer, each once, in the order of its runs."""
    own = routed.channel(channel)
    feet: dict[Point, None] = {}
    for run in layer_runs(own, layer):
        for segment in round_corners(run.points, own.bend_radius):
            if isinstance(segment, Arc):
                if on not in EDGES:
                    count = max(1, round(segment.length / STEP))
                    for x, y in (segment.at((k + 0.5) / count) for k in range(count)):
                        # A machinist's figures: so little off the centreline is less than it is milled to.
                        feet[round(x, 1), round(y, 1)] = None
                continue
            along = (
                0 if abs(segment.end[0] - segment.start[0]) > abs(segment.end[1] - segment.start[1]) else 1
            )
            if on in EDGES and abs(INTO[on][1 - along]) < 0.5:
                continue
            low, high = sorted((segment.start[along], segment.end[along]))
            at = segment.start[1 - along]
            for k in range(math.ceil(low / STEP - SAME_MM), math.floor(high / STEP + SAME_MM) + 1):
                feet[(k * STEP, at) if along == 0 else (at, k * STEP)] = None
    return np.array(list(feet)).reshape(-1, 2)


def _list_tank_feet(routed: Routed, thread: Thread) -> np.ndarray:
    """Return places in the pocket tank, rows from the lowest up: at its walls the bore reaches just past them."""
    pocket = region_polygon((outline_tank(routed, 0.0),), SHADOW_SAG)
    within = pocket.buffer(UNDER_WALL - thread.tap_drill / 2)
    if within.is_empty:
        return np.empty((0, 2))
    x0, y0, x1, y1 = within.bounds
    xs, ys = (
        np.array([low, *np.arange(math.ceil(low / STEP), math.floor(high / STEP) + 1) * STEP, high])
        for low, high in ((x0, x1), (y0, y1))
    )
    x, y = np.meshgrid(np.unique(np.round(xs, 6)), np.unique(np.round(ys, 6)))
    feet = np.column_stack((x.ravel(), y.ravel()))
    return feet[shapely.dwithin(shapely.points(feet), within, SAME_MM)]
