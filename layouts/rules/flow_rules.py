"""Design rules of the flow: speed, sharing between parallel parts."""

from __future__ import annotations

import math
from itertools import pairwise

from geom.findings import Finding
from geom.frame import Vec
from geom.units import kpa, l_min, show_number
from layouts.advice import GroupBalance
from layouts.closing.wet_regions import pump_layer
from layouts.cures import Cure
from layouts.detail import name_hole
from layouts.faces import hole_bore
from layouts.file.offers import offer_changes
from layouts.file_changes import set_part_key
from layouts.installed import place_at
from layouts.legs import list_pieces
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import ChannelFlow, Flowing, Routed
from layouts.pump_fit import show_apart
from layouts.rules.findings import make_finding
from layouts.sizes import HARD_VELOCITY_M_S

UNEVEN_SHARE = 0.20

LEAST_POWER, MOST_POWER = 0.9, 2.6
"""Of the flow, with which a part's drop rises between two of its points, [-].

Laminar flow has 1, turbulent flow 1.75 to 2, and the step up between them more: common practice, no source.
"""

LOOP_DIGITS = 2
"""Of the loop's flow before and with restrictors; more where the two would read alike."""

BORE_DIGITS = 6
"""Of a bore that can be written into the file as it stands, in steps of `layouts.groups.BORE_STEP`."""


