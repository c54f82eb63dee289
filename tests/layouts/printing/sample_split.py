"""Panels in one piece with straight and bent channels set by hand, to be split."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from geom.outline import Point
from geom.standards.tables import thread
from layouts.clearance import port_axis_z
from layouts.panel import Panel
from layouts.plan import Channel, Leg, PlacedPort, PlacedPump, PlacedTank, Routed, Run
from tests.layouts.sample_routed import sample_panel, sample_routed

WIDTH, HEIGHT, BODY = 240.0, 150.0, 26.0
CHANNEL, BEND = 7.0, 10.0


def split_panel(room: tuple[float, float, float] = (150.0, 160.0, 150.0), **make: Any) -> Panel:
    """Return a printed panel in one piece; `make` replaces fields of its [make]."""
    panel = sample_panel("one-piece")
    return replace(
        panel,
        width=WIDTH,
        height=HEIGHT,
        make=replace(panel.make, body=BODY, room=room, screw="", **make),
        channel=replace(panel.channel, width=CHANNEL, depth=CHANNEL, bend_radius=BEND),
        keep_clear=(),
        pump=replace(panel.pump, seat_diameter=30.0, seat_depth=1.0, screw_size="M3", screw_circle=36.0),
    )


def split_routed(ways: Sequence[Sequence[Point]], widths: Sequence[float] = ()) -> Routed:
    """Return channels along these polylines, a pump on the right, a separate tank, no ports."""
    channels = []
    for number, way in enumerate(ways, start=1):
        name, points = f"way {number}", tuple(way)
        width = widths[number - 1] if widths else CHANNEL
        legs = (Leg(name, f"{name} start", f"{name} end", points),)
        ends = (f"{name} start", f"{name} end")
        channels.append(Channel(name, ends, (Run(points),), legs, (), width, CHANNEL, BEND))
    screws = tuple((215.0 + x, 75.0 + y) for x in (-12.7, 12.7) for y in (-12.7, 12.7))
    return replace(
        sample_routed("one-piece"),
        ports=(),
        tank=PlacedTank(None, (0.0, 0.0), 0.0),
        pump=PlacedPump((215.0, 75.0), (198.0, 75.0), 180, screws),
        channels=(
            *channels,
            _short("feed", "tank outlet", "pump inlet", ((215.0, 100.0), (215.0, 75.0))),
            _short("out", "pump outlet", "out end", ((198.0, 75.0), (198.0, 100.0))),
        ),
    )


def add_port(panel: Panel, routed: Routed, on: str, foot: Point, name: str = "block inlet") -> Routed:
    """Return the routed panel with one more port on the front or the top, into the first channel."""
    front = on == "front"
    z = panel.make.body if front else port_axis_z(panel, thread("G1/4"), name)
    at = (*foot, z) if front else (foot[0], panel.height, z)
    depth = panel.make.body / 2 if front else panel.height - foot[1] + 3.0
    port = PlacedPort(name, "block", "inlet", "G1/4", on, at, foot, routed.channels[0].name, depth)  # type: ignore[arg-type]
    return replace(routed, ports=(*routed.ports, port))


def _short(name: str, start: str, end: str, points: tuple[Point, ...]) -> Channel:
    return Channel(
        name, (start, end), (Run(points),), (Leg(name, start, end, points),), (), CHANNEL, CHANNEL, BEND
    )


STRAIGHT = (((30.0, 40.0), (180.0, 40.0)), ((30.0, 110.0), (180.0, 110.0)))
"""Two channels from left to right."""
