"""A port moved up within its box of the file, and all laid out anew: whether that lets the air out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from geom.errors import RillplateError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.wet.raster import raster_wet
from layouts.detail import cut_openings
from layouts.filling.left import find_left
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.pocket_limits import CLEARED_SHARE
from layouts.filling.pockets_told import channels_of
from layouts.filling.spacing import PLAN_SPACING
from layouts.filling.values import Pocket, Relief
from layouts.panel import Panel, Port
from layouts.plan import PlacedPort, Routed

MOST_TRIED = 2
"""Ports that are moved, one after the other: each costs a layout."""


def try_moves(
    panel: Panel, routed: Routed, pocket: Pocket, now_mm3: float, lay_out: Callable[[Panel], Routed]
) -> tuple[Relief, ...]:
    """Return the port that lets air out once it is moved up; none where no box of the file has room for that.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    pocket : Pocket
        Of air.
    now_mm3 : float
        All air that stays as things are.
    lay_out : callable
        Lays a panel out anew, as this one was.
    """
    channels = channels_of(routed, pocket)
    ports = {port.name: port for part in panel.parts for port in (part.inlet, part.outlet)}
    moves = []
    for placed in routed.ports:
        if placed.channel not in channels or placed.name not in ports or pocket.way_out is None:
            continue
        if ports[placed.name].hose == "falls":
            continue
        at = _find_higher(panel, placed, ports[placed.name], pocket.depth)
        if at is not None:
            moves.append((math.dist(at, placed.foot), placed, at))
    moves.sort(key=lambda move: (move[0], move[1].name))
    for _, placed, at in moves[:MOST_TRIED]:
        left = _find_air_left(_move(panel, placed.name, at), lay_out)
        if left is not None and left <= CLEARED_SHARE * now_mm3:
            return (Relief("move", left, placed.name, (*at, placed.at[2])),)
    return ()


def _find_higher(panel: Panel, placed: PlacedPort, port: Port, by: float) -> Point | None:
    """Return the place of a port that stands higher by so much or a little more, on the grid; None without room."""
    axis = 0 if abs(panel.up[0]) > abs(panel.up[1]) else 1
    slope = panel.up[axis]
    if abs(slope) < SAME_MM:
        return None
    steps = math.ceil(by / abs(slope) / panel.pitch - SAME_MM)
    place = list(placed.foot if placed.on not in EDGES else placed.at[:2])
    place[axis] += math.copysign(steps * panel.pitch, slope)
    if port.within is not None:
        low, high = port.within[axis], port.within[axis + 2]
    elif port.between is not None and (axis == 1) == (placed.on in ("left", "right")):
        low, high = port.between
    else:
        return None
    return (place[0], place[1]) if low - SAME_MM <= place[axis] <= high + SAME_MM else None


def _move(panel: Panel, name: str, at: Point) -> Panel:
    """Return the panel with a port fixed at a place."""

    def fix(port: Port) -> Port:
        return replace(port, at=at, within=None, between=None) if port.name == name else port

    parts = tuple(replace(part, inlet=fix(part.inlet), outlet=fix(part.outlet)) for part in panel.parts)
    return replace(panel, parts=parts)


def _find_air_left(panel: Panel, lay_out: Callable[[Panel], Routed]) -> float | None:
    """Return the air that stays in a panel, laid out, [mm3]; None where it cannot be."""
    try:
        routed = lay_out(panel)
        features = cut_openings(panel, routed)
    except RillplateError:
        return None
    voxels = raster_wet(features, PLAN_SPACING)
    openings = find_openings(panel, routed, features, voxels)
    return find_left(voxels, openings, panel.up, tank_voxels(voxels)).air_mm3
