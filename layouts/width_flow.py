"""The loop's flow by the widths of its channels, without solving the loop anew for each.

What the loop asks for at another flow is worked out with the flow split between its branches as it was: the true
split takes least energy, so a small error in the split makes an error in the head of the second order only. A
channel's own drop is worked out at each width, every term in full.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.network import Edge
from layouts.hydraulics.pump import CurvePoints, head_pressure_pa, read_cubic, read_head
from layouts.hydraulics.segments import list_terms
from layouts.hydraulics.terms import TermStack, stack_terms
from layouts.loop_network import (
    build_network,
    find_coolant,
    find_end_ports,
    list_leg_edges,
    name_leg_edge,
    name_part_edge,
)
from layouts.panel import Panel
from layouts.plan import Channel, ChannelFlow, Flowing, PlacedPort, Routed

FLOW_RATIOS = tuple(1.09**k for k in range(-16, 17))
"""Flows over the flow reached at which the loop is worked out, a quarter to four times, [-]."""

FAR = 0.05
"""Change of flow from which on a channel's power is taken between both flows: turns' losses follow no one power."""

MOST_NEWTON = 30
"""Steps; the curves are smooth and the first guess near, so some five do."""


@dataclass(frozen=True, slots=True, eq=False)
class _Demand:
    """What edges ask of the pump at another flow of the loop, with the flow split as it was.

    Parameters
    ----------
    stack : TermStack
    shares : (edges,) float
        Flow of each edge over the loop's, signed, [-].
    tees_pa : float
        Of the tees, each weighed by the share of flow that it acts on, at the flow `base_m3_s`, [Pa].
    base_m3_s : float
        [m3/s]
    coolant : Coolant
    """

    stack: TermStack
    shares: Floats
    tees_pa: float
    base_m3_s: float
    coolant: Coolant

    def ask(self, flow_m3_s: float) -> tuple[float, float]:
        """Return the pressure asked for [Pa], and how it rises with the flow [Pa s/m3]."""
        drops, slopes = self.stack.evaluate(self.shares * flow_m3_s, self.coolant)
        share = self.shares[self.stack.place]
        ratio = flow_m3_s / self.base_m3_s
        tees = self.tees_pa * ratio**2
        return float(share @ drops) + tees, float(share**2 @ slopes) + 2.0 * tees / flow_m3_s


@dataclass(frozen=True, slots=True)
class _Loop:
    """What pump and loop do at any flow, [m3/s]: the pump's points, and what the loop asks for as a curve, [Pa]."""

    points: CurvePoints
    pascal: float
    flows: tuple[float, ...]
    asked: tuple[float, ...]
    slopes: tuple[float, ...]

    def find_spare(self, flow_m3_s: float) -> tuple[float, float]:
        """Return what the pump gives over what the loop asks for [Pa], and its slope [Pa s/m3]."""
        head, fall = read_head(self.points, flow_m3_s)
        asked, rise = read_cubic(flow_m3_s, self.flows, self.asked, self.slopes)
        return self.pascal * head - asked, self.pascal * fall - rise


@dataclass(frozen=True, slots=True)
class WidthFlow:
    """The loop's flow by the widths of its channels.

    Parameters
    ----------
    loop : _Loop
    reached_m3_s : float
        With the widths as routed, [m3/s].
    widths : dict of str to float
        As routed, of every channel that carries flow, [mm].
    powers : dict of str to callable
        Of the same channels: their drop at the flow reached [Pa], and the power of the flow that it goes with up to
        another flow, by width [mm] and that flow [m3/s].
    """

    loop: _Loop
    reached_m3_s: float
    widths: dict[str, float]
    powers: dict[str, Callable[[float, float], tuple[float, float]]]

    def find_flow(self, widths: Mapping[str, float]) -> float:
        """Return the flow of the loop with some channels of other widths, within a quarter to four times, [m3/s].

        Parameters
        ----------
        widths : mapping of str to float
            [mm]; channels that are not named stay as they are.

        Returns
        -------
        float
        """
        near = self._meet(widths, self.reached_m3_s)
        if abs(near / self.reached_m3_s - 1.0) < FAR:
            return near
        return self._meet(widths, near)

    def _meet(self, widths: Mapping[str, float], towards_m3_s: float) -> float:
        """Return where pump and loop meet with the powers of the changed channels taken up to another flow, [m3/s]."""
        changed = [
            (sign, *self.powers[name](at, towards_m3_s))
            for name, width in widths.items()
            for sign, at in ((1.0, width), (-1.0, self.widths[name]))
            if width != self.widths[name]
        ]
        flow = self.reached_m3_s
        for _ in range(MOST_NEWTON):
            value, slope = self.loop.find_spare(flow)
            for sign, drop, power in changed:
                share = sign * drop * (flow / self.reached_m3_s) ** power
                value -= share
                slope -= power * share / flow
            found = min(max(flow - value / slope, self.loop.flows[0]), self.loop.flows[-1])
            if abs(found - flow) <= 1e-9 * flow:
                break
            flow = found
        return flow


