"""The tables of turn losses, and curves of K over the Reynolds number."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np

from layouts.hydraulics.interpolation import Floats, evaluate_cubic, find_slopes

RE_KNOTS = (
    *(10.0, 20.0, 50.0, 100.0, 200.0, 300.0, 600.0, 1000.0, 2000.0, 4000.0, 8000.0),
    *(1.0e4, 1.4e4, 2.0e4, 3.0e4, 4.0e4, 6.0e4, 8.0e4, 1.0e5, 1.4e5, 2.0e5),
)
"""Reynolds numbers at which every curve has its value; held beyond both ends."""

LOG_KNOTS: Floats = np.log(np.array(RE_KNOTS))


@dataclass(frozen=True, slots=True)
class LossCurve:
    """A loss coefficient over the Reynolds number: a monotone cubic in ln Re.

    Parameters
    ----------
    values : tuple of float
        K at `RE_KNOTS`, [-].
    slopes : tuple of float
        dK / d ln Re there, [-].
    """

    values: tuple[float, ...]
    slopes: tuple[float, ...]


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


def trace_curve(values: Floats) -> LossCurve:
    """Return the curve through values of K.

    Parameters
    ----------
    values : (n,) float
        K at `RE_KNOTS`, [-].

    Returns
    -------
    LossCurve
    """
    slopes = find_slopes(LOG_KNOTS, values)
    return LossCurve(tuple(float(v) for v in values), tuple(float(s) for s in slopes))


def evaluate_curves(re: Floats, values: Floats, slopes: Floats) -> Floats:
    """Return K of many curves, each at its own Reynolds number.

    Parameters
    ----------
    re : (n,) float
        0 or more, [-].
    values, slopes : (n, knots) float
        Of the curves, [-].

    Returns
    -------
    (n,) float
        K, [-].
    """
    log_re = np.log(np.clip(re, RE_KNOTS[0], RE_KNOTS[-1]))
    i = np.clip(np.searchsorted(LOG_KNOTS, log_re, side="right") - 1, 0, len(RE_KNOTS) - 2)
    step = LOG_KNOTS[i + 1] - LOG_KNOTS[i]
    row = np.arange(len(re))
    t = (log_re - LOG_KNOTS[i]) / step
    return evaluate_cubic(t, step, values[row, i], values[row, i + 1], slopes[row, i], slopes[row, i + 1])


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
    return float(evaluate_curves(np.array([re]), np.array([curve.values]), np.array([curve.slopes]))[0])


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


@lru_cache(maxsize=2)
def read_mitred_elbow(quantity: str) -> tuple[Floats, Floats]:
    """Return arguments and factors of the handbook's mitred elbow.

    Parameters
    ----------
    quantity : {"depth_over_width", "reynolds"}

    Returns
    -------
    tuple of (n,) float
        Arguments and factors, [-].

    Source
    ------
    data/mitred_elbow.csv; each row names its source.
    """
    rows = [r for r in _read_rows("mitred_elbow.csv") if r["quantity"] == quantity]
    return np.array([float(r["argument"]) for r in rows]), np.array([float(r["factor"]) for r in rows])


@lru_cache(maxsize=4)
def _read_rows(name: str) -> tuple[dict[str, str], ...]:
    text = (resources.files("layouts.hydraulics") / "data" / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
