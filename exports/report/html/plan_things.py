"""What the page's plan can point at: channels and ports in flow order, what belongs to each, what is told of it.

*Token*: a short name that stands at everything in the page that tells of the same thing: its outline in the plan, rows
of tables, findings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from exports.pictures.svg import View, path_of
from exports.report.html.blocks import Table, table_of
from exports.tables.advice_tables import drop_rows
from exports.tables.panel_tables import channel_rows, port_rows
from exports.wording.figures import show_band, show_mm, show_place
from exports.wording.finding_words import channel_names, port_names
from geom.frame import EDGES, INTO
from geom.outline import Loop, Point, outline_circle, outline_rectangle
from geom.standards import tables
from geom.words import count_of, join_names
from layouts.closing.wet_regions import outline_channel
from layouts.faces import layers_of
from layouts.nets import PUMP_OUTLET, TANK_OUTLET
from layouts.plan import Channel, PlacedPort, Plan

RIM = 1.5
"""How far the outline of a port stands off its bore, [mm]."""


@dataclass(frozen=True, slots=True)
class Thing:
    """A channel or a port.

    Parameters
    ----------
    token : str
        "channel-1", "port-3".
    kind : {"channel", "port"}
    feature : str
        As the solids name it: "channel feed", "port fill G1/4".
    names : tuple of str
        All names under which findings speak of it.
    said : str
        What is told when it is pointed at.
    lights : tuple of str
        Tokens of what belongs to it, its own first.
    outline : str
        SVG path data in the plan's picture units.
    """

    token: str
    kind: str
    feature: str
    names: tuple[str, ...]
    said: str
    lights: tuple[str, ...]
    outline: str


def channel_token(number: int) -> str:
    """Return the token of a channel by its number from 1."""
    return f"channel-{number}"


def port_tokens(plan: Plan) -> dict[str, str]:
    """Return the token of each port by its name."""
    return {port.name: f"port-{k}" for k, port in enumerate(plan.routed.ports, 1)}


def part_tokens(plan: Plan) -> dict[str, str]:
    """Return the token of each part by its name."""
    return {part.name: f"part-{k}" for k, part in enumerate(plan.panel.parts, 1)}


def list_things(plan: Plan, view: View) -> tuple[Thing, ...]:
    """Return channels and ports in flow order: each channel behind the ports that it starts at.

    Parameters
    ----------
    plan : Plan
    view : View
        Of the plan's picture.
    """
    by_channel: dict[str, list[PlacedPort]] = {}
    for port in plan.routed.ports:
        by_channel.setdefault(port.channel, []).append(port)
    things: list[Thing] = []
    flows, drops = _flows(plan), {row[0]: row for row in drop_rows(plan)[1:]}
    for number, channel in enumerate(plan.routed.channels, 1):
        ports = by_channel.pop(channel.name, [])
        before = [port for port in ports if port.role == "outlet"]
        things += [_port(plan, view, port) for port in before]
        things.append(_channel(plan, view, number, channel, ports, flows, drops))
        things += [_port(plan, view, port) for port in ports if port not in before]
    things += [_port(plan, view, port) for ports in by_channel.values() for port in ports]
    return tuple(things)


def light_table(plan: Plan, things: tuple[Thing, ...]) -> dict[str, dict[str, object]]:
    """Return for every token what lights up with it, and what is told: ready for JSON.

    Parameters
    ----------
    plan : Plan
    things : tuple of Thing
    """
    table: dict[str, dict[str, object]] = {
        thing.token: {"lights": list(thing.lights), "said": thing.said, "feature": thing.feature}
        for thing in things
    }
    ports = port_tokens(plan)
    for name, token in part_tokens(plan).items():
        own = [ports[port.name] for port in plan.routed.ports if port.part == name]
        table[token] = {"lights": [token, *own], "said": f'part "{name}"', "feature": ""}
    return table


def _flows(plan: Plan) -> dict[str, dict[str, str]]:
    heads, *rows = channel_rows(plan)
    return {row[0]: dict(zip(heads, row, strict=True)) for row in rows}


def _channel(
    plan: Plan,
    view: View,
    number: int,
    channel: Channel,
    ports: list[PlacedPort],
    flows: dict[str, dict[str, str]],
    drops: dict[str, tuple[str, ...]],
) -> Thing:
    token, ports_by_name = channel_token(number), port_tokens(plan)
    flow = flows[channel.name]
    said = [f'channel {number}, "{channel.name}"']
    if channel.name in drops:
        _, drop, band, *_ = drops[channel.name]
        said.append(
            f"{flow['flow']} {show_band(plan.flowing.band)}, {flow['velocity']}, drop {drop} kPa {band}".strip()
        )
    else:
        said.append("coolant stands in it")
    said.append(
        f"{flow['length']} long, {show_mm(channel.width)} mm wide, {show_mm(channel.depth)} mm deep, "
        f"{count_of(channel_bends(plan, channel), 'bend')}"
    )
    said.append(_tell_ends(channel, {port.name for port in ports if port.role == "outlet"}))
    outlines = [loop for layer in layers_of(plan.panel) for loop in outline_channel(channel, 0.0, layer)]
    parts = part_tokens(plan)
    beside = [parts[port.part] for port in ports if port.part in parts]
    lights = dict.fromkeys((token, *(ports_by_name[port.name] for port in ports), *beside))
    return Thing(
        token,
        "channel",
        f"channel {channel.name}",
        channel_names(channel),
        "; ".join(said),
        tuple(lights),
        path_of(tuple(outlines), view),
    )


def _tell_ends(channel: Channel, outlets: set[str]) -> str:
    """Return what a channel leads from and to; what it joins where no coolant comes in."""
    sources = [end for end in channel.ends if end in outlets or end in (TANK_OUTLET, PUMP_OUTLET)]
    sinks = [end for end in channel.ends if end not in sources]
    if not sources or not sinks:
        return f"joins {_quote(channel.ends)}"
    return f"from {_quote(sources)} to {_quote(sinks)}"


def _quote(names: Sequence[str]) -> str:
    return join_names([f'"{name}"' for name in names])


def channel_bends(plan: Plan, channel: Channel) -> int:
    """Return how many bends a channel has."""
    return next(flow.bends for flow in plan.flowing.channels if flow.channel == channel.name)


def _port(plan: Plan, view: View, port: PlacedPort) -> Thing:
    token = port_tokens(plan)[port.name]
    numbers = {channel.name: k for k, channel in enumerate(plan.routed.channels, 1)}
    part = part_tokens(plan).get(port.part)
    number = numbers.get(port.channel)
    into = "the tank" if number is None else f'channel {number}, "{port.channel}"'
    where = f"{port.on} edge" if port.on in EDGES else f"{port.on} face"
    said = f'port "{port.name}": {port.thread} in the {where} at {show_place(port.at)}; '
    if port.is_shut:
        said += f"opens into {into}; closed in use"
    elif port.role == "inlet":
        said += f'coolant leaves the panel here, from {into} to "{port.part}"'
    else:
        said += f'coolant comes in here, from "{port.part}" into {into}'
    lights = (
        token,
        *(() if number is None else (channel_token(number),)),
        *(() if part is None else (part,)),
    )
    names = port_names(port)
    name = names[0]
    return Thing(token, "port", name, names, said, lights, path_of((_outline_port(port),), view))


def _outline_port(port: PlacedPort) -> Loop:
    """Return what a port covers in plan: its collar, or its bore from an edge."""
    thread = tables.thread(port.thread)
    if port.on not in EDGES:
        return outline_circle(port.foot, thread.collar / 2)
    dx, dy, _ = INTO[port.on]
    half = thread.tap_drill / 2 + RIM
    mouth: Point = (port.at[0], port.at[1])
    tip = (mouth[0] + dx * port.depth, mouth[1] + dy * port.depth)
    xs = sorted((mouth[0], tip[0])) if dx else [mouth[0] - half, mouth[0] + half]
    ys = sorted((mouth[1], tip[1])) if dy else [mouth[1] - half, mouth[1] + half]
    return outline_rectangle(xs[0], ys[0], xs[1], ys[1], 0.0)


def tell_ports(plan: Plan) -> Table:
    """Return the table of ports with thread and place, each with what it joins.

    Parameters
    ----------
    plan : Plan
    """
    heads, *rows = port_rows(plan)
    numbers = {channel.name: str(k) for k, channel in enumerate(plan.routed.channels, 1)}
    left = len(heads) - 3
    told = [(*heads[:left], "channel", *heads[left:])]
    for port, row in zip(plan.routed.ports, rows, strict=True):
        told.append((*row[:left], numbers.get(port.channel, port.channel), *row[left:]))
    (table,) = table_of(
        told,
        "Ports, seen from the front, from the lower left corner",
        left + 1,
        list(port_tokens(plan).values()),
    )
    return table
