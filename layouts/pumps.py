"""The pumps of the file on this loop: which one, at which speed, and two of one kind.

Every pump is solved on the loop at its most speed with its own bores. What follows from that, at other speeds
and for two pumps, is read from the loop's curve between solved points; only the used pump is solved at other speeds
too, because a remedy names them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from geom.errors import OutOfRange
from geom.units import l_min, show_number
from layouts.advice import Pumping, PumpPair, PumpRating
from layouts.feed import available_inlet_head_m
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.network import FlowSolution, Network, operating_point, solve_network
from layouts.hydraulics.pump import (
    CurvePoints,
    combine_parallel,
    combine_series,
    hydraulic_power_w,
    pump_head_m,
    read_head,
    scale_affinity,
)
from layouts.hydraulics.pump_speed import (
    STEP_RPM,
    find_sound_ratio,
    find_speed_ratio,
    scale_power_w,
    step_speed,
)
from layouts.hydraulics.segments import drop_pa
from layouts.loop_curve import (
    LoopHeads,
    join_heads,
    read_meeting,
    sample_loop,
    shift_points,
    spread_flows,
    with_curve,
)
from layouts.loop_network import PUMP, build_network, find_coolant, list_flows
from layouts.nets import PUMP_INLET
from layouts.panel import Panel, PumpChoice
from layouts.plan import Flowing, Routed
from layouts.pump_fit import (
    find_bore_obstacle,
    find_flow_shortfall,
    find_head_obstacle,
    find_noise_obstacle,
    find_overlap_obstacle,
    lies_within,
)
from layouts.pump_meeting import LEAST_SHARE, MOST_BEYOND
from layouts.pump_order import (
    compare_shapes,
    explain_first,
    find_counted_band,
    find_counted_flow,
    is_slowed,
    order_pumps,
)
from layouts.pump_place import find_move, find_seat_obstacle

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
    trouble: str | None
    solution: FlowSolution | None


@dataclass(frozen=True, slots=True)
class _Slowed:
    """A pump's speeds for the wanted flow and for the allowed noise, [rpm], and its flow at the latter, [m3/s]."""

    for_flow_rpm: float | None
    for_noise_rpm: float | None
    flow_m3_s: float | None


