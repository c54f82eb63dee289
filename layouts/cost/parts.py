"""What each part of a panel weighs, and what it is cut from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from geom.features import Blank, Cylinder, Detail, Feature
from geom.outline import loop_polygon
from geom.standards import tables
from layouts.detail import cast_shadow
from layouts.faces import material_of
from layouts.milling.removed import Cut, Level, Slab, measure_removed
from layouts.milling.work import Milled, Stock
from layouts.panel import Panel

MM3_PER_M3 = 1e9


@dataclass(frozen=True, slots=True)
class PartMass:
    """One part: what it is cut from and what is left of it.

    Parameters
    ----------
    part : str
        "body", "cover", "front cover", "panel".
    material : str
        Its row in the materials table.
    stock : Stock or None
        The sheet; None where the part is printed.
    volume_mm3 : float
        Of the finished part, [mm3].
    density_kg_m3 : float
        [kg/m3]
    measured : bool
        Whether the volume is that of the solid; else of the plan.
    """

    part: str
    material: str
    stock: Stock | None
    volume_mm3: float
    density_kg_m3: float
    measured: bool

    @property
    def mass_kg(self) -> float:
        """Of the finished part, [kg]."""
        return self.volume_mm3 / MM3_PER_M3 * self.density_kg_m3

    @property
    def stock_kg(self) -> float:
        """Of the sheet, [kg]; 0 where the part is printed."""
        return 0.0 if self.stock is None else self.stock.volume_mm3 / MM3_PER_M3 * self.density_kg_m3


def weigh_parts(
    panel: Panel, detail: Detail, milled: Milled | None, solids_mm3: Mapping[str, float]
) -> tuple[PartMass, ...]:
    """Return every part with its mass, in the order of the blanks.

    Parameters
    ----------
    panel : Panel
    detail : Detail
    milled : Milled or None
        With the sheets of the parts that are cut; the others are printed.
    solids_mm3 : mapping of str to float
        Part to the volume of its solid, [mm3]; of those that it lacks the plan's volume is taken.
    """
    sheets = {stock.part: stock for stock in (() if milled is None else milled.stocks)}
    parts = []
    for blank in detail.blanks:
        name = material_of(panel, blank.name)
        solid = solids_mm3.get(blank.name)
        volume = plan_part_mm3(blank, detail.features) if solid is None else solid
        density = tables.material(name).density_kg_m3
        parts.append(PartMass(blank.name, name, sheets.get(blank.name), volume, density, solid is not None))
    return tuple(parts)


def plan_part_mm3(blank: Blank, features: tuple[Feature, ...]) -> float:
    """Return the volume of a part from the plan's features alone, [mm3].

    Lead chamfers are left out, roofs that lean in are taken as upright walls.

    Parameters
    ----------
    blank : Blank
    features : tuple of Feature
    """
    plan = loop_polygon(blank.loop)
    cuts = [_cut_of(feature) for feature in features]
    inside = tuple(cut for cut in cuts if cut.z1 > blank.z0 and cut.z0 < blank.z1)
    taken = math.fsum(measure_removed(inside, Slab(plan, blank.z0, blank.z1)))
    return float(plan.area) * (blank.z1 - blank.z0) - taken


def _cut_of(feature: Feature) -> Cut:
    shape = feature.shape
    if isinstance(shape, Cylinder) and abs(shape.direction[2]) < 0.5:
        (x, y, z), (dx, dy, _) = shape.mouth, shape.direction
        return Level((x, y), (x + dx * shape.length, y + dy * shape.length), z, shape.radius)
    shadow, z0, z1 = cast_shadow(shape)
    if isinstance(shape, Cylinder) and shape.chamfer > 0:
        # The shadow takes the chamfer over the whole length.
        shadow = shadow.buffer(-shape.chamfer)
    return Slab(shadow, z0, z1)
