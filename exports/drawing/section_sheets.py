"""Sheets of sections: through tank and pump, across a typical channel, at mid-thickness of one piece; the groove."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Literal

import numpy as np

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.blocks import ViewBlock, add_linear, column_scale, set_blocks, view_box
from exports.drawing.draft import Draft, drawing_area, side_area
from exports.drawing.frames import ViewFrame
from exports.drawing.groove_detail import draw_groove
from exports.drawing.joint_detail import draw_joint
from exports.drawing.level_section import draft_level, mark_level
from exports.drawing.marked_sections import label_parts, mark_section
from exports.drawing.needed_views import Cut, channel_z, frame_of_cut
from exports.drawing.placing import Field, Tag
from exports.drawing.projection import Pads
from exports.drawing.scales import largest_scale
from exports.drawing.section_marks import circle_detail
from exports.drawing.sections import detail_of
from exports.drawing.values import Linear, PlacedView, View
from exports.wording.figures import show_mm
from geom.features import Shape, Vault
from geom.frame import Vec
from geom.outline import Point, loop_polygon
from layouts.clearance import clearances_of, tank_z
from layouts.detail import name_channel
from layouts.faces import face_z
from layouts.nets import PUMP_INLET
from layouts.plan import Plan

DETAIL_ROOM = 105.0
"""Width that a detail may take, [mm] on the paper."""

DOT = 0.6
"""Half of what is kept free of letters at the end of a leader, [mm]."""

MARKED = 9.0
"""Room that the mark of a cutting plane takes at either end of a section, [mm]."""

ROW = 7.0
"""From one row of dimensions to the next, [mm]."""


def draft_sections(plan: Plan, views: Mapping[str, View], cuts: Sequence[Cut], material: str) -> list[Draft]:
    """Return the sheets of sections and details of the whole panel.

    Parameters
    ----------
    plan : Plan
    views : mapping of str to View
    cuts : sequence of Cut
    material : str
        For the title block.
    """
    by_letter = {cut.letter: cut for cut in cuts}
    blocks = [_block_column(plan, by_letter["A"], by_letter.get("C"), views)]
    if "B" in by_letter:
        blocks.append(_block_channel(plan, by_letter["B"], views))
    groove = draw_groove(plan, DETAIL_ROOM)
    if groove is not None:
        blocks.append(groove)
    blocks += draw_joint(plan, cuts, views)
    out = []
    left = blocks
    while left:
        draft = _start("sections", material, left[0].scale)
        left = set_blocks(draft, left, plan.panel.drawing)
        out.append(draft)
    if "C" in by_letter:
        out += draft_level(plan, by_letter["C"], views, material)
    return out


def _start(what: str, material: str, scale: float) -> Draft:
    return Draft(f"whole panel, {what}", "whole panel", "sections", material, False, scale)


def _block_column(plan: Plan, cut: Cut, level: Cut | None, views: Mapping[str, View]) -> ViewBlock:
    view = mark_section(plan, cut, views[cut.name])
    # Text stands at both sides of an upright section, above and below a lying one.
    upright = cut.plane.axis == "x"
    more = 0.0 if level is None else MARKED
    pads = Pads(28.0, 30.0, 2.0 + more, 2 * ROW + 2.0 + more)
    if not upright:
        pads = Pads(2 * ROW + 8.0 + more, 10.0 + more, 20.0, 20.0)
    choice = plan.panel.drawing
    scale = max(
        column_scale(view, drawing_area(choice), pads, 0.45 if upright else 1.0),
        column_scale(view, side_area(choice), pads),
    )

    def finish(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
        measure_column(plan, cut, draft, ink, number, placed)
        if level is not None:
            mark_level(plan, cut, level, draft, number)
        name_column(plan, cut, draft, ink, placed)

    return ViewBlock(view, cut.name, scale, pads, finish)


def measure_column(plan: Plan, cut: Cut, draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
    """Add the thicknesses of the parts, and the depths of tank, drop and seat, to the section through the pump.

    Parameters
    ----------
    plan : Plan
    cut : Cut
    draft : Draft
    ink : Field
    number : int
        Of the view on its sheet.
    placed : PlacedView
    """
    panel, frame = plan.panel, frame_of_cut(plan.detail, cut)
    upright = cut.plane.axis == "x"
    k = 1 if upright else 0
    far = panel.height if upright else 0.0
    x, y = plan.routed.pump.inlet

    def at(along: float, z: float) -> Point:
        point: Vec = (cut.plane.at, along, z) if upright else (along, cut.plane.at, z)
        return frame.to_view(point)

    def measure(z0: float, z1: float, along: float, lines: Sequence[float]) -> None:
        axis: Literal["u", "v"] = "u" if upright else "v"
        add_linear(draft, ink, Linear(number, axis, at(along, z0), at(along, z1), lines[0]), lines)

    def outside(row: int) -> list[float]:
        edge, sign = on_paper(placed, at(far, 0.0))[k], 1.0 if upright else -1.0
        return [edge + sign * (ROW * row - 1.0 + (MARKED if plan.panel.make.closing == "one-piece" else 0.0))]

    def within(low: float, high: float) -> list[float]:
        shares = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)
        return [on_paper(placed, at(low + (high - low) * share, 0.0))[k] for share in shares]

    blanks = plan.detail.blanks
    thick = list(dict.fromkeys((blank.z0, blank.z1) for blank in blanks))
    for z0, z1 in thick:
        measure(z0, z1, far, outside(1))
    if len(thick) > 1:
        measure(min(z for z, _ in thick), max(z for _, z in thick), far, outside(2))
    tank, along = plan.routed.tank, (x, y)[k]
    if tank.box is not None:
        low, high = tank.box[k], tank.box[2 + k]
        z0, z1 = tank_z(panel)
        measure(z0, z1, (low + high) / 2, within(low, high))
        drop = sorted((along, low if low > along else high))
        z0, z1 = channel_z(plan.detail, name_drop(plan))
        measure(z0, z1, sum(drop) / 2, within(*drop))
    pump = panel.pump
    if pump.seat_diameter > 0 and pump.seat_depth > 0:
        face = face_z(panel, pump.on)
        floor = face - pump.seat_depth if pump.on == "front" else face + pump.seat_depth
        rim = along + pump.seat_diameter / 2
        measure(face, floor, rim, within(along + pump.inlet_bore, rim - 1.0))


def name_column(plan: Plan, cut: Cut, draft: Draft, ink: Field, placed: PlacedView) -> None:
    """Add the names of what the section through the pump shows.

    Parameters
    ----------
    plan : Plan
    cut : Cut
    draft : Draft
    ink : Field
        What stands there already.
    placed : PlacedView
    """
    panel, frame, tank = plan.panel, frame_of_cut(plan.detail, cut), plan.routed.tank
    upright = cut.plane.axis == "x"
    k = 1 if upright else 0
    x, y = plan.routed.pump.inlet
    along = (x, y)[k]

    def paper(far: float, z: float) -> Point:
        point: Vec = (cut.plane.at, far, z) if upright else (far, cut.plane.at, z)
        return on_paper(placed, frame.to_view(point))

    def name(text: str, *points: Point) -> None:
        # The dot of its leader must not stand in letters.
        boxes = np.array([(x - DOT, y - DOT, x + DOT, y + DOT) for x, y in points])
        at = points[int(np.argmax(ink.is_free(boxes)))]
        draft.tags.append(Tag((text,), at, 0.0, TEXT, led=True, dot=True, beside=view_box(placed)))

    inlet_z = face_z(panel, panel.pump.on)
    floor = inlet_z + (panel.pump.seat_depth + 3.0) * (-1.0 if panel.pump.on == "front" else 1.0)
    name(f"pump inlet Ø{show_mm(panel.pump.inlet_bore)}", paper(along, floor))
    if tank.box is not None:
        low, high = tank.box[k], tank.box[2 + k]
        z0, z1 = tank_z(panel)
        name("tank", paper(low + 0.75 * (high - low), z0 + 0.7 * (z1 - z0)))
        edge = low if low > along else high
        z0, z1 = channel_z(plan.detail, name_drop(plan))
        spots = (along + share * (edge - along) for share in (0.7, 0.5, 0.85, 0.35))
        name("drop", *(paper(far, z0 + depth * (z1 - z0)) for far in spots for depth in (0.5, 0.25, 0.75)))
    label_parts(draft, placed, {blank.name for blank in plan.detail.blanks})


def name_drop(plan: Plan) -> str:
    """Return the name of the feature of the channel that leads from the tank to the pump's inlet."""
    fed = next(channel for channel in plan.routed.channels if PUMP_INLET in channel.ends)
    return name_channel(fed.name, "back")


