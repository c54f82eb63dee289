"""At which nodes a port may stand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import edge_mouth, ports_apart
from layouts.detail import thread_fits
from layouts.faces import bore_layers, layers_of
from layouts.ground import Ground, survey_panel
from layouts.laid_out import LaidOut
from layouts.panel import Panel, Port
from layouts.replan.end_places import frame_cells, leave_ports
from layouts.replan.fill_places import list_fill_mouths
from layouts.replan.pinned import find_pinned
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.one_channel.ends import EndTable
from layouts.terrain import Terrain, lay_terrain


def list_port_nodes(panel: Panel, laid: LaidOut, port: Port) -> np.ndarray:
    """Return where a port may stand, anywhere on its face or edge.

    Parameters
    ----------
    panel : Panel
        Without a kept route that ends at the port.
    laid : LaidOut
        Of this panel.
    port : Port
        Of this panel; any but a separate tank's outlet.

    Returns
    -------
    (n, 2) float
        Where its axis leaves the panel, [mm].
    """
    if port == panel.tank.fill:
        return list_fill_mouths(panel, laid.placement, port)
    free = _loosen(panel, laid, port)
    ground = survey_panel(with_port(panel, free))
    terrain = lay_terrain(ground, laid.placement)
    search = Negotiation(terrain.instance)
    number, end = next(
        (n, e)
        for n, need in enumerate(ground.needs)
        for e, asked in enumerate(need.ends)
        if asked.port is not None and asked.port.name == port.name
    )
    fixed, beside = search.fixed[number].copy(), _near_own(search, terrain, number, end)
    k = ground.port_class(free, ground.costs.channels[ground.needs[number].name].width)
    fixed[k] |= beside
    if port.on in EDGES:
        net = terrain.instance.nets[number]
        terminals = net.ends[end]
        usable = EndTable(terminals, net.channel_class).usable(fixed, None)
        spots = [(t.node, *t.bore) for t, may in zip(terminals, usable, strict=True) if may]
    else:
        spots = [(int(cell),) for cell in np.flatnonzero(_judge_face(terrain, free, fixed, number, k))]
    leaves = leave_ports(terrain, search, number, end, frame_cells(ground, spots))
    cells = [cell for (cell, *_), may in zip(spots, leaves, strict=True) if may]
    feet = [ground.grid.point_of(int(cell) % ground.grid.cells) for cell in cells]
    feet = _keep_apart(ground, free, feet)
    mouths = dict.fromkeys(edge_mouth(panel, port.on, foot) for foot in feet)
    return np.array(list(mouths)).reshape(-1, 2)


def _keep_apart(ground: Ground, port: Port, feet: list[Point]) -> list[Point]:
    """Return the feet at which a port of front or back keeps off those of its face that have one place.

    In two layers such a port has a choice of layer, so that the search does not count it as having one place.
    """
    if port.on in EDGES:
        return feet
    thread = tables.thread(port.thread)
    for other in find_pinned(ground).ports:
        if other.kind.on == port.on:
            x, y = other.points[0]
            least = ports_apart(thread, tables.thread(other.kind.thread)) - SAME_MM
            feet = [foot for foot in feet if math.dist(foot, (x, y)) >= least]
    return feet


def with_port(panel: Panel, port: Port) -> Panel:
    """Return a panel with another port in place of that of its name.

    Parameters
    ----------
    panel : Panel
    port : Port

    Returns
    -------
    Panel
    """

    def swap(old: Port) -> Port:
        return port if old.name == port.name else old

    tank, drain = panel.tank, panel.drain
    return replace(
        panel,
        parts=tuple(replace(part, inlet=swap(part.inlet), outlet=swap(part.outlet)) for part in panel.parts),
        tank=replace(
            tank,
            fill=tank.fill and swap(tank.fill),
            outlet=tank.outlet and swap(tank.outlet),
            inlet=tank.inlet and swap(tank.inlet),
        ),
        drain=drain and swap(drain),
    )


def pin_port(port: Port, at: Point) -> Port:
    """Return a port that stands at one place.

    Parameters
    ----------
    port : Port
    at : (float, float)
        Where its axis leaves the panel, [mm].

    Returns
    -------
    Port
    """
    return replace(port, at=at, within=None, between=None)


def _loosen(panel: Panel, laid: LaidOut, port: Port) -> Port:
    """Return a port without one place, so that it stands in nobody's way: along its edge, or at two nodes."""
    if port.on in EDGES:
        side = panel.width if port.on in ("top", "bottom") else panel.height
        return replace(port, at=None, between=(0.0, side))
    foot = next(one.foot for one in laid.routed.ports if one.name == port.name)
    x = min(foot[0], math.floor(panel.width / panel.pitch) * panel.pitch - panel.pitch)
    return replace(port, at=None, within=(x, foot[1], x + panel.pitch, foot[1]))


def _near_own(search: Negotiation, terrain: Terrain, number: int, end: int) -> np.ndarray:
    """Return where a port would stand too near another end of its own channel that has one place, (cells,) bool."""
    net, instance = terrain.instance.nets[number], terrain.instance
    port = terrain.needs[number].ends[end].port
    assert port is not None
    k = terrain.ground.port_class(port, terrain.ground.costs.channels[net.name].width)
    near = np.zeros(instance.cells, dtype=bool)
    for other, terminals in enumerate(net.ends):
        if other == end or len({t.node for t in terminals}) != 1:
            continue
        t = terminals[0]
        for cell in (t.node, *t.bore):
            base = cell - cell % terrain.grid.cells
            x, y = cell % instance.columns, cell % terrain.grid.cells // instance.columns
            offsets = instance.offsets[t.port_class][k]
            nx, ny = x + offsets[:, 0], y + offsets[:, 1]
            inside = (nx >= 0) & (nx < instance.columns) & (ny >= 0) & (ny < instance.rows)
            near[base + ny[inside] * instance.columns + nx[inside]] = True
    return near


def _judge_face(terrain: Terrain, port: Port, fixed: np.ndarray, number: int, k: int) -> np.ndarray:
    """Return at which nodes a port on front or back may stand in one of the layers, (cells,) bool."""
    panel, plane = terrain.ground.panel, terrain.grid.cells
    own = terrain.instance.nets[number].channel_class
    layers = layers_of(panel)
    radius = tables.thread(port.thread).tap_drill / 2
    found = np.zeros(plane, dtype=bool)
    for count, layer in enumerate(layers):
        if not thread_fits(panel, port, layer):
            continue
        passed = {count, *(layers.index(one) for one in bore_layers(panel, port.on, layer, radius, 0.0))}
        may = ~fixed[own, count * plane : (count + 1) * plane]
        for one in passed:
            may &= ~fixed[k, one * plane : (one + 1) * plane]
        found |= may
    return found
