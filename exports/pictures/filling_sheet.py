"""One small front view of the panel for the picture of filling: what is in all of them, and what is wet in one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from exports.pictures.filling_shapes import (
    FULLY,
    PARTLY,
    PER_MM,
    Columns,
    TurnedView,
    filled_areas,
    layer_of_voxels,
    outline_wet,
    stack_columns,
    turn_view,
)
from exports.pictures.filling_symbols import EMPTY, define_patterns, draw_drop, draw_ring, draw_surface
from exports.pictures.plan_posts import UPRIGHT
from exports.pictures.plan_symbols import INK, SHEET, SHORE, STILL, WATER, draw_arrow
from exports.pictures.svg import number, path_of
from geom.features import Prism
from geom.frame import EDGES, INTO
from geom.outline import Loop, Point, outline_rectangle
from geom.standards import tables
from geom.wet.voxels import WetVoxels
from layouts.clearance import tank_z
from layouts.closing.wet_regions import outline_tank
from layouts.detail import name_port
from layouts.faces import layers_of
from layouts.filling.held import find_tank
from layouts.filling.openings import tank_voxels
from layouts.filling.sequence_values import FillStep
from layouts.plan import Layer, PlacedPort, Plan

ARROW = 10.0
"""Half the length of the arrow at which coolant is poured in, picture units."""


@dataclass(frozen=True, slots=True, eq=False)
class FillSheet:
    """What all small views of one panel share.

    Parameters
    ----------
    plan : Plan
    voxels : WetVoxels
    view : TurnedView
        Of the shared drawing, `PER_MM` units a millimetre.
    width, height : float
        Of the panel as it is turned, [mm].
    tank_low : float or None
        The tank's lowest place along up, [mm]; None without a pocket.
    tank_z : float
        Its mid-depth, [mm].
    pocket : numpy.ndarray
        (n,) bool: the voxels in which the tank's surface is level: its own, and those of bores into it.
    columns : tuple of Columns
        The voxels of the back layer and, where there are two, of the front one.
    """

    plan: Plan
    voxels: WetVoxels
    view: TurnedView
    width: float
    height: float
    tank_low: float | None
    tank_z: float
    pocket: np.ndarray
    columns: tuple[Columns, ...]

    def at(self, point: Point, scale: float) -> Point:
        """Return a point of the panel in units of a view of so many picture units a millimetre."""
        x, y = self.view.to(point)
        return (x * scale / PER_MM, y * scale / PER_MM)


@dataclass(frozen=True, slots=True)
class PortMark:
    """Where a port is drawn: its middle and half size in picture units, and the way out of the panel in an edge."""

    at: Point
    half: float
    outward: Point | None


def make_sheet(plan: Plan, voxels: WetVoxels) -> FillSheet:
    """Return what all small views of a panel share.

    Parameters
    ----------
    plan : Plan
    voxels : WetVoxels
        Of its features.
    """
    view, width, height = turn_view(plan.panel, PER_MM)
    low = None
    tank = tank_voxels(voxels)
    if tank.any():
        reach = voxels.spacing / 2 * sum(abs(c) for c in plan.panel.up)
        low = float(voxels.elevations(plan.panel.up)[tank].min()) - reach
    front = layer_of_voxels(plan, voxels)
    known = {channel.name for channel in plan.routed.channels}
    bores = voxels.owned_by({name_port(port) for port in plan.routed.ports if port.channel not in known})
    pocket = find_tank(plan.panel, plan.routed, voxels)
    if pocket.any():
        pocket = pocket | bores
    columns = tuple(stack_columns(voxels, front == (layer == "front")) for layer in layers_of(plan.panel))
    return FillSheet(plan, voxels, view, width, height, low, sum(tank_z(plan.panel)) / 2, pocket, columns)


def define_sheet(sheet: FillSheet, scales: tuple[float, ...]) -> tuple[str, ...]:
    """Return the definitions that the views use: outlines, what they cut off, and the patterns of what stays.

    Parameters
    ----------
    sheet : FillSheet
    scales : tuple of float
        Picture units a millimetre of the views; the patterns are named by their number.
    """
    plan, view = sheet.plan, sheet.view
    out = []
    for layer in layers_of(plan.panel):
        region = outline_wet(plan, layer)
        out.append(f'<path id="wet-{layer}" d="{path_of(region, view)}"/>')
        out.append(f'<clipPath id="in-{layer}"><use href="#wet-{layer}"/></clipPath>')
    if plan.routed.tank.box is not None:
        tank = path_of((outline_tank(plan.routed, 0.0),), view)
        out.append(f'<clipPath id="in-tank"><path d="{tank}"/></clipPath>')
    out += [piece for k, scale in enumerate(scales) for piece in define_patterns(k, PER_MM / scale)]
    return tuple(out)


def draw_view(sheet: FillSheet, scale: float, masks: tuple[tuple[np.ndarray, str, str], ...]) -> list[str]:
    """Draw the panel with areas filled, from its upper left corner on.

    Parameters
    ----------
    sheet : FillSheet
    scale : float
        Picture units a millimetre.
    masks : tuple of (numpy.ndarray, str, str)
        (n,) bool: which voxels, with the fill where their columns are wholly, and where they are partly of them.
    """
    panel, view = sheet.plan.panel, sheet.view
    unit = PER_MM / scale
    outline = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
    out = [
        f'<g transform="scale({scale / PER_MM:.6f})">',
        f'<path d="{path_of((outline,), view)}" fill="{SHEET}" stroke="{INK}" stroke-width="{number(1.2 * unit)}"/>',
    ]
    for layer in layers_of(panel):
        if layer == "front":
            # The band that parts what lies in front from what it crosses.
            out.append(
                f'<use href="#wet-front" fill="none" stroke="{SHEET}" stroke-width="{number(5 * unit)}"/>'
            )
        dashes = (
            f' stroke-dasharray="{number(3 * unit)} {number(1.6 * unit)}"'
            if layer == "back" and len(layers_of(panel)) > 1
            else ""
        )
        out.append(
            f'<use href="#wet-{layer}" fill="{EMPTY}" stroke="{SHORE}" stroke-width="{number(1.6 * unit)}"{dashes}/>'
        )
        out.append(f'<use href="#wet-{layer}" fill="{EMPTY}"/>')
        out.append(f'<g clip-path="url(#in-{layer})" fill-rule="evenodd">')
        for mask, whole, partly in masks:
            out += _draw_areas(sheet, mask, layer, whole, partly)
        out.append("</g>")
        if layer == "back":
            out += _draw_posts(sheet, unit)
    return [*out, "</g>"]


def _draw_areas(sheet: FillSheet, mask: np.ndarray, layer: Layer, whole: str, partly: str) -> list[str]:
    columns, view = sheet.columns[0 if layer == "back" else 1], sheet.view
    some = filled_areas(columns, mask, PARTLY, view)
    if not some:
        return []
    if whole == partly:
        return [f'<path d="{some}" fill="{whole}"/>']
    every = filled_areas(columns, mask, FULLY, view)
    under = [] if every == some else [f'<path d="{some}" fill="{partly}"/>']
    return [*under, *([f'<path d="{every}" fill="{whole}"/>'] if every else [])]


def _draw_posts(sheet: FillSheet, unit: float) -> list[str]:
    posts: list[Loop] = []
    for feature in sheet.plan.detail.features:
        if feature.medium == "wet" and isinstance(feature.shape, Prism):
            posts += feature.shape.islands
    if not posts:
        return []
    data = path_of(tuple(posts), sheet.view)
    return [f'<path d="{data}" fill="{SHEET}" stroke="{SHORE}" stroke-width="{number(unit)}"/>']


def level_off(sheet: FillSheet, wet: np.ndarray) -> np.ndarray:
    """Return what is wet with the tank's surface level: its highest voxels all wet or all dry, as most of them are.

    Bores into the tank are filled as high as it is: their few drops are no volume of their own in a step.

    Parameters
    ----------
    sheet : FillSheet
    wet : numpy.ndarray
        (n,) bool
    """
    tank, heights = tank_voxels(sheet.voxels), sheet.voxels.elevations(sheet.plan.panel.up)
    if not (wet & tank).any():
        return wet
    surface, within = float(heights[wet & tank].max()), sheet.voxels.spacing / 4
    top = wet[tank & (np.abs(heights - surface) < within)]
    under = heights < surface + (within if top.mean() >= 0.5 else -within)
    return np.where(sheet.pocket, under, wet)


def draw_step(sheet: FillSheet, scale: float, step: FillStep, mark_mm: float | None) -> list[str]:
    """Draw the panel after a step of filling: coolant, level, pump, and where it is poured in.

    Parameters
    ----------
    sheet : FillSheet
    scale : float
        Picture units a millimetre.
    step : FillStep
    mark_mm : float or None
        The tank's filling level over its lowest place, along up, [mm].
    """
    out = draw_view(sheet, scale, ((level_off(sheet, step.wet), WATER, STILL),))
    out += _draw_level(sheet, scale, mark_mm, step.level_mm)
    out += draw_pump(sheet, scale, step.kind == "run")
    if step.poured_ml > 0.0:
        out += [piece for port in _fill_ports(sheet.plan) for piece in _draw_pouring(sheet, scale, port)]
    return out


def _draw_level(sheet: FillSheet, scale: float, mark_mm: float | None, level_mm: float | None) -> list[str]:
    """Draw the tank's filling level as a dashed line, and a triangle that stands on the coolant."""
    up, box = sheet.plan.panel.up, sheet.plan.routed.tank.box
    across = math.hypot(up[0], up[1])
    if box is None or sheet.tank_low is None or across < UPRIGHT:
        return []
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    z = sheet.tank_z
    ahead = (up[0] / across, up[1] / across)

    def lift(level: float) -> Point:
        """Return the place of a level over or under the tank's middle in plan."""
        assert sheet.tank_low is not None
        height = (sheet.tank_low + level - up[2] * z) / across
        off = height - middle[0] * ahead[0] - middle[1] * ahead[1]
        return (middle[0] + off * ahead[0], middle[1] + off * ahead[1])

    out = []
    if mark_mm is not None:
        reach = math.dist(box[:2], box[2:])
        x, y = sheet.at(lift(mark_mm), scale)
        line = f"M{number(x - reach * scale / 2)} {number(y)}h{number(reach * scale)}"
        # The clip path is drawn in the shared units.
        out += [
            f'<g transform="scale({scale / PER_MM:.6f})"><g clip-path="url(#in-tank)">'
            f'<g transform="scale({PER_MM / scale:.6f})">'
            f'<path d="{line}" stroke="{INK}" stroke-width="1" stroke-dasharray="5 3"/></g></g></g>'
        ]
    if level_mm is not None:
        x, y = sheet.at(lift(level_mm), scale)
        out.append(draw_surface((x, y)))
    return out


