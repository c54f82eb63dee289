"""The cover screws' holes in the body, and which screw goes into them.

A hole is as deep as the shortest screw that grips enough of the body needs, so that its tip never touches the bottom.
Plastic covers have a plain washer under each head, any cover a large one where the file asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.standards import tables
from layouts.faces import groove_depth
from layouts.panel import Panel

BELOW_THREAD = 0.5
"""Bore below the screw's tip, in screw diameters; milling guides."""

SPARE_PITCHES = 1.0
"""Full thread below the screw's tip, in pitches: a screw at its longest, in a cover at its thinnest, must not reach the
run-out before its head is seated; common practice, no source."""

LEAST_PITCHES = 2.0
"""The same in pitches where the body is too thin for that: a bottoming tap; common practice, no source."""

BELOW_INSERT = 1.0
"""Bore below an insert, or below the screw's tip, for what is pressed out, [mm]: insert guides, 0.5 to 1 mm."""

INSERT_DIAMETERS = 1.0
"""Thread that a screw needs in an insert, in screw diameters: that of steel and brass; common practice, no source."""


PLAIN_WASHER, LARGE_WASHER = "ISO 7089", "ISO 7093-1"
"""Standards of the washers."""

LEAST_SEAT = 1.0
"""Diameter of what bears less that of the hole under it, at least, [mm]: 0.5 mm all round; common practice, no
source."""

OVER_EDGE = 0.5
"""How far a washer may stand over the cover's edge, [mm]; common practice, no source."""

BESIDE_GROOVE = 1.0
"""Least material between a groove and a screw's clearance hole, [mm]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Washer:
    """A washer under a screw's head: outer diameter and largest thickness, [mm], and its standard."""

    diameter: float
    thickness: float
    standard: str


@dataclass(frozen=True, slots=True)
class ScrewFit:
    """A cover screw and its hole, [mm].

    Parameters
    ----------
    length : float or None
        Of the screw under its head; None where even the shortest finds no thread.
    grip : float
        What it clamps: the cover and its washer.
    engagement, needed : float
        Thread that it has in the body, and that it should have.
    most : float
        Thread that the deepest hole would give it.
    spare : float
        Thread below its tip; 0 with an insert.
    diameter, depth : float
        Of the hole.
    wall : float
        Least material round it.
    insert : Insert or None
    """

    length: float | None
    grip: float
    engagement: float
    needed: float
    most: float
    spare: float
    diameter: float
    depth: float
    wall: float
    insert: tables.Insert | None

    @property
    def tapped(self) -> float:
        """Length of the thread that is tapped, [mm]: all that the screw engages, and some spare; 0 with an insert."""
        if self.insert is not None:
            return 0.0
        return max(0.0, min(max(self.needed, self.engagement), self.most) + self.spare)


def screw_hole(panel: Panel) -> tuple[float, float]:
    """Return diameter and depth of the cover screws' holes in the body, [mm]."""
    fit = fit_screw(panel)
    return fit.diameter, fit.depth


def hole_wall(panel: Panel) -> float:
    """Return the least material between a cover screw's hole in the body and anything wet, [mm]."""
    return fit_screw(panel).wall


def insert_room(panel: Panel) -> float:
    """Return how far a cover screw's axis stands off anything where it has an insert, [mm]; 0 where it has none."""
    fit = fit_screw(panel)
    return 0.0 if fit.insert is None else fit.diameter / 2 + fit.wall


def find_washer(panel: Panel) -> Washer | None:
    """Return the washer under the head of a cover screw: on plastic covers, or a large one; None without."""
    cover = tables.material(panel.make.cover_row)
    return choose_washer(tables.screw(panel.make.screw), cover, panel.make.large_washers)


def choose_washer(screw: tables.Screw, cover: tables.Material, large: bool) -> Washer | None:
    """Return the washer under a screw's head on a cover of a material; None where there is none."""
    if large:
        return Washer(screw.large_washer, screw.large_washer_thickness, LARGE_WASHER)
    if cover.kind == "plastic":
        return Washer(screw.washer, screw.washer_thickness, PLAIN_WASHER)
    return None


def footprint_diameter(panel: Panel) -> float:
    """Return the diameter of what a screw covers of its cover: of its head or its washer, [mm]."""
    washer = find_washer(panel)
    return max(tables.screw(panel.make.screw).head_diameter, 0.0 if washer is None else washer.diameter)


def clearance_hole(panel: Panel) -> float:
    """Return the diameter of the cover screws' holes in the cover, [mm]: the table's, or the file's larger one."""
    return max(panel.make.screw_hole, tables.screw(panel.make.screw).clearance)


def widest_hole(panel: Panel) -> float:
    """Return the widest hole in the cover that leaves a seat for head or washer, [mm]."""
    return widest_under(tables.screw(panel.make.screw), find_washer(panel))


