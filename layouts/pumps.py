"""The pumps of the file on this loop: which one, at which speed, and two of one kind.

Every pump is solved on the loop at its most speed with its own bores. What follows from that, at other speeds
and for two pumps, is read from the loop's curve between solved points.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from geom.errors import OutOfRange
from geom.units import l_min, show_number
from layouts.advice import Pumping, PumpPair, PumpRating
from layouts.feed import available_inlet_head_m
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import Network, operating_point, solve_network
from layouts.hydraulics.pump import (
    CurvePoints,
    combine_parallel,
    combine_series,
    hydraulic_power_w,
    pump_head_m,
    read_head,
    scale_affinity,
)
from layouts.hydraulics.pump_speed import find_sound_ratio, find_speed_ratio, scale_power_w
from layouts.loop_curve import (
    LoopHeads,
    join_heads,
    read_meeting,
    sample_loop,
    shift_points,
    spread_flows,
)
from layouts.loop_network import build_network, find_coolant
from layouts.nets import PUMP_INLET
from layouts.panel import Panel, PumpChoice
from layouts.plan import Flowing, Routed
from layouts.pump_fit import (
    find_bore_obstacle,
    find_flow_obstacle,
    find_head_obstacle,
    find_noise_obstacle,
    find_seat_obstacle,
)
from layouts.pump_meeting import LEAST_SHARE, MOST_BEYOND
from layouts.pump_order import explain_first, order_pumps

SAMPLED = (0.6, 1.45)
"""Flows sampled of the loop: from this times the least to this times the largest of interest. Two equal pumps
reach up to sqrt(2) times the flow of one on a loop of a square law, less on any real curve."""

_JOINS: tuple[tuple[Literal["series", "parallel"], Callable[[Sequence[CurvePoints]], CurvePoints]], ...] = (
    ("series", combine_series),
    ("parallel", combine_parallel),
)


@dataclass(frozen=True, slots=True)
class _Met:
    """Where a pump meets the loop; `trouble` says why it does not, flow and head are then the nearest known."""

    flow_m3_s: float
    head_m: float
    feed_drop_pa: float
    trouble: str | None


def rate_pumps(panel: Panel, routed: Routed, flowing: Flowing) -> Pumping:
    """Return the pumps of the file, the best first.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        The feed and the pump's place are taken as they are for every pump.
    flowing : Flowing
        With the used pump at the speed at which it runs.

    Returns
    -------
    Pumping
        Ordered as `pump_order` says; two of each pump in series and in parallel where their curves join and
        reach the loop, in the same order.

    Raises
    ------
    LayoutError
        The loop does not close.
    OutOfRange
        A coolant outside its table, or a loop without an answer.
    """
    coolant = find_coolant(panel)
    choices = panel.pump.choices
    networks = [build_network(_with_pump(panel, one), routed) for one in choices]
    met = [
        _meet_loop(one, network, coolant, flowing.flow_m3_s)
        for one, network in zip(choices, networks, strict=True)
    ]
    loops = _read_loops(panel, routed, flowing, coolant, networks, met)
    spread = _find_head_spread(panel, flowing, loops[_find_used(panel)])
    ratings = tuple(
        _rate(panel, routed, coolant, one, point, heads, spread)
        for one, point, heads in zip(choices, met, loops, strict=True)
    )
    ordered = order_pumps(ratings, panel.wanted_flow_m3_s)
    places = [next(k for k, rating in enumerate(ratings) if rating is one) for one in ordered]
    pairs = tuple(pair for k in places for pair in _join_pairs(choices[k], loops[k], coolant))
    return Pumping(
        ordered,
        pairs,
        explain_first(ordered, panel.wanted_flow_m3_s, _compare_shapes(ordered, choices)),
    )


def _with_pump(panel: Panel, choice: PumpChoice) -> Panel:
    """Return the panel with another pump's curve and bores."""
    pump = replace(
        panel.pump,
        curve=choice.curve,
        inlet_bore=choice.inlet_bore,
        outlet_bore=choice.outlet_bore,
    )
    return replace(panel, pump=pump)


