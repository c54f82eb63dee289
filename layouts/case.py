"""The case round the panel: how the panel stands in it, where parts' own ports are, what tubes join them."""

from __future__ import annotations

from dataclasses import dataclass

from geom.frame import Vec


@dataclass(frozen=True, slots=True)
class Case:
    """How the panel stands in the case: its origin, and its x and z axes (unit vectors), in the case's frame, [mm].

    The case's frame is right-handed like the panel's.
    """

    origin: Vec = (0.0, 0.0, 0.0)
    right: Vec = (1.0, 0.0, 0.0)
    front: Vec = (0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class MeetingPort:
    """A part's own port as it stands in the case.

    Parameters
    ----------
    at : (float, float, float)
        Where its tube ends in it, in the case's frame, [mm].
    faces : (float, float, float)
        Unit vector out of the part, along which the tube leaves it, in the case's frame.
    """

    at: Vec
    faces: Vec


@dataclass(frozen=True, slots=True)
class Tubing:
    """What the tubes between panel and parts are of.

    Parameters
    ----------
    outer : float
        Outer diameter, [mm].
    bend_radius : float or None
        Of the centreline where it is bent, [mm]; None: tubes stay straight.
    stop : float
        From the seat of a fitting on the panel (its spot face, or the edge) to where a tube ends in it, [mm].
    insertion : float
        Length of tube inside each fitting, [mm].
    """

    outer: float
    bend_radius: float | None
    stop: float
    insertion: float
