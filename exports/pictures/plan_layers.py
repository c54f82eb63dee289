"""What lies in which face of the body, as the plan picture shows it.

The picture is seen from the front. Channels in the front face lie over those in the back face: striped, on a white
band that parts them from what they cross.
"""

from __future__ import annotations

import math

import shapely

from exports.pictures.plan_symbols import (
    FINE,
    FRONT_STILL,
    FRONT_WATER,
    SHEET,
    SHORE,
    SOFT,
    STILL,
    WATER,
    ScrewIn,
    draw_hole,
    draw_region,
)
from exports.pictures.svg import View, number, path_of, track_of
from exports.wording.channel_ways import cut_leg
from geom.features import Cylinder
from geom.outline import Loop, Point, track_loops
from layouts.closing.wet_regions import layer_runs, outline_channel, outline_tank
from layouts.plan import Layer, Plan

Disc = tuple[Point, float]

COVER_STEP = 0.5
"""Between the discs that stand for a channel over others, in channel widths."""


def list_holes(plan: Plan) -> tuple[Disc, ...]:
    """Return the through holes: centre and radius, [mm]."""
    return tuple(
        ((f.shape.mouth[0], f.shape.mouth[1]), f.shape.radius)
        for f in plan.detail.features
        if f.kind == "through hole" and isinstance(f.shape, Cylinder)
    )


def sort_screws(plan: Plan) -> dict[ScrewIn, tuple[Point, ...]]:
    """Return the cover screws by the cover they are in; with one cover all count as in front of what is drawn."""
    back, front = plan.sealed.screws, plan.sealed.front_screws
    if not front:
        return {"both": back} if back else {}
    groups: dict[ScrewIn, tuple[Point, ...]] = {
        "back": tuple(at for at in back if at not in front),
        "both": tuple(at for at in back if at in front),
        "front": tuple(at for at in front if at not in back),
    }
    return {where: group for where, group in groups.items() if group}


def list_discs(plan: Plan, view: View, layer: Layer) -> tuple[Disc, ...]:
    """Return discs in picture units all along a layer's channels: what lies under the front ones is not seen."""
    discs = []
    for channel in plan.routed.channels:
        step = COVER_STEP * channel.width
        for run in layer_runs(channel, layer):
            line = shapely.LineString(run.points)
            for k in range(math.floor(line.length / step) + 1):
                at = line.interpolate(k * step)
                discs.append((view.to((at.x, at.y)), channel.width / 2 * view.scale))
    return tuple(discs)


def draw_grooves(plan: Plan, view: View, layer: Layer) -> list[str]:
    """Draw a joint's grooves as thin lines.

    In the back one, all are drawn wide and then filled, so that one which comes into another opens into it. Those in
    front must not hide what lies under them: dotted outlines without a fill.
    """
    loops = plan.sealed.loops_of(layer)
    if layer == "back":
        lines = [
            (track_of(loop.path, view) + ("Z" if loop.closed else ""), loop.groove_width * view.scale)
            for loop in loops
        ]
        return [
            f'<path d="{line}" fill="none" stroke="{colour}" stroke-width="{number(width + more)}"/>'
            for colour, more in ((FINE, 0.8), ("#e9ecee", -0.8))
            for line, width in lines
        ]
    out: list[str] = []
    for loop in loops:
        walls = [wall for wall in track_loops(loop.path, loop.closed, loop.groove_width) if wall is not None]
        out.append(
            f'<path d="{path_of(tuple(walls), view)}" fill="none" stroke="{SOFT}" stroke-width="0.9" '
            'stroke-dasharray="1 2.5"/>'
        )
    return out


def draw_channels(plan: Plan, view: View, layer: Layer) -> list[str]:
    """Draw a layer's channels to width, those in which coolant stands lighter; the tank with the back ones."""
    standing, flowing = _sort_runs(plan, layer)
    if layer == "back" and plan.routed.tank.box is not None:
        flowing.append(outline_tank(plan.routed, 0.0))
    loops = (*standing, *flowing)
    if not loops:
        return []
    out = []
    if layer == "front":
        out.append(draw_region(loops, view, "none", SHEET, 7.0))
    out.append(draw_region(loops, view, "none", SHORE, 2.0))
    fills = (STILL, WATER) if layer == "back" else (FRONT_STILL, FRONT_WATER)
    for fill, group in zip(fills, (standing, flowing), strict=True):
        out += [draw_region((loop,), view, fill, "none", 0.0) for loop in group]
    return out


def draw_holes(plan: Plan, view: View) -> list[str]:
    """Draw the through holes."""
    return [piece for at, radius in list_holes(plan) for piece in draw_hole(at, radius, view)]


def has_front(plan: Plan) -> bool:
    """Return whether any channel lies in the front face."""
    return any(run.layer == "front" for channel in plan.routed.channels for run in channel.runs)


def _sort_runs(plan: Plan, layer: Layer) -> tuple[list[Loop], list[Loop]]:
    """Return the outlines of a layer's runs in which coolant stands, and in which it flows."""
    still = {leg.leg for flow in plan.flowing.channels for leg in flow.legs if leg.flow_m3_s == 0.0}
    standing: list[Loop] = []
    flowing: list[Loop] = []
    for channel in plan.routed.channels:
        quiet = [leg for leg in channel.legs if leg.name in still]
        pieces = [piece for leg in quiet for piece in cut_leg(leg)]
        for run, loop in zip(layer_runs(channel, layer), outline_channel(channel, 0.0, layer), strict=True):
            ends = {run.points[0], run.points[-1]}
            same = any(p.layer == layer and {p.points[0], p.points[-1]} == ends for p in pieces)
            (standing if same or len(quiet) == len(channel.legs) else flowing).append(loop)
    return standing, flowing
