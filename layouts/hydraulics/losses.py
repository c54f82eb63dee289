"""Losses of bends and port turns, as K on the channel's mean velocity.

Losses are of total pressure (flux-weighted), friction left out. Each is a continuous function of the
Reynolds number and of its shape, and K times Re squared always rises with Re, so that a network of them has
one answer. The Reynolds number is on the channel's hydraulic diameter and mean velocity. Entrances, exits and
other changes of area are in `layouts.hydraulics.area_changes`, tees in `layouts.hydraulics.tees`.

What a laminar flow loses until it is developed (K infinity) is charged once behind each place that flattens
or upsets its profile. Behind the tank it is part of `loss_entrance`. Behind a port or a bend it is part of the
table's K, which was measured up to 14 widths downstream against developed friction: nothing is added there.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.area_changes import (
    loss_contraction,
    loss_expansion,
    trace_entrance,
    trace_exit,
)
from layouts.hydraulics.interpolation import (
    Floats,
    evaluate_cubic,
    find_slopes,
    read_monotone,
)
from layouts.hydraulics.turn_table import (
    LOG_KNOTS,
    RE_KNOTS,
    ElbowKind,
    LossCurve,
    check_shape,
    read_loss,
    read_low_sharp_bend,
    read_turn_table,
    trace_curve,
    trace_elbow,
)

PortTurnKind = Literal["bore_to_channel", "channel_to_bore"]

LOSS_BANDS = {"table": 0.15, "close turns": 0.40, "tee": 0.25}
"""Relative error to expect, [-]: of a turn by the table of resolved runs (their own statement); of turns that
stand close, on their sum (Zardin et al., Energies 10 (2017) 310 and 788); of tees (spread of the sources against
each other)."""

CLOSE_TURNS = 5.0
"""Turns with less straight channel between them, in hydraulic diameters, act on each other (Zardin 2017)."""

TABLE_END_RE = 8000.0
HANDBOOK_RE = 30_000.0
"""Between these the table's ratio to the handbook fades to 1."""

NO_LOSS_RE = 20.0
"""A turn in creeping flow costs no more than its own length: measured as very small below Re 100 (Xiong and
Chung 2007), computed as nothing at Re 20."""


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
    check_shape("sharp bend", re, depth_ratio)
    if re <= 21.0:
        return 0.0
    if re < 1e4:
        square = min(1.15 * math.log(re / 21.0), 1.68 * (1e4 / re) ** 0.152)
    else:
        square = 1.2 * _read_elbow("mitred", "reynolds", re)
    return _factor_depth(depth_ratio, 0.0) * square


def loss_round_bend(re: float, radius_ratio: float, depth_ratio: float = 1.0) -> float:
    """Return the handbook's K of a rounded 90-degree bend in a smooth rectangular channel, its friction left out.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-]; made for Re 10 000 and more, held below.
    radius_ratio : float
        Centreline radius over width, greater than 0, [-]; held at the ends of 0.5 to 20.
    depth_ratio : float
        Depth (across the plane of the bend) over width (in it), [-]; held at the ends of 0.25 to 8.

    Returns
    -------
    float
        K on mean velocity, never above `loss_sharp_bend` at Re 10 000 or more, [-]. Expect 25 %.

    Raises
    ------
    OutOfRange
        `re`, `radius_ratio` or `depth_ratio` not greater than 0.

    Source
    ------
    ASHRAE Handbook Fundamentals 2005, CR3-1, as Idelchik, Handbook of Hydraulic Resistance, diagram 6-1, with
    its factors of the section's shape and of the Reynolds number (data/rounded_elbow.csv). Handbooks of round
    pipe (Rennels and Hudson, Miller, Ito) lie up to 30 % under it.
    """
    if not (re > 0 and radius_ratio > 0 and depth_ratio > 0):
        raise OutOfRange(
            f"round bend at Re {re:g}, radius ratio {radius_ratio:g}, depth ratio {depth_ratio:g}: all must be "
            "above 0"
        )
    factors = (
        _read_elbow("rounded", "radius_over_width", radius_ratio),
        _read_elbow("rounded", "reynolds", max(re, 1e4)),
        _read_elbow("rounded", "depth_over_width", depth_ratio),
    )
    return min(math.prod(factors), loss_sharp_bend(max(re, 1e4), depth_ratio))


