"""The cord's groove drawn large, from the values that it is cut by: width and depth with tolerances, land, cord."""

from __future__ import annotations

import math

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.blocks import ViewBlock, add_linear, view_box
from exports.drawing.draft import Draft
from exports.drawing.placing import Field, Tag
from exports.drawing.projection import Pads
from exports.drawing.scales import largest_scale
from exports.drawing.values import CutFace, Linear, PlacedView, View, ViewLine
from exports.wording.figures import show_mm
from geom.outline import Arc, Line, Loop, outline_rectangle
from geom.standards import tables
from layouts.clearance import clearances_of
from layouts.closing.gland import squeezed_width
from layouts.plan import Plan

ABOVE, BELOW, BESIDE = 1.4, 1.2, 1.2
"""What of the body behind the groove, of the cover and of the body beside it is drawn, in groove depths and widths."""

ROUND = 0.35
"""Of the squeezed cord's height, rounded at its corners, [-]: as it is drawn, not as it is."""


def draw_groove(plan: Plan, room: float) -> ViewBlock | None:
    """Return the detail of the groove; None for a panel without a cord.

    Parameters
    ----------
    plan : Plan
    room : float
        Width that it may take, [mm] on the paper.
    """
    if not plan.sealed.loops:
        return None
    cord, gaps = tables.cord(plan.panel.make.cord), clearances_of(plan.panel)
    width, depth, radius, land = cord.groove_width, cord.groove_depth, cord.groove_radius, gaps.land
    # The channel's wall at the left, the joint face level, the body above it and the cover below.
    left, right = BESIDE * 0.5 * width, land + width + BESIDE * width
    low, high = BELOW * depth, depth * (1 + ABOVE)
    joint, x0, x1 = low, left + land, left + land + width
    size = (left + right, low + high)
    top = joint + depth
    floor = _round_floor(x0, x1, joint, top, radius)
    body: Loop = (
        *floor,
        Line((x1, joint), (size[0], joint)),
        Line((size[0], joint), size),
        Line(size, (left, size[1])),
        Line((left, size[1]), (left, joint)),
        Line((left, joint), (x0, joint)),
    )
    cover: Loop = tuple(
        Line(a, b)
        for a, b in (
            ((0.0, 0.0), (size[0], 0.0)),
            ((size[0], 0.0), (size[0], joint)),
            ((size[0], joint), (0.0, joint)),
            ((0.0, joint), (0.0, 0.0)),
        )
    )
    middle, half = (x0 + x1) / 2, squeezed_width(cord) / 2
    squeezed = _rounded(middle - half, joint, middle + half, top, ROUND * depth)
    edges = (*floor, Line((left, joint), (size[0], joint)), Line((0.0, joint), (left, joint)))
    wall = Line((left, joint), (left, size[1]))
    rims = (
        Line((left, size[1]), size),
        Line((size[0], 0.0), size),
        Line((0.0, 0.0), (size[0], 0.0)),
        Line((0.0, 0.0), (0.0, joint)),
    )
    lines = (
        *(ViewLine(s, "visible") for s in (*edges, wall)),
        *(ViewLine(s, "cord") for s in squeezed),
        *(ViewLine(s, "thin") for s in rims),
    )
    cuts = (CutFace("body", (body,)), CutFace("cover", (cover,)), CutFace("cord", (squeezed,)))
    scale = largest_scale(lambda s: size[0] * s <= room, 10.0) or 1.0

    def finish(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
        wide = f"+{show_mm(cord.groove_width_tolerance)}/0"
        deep = f"+{show_mm(cord.groove_depth_tolerance)}/0"
        above = placed.corner[1] + size[1] * placed.scale + 6.0
        beside = placed.corner[0] + size[0] * placed.scale + 8.0
        below = placed.corner[1] - 7.0
        add_linear(draft, ink, Linear(number, "u", (x0, top), (x1, top), above, wide), [above, above + 5.0])
        add_linear(
            draft,
            ink,
            Linear(number, "v", (x1, joint), (x1, top), beside, deep),
            [beside, beside + 6.0, beside + 12.0],
        )
        if land > 0:
            add_linear(draft, ink, Linear(number, "u", (left, joint), (x0, joint), below), [below])
        corner = (x0 + radius * (1 - math.sqrt(0.5)), top - radius * (1 - math.sqrt(0.5)))
        squeeze = f"cord Ø{show_mm(cord.section)} ±{show_mm(cord.tolerance)}"
        named = (
            ((f"R{show_mm(radius)}",), corner, False),
            ((squeeze, f"squeezed to {show_mm(depth)}"), (middle, joint + depth / 2), True),
            (("body",), (x1 + 0.6 * BESIDE * width, joint + 0.7 * high), True),
            (("cover",), (x1 + 0.6 * BESIDE * width, joint - 0.6 * low), True),
            (("channel",), (0.5 * left, joint + 0.7 * high), True),
        )
        draft.tags += [
            Tag(text, on_paper(placed, at), 0.0, TEXT, led=True, dot=dot, beside=view_box(placed))
            for text, at, dot in named
        ]

    return ViewBlock(
        View("detail D", size, lines, cuts), "detail D: groove", scale, Pads(12.0, 30.0, 14.0, 12.0), finish
    )


def _round_floor(x0: float, x1: float, joint: float, top: float, radius: float) -> Loop:
    """Return a groove's walls and floor from its left edge at the joint to its right one."""
    return (
        Line((x0, joint), (x0, top - radius)),
        Arc((x0 + radius, top - radius), radius, math.pi, -math.pi / 2),
        Line((x0 + radius, top), (x1 - radius, top)),
        Arc((x1 - radius, top - radius), radius, math.pi / 2, -math.pi / 2),
        Line((x1, top - radius), (x1, joint)),
    )


def _rounded(x0: float, y0: float, x1: float, y1: float, radius: float) -> Loop:
    return outline_rectangle(x0, y0, x1, y1, min(radius, (x1 - x0) / 2.01, (y1 - y0) / 2.01))
