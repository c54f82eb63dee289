"""Losses of bends, port turns, area changes, entrances and exits, as K on the channel's mean velocity.

Losses are of total pressure (flux-weighted), friction left out. Each is a continuous function of the
Reynolds number and of its shape, and K times Re squared always rises with Re, so that a network of them has
one answer. The Reynolds number is on the channel's hydraulic diameter and mean velocity. Tees are in
`layouts.hydraulics.tees`.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.friction import entry_loss, friction_factor, kinetic_energy_factor
from layouts.hydraulics.interpolation import Floats, interpolate_monotone
from layouts.hydraulics.turn_table import (
    RE_KNOTS,
    LossCurve,
    read_loss,
    read_low_sharp_bend,
    read_mitred_elbow,
    read_turn_table,
    trace_curve,
)

PortTurnKind = Literal["bore_to_channel", "channel_to_bore"]

LOSS_BANDS = {"bend": 0.30, "port turn": 0.35, "entrance": 0.15, "exit": 0.05, "area": 0.30, "tee": 0.25}
"""Relative error to expect of each kind of loss, [-]: spread of the sources against each other. Turns closer
than some 5 widths to each other: 0.40 of their sum (Zardin et al., Energies 10 (2017) 310 and 788)."""

TABLE_END_RE = 8000.0
HANDBOOK_RE = 30_000.0
"""Between these the table's ratio to the handbook fades to 1."""

NO_LOSS_RE = 20.0
"""A turn in creeping flow costs no more than its own length: measured as very small below Re 100 (Xiong and
Chung 2007), computed as nothing at Re 20."""

LAMINAR_RE, TURBULENT_RE = 2000.0, 4000.0
"""Entrance and exit change from the laminar to the flat profile between these."""


def loss_sharp_bend(re: float, depth_ratio: float = 1.0) -> float:
    """Return K of a sharp mitred 90-degree bend by closed formula and handbook table.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    depth_ratio : float
        Depth (across the plane of the bend) over width (in it), [-]; held at the ends of 0.25 to 8.

    Returns
    -------
    float
        K on mean velocity; the centreline length is charged with friction apart, [-]. Expect 30 % below
        Re 10 000, 15 % above.

    Raises
    ------
    OutOfRange
        Negative `re` or `depth_ratio` not greater than 0.

    Source
    ------
    From Re 10 000: ASHRAE Handbook Fundamentals 1989, mitred rectangular elbow (data/mitred_elbow.csv), as
    Idelchik, Handbook of Hydraulic Resistance. Below: its Reynolds factor continued as a power of Re, joined
    to 1.15 ln(Re / 21), a fit to resolved laminar simulations; no loss below Re 21 as measured by Xiong and
    Chung 2007.
    """
    _check_shape("sharp bend", re, depth_ratio)
    if re <= 21.0:
        return 0.0
    if re < 1e4:
        square = min(1.15 * math.log(re / 21.0), 1.68 * (1e4 / re) ** 0.152)
    else:
        reynolds, factors = read_mitred_elbow("reynolds")
        square = 1.2 * float(interpolate_monotone(math.log(re), np.log(reynolds), factors))
    return _factor_depth(depth_ratio) * square


def loss_round_bend(re: float, radius_ratio: float) -> float:
    """Return K of a rounded 90-degree bend of smooth round pipe, its friction left out.

    Parameters
    ----------
    re : float
        Reynolds number, [-]; made for turbulent flow.
    radius_ratio : float
        Centreline radius over diameter, greater than 0, [-].

    Returns
    -------
    float
        K on mean velocity, never above `loss_sharp_bend` at Re 10 000 or more, [-]. Expect 25 %.

    Raises
    ------
    OutOfRange
        `re` or `radius_ratio` not greater than 0.

    Source
    ------
    Rennels and Hudson, Pipe Flow: A Practical and Comprehensive Guide (2012), chapter 15, rounded bends,
    without the term of friction along the arc.
    """
    if not (re > 0 and radius_ratio > 0):
        raise OutOfRange(f"round bend at Re {re:g}, radius ratio {radius_ratio:g}: both must be above 0")
    friction = float(friction_factor(re))
    half = math.sin(math.pi / 4)
    loss = (0.10 + 2.4 * friction) * half + 6.6 * friction * (math.sqrt(half) + half) / radius_ratio**2
    return min(loss, loss_sharp_bend(max(re, 1e4)))


