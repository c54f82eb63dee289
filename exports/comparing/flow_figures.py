"""Flow, channels and temperatures of one plan, with their bands."""

from __future__ import annotations

import math
from collections.abc import Iterator

from exports.comparing.values import Figure, NamedFigure
from exports.wording.channel_drops import drop_band
from geom.units import kpa, l_min
from layouts.plan import Plan

DEGREE_ERROR_C = 0.1
"""Least error of a temperature, [°C]: radiators' capacities are not known better."""


def list_flow(plan: Plan) -> Iterator[NamedFigure]:
    """Yield the operating point and what each part gets.

    Parameters
    ----------
    plan : Plan
    """
    flowing, pump, wanted = plan.flowing, plan.panel.pump, plan.panel.wanted_flow_m3_s
    choice = pump.choice(pump.used)
    yield NamedFigure("pump", "", Figure(choice.name))
    speed = pump.run_at_rpm or (None if choice.speed is None else choice.speed[1])
    if speed is not None:
        yield NamedFigure("pump's speed", "rpm", Figure(speed, 0.0, 0))
    yield _banded("flow", "L/min", l_min(flowing.flow_m3_s), flowing.band)
    if wanted is not None:
        yield NamedFigure("flow that the file wants", "L/min", Figure(l_min(wanted)))
    yield _banded("head", "m", flowing.head_m, flowing.head_band)
    yield _banded("drop of the loop", "kPa", kpa(flowing.loop_drop_pa), flowing.head_band)
    for part in flowing.parts:
        band = drop_band(flowing, part.band)
        yield _banded(f"{part.part}: flow", "L/min", l_min(part.flow_m3_s), flowing.band, single=True)
        yield _banded(f"{part.part}: drop", "kPa", kpa(part.drop_pa), band, single=True)


def list_channels(plan: Plan) -> Iterator[NamedFigure]:
    """Yield all channels together, then each by itself.

    Parameters
    ----------
    plan : Plan
    """
    flowing = plan.flowing
    taken, error = share_of_head(plan)
    yield NamedFigure("channels", "", Figure(len(plan.routed.channels), 0.0, 0))
    yield NamedFigure(
        "length in all", "mm", Figure(math.fsum(one.length for one in flowing.channels), 0.0, 0)
    )
    yield NamedFigure("bends in all", "", Figure(sum(one.bends for one in flowing.channels), 0.0, 0))
    yield NamedFigure("what they take of the loop's drop", "kPa", Figure(kpa(taken), kpa(error)))
    fastest = max((one.velocity_m_s for one in flowing.channels), default=0.0)
    yield _banded("most velocity", "m/s", fastest, flowing.band)
    widths = {channel.name: channel.width for channel in plan.routed.channels}
    for one in flowing.channels:
        yield NamedFigure(f"{one.channel}: width", "mm", Figure(widths[one.channel]), single=True)
        yield NamedFigure(f"{one.channel}: length", "mm", Figure(one.length, 0.0, 0), single=True)
        yield _banded(
            f"{one.channel}: drop", "kPa", kpa(one.drop_pa), drop_band(flowing, one.band), single=True
        )


def list_heat(plan: Plan) -> Iterator[NamedFigure]:
    """Yield the temperatures of the coolant.

    Parameters
    ----------
    plan : Plan
    """
    heating, band = plan.advised.heating, plan.flowing.band

    def degrees(what: str, value: float, single: bool = False) -> NamedFigure:
        # As uncertain as its distance from the tank.
        error = max(band * abs(value - heating.tank_c), DEGREE_ERROR_C)
        return NamedFigure(what, "°C", Figure(value, error), single)

    yield NamedFigure("heat into the coolant", "W", Figure(heating.heat_w, 0.0, 0))
    if heating.kept_w > 0.0:
        yield NamedFigure("heat that nothing takes away", "W", Figure(heating.kept_w, 0.0, 0))
    yield degrees("coolant in the tank", heating.tank_c)
    if heating.steps:
        yield degrees("warmest coolant", max(max(one.inlet_c, one.outlet_c) for one in heating.steps))
    yield _banded("warmest less coolest coolant", "K", heating.spread_k, band)
    if heating.over_ambient_k is not None:
        yield _banded("tank over the air around", "K", heating.over_ambient_k, band)
    for step in heating.steps:
        yield degrees(f"{step.part}: coolant at its inlet", step.inlet_c, single=True)


def share_of_head(plan: Plan) -> tuple[float, float]:
    """Return what all channels take of the loop's drop at the operating point, with its error, [Pa].

    Each leg's drop counts by its share of the loop's flow: that is the part of the pump's head which it takes.

    Parameters
    ----------
    plan : Plan
    """
    flowing = plan.flowing
    if flowing.flow_m3_s == 0.0:
        return 0.0, 0.0
    shares = [
        (abs(leg.drop_pa * leg.flow_m3_s) / flowing.flow_m3_s, drop_band(flowing, leg.band))
        for one in flowing.channels
        for leg in one.legs
    ]
    return math.fsum(pa for pa, _ in shares), math.fsum(pa * band for pa, band in shares)


def _banded(what: str, unit: str, value: float, band: float, single: bool = False) -> NamedFigure:
    return NamedFigure(what, unit, Figure(value, abs(value) * band), single)