def widest_under(screw: tables.Screw, washer: Washer | None) -> float:
    """Return the widest hole that leaves a seat for a screw's head, or its washer, [mm]."""
    seat = max(screw.bearing_diameter, 0.0 if washer is None else washer.diameter)
    return max(screw.clearance, seat - LEAST_SEAT)


def clamp_radii(panel: Panel) -> tuple[float, float]:
    """Return inner and outer radius of what presses the cover down at a screw, [mm].

    That is the head; a large washer, or the rim of a plain one where the hole is as wide as the head.
    """
    hole = clearance_hole(panel)
    outer = max(tables.screw(panel.make.screw).head_diameter, hole + LEAST_SEAT)
    return hole / 2, max(outer, footprint_diameter(panel) if panel.make.large_washers else 0.0) / 2


def find_insert(panel: Panel) -> tables.Insert | None:
    """Return the insert that a cover screw has, or would have: the longest that the body holds.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    Insert or None
        The shortest where none fits; None in metal bodies, and where the table has none for the screw.
    """
    rows = tables.inserts_for(panel.make.screw)
    if not rows or tables.material(panel.make.material).kind == "metal":
        return None
    room = most_depth(panel)
    return next((row for row in reversed(rows) if row.length + BELOW_INSERT <= room + SAME_MM), rows[0])


def most_depth(panel: Panel) -> float:
    """Return the deepest hole for which the body keeps the least wall in front of it, [mm].

    With two covers that is before the far groove.
    """
    far_groove = groove_depth(panel.make.closing, panel.make.cord) if panel.channel.layers == 2 else 0.0
    return panel.make.body - far_groove - panel.rules.least_wall


def fit_screw(panel: Panel) -> ScrewFit:
    """Return the cover screw and its hole.

    The screw is the shortest preferred length that finds the thread which the material needs, and for which a hole
    can be deep enough; where there is none, the longest for which it can.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    ScrewFit

    Source
    ------
    Thread engagement: the materials table; half a diameter below the thread: milling guides.
    """
    insert = find_insert(panel) if panel.make.inserts else None
    return _fit_tapped(panel) if insert is None else _fit_insert(panel, insert)


def grip_length(panel: Panel) -> float:
    """Return what a cover screw clamps: the cover and its washer, [mm]."""
    washer = find_washer(panel)
    return panel.make.cover + (0.0 if washer is None else washer.thickness)


def least_below(screw: tables.Screw) -> float:
    """Return the bore below a thread that a tap needs where room is short, [mm]."""
    return min(BELOW_THREAD * screw.diameter, LEAST_PITCHES * screw.pitch)


def tapped_thread(screw: tables.Screw, depth: float) -> float:
    """Return the thread that a tap cuts in a hole of some depth where room is short, [mm]."""
    return max(0.0, depth - least_below(screw))


def _fit_tapped(panel: Panel) -> ScrewFit:
    screw = tables.screw(panel.make.screw)
    needed = tables.material(panel.make.material).engagement * screw.diameter
    room, grip = most_depth(panel), grip_length(panel)
    spare = SPARE_PITCHES * screw.pitch
    least = spare + least_below(screw)
    below, most = max(BELOW_THREAD * screw.diameter, least), room - least
    length = _choose_length(screw, grip, needed, (room - below, most))
    engagement = 0.0 if length is None else length - grip
    depth = min(room, max(needed, engagement) + below)
    wall = panel.rules.least_wall
    return ScrewFit(length, grip, engagement, needed, most, spare, screw.tap_drill, depth, wall, None)


def _fit_insert(panel: Panel, insert: tables.Insert) -> ScrewFit:
    screw = tables.screw(panel.make.screw)
    needed = min(INSERT_DIAMETERS * screw.diameter, insert.length)
    room, grip = most_depth(panel), grip_length(panel)
    length = _choose_length(screw, grip, needed, (room - BELOW_INSERT,))
    reach = 0.0 if length is None else length - grip
    depth = min(room, max(insert.length, reach) + BELOW_INSERT)
    wall = max(panel.rules.least_wall, insert.least_wall)
    most = min(room - BELOW_INSERT, insert.length)
    engagement = min(reach, insert.length)
    return ScrewFit(length, grip, engagement, needed, most, 0.0, insert.hole_diameter, depth, wall, insert)


def _choose_length(screw: tables.Screw, grip: float, needed: float, most: tuple[float, ...]) -> float | None:
    """Return the shortest length with enough thread and not too much of it, else the longest with not too much.

    `most` are the lengths of thread up to which the tip stays free, the better one first.
    """
    lengths = [length for length in tables.screw_lengths(screw) if length > grip + SAME_MM]
    for limit in most:
        for length in lengths:
            if needed - SAME_MM <= length - grip <= limit + SAME_MM:
                return length
    return next((length for length in reversed(lengths) if length - grip <= most[-1] + SAME_MM), None)
