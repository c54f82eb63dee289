"""Air that the flow should carry: the pieces of the loop where coolant runs downwards, and bores that hold bubbles."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from geom.errors import OutOfRange
from geom.frame import INTO, SAME_MM, Vec
from geom.outline import Point
from geom.standards import tables
from layouts.detail import name_hole, name_port
from layouts.faces import hole_bore
from layouts.feed import find_fill_coolant
from layouts.filling.values import Carry, CarryVerdict, LockedBore
from layouts.hydraulics.bubbles import (
    bubble_rise_m_s,
    coolant_lock_diameter_m,
    escarameia_velocity_m_s,
    sure_velocity_m_s,
    wisner_velocity_m_s,
)
from layouts.hydraulics.friction import hydraulic_diameter
from layouts.hydraulics.network import solve_network
from layouts.installed import find_feed, place_at, rise_along
from layouts.legs import list_pieces
from layouts.loop_network import build_network, find_coolant, name_leg_edge
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import Channel, Flowing, Layer, Leg, Routed

LEVEL_SINE = 1e-3
"""Sine of a slope under which a piece lies level, [-]."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight piece of a leg along its flow, at mid-depth.

    Parameters
    ----------
    start, end : (float, float, float)
        [mm]
    layer : {"back", "front"}
        That of its start.
    hole : bool
        Whether it is a through hole.
    """

    start: Vec
    end: Vec
    layer: Layer
    hole: bool


def find_carries(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[Carry, ...]:
    """Return every piece of a channel where coolant runs downwards, and whether it takes air with it.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    tuple of Carry
        Channel by channel, leg by leg, along the flow. Pieces that fall one after the other, with level ones between
        them, are one. The feed is left out, where air rises back into the tank as it should, and what carries no flow;
        falls no higher than the channel is wide, which are no pockets; and the bores of ports and pump, with which the
        hoses go on.

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    full = _solve_full(panel, routed, flowing)
    feed = find_feed(routed)
    found = []
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        if channel is feed:
            continue
        for leg, leg_flow in zip(channel.legs, flow.legs, strict=True):
            if leg_flow.flow_m3_s == 0.0:
                continue
            fastest = abs(full.get(name_leg_edge(channel.name, leg.name), leg_flow.flow_m3_s))
            flows = (abs(leg_flow.flow_m3_s), fastest)
            falls = list_falls(panel, channel, leg, leg_flow.flow_m3_s > 0)
            found += [_judge_fall(panel, channel, leg, fall, flows) for fall in falls]
    return tuple(found)


def list_falls(panel: Panel, channel: Channel, leg: Leg, forward: bool) -> tuple[tuple[Piece, ...], ...]:
    """Return the pieces of a leg that fall one after the other along its flow, by more than the channel's width.

    Parameters
    ----------
    panel : Panel
    channel : Channel
    leg : Leg
        Of this channel.
    forward : bool
        Whether coolant runs from its start to its end.
    """
    falls = list_descents(panel, leg, forward)
    return tuple(fall for fall in falls if height_of_fall(panel, fall) > channel.width + SAME_MM)


def list_descents(panel: Panel, leg: Leg, forward: bool) -> tuple[tuple[Piece, ...], ...]:
    """Return the pieces of a leg that fall one after the other along its flow, however little; level ends left out.

    Parameters
    ----------
    panel, leg, forward
        As `list_falls`.
    """
    runs: list[list[Piece]] = [[]]
    for piece in trace_leg(panel, leg, forward):
        if sine_down(panel.up, piece) < -LEVEL_SINE:
            runs.append([])
        else:
            runs[-1].append(piece)
    falls = []
    for run in runs:
        steep = [k for k, piece in enumerate(run) if sine_down(panel.up, piece) > LEVEL_SINE]
        if steep:
            falls.append(tuple(run[steep[0] : steep[-1] + 1]))
    return tuple(falls)


def height_of_fall(panel: Panel, fall: tuple[Piece, ...]) -> float:
    """Return by how much a fall's end lies under its start, [mm]."""
    return rise_along(panel.up, fall[0].start) - rise_along(panel.up, fall[-1].end)


