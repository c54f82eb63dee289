"""The plan for the local page: what stands where, what flows in it, and which key of the file places it.

*Thing*: what can be pointed at, with an id of two parts: "port:NAME", "channel:NAME", "clear:NUMBER" (of the file's
keep-clear regions, from 0), "tank", "pump". Lengths are mm in the panel frame, y up; "path" is SVG path data in mm
with y down from the panel's top edge (`View(1, height)`).
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from exports.pictures.svg import View, path_of, track_of
from exports.wording.figures import show_band, show_banded, show_mm, show_place
from exports.wording.flow_scales import lay_flow_scales
from exports.wording.places import round_number, round_place
from geom.frame import EDGES
from geom.outline import Point, round_corners
from geom.standards import tables
from geom.units import kpa, l_min
from layouts.closing.wet_regions import outline_channel
from layouts.faces import layers_of
from layouts.panel import Panel, Port
from layouts.place import pump_reach
from layouts.plan import Channel, ChannelFlow, Flowing, Layer, Leg, PlacedPort, Routed, Sealed


def thing_id(kind: str, name: str | int = "") -> str:
    """Return the id of a thing: "port:fill", "clear:0", "tank"."""
    return kind if name == "" else f"{kind}:{name}"


def plan_document(panel: Panel, routed: Routed, flowing: Flowing, sealed: Sealed | None) -> dict[str, Any]:
    """Return a plan as the page draws it.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing
    sealed : Sealed or None
        None where cords and screws are not placed yet.

    Returns
    -------
    dict
        Ready for JSON.
    """
    flows = {flow.channel: flow for flow in flowing.channels}
    ports = {port.name: port for port in panel.ports}
    both = len({run.layer for one in routed.channels for run in one.runs}) > 1
    return {
        "name": panel.name,
        "width": panel.width,
        "height": panel.height,
        "corner_radius": panel.corner_radius,
        "pitch": panel.pitch,
        "most_velocity": panel.rules.most_velocity_m_s,
        "scales": lay_flow_scales(flowing),
        "channels": [_channel(panel, one, flows.get(one.name), flowing, both) for one in routed.channels],
        "ports": [_port(panel, one, ports.get(one.name)) for one in routed.ports],
        "tank": _tank(panel, routed),
        "pump": _pump(panel, routed),
        "clears": [
            {"id": thing_id("clear", k), "name": one.name, "box": round_place(one.box), "line": one.line}
            for k, one in enumerate(panel.keep_clear)
        ],
        "cords": [] if sealed is None else _cords(panel, sealed),
        "screws": [] if sealed is None else [round_place(at) for at in sealed.screws],
        "front_screws": [] if sealed is None else [round_place(at) for at in sealed.front_screws],
    }


def _channel(
    panel: Panel, channel: Channel, flow: ChannelFlow | None, flowing: Flowing, both: bool
) -> dict[str, Any]:
    """Return a channel; `both`: the panel has channels in both faces, so that each tells its own."""
    view = View(1.0, panel.height)
    legs = {leg.leg: leg for leg in flow.legs} if flow is not None else {}
    flows = flow is not None and flow.flow_m3_s > 0.0
    said = f"{channel.name}: {show_mm(channel.width)} mm wide, {show_mm(channel.depth)} mm deep"
    told = {"flow": "-", "velocity": "-", "drop": "-"}
    if flow is not None and flows:
        told = {
            "flow": show_banded(l_min(flow.flow_m3_s), flowing.band),
            "velocity": show_banded(flow.velocity_m_s, flowing.band),
            "drop": show_banded(kpa(flow.drop_pa), flow.band),
        }
        said += (
            f", {flow.length:.0f} mm long, {told['flow']} L/min, {told['velocity']} m/s, "
            f"drop {told['drop']} kPa {show_band(flow.band)}"
        ).rstrip()
    if both:
        faces = {run.layer for run in channel.runs}
        said += ", in both faces" if len(faces) > 1 else f", in the {faces.pop()} face"
    return {
        "id": thing_id("channel", channel.name),
        "name": channel.name,
        "width": channel.width,
        "depth": channel.depth,
        "bend_radius": channel.bend_radius,
        "ends": list(channel.ends),
        "own_width": channel.name in dict(panel.channel.own),
        "kept": any(route.channel == channel.name for route in panel.keep_routes),
        "outlines": {
            layer: path_of(tuple(outline_channel(channel, 0.0, layer)), view)
            for layer in layers_of(panel)
            if any(run.layer == layer for run in channel.runs)
        },
        "legs": [
            {
                "layer": layer,
                "points": [round_place(point) for point in points],
                "path": track_of(round_corners(points, channel.bend_radius), view),
                "flow_l_min": round_number(l_min(legs[leg.name].flow_m3_s)) if leg.name in legs else 0.0,
                "velocity_m_s": round_number(legs[leg.name].velocity_m_s) if leg.name in legs else 0.0,
                "drop_kpa": round_number(kpa(legs[leg.name].drop_pa)) if leg.name in legs else 0.0,
            }
            for leg in channel.legs
            for layer, points in _split_at_holes(leg)
        ],
        "holes": [round_place(at) for at in channel.holes],
        "flow_l_min": round_number(l_min(flow.flow_m3_s)) if flow is not None else 0.0,
        "velocity_m_s": round_number(flow.velocity_m_s) if flow is not None else 0.0,
        "drop_kpa": round_number(kpa(flow.drop_pa)) if flow is not None else 0.0,
        "length_mm": round_number(flow.length) if flow is not None else 0.0,
        "told": told,
        "said": said,
    }


def _split_at_holes(leg: Leg) -> list[tuple[Layer, tuple[Point, ...]]]:
    """Return a leg's pieces between its through holes, each in its layer: a turn at a hole is no bend."""
    cuts = (0, *leg.holes, len(leg.points) - 1)
    layer: Layer = leg.layer
    pieces: list[tuple[Layer, tuple[Point, ...]]] = []
    for first, last in pairwise(cuts):
        # A hole may stand at a leg's very end.
        if last > first:
            pieces.append((layer, leg.points[first : last + 1]))
        layer = "front" if layer == "back" else "back"
    return pieces