def pump_disc(plan: Plan) -> tuple[Point, float]:
    """Return the circle that stands for the pump: its seat, else one round both bores, [mm]."""
    pump, placed = plan.panel.pump, plan.routed.pump
    if pump.seat_diameter > 0.0:
        return placed.inlet, pump.seat_diameter / 2
    return placed.inlet, math.dist(placed.inlet, placed.outlet) + pump.outlet_bore


def draw_pump(sheet: FillSheet, scale: float, runs: bool) -> list[str]:
    """Draw the pump: a thin ring with its bores; where it runs a thick one with three arrowheads."""
    (centre, radius), placed, pump = pump_disc(sheet.plan), sheet.plan.routed.pump, sheet.plan.panel.pump
    (x, y), r = sheet.at(centre, scale), radius * scale
    out = draw_ring((x, y), r, runs)
    for at, bore, leaves in ((placed.inlet, pump.inlet_bore, True), (placed.outlet, pump.outlet_bore, False)):
        u, v = sheet.at(at, scale)
        b = bore / 2 * scale
        out.append(
            f'<circle cx="{number(u)}" cy="{number(v)}" r="{number(b)}" fill="none" stroke="{INK}" '
            'stroke-width="1.1"/>'
        )
        # As in the plan: a dot where coolant leaves the panel, a cross where it comes in.
        d = b * math.sqrt(0.5)
        out.append(
            f'<circle cx="{number(u)}" cy="{number(v)}" r="{number(0.3 * b)}" fill="{INK}"/>'
            if leaves
            else f'<path d="M{number(u - d)} {number(v - d)}l{number(2 * d)} {number(2 * d)}m0 {number(-2 * d)}'
            f'l{number(-2 * d)} {number(2 * d)}" stroke="{INK}" stroke-width="1"/>'
        )
    return out


