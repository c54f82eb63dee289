"""Which screws may hold the joint of a split, and the well from which each is turned.

A screw lies across the plane, two of its diameters under the front or the back face. It is put in and turned from a
well beside the plane in one piece and holds in a thread tapped into the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.standards import tables
from layouts.panel import Panel
from layouts.printing.printed import JointScrew
from layouts.strength.fastening import PROOF_MPA, SCREW_SHARE
from layouts.strength.screw_hole import BELOW_THREAD, choose_washer
from layouts.strength.threads import ring_area, tensile_area, thread_holds

SIZES = ("M3", "M4", "M5", "M6")
"""Screws that are tried, the smallest first."""

UNDER_FACE = 2.0
"""From the face to the screw's axis, in screw diameters: the edge distance of screws in plastic, common practice, no
source."""

FLANGE = 1.5
"""Material between well and plane, in screw diameters; common practice, no source."""

LEAST_FLANGE = 4.0
"""The same at least, [mm]; common practice, no source."""

MOST_ENGAGEMENT = 4.0
"""Longest thread that is reckoned with, in screw diameters; common practice, no source."""

BESIDE_HEAD = 0.5
"""Between the well's sides and the head or washer, [mm]; common practice, no source."""

BEHIND_SCREW = 1.0
"""Behind a screw as it is put into its hole, [mm]; common practice, no source."""

KEY_DEG = 25.0
"""How far a ball-ended key may be tilted, [deg]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class WellSize:
    """Of the well: length along the screw, width, depth under its face; the axis' depth under that face, [mm]."""

    length: float
    width: float
    depth: float
    axis: float


def list_screws(panel: Panel, temperature_c: float, least_n: float) -> tuple[JointScrew, ...]:
    """Return the screws that carry a load, small to large and short to long; two lengths of each size.

    Parameters
    ----------
    panel : Panel
    temperature_c : float
        Of the warmest coolant, [°C].
    least_n : float
        Load, [N].

    Source
    ------
    Thread engagement: the materials table; half a diameter below the thread: milling guides.
    """
    material = tables.material(panel.make.material)
    allowable = material.allowable_at(temperature_c, lasting=True)
    found = []
    for name in SIZES:
        screw = tables.screw(name)
        washer = choose_washer(screw, material, False)
        thick, wide = (0.0, 0.0) if washer is None else (washer.thickness, washer.diameter)
        flange = max(LEAST_FLANGE, FLANGE * screw.diameter)
        grip = flange + thick
        head = ring_area(max(screw.bearing_diameter, wide), screw.clearance) * allowable
        proof = SCREW_SHARE * PROOF_MPA * tensile_area(screw.diameter, screw.pitch)
        fitting = []
        for length in tables.screw_lengths(screw):
            engagement = length - grip
            if not material.engagement - SAME_MM <= engagement / screw.diameter <= MOST_ENGAGEMENT + SAME_MM:
                continue
            holds = min(head, proof, thread_holds(screw, engagement, allowable))
            deep = engagement + BELOW_THREAD * screw.diameter
            if holds >= least_n:
                fitting.append(JointScrew(name, length, grip, flange, engagement, deep, holds, wide))
        found += fitting[:2]
    return tuple(found)


def size_well(panel: Panel, joint: JointScrew) -> WellSize | None:
    """Return the well of a screw; None where the body is too thin for the screw.

    It takes the whole screw before its hole, and a ball-ended key that comes down from the face to its head.

    Parameters
    ----------
    panel : Panel
    joint : JointScrew
    """
    screw, wall = tables.screw(joint.name), panel.rules.least_wall
    axis = min(UNDER_FACE * screw.diameter, panel.make.body / 2)
    width = max(screw.head_diameter, joint.washer) + 2 * BESIDE_HEAD
    depth = axis + width / 2
    under = axis - max(screw.clearance, screw.diameter) / 2
    if under < max(wall, screw.diameter) - SAME_MM or panel.make.body - depth < wall - SAME_MM:
        return None
    tilt = math.radians(KEY_DEG)
    key = (
        (axis + screw.key / 2 / math.cos(tilt)) / math.tan(tilt)
        + screw.head_height
        + joint.grip
        - joint.flange
    )
    length = max(joint.length + screw.head_height + BEHIND_SCREW, key)
    return WellSize(math.ceil(2 * length) / 2, width, depth, axis)


def find_axis_z(panel: Panel, well: WellSize, front: bool) -> float:
    """Return z of a screw's axis, [mm]."""
    return panel.make.body - well.axis if front else well.axis
