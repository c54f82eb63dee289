"""What the pieces of each channel cost the search: the part of the pump's head that they take at the design flow.

A leg with the flow q takes q / Q of its own drop out of the pump's head, Q being the loop's flow: the pump's
power goes into all legs, each by flow times drop. In series that is the drop itself. Summed over all legs it
is the objective of the search, [Pa]: friction along straights and arcs, bends at their radius, through
holes. The turns at ports, pump and tank and the bores there are left out: whichever way a channel takes, it has
the same ones (in two faces a bore's length differs by a depth; that is neglected).

Two things stand in the objective that take nothing of the head, or not just that. The drain carries no flow:
it costs `DRAIN_SHARE` of what the loop's flow would, since it must be short too. A leg whose ends happen to
balance costs `LEAST_SHARE`. And a T depends on which of its legs are in line, which is not known before
it stands: a channel has two less than it has ends, each charged with the mean of what they would take in a row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from layouts.clearance import feed_width
from layouts.design_flow import DesignFlows, find_design_flows
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.segments import Bend, Segment, Straight, drop_pa
from layouts.hydraulics.tees import TeeLeg, loss_tee
from layouts.loop_network import find_coolant, list_hole_elements
from layouts.nets import DRAIN, FEED, ChannelEnd, ChannelNeed, channels_needed
from layouts.panel import Panel
from layouts.plan import Channel
from layouts.routing.instance import Rates

DRAIN_SHARE = 0.1
"""Of the loop's costs, in the drain: short, but not at the price of a bend where coolant flows."""

LEAST_SHARE = 1e-3
"""Of the loop's costs, in a leg without flow: no piece is free, so that none is longer than it must be."""

UNITS_A_STEP = 100.0
"""Least units that the cheapest step costs: rounding to whole ones then errs by half a per cent at most.

The drain's is not among them: what it costs is a wish, not a drop."""

TEE_LEGS: tuple[TeeLeg, TeeLeg] = ("branch", "run")

MOST_UNLIKE_ENDS = 10
"""Ends of a channel up to which each leg is charged at its own flow: the ways to part them double with each."""


@dataclass(frozen=True, slots=True)
class ChannelCosts:
    """What one channel's pieces cost, in whole units.

    Parameters
    ----------
    width : float
        [mm]
    rates : Rates
        At the channel's whole flow.
    leg_rates : tuple of Rates
        As `layouts.routing.instance.Net.leg_rates`; empty where the channel has two ends.
    end_rates : tuple of Rates
        Of the leg at each end.
    """

    width: float
    rates: Rates
    leg_rates: tuple[Rates, ...]
    end_rates: tuple[Rates, ...]


@dataclass(frozen=True, slots=True)
class Costs:
    """What all channels of a panel cost.

    Parameters
    ----------
    unit_pa : float
        One unit of cost: 1, 2 or 5 times a power of ten, [Pa]. Coarse on purpose: the fewer costs there can be,
        the sooner a bound meets one.
    flow_m3_s : float
        Of the loop, for which the costs hold.
    rates : Rates
        At the loop's flow and the usual width.
    feed : float
        Of the feed, units a millimetre.
    channels : dict of str to ChannelCosts
        By channel, the feed left out.
    """

    unit_pa: float
    flow_m3_s: float
    rates: Rates
    feed: float
    channels: dict[str, ChannelCosts]


@dataclass(frozen=True, slots=True)
class _Section:
    """A channel's width [mm] and what its through holes consist of: what its prices are worked out from."""

    panel: Panel
    coolant: Coolant
    width: float
    hole: tuple[Segment, ...]

    def price(self, flow_m3_s: float, share: float) -> Rates:
        """Return what pieces with a flow cost, `share` of what they drop, [Pa]."""
        section, pitch = self.panel.channel, self.panel.pitch
        width, depth, radius = self.width / 1e3, section.depth / 1e3, section.bend_radius / 1e3
        step = drop_pa(Straight(pitch / 1e3, width, depth), flow_m3_s, self.coolant)
        bend = drop_pa(Bend(radius, width, depth), flow_m3_s, self.coolant)
        # A bend's arc is shorter than the corner which the grid's steps go round.
        bend -= 2.0 * section.bend_radius / pitch * step
        return Rates(
            step=share * step,
            bend=share * max(0.0, bend),
            through=share * sum(drop_pa(piece, flow_m3_s, self.coolant) for piece in self.hole),
        )


def find_costs(panel: Panel) -> Costs:
    """Return what the pieces of every channel cost at the design flow.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    Costs

    Raises
    ------
    LayoutError
        As `find_design_flows`.

    Source
    ------
    `hydraulics.friction.friction_factor`, `hydraulics.losses.loss_bend`, `hydraulics.tees.loss_tee`. That a
    leg takes q / Q of its drop: balance of the pump's power.
    """
    flows = find_design_flows(panel)
    coolant = find_coolant(panel)
    loop = flows.loop_m3_s
    usual = _make_section(panel, coolant, panel.channel.width).price(loop, 1.0)
    feed = drop_pa(Straight(1e-3, feed_width(panel) / 1e3, panel.channel.depth / 1e3), loop, coolant)
    priced = {
        need.name: _price_channel(panel, coolant, need, flows)
        for need in channels_needed(panel)
        if need.name != FEED
    }
    steps = [
        rates.step
        for name, one in priced.items()
        for rates in (one.rates, *_parting(one.leg_rates))
        if name != DRAIN
    ]
    unit = _choose_unit(min([usual.step, *steps]) / UNITS_A_STEP)
    return Costs(
        unit_pa=unit,
        flow_m3_s=loop,
        rates=_in_units(usual, unit),
        feed=feed / unit,
        channels={name: _channel_in_units(one, unit) for name, one in priced.items()},
    )


