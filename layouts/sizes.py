"""What width each channel needs, and what widening it would gain."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

from layouts.advice import ChannelSize, Sizing
from layouts.clearance import feed_width
from layouts.hydraulics.network import solve_network
from layouts.installed import find_feed
from layouts.loop_network import PUMP, build_network, find_coolant
from layouts.panel import Panel
from layouts.plan import Channel, Flowing, Routed
from layouts.printing.roof_shapes import find_widest_roof
from layouts.widen import find_widest, set_widths
from layouts.width_flow import WidthFlow, follow_widths

HARD_VELOCITY_M_S = 2.5
"""Common practice, no source: hard look above 2 to 2.5 m/s."""

STEP_MM = 0.5
"""Widths are advised in whole multiples of it, or at the narrowest that can be made, [mm]."""

LEAST_PRINTED_MM = 3.0
"""Narrowest channel that prints clear and can be washed or blown out, [mm]; common practice, no source."""

LEAST_GAIN = 0.005
"""A millimetre of width that brings less of the loop's flow is next to nothing, [-]."""

KEPT_FLOW = 0.95
"""Share of the flow reached that a channel must keep where the file asks for no flow, [-]."""

KEPT_BAND = 0.1
"""Share of the flow's band by which a least width may miss the wanted flow, [-]: the formulas tell far less apart."""

MOST_RAISES = 60
"""Raises of the recommended widths, mostly of one channel by one step, until the flow holds."""

LIMIT_TOLERANCE = 1e-6
"""Share by which a speed or flow may miss its limit, [-]: for rounding."""


def size_channels(panel: Panel, routed: Routed, flowing: Flowing) -> Sizing:
    """Return the size of each channel that carries flow.

    Least and widest are of each channel alone, the others as they are. The recommended widths hold together:
    where the loop with all of them falls short of the flow, those that gain most are raised.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    Sizing
        In the order of the channels. No width is advised under what can be made, nor a feed narrower than the
        pump's inlet asks for, nor one over the width as routed where that will do.

    Raises
    ------
    OutOfRange
        A coolant outside its table, or a network without an answer.

    Source
    ------
    2.5 m/s, 0.5 % for a millimetre, 95 % of the flow, a tenth of the band: common practice, no source.
    """
    loop = follow_widths(panel, routed, flowing)
    kept = _kept_flow(panel, flowing.flow_m3_s, KEPT_BAND * flowing.band)
    widest = find_widest(panel, routed, _most_width(panel))
    feed = find_feed(routed)
    carrying = [
        (channel, flow.flow_m3_s / flowing.flow_m3_s)
        for channel, flow in zip(routed.channels, flowing.channels, strict=True)
        if flow.flow_m3_s > 0.0
    ]
    sizes = []
    for channel, share in carrying:
        floor = max(find_least_made(panel), feed_width(panel) if channel is feed else 0.0)
        least, recommended = _size_alone(panel, loop, channel, share, floor, kept)
        sizes.append(
            ChannelSize(
                channel=channel.name,
                width_mm=channel.width,
                least_mm=least,
                recommended_mm=recommended,
                widest_mm=widest[channel.name],
                gain=loop.find_flow({channel.name: widest[channel.name]}) / flowing.flow_m3_s - 1.0,
            )
        )
    alone = {size.channel: size.recommended_mm for size in sizes if size.recommended_mm is not None}
    if not alone:
        return Sizing(tuple(sizes), None)
    spans = {channel.name: _span(channel, share) for channel, share in carrying}
    together, flow_m3_s = _hold_together(panel, routed, loop, spans, alone)
    return Sizing(
        tuple(replace(size, recommended_mm=together.get(size.channel)) for size in sizes), flow_m3_s
    )


def find_least_made(panel: Panel) -> float:
    """Return the narrowest channel that can be made: the cutter's, or what prints and can be cleaned, [mm].

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float

    Source
    ------
    `LEAST_PRINTED_MM`.
    """
    return panel.make.cutter if panel.make.method == "milled" else LEAST_PRINTED_MM


def _kept_flow(panel: Panel, reached_m3_s: float, slack: float) -> float:
    """Return the flow of the loop that advised widths must keep, [m3/s]: no more than is reached.

    It is the wanted one, less a share `slack` [-]; where none is wanted, or the pump does not reach it, most of
    the flow reached: no width of one channel makes up for a pump that is too weak, and `pump.flow` tells of it.
    """
    wanted = panel.wanted_flow_m3_s
    if wanted is None or wanted > reached_m3_s:
        return KEPT_FLOW * reached_m3_s
    return (1.0 - slack) * wanted


def _most_width(panel: Panel) -> float:
    return min(panel.width, panel.height, find_widest_roof(panel))


def _slow_velocity(panel: Panel) -> float:
    return min(HARD_VELOCITY_M_S, panel.rules.most_velocity_m_s)


def _span(channel: Channel, share: float) -> float:
    """Return the width of a channel at 1 m/s where the loop's flow is 1 m3/s, [mm]."""
    return 1e6 * share / channel.depth


