"""The two ends of each tube in the panel frame, from the panel's placed ports and the parts' ports in the case."""

from __future__ import annotations

import math

from geom.frame import EDGES, INTO, Face, Vec
from layouts.case import Case, MeetingPort
from layouts.detail import SPOT_FACE_DEPTH
from layouts.panel import Panel, Port
from layouts.plan import PlacedPort
from layouts.tubes.values import TubeEnd


def list_meeting_ports(panel: Panel) -> tuple[Port, ...]:
    """Return the parts' ports for which the file gives what they meet, in its order."""
    ports = (port for part in panel.parts for port in (part.inlet, part.outlet))
    return tuple(port for port in ports if port.meets is not None)


def leave_face(on: Face) -> Vec:
    """Return the unit vector out of a face of the panel."""
    x, y, z = INTO[on]
    return (-x + 0.0, -y + 0.0, -z + 0.0)


def panel_end(panel: Panel, port: PlacedPort) -> TubeEnd:
    """Return where a tube ends in the fitting of a port of the panel: counted from the seat of the fitting's collar.

    Parameters
    ----------
    panel : Panel
        With tubing.
    port : PlacedPort
    """
    assert panel.tubing is not None, "a panel with tubes says what they are of"
    out = leave_face(port.on)
    seat = 0.0 if port.on in EDGES else SPOT_FACE_DEPTH
    x, y, z = (a + (panel.tubing.stop - seat) * d for a, d in zip(port.at, out, strict=True))
    return TubeEnd((x, y, z), out)


def part_end(case: Case, meets: MeetingPort) -> TubeEnd:
    """Return where a tube ends in a part's own port, in the panel frame.

    Parameters
    ----------
    case : Case
        How the panel stands in the case.
    meets : MeetingPort
        In the case's frame.
    """
    return TubeEnd(to_panel(case, meets.at), turn_to_panel(case, meets.faces))


def to_panel(case: Case, point: Vec) -> Vec:
    """Return a point of the case's frame in the panel frame, [mm]."""
    x, y, z = (a - o for a, o in zip(point, case.origin, strict=True))
    return turn_to_panel(case, (x, y, z))


def turn_to_panel(case: Case, direction: Vec) -> Vec:
    """Return a direction of the case's frame in the panel frame."""
    right, front = case.right, case.front
    up = (
        front[1] * right[2] - front[2] * right[1],
        front[2] * right[0] - front[0] * right[2],
        front[0] * right[1] - front[1] * right[0],
    )
    x, y, z = (math.fsum(a * d for a, d in zip(axis, direction, strict=True)) for axis in (right, up, front))
    return (x, y, z)
