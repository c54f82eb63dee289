"""The few formulas that every element's drop is made of, evaluated for many elements at once.

Each drop is y * c * q * |q|: y is a friction factor, a loss coefficient or 1, c a constant. Its slope over the
flow is then c * |q| * (2 y + dy / d ln q), in closed form.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.friction import ROUND_F_RE, SMALLEST_RE, churchill_slope, friction_band
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.pump import CurvePoints, head_pressure_pa, read_cubic, read_head
from layouts.hydraulics.turn_table import (
    RE_KNOTS,
    LossCurve,
    cut_pieces,
    evaluate_bands,
    evaluate_pieces,
)

STILL_M3_S = 1e-13
"""Under this flow a drop goes straight with the flow, as creeping flow does: no slope is 0 at rest."""


@dataclass(frozen=True, slots=True)
class FrictionTerm:
    """Friction along a duct.

    Parameters
    ----------
    length_m, diameter_m : float
        Length and hydraulic diameter, [m].
    area_m2 : float
        [m2]
    f_re : float
        Laminar Darcy f times Re, [-].
    """

    length_m: float
    diameter_m: float
    area_m2: float
    f_re: float


@dataclass(frozen=True, slots=True)
class LossTerm:
    """A loss by coefficient over the Reynolds number.

    Parameters
    ----------
    curve : LossCurve
    diameter_m : float
        Hydraulic diameter, [m].
    area_m2 : float
        [m2]
    """

    curve: LossCurve
    diameter_m: float
    area_m2: float


@dataclass(frozen=True, slots=True)
class SquareTerm:
    """A drop that goes with the square of the flow.

    Parameters
    ----------
    factor : float
        Drop over flow squared, [Pa s2/m6].
    band : float
        Relative error to expect, [-].
    """

    factor: float
    band: float


@dataclass(frozen=True, slots=True)
class CurveTerm:
    """A drop by measured points.

    Parameters
    ----------
    flows_m3_s, drops_pa, slopes : tuple of float
        Points of a monotone cubic, [m3/s], [Pa], [Pa s/m3].
    band : float
        Relative error to expect, [-].
    """

    flows_m3_s: tuple[float, ...]
    drops_pa: tuple[float, ...]
    slopes: tuple[float, ...]
    band: float


@dataclass(frozen=True, slots=True)
class PumpTerm:
    """A pump's head, as a negative drop.

    Parameters
    ----------
    points : tuple of (float, float)
        Flow [m3/s] and head [m].
    """

    points: CurvePoints


Term = FrictionTerm | LossTerm | SquareTerm | CurveTerm | PumpTerm


@dataclass(frozen=True, slots=True, eq=False)
class TermStack:
    """Many terms as arrays, ordered friction, loss, square, curve, pump.

    Parameters
    ----------
    place : (n,) int
        Of each term: the edge whose flow it sees.
    order : (n,) int
        Of each term: its position in the list that was stacked.
    ends : (int, int, int, int)
        How many terms there are up to the last friction, loss, square and curve term.
    across : (k,) float
        Of friction and loss: hydraulic diameter over area, [1/m].
    star : (f,) float
        Of friction: the round pipe's f * Re over the section's own, [-].
    ducts : (k,) float
        Of friction and loss: factor on half the density and y * flow squared, [1/m4].
    squares : (s,) float
        Drop over flow squared, [Pa s2/m6].
    pieces : (4, losses * pieces) float
        Cubics of the loss curves, as `turn_table.cut_pieces`.
    bands : (n,) float
        Relative error to expect of each term, [-]; nan for friction and loss, whose bands hang on the Reynolds
        number.
    loss_bands : (losses, knots) float
        Bands of the loss curves, [-].
    curves : tuple of CurveTerm
    pumps : tuple of PumpTerm
    """

    place: NDArray[np.intp]
    order: NDArray[np.intp]
    ends: tuple[int, int, int, int]
    across: Floats
    star: Floats
    ducts: Floats
    squares: Floats
    pieces: Floats
    bands: Floats
    loss_bands: Floats
    curves: tuple[CurveTerm, ...]
    pumps: tuple[PumpTerm, ...]

    def find_drops(self, flows_m3_s: Floats, coolant: Coolant) -> Floats:
        """Return the drop of every term.

        Parameters
        ----------
        flows_m3_s : (edges,) float
            Signed, [m3/s].
        coolant : Coolant

        Returns
        -------
        (n,) float
            Signed, [Pa].
        """
        return self.evaluate(flows_m3_s, coolant)[0]

    def evaluate(self, flows_m3_s: Floats, coolant: Coolant) -> tuple[Floats, Floats]:
        """Return the drop of every term and how it rises with the flow.

        Parameters
        ----------
        flows_m3_s : (edges,) float
            Signed, [m3/s].
        coolant : Coolant

        Returns
        -------
        tuple of (n,) float
            Drops, signed, [Pa], and slopes, 0 or more, [Pa s/m3].

        Source
        ------
        Darcy and Weisbach for friction, K on the velocity head for losses.
        """
        f, k, s, c = self.ends
        flow = flows_m3_s[self.place]
        drops, slopes = np.empty(len(flow)), np.empty(len(flow))
        size = np.maximum(np.abs(flow[:s]), STILL_M3_S)
        y, rise = np.ones(s), np.zeros(s)
        by_flow = (coolant.density_kg_m3 / coolant.viscosity_pa_s) * self.across
        # As with `STILL_M3_S`, under the least Reynolds number of the friction formula.
        size[:f] = np.maximum(size[:f], SMALLEST_RE / (by_flow[:f] * self.star))
        re = by_flow * size[:k]
        y[:f], rise[:f] = churchill_slope(re[:f] * self.star)
        y[f:k], rise[f:k] = evaluate_pieces(re[f:], self.pieces)
        size[:k] *= 0.5 * coolant.density_kg_m3 * self.ducts
        size[k:] *= self.squares
        np.multiply(y * size, flow[:s], out=drops[:s])
        np.multiply(2.0 * y + rise, size, out=slopes[:s])
        for i, part in enumerate(self.curves, s):
            drops[i], slopes[i] = _read_part(part, float(flow[i]))
        pascal = head_pressure_pa(1.0, coolant)
        for i, pump in enumerate(self.pumps, c):
            head, fall = read_head(pump.points, float(flow[i]))
            drops[i], slopes[i] = -pascal * head, -pascal * fall
        return drops, np.maximum(slopes, 0.0)

    def find_bands(self, flows_m3_s: Floats, coolant: Coolant) -> Floats:
        """Return the relative error to expect of every term.

        Parameters
        ----------
        flows_m3_s : (edges,) float
            Signed, [m3/s].
        coolant : Coolant

        Returns
        -------
        (n,) float
            [-]; 0 for a pump.

        Source
        ------
        `friction.friction_band`; the band that each loss curve and other term carries.
        """
        f, k = self.ends[:2]
        bands = self.bands.copy()
        re = (
            (coolant.density_kg_m3 / coolant.viscosity_pa_s)
            * self.across
            * np.abs(flows_m3_s[self.place[:k]])
        )
        bands[:f] = friction_band(re[:f])
        bands[f:k] = evaluate_bands(re[f:], self.loss_bands)
        return bands


def stack_terms(terms: Sequence[tuple[int, Term]]) -> TermStack:
    """Return terms as arrays.

    Parameters
    ----------
    terms : sequence of (int, Term)
        The edge whose flow the term sees, and the term.

    Returns
    -------
    TermStack
    """
    kinds = (FrictionTerm, LossTerm, SquareTerm, CurveTerm, PumpTerm)
    lists: dict[type, list[int]] = {kind: [] for kind in kinds}
    for i, (_, term) in enumerate(terms):
        lists[type(term)].append(i)
    order = [i for kind in kinds for i in lists[kind]]
    sorted_terms = [terms[i][1] for i in order]
    friction = [t for t in sorted_terms if isinstance(t, FrictionTerm)]
    losses = [t for t in sorted_terms if isinstance(t, LossTerm)]
    squares = [t for t in sorted_terms if isinstance(t, SquareTerm)]
    curves = tuple(t for t in sorted_terms if isinstance(t, CurveTerm))
    pumps = tuple(t for t in sorted_terms if isinstance(t, PumpTerm))
    k = len(friction) + len(losses)
    bands = [math.nan] * k + [t.band for t in squares] + [t.band for t in curves] + [0.0] * len(pumps)
    return TermStack(
        place=np.array([terms[i][0] for i in order], dtype=np.intp),
        order=np.array(order, dtype=np.intp),
        ends=(len(friction), k, k + len(squares), k + len(squares) + len(curves)),
        across=np.array(
            [t.diameter_m / t.area_m2 for t in friction] + [t.diameter_m / t.area_m2 for t in losses]
        ),
        star=np.array([ROUND_F_RE / t.f_re for t in friction]),
        ducts=np.array(
            [
                *(t.length_m / t.diameter_m / t.area_m2**2 for t in friction),
                *(1.0 / t.area_m2**2 for t in losses),
            ]
        ),
        squares=np.array([t.factor for t in squares]),
        pieces=cut_pieces(tuple(t.curve for t in losses)),
        bands=np.array(bands),
        loss_bands=np.array([t.curve.bands for t in losses]).reshape(-1, len(RE_KNOTS)),
        curves=curves,
        pumps=pumps,
    )


def _read_part(term: CurveTerm, flow: float) -> tuple[float, float]:
    """Return the drop, signed, and its slope."""
    flows, drops = term.flows_m3_s, term.drops_pa
    size = abs(flow)
    if flows[0] < size < flows[-1]:
        drop, slope = read_cubic(size, flows, drops, term.slopes)
    else:
        end = 0 if size <= flows[0] else -1
        square = drops[end] / flows[end] ** 2
        drop, slope = square * size * size, 2.0 * square * max(size, STILL_M3_S)
    return (drop if flow >= 0 else -drop), slope
