"""Named features: what is cut from which blank, as plain values without a kernel.

*Blank*: a sheet before cutting (body, cover). *Feature*: one cut with a name. *Wet* features hold coolant,
*dry* ones do not (grooves, screw holes, seats, spot faces). Two features may touch only where one names the
other in its `joins`.
"""

from __future__ import annotations

import math
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

    `chamfer` is the extra radius of a 45-degree lead chamfer at the mouth; `core` the radius of what is left standing
    in the middle of one without a chamfer: it is then a ring groove, or the ring of cord in it.
    """

    mouth: tuple[float, float, float]
    direction: tuple[float, float, float]
    length: float
    radius: float
    chamfer: float = 0.0
    core: float = 0.0


def chamfer_volume(radius: float, chamfer: float) -> float:
    """Return what a 45-degree lead chamfer takes beside a bore, [mm3]: a cone's frustum less the bore in it.

    Parameters
    ----------
    radius, chamfer : float
        Of the bore; what the mouth's radius is larger, [mm].
    """
    wide = radius + chamfer
    return math.pi * chamfer * ((wide**2 + wide * radius + radius**2) / 3 - radius**2)


VaultProfile = Literal["pointed", "round"]


@dataclass(frozen=True, slots=True)
class Vault:
    """A channel with a roof that prints: the union of runs whose walls are upright, then lean in to a flat top.

    Parameters
    ----------
    region : Region
        Outlines of the runs under the roof, counter-clockwise and without corners.
    z0, z1 : float
        From its lowest to its highest, [mm].
    inset, rise : float
        How far each wall leans in and over which height, [mm].
    profile : {"pointed", "round"}
        Straight, or as a quarter of a circle, whose `inset` and `rise` are its radius.
    up : bool
        Whether the roof is at z1; False: at z0, for a panel that is printed on its front.
    """

    region: Region
    z0: float
    z1: float
    inset: float
    rise: float
    profile: VaultProfile
    up: bool = True


Shape = Prism | Track | Cylinder | Vault
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
    "ring groove",
    "screw well",
    "pin hole",
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
    shape : Prism, Track, Cylinder or Vault
    joins : tuple of str
        Names of the features it is meant to touch or overlap (one side naming it is enough).
    opens : tuple of Face
        Outer faces that it breaks through on purpose; "joint" walls are not outer faces.
    region : str
        The wet region it belongs to (one cord loop goes round each); empty for dry features.
    thread : str
        What is tapped into it: "G1/4", "M4"; empty where nothing is.
    thread_depth : float
        Length of the full thread from the mouth, [mm].
    """

    name: str
    kind: Kind
    medium: Literal["wet", "dry"]
    shape: Shape
    joins: tuple[str, ...] = ()
    opens: tuple[Face, ...] = ()
    region: str = ""
    thread: str = ""
    thread_depth: float = 0.0


@dataclass(frozen=True, slots=True)
class Blank:
    """A sheet before cutting: its outline from z0 up to z1, [mm].

    Name: "body", "cover", "front cover" or "panel"; where a panel is split "panel left" and "panel right", or "panel
    lower" and "panel upper".
    """

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
