"""Lands of a bonded joint: where body and cover touch and are bonded, and where they are narrowest.

*Land*: the sheet less all that is wet, and less the dry holes, at a joint.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import shapely

from geom.frame import SAME_MM
from geom.outline import Point, outline_circle, region_polygon
from layouts.closing.wet_regions import group_wet, joint_discs, outline_channel
from layouts.detail import cut_openings, cut_pump_screws
from layouts.outlines import FINE_SAG, sheet_outline, tank_outline
from layouts.over_joint import cast_over_joint
from layouts.panel import Panel
from layouts.plan import Layer, Routed

OUTER_EDGE = "the outer edge"


@dataclass(frozen=True, slots=True)
class LandWidth:
    """A land's width, [mm]: between what, and from where to where."""

    width: float
    ends: tuple[Point, Point]
    between: tuple[str, str]


@dataclass(frozen=True, slots=True)
class JointShapes:
    """What lies in a joint.

    Parameters
    ----------
    sheet : shapely.Geometry
        The panel in plan, [mm].
    wet : tuple of (str, str, shapely.Geometry)
        "channel NAME" or "tank", its wet region, its outline in the joint, [mm].
    holes : tuple of (str, shapely.Geometry)
        Dry holes that pass the joint, by the names of their features.
    """

    sheet: shapely.Geometry
    wet: tuple[tuple[str, str, shapely.Geometry], ...]
    holes: tuple[tuple[str, shapely.Geometry], ...]

    @property
    def wet_shape(self) -> shapely.Geometry:
        """All that is wet, [mm]."""
        return shapely.union_all([shape for _, _, shape in self.wet])

    @property
    def land(self) -> shapely.Geometry:
        """All that is bonded, [mm]."""
        return self.sheet.difference(
            shapely.union_all([*(s for _, _, s in self.wet), *(s for _, s in self.holes)])
        )


def shape_joint(panel: Panel, routed: Routed, layer: Layer) -> JointShapes:
    """Return what lies in a joint, as fine as a routing is measured.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    layer : {"back", "front"}

    Returns
    -------
    JointShapes
    """
    region_of = {name: region.name for region in group_wet(panel, routed) for name in region.channels}
    discs = joint_discs(panel, routed, layer)
    wet = []
    for channel in routed.channels:
        loops = [*outline_channel(channel, 0.0, layer)]
        loops += [outline_circle(at, radius) for name, at, radius in discs if name == channel.name]
        if loops:
            shape = region_polygon(tuple(loops), FINE_SAG)
            wet.append((f"channel {channel.name}", region_of[channel.name], shape))
    tank = tank_outline(routed) if layer == "back" else None
    if tank is not None:
        bores = [
            region_polygon((outline_circle(at, r),), FINE_SAG) for name, at, r in discs if name == "tank"
        ]
        wet.append(("tank", "tank", shapely.union_all([tank, *bores])))
    openings = cut_openings(panel, routed)
    holes = tuple(
        (cast.feature.name, cast.shadow)
        for cast in cast_over_joint(panel, (*openings, *cut_pump_screws(panel, routed, openings)), layer)
        if cast.feature.medium == "dry" and cast.meets_joint
    )
    return JointShapes(sheet_outline(panel), tuple(wet), holes)


def measure_land(shapes: JointShapes) -> LandWidth:
    """Return the narrowest land: between what is wet, and from it to the outer edge and to dry holes.

    Two wet things of one region that touch have no land between them. Without anything wet the land is as wide
    as the sheet.

    Parameters
    ----------
    shapes : JointShapes

    Returns
    -------
    LandWidth
    """
    pairs: list[tuple[str, shapely.Geometry, str, shapely.Geometry]] = []
    for (a, in_a, first), (b, in_b, second) in itertools.combinations(shapes.wet, 2):
        if in_a != in_b or first.distance(second) > SAME_MM:
            pairs.append((a, first, b, second))
    for name, _, shape in shapes.wet:
        pairs.append((name, shape, OUTER_EDGE, shapes.sheet.exterior))
        pairs += [(name, shape, hole, outline) for hole, outline in shapes.holes]
    if not pairs:
        x0, y0, x1, y1 = shapes.sheet.bounds
        ends = ((x0, (y0 + y1) / 2), (x1, (y0 + y1) / 2))
        if y1 - y0 < x1 - x0:
            ends = (((x0 + x1) / 2, y0), ((x0 + x1) / 2, y1))
        return LandWidth(min(x1 - x0, y1 - y0), ends, (OUTER_EDGE, OUTER_EDGE))
    return min((_measure(pair) for pair in pairs), key=lambda land: round(land.width, 6))


def land_beside(shapes: JointShapes, name: str) -> LandWidth:
    """Return the narrowest land beside one wet thing, as `measure_land`; `name` as in `JointShapes.wet`."""
    (own,) = (row for row in shapes.wet if row[0] == name)
    others = [
        (other, shape)
        for other, region, shape in shapes.wet
        if other != name and (region != own[1] or shape.distance(own[2]) > SAME_MM)
    ]
    others += [(OUTER_EDGE, shapes.sheet.exterior), *shapes.holes]
    return min(
        (_measure((name, own[2], other, shape)) for other, shape in others),
        key=lambda land: round(land.width, 6),
    )


def _measure(pair: tuple[str, shapely.Geometry, str, shapely.Geometry]) -> LandWidth:
    a, first, b, second = pair
    p, q = shapely.get_coordinates(shapely.shortest_line(first, second)).tolist()
    return LandWidth(float(first.distance(second)), ((p[0], p[1]), (q[0], q[1])), (a, b))
