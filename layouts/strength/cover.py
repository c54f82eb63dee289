"""Covers as plates under load: the real outline with its holes, held by its screws, lying on the body.

The gap at a cord is the cover's lift off a flat body and the body's off a flat cover. Each is then held flat at the
screws, which is exact where both are alike and where one of them is rigid.

Not counted: flats and seats milled into a cover, for what is screwed into them stiffens it there; and what the
screws' heads press into it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from geom.crossings import point_at
from geom.features import Detail
from geom.frame import ROUNDING, SAME_MM
from geom.outline import Segment, loop_polygon
from geom.standards import tables
from layouts.bending.plate import ClampRing, LineLoad, PlateCase, Sheet
from layouts.closing.gland import greatest_line_load
from layouts.closing.shared_grooves import trace_middle
from layouts.detail import SHADOW_SAG
from layouts.faces import cover_name
from layouts.over_joint import cast_over_joint
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Plan
from layouts.strength.body import BODY_SIZE, load_openings, mirror_cases
from layouts.strength.results import CoverBending, CoverCase
from layouts.strength.screw_hole import clamp_radii
from layouts.strength.working_pressure import find_working_pressure, hottest_coolant_c

CORD_STEP = 2.0
"""Length of the pieces into which a cord's load is cut, [mm]: a fraction of any cover's thickness."""

LINE_STEP = 1.0
"""Distance of the points by which a cord's middle bounds the pressed area, [mm]."""

LEAST_WET = 0.5
"""Wet area from which a cell between cords counts as filled with coolant, [mm2]: above the outlines' coarseness."""


@dataclass(frozen=True, slots=True)
class CoverLoad:
    """A cover with what acts on it in one case; the fields as in `layouts.strength.results.CoverCase`.

    `plate` is the cover and `body` the body; both carry their moduli of the case.
    """

    name: Literal["working", "test"]
    pressure_pa: float
    temperature_c: float
    allowable_mpa: float
    plate: PlateCase
    body: PlateCase


def bend_cover(plan: Plan, layer: Layer) -> CoverBending | None:
    """Return how a cover that lies on cords bends, at working and at test pressure.

    Parameters
    ----------
    plan : Plan
    layer : {"back", "front"}
        Whose joint the cover closes.

    Returns
    -------
    CoverBending or None
        None where it is not screwed down on a cord. Lengths are in [mm], stresses in [MPa].

    Raises
    ------
    GeometryError
        Where the cover cannot be meshed, or nothing holds it.
    """
    from layouts.bending.bend import bend_cases

    loads = cover_cases(plan, layer)
    if not loads:
        return None
    bent = bend_cases(tuple(load.plate for load in loads))
    bodies = bend_cases(tuple(load.body for load in loads), BODY_SIZE, stressed=False)
    cases = tuple(
        CoverCase(
            load.name,
            load.pressure_pa,
            load.temperature_c,
            load.plate.sheet.young_mpa,
            load.allowable_mpa,
            one,
            body,
        )
        for load, one, body in zip(loads, bent, bodies, strict=True)
    )
    return CoverBending(layer, cases)


