"""Sheets of one part's faces: front, back and the edges with bores, by projection, with ordinates and numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from exports.drawing.annotations import TEXT
from exports.drawing.callouts import DrawnHole, own_bore
from exports.drawing.draft import Draft
from exports.drawing.face_captions import (
    BESIDE_WIDTH,
    LEAST_WIDTH,
    SIDES_ROOM,
    mark_datum,
    mark_sides,
    wrap_face,
)
from exports.drawing.face_room import (
    ARROW_LETTERS,
    CAPTION,
    Layout,
    Part,
    lay_out_faces,
    list_points,
    measure_views,
    name_edge,
    place_in_view,
    take_room,
)
from exports.drawing.face_tags import channel_tags, corner_tag, hole_tags, pocket_tags, well_tags
from exports.drawing.flow_tables import Piece
from exports.drawing.frames import face_frame
from exports.drawing.needed_views import FLAT, Cut, part_faces
from exports.drawing.ordinates import draw_ordinates
from exports.drawing.paper import Box
from exports.drawing.part_tables import add_tables, draft_tables, put_piece
from exports.drawing.projection import arrange_views, side_of, turn_view
from exports.drawing.round_features import add_threads, centre_marks
from exports.drawing.section_marks import mark_cuts, mark_edge
from exports.drawing.sheet_tables import STEP
from exports.drawing.values import HoleRow, Label, PlacedView, View
from geom.features import Blank
from geom.frame import EDGES, Face
from geom.outline import Point
from layouts.milling.frame import plane_of
from layouts.plan import Plan

OVERSHOOT = 1.5
"""Of centre lines, [mm] on the paper."""


def draft_faces(
    plan: Plan,
    blank: Blank,
    views: Mapping[str, View],
    holes: Sequence[DrawnHole],
    cuts: Sequence[Cut],
    material: str,
) -> list[Draft]:
    """Return the sheets that show the faces of a part, with its tables and notes.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    views : mapping of str to View
        `take_views`.
    holes : sequence of DrawnHole
        Of all parts.
    cuts : sequence of Cut
        Marked on the first sheet.
    material : str
        For the title block.
    """
    mine = tuple(hole for hole in holes if hole.part == blank.name)
    main = part_faces(plan.detail, blank, mine)[0]
    part = Part(plan, blank, mine, main if cuts else None, tuple(cuts))
    layouts = lay_out_faces(part)
    out = []
    for layout in layouts:
        draft = _start(part, layout, material)
        if layout.stacked:
            _place_stacked(part, layout, draft, views)
        else:
            _place_projected(part, layout, draft, views)
        for number, face in enumerate(layout.faces):
            _annotate(part, layout, draft, number, face)
        out.append(draft)
    mark_cuts(out[0], cuts, layouts[0].faces[0], plane_of(blank, layouts[0].faces[0]))
    for layout in layouts:
        for edge in layout.faces if layout.stacked else ():
            mark_edge(out[0], edge, ARROW_LETTERS[edge])
    numbered = [row for draft in out for row in draft.holes]
    pool: list[Piece] = []
    rooms: list[list[Box]] = []
    for number, (draft, layout) in enumerate(zip(out, layouts, strict=True)):
        notes = numbered if number == 0 else None
        left, areas = add_tables(plan, draft, blank, layout.faces, take_room(part, layout), notes)
        pool += left
        rooms.append(areas)
    # What has no room beside its own view may stand beside another of the part.
    pool = [
        piece
        for piece in pool
        if not any(put_piece(draft, piece, areas) for draft, areas in zip(out, rooms, strict=True))
    ]
    return [*out, *draft_tables(plan, blank.name, material, pool)]


def _start(part: Part, layout: Layout, material: str) -> Draft:
    flat = [face for face in layout.faces if face in FLAT]
    shown = ", ".join([*flat, *(["edges"] if set(layout.faces) & set(EDGES) else [])])
    joint = part.plan.panel.make.closing != "one-piece"
    return Draft(
        f"{part.blank.name}, {shown}", part.blank.name, "part drawing", material, joint, layout.scale
    )


def _place_projected(part: Part, layout: Layout, draft: Draft, views: Mapping[str, View]) -> None:
    """Place views beside each other by projection, in the upper left corner, each with its caption."""
    sizes, pads = measure_views(part, layout)
    at, _ = arrange_views(sizes, pads, part.choice.projection)
    room = take_room(part, layout)
    for face in layout.faces:
        corner = (room.x0 + at[face][0], room.y0 + at[face][1])
        draft.views.append(_mark_view(part, layout, views, face, corner))
        (x, y), (w, h) = corner, sizes[face]
        if face in FLAT:
            above = (x, y + h + pads[face].above - CAPTION)
            alone = len(layout.faces) == 1
            place = (x + w + 3.0, y + h - CAPTION) if alone else above
            draft.items.append(Label(face, place, CAPTION, bold=True))
            lines = wrap_face(part.plan, part.blank, face, BESIDE_WIDTH if alone else max(LEAST_WIDTH, w))
            draft.items += [
                Label(line, (place[0], place[1] - STEP * k), TEXT) for k, line in enumerate(lines, 1)
            ]
            continue
        side, name = side_of(face, part.choice.projection), f"{face} edge"
        if side == "left":
            draft.items.append(Label(name, (x + w, y + h + SIDES_ROOM), CAPTION, "right", bold=True))
        elif side == "right":
            draft.items.append(Label(name, (x, y + h + SIDES_ROOM), CAPTION, bold=True))
        else:
            draft.items.append(
                Label(name, (x + w + SIDES_ROOM + 3.0, y + h / 2 - CAPTION / 2), CAPTION, bold=True)
            )


def _place_stacked(part: Part, layout: Layout, draft: Draft, views: Mapping[str, View]) -> None:
    """Place edges below each other, each with its caption."""
    sizes, pads = measure_views(part, layout)
    room = take_room(part, layout)
    y = room.y1
    for face in layout.faces:
        top = y - pads[face].above
        corner = (room.x0 + pads[face].left, top - sizes[face][1])
        draft.views.append(_mark_view(part, layout, views, face, corner))
        draft.items.append(Label(name_edge(face), (corner[0], y - CAPTION), CAPTION, bold=True))
        y = corner[1] - pads[face].below


def _mark_view(
    part: Part, layout: Layout, views: Mapping[str, View], face: Face, corner: Point
) -> PlacedView:
    """Return a view in its place, with its threads and centre lines."""
    view, plane = views[f"{part.blank.name} {face}"], plane_of(part.blank, face)
    frame = face_frame(face, plane.low, plane.high)
    names, turns = {hole.feature for hole in part.holes_in(face)}, layout.turns_of(face)
    bores = [own_bore(part.blank, one) for one in part.plan.detail.features if one.name in names]
    seen = [bore for bore in bores if bore is not None]
    marks = centre_marks(seen, frame, OVERSHOOT / layout.scale)
    turned = turn_view(replace(view, lines=(*view.lines, *marks)), turns)
    return PlacedView(add_threads(turned, seen, frame, turns), corner, layout.scale, turns)


def _annotate(part: Part, layout: Layout, draft: Draft, number: int, face: Face) -> None:
    """Add ordinates, hole rows and tags of one view."""
    placed, seen = draft.views[number], part.holes_in(face)
    places = [place_in_view(part, layout, face, hole.at) for hole in seen]
    draft.holes += [HoleRow(hole.number, hole.what, hole.at, hole.callout, placed.view.name) for hole in seen]
    points = list_points(part, layout, face)
    outer = None if face in FLAT or layout.stacked else side_of(face, part.choice.projection)
    draft.items += draw_ordinates(number, placed, points, "u", before=outer != "above")
    draft.items += draw_ordinates(number, placed, points, "v", before=outer != "right")
    draft.items.append(mark_datum(placed))
    if face in EDGES:
        draft.items += mark_sides(placed)
    draft.tags += hole_tags(seen, places, placed)
    if face in FLAT:
        draft.tags += channel_tags(part.plan, part.blank, face, placed)
        draft.tags += pocket_tags(part.plan, part.blank, face, placed)
        draft.tags += well_tags(part.plan, part.blank, face, placed)
        if number == 0:
            draft.tags += corner_tag(part.plan, placed)
