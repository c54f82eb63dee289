"""What is known of the tubes between panel and parts: frozen values in the panel frame, [mm]."""

from __future__ import annotations

from dataclasses import dataclass

from geom.frame import Vec


@dataclass(frozen=True, slots=True)
class TubeEnd:
    """Where a tube ends: its stop in a fitting.

    Parameters
    ----------
    at : (float, float, float)
        [mm].
    out : (float, float, float)
        Unit vector along which the tube leaves the fitting.
    """

    at: Vec
    out: Vec


@dataclass(frozen=True, slots=True)
class TooNear:
    """Something that a tube comes too near to.

    Parameters
    ----------
    what : str
        "tube 2", "the panel", "the pump" or 'the fitting of port "drain"'.
    apart, needs : float
        From the tube's centreline to the other's centreline or surface, and the least that it needs, [mm].
    at : (float, float, float)
        On the tube's centreline, [mm].
    """

    what: str
    apart: float
    needs: float
    at: Vec


@dataclass(frozen=True, slots=True)
class TubeRun:
    """One tube from a port of the panel to a part's own port.

    Parameters
    ----------
    name : str
        "tube 1" ..., in the order of the ports.
    port : str
        Name of the panel's port.
    part : str
    points : tuple of (float, float, float)
        Corners of its centreline from its stop in the panel's fitting to its stop in the part's; two where it is
        straight, empty where there is no way.
    bends : tuple of float
        Angle of each bend, [deg], in the order of the corners.
    bend_radius : float
        Of the centreline, [mm]; 0 where it is straight.
    length : float
        That it is cut to, along the centreline from stop to stop, [mm]; 0 where there is no way.
    why_none : str
        One clause where there is no way; empty otherwise.
    straight_by : (float, float, float) or None
        How its free port would have to move so that the tube is straight, [mm]; None where no small move does it, or
        where it is straight already.
    near : tuple of TooNear
        What it comes too near to, where there is no way clear of all.
    cure_none : str
        What to do where there is no way, one clause; empty otherwise.
    """

    name: str
    port: str
    part: str
    points: tuple[Vec, ...]
    bends: tuple[float, ...]
    bend_radius: float
    length: float
    why_none: str = ""
    straight_by: Vec | None = None
    near: tuple[TooNear, ...] = ()
    cure_none: str = ""