def check_velocity(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether the coolant is slow enough in channels, through holes and pump bores (`flow.fast`)."""
    places: list[tuple[str, float, Vec, str]] = []
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        layer, points = list_pieces(channel.legs[_busiest(flow)])[0]
        middle = place_at(panel, points[len(points) // 2], layer)
        places.append((f"channel {channel.name}", flow.velocity_m_s, middle, "a wider or deeper channel"))
        # A hole is as wide as its channel, so that a deep channel's is the narrower of the two.
        across = math.pi / 4 * (hole_bore(channel.width) * 1e-3) ** 2
        places += [
            (
                name_hole(channel, leg.points[leg.holes[0]]),
                abs(leg_flow.flow_m3_s) / across,
                place_at(panel, leg.points[leg.holes[0]]),
                "a wider channel",
            )
            for leg, leg_flow in zip(channel.legs, flow.legs, strict=True)
            if leg.holes
        ]
    for name, bore, at, layer in (
        ("pump inlet bore", panel.pump.inlet_bore, routed.pump.inlet, pump_layer(routed, PUMP_INLET)),
        ("pump outlet bore", panel.pump.outlet_bore, routed.pump.outlet, pump_layer(routed, PUMP_OUTLET)),
    ):
        velocity = flowing.flow_m3_s / (math.pi / 4 * (bore * 1e-3) ** 2)
        places.append((name, velocity, place_at(panel, at, layer), "a larger bore"))
    found = []
    for name, velocity, place, cure in places:
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
                place,
                (name,),
            )
        )
    return tuple(found)


def check_uneven(panel: Panel, flowing: Flowing, groups: tuple[GroupBalance, ...]) -> tuple[Finding, ...]:
    """Ask whether the branches of parallel groups get like flows (`flow.uneven`)."""
    found = []
    for group in groups:
        sizes = tuple(abs(flow) for flow in group.flows_m3_s)
        low, high = min(sizes), max(sizes)
        share = 1.0 - low / high if high > 0 else 0.0
        if share <= UNEVEN_SHARE:
            continue
        least, most = (_name_branch(group.branches[sizes.index(size)]) for size in (low, high))
        if group.restrictors:
            cure = _name_restrictors(panel, flowing, group, groups, least)
        else:
            cure = Cure(f"throttle {most}; or {_help_branch(least)}")
        found.append(
            make_finding(
                "flow.uneven",
                "caution",
                f"{least} gets {show_number(l_min(low), 2)} L/min, {share * 100:.0f} % less than the "
                f"{show_number(l_min(high), 2)} L/min of {most} beside it (limit {UNEVEN_SHARE * 100:.0f} %)",
                cure.text,
                share * 100,
                UNEVEN_SHARE * 100,
                "%",
                None,
                tuple(part for branch in group.branches for part in branch),
                offer_changes(panel, cure),
            )
        )
    return tuple(found)


def _name_restrictors(
    panel: Panel, flowing: Flowing, group: GroupBalance, groups: tuple[GroupBalance, ...], least: str
) -> Cure:
    """Return what restrictors even a group and cost the loop; where they cost too much, what comes before them.

    The flows told are those with the restrictors of all groups, so all of them are named, the group's own first.
    """
    keys = _list_keys(group)
    beside = " and ".join(_list_keys(other) for other in groups if other is not group and other.restrictors)
    if beside:
        keys += f", together with {beside}"
    each = show_number(l_min(max(group.even_flows_m3_s)), 2)
    within = f"within {math.ceil(100 * group.even_spread_most)} %"
    even_loop, wanted = group.even_loop_flow_m3_s, panel.wanted_flow_m3_s
    now, then = show_apart(l_min(flowing.flow_m3_s), l_min(even_loop), LOOP_DIGITS)
    if wanted is None or even_loop >= wanted:
        told = [one for other in groups for one in other.restrictors]
        return Cure(
            f"write {keys}, which evens them to {each} L/min {within} and takes the loop from {now} to "
            f"{then} L/min; drill small and open up step by step while measuring; or {_help_branch(least)}",
            tuple(set_part_key(panel, one.part, "restrictor", _write_bore(one.orifice_mm)) for one in told),
        )
    reached, asked = show_apart(l_min(even_loop), l_min(wanted), LOOP_DIGITS)
    # Of the two roundings of one flow the longer holds in both comparisons.
    then = max(then, reached, key=len)
    return Cure(
        f"first give {least} a wider leg or a part of less resistance, or choose a stronger pump: {keys} would "
        f"even them to {each} L/min {within}, but take the loop from {now} to {then} L/min, under the wanted "
        f"{asked} L/min"
    )


def _list_keys(group: GroupBalance) -> str:
    """Return the restrictors of a group as they are written into the file."""
    return " and ".join(
        f'restrictor = "{_write_bore(one.orifice_mm)}" for "{one.part}"' for one in group.restrictors
    )


def _write_bore(bore: float) -> str:
    """Return a restrictor's bore as it stands in the file, [mm]."""
    return f"{show_number(bore, BORE_DIGITS)} mm"


def _help_branch(least: str) -> str:
    return f"put {least} nearer to the branch, or give it a wider channel"


def _name_branch(parts: tuple[str, ...]) -> str:
    """Return a branch as a message names it, by the parts it holds."""
    return " with ".join(f'"{part}"' for part in parts)


def check_part_curves(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether each part's drop rises with a power of the flow that coolant obeys (`part.curve`)."""
    found = []
    for index, part in enumerate(panel.parts, 1):
        powers = [
            (math.log(high[1] / low[1]) / math.log(high[0] / low[0]), low, high)
            for low, high in pairwise(part.resistance)
        ]
        odd = [row for row in powers if not LEAST_POWER <= row[0] <= MOST_POWER]
        if not odd:
            continue
        power, low, high = max(odd, key=lambda row: max(LEAST_POWER - row[0], row[0] - MOST_POWER))
        limit = LEAST_POWER if power < LEAST_POWER else MOST_POWER
        flows = show_apart(l_min(low[0]), l_min(high[0]), 3)
        drops = show_apart(kpa(low[1]), kpa(high[1]), 3)
        line = panel.lines.get(f"part.{index}.resistance")
        where = "" if line is None else f" in line {line} of the file"
        found.append(
            make_finding(
                "part.curve",
                "caution",
                f'the drop of "{part.name}" rises with the flow to the power of {show_number(power, 2)} from '
                f"{flows[0]} to {flows[1]} L/min ({drops[0]} to {drops[1]} kPa), "
                f"{'less' if power < LEAST_POWER else 'more'} than {limit:g}",
                f"check the units and the points of its resistance{where}: a drop rises with the flow in laminar "
                "flow, with nearly its square in turbulent",
                power,
                limit,
                "power of the flow",
                None,
                (part.name,),
            )
        )
    return tuple(found)


def _busiest(flow: ChannelFlow) -> int:
    return max(range(len(flow.legs)), key=lambda k: abs(flow.legs[k].flow_m3_s))
