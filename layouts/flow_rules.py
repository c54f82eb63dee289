"""Design rules of the flow: speed, the pump's curve, sharing between parallel parts, air, heat."""

from __future__ import annotations

import math
from itertools import pairwise

from geom.findings import Finding
from geom.outline import Point
from geom.units import l_min, show_number
from layouts.feed_rules import HOT_C, find_feed, height_of, lies_flat, place_at
from layouts.hydraulics.friction import hydraulic_diameter
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.panel import Panel
from layouts.plan import ChannelFlow, Flowing, Leg, Routed
from layouts.rule_catalogue import make_finding

HARD_VELOCITY_M_S = 2.5
"""Common practice, no source: hard look above 2 to 2.5 m/s."""

CARRY_FROUDE = 1.2
"""V / sqrt(g D) from which air is carried down any slope."""

UNEVEN_SHARE = 0.20
RISE_K = 5.0


def check_velocity(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether the coolant is slow enough in channels and pump bores (`flow.fast`)."""
    places = []
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        leg = channel.legs[_busiest(flow)]
        middle = leg.points[len(leg.points) // 2]
        places.append((f"channel {channel.name}", flow.velocity_m_s, middle, "a wider or deeper channel"))
    for name, bore, at in (
        ("pump inlet bore", panel.pump.inlet_bore, routed.pump.inlet),
        ("pump outlet bore", panel.pump.outlet_bore, routed.pump.outlet),
    ):
        places.append((name, flowing.flow_m3_s / (math.pi / 4 * (bore * 1e-3) ** 2), at, "a larger bore"))
    found = []
    for name, velocity, at, cure in places:
        most = panel.rules.most_velocity_m_s
        hard = velocity > HARD_VELOCITY_M_S
        if velocity <= most and not hard:
            continue
        limit = HARD_VELOCITY_M_S if hard else most
        found.append(
            make_finding(
                "flow.fast",
                "fault" if hard else "caution",
                f"coolant runs at {velocity:.2f} m/s in {name}, more than {limit:g} m/s",
                f"use {cure}, or let the parts of a group share the flow in parallel",
                velocity,
                limit,
                "m/s",
                place_at(panel, at),
                (name,),
            )
        )
    return tuple(found)


def check_beyond(panel: Panel, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether the pump works within its curve (`flow.beyond`)."""
    flow, last = l_min(flowing.flow_m3_s), l_min(panel.pump.curve[-1][0])
    if flow <= last:
        return ()
    return (
        make_finding(
            "flow.beyond",
            "caution",
            f"the loop lets {show_number(flow, 3)} L/min through, more than the {show_number(last, 3)} L/min "
            "where the pump's curve ends",
            "give more points of the pump's curve, or use a smaller pump",
            flow,
            last,
            "L/min",
            None,
            ("pump",),
        ),
    )


def note_choice(panel: Panel) -> tuple[Finding, ...]:
    """Say which curve is used where the file has pumps to choose from (`pump.choice`)."""
    pump = panel.pump
    if len(pump.choices) < 2:
        return ()
    used = f'that of "{pump.used}"'
    others = [f'"{choice.name}"' for choice in pump.choices if choice.name != pump.used]
    compared = f"not compared: {', '.join(others)}" if others else "there is no other to compare"
    return (
        make_finding(
            "pump.choice",
            "note",
            f"the curve used for the flow is {used}, the bores and the seat are those of [pump]; {compared}",
            "to weigh another pump, put its curve, bores and seat into [pump] and run again",
            features=("pump",),
        ),
    )


def check_uneven(panel: Panel, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether parallel parts get like flows (`flow.uneven`)."""
    flows = {part.part: abs(part.flow_m3_s) for part in flowing.parts}
    found = []
    for group in panel.loop:
        if not isinstance(group, tuple):
            continue
        least, most = min(group, key=flows.__getitem__), max(group, key=flows.__getitem__)
        share = 1.0 - flows[least] / flows[most] if flows[most] > 0 else 0.0
        if share <= UNEVEN_SHARE:
            continue
        found.append(
            make_finding(
                "flow.uneven",
                "caution",
                f'"{least}" gets {show_number(l_min(flows[least]), 2)} L/min, {share * 100:.0f} % less than the '
                f'{show_number(l_min(flows[most]), 2)} L/min of "{most}" beside it (limit {UNEVEN_SHARE * 100:.0f} %)',
                f'put "{least}" nearer to the branch, give it a wider channel, or throttle "{most}"',
                share * 100,
                UNEVEN_SHARE * 100,
                "%",
                None,
                group,
            )
        )
    return tuple(found)


def check_air(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether air is carried down where coolant flows downwards (`air.carry`).

    The feed is left out: there air rises back into the tank, as it should.
    """
    if lies_flat(panel):
        return ()
    feed = find_feed(routed)
    found = []
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        if channel is feed:
            continue
        across = hydraulic_diameter(channel.width, channel.depth)
        needs = CARRY_FROUDE * math.sqrt(GRAVITY_M_S2 * across * 1e-3)
        slow = [
            (leg_flow.velocity_m_s, top)
            for leg, leg_flow in zip(channel.legs, flow.legs, strict=True)
            if 0 < leg_flow.velocity_m_s < needs
            and (top := _first_fall(panel, leg, leg_flow.flow_m3_s > 0, channel.width)) is not None
        ]
        if not slow:
            continue
        velocity, top = min(slow)
        found.append(
            make_finding(
                "air.carry",
                "note",
                f"channel {channel.name} runs down at {velocity:.2f} m/s; only from {needs:.2f} m/s is air "
                "surely carried along",
                "tilt the panel while bleeding so that this leg rises, or make the channel narrower",
                velocity,
                needs,
                "m/s",
                place_at(panel, top),
                (f"channel {channel.name}",),
            )
        )
    return tuple(found)


def check_heat(panel: Panel, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask how much the coolant warms in each part (`heat.rise`)."""
    found = []
    for part in flowing.parts:
        behind = panel.coolant.temperature_c + part.rise_k
        hot = part.rise_k > 0 and behind > HOT_C
        if not hot and part.rise_k <= RISE_K:
            continue
        found.append(
            make_finding(
                "heat.rise",
                "caution" if hot else "note",
                f'the coolant warms by {part.rise_k:.1f} K in "{part.part}", to {behind:.0f} °C'
                + (f", above {HOT_C:g} °C" if hot else f"; more than {RISE_K:g} K says that flow is short"),
                "raise the flow through it: a stronger pump, wider channels or fewer parts in series",
                behind if hot else part.rise_k,
                HOT_C if hot else RISE_K,
                "°C" if hot else "K",
                None,
                (part.part,),
            )
        )
    return tuple(found)


def _busiest(flow: ChannelFlow) -> int:
    return max(range(len(flow.legs)), key=lambda k: abs(flow.legs[k].flow_m3_s))


def _first_fall(panel: Panel, leg: Leg, forward: bool, width: float) -> Point | None:
    """Return the top of the first piece that falls along the flow by more than a width, or None."""
    points = leg.points if forward else leg.points[::-1]
    for a, b in pairwise(points):
        if height_of(panel, a) - height_of(panel, b) > width:
            return a
    return None
