"""Which gap between two wet things, or to the edge, is too narrow for a screw, and by how much."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import shapely

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.clearance import Clearances
from layouts.closing.screw_room import EDGE, edge_inset, wet_inset, wet_shadows
from layouts.detail import SHADOW_SAG
from layouts.outlines import sheet_outline
from layouts.panel import Panel
from layouts.plan import Layer, Routed

MOST_MISSING = 15.0
"""A gap that lacks more than this is not the one to widen, [mm]."""

LEAST_PIECE = 1e-6
"""A smaller piece of a wet thing is what its outline lost to rounding, [mm2]."""


@dataclass(frozen=True, slots=True)
class NarrowGap:
    """A gap that is too narrow for a screw: what it lies between, and what it lacks, [mm]."""

    between: tuple[str, str]
    missing: float


def find_narrow_gap(
    panel: Panel, routed: Routed, clearances: Clearances, layer: Layer, at: Point, reach: float
) -> NarrowGap | None:
    """Return the gap within reach of a place that lacks least for a screw to stand in it.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances
    layer : {"back", "front"}
        The joint.
    at : (float, float)
        A place of a cord, [mm].
    reach : float
        How far from it a screw may be, [mm].

    Returns
    -------
    NarrowGap or None
        None where every gap that is too narrow lacks more than 15 mm.
    """
    ground = shapely.Point(at).buffer(reach)
    wet = shapely.union_all([shadow for _, shadow in wet_shadows(panel, routed, layer)])
    # A thing is one here where it is in one piece near the place: a channel may come back beside itself.
    pieces = [
        (_name_piece(panel, routed, layer, piece), piece)
        for piece in shapely.get_parts(shapely.intersection(wet, ground))
        if piece.area > LEAST_PIECE
    ]
    off_wet, off_edge = wet_inset(panel, clearances), edge_inset(panel)
    gaps = [
        (2 * off_wet - piece.distance(other), (name, other_name))
        for (name, piece), (other_name, other) in combinations(pieces, 2)
    ]
    rim = sheet_outline(panel, SHADOW_SAG).exterior
    if rim.intersects(ground):
        gaps += [(off_wet + off_edge - piece.distance(rim), (name, EDGE)) for name, piece in pieces]
    narrow = [gap for gap in gaps if SAME_MM < gap[0] <= MOST_MISSING]
    if not narrow:
        return None
    missing, between = min(narrow)
    return NarrowGap(between, missing)


def _name_piece(panel: Panel, routed: Routed, layer: Layer, piece: shapely.Geometry) -> str:
    """Return the name of the feature that takes most of a piece."""
    shares = [(shadow.intersection(piece).area, name) for name, shadow in wet_shadows(panel, routed, layer)]
    return max(shares, key=lambda share: (round(share[0], 6), share[1]))[1]
