"""What width each channel needs, and what widening it would gain.

The loop is not solved anew for each width. What it asks for at another flow is worked out with the flow split
between its branches as it was: the true split takes least energy, so a small error in the split makes an error
in the head of the second order only. A channel's own drop is worked out at each width, every term in full.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from layouts.advice import ChannelSize
from layouts.clearance import feed_width
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.network import Edge
from layouts.hydraulics.pump import CurvePoints, head_pressure_pa, read_cubic, read_head
from layouts.hydraulics.segments import list_terms
from layouts.hydraulics.terms import TermStack, stack_terms
from layouts.installed import find_feed
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
from layouts.widen import find_widest_all

HARD_VELOCITY_M_S = 2.5
"""Common practice, no source: hard look above 2 to 2.5 m/s."""

STEP_MM = 0.5
"""Widths are advised in whole multiples of it, [mm]."""

LEAST_GAIN = 0.005
"""A millimetre of width that brings less of the loop's flow is next to nothing, [-]."""

KEPT_FLOW = 0.95
"""Share of the flow reached that a channel must keep where the file asks for no flow, [-]."""

FLOW_RATIOS = tuple(1.09**k for k in range(-16, 17))
"""Flows over the flow reached at which the loop is worked out, a quarter to four times, [-]."""

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


def size_channels(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[ChannelSize, ...]:
    """Return the size of each channel that carries flow.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    tuple of ChannelSize
        In the order of the channels. The feed is never advised narrower than the pump's inlet asks for.

    Raises
    ------
    OutOfRange
        A coolant outside its table.

    Source
    ------
    2.5 m/s, 0.5 % for a millimetre, 95 % of the flow: common practice, no source.
    """
    reached = flowing.flow_m3_s
    whole = _weigh_loop(panel, routed, flowing)
    loop = _trace_loop(panel, flowing, whole)
    wanted = reached if panel.wanted_flow_m3_s is None else panel.wanted_flow_m3_s
    kept = KEPT_FLOW * reached if panel.wanted_flow_m3_s is None else wanted
    most = min(panel.width, panel.height)
    widest = find_widest_all(panel, routed, most)
    ports = find_end_ports(panel, routed)
    feed = find_feed(routed)
    sizes = []
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        if flow.flow_m3_s == 0.0:
            continue
        demand = _weigh_widths(panel, channel, flow, ports, whole)
        find_flow = _solve_widths(demand, channel.width, loop, reached)
        wanted_mm2_m_s = 1e6 * wanted * flow.flow_m3_s / reached
        hard, slow = (
            wanted_mm2_m_s / (channel.depth * limit)
            for limit in (HARD_VELOCITY_M_S, min(HARD_VELOCITY_M_S, panel.rules.most_velocity_m_s))
        )
        least = _find_narrowest(hard, most, channel.width, _keep_flow(find_flow, kept))
        recommended = None
        if least is not None:
            recommended = _find_narrowest(max(least, slow), most, channel.width, _gain_little(find_flow))
        floor = feed_width(panel) if channel is feed else 0.0
        sizes.append(
            ChannelSize(
                channel=channel.name,
                width_mm=channel.width,
                least_mm=None if least is None else max(least, floor),
                recommended_mm=None if recommended is None else max(recommended, floor),
                widest_mm=widest[channel.name],
                gain=find_flow(widest[channel.name]) / reached - 1.0,
            )
        )
    return tuple(sizes)


def _keep_flow(find_flow: Callable[[float], float], kept_m3_s: float) -> Callable[[float], bool]:
    """Return whether the pump still pushes a flow round the loop, by the width of one channel."""
    return lambda width: find_flow(width) >= kept_m3_s


def _gain_little(find_flow: Callable[[float], float]) -> Callable[[float], bool]:
    """Return whether a millimetre more brings next to nothing, by the width of one channel."""
    return lambda width: find_flow(width + 1.0) < (1.0 + LEAST_GAIN) * find_flow(width)


def _weigh_loop(panel: Panel, routed: Routed, flowing: Flowing) -> _Demand:
    """Return what the whole loop asks for, its pump left out."""
    flows = {name_part_edge(part.part): part.flow_m3_s for part in flowing.parts}
    drops = {name_part_edge(part.part): part.drop_pa for part in flowing.parts}
    for channel, flow in zip(routed.channels, flowing.channels, strict=True):
        for leg, leg_flow in zip(channel.legs, flow.legs, strict=True):
            name = name_leg_edge(channel, leg)
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


def _solve_widths(
    demand: Callable[[float], _Demand], width_mm: float, loop: _Loop, reached_m3_s: float
) -> Callable[[float], float]:
    """Return the loop's flow by the width of one channel, [m3/s], within the flows of `loop`."""

    @cache
    def fit_power(width: float) -> tuple[float, float]:
        """Return a channel's drop at the flow reached [Pa] and the power of the flow that it goes with."""
        drop, slope = demand(width).ask(reached_m3_s)
        return drop, slope * reached_m3_s / drop

    def read_power(width: float, flow: float) -> tuple[float, float]:
        drop, power = fit_power(width)
        value = drop * (flow / reached_m3_s) ** power
        return value, power * value / flow

    @cache
    def find_flow(width: float) -> float:
        flow = reached_m3_s
        for _ in range(MOST_NEWTON):
            value, slope = loop.find_spare(flow)
            was, was_slope = read_power(width_mm, flow)
            now, now_slope = read_power(width, flow)
            step = (value + was - now) / (slope + was_slope - now_slope)
            found = min(max(flow - step, loop.flows[0]), loop.flows[-1])
            if abs(found - flow) <= 1e-9 * flow:
                break
            flow = found
        return flow

    return find_flow


def _find_narrowest(low: float, high: float, near: float, fits: Callable[[float], bool]) -> float | None:
    """Return the narrowest whole multiple of `STEP_MM` from `low` to `high` that fits, [mm]; None without one.

    A width wider than one that fits is taken to fit. The search starts at `near`.
    """
    first, most = math.ceil(low / STEP_MM - 1e-9), math.floor(high / STEP_MM + 1e-9)
    if first > most:
        return None
    last, leap = min(max(round(near / STEP_MM), first), most), 1
    while not fits(last * STEP_MM):
        if last == most:
            return None
        first, last, leap = last + 1, min(last + leap, most), 2 * leap
    while first < last:
        middle = (first + last) // 2
        if fits(middle * STEP_MM):
            last = middle
        else:
            first = middle + 1
    return last * STEP_MM
