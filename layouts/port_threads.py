"""How much thread a port's bore holds before the coolant."""

from __future__ import annotations

from geom.frame import EDGES
from layouts.clearance import tank_z
from layouts.detail import SPOT_FACE_DEPTH
from layouts.loop_network import port_bore
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed


def thread_room(panel: Panel, routed: Routed, port: PlacedPort) -> tuple[float, float]:
    """Return how long a port's bore is from its seat, and how much of that has a whole wall, [mm]."""
    if port.channel == "tank" and routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        z0, z1 = tank_z(panel)
        to_tank = {
            "top": port.at[1] - y1,
            "bottom": y0 - port.at[1],
            "left": x0 - port.at[0],
            "right": port.at[0] - x1,
            "front": port.at[2] - z1 - SPOT_FACE_DEPTH,
            "back": z0 - port.at[2] - SPOT_FACE_DEPTH,
        }[port.on]
        return to_tank, to_tank
    if port.on in EDGES:
        return port.depth, port_bore(routed.channel(port.channel), port)
    unbroken = port_bore(routed.channel(port.channel), port) - SPOT_FACE_DEPTH
    return unbroken, unbroken
