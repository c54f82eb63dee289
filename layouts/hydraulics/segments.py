"""What a loop consists of, as plain values in SI, and the drop of total pressure along each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.area_changes import trace_entrance, trace_exit
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.friction import ROUND_F_RE, channel_aspect, hydraulic_diameter, laminar_f_re
from layouts.hydraulics.interpolation import find_slopes
from layouts.hydraulics.losses import PortTurnKind, trace_bend, trace_port_turn
from layouts.hydraulics.orifice import trace_orifice
from layouts.hydraulics.pump import CurvePoints, check_pump_curve
from layouts.hydraulics.terms import (
    CurveTerm,
    FrictionTerm,
    LossTerm,
    PumpTerm,
    SquareTerm,
    Term,
    TermStack,
    stack_terms,
)

DropKind = Literal["straight", "bends", "turns", "part", "pump"]
DROP_KINDS: tuple[DropKind, ...] = ("straight", "bends", "turns", "part", "pump")

PART_BAND = 0.10
"""Relative error of a part's measured resistance, [-]: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight piece of rectangular channel.

    Parameters
    ----------
    length_m : float
        0 or more, [m].
    width_m, depth_m : float
        [m]
    """

    length_m: float
    width_m: float
    depth_m: float

    def __post_init__(self) -> None:
        _check_sizes(self, {"width": self.width_m, "depth": self.depth_m}, {"length": self.length_m})


@dataclass(frozen=True, slots=True)
class Bore:
    """A straight piece of round bore.

    Parameters
    ----------
    length_m : float
        0 or more, [m].
    diameter_m : float
        [m]
    """

    length_m: float
    diameter_m: float

    def __post_init__(self) -> None:
        _check_sizes(self, {"diameter": self.diameter_m}, {"length": self.length_m})


@dataclass(frozen=True, slots=True)
class Bend:
    """A 90-degree bend in the plane of the plate, its quarter circle charged with friction.

    Parameters
    ----------
    radius_m : float
        Of the centreline, 0 for a sharp mitre, [m].
    width_m, depth_m : float
        [m]
    close : bool
        Whether another turn stands nearer than `losses.CLOSE_TURNS`; widens the band.
    """

    radius_m: float
    width_m: float
    depth_m: float
    close: bool = False

    def __post_init__(self) -> None:
        _check_sizes(self, {"width": self.width_m, "depth": self.depth_m}, {"radius": self.radius_m})


@dataclass(frozen=True, slots=True)
class PortTurn:
    """The turn between a bore and the end of a channel at right angles to it.

    Parameters
    ----------
    kind : {"bore_to_channel", "channel_to_bore"}
        The way of positive flow.
    bore_m : float
        Diameter, [m].
    width_m, depth_m : float
        Of the channel, [m].
    close : bool
        As for `Bend`.
    """

    kind: PortTurnKind
    bore_m: float
    width_m: float
    depth_m: float
    close: bool = False

    def __post_init__(self) -> None:
        _check_sizes(self, {"bore": self.bore_m, "width": self.width_m, "depth": self.depth_m}, {})
        if self.kind not in ("bore_to_channel", "channel_to_bore"):
            raise OutOfRange(f'port turn "{self.kind}" is not known; use bore_to_channel or channel_to_bore')


@dataclass(frozen=True, slots=True)
class TankExit:
    """Out of the tank into a channel: a sharp entrance.

    Parameters
    ----------
    width_m, depth_m : float
        Of the channel, [m].
    """

    width_m: float
    depth_m: float

    def __post_init__(self) -> None:
        _check_sizes(self, {"width": self.width_m, "depth": self.depth_m}, {})


@dataclass(frozen=True, slots=True)
class TankEntry:
    """Out of a channel into the tank: the flow's kinetic energy is lost.

    Parameters
    ----------
    width_m, depth_m : float
        Of the channel, [m].
    """

    width_m: float
    depth_m: float

    def __post_init__(self) -> None:
        _check_sizes(self, {"width": self.width_m, "depth": self.depth_m}, {})


@dataclass(frozen=True, slots=True)
class Orifice:
    """A restrictor in a round fitting.

    Parameters
    ----------
    bore_m : float
        Of the restrictor, less than the fitting's, [m].
    fitting_m : float
        Bore of the fitting, [m].
    """

    bore_m: float
    fitting_m: float

    def __post_init__(self) -> None:
        _check_sizes(self, {"bore": self.bore_m, "fitting": self.fitting_m}, {})
        if self.bore_m > self.fitting_m:
            raise OutOfRange(
                f"Orifice: its bore of {self.bore_m:g} m must be less than the fitting's, {self.fitting_m:g} m"
            )


@dataclass(frozen=True, slots=True)
class PartResistance:
    """A part outside the panel, by its measured drop.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and drop [Pa], by rising flow. One point: the drop goes with the square of the flow.
        More: a monotone cubic between them, the square of the flow up to the first and beyond the last.
    """

    points: CurvePoints

    def __post_init__(self) -> None:
        points = _drop_origin(self.points)
        if not points:
            raise OutOfRange("part resistance: there is no point beside the origin; give flow and drop")
        before = (0.0, 0.0)
        for flow, drop in points:
            if not (math.isfinite(flow) and math.isfinite(drop) and flow > before[0] and drop >= before[1]):
                raise OutOfRange(
                    f"part resistance: {drop:g} Pa at {flow:g} m3/s follows {before[1]:g} Pa at "
                    f"{before[0]:g} m3/s; flow must rise and the drop must not fall"
                )
            before = (flow, drop)
        if before[1] <= 0:
            raise OutOfRange("part resistance: every drop is 0 Pa; leave the part out, or give its drop")


@dataclass(frozen=True, slots=True)
class PumpCurve:
    """A pump; its drop is negative.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and head [m], see `pump.check_pump_curve` and `pump.pump_head_m`.
    """

    points: CurvePoints

    def __post_init__(self) -> None:
        check_pump_curve(self.points)


Duct = Straight | Bore | Bend | PortTurn | TankExit | TankEntry
Segment = Duct | Orifice | PartResistance | PumpCurve


def drop_pa(element: Segment, flow_m3_s: float, coolant: Coolant) -> float:
    """Return the drop of total pressure along an element.

    Parameters
    ----------
    element : Segment
    flow_m3_s : float
        Signed; reverse flow gives the reversed drop (a pump keeps its shut-off head), [m3/s].
    coolant : Coolant

    Returns
    -------
    float
        [Pa], positive against the flow; never falls as the flow rises.

    Source
    ------
    See `friction.friction_factor`, `losses`, `area_changes` and `pump.pump_head_m`.
    """
    stack = _stack_element(element)
    return float(stack.find_drops(np.array([flow_m3_s]), coolant).sum())


def drop_kind(element: Segment) -> DropKind:
    """Return under what heading an element's drop is reported.

    Parameters
    ----------
    element : Segment

    Returns
    -------
    {"straight", "bends", "turns", "part", "pump"}
        Friction along a bend's arc goes with the bend, a restrictor with its part.
    """
    if isinstance(element, Straight | Bore):
        return "straight"
    if isinstance(element, Bend):
        return "bends"
    if isinstance(element, Orifice | PartResistance):
        return "part"
    return "pump" if isinstance(element, PumpCurve) else "turns"


def drop_band(element: Segment, flow_m3_s: float, coolant: Coolant) -> float:
    """Return the relative error to expect of an element's drop.

    Parameters
    ----------
    element : Segment
    flow_m3_s : float
        [m3/s]
    coolant : Coolant

    Returns
    -------
    float
        [-]

    Source
    ------
    `friction.friction_band`, the bands of `losses` and `area_changes`, `PART_BAND`; a pump curve is taken as exact.
    """
    stack = _stack_element(element)
    flow = np.array([flow_m3_s])
    drops = np.abs(stack.find_drops(flow, coolant))
    bands = stack.find_bands(flow, coolant)
    return float((drops * bands).sum() / drops.sum()) if drops.sum() > 0 else float(bands.max())


def velocity(duct: Straight | Bore | Bend, flow_m3_s: float) -> float:
    """Return the mean velocity in a duct.

    Parameters
    ----------
    duct : Straight, Bore or Bend
    flow_m3_s : float
        Signed, [m3/s].

    Returns
    -------
    float
        Signed, [m/s].
    """
    return flow_m3_s / find_area_m2(duct)


def reynolds(duct: Straight | Bore | Bend, flow_m3_s: float, coolant: Coolant) -> float:
    """Return the Reynolds number on the hydraulic diameter.

    Parameters
    ----------
    duct : Straight, Bore or Bend
    flow_m3_s : float
        [m3/s]
    coolant : Coolant

    Returns
    -------
    float
        0 or more, [-].
    """
    across = duct.diameter_m if isinstance(duct, Bore) else hydraulic_diameter(duct.width_m, duct.depth_m)
    return coolant.density_kg_m3 * abs(velocity(duct, flow_m3_s)) * across / coolant.viscosity_pa_s


def find_area_m2(duct: Duct) -> float:
    """Return the area of a duct's section; of a port turn, the channel's.

    Parameters
    ----------
    duct : Duct

    Returns
    -------
    float
        [m2]
    """
    if isinstance(duct, Bore):
        return math.pi / 4 * duct.diameter_m**2
    return duct.width_m * duct.depth_m


@lru_cache(maxsize=4096)
def list_terms(element: Segment) -> tuple[Term, ...]:
    """Return the terms whose drops add up to an element's.

    Parameters
    ----------
    element : Segment

    Returns
    -------
    tuple of Term
    """
    if isinstance(element, PumpCurve):
        return (PumpTerm(element.points),)
    if isinstance(element, PartResistance):
        return (_make_part_term(element),)
    if isinstance(element, Orifice):
        curve = trace_orifice((element.bore_m / element.fitting_m) ** 2)
        return (LossTerm(curve, element.bore_m, math.pi / 4 * element.bore_m**2),)
    area = find_area_m2(element)
    if isinstance(element, Bore):
        return (FrictionTerm(element.length_m, element.diameter_m, area, ROUND_F_RE),)
    width, depth = element.width_m, element.depth_m
    across, aspect = hydraulic_diameter(width, depth), channel_aspect(width, depth)
    if isinstance(element, Straight):
        return (FrictionTerm(element.length_m, across, area, laminar_f_re(aspect)),)
    if isinstance(element, Bend):
        arc = FrictionTerm(math.pi / 2 * element.radius_m, across, area, laminar_f_re(aspect))
        curve = trace_bend(element.radius_m / width, depth / width, element.close)
        return (arc, LossTerm(curve, across, area))
    if isinstance(element, PortTurn):
        # The table is of square channels; a bore over the side of the square of equal area keeps the ratio
        # of areas, which rules the change of velocity.
        curve = trace_port_turn(element.kind, element.bore_m / math.sqrt(area), element.close)
        return (LossTerm(curve, across, area),)
    if isinstance(element, TankExit):
        return (LossTerm(trace_entrance(aspect), across, area),)
    return (LossTerm(trace_exit(aspect), across, area),)


@lru_cache(maxsize=4096)
def _stack_element(element: Segment) -> TermStack:
    return stack_terms([(0, term) for term in list_terms(element)])


def _make_part_term(part: PartResistance) -> SquareTerm | CurveTerm:
    points = _drop_origin(part.points)
    if len(points) == 1:
        return SquareTerm(points[0][1] / points[0][0] ** 2, PART_BAND)
    flows, drops = (tuple(float(value) for value in column) for column in zip(*points, strict=True))
    slopes = find_slopes(np.array(flows), np.array(drops))
    # The square through the first point arrives with this slope; up to 3 secants keep the cubic monotone.
    slopes[0] = min(2 * drops[0] / flows[0], 3 * (drops[1] - drops[0]) / (flows[1] - flows[0]))
    return CurveTerm(flows, drops, tuple(float(slope) for slope in slopes), PART_BAND)


def _drop_origin(points: CurvePoints) -> CurvePoints:
    return points[1:] if points and points[0] == (0.0, 0.0) else points


def _check_sizes(element: object, above_zero: dict[str, float], not_negative: dict[str, float]) -> None:
    name = type(element).__name__
    for what, value in above_zero.items():
        if not (math.isfinite(value) and value > 0):
            raise OutOfRange(f"{name}: {what} {value:g} m must be greater than 0")
    for what, value in not_negative.items():
        if not (math.isfinite(value) and value >= 0):
            raise OutOfRange(f"{name}: {what} {value:g} m must be 0 or more")
