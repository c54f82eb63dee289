"""Laminar friction in a straight channel of any convex section of lines and arcs."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from geom.errors import OutOfRange
from geom.frame import SAME_MM
from geom.outline import Arc, Loop, loop_area, path_length
from layouts.hydraulics.friction import churchill_factor

DEGREE = 24
"""Highest power of the polynomials: f * Re of rectangles, triangle and half disc then lie within 1e-4 of the exact."""

NODES = 24
"""Points on each line of the rim, and on each `ARC_RAD` of its arcs."""

ARC_RAD = math.pi / 4

REYNOLDS = (500.0, 1e4)
"""Where two sections are compared: laminar and turbulent, on the root of the area, [-].

Between them no formula tells shapes apart.
"""


@lru_cache(maxsize=256)
def section_f_re(section: Loop) -> float:
    """Return Darcy f times Re of developed laminar flow in a section.

    Parameters
    ----------
    section : tuple of Line or Arc
        Counter-clockwise, convex, in any unit of length.

    Returns
    -------
    float
        f * Re on the hydraulic diameter, [-].

    Raises
    ------
    OutOfRange
        A section without area, or not counter-clockwise.

    Source
    ------
    The method of Shah, Laminar flow friction and forced convection heat transfer in ducts of arbitrary geometry,
    Int. J. Heat Mass Transfer 18 (1975) 849-862: velocity as a sum of harmonic polynomials that is least squares
    zero at the rim.
    """
    area, rim = loop_area(section), path_length(section)
    if area <= SAME_MM:
        raise OutOfRange(f"a section of area {area:g}: expected a counter-clockwise rim with an area")
    points, steps = _rim_points(section)
    z = points - points.mean()
    scale = float(np.abs(z).max())
    z, steps = z / scale, steps / scale
    powers = z[:, None] ** np.arange(DEGREE + 1)
    basis = np.column_stack((powers.real, powers.imag[:, 1:]))
    weight = np.sqrt(np.abs(steps))[:, None]
    factors = np.linalg.lstsq(basis * weight, np.abs(z) ** 2 / 4 * weight[:, 0], rcond=None)[0]
    # Green's theorem: the integral of g(z) over the section is that of conj(z) g(z) dz round it over 2i.
    moments = (np.conj(z) * steps) @ powers / 2j
    # And that of |z|2 / 4: its antiderivative to conj(z) is z conj(z)^2 / 8.
    square = float((np.sum(z * np.conj(z) ** 2 * steps) / 16j).real)
    flow = float(factors @ np.concatenate((moments.real, moments.imag[1:]))) - square
    mean = flow / (area / scale**2)
    diameter = 4 * area / rim / scale
    return 2 * diameter**2 / mean


def compare_friction(section: Loop, other: Loop) -> float:
    """Return the friction in a section over that in another of the same area, laminar or turbulent, whichever is more.

    Parameters
    ----------
    section, other : tuple of Line or Arc
        Counter-clockwise, convex, of one area.

    Returns
    -------
    float
        Drop per length at the same flow, [-].

    Source
    ------
    Churchill's friction at the Reynolds number that gives the section's own laminar friction in it, as
    `layouts.hydraulics.friction.friction_factor`.
    """
    return float(np.max(_drop(section) / _drop(other)))


def _drop(section: Loop) -> np.ndarray:
    """Return the drop per length at like flows in sections of one area, in one unit of their own, (n,)."""
    area, rim = loop_area(section), path_length(section)
    diameter = 4 * area / rim
    # One flow is one velocity here; the Reynolds number goes with the diameter.
    re = np.array(REYNOLDS) * diameter / math.sqrt(area)
    factor = churchill_factor(re, np.full(len(re), section_f_re(section)))
    return np.asarray(factor / diameter)


def _rim_points(section: Loop) -> tuple[np.ndarray, np.ndarray]:
    """Return points round a section as complex numbers, and the steps dz that each stands for, (n,) complex."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    shares, weights = (nodes + 1) / 2, weights / 2
    points, steps = [], []
    for piece in section:
        if isinstance(piece, Arc):
            count = max(1, math.ceil(abs(piece.sweep) / ARC_RAD))
            sweep = piece.sweep / count
            for k in range(count):
                turned = np.exp(1j * (piece.first + sweep * (k + shares)))
                points.append(complex(*piece.centre) + piece.radius * turned)
                steps.append(1j * piece.radius * turned * sweep * weights)
        else:
            a, b = complex(*piece.start), complex(*piece.end)
            points.append(a + (b - a) * shares)
            steps.append((b - a) * weights)
    return np.concatenate(points), np.concatenate(steps)