def _block_channel(plan: Plan, cut: Cut, views: Mapping[str, View]) -> ViewBlock:
    frame, gaps = frame_of_cut(plan.detail, cut), clearances_of(plan.panel)
    low, high = frame.low[2], frame.high[2]
    half = cut.width / 2 + gaps.seal_reach + 3.0
    radius = (half**2 + ((high - low) / 2 + 1.0) ** 2) ** 0.5
    middle = frame.to_view((cut.about[0], cut.about[1], (low + high) / 2))
    view = detail_of(mark_section(plan, cut, views[cut.name]), middle, radius, cut.name)
    upright = cut.plane.axis == "x"
    # A roof is measured above and at the right.
    more = 14.0 if isinstance(_shape_of(plan, cut), Vault) else 0.0
    pads = Pads(18.0, 20.0, 4.0, 4.0 + more) if upright else Pads(8.0, 20.0, 14.0, 4.0 + more)
    scale = largest_scale(lambda s: 2 * radius * s <= DETAIL_ROOM, 5.0) or 1.0
    shift = (radius - middle[0], radius - middle[1])

    def finish(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
        _measure_channel(plan, cut, frame, shift, draft, ink, number, placed)
        names = {blank.name for blank in plan.detail.blanks}
        label_parts(draft, placed, names)
        # The groove that is drawn larger.
        cord = next((face for face in view.cuts if face.part not in names), None)
        if cord is not None:
            x0, y0, x1, y1 = loop_polygon(cord.region[0], 0.05).bounds
            middle = on_paper(placed, ((x0 + x1) / 2, (y0 + y1) / 2))
            circle_detail(draft, "D", middle, math.hypot(x1 - x0, y1 - y0) / 2 * scale + 1.0)

    return ViewBlock(view, f"{cut.name}, part of it", scale, pads, finish)


def _shape_of(plan: Plan, cut: Cut) -> Shape:
    return next(feature.shape for feature in plan.detail.features if feature.name == cut.channel)


def _measure_channel(
    plan: Plan,
    cut: Cut,
    frame: ViewFrame,
    shift: Point,
    draft: Draft,
    ink: Field,
    number: int,
    placed: PlacedView,
) -> None:
    """Add width and depth of the channel that a section is about."""
    upright = cut.plane.axis == "x"
    k = 1 if upright else 0
    z0, z1 = channel_z(plan.detail, cut.channel)
    width = cut.width

    def at(along: float, z: float) -> Point:
        point: Vec = (cut.plane.at, along, z) if upright else (along, cut.plane.at, z)
        u, v = frame.to_view(point)
        return u + shift[0], v + shift[1]

    middle = cut.about[k]
    deep, across = ("u", "v") if upright else ("v", "u")
    shares = (0.5, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)
    lines = [on_paper(placed, at(middle + width * (s - 0.5), z0))[k] for s in (0.25, 0.75, *shares)]
    start, end = at(middle, z0), at(middle, z1)
    add_linear(draft, ink, Linear(number, "u" if deep == "u" else "v", start, end, lines[0]), lines)
    # Outside of the circle: within, the line would run over the edges beyond the plane.
    lines = [placed.corner[1 - k] - off for off in (5.0, 8.0)]
    z = (z0 + z1) / 2
    shape = _shape_of(plan, cut)
    if isinstance(shape, Vault):
        z = z0 + (0.25 if shape.up else 0.75) * (z1 - z0)
        _measure_roof(shape, cut, at, draft, ink, number, placed)
    start, end = at(middle - width / 2, z), at(middle + width / 2, z)
    add_linear(draft, ink, Linear(number, "v" if across == "v" else "u", start, end, lines[0]), lines)


def _measure_roof(
    shape: Vault,
    cut: Cut,
    at: Callable[[float, float], Point],
    draft: Draft,
    ink: Field,
    number: int,
    placed: PlacedView,
) -> None:
    """Add how high and how far in each wall of a channel leans to its roof."""
    k = 1 if cut.plane.axis == "x" else 0
    top, foot = (shape.z1, shape.z1 - shape.rise) if shape.up else (shape.z0, shape.z0 + shape.rise)
    wall = cut.about[k] + cut.width / 2
    start, end = at(wall, foot), at(wall - shape.inset, top)
    rise, inset = ("u", "v") if k == 1 else ("v", "u")
    beyond = [placed.corner[j] + placed.view.size[j] * placed.scale for j in (0, 1)]
    add_linear(
        draft,
        ink,
        Linear(number, "u" if rise == "u" else "v", start, end, 0.0),
        [beyond[k] + off for off in (5.0, 8.0)],
    )
    add_linear(
        draft,
        ink,
        Linear(number, "v" if inset == "v" else "u", start, end, 0.0),
        [beyond[1 - k] + off for off in (5.0, 8.0)],
    )
