"""Named features: what is cut from which blank, as plain values without a kernel.

*Blank*: a sheet before cutting (body, cover). *Feature*: one cut with a name. *Wet* features hold coolant,
*dry* ones do not (grooves, screw holes, seats, spot faces). Two features may touch only where one names the
other in its `joins`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.frame import Face
from geom.outline import Loop, Region, Segment


@dataclass(frozen=True, slots=True)
class Prism:
    """The union of `region`'s loops less that of the `islands`' left standing in it, from z0 up to z1, [mm]."""

    region: Region
    z0: float
    z1: float
    islands: Region = ()


@dataclass(frozen=True, slots=True)
class Track:
    """A slot of one width along a path of lines and arcs, from z0 up to z1, [mm]: a groove, or the cord in it.

    A closed path comes back to its start without a corner; an open one has round ends.
    """

    path: tuple[Segment, ...]
    closed: bool
    width: float
    z0: float
    z1: float


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A bore from the centre of its mouth along a unit vector, [mm].

    `chamfer` is the extra radius of a 45-degree lead chamfer at the mouth.
    """

    mouth: tuple[float, float, float]
    direction: tuple[float, float, float]
    length: float
    radius: float
    chamfer: float = 0.0


Shape = Prism | Track | Cylinder
Kind = Literal[
    "channel",
    "through hole",
    "tank",
    "port",
    "pump bore",
    "seat",
    "spot face",
    "groove",
    "screw hole",
    "clearance hole",
]


@dataclass(frozen=True, slots=True)
class Feature:
    """One named cut.

    Parameters
    ----------
    name : str
        Unique: "channel pump - processor block", "port processor block inlet G1/4", "groove 2".
    kind : str
    medium : {"wet", "dry"}
    shape : Prism, Track or Cylinder
    joins : tuple of str
        Names of the features it is meant to touch or overlap (one side naming it is enough).
    opens : tuple of Face
        Outer faces that it breaks through on purpose; "joint" walls are not outer faces.
    region : str
        The wet region it belongs to (one cord loop goes round each); empty for dry features.
    """

    name: str
    kind: Kind
    medium: Literal["wet", "dry"]
    shape: Shape
    joins: tuple[str, ...] = ()
    opens: tuple[Face, ...] = ()
    region: str = ""


@dataclass(frozen=True, slots=True)
class Blank:
    """A sheet before cutting: its outline from z0 up to z1, [mm]. Name: "body", "cover", "front cover" or "panel"."""

    name: str
    loop: Loop
    z0: float
    z1: float


@dataclass(frozen=True, slots=True)
class Insert:
    """A part that is added, not cut: the squeezed cord."""

    name: str
    shape: Shape


@dataclass(frozen=True, slots=True)
class Detail:
    """All that the solids are made of."""

    blanks: tuple[Blank, ...]
    features: tuple[Feature, ...]
    inserts: tuple[Insert, ...]
