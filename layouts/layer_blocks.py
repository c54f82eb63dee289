"""What channels in the body's front face keep off in plan, for the router; `layouts.terrain` knows the back's.

Ports and the pump's outlet are the router's own choice and not among them. They are terminals of the layers into
which `layouts.detail.thread_fits`; their bores take their cells in every layer that `layouts.faces.bore_layers`
names, and in each `layouts.clearance.joint_half` tells what they take of its joint (with width 0 where the channel
lies in the other layer).
"""

from __future__ import annotations

import numpy as np

from geom.frame import EDGES, SAME_MM
from geom.standards import tables
from layouts.clearance import clearances_of, edge_mouth, off_tank, port_axis_z, tank_z
from layouts.faces import comes_near, face_z, layer_z, passes_joint
from layouts.grid import Grid
from layouts.panel import Panel, Port
from layouts.place import Placement
from layouts.plan import Layer
from layouts.tank import find_fill


def layer_blocks(
    panel: Panel, grid: Grid, placement: Placement, width: float
) -> list[tuple[Layer, np.ndarray, str]]:
    """Return what blocks nodes of the front layer for channels.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    placement : Placement
    width : float
        Of the channels, [mm].

    Returns
    -------
    list of (layer, mask, name)
        `mask` is (columns * rows,) bool, of one layer's cells; `name` is for messages. Empty for one layer.
    """
    if panel.channel.layers == 1:
        return []
    gaps, half = clearances_of(panel), width / 2
    blocks: list[tuple[Layer, np.ndarray, str]] = []

    def block(near: np.ndarray, name: str) -> None:
        blocks.append(("front", near, name))

    block(grid.distance_to_edge(panel) < gaps.edge_gap + half - SAME_MM, "the panel's edge")
    for clear in panel.keep_clear:
        reach = half + max(gaps.seal_reach, gaps.solid_gap)
        block(grid.distance_to_box(clear.box) < reach - SAME_MM, f'keep-clear region "{clear.name}"')
    if placement.box is not None:
        reach = off_tank(panel)
        if reach > 0:
            block(grid.distance_to_box(placement.box) < half + reach - SAME_MM, "the tank")
    fill = find_fill(panel, placement.box)
    if fill is not None and panel.tank.fill is not None:
        reach = _off_bore(panel, panel.tank.fill, sum(tank_z(panel)) / 2)
        if reach > 0:
            block(grid.distance_to_line(fill.mouth, fill.end) < half + reach - SAME_MM, "the fill port")
    outlet = panel.tank.outlet
    if outlet is not None:
        reach = _off_bore(panel, outlet, sum(layer_z(panel, "back")) / 2)
        if reach > 0:
            line = grid.distance_to_line(edge_mouth(panel, outlet.on, placement.top), placement.top)
            block(line < half + reach - SAME_MM, "the tank's outlet port")
    if passes_joint(panel, panel.pump.on, "front"):
        reach = half + gaps.own_gap + panel.pump.inlet_bore / 2
        block(grid.distance_to_point(placement.inlet) < reach - SAME_MM, "the pump's inlet bore")
    return blocks


def _off_bore(panel: Panel, port: Port, end_z: float) -> float:
    """Return how far front-layer channels keep off a bore that ends in the tank or the feed; 0: not at all."""
    radius, gaps = tables.thread(port.thread).tap_drill / 2, clearances_of(panel)
    if passes_joint(panel, port.on, "front"):
        return radius + gaps.own_gap
    if port.on in EDGES:
        axis = port_axis_z(panel, tables.thread(port.thread), port.key)
        z = (axis - radius, axis + radius)
    else:
        z = (face_z(panel, port.on), end_z)
    return radius + gaps.solid_gap if comes_near(panel, z, "front") else 0.0