def loss_bend(re: float, radius_ratio: float, depth_ratio: float = 1.0) -> float:
    """Return K of a 90-degree bend in a rectangular channel.

    Parameters
    ----------
    re : float
        Reynolds number on the hydraulic diameter, [-].
    radius_ratio : float
        Centreline radius over width, [-]; 0 is a sharp mitre. Table to 2; beyond, the value at 2 scaled as
        `loss_round_bend`.
    depth_ratio : float
        Depth (across the plane of the bend) over width (in it), [-]; by the handbooks' factors, which the table
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
    check_shape("bend", re, depth_ratio)
    return read_loss(trace_bend(radius_ratio, depth_ratio), re)


def loss_bore_to_channel(re: float, bore_ratio: float) -> float:
    """Return K of the turn from a bore into the end of a channel at right angles to it.

    Parameters
    ----------
    re : float
        Reynolds number of the channel, [-].
    bore_ratio : float
        Bore over the side of the square of the channel's area, [-]. Table from 1 to 1.5. A smaller bore:
        on the bore's velocity, the value at 1 falls with the fourth power of the ratio towards a plain exit,
        as handbooks have it for a mitred elbow that widens. A larger: the value at 1.5 falls with the fourth
        power of the ratio towards a plain entrance.

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
    the handbook being the sharp bend on the larger velocity with the loss of the area change. Smaller bores:
    checked against SMACNA, HVAC Systems Duct Design, table 14-10 E, mitred elbows with converging or diverging
    flow.
    """
    check_shape("bore into channel", re, bore_ratio)
    return read_loss(trace_port_turn("bore_to_channel", bore_ratio), re)


def loss_channel_to_bore(re: float, bore_ratio: float) -> float:
    """Return K of the turn from the end of a channel into a bore at right angles to it.

    Parameters
    ----------
    re : float
        Reynolds number of the channel, [-].
    bore_ratio : float
        Bore over the side of the square of the channel's area, [-]. Table from 1 to 1.5. A smaller bore:
        on the bore's velocity, the value at 1 falls with the fourth power of the ratio towards a plain
        entrance, as handbooks have it for a mitred elbow that narrows. A larger: the value at 1.5 falls with
        the fourth power of the ratio towards a plain exit.

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
    check_shape("channel into bore", re, bore_ratio)
    return read_loss(trace_port_turn("channel_to_bore", bore_ratio), re)


@lru_cache(maxsize=1024)
def trace_bend(radius_ratio: float, depth_ratio: float = 1.0, close: bool = False) -> LossCurve:
    """Return the curve of `loss_bend` over the Reynolds number.

    Parameters
    ----------
    radius_ratio, depth_ratio : float
        As for `loss_bend`, [-].
    close : bool
        Whether another turn stands nearer than `CLOSE_TURNS`.

    Returns
    -------
    LossCurve
        Its band is the table's in it, 30 % below it, and from Re 30 000 what the handbooks differ by among
        themselves: 15 % sharp, 25 % rounded. A rounded bend's grows from Re 2000 to 30 % at Re 8000, where
        the table lies so far above the handbooks.
    """
    ratios, losses, slopes = _join_table("bend")
    values = read_monotone(radius_ratio, ratios, losses, slopes)
    if radius_ratio > ratios[-1]:
        values = values * (loss_round_bend(1e4, radius_ratio) / loss_round_bend(1e4, float(ratios[-1])))
    end, far = (0.15, 0.15) if radius_ratio == 0 else (0.30, 0.25)
    beyond = _share_beyond(radius_ratio, float(ratios[0]), float(ratios[-1]))
    sharp = losses[0] * _factor_depth(depth_ratio, 0.0)
    values = np.minimum(values * _factor_depth(depth_ratio, radius_ratio), sharp)
    return trace_curve(values, _band_turn("bend", end, far, beyond, close))


