"""Which z everything has: outer faces, joints, the layers of channels, and what a bore passes on its way.

*Layer*: the face of the body that a channel is cut into, "back" or "front". *Joint*: where the body meets a cover;
it is named as its layer. A bore from a face passes the joint of that face, and the layer of that face too where it
opens into the other one. What front-layer channels keep off in plan is in `layouts.layer_blocks`.
"""

from __future__ import annotations

import math

from geom.frame import EDGES, SAME_MM, Face
from geom.standards import tables
from layouts.panel import Closing, Panel
from layouts.plan import Layer

HOLE_SHARE = 0.95
"""Bore of a through hole over its channel's width: its wall never touches the channel's round end."""

COVERS = ("cover", "front cover")
"""What the covers over the back and the front joint are called."""

BORE_STEP = 0.1
"""Bores of through holes are whole multiples of it, [mm]."""


def layers_of(panel: Panel) -> tuple[Layer, ...]:
    """Return the layers that the panel's channels may lie in."""
    return ("back", "front") if panel.channel.layers == 2 else ("back",)


def joints_of(panel: Panel) -> tuple[Layer, ...]:
    """Return the joints between body and covers; none in one piece."""
    return () if panel.make.closing == "one-piece" else layers_of(panel)


def front_face_z(panel: Panel) -> float:
    """Return z of the front face of the whole, [mm]: the body's, or its front cover's."""
    return panel.make.body + (panel.make.cover if panel.channel.layers == 2 else 0.0)


def material_of(panel: Panel, part: str) -> str:
    """Return the row of the materials table that a part is made of: covers may have their own.

    Parameters
    ----------
    panel : Panel
    part : str
        The blank's name: "body", "cover", "front cover", "panel left" and so on.
    """
    return panel.make.cover_row if part in COVERS else panel.make.material


def sheet_material(panel: Panel, on: Face) -> str:
    """Return the material of the sheet under the front or back face: the cover's, or the body's where it has none."""
    return material_of(panel, cover_name(on) if on in joints_of(panel) else "body")


def face_z(panel: Panel, on: Face) -> float:
    """Return z of the front or back face of the whole, [mm]."""
    if on == "front":
        return front_face_z(panel)
    return 0.0 if panel.make.closing == "one-piece" else -panel.make.cover


def cover_name(layer: Face) -> str:
    """Return what the cover over the joint of a layer is called: "cover", or "front cover"."""
    return COVERS[1] if layer == "front" else COVERS[0]


def joint_z(panel: Panel, layer: Layer) -> float:
    """Return z of a joint, [mm]."""
    return panel.make.body if layer == "front" else 0.0


def layer_z(panel: Panel, layer: Layer) -> tuple[float, float]:
    """Return the z at which channels of a layer start and end, [mm]: from its joint, or about mid-thickness."""
    body, depth = panel.make.body, panel.channel.depth
    if panel.make.closing == "one-piece":
        return (body - depth) / 2, (body + depth) / 2
    return (body - depth, body) if layer == "front" else (0.0, depth)


def sheet_end(panel: Panel, on: Face) -> float:
    """Return z up to which the sheet under the front or back face is whole, [mm].

    A cover ends at its joint; a body without a cover on that face ends at the grooves in its back.
    """
    if on == "back":
        return panel.make.body if panel.make.closing == "one-piece" else 0.0
    if panel.channel.layers == 2:
        return panel.make.body
    return groove_depth(panel.make.closing, panel.make.cord)


def groove_depth(closing: Closing, cord: float) -> float:
    """Return the depth of the cord's groove, [mm]; 0 without a cord."""
    return tables.cord(cord).groove_depth if closing == "cord" else 0.0


def floor_thickness(body: float, depth: float) -> float:
    """Return how much of the body stands between channels that cross in its two faces, [mm]."""
    return body - 2 * depth


def least_body(depth: float, least_wall: float) -> float:
    """Return the least thickness of a body with channels in both faces, [mm]: two depths and a wall between."""
    return 2 * depth + least_wall


def hole_bore(width: float) -> float:
    """Return the bore of a through hole of a channel of that width, [mm]."""
    return max(BORE_STEP, round(math.floor(HOLE_SHARE * width / BORE_STEP + SAME_MM) * BORE_STEP, 6))


def hole_z(panel: Panel) -> tuple[float, float]:
    """Return the z between which a through hole is bored, [mm]: from mid-depth of one layer to the other's."""
    return panel.channel.depth / 2, panel.make.body - panel.channel.depth / 2


def passes_joint(panel: Panel, on: Face, layer: Layer) -> bool:
    """Return whether bores from a face pass the joint of a layer."""
    return on == layer and layer in joints_of(panel)


def comes_near(panel: Panel, z: tuple[float, float], layer: Layer) -> bool:
    """Return whether what lies between two z must keep off the channels of a layer in plan.

    It need not where the least wall stands between them. With one layer all does.
    """
    if panel.channel.layers == 1:
        return True
    low, high = layer_z(panel, layer)
    return max(low - z[1], z[0] - high) < panel.rules.least_wall - SAME_MM


def bore_z(panel: Panel, on: Face, layer: Layer) -> tuple[float, float]:
    """Return the z between which a bore from front or back into a channel of a layer lies, [mm]."""
    face, end = face_z(panel, on), sum(layer_z(panel, layer)) / 2
    return min(face, end), max(face, end)


def bore_layers(panel: Panel, on: Face, layer: Layer, radius: float, axis_z: float) -> tuple[Layer, ...]:
    """Return the layers in which a bore keeps off channels not its own.

    Parameters
    ----------
    panel : Panel
    on : Face
        Where it is bored from.
    layer : {"back", "front"}
        That of the channel which it opens into.
    radius, axis_z : float
        Of an edge bore, [mm]; not used on front and back.

    Returns
    -------
    tuple of {"back", "front"}
        `layer` among them.
    """
    z = (axis_z - radius, axis_z + radius) if on in EDGES else bore_z(panel, on, layer)
    return tuple(each for each in layers_of(panel) if each == layer or comes_near(panel, z, each))
