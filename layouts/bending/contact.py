"""A plate that lies on a body: it may lift off, but not sink in, and nothing pulls it down there.

Each corner over the seat has a stiff spring that only pushes. The energy is then convex, and Newton's method, held
to steps that make it less, ends at the one equilibrium after finitely many turns: once the corners that press in the
answer are those that it was reckoned with.
"""

from __future__ import annotations

import math

import numpy as np

from geom.errors import GeometryError
from layouts.bending.elements import Elements, Held, solve_held

STIFFNESS = 1e3
"""Of a corner's spring over rigidity / size^2, [-]: several times as stiff as the plate between neighbours, so that no
corner sinks by more than a thousandth of the greatest lift; ten times as much changes lifts by 1e-5."""

MOST_TURNS = 60
"""Each lets corners go or takes them back; a cover on 59 screws took 14."""

ROUNDING = 1e-12
"""An energy is greater than another only if it is by more than this share."""

HALVINGS = 30
"""Of a step, in search of the least energy along it."""


def settle(
    elements: Elements, held: Held, loads: np.ndarray, seated: np.ndarray, size: float, pressing: np.ndarray
) -> tuple[np.ndarray, np.ndarray, int]:
    """Return where the plate comes to rest on its seat.

    Parameters
    ----------
    elements : Elements
    held : Held
        The same with its screws.
    loads : (n,) float
        Upward at each corner, over the rigidity, [1/mm].
    seated : (n,) bool
        Corners with the body under them; those that are held cannot sink anyway.
    size : float
        Side of the mesh's triangles, [mm].
    pressing : (n,) bool
        Corners taken to press on the seat to begin with: none, or a like case's.

    Returns
    -------
    unknowns : (3 n,) float
        Deflections [mm] and slopes [-].
    push : (n,) float
        Of the seat at each corner, upward, over the rigidity, [1/mm]; never negative.
    turns : int
        Solutions that it took.

    Raises
    ------
    GeometryError
        Where it does not come to rest within `MOST_TURNS`.
    """
    scale = float(np.abs(loads).max())
    if scale == 0.0:
        return np.zeros(3 * len(loads)), np.zeros_like(loads), 0
    # Twice the loads, twice the answer: solved for loads of about 1, whatever they are.
    loads = loads / scale
    stiff = np.where(seated, STIFFNESS / size**2, 0.0)
    unknowns, energy = np.zeros(3 * len(loads)), math.inf
    for turn in range(1, MOST_TURNS + 1):
        target = solve_held(held, loads, np.where(pressing, stiff, 0.0))
        if np.array_equal(seated & (target[::3] < 0), pressing):
            return scale * target, scale * np.maximum(0.0, -target[::3] * stiff), turn
        least = _energy(elements, loads, stiff, target)
        if least > energy + ROUNDING * abs(energy):
            # It went too far: only so far as the energy falls.
            step = target - unknowns
            target = unknowns + _least_along(elements, loads, stiff, unknowns, step) * step
            least = _energy(elements, loads, stiff, target)
        unknowns, energy = target, least
        pressing = seated & (unknowns[::3] < 0)
    x, y = elements.mesh.points.mean(axis=0)
    raise GeometryError(
        f"the plate round ({x:.0f}, {y:.0f}) mm does not come to rest on its seat within {MOST_TURNS} turns"
    )


def _energy(elements: Elements, loads: np.ndarray, stiff: np.ndarray, unknowns: np.ndarray) -> float:
    lift = unknowns[::3]
    # Sums, not products of vectors: those wake the library's threads, which then spin beside the factoring.
    work = np.sum(unknowns * (elements.stiffness @ unknowns)) + np.sum(stiff * np.minimum(0.0, lift) ** 2)
    return float(work / 2 - np.sum(loads * lift))


def _least_along(
    elements: Elements, loads: np.ndarray, stiff: np.ndarray, unknowns: np.ndarray, step: np.ndarray
) -> float:
    """Return how far along a step the energy is least: where its slope, which only grows, is zero."""
    bend = elements.stiffness @ step
    lift, move = unknowns[::3], step[::3]
    fixed, grows = float(np.sum(unknowns * bend) - np.sum(loads * move)), float(np.sum(step * bend))
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        seat = float(np.sum(stiff * move * np.minimum(0.0, lift + middle * move)))
        low, high = (middle, high) if fixed + middle * grows + seat < 0 else (low, middle)
    return high