def loss_bend(re: float, radius_ratio: float, depth_ratio: float = 1.0) -> float:
    """Return K of a 90-degree bend in a rectangular channel.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    radius_ratio : float
        Centreline radius over width, [-]; 0 is a sharp mitre. Table to 2; beyond, the value at 2 scaled as
        `loss_round_bend` at Re 10 000.
    depth_ratio : float
        Depth (across the plane of the bend) over width (in it), [-]; the handbook's factor, which the table
        of square channels lacks.

    Returns
    -------
    float
        K on mean velocity; friction along the arc is charged apart, [-]. It holds the recovery downstream.

    Raises
    ------
    OutOfRange
        Negative `re` or `radius_ratio`, `depth_ratio` not greater than 0.

    Source
    ------
    data/turn_losses.csv (Re 100 to 8000 sharp, 300 to 8000 rounded; own simulations, not an outside source);
    from Re 8000 its ratio to the handbook (`loss_sharp_bend`, `loss_round_bend`) fades to 1 by Re 30 000;
    below the table the sharp bend's course, scaled.
    """
    if radius_ratio < 0:
        raise OutOfRange(f"bend of radius ratio {radius_ratio:g}: it must be 0 or more")
    _check_shape("bend", re, depth_ratio)
    return read_loss(trace_bend(radius_ratio, depth_ratio), re)


def loss_bore_to_channel(re: float, bore_ratio: float) -> float:
    """Return K of the turn from a bore into the end of a channel at right angles to it.

    Parameters
    ----------
    re : float
        Reynolds number of the channel, [-].
    bore_ratio : float
        Bore over the side of the square of the channel's area, [-]. Table from 1 to 1.5. A smaller bore:
        the value at 1 scaled as sharp bend and sudden expansion on the bore's velocity. A larger: the value
        at 1.5 falls with the fourth power of the ratio towards a plain entrance.

    Returns
    -------
    float
        K on the channel's velocity, change of area within it, friction of the bore apart, [-].

    Raises
    ------
    OutOfRange
        Negative `re` or `bore_ratio` not greater than 0.

    Source
    ------
    data/turn_losses.csv (Re 600 to 8000; own simulations, not an outside source); joined as in `loss_bend`,
    the handbook being the sharp bend on the larger velocity with the loss of the area change.
    """
    _check_shape("bore into channel", re, bore_ratio)
    return read_loss(trace_port_turn("bore_to_channel", bore_ratio), re)


def loss_channel_to_bore(re: float, bore_ratio: float) -> float:
    """Return K of the turn from the end of a channel into a bore at right angles to it.

    Parameters
    ----------
    re : float
        Reynolds number of the channel, [-].
    bore_ratio : float
        Bore over the side of the square of the channel's area, [-]. Table from 1 to 1.5. A smaller bore:
        the value at 1 scaled as sharp bend and contraction on the bore's velocity. A larger: the value at
        1.5 falls with the fourth power of the ratio towards a plain exit.

    Returns
    -------
    float
        K on the channel's velocity, change of area within it, friction of the bore apart, [-].

    Raises
    ------
    OutOfRange
        Negative `re` or `bore_ratio` not greater than 0.

    Source
    ------
    As `loss_bore_to_channel`.
    """
    _check_shape("channel into bore", re, bore_ratio)
    return read_loss(trace_port_turn("channel_to_bore", bore_ratio), re)


def loss_expansion(area_ratio: float) -> float:
    """Return K of a sudden expansion.

    Parameters
    ----------
    area_ratio : float
        Smaller area over larger, 0 to 1, [-].

    Returns
    -------
    float
        K on the velocity in the smaller area, [-]. Exact for flat profiles; expect 30 %.

    Raises
    ------
    OutOfRange
        `area_ratio` outside 0 to 1.

    Source
    ------
    Borda and Carnot: momentum balance over the expansion.
    """
    _check_area_ratio("expansion", area_ratio)
    return (1.0 - area_ratio) ** 2


