"""How the panel stands as it is installed: heights along `up`, its tilt, and the way down to the pump."""

from __future__ import annotations

import math

from geom.outline import Point
from layouts.clearance import channel_z
from layouts.nets import PUMP_INLET, TANK_OUTLET
from layouts.panel import Panel
from layouts.plan import Channel, Routed

Point3 = tuple[float, float, float]

FLAT_SINE = 0.05
"""In-plane part of `up` under which the panel lies flat and heights in it mean nothing."""


def tilt_degrees(panel: Panel) -> float:
    """Return the angle between the panel's y and up as it is installed, [deg]."""
    return math.degrees(math.acos(max(-1.0, min(1.0, panel.up[1]))))


def lies_flat(panel: Panel) -> bool:
    """Return whether the panel lies so flat that heights in its plane mean nothing."""
    return math.hypot(panel.up[0], panel.up[1]) < FLAT_SINE


def height_of(panel: Panel, point: Point) -> float:
    """Return a plan point's height as installed, [mm]."""
    return panel.up[0] * point[0] + panel.up[1] * point[1]


def rise_along(up: Point3, point: Point3) -> float:
    """Return how high a point of the body stands along `up`, [mm]."""
    return up[0] * point[0] + up[1] * point[1] + up[2] * point[2]


def place_at(panel: Panel, point: Point) -> Point3:
    """Return a plan point at the channels' mid-depth, [mm]."""
    z0, z1 = channel_z(panel)
    return (point[0], point[1], (z0 + z1) / 2)


def find_feed(routed: Routed) -> Channel | None:
    """Return the channel from the tank's outlet to the pump's inlet; None where there is none."""
    for channel in routed.channels:
        if TANK_OUTLET in channel.ends and PUMP_INLET in channel.ends:
            return channel
    return None