def _price_channel(panel: Panel, coolant: Coolant, need: ChannelNeed, flows: DesignFlows) -> ChannelCosts:
    """Return one channel's costs, [Pa]."""
    width = panel.channel.width_of(need.name)
    loop = flows.loop_m3_s
    if need.name == DRAIN:
        drain = _make_section(panel, coolant, width).price(loop, DRAIN_SHARE)
        return ChannelCosts(width, drain, (), (drain,) * len(need.ends))
    signed = [_end_flow(end, flows) * (1.0 if k < need.sources else -1.0) for k, end in enumerate(need.ends)]
    whole = sum(flow for flow in signed if flow > 0.0)
    section = _make_section(panel, coolant, width)
    known: dict[float, Rates] = {}

    def price(flow_m3_s: float) -> Rates:
        flow = round(max(flow_m3_s, 1e-6 * loop), 15)
        if flow not in known:
            known[flow] = section.price(flow, flow / loop)
        return known[flow]

    rates = price(whole)
    if len(need.ends) == 2:
        return ChannelCosts(width, rates, (), (rates, rates))
    rates = replace(rates, tee=_price_tee(panel, coolant, width, signed, loop))
    if len(need.ends) > MOST_UNLIKE_ENDS:
        return ChannelCosts(width, rates, (), (rates,) * len(need.ends))
    full = section.price(loop, LEAST_SHARE)
    legs = []
    for mask in range(2 ** len(need.ends)):
        leg = price(abs(sum(flow for k, flow in enumerate(signed) if mask >> k & 1)))
        legs.append(
            Rates(
                max(leg.step, full.step), max(leg.bend, full.bend), rates.tee, max(leg.through, full.through)
            )
        )
    return ChannelCosts(width, rates, tuple(legs), tuple(legs[1 << k] for k in range(len(need.ends))))


def _make_section(panel: Panel, coolant: Coolant, width: float) -> _Section:
    section = panel.channel
    hole: tuple[Segment, ...] = ()
    if section.layers == 2:
        bare = Channel("", (), (), (), (), width, section.depth, section.bend_radius)
        hole = list_hole_elements(panel, bare)
    return _Section(panel, coolant, width, hole)


def _price_tee(panel: Panel, coolant: Coolant, width: float, signed: list[float], loop_m3_s: float) -> float:
    """Return what a T takes of the head, the mean of a channel's Ts were its ends to stand in a row, [Pa]."""
    area = width * panel.channel.depth * 1e-6
    taken = 0.0
    for merging in (True, False):
        flows = [abs(flow) for flow in signed if (flow > 0.0) == merging]
        for k in range(1, len(flows)):
            # Sources join a growing flow one by one; sinks leave it in the same way, read backwards.
            combined, branch = sum(flows[: k + 1]), flows[k]
            share = branch / combined
            on_branch, on_run = (loss_tee(leg, merging, share) for leg in TEE_LEGS)
            lost = share * on_branch + (1.0 - share) * on_run
            taken += lost * 0.5 * coolant.density_kg_m3 * (combined / area) ** 2 * combined / loop_m3_s
    return max(0.0, taken / (len(signed) - 2))


def _end_flow(end: ChannelEnd, flows: DesignFlows) -> float:
    """Return the flow through an end of a channel, [m3/s]."""
    if end.port is None:
        return flows.loop_m3_s
    return flows.parts_m3_s.get(end.port.part, flows.loop_m3_s)


def _choose_unit(most_pa: float) -> float:
    """Return the greatest of 1, 2 and 5 times a power of ten that is not above `most_pa`, [Pa]."""
    power = 10.0 ** math.floor(math.log10(most_pa))
    return next(power * factor for factor in (5.0, 2.0, 1.0) if power * factor <= most_pa * (1.0 + 1e-12))


def _parting(legs: tuple[Rates, ...]) -> tuple[Rates, ...]:
    """Return those of the legs that part the ends at all."""
    return legs[1:-1]


def _in_units(rates: Rates, unit: float) -> Rates:
    return Rates(
        *(float(round(value / unit)) for value in (rates.step, rates.bend, rates.tee, rates.through))
    )


def _channel_in_units(one: ChannelCosts, unit: float) -> ChannelCosts:
    legs = tuple(_in_units(rates, unit) for rates in one.leg_rates)
    ends = tuple(_in_units(rates, unit) for rates in one.end_rates)
    return ChannelCosts(one.width, _in_units(one.rates, unit), legs, ends)
