"""What printing hands on: how the panel lies in the printer, the roofs over its channels, where it is split."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.frame import Face

Vec = tuple[float, float, float]
RoofKind = Literal["flat", "pointed", "round"]


@dataclass(frozen=True, slots=True)
class Pose:
    """How a part lies in the printer.

    Parameters
    ----------
    name : str
        "on its bottom edge", "on its back, tilted 45 deg about x": unique.
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
        Width that is still too flat to carry itself and must be bridged, [mm].
    rise : float
        From where the walls stop being upright to the top, [mm]; 0 for a flat one.
    higher : float
        How much higher the top stands than that of a flat roof of the same section, [mm].
    drop_share : float
        Friction in the channel with this roof over that with a flat one, [-]; the section is the same.
    """

    channel: str
    kind: RoofKind
    span: float
    left: float
    rise: float
    higher: float
    drop_share: float = 1.0


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a channel passes the plane of a split: its centre there, [mm], and its section, [mm]."""

    channel: str
    at: Vec
    width: float
    depth: float


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
        Recess for the ring of cord round each crossing: diameter and depth, [mm].
    screws : tuple of (float, float, float)
        Centres of the screws' axes in the plane, [mm].
    """

    axis: Literal["x", "y"]
    at: float
    crossings: tuple[Crossing, ...]
    ring_outer: float
    ring_depth: float
    screws: tuple[Vec, ...]


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