def _port(panel: Panel, placed: PlacedPort, port: Port | None) -> dict[str, Any]:
    """Return a port; `port` is that of the file, None for a bleed or drain that the plan adds."""
    thread = tables.thread(placed.thread)
    movable = port is not None and placed.role != "fill"
    region: list[float] | None = None
    if port is not None and port.within is not None:
        region = round_place(port.within)
    elif port is not None and port.between is not None:
        region = round_place(port.between)
    on = f"{placed.on} edge" if placed.on in EDGES else f"{placed.on} face"
    return {
        "id": thing_id("port", placed.name),
        "name": placed.name,
        "part": placed.part,
        "role": placed.role,
        "on": placed.on,
        "thread": placed.thread,
        "at": round_place(placed.at[:2]),
        "foot": round_place(placed.foot),
        "bore_radius": round_number(thread.tap_drill / 2),
        "collar_radius": round_number(thread.collar / 2),
        "spanner_radius": round_number(thread.spanner_radius),
        "depth": round_number(placed.depth),
        "channel": thing_id("channel", placed.channel) if placed.channel != "tank" else "tank",
        "pinned": bool(port is not None and _is_pinned(port)),
        "region": region,
        "movable": movable,
        "key": "" if port is None else port.key,
        "line": 0 if port is None else port.line,
        "said": f"port {placed.name}: {placed.thread} in the {on} at {show_place(placed.at)}",
    }


def _is_pinned(port: Port) -> bool:
    """Return whether a port has no choice: a place, or a span along an edge of no length."""
    return port.at is not None or (port.between is not None and port.between[0] == port.between[1])


def _tank(panel: Panel, routed: Routed) -> dict[str, Any]:
    tank, placed = panel.tank, routed.tank
    return {
        "id": "tank",
        "kind": tank.kind,
        "box": None if placed.box is None else round_place(placed.box),
        "corner_radius": round_number(placed.corner_radius),
        "outlet": round_place(placed.outlet),
        "posts": [round_place(at) for at in placed.posts],
        "post_diameter": placed.post_diameter,
        "pinned": tank.at is not None,
        "region": None if tank.within is None else round_place(tank.within),
        "movable": tank.kind == "pocket",
        "line": tank.line,
        "said": "tank, a vessel of its own" if placed.box is None else f"tank, {_tell_box(placed.box)}",
    }


def _pump(panel: Panel, routed: Routed) -> dict[str, Any]:
    pump, placed = panel.pump, routed.pump
    # Without a name of its own it is called "pump".
    name = "pump" if pump.used in ("", "pump") else f"pump {pump.used}"
    return {
        "id": "pump",
        "name": pump.used,
        "on": pump.on,
        "inlet": round_place(placed.inlet),
        "outlet": round_place(placed.outlet),
        "inlet_radius": round_number(pump.inlet_bore / 2),
        "outlet_radius": round_number(pump.outlet_bore / 2),
        "turn_deg": placed.turn_deg,
        "turns": list(pump.turns),
        "seat_radius": round_number(pump.seat_diameter / 2),
        "reach": round_number(pump_reach(panel)),
        "screws": [round_place(at) for at in placed.screws],
        "pinned": pump.at is not None,
        "region": None if pump.within is None else round_place(pump.within),
        "movable": True,
        "line": pump.line,
        "said": (
            f"{name}, inlet at ({show_mm(placed.inlet[0])}, {show_mm(placed.inlet[1])}) mm, "
            f"turned {placed.turn_deg} deg"
        ),
    }


def _cords(panel: Panel, sealed: Sealed) -> list[dict[str, Any]]:
    view = View(1.0, panel.height)
    return [
        {
            "layer": loop.layer,
            "width": round_number(loop.groove_width),
            "path": track_of(loop.path, view) + ("Z" if loop.closed else ""),
        }
        for loop in sealed.loops
    ]


def _tell_box(box: tuple[float, ...]) -> str:
    x0, y0, x1, y1 = box
    return (
        f"{show_mm(x1 - x0)} × {show_mm(y1 - y0)} mm, lower left corner at ({show_mm(x0)}, {show_mm(y0)}) mm"
    )