def cover_cases(plan: Plan, layer: Layer) -> tuple[CoverLoad, ...]:
    """Return a cover with its loads, in use and at the test.

    In use: the pressure of `find_working_pressure` for years, with the modulus that is then left, and the allowable
    stress for years. At the test: the file's test pressure for minutes. Both at the warmest coolant that the plan
    knows of, the safe side for a test too. Coolant creeps over the lands and presses the cover up to the middle of
    the cords; these push with their largest squeeze. What closes a cover's openings pulls at their rims.

    Parameters
    ----------
    plan : Plan
    layer : {"back", "front"}
        Whose joint the cover closes.

    Returns
    -------
    tuple of CoverLoad
        "working", then "test"; none where nothing is screwed down on a cord.
    """
    panel, sealed = plan.panel, plan.sealed
    loops, screws = sealed.loops_of(layer), sealed.screws_of(layer)
    if panel.make.closing != "cord" or not loops or not screws:
        return ()
    material = tables.material(panel.make.cover_row)
    load = greatest_line_load(tables.cord(panel.make.cord))
    outline, seat, wet = _cut_joint(panel, plan.detail, layer)
    plate = PlateCase(
        Sheet(outline, panel.make.cover, material.young_mpa, material.poisson),
        tuple(ClampRing(at, *clamp_radii(panel)) for at in screws),
        pressed_area(loops, wet),
        0.0,
        tuple(LineLoad(*cut_pieces(loop.path, CORD_STEP), load) for loop in loops),
        seat,
    )
    hottest = hottest_coolant_c(panel, plan.advised.heating)
    pressures: tuple[tuple[Literal["working", "test"], float], ...] = (
        ("working", find_working_pressure(panel).pressure_pa),
        ("test", panel.rules.test_pressure_pa),
    )
    covers = tuple(
        replace(
            plate,
            sheet=replace(plate.sheet, young_mpa=material.young_at(hottest, name == "working")),
            pressure_mpa=pressure_pa * 1e-6,
            lines=plate.lines + load_openings(outline, plate.clamps, plate.pressed, pressure_pa * 1e-6),
        )
        for name, pressure_pa in pressures
    )
    body = tables.material(panel.make.material)
    moduli = (body.young_at(hottest, name == "working") for name, _ in pressures)
    bodies = mirror_cases(panel, plan.detail, layer, tuple(zip(covers, moduli, strict=True)), len(loops))
    return tuple(
        CoverLoad(
            name, pressure_pa, hottest, material.allowable_at(hottest, name == "working"), cover, mirrored
        )
        for (name, pressure_pa), cover, mirrored in zip(pressures, covers, bodies, strict=True)
    )


def pressed_area(loops: tuple[CordLoop, ...], wet: shapely.Geometry) -> shapely.Geometry:
    """Return where coolant presses a cover: the cells between the middles of its cords that hold anything wet.

    Parameters
    ----------
    loops : tuple of CordLoop
        Of one joint. An open one ends in the groove of another; both together close its cell.
    wet : shapely.Geometry
        All that is wet in the joint, [mm].

    Returns
    -------
    shapely.Geometry
        [mm]
    """
    lines = shapely.union_all([trace_middle(loop, LINE_STEP) for loop in loops])
    cells = shapely.get_parts(shapely.polygonize([lines]))
    shapely.prepare(wet)
    filled = [cell for cell in cells if cell.intersects(wet) and cell.intersection(wet).area > LEAST_WET]
    return shapely.union_all(filled)


def cut_pieces(path: tuple[Segment, ...], step: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a path in pieces, even in each line and arc.

    Parameters
    ----------
    path : tuple of Line or Arc
    step : float
        Greatest length of a piece, [mm].

    Returns
    -------
    points, lengths : (n, 2) float, (n,) float
        Middles and lengths of the pieces, [mm]; the lengths add up to the path's.
    """
    points: list[tuple[float, float]] = []
    lengths: list[float] = []
    for segment in path:
        count = max(1, math.ceil(segment.length / step - ROUNDING))
        points.extend(point_at(segment, (k + 0.5) / count) for k in range(count))
        lengths.extend([segment.length / count] * count)
    return np.array(points).reshape(-1, 2), np.array(lengths)


def _cut_joint(
    panel: Panel, detail: Detail, layer: Layer
) -> tuple[shapely.Polygon, shapely.Geometry, shapely.Geometry]:
    """Return a cover's outline with its holes, the body's face that it lies on, and what is wet in the joint, [mm]."""
    blank = next(b for b in detail.blanks if b.name == cover_name(layer))
    whole = loop_polygon(blank.loop, SHADOW_SAG)
    holes, cuts, wet = [], [], []
    for cast in cast_over_joint(panel, detail.features, layer):
        if not cast.meets_joint:
            continue
        if cast.low < -SAME_MM:
            holes.append(cast.shadow)
        if cast.high > SAME_MM:
            cuts.append(cast.shadow)
            if cast.feature.medium == "wet":
                wet.append(cast.shadow)
    outline = whole.difference(shapely.union_all(holes))
    # A hole that runs out of the edge may cut off a sliver.
    outline = max(shapely.get_parts(outline), key=lambda part: part.area)
    return outline, whole.difference(shapely.union_all(cuts)), shapely.union_all(wet)