@lru_cache(maxsize=1024)
def trace_port_turn(turn: PortTurnKind, bore_ratio: float, close: bool = False) -> LossCurve:
    """Return the curve of `loss_bore_to_channel` or `loss_channel_to_bore` over the Reynolds number.

    Parameters
    ----------
    turn : {"bore_to_channel", "channel_to_bore"}
    bore_ratio : float
        As for `loss_bore_to_channel`, [-].
    close : bool
        Whether another turn stands nearer than `CLOSE_TURNS`.

    Returns
    -------
    LossCurve
        Its band is the table's in it, 30 % below it, 35 % where the handbook rules.
    """
    ratios, losses, slopes = _join_table(turn)
    values = read_monotone(bore_ratio, ratios, losses, slopes)
    if bore_ratio < ratios[0]:
        values = _narrow_bore(turn, bore_ratio, float(ratios[0]))
    elif bore_ratio > ratios[-1]:
        plain = trace_entrance(1.0) if turn == "bore_to_channel" else trace_exit(1.0)
        floor = np.minimum(values, plain.values)
        values = floor + (values - floor) * (ratios[-1] / bore_ratio) ** 4
    beyond = _share_beyond(bore_ratio, float(ratios[0]), float(ratios[-1]))
    return trace_curve(values, _band_turn(turn, LOSS_BANDS["table"], 0.35, beyond, close))


def _narrow_bore(turn: PortTurnKind, bore_ratio: float, first: float) -> Floats:
    """Return K on the channel's velocity at every knot for a bore under the table's first.

    Bore and channel are compared with the table's first at one Reynolds number of the bore.
    """
    shifted = np.array(RE_KNOTS) * (first / bore_ratio)
    first_area, area = (math.pi / 4 * ratio**2 for ratio in (first, bore_ratio))
    on_bore = _read_knots(trace_port_turn(turn, first), shifted) * first_area**2
    plain = trace_exit(None) if turn == "bore_to_channel" else trace_entrance(None)
    floor = np.minimum(on_bore, _read_knots(plain, shifted / (math.pi / 4 * first)))
    narrowed: Floats = (floor + (on_bore - floor) * (bore_ratio / first) ** 4) / area**2
    narrowed[0] = 0.0  # creeping flow
    return narrowed


def _read_knots(curve: LossCurve, res: Floats) -> Floats:
    """Return K of one curve at many Reynolds numbers."""
    logs = np.clip(np.log(res), LOG_KNOTS[0], LOG_KNOTS[-1])
    i = np.clip(np.searchsorted(LOG_KNOTS, logs, side="right") - 1, 0, len(RE_KNOTS) - 2)
    step = LOG_KNOTS[i + 1] - LOG_KNOTS[i]
    values, slopes = np.array(curve.values), np.array(curve.slopes)
    t = (logs - LOG_KNOTS[i]) / step
    return evaluate_cubic(t, step, values[i], values[i + 1], slopes[i], slopes[i + 1])


def _share_beyond(ratio: float, first: float, last: float) -> float:
    """Return 0 for a ratio within the table, 1 for one beyond it by a factor of 2 or more."""
    if first <= ratio <= last:
        return 0.0
    return min(1.0, abs(math.log(ratio / (first if ratio < first else last))) / math.log(2.0))


def _band_turn(turn: str, end: float, far: float, beyond: float, close: bool) -> Floats:
    """Return the band of a turn at every knot.

    `end` is that of the table's last Reynolds number, `far` the handbook's; `beyond` is how far the turn's
    shape is out of the table, 0 to 1.
    """
    near, end = (band + beyond * (max(far, band) - band) for band in (LOSS_BANDS["table"], end))
    first = read_turn_table(turn).reynolds[0]
    res = [first / 2, first, 2000.0, TABLE_END_RE, HANDBOOK_RE]
    bands: Floats = np.interp(LOG_KNOTS, np.log(res), [max(near, 0.30), near, near, end, far])
    return np.maximum(bands, LOSS_BANDS["close turns"]) if close else bands


@lru_cache(maxsize=4)
def _join_table(turn: str) -> tuple[Floats, Floats, Floats]:
    """Return the table's ratios, K at every knot, (ratios, knots): low Re, table, handbook; and its slopes."""
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
    ratios = np.array(table.ratios)
    return ratios, joined, find_slopes(ratios, joined)


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


def _factor_depth(depth_ratio: float, radius_ratio: float) -> float:
    """Return the handbooks' factor for a channel that is not square; the mitred one fades by a radius of half a
    width into the rounded one."""
    mitred = _read_elbow("mitred", "depth_over_width", depth_ratio) / 1.2
    rounded = _read_elbow("rounded", "depth_over_width", depth_ratio)
    return mitred + min(1.0, 2.0 * radius_ratio) * (rounded - mitred)


def _read_elbow(elbow: ElbowKind, quantity: str, at: float) -> float:
    return float(read_monotone(math.log(at), *trace_elbow(elbow, quantity)))
