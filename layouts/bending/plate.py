"""A plate and its loads as values, and how it bends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely


@dataclass(frozen=True, slots=True)
class Sheet:
    """A flat plate of one material, whole or thinner in places.

    Parameters
    ----------
    outline : shapely.Polygon
        With its holes, [mm].
    thickness : float
        Where it is whole, [mm].
    young_mpa, poisson : float
        [MPa], [-].
    thinner : tuple of (shapely.Geometry, float)
        Where it is thinner, and how thick there, [mm]; where they overlap, the thinnest.
    """

    outline: shapely.Polygon
    thickness: float
    young_mpa: float
    poisson: float
    thinner: tuple[tuple[shapely.Geometry, float], ...] = ()


@dataclass(frozen=True, slots=True)
class ClampRing:
    """A screw: the plate is held down, neither lifting nor sinking, under its head: between two radii, [mm]."""

    at: tuple[float, float]
    inner: float
    outer: float


@dataclass(frozen=True, slots=True)
class LineLoad:
    """A load per length along a line, lifting the plate.

    Parameters
    ----------
    points : (n, 2) float
        Middles of its pieces, [mm].
    lengths : (n,) float
        Of the pieces, [mm].
    n_mm : float
        [N/mm]
    """

    points: np.ndarray
    lengths: np.ndarray
    n_mm: float


@dataclass(frozen=True, slots=True)
class PlateCase:
    """A plate with all that acts on it; upward is away from the body.

    Parameters
    ----------
    sheet : Sheet
    clamps : tuple of ClampRing
    pressed : shapely.Geometry
        Where the pressure lifts it.
    pressure_mpa : float
        [MPa]
    lines : tuple of LineLoad
    seat : shapely.Geometry
        Where the body lies under it, so that it cannot sink; empty: nowhere.
    """

    sheet: Sheet
    clamps: tuple[ClampRing, ...]
    pressed: shapely.Geometry
    pressure_mpa: float
    lines: tuple[LineLoad, ...]
    seat: shapely.Geometry


@dataclass(frozen=True, slots=True)
class Bent:
    """How a plate bends.

    Parameters
    ----------
    points : (n, 2) float
        Corners of the mesh, [mm].
    triangles : (m, 3) int
        Numbers of their corners.
    lift : (n,) float
        At the corners, upward, [mm].
    stress_mpa : (n,) float
        Greatest principal stress of either face at the corners, averaged over a circle of one thickness, so that it
        does not grow without end towards a clamp as the mesh is refined, [MPa]; (0,) where it was not asked for.
    line_lift : tuple of (k,) float
        At the points of each line load, [mm].
    reactions_n : tuple of float
        Of each clamp, pulling the plate down, [N].
    contact_n : float
        Sum of the seat's forces, pushing the plate up, [N]. Right beside a head the seat pushes against the screw
        itself; that share depends on the mesh and moves nothing else.
    """

    points: np.ndarray
    triangles: np.ndarray
    lift: np.ndarray
    stress_mpa: np.ndarray
    line_lift: tuple[np.ndarray, ...]
    reactions_n: tuple[float, ...]
    contact_n: float
