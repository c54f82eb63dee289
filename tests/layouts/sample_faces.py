"""The hand-made sample with a channel that crosses another in the front face. All numbers are invented.

Block a's outlet stands under the channel that leaves the pump; its coolant crosses that channel in the front face
and passes through a hole (o) to the back one::

    +--------------------------------------+
    |  radiator        fill                |
    |  in     out    +------------+        |
    |  |--b    +-----|    tank    |        |
    |  |             +-----+------+        |
    |  +-------o            |              |
    |          :            |              |
    |     a----:---T---- out  in           |     : front face, all else back face
    |          a   b           |           |
    +------------------------drain---------+
"""

from __future__ import annotations

from dataclasses import replace

from geom.outline import Point
from geom.standards.tables import thread
from layouts.clearance import port_axis_z, port_bore_length
from layouts.faces import front_face_z
from layouts.panel import Closing, Panel
from layouts.plan import Channel, Junction, Layer, Leg, Routed, Run
from tests.layouts.sample_routed import BEND, CHANNEL_DEPTH, CHANNEL_WIDTH, sample_panel, sample_routed

BODY, COVER = 24.0, 10.0
HOLE: Point = (60.0, 70.0)
CROSSING: Point = (60.0, 40.0)
FEET: dict[str, Point] = {
    "block a inlet": (35.0, 40.0),
    "block b inlet": (85.0, 20.0),
    "block a outlet": (60.0, 20.0),
    "block b outlet": (50.0, 95.0),
}


def sample_faces(closing: Closing = "cord", body: float = BODY) -> tuple[Panel, Routed]:
    """Return the panel with channels in both faces of its body, and its places and routes."""
    panel = sample_panel(closing)
    pump = replace(panel.pump, outlet_bore=6.0)
    panel = replace(
        panel,
        name=f"two faces {closing}",
        make=replace(panel.make, body=body, cover=COVER),
        channel=replace(panel.channel, layers=2),
        pump=replace(pump, choices=(replace(pump.choices[0], outlet_bore=6.0),)),
    )
    routed = sample_routed(closing)
    routed = replace(
        routed,
        channels=tuple(
            {"pump - blocks": _to_blocks(), "blocks - radiator": _from_blocks()}.get(channel.name, channel)
            for channel in routed.channels
        ),
    )
    for name in FEET:
        routed = move_port(panel, routed, name, FEET[name], "front" if name == "block a outlet" else "back")
    axis = port_axis_z(panel, thread("G1/4"), "edge")
    ports = tuple(
        replace(port, at=(port.at[0], port.at[1], axis)) if port.on in ("top", "bottom") else port
        for port in routed.ports
    )
    return panel, replace(routed, ports=ports)


def move_port(panel: Panel, routed: Routed, name: str, foot: Point, layer: Layer) -> Routed:
    """Return the routing with a front port moved, its channels left as they are."""
    length = port_bore_length(panel, "front", 0.0, CHANNEL_WIDTH, layer)
    return replace(
        routed,
        ports=tuple(
            replace(port, at=(*foot, front_face_z(panel)), foot=foot, depth=length, layer=layer)
            if port.name == name
            else port
            for port in routed.ports
        ),
    )


def with_channel(routed: Routed, name: str, channel: Channel) -> Routed:
    """Return the routing with another channel of that name."""
    return replace(routed, channels=tuple(channel if each.name == name else each for each in routed.channels))


def _to_blocks() -> Channel:
    name, at = "pump - blocks", (85.0, 40.0)
    main, branch = ((125.0, 40.0), FEET["block a inlet"]), FEET["block b inlet"]
    junction = f"{name} junction 1"
    legs = (
        Leg(f"{name} 1", "pump outlet", junction, (main[0], at)),
        Leg(f"{name} 2", junction, "block b inlet", (at, branch)),
        Leg(f"{name} 3", junction, "block a inlet", (at, main[1])),
    )
    tee = Junction(junction, at, (f"{name} 1", f"{name} 3"), f"{name} 2")
    ends = ("pump outlet", "block b inlet", "block a inlet")
    return Channel(
        name, ends, (Run(main), Run((branch, at))), legs, (tee,), CHANNEL_WIDTH, CHANNEL_DEPTH, BEND
    )


def _from_blocks() -> Channel:
    name, at, corner, end = "blocks - radiator", (30.0, 95.0), (30.0, 70.0), (30.0, 120.0)
    start, branch = FEET["block a outlet"], FEET["block b outlet"]
    junction = f"{name} junction 1"
    legs = (
        Leg(f"{name} 1", "block a outlet", junction, (start, HOLE, corner, at), "front", (1,)),
        Leg(f"{name} 2", "block b outlet", junction, (branch, at)),
        Leg(f"{name} 3", junction, "radiator inlet", (at, end)),
    )
    tee = Junction(junction, at, (f"{name} 1", f"{name} 3"), f"{name} 2")
    runs = (Run((start, HOLE), "front"), Run((HOLE, corner, end)), Run((branch, at)))
    ends = ("block a outlet", "block b outlet", "radiator inlet")
    return Channel(name, ends, runs, legs, (tee,), CHANNEL_WIDTH, CHANNEL_DEPTH, BEND, (HOLE,))
