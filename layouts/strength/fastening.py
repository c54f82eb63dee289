"""What pulls on each cover screw, what it is tightened to, and what holds it.

Body and cover touch; a screw that is tightened to more than what pulls on it keeps them so. What pulls is the cord's
push, shared out along the cord to the nearest screw, and the pressure, shared out over the area inside the cords in
the same way. Both are whole: the shares of all screws add up to the total load.
"""

from __future__ import annotations

import numpy as np
import shapely

from geom.features import Detail
from geom.frame import SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.closing.gland import cord_line_load, squeeze_range
from layouts.detail import cast_shadow
from layouts.faces import joint_z, joints_of
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Plan, Sealed
from layouts.strength.cover import cut_pieces, pressed_area
from layouts.strength.results import Fastening
from layouts.strength.screw_hole import ScrewFit, fit_screw, has_washers
from layouts.strength.threads import insert_holds, ring_area, tensile_area, thread_holds, tightening_torque
from layouts.strength.working_pressure import hottest_coolant_c

CORD_STEP = 1.0
"""Length of the pieces of cord that are shared out whole, [mm]."""

CELL = 2.0
"""Side of the cells of pressed area that are shared out whole, [mm]."""

KEEP_CLOSED = 1.5
"""Preload over the pull on the most loaded screw, [-]: tightened by torque with the friction guessed, the least and
the most preload differ by a factor of 1.6 to 2 (VDI 2230); 1.5: common practice, no source."""

METAL_SHARE = 0.4
"""Preload in a metal joint over the screw's proof load, at least, [-], so that it does not work loose; common practice,
no source."""

SCREW_SHARE = 0.7
"""The same at most, [-]; common practice, no source."""

PROOF_MPA = 450.0
"""0.2 % proof strength of stainless steel screws of class 70, ISO 3506-1, [MPa]."""

FRICTION = (0.10, 0.20)
"""Least and greatest friction in the thread and under the head, [-]; common practice, no source."""


def fasten_covers(panel: Panel, sealed: Sealed, detail: Detail, hottest_c: float) -> tuple[Fastening, ...]:
    """Return what the screws of each cover must do, and can.

    Parameters
    ----------
    panel : Panel
    sealed : Sealed
    detail : Detail
    hottest_c : float
        Warmest coolant that the plan knows of, [°C].

    Returns
    -------
    tuple of Fastening
        One for each cover that has screws; empty where nothing is screwed.
    """
    if panel.make.closing != "cord":
        return ()
    fit = fit_screw(panel)
    return tuple(
        _fasten(panel, sealed, detail, hottest_c, layer, fit)
        for layer in joints_of(panel)
        if screws_of(sealed, layer)
    )


def fasten_plan(plan: Plan) -> tuple[Fastening, ...]:
    """Return what the screws of each cover of a plan must do, and can, as `fasten_covers`, in [N] and [mm]."""
    hottest = hottest_coolant_c(plan.panel, plan.advised.heating)
    return fasten_covers(plan.panel, plan.sealed, plan.detail, hottest)


def screws_of(sealed: Sealed, layer: Layer) -> tuple[Point, ...]:
    """Return the screws of a cover in plan, [mm]."""
    return sealed.front_screws if layer == "front" else sealed.screws


def share_loads(
    screws: tuple[Point, ...],
    loops: tuple[CordLoop, ...],
    line_load_n_mm: float,
    pressed: shapely.Geometry,
    pressure_mpa: float,
) -> np.ndarray:
    """Return the pull on each screw: cord and pressure, each piece of them on its nearest screw.

    Parameters
    ----------
    screws : tuple of (float, float)
        At least one, [mm].
    loops : tuple of CordLoop
    line_load_n_mm : float
        Of every cord, [N/mm].
    pressed : shapely.Geometry
        Area under pressure, [mm].
    pressure_mpa : float
        [MPa]

    Returns
    -------
    (n,) float
        [N]; they add up to line load times cord and pressure times area.
    """
    points, forces = [], []
    for loop in loops:
        middles, lengths = cut_pieces(loop.path, CORD_STEP)
        points.append(middles)
        forces.append(lengths * line_load_n_mm)
    for part in shapely.get_parts(pressed):
        cells = _fill_cells(part)
        points.append(cells)
        forces.append(np.full(len(cells), part.area * pressure_mpa / len(cells)))
    if not points:
        return np.zeros(len(screws))
    at, force, (x, y) = np.concatenate(points), np.concatenate(forces), np.array(screws).T
    off = (at[:, 0, None] - x) ** 2 + (at[:, 1, None] - y) ** 2
    return np.bincount(off.argmin(axis=1), weights=force, minlength=len(screws))