def _find_used(panel: Panel) -> int:
    return next(k for k, choice in enumerate(panel.pump.choices) if choice.name == panel.pump.used)


def _meet_loop(choice: PumpChoice, network: Network, coolant: Coolant, start_m3_s: float) -> _Met:
    shut_off, (last, last_head) = choice.curve[0][1], choice.curve[-1]
    try:
        solution = solve_network(network, coolant, start_flow_m3_s=start_m3_s)
    except OutOfRange as error:
        return _Met(0.0, shut_off, 0.0, f"no flow of it is found: {error}")
    flow, head = read_meeting(solution, coolant)
    drop = -solution.pressure_pa[PUMP_INLET]
    if flow < LEAST_SHARE * last:
        return _Met(
            0.0, shut_off, 0.0, f"it cannot start the loop with its shut-off head of {shut_off:.3g} m"
        )
    if flow > MOST_BEYOND * last:
        end = show_number(l_min(last), 3)
        trouble = f"its curve ends at {end} L/min, {last_head:.3g} m, before it meets the loop"
        return _Met(last, last_head, drop, trouble)
    return _Met(flow, head, drop, None)


def _read_loops(
    panel: Panel,
    routed: Routed,
    flowing: Flowing,
    coolant: Coolant,
    networks: list[Network],
    met: list[_Met],
) -> list[LoopHeads]:
    """Return the loop's curve with each pump's bores."""
    base = build_network(panel, routed)
    known = (flowing.flow_m3_s, flowing.head_m)
    wanted = () if panel.wanted_flow_m3_s is None else (panel.wanted_flow_m3_s,)
    flows = [flowing.flow_m3_s, *wanted, *(point.flow_m3_s for point in met if point.flow_m3_s > 0)]
    spread = spread_flows(SAMPLED[0] * min(flows), SAMPLED[1] * max(flows))
    points = [known, *sample_loop(base, coolant, (*wanted, *spread), known)]
    return [join_heads(shift_points(points, base, network, coolant)) for network in networks]


def _find_head_spread(panel: Panel, flowing: Flowing, heads: LoopHeads) -> float:
    """Return the relative band of the loop's head that stands behind the band of its flow, [-]."""
    stiffness = _find_stiffness(panel.pump.curve, flowing.flow_m3_s, flowing.head_m, heads)
    return flowing.band * stiffness


def _find_stiffness(curve: CurvePoints, flow_m3_s: float, head_m: float, heads: LoopHeads) -> float:
    """Return how many times its own relative change in flow a change of the loop's head is, [-].

    Where the loop asks for more by a share, the flow gives way along both curves: the loop's rise and the
    pump's fall.
    """
    return heads.read_exponent(flow_m3_s) - read_head(curve, flow_m3_s)[1] * flow_m3_s / head_m


def _rate(
    panel: Panel,
    routed: Routed,
    coolant: Coolant,
    choice: PumpChoice,
    met: _Met,
    heads: LoopHeads,
    spread: float,
) -> PumpRating:
    band = 0.0
    if met.flow_m3_s > 0:
        band = spread / _find_stiffness(choice.curve, met.flow_m3_s, met.head_m, heads)
    available = available_inlet_head_m(panel, routed, met.flow_m3_s, met.feed_drop_pa)
    least = choice.least_inlet_head_m
    wanted = panel.wanted_flow_m3_s
    margin = None if wanted is None else pump_head_m(choice.curve, wanted) - heads.read_head(wanted)
    ratio = _find_ratio_for_flow(choice, heads, wanted)
    quiet = _find_ratio_for_noise(choice, panel.pump.most_noise_db)
    most_rpm = choice.speed[1] if choice.speed is not None else 0.0
    found = (
        find_seat_obstacle(panel, routed, choice),
        find_bore_obstacle(_with_pump(panel, choice)),
        find_head_obstacle(choice, available),
        met.trouble,
        None if met.trouble is not None else find_flow_obstacle(panel, met.flow_m3_s, band),
        find_noise_obstacle(panel, choice),
    )
    return PumpRating(
        name=choice.name,
        used=choice.name == panel.pump.used,
        obstacles=tuple(obstacle for obstacle in found if obstacle is not None),
        flow_m3_s=met.flow_m3_s,
        head_m=met.head_m,
        band=band,
        head_margin_m=margin,
        hydraulic_w=hydraulic_power_w(met.flow_m3_s, met.head_m, coolant),
        electric_w=choice.power_w,
        inlet_spare_m=None if least is None or available is None else available - least,
        speed_for_flow_rpm=None if ratio is None else ratio * most_rpm,
        power_at_flow_w=(
            None if ratio is None or choice.power_w is None else scale_power_w(choice.power_w, ratio)
        ),
        speed_for_noise_rpm=None if quiet is None else quiet * most_rpm,
        flow_for_noise_m3_s=None if quiet is None else _reach_flow(choice, quiet, heads, met.flow_m3_s),
    )