def _fill_ports(plan: Plan) -> list[PlacedPort]:
    return [port for port in plan.routed.ports if port.role == "fill"]


def _draw_pouring(sheet: FillSheet, scale: float, port: PlacedPort) -> list[str]:
    x, y = sheet.at((port.at[0], port.at[1]), scale)
    if port.on not in EDGES:
        return [draw_drop((x, y))]
    dx, dy = sheet.view.along((INTO[port.on][0], INTO[port.on][1]))
    return [draw_arrow((x - dx * ARROW, y - dy * ARROW), (dx, dy), ARROW, INK)]


def draw_port(sheet: FillSheet, scale: float, port: PlacedPort) -> tuple[PortMark, list[str]]:
    """Draw a port's mouth: a bar where it is in an edge, a ring on a face.

    Parameters
    ----------
    sheet : FillSheet
    scale : float
        Picture units a millimetre.
    port : PlacedPort
    """
    x, y = sheet.at((port.at[0], port.at[1]), scale)
    half = tables.thread(port.thread).tap_drill / 2 * scale
    if port.on in EDGES:
        dx, dy = sheet.view.along((-INTO[port.on][0], -INTO[port.on][1]))
        line = f"M{number(x - dy * half)} {number(y + dx * half)}l{number(2 * dy * half)} {number(-2 * dx * half)}"
        return PortMark((x, y), 6.0, (dx, dy)), [f'<path d="{line}" stroke="{INK}" stroke-width="4"/>']
    ring = (
        f'cx="{number(x)}" cy="{number(y)}" r="{number(half)}" fill="none" stroke="{INK}" stroke-width="2.2"'
    )
    return PortMark((x, y), half, None), [f"<circle {ring}/>"]