def rate_pumps(panel: Panel, routed: Routed, flowing: Flowing) -> Pumping:
    """Return the pumps of the file, the best first.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        The feed and the pump's place are taken as they are for every pump, also for one that would be placed anew.
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
    near = list_flows(flowing)
    met = [_meet_loop(one, network, coolant, near) for one, network in zip(choices, networks, strict=True)]
    loops = _read_loops(panel, routed, flowing, coolant, networks, met)
    head_band = _find_head_band(panel, flowing, loops[_find_used(panel)])
    slowed = [
        _slow_down(panel, one, network, point, heads, coolant)
        for one, network, point, heads in zip(choices, networks, met, loops, strict=True)
    ]
    ratings = tuple(
        _rate(panel, routed, coolant, one, point, heads, head_band, slow)
        for one, point, heads, slow in zip(choices, met, loops, slowed, strict=True)
    )
    ratings = tuple(
        _judge(panel, routed, flowing, coolant, one, network, point, rating)
        for one, network, point, rating in zip(choices, networks, met, ratings, strict=True)
    )
    ordered = order_pumps(ratings, panel.wanted_flow_m3_s)
    places = [next(k for k, rating in enumerate(ratings) if rating is one) for one in ordered]
    pairs = tuple(pair for k in places for pair in _join_pairs(choices[k], loops[k], coolant))
    return Pumping(
        ordered,
        pairs,
        explain_first(ordered, panel.wanted_flow_m3_s, compare_shapes(ordered, choices)),
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


def _meet_loop(choice: PumpChoice, network: Network, coolant: Coolant, near: Mapping[str, float]) -> _Met:
    shut_off, (last, last_head) = choice.curve[0][1], choice.curve[-1]
    try:
        solution = solve_network(network, coolant, near[PUMP], near)
    except OutOfRange as error:
        return _Met(0.0, shut_off, f"no flow of it is found: {error}", None)
    flow, head = read_meeting(solution, coolant)
    if flow < LEAST_SHARE * last:
        trouble = f"it cannot start the loop with its shut-off head of {shut_off:.3g} m"
        return _Met(0.0, shut_off, trouble, solution)
    if flow > MOST_BEYOND * last:
        end = show_number(l_min(last), 3)
        trouble = f"its curve ends at {end} L/min, {last_head:.3g} m, before it meets the loop"
        return _Met(last, last_head, trouble, solution)
    return _Met(flow, head, None, solution)


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
    points = [known, *sample_loop(base, coolant, (*wanted, *spread), known, list_flows(flowing))]
    return [join_heads(shift_points(points, base, network, coolant)) for network in networks]


def _find_head_band(panel: Panel, flowing: Flowing, heads: LoopHeads) -> float:
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
    head_band: float,
    slowed: _Slowed,
) -> PumpRating:
    """Return what a pump does on the loop, before it is judged."""
    band, band_for_noise, margin_for_noise = 0.0, None, None
    wanted = panel.wanted_flow_m3_s
    if met.flow_m3_s > 0:
        band = head_band / _find_stiffness(choice.curve, met.flow_m3_s, met.head_m, heads)
    if slowed.for_noise_rpm is not None:
        quiet = _slow_curve(choice, slowed.for_noise_rpm)
        margin_for_noise = _find_margin(quiet, heads, wanted)
        if slowed.flow_m3_s is not None:
            head_m = heads.read_head(slowed.flow_m3_s)
            band_for_noise = head_band / _find_stiffness(quiet, slowed.flow_m3_s, head_m, heads)
    return PumpRating(
        name=choice.name,
        used=choice.name == panel.pump.used,
        obstacles=(),
        flow_m3_s=met.flow_m3_s,
        head_m=met.head_m,
        band=band,
        head_margin_m=_find_margin(choice.curve, heads, wanted),
        hydraulic_w=hydraulic_power_w(met.flow_m3_s, met.head_m, coolant),
        electric_w=choice.power_w,
        inlet_spare_m=None,
        speed_for_flow_rpm=slowed.for_flow_rpm,
        power_at_flow_w=(
            None
            if slowed.for_flow_rpm is None or choice.power_w is None
            else scale_power_w(choice.power_w, _share_speed(choice, slowed.for_flow_rpm))
        ),
        speed_for_noise_rpm=slowed.for_noise_rpm,
        flow_for_noise_m3_s=slowed.flow_m3_s,
        margin_for_noise_m=margin_for_noise,
        move=find_move(panel, routed, choice),
        band_for_noise=band_for_noise,
    )


def _judge(
    panel: Panel,
    routed: Routed,
    flowing: Flowing,
    coolant: Coolant,
    choice: PumpChoice,
    network: Network,
    met: _Met,
    rating: PumpRating,
) -> PumpRating:
    """Return a rating with what keeps its pump from fitting, and with the head at its inlet."""
    least, wanted = choice.least_inlet_head_m, panel.wanted_flow_m3_s
    flow, band, shortfall = find_counted_flow(rating), find_counted_band(rating), None
    # As `feed.head` asks, the used pump is judged as it runs.
    drawn = flowing.flow_m3_s if rating.used else flow
    available = available_inlet_head_m(panel, routed, drawn, _find_feed_drop_pa(network, coolant, drawn))
    if met.trouble is None:
        shortfall = find_flow_shortfall(panel, flow, band, is_slowed(rating))
    near = shortfall is None or wanted is None or lies_within(wanted, flow, band)
    found = (
        find_seat_obstacle(panel, routed, choice),
        find_bore_obstacle(_with_pump(panel, choice)),
        find_overlap_obstacle(_with_pump(panel, choice)),
        find_head_obstacle(choice, available),
        met.trouble,
        None if near else shortfall,
        find_noise_obstacle(panel, choice),
    )
    obstacles = tuple(obstacle for obstacle in found if obstacle is not None)
    spare = None if least is None or available is None else available - least
    return replace(rating, obstacles=obstacles, shortfall=shortfall, inlet_spare_m=spare)


def _find_feed_drop_pa(network: Network, coolant: Coolant, flow_m3_s: float) -> float:
    """Return the drop from the tank to the pump's inlet at a flow of the loop, all of which it carries, [Pa]."""
    if flow_m3_s == 0.0:
        return 0.0
    return sum(
        sign * drop_pa(element, sign * flow_m3_s, coolant)
        for edge in network.edges
        if edge.name != PUMP and PUMP_INLET in (edge.start, edge.end)
        for sign in (1.0 if edge.end == PUMP_INLET else -1.0,)
        for element in edge.elements
    )


