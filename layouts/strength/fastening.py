"""What pulls on each cover screw, what it is tightened to, and what holds it.

Body and cover touch; a screw that is tightened to more than what pulls on it keeps them so. What pulls is the cord's
push, shared out along the cord to the nearest screw, and the pressure, shared out over the area inside the cords in
the same way. Both are whole: the shares of all screws add up to the total load.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from geom.features import Detail
from geom.outline import Point
from geom.standards import tables
from layouts.closing.gland import greatest_line_load
from layouts.faces import joints_of
from layouts.over_joint import cast_over_joint
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Plan, Sealed
from layouts.strength.cover import cut_pieces, pressed_area
from layouts.strength.results import CoverBending, Fastening
from layouts.strength.screw_hole import ScrewFit, clearance_hole, find_washer, fit_screw
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
        if sealed.screws_of(layer)
    )


def fasten_plan(plan: Plan) -> tuple[Fastening, ...]:
    """Return what the screws of each cover of a plan must do, and can, as `fasten_covers`, in [N] and [mm]."""
    hottest = hottest_coolant_c(plan.panel, plan.advised.heating)
    return fasten_covers(plan.panel, plan.sealed, plan.detail, hottest)


def add_pulls(plan: Plan, bendings: tuple[CoverBending, ...]) -> Plan:
    """Return the plan with what bent covers pull at each of their screws at the test pressure, [N].

    Parameters
    ----------
    plan : Plan
    bendings : tuple of CoverBending
    """
    pulls = tuple(
        (bending.layer, case.bent.reactions_n)
        for bending in bendings
        for case in bending.cases
        if case.name == "test"
    )
    return replace(plan, sealed=replace(plan.sealed, pulls_n=pulls))


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


def pull_screws(
    panel: Panel, screws: tuple[Point, ...], loops: tuple[CordLoop, ...], wet: shapely.Geometry
) -> np.ndarray:
    """Return the pull on each screw of a cover at the test pressure, its cords at their largest squeeze.

    Parameters
    ----------
    panel : Panel
    screws : tuple of (float, float)
        At least one, [mm].
    loops : tuple of CordLoop
        Of the cover's joint.
    wet : shapely.Geometry
        All that is wet in the joint, [mm].

    Returns
    -------
    (n,) float
        [N]
    """
    line_load = greatest_line_load(tables.cord(panel.make.cord))
    pressed = pressed_area(loops, wet)
    return share_loads(screws, loops, line_load, pressed, panel.rules.test_pressure_pa * 1e-6)


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
    loops = sealed.loops_of(layer)
    shares = pull_screws(panel, sealed.screws_of(layer), loops, wet_at_joint(panel, detail, layer))
    pulls = sealed.pulls_of(layer)
    # A stiff cover that overhangs its cords pries at the screws next to it: more than their share.
    loads = np.maximum(shares, pulls) if pulls else shares
    asked = KEEP_CLOSED * float(loads.max())
    holds, head_holds = holding(panel, fit, hottest_c)
    proof = PROOF_MPA * tensile_area(screw.diameter, screw.pitch)
    metal = all(tables.material(name).kind == "metal" for name in (panel.make.material, panel.make.cover_row))
    preload = min(max(asked, METAL_SHARE * proof if metal else 0.0), holds, head_holds, SCREW_SHARE * proof)
    washer = find_washer(panel)
    hole = clearance_hole(panel) if washer is None else 0.0
    least, most = (tightening_torque(screw, preload, friction, hole) for friction in FRICTION)
    return Fastening(
        layer,
        screw.name,
        tuple(float(load) for load in loads),
        tuple(float(share) for share in shares),
        bool(pulls),
        asked,
        preload,
        holds,
        head_holds,
        (least, most),
        fit.length,
        fit.engagement,
        0.0 if washer is None else washer.diameter,
        None if fit.insert is None else fit.insert.name,
        "" if washer is None else washer.standard,
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
    return holds, head_holds(panel, hottest_c)


def head_holds(panel: Panel, hottest_c: float) -> float:
    """Return what the cover under a screw's head, or its washer, may carry for years, [N].

    Parameters
    ----------
    panel : Panel
    hottest_c : float
        [°C]
    """
    washer = find_washer(panel)
    allowable = tables.material(panel.make.cover_row).allowable_at(hottest_c, lasting=True)
    seat = max(tables.screw(panel.make.screw).bearing_diameter, 0.0 if washer is None else washer.diameter)
    return ring_area(seat, clearance_hole(panel)) * allowable


def wet_at_joint(panel: Panel, detail: Detail, layer: Layer) -> shapely.Geometry:
    """Return all that is wet in a joint, as it lies in plan, [mm]."""
    casts = cast_over_joint(panel, detail.features, layer)
    return shapely.union_all([cast.shadow for cast in casts if cast.wet_joint])
