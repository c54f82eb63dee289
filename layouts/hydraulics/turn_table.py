"""The tables of turn losses, and curves of K over the Reynolds number."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Literal

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.interpolation import Floats, find_slopes

ElbowKind = Literal["mitred", "rounded"]

RE_KNOTS = (
    *(10.0, 20.0, 50.0, 100.0, 200.0, 300.0, 600.0, 1000.0, 2000.0, 4000.0, 8000.0),
    *(1.0e4, 1.4e4, 2.0e4, 3.0e4, 4.0e4, 6.0e4, 8.0e4, 1.0e5, 1.4e5, 2.0e5),
)
"""Reynolds numbers at which every curve has its value; held beyond both ends."""

LOG_KNOTS: Floats = np.log(np.array(RE_KNOTS))
_ORIGINS: Floats = np.concatenate([LOG_KNOTS[:1], LOG_KNOTS])
"""Of each piece of a curve: the knot that it starts at; the first lies below all knots."""


@dataclass(frozen=True, slots=True)
class LossCurve:
    """A loss coefficient over the Reynolds number: a monotone cubic in ln Re.

    Parameters
    ----------
    values : tuple of float
        K at `RE_KNOTS`, [-].
    slopes : tuple of float
        dK / d ln Re there, [-].
    bands : tuple of float
        Relative error to expect of K there, straight in ln Re between, [-].
    """

    values: tuple[float, ...]
    slopes: tuple[float, ...]
    bands: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TurnTable:
    """One kind of turn: K over the ratio of its shape and the Reynolds number.

    Parameters
    ----------
    ratios : tuple of float
        Increasing, [-].
    reynolds : tuple of float
        Increasing, on the channel's hydraulic diameter, [-].
    losses : tuple of tuple of float
        K on the channel's mean velocity, one row for each ratio, [-].
    """

    ratios: tuple[float, ...]
    reynolds: tuple[float, ...]
    losses: tuple[tuple[float, ...], ...]


def trace_curve(values: Floats, bands: Floats) -> LossCurve:
    """Return the curve through values of K.

    Parameters
    ----------
    values : (n,) float
        K at `RE_KNOTS`, [-].
    bands : (n,) float
        Relative error to expect of it there, [-].

    Returns
    -------
    LossCurve
    """
    slopes = find_slopes(LOG_KNOTS, values)
    return LossCurve(*(tuple(float(one) for one in column) for column in (values, slopes, bands)))


def cut_pieces(curves: tuple[LossCurve, ...]) -> Floats:
    """Return the cubics that curves are made of, between the knots and, level, beyond both ends.

    Parameters
    ----------
    curves : tuple of LossCurve

    Returns
    -------
    (4, curves * (knots + 1)) float
        Factors of the third to the zeroth power of ln Re less the ln Re of the knot before, [-].
    """
    shape = (-1, len(RE_KNOTS))
    y = np.array([curve.values for curve in curves]).reshape(shape)
    slope = np.array([curve.slopes for curve in curves]).reshape(shape)
    step = np.diff(LOG_KNOTS)
    chord = np.diff(y, axis=1) / step
    near, far = slope[:, :-1], slope[:, 1:]
    pieces = np.zeros((4, len(y), len(RE_KNOTS) + 1))
    pieces[0, :, 1:-1] = (near + far - 2 * chord) / step**2
    pieces[1, :, 1:-1] = (3 * chord - 2 * near - far) / step
    pieces[2, :, 1:-1] = near
    pieces[3, :, 1:] = y
    pieces[3, :, 0] = y[:, 0]
    return pieces.reshape(4, -1)


def evaluate_pieces(re: Floats, pieces: Floats) -> tuple[Floats, Floats]:
    """Return K of many curves and their slopes, each at its own Reynolds number.

    Parameters
    ----------
    re : (n,) float
        Greater than 0, [-].
    pieces : (4, n * (knots + 1)) float
        As `cut_pieces` gives them.

    Returns
    -------
    tuple of (n,) float
        K, and dK / d ln Re, [-].
    """
    log_re = np.log(re)
    i = np.searchsorted(LOG_KNOTS, log_re, side="right")
    x = log_re - _ORIGINS[i]
    third, second, first, level = pieces.take(i + np.arange(len(re)) * (len(RE_KNOTS) + 1), axis=1)
    value: Floats = ((third * x + second) * x + first) * x + level
    slope: Floats = (3 * third * x + 2 * second) * x + first
    return value, slope


def evaluate_bands(re: Floats, bands: Floats) -> Floats:
    """Return the bands of many curves, each at its own Reynolds number.

    Parameters
    ----------
    re : (n,) float
        0 or more, [-].
    bands : (n, knots) float
        Of the curves, [-].

    Returns
    -------
    (n,) float
        [-]
    """
    log_re = np.log(np.clip(re, RE_KNOTS[0], RE_KNOTS[-1]))
    i = np.clip(np.searchsorted(LOG_KNOTS, log_re, side="right") - 1, 0, len(RE_KNOTS) - 2)
    row = np.arange(len(re))
    t = (log_re - LOG_KNOTS[i]) / (LOG_KNOTS[i + 1] - LOG_KNOTS[i])
    found: Floats = (1.0 - t) * bands[row, i] + t * bands[row, i + 1]
    return found


def read_loss(curve: LossCurve, re: float) -> float:
    """Return K of one curve.

    Parameters
    ----------
    curve : LossCurve
    re : float
        0 or more, [-].

    Returns
    -------
    float
        K, [-].
    """
    return float(evaluate_pieces(np.array([max(re, RE_KNOTS[0])]), cut_pieces((curve,)))[0][0])


def check_shape(what: str, re: float, ratio: float) -> None:
    """Refuse a loss at a Reynolds number or of a shape that cannot be.

    Parameters
    ----------
    what : str
        What loses, for the message.
    re, ratio : float
        Reynolds number, and a ratio of the shape, [-].

    Raises
    ------
    OutOfRange
        Negative `re` or `ratio` not greater than 0.
    """
    if not (re >= 0 and ratio > 0):
        raise OutOfRange(f"{what} at Re {re:g}, ratio {ratio:g}: Re must be 0 or more, the ratio above 0")


@lru_cache(maxsize=4)
def read_turn_table(turn: str) -> TurnTable:
    """Return one kind of turn from the table of simulated losses.

    Parameters
    ----------
    turn : {"bend", "bore_to_channel", "channel_to_bore"}

    Returns
    -------
    TurnTable
        The Reynolds numbers at which every ratio has a value.

    Source
    ------
    data/turn_losses.csv; each row names its source.
    """
    rows = {
        (float(r["ratio"]), float(r["reynolds"])): float(r["loss"])
        for r in _read_rows("turn_losses.csv")
        if r["turn"] == turn
    }
    ratios = tuple(sorted({ratio for ratio, _ in rows}))
    reynolds = tuple(sorted(re for re in {re for _, re in rows} if all((q, re) in rows for q in ratios)))
    return TurnTable(ratios, reynolds, tuple(tuple(rows[q, re] for re in reynolds) for q in ratios))


@lru_cache(maxsize=1)
def read_low_sharp_bend() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the sharp bend's Reynolds numbers and K up to Re 600, the shape for other turns at low Re.

    Returns
    -------
    tuple of tuple of float
        Reynolds numbers and K, [-].

    Source
    ------
    data/turn_losses.csv; each row names its source.
    """
    rows = sorted(
        (float(r["reynolds"]), float(r["loss"]))
        for r in _read_rows("turn_losses.csv")
        if r["turn"] == "bend" and float(r["ratio"]) == 0 and float(r["reynolds"]) <= 600
    )
    return tuple(re for re, _ in rows), tuple(loss for _, loss in rows)


@lru_cache(maxsize=8)
def trace_elbow(elbow: ElbowKind, quantity: str) -> tuple[Floats, Floats, Floats]:
    """Return a factor of a handbook's elbow over the logarithm of what it hangs on.

    Parameters
    ----------
    elbow : {"mitred", "rounded"}
    quantity : {"depth_over_width", "radius_over_width", "reynolds"}
        A mitred elbow has no radius.

    Returns
    -------
    tuple of (n,) float
        Logarithms of the arguments, factors, and slopes for `interpolation.read_monotone`, [-].

    Source
    ------
    data/mitred_elbow.csv, data/rounded_elbow.csv; each row names its source.
    """
    rows = [r for r in _read_rows(f"{elbow}_elbow.csv") if r["quantity"] == quantity]
    logs, factors = np.log([float(r["argument"]) for r in rows]), np.array([float(r["factor"]) for r in rows])
    return logs, factors, find_slopes(logs, factors)


@lru_cache(maxsize=4)
def _read_rows(name: str) -> tuple[dict[str, str], ...]:
    text = (resources.files("layouts.hydraulics") / "data" / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