def find_locked_bores(panel: Panel, routed: Routed) -> tuple[LockedBore, ...]:
    """Return the channels and bores that air must pass upwards, in which a bubble stays by its surface tension.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of LockedBore
        Channels in flow order, each with its through holes, then ports with their restrictors, then the pump's bores.
        A channel counts by its smaller side. A restrictor counts unless its port's hose falls.

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    least = coolant_lock_diameter_m(find_fill_coolant(panel)) * 1e3
    found: list[tuple[str, Vec, float]] = []
    for channel in routed.channels:
        pieces = [piece for leg in channel.legs for piece in trace_leg(panel, leg, forward=True)]
        steep = [piece for piece in pieces if abs(sine_down(panel.up, piece)) > LEVEL_SINE]
        along = next((piece for piece in steep if not piece.hole), None)
        if along is not None:
            found.append((f"channel {channel.name}", _middle(along), min(channel.width, channel.depth)))
        found += [
            (name_hole(channel, piece.start[:2]), _middle(piece), hole_bore(channel.width))
            for piece in steep
            if piece.hole
        ]
    restrictors = {
        part.inlet.name: part.restrictor
        for part in panel.parts
        if part.restrictor is not None and part.inlet.hose != "falls"
    }
    for port in routed.ports:
        if _leans(panel, INTO[port.on]):
            found.append((name_port(port), port.at, tables.thread(port.thread).tap_drill))
        if port.name in restrictors:
            found.append((f"restrictor in {name_port(port)}", port.at, restrictors[port.name]))
    if _leans(panel, INTO[panel.pump.on]):
        pump = panel.pump
        found += [
            (f"{PUMP_INLET} bore", place_at(panel, routed.pump.inlet), pump.inlet_bore),
            (
                f"{PUMP_OUTLET} bore",
                place_at(panel, routed.pump.outlet, routed.pump.outlet_layer),
                pump.outlet_bore,
            ),
        ]
    return tuple(LockedBore(name, at, bore, least) for name, at, bore in found if bore < least)


def _solve_full(panel: Panel, routed: Routed, flowing: Flowing) -> dict[str, float]:
    """Return the flow of each leg with the pump at its most speed, [m3/s]; empty where it runs at that already.

    Where no flow is found there, as beyond the end of a curve, it is that of the operating point.
    """
    full = at_full_speed(panel)
    if full is panel:
        return {}
    try:
        solution = solve_network(
            build_network(full, routed), find_coolant(panel), start_flow_m3_s=flowing.flow_m3_s
        )
    except OutOfRange:
        return {}
    return solution.flow_m3_s


def at_full_speed(panel: Panel) -> Panel:
    """Return the panel with its pump at its most speed; the same where it runs at that already."""
    most = full_speed_rpm(panel)
    running = panel.pump.run_at_rpm
    if most is None or running is None or running >= most:
        return panel
    return replace(
        panel, pump=replace(panel.pump, curve=panel.pump.choice(panel.pump.used).curve, run_at_rpm=None)
    )


def full_speed_rpm(panel: Panel) -> float | None:
    """Return the most speed of the pump that is used, [rpm]; None where it runs at one only."""
    used = next((choice for choice in panel.pump.choices if choice.name == panel.pump.used), None)
    return None if used is None or used.speed is None else used.speed[1]


def _judge_fall(
    panel: Panel, channel: Channel, leg: Leg, fall: tuple[Piece, ...], flows_m3_s: tuple[float, float]
) -> Carry:
    """Return a fall as it is judged: by that piece of it that falls short most."""
    lengths = {
        False: (channel.width * channel.depth, hydraulic_diameter(channel.width, channel.depth)),
        True: (math.pi / 4 * hole_bore(channel.width) ** 2, hole_bore(channel.width)),
    }
    slowest: Carry | None = None
    for hole in (False, True):
        slopes = [sine_down(panel.up, piece) for piece in fall if piece.hole == hole]
        if not slopes or max(slopes) <= LEVEL_SINE:
            continue
        area, across = lengths[hole]
        slope = math.degrees(math.asin(min(1.0, max(slopes))))
        narrow = across if hole else min(channel.width, channel.depth)
        carry = _weigh(panel, channel, leg, fall, slope, area, across, narrow, flows_m3_s)
        if (
            slowest is None
            or carry.velocity_m_s / carry.clears_m_s[1] < slowest.velocity_m_s / slowest.clears_m_s[1]
        ):
            slowest = carry
    assert slowest is not None, "a fall has a piece that falls"
    return slowest


def _weigh(
    panel: Panel,
    channel: Channel,
    leg: Leg,
    fall: tuple[Piece, ...],
    slope_deg: float,
    area: float,
    across: float,
    narrow: float,
    flows_m3_s: tuple[float, float],
) -> Carry:
    # Panels are bled cold, when bubbles lock in the widest bores.
    coolant = find_fill_coolant(panel)
    velocity, full = (flow / (area * 1e-6) for flow in flows_m3_s)
    clears = sorted(law(across * 1e-3, slope_deg) for law in (wisner_velocity_m_s, escarameia_velocity_m_s))
    surely = sure_velocity_m_s(across * 1e-3)
    locks = narrow * 1e-3 < coolant_lock_diameter_m(coolant)
    start, end = fall[0].start, fall[-1].end
    return Carry(
        channel=channel.name,
        leg=leg.name,
        top=start[:2],
        foot=end[:2],
        layer=fall[0].layer,
        falls=height_of_fall(panel, fall),
        slope_deg=slope_deg,
        bore=across,
        velocity_m_s=velocity,
        full_velocity_m_s=full,
        clears_m_s=(clears[0], clears[1]),
        surely_m_s=surely,
        rise_m_s=bubble_rise_m_s(narrow * 1e-3, coolant),
        verdict=judge_carry(velocity, full, clears[0], surely, locks),
    )


def judge_carry(
    velocity_m_s: float, full_m_s: float, least_m_s: float, surely_m_s: float, locks: bool
) -> CarryVerdict:
    """Return whether air is carried down.

    Parameters
    ----------
    velocity_m_s, full_m_s : float
        At the operating point and with the pump at its most speed, [m/s].
    least_m_s, surely_m_s : float
        From which the formula that asks least says so, and from which both do on any slope, [m/s].
    locks : bool
        Whether the bore is narrower than the lock diameter.
    """
    if velocity_m_s >= surely_m_s:
        return "carried"
    if full_m_s >= surely_m_s:
        return "carried at full speed"
    if locks:
        return "locks"
    return "may be carried" if max(velocity_m_s, full_m_s) >= least_m_s else "rises back"


def trace_leg(panel: Panel, leg: Leg, forward: bool) -> tuple[Piece, ...]:
    """Return the straight pieces of a leg along its flow, its through holes among them.

    Parameters
    ----------
    panel : Panel
    leg : Leg
    forward : bool
        Whether coolant runs from its start to its end.
    """
    pieces: list[Piece] = []
    last: tuple[Layer, Point] | None = None
    for layer, points in list_pieces(leg):
        if last is not None:
            pieces.append(_piece(panel, last, (layer, points[0]), hole=True))
        pieces += [_piece(panel, (layer, a), (layer, b), hole=False) for a, b in pairwise(points) if a != b]
        last = (layer, points[-1])
    if forward:
        return tuple(pieces)
    # A hole's other end lies in the other layer.
    turned = [replace(piece, start=piece.end, end=piece.start, layer=_end_layer(piece)) for piece in pieces]
    return tuple(turned[::-1])


def _piece(panel: Panel, a: tuple[Layer, Point], b: tuple[Layer, Point], hole: bool) -> Piece:
    return Piece(place_at(panel, a[1], a[0]), place_at(panel, b[1], b[0]), a[0], hole)


def _end_layer(piece: Piece) -> Layer:
    if not piece.hole:
        return piece.layer
    return "front" if piece.layer == "back" else "back"


def sine_down(up: Vec, piece: Piece) -> float:
    """Return the sine of a piece's slope along its flow, positive downwards, [-]."""
    long = math.dist(piece.start, piece.end)
    if long <= SAME_MM:
        return 0.0
    return (rise_along(up, piece.start) - rise_along(up, piece.end)) / long


def _middle(piece: Piece) -> Vec:
    (x0, y0, z0), (x1, y1, z1) = piece.start, piece.end
    return ((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2)


def _leans(panel: Panel, direction: Vec) -> bool:
    """Return whether a bore along a direction has an upper and a lower end as the panel is installed."""
    return abs(rise_along(panel.up, direction)) > LEVEL_SINE
