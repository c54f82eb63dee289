"""The section along a panel in one piece: its channels and its tank, and where it runs on the one through the pump."""

from __future__ import annotations

from collections.abc import Mapping

from exports.drawing.annotations import on_paper
from exports.drawing.blocks import BETWEEN, CAPTION_ROOM, column_scale
from exports.drawing.channel_table import NARROW, WIDE, tabulate_inner_channels
from exports.drawing.draft import Draft, drawing_area, foot_area
from exports.drawing.face_tags import channel_straights, number_channels, tag_channel
from exports.drawing.needed_views import Cut, frame_of_cut
from exports.drawing.ordinates import draw_ordinates, ordinate_room
from exports.drawing.paper import Box
from exports.drawing.part_tables import draft_tables, put_piece
from exports.drawing.projection import Pads
from exports.drawing.scales import show_scale
from exports.drawing.section_marks import mark_plane
from exports.drawing.values import Label, PlacedView, View
from exports.wording.figures import show_mm
from layouts.plan import Plan


def draft_level(plan: Plan, cut: Cut, views: Mapping[str, View], material: str) -> list[Draft]:
    """Return the sheet of the section along a panel in one piece, with its channels and tank, and of its table.

    Parameters
    ----------
    plan : Plan
    cut : Cut
    views : mapping of str to View
    material : str
        For the title block.
    """
    area, view = drawing_area(plan.panel.drawing), views[cut.name]
    w, h = view.size
    points = [(0.0, 0.0), (w, 0.0), (0.0, h), (w, h)]
    if plan.routed.tank.box is not None:
        x0, y0, x1, y1 = plan.routed.tank.box
        points += [(x0, y0), (x1, y0), (x0, y1), (x1, y1)]
    points += [p for channel in plan.routed.channels for run in channel.runs for p in run.points]
    pads = Pads(ordinate_room(p[1] for p in points), 9.0, ordinate_room(p[0] for p in points), 9.0)
    scale = column_scale(view, area, pads)
    what = f"section {cut.letter}-{cut.letter}, {show_mm(cut.plane.at)} above the back, seen from the front"
    draft = Draft(f"whole panel, {what}", "whole panel", "sections", material, False, scale)
    corner = (area.x0 + pads.left, area.y1 - CAPTION_ROOM - pads.above - h * scale)
    placed = PlacedView(view, corner, scale)
    draft.views.append(placed)
    draft.items.append(Label(f"{what}  {show_scale(scale)}", (corner[0], area.y1 - 3.5), 3.5, bold=True))
    draft.items += draw_ordinates(0, placed, points, "u")
    draft.items += draw_ordinates(0, placed, points, "v")
    for name, number in number_channels(plan).items():
        straights = channel_straights(plan.routed.channel(name), plan.routed.channel(name).runs)
        spots = [
            on_paper(placed, ((line.start[0] + line.end[0]) / 2, (line.start[1] + line.end[1]) / 2))
            for line in straights
        ]
        if spots:
            draft.tags.append(tag_channel(number, spots, 1, straights))
    foot = foot_area(plan.panel.drawing)
    beside = Box(corner[0] + w * scale + pads.right + BETWEEN, area.y0, area.x1, area.y1)
    below = Box(foot.x0, foot.y0, foot.x1, corner[1] - pads.below - 4.0)
    areas = [beside, below]
    ways = zip(*(tabulate_inner_channels(plan, rooms) for rooms in (WIDE, NARROW)), strict=True)
    rest = [tables[0] for tables in ways if not any(put_piece(draft, table, areas) for table in tables)]
    return [draft, *draft_tables(plan, "whole panel", material, rest)]


def mark_level(plan: Plan, cut: Cut, level: Cut, draft: Draft, number: int) -> None:
    """Mark the section along the panel on the one through its pump.

    Parameters
    ----------
    plan : Plan
    cut, level : Cut
        Through the pump, and along the panel.
    draft : Draft
    number : int
        Of the section through the pump on its sheet.
    """
    frame, z = frame_of_cut(plan.detail, cut), level.plane.at
    upright = cut.plane.axis == "x"
    ends = [
        frame.to_view((cut.plane.at, far, z) if upright else (far, cut.plane.at, z))
        for far in (0.0, plan.panel.height if upright else plan.panel.width)
    ]
    behind = frame.to_view((0.0, 0.0, -float(level.plane.towards)))
    here = frame.to_view((0.0, 0.0, 0.0))
    mark_plane(draft, number, level.letter, ends[0], ends[1], (behind[0] - here[0], behind[1] - here[1]))
