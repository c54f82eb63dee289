"""Whether a cover's screws go in at the worst: two sheets drilled apart, each hole measured from the lower left corner.

A screw that stands in a tapped hole has the cover's hole less its own diameter to share with what both holes are off:
for two zones of position that is the fixed fastener's rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.standards import tables
from layouts.faces import cover_name, joint_z, joints_of
from layouts.panel import Panel
from layouts.plan import Sealed
from layouts.strength.screw_hole import clearance_hole
from layouts.tolerances.classes import length_tolerance


@dataclass(frozen=True, slots=True)
class WorstScrew:
    """The screw that the class lets its two holes stand farthest apart for.

    Parameters
    ----------
    name : str
        Of its hole in the body.
    at : (float, float, float)
        In the joint, [mm].
    apart : float
        How far both holes' axes may be off each other, [mm].
    play : float
        What the cover's hole leaves to each side, [mm].
    zone : float
        Diameter of the zone of position that both holes may have, so that every screw goes in, [mm]; hundredths.
    """

    name: str
    at: tuple[float, float, float]
    apart: float
    play: float
    zone: float

    @property
    def misses(self) -> bool:
        """Whether the screw may not go in: its holes are to be held to the zone, or drilled together."""
        return self.apart > self.play + SAME_MM


def called_out_zone(panel: Panel, sealed: Sealed) -> float | None:
    """Return the zone of position that the drawing calls out for the cover screws' holes, its diameter in [mm].

    None where the class does for every screw, and for a printed panel, whose cover is drilled to its body.

    Parameters
    ----------
    panel : Panel
    sealed : Sealed
    """
    worst = worst_screw(panel, sealed)
    if worst is None or not worst.misses or panel.make.method == "printed":
        return None
    return worst.zone


def fastener_zone(hole: float, screw: float) -> float:
    """Return the diameter of the zone of position for the holes of both parts, where one holds the screw, [mm].

    Parameters
    ----------
    hole, screw : float
        Smallest hole that the screw passes, and largest screw, [mm].

    Source
    ------
    Fixed fastener, T = (H - F) / 2, ASME Y14.5, section on fixed and floating fasteners.
    """
    return (hole - screw) / 2


def worst_screw(panel: Panel, sealed: Sealed) -> WorstScrew | None:
    """Return the cover screw whose holes may be farthest apart, in [mm]; None without screws.

    Parameters
    ----------
    panel : Panel
    sealed : Sealed
    """
    screws = [
        (x, y, layer, number)
        for layer in joints_of(panel)
        for number, (x, y) in enumerate(sealed.screws_of(layer), start=1)
    ]
    if not screws:
        return None
    size = tables.screw(panel.make.screw)
    hole = clearance_hole(panel)

    def apart(x: float, y: float) -> float:
        # Both sheets.
        return 2 * math.hypot(length_tolerance(panel, x), length_tolerance(panel, y))

    x, y, layer, number = max(screws, key=lambda row: apart(row[0], row[1]))
    return WorstScrew(
        f"{cover_name(layer)} screw {number}",
        (x, y, joint_z(panel, layer)),
        apart(x, y),
        (hole - size.diameter) / 2,
        math.floor(fastener_zone(hole, size.diameter) * 100 + SAME_MM) / 100,
    )