def _find_margin(curve: CurvePoints, heads: LoopHeads, wanted_m3_s: float | None) -> float | None:
    """Return what a pump has at the wanted flow over what the loop asks for there, [m]."""
    return None if wanted_m3_s is None else pump_head_m(curve, wanted_m3_s) - heads.read_head(wanted_m3_s)


def _share_speed(choice: PumpChoice, speed_rpm: float) -> float:
    """Return a speed over the most of a pump that has a range, [-]."""
    assert choice.speed is not None, "only a pump with a range runs at another speed"
    return speed_rpm / choice.speed[1]


def _slow_curve(choice: PumpChoice, speed_rpm: float) -> CurvePoints:
    return scale_affinity(choice.curve, _share_speed(choice, speed_rpm))


def _slow_down(
    panel: Panel, choice: PumpChoice, network: Network, met: _Met, heads: LoopHeads, coolant: Coolant
) -> _Slowed:
    """Return a pump's speeds for the wanted flow and within the noise: none without a range or an answer."""
    if choice.speed is None:
        return _Slowed(None, None, None)
    most_rpm = choice.speed[1]

    def reach_flow(speed_rpm: float) -> float:
        if speed_rpm == most_rpm:
            return met.flow_m3_s
        curve = _slow_curve(choice, speed_rpm)
        if choice.name != panel.pump.used:
            return operating_point(curve, heads.read_head)[0]
        driven, near = with_curve(network, curve), None if met.solution is None else met.solution.flow_m3_s
        return solve_network(driven, coolant, met.flow_m3_s * speed_rpm / most_rpm, near).flow_m3_s[PUMP]

    for_noise = _find_speed_for_noise(choice, choice.speed, panel.pump.most_noise_db)
    if met.trouble is not None:
        return _Slowed(None, for_noise, None)
    for_flow = _find_speed_for_flow(choice, choice.speed, heads, panel.wanted_flow_m3_s, reach_flow)
    return _Slowed(for_flow, for_noise, None if for_noise is None else reach_flow(for_noise))


def _find_speed_for_flow(
    choice: PumpChoice,
    limits_rpm: tuple[float, float],
    heads: LoopHeads,
    wanted_m3_s: float | None,
    reach_flow: Callable[[float], float],
) -> float | None:
    """Return the least speed that gives the wanted flow, [rpm]; None where none is wanted or within the range."""
    if wanted_m3_s is None:
        return None
    least, most = limits_rpm
    speed = most * find_speed_ratio(choice.curve, wanted_m3_s, heads.read_head(wanted_m3_s))
    if not least <= speed <= most:
        return None
    speed = step_speed(speed, limits_rpm, up=True)
    # The loop's curve between solved points is not the loop: a step more makes up for it.
    while reach_flow(speed) < wanted_m3_s:
        if speed == most:
            return None
        speed = min(speed + STEP_RPM, most)
    return speed


def _find_speed_for_noise(
    choice: PumpChoice, limits_rpm: tuple[float, float], most_db: float | None
) -> float | None:
    """Return the most speed within a noise, [rpm]; None where it is not known or not in range."""
    if choice.noise_db is None or most_db is None:
        return None
    least, most = limits_rpm
    speed = most * min(1.0, find_sound_ratio(choice.noise_db, most_db))
    return step_speed(speed, limits_rpm, up=False) if speed >= least else None


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
