"""What printing hands on: how the panel lies in the printer, the roofs over its channels, where it is split."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.frame import Face, Vec
from layouts.panel import Box

RoofKind = Literal["flat", "pointed", "round"]


@dataclass(frozen=True, slots=True)
class Pose:
    """How a part lies in the printer.

    Parameters
    ----------
    name : str
        "on its bottom edge", "on its back, tilted 45 deg onto its bottom edge": unique.
    lies_on : Face
        The face on the bed before tilting.
    up : (float, float, float)
        Unit vector of the layers' growth, in the panel frame.
    tilt_deg : float
        0 for the six faces.
    """

    name: str
    lies_on: Face
    up: Vec
    tilt_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class ChannelRoof:
    """The roof over one channel, as it lies in the print.

    Parameters
    ----------
    channel : str
    kind : {"flat", "pointed", "round"}
    span : float
        Width that a flat roof would span, [mm].
    left : float
        Width that is still too flat to carry itself and must be bridged, [mm]: where channels meet, of the largest
        circle there.
    rise : float
        From where the walls stop being upright to the top, [mm]; 0 for a flat one.
    higher : float
        How much higher the top stands than that of a flat roof of the same section, [mm].
    drop_share : float
        Friction in the channel with this roof over that with a flat one, [-]; the section is the same.
    inset : float
        How far each wall leans in over the rise, [mm]; 0 for a flat one, the radius for a round one.
    short : float
        What the body lacks over the channel for a roof that needs no wider bridge, [mm].
    """

    channel: str
    kind: RoofKind
    span: float
    left: float
    rise: float
    higher: float
    drop_share: float = 1.0
    inset: float = 0.0
    short: float = 0.0


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a channel passes the plane of a split: its centre there, [mm], and its section, [mm]."""

    channel: str
    at: Vec
    width: float
    depth: float


@dataclass(frozen=True, slots=True)
class ScrewWell:
    """The pocket beside a split from which a screw is put in and turned.

    Parameters
    ----------
    box : (float, float, float, float)
        x0, y0, x1, y1 in plan, [mm].
    z0, z1 : float
        Of its floor and its mouth, the lower first, [mm].
    on : {"front", "back"}
        The face that it is open to.
    forward : bool
        Whether the screw points along the split's axis: its well then lies in the left or lower piece.
    """

    box: Box
    z0: float
    z1: float
    on: Literal["front", "back"]
    forward: bool


@dataclass(frozen=True, slots=True)
class JointScrew:
    """The screws of a split's joint: all are alike, in lengths [mm] and forces [N].

    Parameters
    ----------
    name : str
        "M4".
    length, grip : float
        Of the screw under its head; what it clamps, its washer included.
    flange : float
        Of the piece between the well and the plane.
    engagement, hole_depth : float
        Of its thread in the other piece, and the depth of the tapped hole.
    holds_n : float
        What the thread, the face under the head and the screw itself may carry for years.
    washer : float
        Outer diameter of its washer; 0 without.
    """

    name: str
    length: float
    grip: float
    flange: float
    engagement: float
    hole_depth: float
    holds_n: float
    washer: float = 0.0


@dataclass(frozen=True, slots=True)
class Split:
    """The plane at which a body is split, and the sealed joint there.

    Parameters
    ----------
    axis : {"x", "y"}
        The plane's normal.
    at : float
        Where it cuts that axis, [mm].
    crossings : tuple of Crossing
    ring_outer, ring_depth : float
        Groove for the ring of cord round each crossing: outer diameter and depth, [mm]; 0 without crossings.
    screws : tuple of (float, float, float)
        Centres of the screws' axes in the plane, [mm].
    ring_inner, cord : float
        Inner diameter of that groove and section of the cord, [mm].
    wells : tuple of ScrewWell
        One for each screw, in the same order.
    screw : JointScrew or None
        None where there are no screws.
    loads_n : tuple of float
        What pulls on each screw at the test pressure, [N]: an estimate.
    preload_n : float
        What each is tightened to, [N].
    torque_nm : (float, float)
        Least and most for that, by the friction that may be, [N m]: an estimate.
    pins : tuple of (float, float, float)
        Centres in the plane of the pins that align both pieces, [mm].
    """

    axis: Literal["x", "y"]
    at: float
    crossings: tuple[Crossing, ...]
    ring_outer: float
    ring_depth: float
    screws: tuple[Vec, ...]
    ring_inner: float = 0.0
    cord: float = 0.0
    wells: tuple[ScrewWell, ...] = ()
    screw: JointScrew | None = None
    loads_n: tuple[float, ...] = ()
    preload_n: float = 0.0
    torque_nm: tuple[float, float] = (0.0, 0.0)
    pins: tuple[Vec, ...] = ()

    @property
    def pieces(self) -> tuple[str, str]:
        """Names of both pieces, that at the axis' lower end first."""
        return ("panel left", "panel right") if self.axis == "x" else ("panel lower", "panel upper")

    @property
    def forward(self) -> Vec:
        """Unit vector along the axis, from the first piece into the second."""
        return (1.0, 0.0, 0.0) if self.axis == "x" else (0.0, 1.0, 0.0)


@dataclass(frozen=True, slots=True)
class Printed:
    """How a printed panel is printed, as far as it is known before any solid.

    Parameters
    ----------
    pose : Pose
    roofs : tuple of ChannelRoof
        One for each channel that is closed in the print; empty where a cover closes them.
    split : Split or None
        None where it fits in one piece, or cannot be split.
    refused : str
        Why it cannot be split where it does not fit; else empty.
    """

    pose: Pose
    roofs: tuple[ChannelRoof, ...] = ()
    split: Split | None = None
    refused: str = ""

    def roof_of(self, channel: str) -> ChannelRoof | None:
        """Return the roof over a channel; None where it has none."""
        return next((roof for roof in self.roofs if roof.channel == channel), None)
