"""The body as a plate under what lifts its cover: the same loads press it the other way, between the same screws.

Its pockets and grooves make it thinner, bores that go through it are holes. Not counted, as with covers: flats and
seats, and bores from its edges, for what is screwed into them stiffens it there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from geom.features import Cylinder, Detail
from geom.frame import SAME_MM
from geom.outline import loop_polygon
from geom.standards import tables
from layouts.bending.plate import ClampRing, LineLoad, PlateCase, Sheet
from layouts.detail import SHADOW_SAG
from layouts.over_joint import Cast, cast_over_joint
from layouts.panel import Panel
from layouts.plan import Layer

BODY_SIZE = 7.0
"""Side of the body's triangles in the open, [mm]: a body is thicker than its cover, and has no holes at its screws."""

LEAST_FLOOR = 0.1
"""Floor under which a pocket counts as a hole, [mm]; rules of walls refuse such floors anyway."""


def mirror_cases(
    panel: Panel, detail: Detail, layer: Layer, covers: tuple[tuple[PlateCase, float], ...], cords: int
) -> tuple[PlateCase, ...]:
    """Return the body with the loads of its cover, case by case, pressing it away from that cover.

    It is held flat over the width of each screw's thread, not beside it, and cannot move into the cover
    where this lies on it. With a second cover the body has more to hold it and coolant on its other side too; both
    are left out, which counts more bow than there is.

    Parameters
    ----------
    panel : Panel
    detail : Detail
    layer : {"back", "front"}
        The joint.
    covers : tuple of (PlateCase, float)
        The cover over it, case by case, and the body's modulus in each, [MPa].
    cords : int
        How many of a case's lines, the first ones, are those of cords.

    Returns
    -------
    tuple of PlateCase
        Their first lines are those of the cords.
    """
    sheet = _cut_sheet(panel, detail, layer)
    held = tables.screw(panel.make.screw).diameter / 2
    first = covers[0][0]
    clamps = tuple(ClampRing(ring.at, 0.0, held) for ring in first.clamps)
    seat = first.seat.intersection(first.sheet.outline)
    cases = []
    for cover, young_mpa in covers:
        lines = cover.lines[:cords]
        # With a second cover what closes the bores sits in that one.
        if panel.channel.layers == 1:
            lines += load_openings(sheet.outline, (), cover.pressed, cover.pressure_mpa)
        own = replace(sheet, young_mpa=young_mpa)
        cases.append(PlateCase(own, clamps, cover.pressed, cover.pressure_mpa, lines, seat))
    return tuple(cases)


def load_openings(
    outline: shapely.Polygon, clamps: tuple[ClampRing, ...], pressed: shapely.Geometry, pressure_mpa: float
) -> tuple[LineLoad, ...]:
    """Return what pulls at the rims of a plate's openings: the pressure on the fitting or the pump that closes each.

    Parameters
    ----------
    outline : shapely.Polygon
        With its holes, [mm].
    clamps : tuple of ClampRing
        Their holes are no openings.
    pressed : shapely.Geometry
        [mm]
    pressure_mpa : float
        [MPa]

    Returns
    -------
    tuple of LineLoad
        In the order of the holes; those outside the pressed area have none.
    """
    screws = shapely.MultiPoint([ring.at for ring in clamps])
    lines = []
    for rim in outline.interiors:
        hole = shapely.Polygon(rim)
        area = hole.intersection(pressed).area
        if area <= SAME_MM or hole.intersects(screws):
            continue
        corners = np.asarray(rim.coords)
        lengths = np.hypot(*np.diff(corners, axis=0).T)
        middles = (corners[1:] + corners[:-1]) / 2
        lines.append(LineLoad(middles, lengths, pressure_mpa * area / float(lengths.sum())))
    return tuple(lines)


def _cut_sheet(panel: Panel, detail: Detail, layer: Layer) -> Sheet:
    material, thick = tables.material(panel.make.material), panel.make.body
    blank = next(b for b in detail.blanks if b.name == "body")
    near: dict[float, list[shapely.Geometry]] = {}
    far: dict[float, list[shapely.Geometry]] = {}
    holes = []
    for cast in cast_over_joint(panel, detail.features, layer):
        if cast.feature.kind in ("channel", "tank", "groove"):
            if cast.low <= SAME_MM:
                near.setdefault(round(cast.high, 6), []).append(cast.shadow)
            else:
                far.setdefault(round(thick - cast.low, 6), []).append(cast.shadow)
        elif _goes_through(panel, cast):
            holes.append(cast.shadow)
    pockets = [(shapely.union_all(shadows), deep) for deep, shadows in near.items()]
    behind = [(shapely.union_all(shadows), deep) for deep, shadows in far.items()]
    # Where pockets of both faces lie over each other, what is left stands between them.
    both = [(a.intersection(b), deep + other) for a, deep in pockets for b, other in behind]
    thinner = [(where, thick - deep) for where, deep in (*pockets, *behind, *both) if not where.is_empty]
    holes += [where for where, left in thinner if left < LEAST_FLOOR]
    outline = loop_polygon(blank.loop, SHADOW_SAG).difference(shapely.union_all(holes))
    outline = max(shapely.get_parts(outline), key=lambda part: part.area)
    thinner = [row for row in thinner if row[1] >= LEAST_FLOOR]
    return Sheet(outline, thick, material.young_mpa, material.poisson, tuple(thinner))


def _goes_through(panel: Panel, cast: Cast) -> bool:
    """Return whether a bore, with the pockets and the flat that it comes into, goes from face to face of the body."""
    shape, deep = cast.feature.shape, panel.channel.depth
    if not isinstance(shape, Cylinder) or abs(shape.direction[2]) < 0.5 or cast.feature.medium != "wet":
        return False
    # Bores end at mid-depth of their channels; in one layer of them only those from the far face rise above it.
    through = panel.make.body - deep if panel.channel.layers == 2 else deep
    return cast.low < deep - SAME_MM and cast.high > through + SAME_MM
