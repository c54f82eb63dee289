"""Threads and screw heads as plain numbers: areas, what they hold, torque."""

from __future__ import annotations

import math

from geom.standards.tables import Screw

SHEAR_SHARE = 1 / math.sqrt(3)
"""Allowable shear over allowable tension, [-]: von Mises."""

BEARING_PITCHES = 0.8
"""End of an engaged thread that carries nothing, in pitches; VDI 2230, recalled, not verified."""

KNURLED_SHARE = 0.5
"""Share of an insert's length over which its knurls hold in the plastic; common practice, no source."""


def tensile_area(diameter: float, pitch: float) -> float:
    """Return the nominal stress area of a metric thread, [mm2].

    Parameters
    ----------
    diameter, pitch : float
        [mm]

    Source
    ------
    ISO 898-1: pi / 4 ((d2 + d3) / 2)^2, which is pi / 4 (d - 0.9382 P)^2.
    """
    return math.pi / 4 * (diameter - 0.9382 * pitch) ** 2


def pitch_diameter(diameter: float, pitch: float) -> float:
    """Return the basic pitch diameter of a metric thread, [mm].

    Parameters
    ----------
    diameter, pitch : float
        [mm]

    Source
    ------
    ISO 724: d - 2 (3 / 8) H with H = P sqrt(3) / 2.
    """
    return diameter - 3 * math.sqrt(3) / 8 * pitch


def internal_shear_area(screw: Screw, length: float) -> float:
    """Return the area over which the thread in a tapped hole shears off, at the worst tolerances, [mm2].

    Parameters
    ----------
    screw : Screw
    length : float
        Of full thread, [mm].

    Source
    ------
    FED-STD-H28/2 for 60 degree threads: pi L / P dmin (P / 2 + (dmin - D2max) / sqrt(3)), with the least major
    diameter of the screw and the largest pitch diameter of the hole.
    """
    flank = screw.pitch / 2 + (screw.major_min - screw.internal_pitch_max) / math.sqrt(3)
    return math.pi * length / screw.pitch * screw.major_min * flank


def thread_holds(screw: Screw, engagement: float, allowable_mpa: float) -> float:
    """Return the pull that the thread in a tapped hole may carry, [N].

    Parameters
    ----------
    screw : Screw
    engagement : float
        [mm]; the last 0.8 pitches of it carry nothing.
    allowable_mpa : float
        Allowable tension of the body, [MPa].
    """
    carrying = max(0.0, engagement - BEARING_PITCHES * screw.pitch)
    return internal_shear_area(screw, carrying) * SHEAR_SHARE * allowable_mpa


def insert_holds(outer_diameter: float, length: float, allowable_mpa: float) -> float:
    """Return the pull that a knurled insert may carry before it shears out of its hole, [N].

    Parameters
    ----------
    outer_diameter, length : float
        Of the insert over its knurls, [mm].
    allowable_mpa : float
        Allowable tension of the body, [MPa].

    Source
    ------
    Shear at the knurls' outer diameter over half of the insert's length: common practice, no source.
    """
    return math.pi * outer_diameter * KNURLED_SHARE * length * SHEAR_SHARE * allowable_mpa


def ring_area(outer: float, inner: float) -> float:
    """Return the area of a ring of two diameters, [mm2]; 0 where it has none.

    Parameters
    ----------
    outer, inner : float
        [mm]
    """
    return max(0.0, math.pi / 4 * (outer**2 - inner**2))


def tightening_torque(screw: Screw, force_n: float, friction: float, hole: float = 0.0) -> float:
    """Return the torque that tightens a screw to a pull, [N m].

    Parameters
    ----------
    screw : Screw
    force_n : float
        [N]
    friction : float
        In the thread and under the head, [-].
    hole : float
        Diameter of the hole under the head, [mm], where it is wider than the table's.

    Source
    ------
    VDI 2230: F (P / (2 pi) + 0.577 mu d2 + mu Dkm / 2); Dkm is the mean of the head's bearing diameter and the
    clearance hole.
    """
    climb = screw.pitch / (2 * math.pi)
    thread = friction * pitch_diameter(screw.diameter, screw.pitch) / math.sqrt(3)
    head = friction * (screw.bearing_diameter + max(hole, screw.clearance)) / 4
    return force_n * (climb + thread + head) * 1e-3
