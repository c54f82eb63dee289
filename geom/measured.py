"""What is measured on solids and meshes, as plain values: walls and feather edges; loads no CAD kernel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from geom.frame import WALL_MM, Vec


@dataclass(frozen=True, slots=True)
class Wall:
    """The material between two named things.

    Parameters
    ----------
    thickness : float
        [mm]; 0 where they meet.
    limit : float
        The least thickness allowed there, [mm].
    between : (str, str)
        Names of features, or "outer left" and so on.
    points : ((float, float, float), (float, float, float))
        Where it is thinnest, on either side, [mm].
    wet : bool
        Whether coolant stands on one side at least.
    overlap : bool
        Whether both have volume in common; False with thickness 0: they touch.
    """

    thickness: float
    limit: float
    between: tuple[str, str]
    points: tuple[Vec, Vec]
    wet: bool
    overlap: bool = False

    @property
    def is_thin(self) -> bool:
        """Whether it is under its limit by more than a wall is measured to."""
        return self.thickness < self.limit - WALL_MM

    @property
    def middle(self) -> Vec:
        """Halfway between its sides where it is thinnest, [mm]."""
        (ax, ay, az), (bx, by, bz) = self.points
        return (ax + bx) / 2, (ay + by) / 2, (az + bz) / 2


@dataclass(frozen=True, slots=True)
class WallReach:
    """Up to which thickness walls are measured, whatever their limit.

    Parameters
    ----------
    between : callable
        Of two names as `Wall.between` has them, [mm].
    most : float
        That it never goes beyond, [mm]: pairs farther apart are not looked at.
    """

    between: Callable[[str, str], float]
    most: float

    def at_least(self, thickness: float) -> WallReach:
        """Return one that goes up to a thickness everywhere, [mm]."""
        return replace(
            self,
            between=lambda a, b: max(self.between(a, b), thickness),
            most=max(self.most, thickness),
        )


NO_REACH = WallReach(lambda a, b: 0.0, 0.0)
"""Nothing over its limit is measured."""


@dataclass(frozen=True, slots=True)
class Feather:
    """A run of edges along which the material is sharp.

    Parameters
    ----------
    angle : float
        Of the material where it is sharpest, [deg].
    length : float
        Of the run, [mm].
    at : (float, float, float)
        On the edge where it is sharpest, [mm].
    between : tuple of str
        Names of the features whose walls meet there; empty until they are looked for.
    """

    angle: float
    length: float
    at: Vec
    between: tuple[str, ...] = ()
