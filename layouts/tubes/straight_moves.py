"""Whether a small move of a free port makes its tube straight: places on the grid at which the port may stand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from geom.frame import EDGES, SAME_MM, Vec
from geom.standards import tables
from layouts.clearance import edge_mouth, ports_apart
from layouts.ground import survey_panel
from layouts.panel import Panel, Port
from layouts.place import Placement
from layouts.plan import PlacedPort, Routed
from layouts.terrain import Terrain, lay_terrain
from layouts.tubes.bends import find_straight
from layouts.tubes.ends import panel_end
from layouts.tubes.obstacles import Obstacles
from layouts.tubes.values import TubeEnd

MOST_MOVE = 20.0
"""Longest move of a port that is told, [mm]: common practice, no source."""


def survey_places(panel: Panel, routed: Routed) -> Terrain:
    """Return where ports may stand with tank and pump where they are.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    """
    pump, tank = routed.pump, routed.tank
    placed = Placement(pump.inlet, pump.outlet, pump.turn_deg, pump.screws, tank.box, tank.outlet, 0.0)
    return lay_terrain(survey_panel(panel), placed)


def find_move(
    panel: Panel,
    routed: Routed,
    terrain: Terrain,
    port: Port,
    placed: PlacedPort,
    end: TubeEnd,
    obstacles: Obstacles,
) -> Vec | None:
    """Return the least move of a free port that makes its tube straight.

    Only places count at which the port may stand as far as that is known before anything is routed anew: in its range,
    off edges, keep-clear regions, tank, feed and pump, with a spanner's room to every other port, and its tube clear of
    all.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    terrain : Terrain
        Of `survey_places`.
    port : Port
    placed : PlacedPort
        Where it stands now.
    end : TubeEnd
        The part's own.
    obstacles : Obstacles
        What its tube keeps clear of.

    Returns
    -------
    (float, float, float) or None
        [mm]; None where it is fixed, or no move of `MOST_MOVE` or less does it.
    """
    if port.at is not None or panel.tubing is None:
        return None
    best: tuple[float, Vec] | None = None
    for x, y in _list_mouths(panel, terrain, port):
        moved = replace(placed, at=(x, y, placed.at[2]))
        by = (x - placed.at[0], y - placed.at[1], 0.0)
        far = math.hypot(*by)
        if far < SAME_MM or far > MOST_MOVE + SAME_MM or (best is not None and far >= best[0] - SAME_MM):
            continue
        start = panel_end(panel, moved)
        if (
            not find_straight(start, end)
            or math.dist(start.at, end.at) < 2 * panel.tubing.insertion - SAME_MM
        ):
            continue
        line = np.array([[start.at, end.at]])
        if _has_room(routed, moved) and float(obstacles.lack(line)[0]) <= SAME_MM:
            best = (far, by)
    return None if best is None else best[1]


def _list_mouths(panel: Panel, terrain: Terrain, port: Port) -> list[tuple[float, float]]:
    """Return the places of a port's mouth in plan, [mm], that tank, pump, edges and regions leave open."""
    grid = terrain.grid
    for need, net in zip(terrain.needs, terrain.instance.nets, strict=True):
        for end, terminals in zip(need.ends, net.ends, strict=True):
            if end.port is not None and end.port.name == port.name:
                feet = (grid.point_of(terminal.node % grid.cells) for terminal in terminals)
                return [edge_mouth(panel, port.on, foot) if port.on in EDGES else foot for foot in feet]
    return []


def _has_room(routed: Routed, moved: PlacedPort) -> bool:
    """Return whether a spanner swings on a moved port and on every other on its face."""
    own = tables.thread(moved.thread)
    return all(
        math.dist(other.at, moved.at) >= ports_apart(own, tables.thread(other.thread)) - SAME_MM
        for other in routed.ports
        if other.on == moved.on and other.name != moved.name
    )