def _size_alone(
    panel: Panel, loop: WidthFlow, channel: Channel, share: float, floor: float, kept_m3_s: float
) -> tuple[float | None, float | None]:
    """Return the least and the recommended width of one channel, the others as they are, [mm].

    None under `floor`; the least keeps a flow. The width as routed is taken where it will do and a step under it
    will not.
    """
    most, span = _most_width(panel), _span(channel, share)
    # What the loop carries now counts: a width that is only slow enough at a lower wanted flow is not.
    full = span * loop.reached_m3_s

    @cache
    def find_flow(width: float) -> float:
        return loop.find_flow({channel.name: width})

    def find(low: float, fits: Callable[[float], bool]) -> float | None:
        if low <= floor and fits(floor):
            return floor
        low = max(low, floor)
        step = _find_narrowest(low, most, channel.width, fits)
        if channel.width >= low and (step is None or step > channel.width) and fits(channel.width):
            return channel.width
        return step

    least = find(full / HARD_VELOCITY_M_S, lambda width: find_flow(width) >= kept_m3_s)
    # Wider than it is as routed, a channel lets more through than was counted with.
    while least is not None and span * find_flow(least) > HARD_VELOCITY_M_S * least:
        least = _find_narrowest(_next_step(least, channel.width), most, channel.width, lambda _: True)
    if least is None:
        return None, None
    return least, find(
        max(least, full / _slow_velocity(panel)),
        lambda width: find_flow(width + 1.0) < (1.0 + LEAST_GAIN) * find_flow(width),
    )


def _hold_together(
    panel: Panel, routed: Routed, loop: WidthFlow, spans: dict[str, float], alone: dict[str, float]
) -> tuple[dict[str, float], float]:
    """Return widths from those recommended alone up with which the loop keeps its flow, and its flow with them.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    loop : WidthFlow
    spans : dict of str to float
        As `_span`, by channel, [mm].
    alone : dict of str to float
        Recommended for each channel alone, [mm]; the others stay as they are.

    Returns
    -------
    widths : dict of str to float
        [mm]
    flow_m3_s : float
        Solved, [m3/s]; less than it ought to be where no raise helps.
    """
    widths = _raise_widths(panel, loop, spans, alone, _kept_flow(panel, loop.reached_m3_s, 0.0))
    have = {channel.name: channel.width for channel in routed.channels}
    network = build_network(panel, set_widths(panel, routed, have | widths))
    solution = solve_network(network, find_coolant(panel), start_flow_m3_s=loop.find_flow(widths))
    return widths, solution.flow_m3_s[PUMP]


def _raise_widths(
    panel: Panel, loop: WidthFlow, spans: dict[str, float], widths: dict[str, float], asked_m3_s: float
) -> dict[str, float]:
    """Return widths raised by steps until the loop lets a flow through, and no channel is too fast for it.

    The channel whose step gains most goes first; none passes its width as routed while another is under its own,
    as with the widths as routed the loop lets that flow through.
    """
    most, slow = _most_width(panel), _slow_velocity(panel)
    for _ in range(MOST_RAISES):
        flow = loop.find_flow(widths)
        steps = {name: _next_step(width, loop.widths[name]) for name, width in widths.items()}
        able = [name for name, step in steps.items() if step <= most]
        fast = [name for name in able if spans[name] * flow > slow * widths[name] * (1.0 + LIMIT_TOLERANCE)]
        if fast:
            widths = widths | {
                name: min(most, _round_up(spans[name] * flow / slow, loop.widths[name])) for name in fast
            }
            continue
        if flow >= asked_m3_s * (1.0 - LIMIT_TOLERANCE) or not able:
            break
        under = [name for name in able if widths[name] < loop.widths[name]]
        widths = max((widths | {name: steps[name]} for name in under or able), key=loop.find_flow)
    return widths


def _next_step(width: float, routed: float) -> float:
    """Return the next whole multiple of `STEP_MM` over a width, or the width as routed where that is nearer, [mm]."""
    step = (math.floor(width / STEP_MM + 1e-9) + 1) * STEP_MM
    return routed if width < routed < step else step


def _round_up(width: float, routed: float) -> float:
    """Return the least whole multiple of `STEP_MM` no less than a width, or the width as routed if less, [mm]."""
    step = _step_up(width)
    return routed if width <= routed < step else step


def _step_up(width: float) -> float:
    """Return the least whole multiple of `STEP_MM` that is no less than a width, [mm]."""
    return math.ceil(width / STEP_MM - 1e-9) * STEP_MM


def _find_narrowest(low: float, high: float, near: float, fits: Callable[[float], bool]) -> float | None:
    """Return the narrowest whole multiple of `STEP_MM` from `low` to `high` that fits, [mm]; None without one.

    A width wider than one that fits is taken to fit. The search starts at `near`.
    """
    first, most = round(_step_up(low) / STEP_MM), math.floor(high / STEP_MM + 1e-9)
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
