"""How the panel stands as it is installed: heights along `up`, its tilt, and the way down to the pump."""

from __future__ import annotations

import math

from geom.frame import SAME_MM, Vec
from geom.outline import Point
from layouts.clearance import tank_z
from layouts.faces import layer_z
from layouts.nets import PUMP_INLET, TANK_OUTLET
from layouts.panel import Panel
from layouts.plan import Channel, Layer, Routed

FLAT_SINE = 0.05
"""In-plane part of `up` under which the panel lies flat and heights in it mean nothing."""

TURN_UPRIGHT = 'correct "up" in [panel], or install the panel upright'
"""What to do before anything else where the tank's outlet stands high or the pump is not under it."""


def tilt_degrees(panel: Panel) -> float:
    """Return the angle between the panel's y and up as it is installed, [deg]."""
    return math.degrees(math.acos(max(-1.0, min(1.0, panel.up[1]))))


def lies_flat(panel: Panel) -> bool:
    """Return whether the panel lies so flat that heights in its plane mean nothing."""
    return math.hypot(panel.up[0], panel.up[1]) < FLAT_SINE


def height_of(panel: Panel, point: Point) -> float:
    """Return a plan point's height as installed, [mm]."""
    return panel.up[0] * point[0] + panel.up[1] * point[1]


def rise_along(up: Vec, point: Vec) -> float:
    """Return how high a point of the body stands along `up`, [mm]."""
    return up[0] * point[0] + up[1] * point[1] + up[2] * point[2]


def place_at(panel: Panel, point: Point, layer: Layer = "back") -> Vec:
    """Return a plan point at mid-depth of the channels of a layer, [mm]."""
    z0, z1 = layer_z(panel, layer)
    return (point[0], point[1], (z0 + z1) / 2)


def outlet_stands_high(panel: Panel, routed: Routed) -> bool:
    """Return whether a pocket's outlet stands above its middle as installed, so that it cannot run empty."""
    if routed.tank.box is None or lies_flat(panel):
        return False
    x0, y0, x1, y1 = routed.tank.box
    middle = ((x0 + x1) / 2, (y0 + y1) / 2, sum(tank_z(panel)) / 2)
    return rise_along(panel.up, place_at(panel, routed.tank.outlet)) > rise_along(panel.up, middle) + SAME_MM


def drop_to_inlet(panel: Panel, routed: Routed) -> float:
    """Return how much lower than the tank's outlet the pump's inlet stands as installed, [mm]."""
    return height_of(panel, routed.tank.outlet) - height_of(panel, routed.pump.inlet)


def pump_lies_under(panel: Panel) -> bool:
    """Return whether the pump stands under the panel where it lies flat."""
    return (panel.up[2] < 0) == (panel.pump.on == "front")


def find_feed(routed: Routed) -> Channel | None:
    """Return the channel from the tank's outlet to the pump's inlet; None where there is none."""
    for channel in routed.channels:
        if TANK_OUTLET in channel.ends and PUMP_INLET in channel.ends:
            return channel
    return None