def loss_contraction(area_ratio: float) -> float:
    """Return K of a sudden contraction.

    Parameters
    ----------
    area_ratio : float
        Smaller area over larger, 0 to 1, [-].

    Returns
    -------
    float
        K on the velocity in the smaller area, [-]. Expect 30 %.

    Raises
    ------
    OutOfRange
        `area_ratio` outside 0 to 1.

    Source
    ------
    Crane, Technical Paper 410, sudden contraction: 0.5 (1 - area ratio).
    """
    _check_area_ratio("contraction", area_ratio)
    return 0.5 * (1.0 - area_ratio)


def loss_entrance(re: float, aspect: float | None) -> float:
    """Return K of a sharp flush entrance from a tank.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    aspect : float or None
        Short side over long side, [-]; None for a round bore.

    Returns
    -------
    float
        0.5 turbulent; laminar also what the flow loses until it is developed, `entry_loss` less the gain in
        kinetic energy, which `loss_exit` charges, [-].

    Raises
    ------
    OutOfRange
        Negative `re`, `aspect` outside 0 to 1.

    Source
    ------
    0.5: Crane, Technical Paper 410, and Idelchik. Laminar: Lundgren, Sparrow and Starr 1964.
    """
    _check_shape("entrance", re, 1.0)
    return read_loss(trace_entrance(aspect), re)


def loss_exit(re: float, aspect: float | None) -> float:
    """Return K of an exit into a tank: the kinetic energy of the flow.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    aspect : float or None
        Short side over long side, [-]; None for a round bore.

    Returns
    -------
    float
        1 turbulent (from Re 4000), laminar (to Re 2000) the factor of the exact profile, [-].

    Raises
    ------
    OutOfRange
        Negative `re`, `aspect` outside 0 to 1.

    Source
    ------
    Kinetic energy of the profile, see `kinetic_energy_factor`.
    """
    _check_shape("exit", re, 1.0)
    return read_loss(trace_exit(aspect), re)


@lru_cache(maxsize=1024)
def trace_bend(radius_ratio: float, depth_ratio: float = 1.0) -> LossCurve:
    """Return the curve of `loss_bend` over the Reynolds number.

    Parameters
    ----------
    radius_ratio, depth_ratio : float
        As for `loss_bend`, [-].

    Returns
    -------
    LossCurve
    """
    ratios, losses = _join_table("bend")
    values = interpolate_monotone(radius_ratio, ratios, losses)
    if radius_ratio > ratios[-1]:
        res = np.maximum(RE_KNOTS, 1e4)
        values = values * [loss_round_bend(re, radius_ratio) / loss_round_bend(re, ratios[-1]) for re in res]
    return trace_curve(values * _factor_depth(depth_ratio))


@lru_cache(maxsize=1024)
def trace_port_turn(turn: PortTurnKind, bore_ratio: float) -> LossCurve:
    """Return the curve of `loss_bore_to_channel` or `loss_channel_to_bore` over the Reynolds number.

    Parameters
    ----------
    turn : {"bore_to_channel", "channel_to_bore"}
    bore_ratio : float
        As for `loss_bore_to_channel`, [-].

    Returns
    -------
    LossCurve
    """
    ratios, losses = _join_table(turn)
    values = interpolate_monotone(bore_ratio, ratios, losses)
    if bore_ratio < ratios[0]:
        res = np.maximum(RE_KNOTS, 1e4)
        values = values * [
            _estimate_port_turn(turn, bore_ratio, re) / _estimate_port_turn(turn, float(ratios[0]), re)
            for re in res
        ]
    elif bore_ratio > ratios[-1]:
        plain = trace_entrance(1.0) if turn == "bore_to_channel" else trace_exit(1.0)
        floor = np.minimum(values, plain.values)
        values = floor + (values - floor) * (ratios[-1] / bore_ratio) ** 4
    return trace_curve(values)


