"""What a mesh gets before it is printed: wider bores, threads, shrinkage, its pose; plain values."""

from __future__ import annotations

from dataclasses import dataclass

from geom.features import Cylinder
from geom.frame import Vec
from geom.standards.tables import HEIGHT_SHARE


@dataclass(frozen=True, slots=True)
class ThreadCut:
    """An internal pipe thread to be cut along a bore, [mm].

    Parameters
    ----------
    name : str
        Of the bore's feature.
    mouth, direction : (float, float, float)
        Where it starts; unit vector into the material.
    length : float
        From the mouth to where its crests end; they fade over its own height.
    pitch, major : float
        Basic sizes.
    clearance : float
        What all of its diameters are larger.
    """

    name: str
    mouth: Vec
    direction: Vec
    length: float
    pitch: float
    major: float
    clearance: float = 0.0

    @property
    def height(self) -> float:
        """From root to crest, [mm]."""
        return HEIGHT_SHARE * self.pitch


@dataclass(frozen=True, slots=True)
class WideBore:
    """A bore that is made wider, as it is without that.

    Parameters
    ----------
    name : str
        Of its feature.
    bore : Cylinder
        [mm]
    through : bool
        Whether it leaves the part at its end.
    """

    name: str
    bore: Cylinder
    through: bool = False


@dataclass(frozen=True, slots=True)
class PrintFit:
    """What one part's mesh gets before it is printed.

    Parameters
    ----------
    part : str
        The blank's name.
    up : (float, float, float)
        Unit vector of the layers' growth in the panel's frame.
    bores : tuple of WideBore
    offset : float
        What they are made wider on the diameter, [mm].
    threads : tuple of ThreadCut
    shrink : float
        What the print shrinks, [-]: the mesh is larger by 1 / (1 - shrink).
    """

    part: str
    up: Vec
    bores: tuple[WideBore, ...] = ()
    offset: float = 0.0
    threads: tuple[ThreadCut, ...] = ()
    shrink: float = 0.0

    @property
    def scale(self) -> float:
        """What lengths are multiplied by, [-]."""
        return 1.0 / (1.0 - self.shrink)
