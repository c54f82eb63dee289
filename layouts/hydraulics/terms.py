"""The few formulas that every element's drop is made of, evaluated for many elements at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.friction import churchill_factor, friction_band
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.pump import CurvePoints, head_pressure_pa, pump_head_m, read_cubic
from layouts.hydraulics.turn_table import RE_KNOTS, LossCurve, evaluate_curves


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
    band : float
        Relative error to expect, [-].
    """

    curve: LossCurve
    diameter_m: float
    area_m2: float
    band: float


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
    friction : (f, 4) float
        Length [m], diameter [m], area [m2], laminar f * Re [-].
    loss : (k, 3) float
        Diameter [m], area [m2], band [-].
    values, slopes : (k, knots) float
        Of the loss curves, [-].
    square : (s, 2) float
        Factor [Pa s2/m6], band [-].
    curves : tuple of CurveTerm
    pumps : tuple of PumpTerm
    """

    place: NDArray[np.intp]
    order: NDArray[np.intp]
    friction: Floats
    loss: Floats
    values: Floats
    slopes: Floats
    square: Floats
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

        Source
        ------
        Darcy and Weisbach for friction, K on the velocity head for losses.
        """
        flow = flows_m3_s[self.place]
        f, k, s, c = self._find_ends()
        drops = np.empty(len(self.place))
        length, diameter, area, f_re = self.friction.T
        re, head = _find_re_and_head(flow[:f], diameter, area, coolant)
        drops[:f] = churchill_factor(re, f_re) * (length / diameter) * head
        re, head = _find_re_and_head(flow[f:k], self.loss[:, 0], self.loss[:, 1], coolant)
        drops[f:k] = evaluate_curves(re, self.values, self.slopes) * head
        drops[k:s] = self.square[:, 0] * flow[k:s] * np.abs(flow[k:s])
        drops[s:c] = [_read_part(t, float(q)) for t, q in zip(self.curves, flow[s:c], strict=True)]
        drops[c:] = [
            -head_pressure_pa(pump_head_m(t.points, float(q)), coolant)
            for t, q in zip(self.pumps, flow[c:], strict=True)
        ]
        return drops

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
        `friction.friction_band`; the band that each other term carries.
        """
        f, k, s, c = self._find_ends()
        bands = np.zeros(len(self.place))
        flow = flows_m3_s[self.place]
        re, _ = _find_re_and_head(flow[:f], self.friction[:, 1], self.friction[:, 2], coolant)
        bands[:f] = [friction_band(float(one)) for one in re]
        bands[f:k] = self.loss[:, 2]
        bands[k:s] = self.square[:, 1]
        bands[s:c] = [term.band for term in self.curves]
        return bands

    def _find_ends(self) -> tuple[int, int, int, int]:
        f = len(self.friction)
        k = f + len(self.loss)
        s = k + len(self.square)
        return f, k, s, s + len(self.curves)


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
    order = sorted(range(len(terms)), key=lambda i: kinds.index(type(terms[i][1])))
    sorted_terms = [terms[i][1] for i in order]
    friction = [
        (t.length_m, t.diameter_m, t.area_m2, t.f_re) for t in sorted_terms if isinstance(t, FrictionTerm)
    ]
    losses = [t for t in sorted_terms if isinstance(t, LossTerm)]
    return TermStack(
        place=np.array([terms[i][0] for i in order], dtype=np.intp),
        order=np.array(order, dtype=np.intp),
        friction=np.array(friction, dtype=float).reshape(-1, 4),
        loss=np.array([(t.diameter_m, t.area_m2, t.band) for t in losses], dtype=float).reshape(-1, 3),
        values=np.array([t.curve.values for t in losses], dtype=float).reshape(-1, len(RE_KNOTS)),
        slopes=np.array([t.curve.slopes for t in losses], dtype=float).reshape(-1, len(RE_KNOTS)),
        square=np.array(
            [(t.factor, t.band) for t in sorted_terms if isinstance(t, SquareTerm)], dtype=float
        ).reshape(-1, 2),
        curves=tuple(t for t in sorted_terms if isinstance(t, CurveTerm)),
        pumps=tuple(t for t in sorted_terms if isinstance(t, PumpTerm)),
    )


def _find_re_and_head(
    flow: Floats, diameter: Floats, area: Floats, coolant: Coolant
) -> tuple[Floats, Floats]:
    """Return the Reynolds number and the signed velocity head [Pa]."""
    speed = flow / area
    re = (coolant.density_kg_m3 / coolant.viscosity_pa_s) * np.abs(speed) * diameter
    return re, 0.5 * coolant.density_kg_m3 * speed * np.abs(speed)


def _read_part(term: CurveTerm, flow: float) -> float:
    flows, drops = term.flows_m3_s, term.drops_pa
    size = abs(flow)
    if size <= flows[0]:
        drop = drops[0] * (size / flows[0]) ** 2
    elif size >= flows[-1]:
        drop = drops[-1] * (size / flows[-1]) ** 2
    else:
        drop = read_cubic(size, flows, drops, term.slopes)
    return drop if flow >= 0 else -drop