@lru_cache(maxsize=1024)
def trace_entrance(aspect: float | None) -> LossCurve:
    """Return the curve of `loss_entrance` over the Reynolds number.

    Parameters
    ----------
    aspect : float or None
        As for `loss_entrance`, [-].

    Returns
    -------
    LossCurve
    """
    return trace_curve(0.5 + _share_laminar() * (entry_loss(aspect) - (kinetic_energy_factor(aspect) - 1.0)))


@lru_cache(maxsize=1024)
def trace_exit(aspect: float | None) -> LossCurve:
    """Return the curve of `loss_exit` over the Reynolds number.

    Parameters
    ----------
    aspect : float or None
        As for `loss_exit`, [-].

    Returns
    -------
    LossCurve
    """
    return trace_curve(1.0 + _share_laminar() * (kinetic_energy_factor(aspect) - 1.0))


def _share_laminar() -> Floats:
    """Return 1 at laminar knots, 0 at turbulent ones; the cubic between the two is the smooth step."""
    share: Floats = np.interp(RE_KNOTS, [LAMINAR_RE, TURBULENT_RE], [1.0, 0.0])
    return share


@lru_cache(maxsize=4)
def _join_table(turn: str) -> tuple[Floats, Floats]:
    """Return the table's ratios and K at every knot, (ratios, knots): low Re, table, handbook."""
    table = read_turn_table(turn)
    first, last = table.reynolds[0], table.reynolds[-1]
    low_re, low_loss = read_low_sharp_bend()
    joined = np.zeros((len(table.ratios), len(RE_KNOTS)))
    for row, (ratio, losses) in enumerate(zip(table.ratios, table.losses, strict=True)):
        scale = losses[0] / low_loss[low_re.index(first)]
        excess = losses[-1] / _estimate_turn(turn, ratio, last) - 1.0
        for column, re in enumerate(RE_KNOTS):
            if re <= NO_LOSS_RE:
                value = 0.0
            elif re < low_re[0]:
                value = scale * loss_sharp_bend(re)
            elif re < first:
                value = scale * low_loss[low_re.index(re)]
            elif re <= last:
                value = losses[table.reynolds.index(re)]
            else:
                t = min(1.0, math.log(re / TABLE_END_RE) / math.log(HANDBOOK_RE / TABLE_END_RE))
                value = _estimate_turn(turn, ratio, re) * (1.0 + excess * (1.0 - t * t * (3.0 - 2.0 * t)))
            joined[row, column] = value
    return np.array(table.ratios), joined


def _estimate_turn(turn: str, ratio: float, re: float) -> float:
    """Return the handbook's K of a turn in a square channel."""
    if turn != "bend":
        return _estimate_port_turn(turn, ratio, re)
    return loss_sharp_bend(re) if ratio == 0 else loss_round_bend(re, ratio)


def _estimate_port_turn(turn: str, bore_ratio: float, re: float) -> float:
    """Return a sharp bend on the larger velocity with the loss of the area change, on the channel's."""
    bore_area = math.pi / 4 * bore_ratio**2
    narrowing = (bore_area < 1) == (turn == "channel_to_bore")
    small_over_large = min(bore_area, 1 / bore_area)
    change = loss_contraction(small_over_large) if narrowing else loss_expansion(small_over_large)
    return (loss_sharp_bend(re) + change) * max(1.0, 1.0 / bore_area**2)


def _factor_depth(depth_ratio: float) -> float:
    """Return the handbook's factor for a channel that is not square."""
    shape, factors = read_mitred_elbow("depth_over_width")
    return float(interpolate_monotone(math.log(depth_ratio), np.log(shape), factors)) / 1.2


def _check_shape(what: str, re: float, ratio: float) -> None:
    if not (re >= 0 and ratio > 0):
        raise OutOfRange(f"{what} at Re {re:g}, ratio {ratio:g}: Re must be 0 or more, the ratio above 0")


def _check_area_ratio(what: str, area_ratio: float) -> None:
    if not 0 <= area_ratio <= 1:
        raise OutOfRange(
            f"{what} of area ratio {area_ratio:g}: give the smaller area over the larger, 0 to 1"
        )