def _fill_cells(part: shapely.Polygon) -> np.ndarray:
    """Return the middles of the cells that fill a polygon, (n, 2) [mm]; at least one."""
    x0, y0, x1, y1 = part.bounds
    x, y = np.meshgrid(np.arange(x0 + CELL / 2, x1, CELL), np.arange(y0 + CELL / 2, y1, CELL))
    shapely.prepare(part)
    inside = shapely.intersects_xy(part, x.ravel(), y.ravel())
    if not inside.any():
        return np.array(part.representative_point().coords)
    return np.column_stack((x.ravel()[inside], y.ravel()[inside]))


def _fasten(
    panel: Panel, sealed: Sealed, detail: Detail, hottest_c: float, layer: Layer, fit: ScrewFit
) -> Fastening:
    screw = tables.screw(panel.make.screw)
    loops = tuple(loop for loop in sealed.loops if loop.layer == layer)
    cord = tables.cord(panel.make.cord)
    line_load = cord_line_load(cord.section + cord.tolerance, squeeze_range(cord)[1])
    pressed = pressed_area(loops, wet_at_joint(panel, detail, layer))
    pressure_mpa = panel.rules.test_pressure_pa * 1e-6
    loads = share_loads(screws_of(sealed, layer), loops, line_load, pressed, pressure_mpa)
    asked = KEEP_CLOSED * float(loads.max())
    holds, head_holds = holding(panel, fit, hottest_c)
    proof = PROOF_MPA * tensile_area(screw.diameter, screw.pitch)
    metal = all(tables.material(name).kind == "metal" for name in (panel.make.material, panel.make.cover_row))
    preload = min(max(asked, METAL_SHARE * proof if metal else 0.0), holds, head_holds, SCREW_SHARE * proof)
    least, most = (tightening_torque(screw, preload, friction) for friction in FRICTION)
    return Fastening(
        layer,
        screw.name,
        tuple(float(load) for load in loads),
        asked,
        preload,
        holds,
        head_holds,
        (least, most),
        fit.length,
        fit.engagement,
        screw.washer if has_washers(panel) else 0.0,
        None if fit.insert is None else fit.insert.name,
    )


def holding(panel: Panel, fit: ScrewFit, hottest_c: float) -> tuple[float, float]:
    """Return what a cover screw's thread in the body and the cover under its head may carry for years, [N].

    Parameters
    ----------
    panel : Panel
    fit : ScrewFit
    hottest_c : float
        [°C]
    """
    screw = tables.screw(panel.make.screw)
    body = tables.material(panel.make.material).allowable_at(hottest_c, lasting=True)
    if fit.insert is None:
        holds = thread_holds(screw, fit.engagement, body)
    else:
        holds = insert_holds(fit.insert.outer_diameter, fit.insert.length, body)
    return holds, head_holds(panel, screw.washer if has_washers(panel) else 0.0, hottest_c)


def head_holds(panel: Panel, washer: float, hottest_c: float) -> float:
    """Return what the cover under a screw's head, or a washer of that diameter [mm], may carry for years, [N].

    Parameters
    ----------
    panel : Panel
    washer : float
        [mm]; 0 without.
    hottest_c : float
        [°C]
    """
    screw = tables.screw(panel.make.screw)
    allowable = tables.material(panel.make.cover_row).allowable_at(hottest_c, lasting=True)
    return ring_area(max(washer, screw.bearing_diameter), screw.clearance) * allowable


def wet_at_joint(panel: Panel, detail: Detail, layer: Layer) -> shapely.Geometry:
    """Return all that is wet in a joint, as it lies in plan, [mm]."""
    joint = joint_z(panel, layer)
    shadows = (cast_shadow(feature.shape) for feature in detail.features if feature.medium == "wet")
    return shapely.union_all([plan for plan, z0, z1 in shadows if z0 - SAME_MM <= joint <= z1 + SAME_MM])