def _find_ratio_for_flow(choice: PumpChoice, heads: LoopHeads, wanted_m3_s: float | None) -> float | None:
    """Return the speed for the wanted flow over the most; None where none is wanted or within the range."""
    if choice.speed is None or wanted_m3_s is None:
        return None
    ratio = find_speed_ratio(choice.curve, wanted_m3_s, heads.read_head(wanted_m3_s))
    return ratio if choice.speed[0] / choice.speed[1] <= ratio <= 1.0 else None


def _find_ratio_for_noise(choice: PumpChoice, most_db: float | None) -> float | None:
    """Return the most speed within a noise, over the most of all; None where it is not known or not in range."""
    if choice.speed is None or choice.noise_db is None or most_db is None:
        return None
    ratio = min(1.0, find_sound_ratio(choice.noise_db, most_db))
    return ratio if ratio >= choice.speed[0] / choice.speed[1] else None


def _reach_flow(choice: PumpChoice, ratio: float, heads: LoopHeads, at_most_speed_m3_s: float) -> float:
    """Return the flow at a lower speed, [m3/s]."""
    if ratio == 1.0:
        return at_most_speed_m3_s
    return operating_point(scale_affinity(choice.curve, ratio), heads.read_head)[0]


def _join_pairs(choice: PumpChoice, heads: LoopHeads, coolant: Coolant) -> tuple[PumpPair, ...]:
    """Return two of a pump in series and in parallel, without those whose curves do not join or reach the loop."""
    two = (choice.curve, choice.curve)
    pairs = []
    for joined, combine in _JOINS:
        try:
            curve = combine(two)
            flow, head = operating_point(curve, heads.read_head)
        except OutOfRange:
            continue
        if flow <= MOST_BEYOND * curve[-1][0]:
            power = hydraulic_power_w(flow, head, coolant)
            pairs.append(PumpPair(choice.name, joined, flow, head, power))
    return tuple(pairs)


def _compare_shapes(ordered: tuple[PumpRating, ...], choices: tuple[PumpChoice, ...]) -> dict[str, str]:
    """Return for each pump after the first what its curve's shape, against the first's, does on this loop."""
    first = ordered[0]
    mine = next(choice for choice in choices if choice.name == first.name).curve
    told = {}
    for other in ordered[1:]:
        its = next(choice for choice in choices if choice.name == other.name).curve
        compact = mine[0][1] > its[0][1] and mine[-1][0] < its[-1][0]
        wide = mine[0][1] < its[0][1] and mine[-1][0] > its[-1][0]
        more = first.flow_m3_s - other.flow_m3_s > first.band * first.flow_m3_s
        if not more or not (compact or wide):
            continue
        asks = f"this loop asks for {show_number(first.head_m, 2)} m at {show_number(l_min(first.flow_m3_s), 2)} L/min"
        told[other.name] = (
            f"; {asks}: it is restrictive, and the more head of the compact curve counts for more than flow"
            if compact
            else f"; {asks}: it is open, and the more flow of the wide curve counts for more than head"
        )
    return told