def follow_widths(panel: Panel, routed: Routed, flowing: Flowing) -> WidthFlow:
    """Return the loop's flow by the widths of its channels.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    WidthFlow

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    whole = _weigh_loop(panel, routed, flowing)
    ports = find_end_ports(panel, routed)
    carrying = [
        (channel, flow)
        for channel, flow in zip(routed.channels, flowing.channels, strict=True)
        if flow.flow_m3_s > 0.0
    ]
    return WidthFlow(
        loop=_trace_loop(panel, flowing, whole),
        reached_m3_s=flowing.flow_m3_s,
        widths={channel.name: channel.width for channel, _ in carrying},
        powers={
            channel.name: _fit_powers(_weigh_widths(panel, channel, flow, ports, whole), flowing.flow_m3_s)
            for channel, flow in carrying
        },
    )


def _weigh_loop(panel: Panel, routed: Routed, flowing: Flowing) -> _Demand:
    """Return what the whole loop asks for, its pump left out."""
    flows = {name_part_edge(part.part): part.flow_m3_s for part in flowing.parts}
    drops = {name_part_edge(part.part): part.drop_pa for part in flowing.parts}
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        for leg, leg_flow in zip(channel.legs, flow.legs, strict=True):
            name = name_leg_edge(channel.name, leg.name)
            flows[name] = leg_flow.flow_m3_s
            drops[name] = math.copysign(1.0, leg_flow.flow_m3_s) * leg_flow.drop_pa
    edges = [edge for edge in build_network(panel, routed).edges if edge.name in flows]
    base = flowing.flow_m3_s
    shares = np.array([flows[edge.name] for edge in edges]) / base
    stack = _stack_edges(edges)
    coolant = find_coolant(panel)
    terms = stack.find_drops(shares * base, coolant)
    whole = float(shares @ np.array([drops[edge.name] for edge in edges]))
    return _Demand(stack, shares, whole - float(shares[stack.place] @ terms), base, coolant)


def _weigh_widths(
    panel: Panel, channel: Channel, flow: ChannelFlow, ports: dict[str, PlacedPort], whole: _Demand
) -> Callable[[float], _Demand]:
    """Return what a channel asks for, by its width; each width is worked out once."""
    base, coolant = whole.base_m3_s, whole.coolant
    shares = np.array([leg.flow_m3_s for leg in flow.legs]) / base
    drops = np.array([math.copysign(1.0, leg.flow_m3_s) * leg.drop_pa for leg in flow.legs])

    @cache
    def stack_width(width: float) -> TermStack:
        return _stack_edges(list_leg_edges(panel, replace(channel, width=width), ports))

    stack = stack_width(channel.width)
    terms = stack.find_drops(shares * base, coolant)
    # What the legs' elements leave of the drops is the tees', whose area is the channel's.
    tees_pa = float(shares @ drops) - float(shares[stack.place] @ terms)

    def weigh_width(width: float) -> _Demand:
        return _Demand(stack_width(width), shares, tees_pa * (channel.width / width) ** 2, base, coolant)

    return weigh_width


def _stack_edges(edges: Sequence[Edge]) -> TermStack:
    return stack_terms(
        [
            (i, term)
            for i, edge in enumerate(edges)
            for element in edge.elements
            for term in list_terms(element)
        ]
    )


def _trace_loop(panel: Panel, flowing: Flowing, whole: _Demand) -> _Loop:
    # A part's drop may change its slope at the ends of its points: a knot on either side keeps the corner.
    corners = {
        point / share / whole.base_m3_s
        for part, flow in zip(panel.parts, flowing.parts, strict=True)
        if (share := abs(flow.flow_m3_s) / whole.base_m3_s) > 0.0
        for point, _ in (part.resistance[0], part.resistance[-1])
    }
    ratios = {*FLOW_RATIOS, *(corner * side for corner in corners for side in (1.0 - 1e-6, 1.0 + 1e-6))}
    flows = tuple(
        whole.base_m3_s * ratio for ratio in sorted(ratios) if FLOW_RATIOS[0] <= ratio <= FLOW_RATIOS[-1]
    )
    asked, slopes = zip(*(whole.ask(flow) for flow in flows), strict=True)
    return _Loop(panel.pump.curve, head_pressure_pa(1.0, whole.coolant), flows, asked, slopes)


def _fit_powers(
    demand: Callable[[float], _Demand], reached_m3_s: float
) -> Callable[[float, float], tuple[float, float]]:
    """Return a channel's drop at the flow reached [Pa] and the power of the flow up to another, by width and flow."""

    @cache
    def fit_here(width: float) -> tuple[float, float]:
        drop, slope = demand(width).ask(reached_m3_s)
        return drop, slope * reached_m3_s / drop

    def fit_power(width: float, towards_m3_s: float) -> tuple[float, float]:
        drop, power = fit_here(width)
        if abs(towards_m3_s / reached_m3_s - 1.0) < FAR:
            return drop, power
        there, _ = demand(width).ask(towards_m3_s)
        return drop, math.log(there / drop) / math.log(towards_m3_s / reached_m3_s)

    return fit_power
