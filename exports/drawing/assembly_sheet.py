"""The assembly: the closed panel with the run of its cords, cut through its pump, a screw larger, the parts list."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from exports.drawing.annotations import on_paper
from exports.drawing.blocks import Finish, ViewBlock, add_linear, column_scale, set_blocks
from exports.drawing.draft import Draft, drawing_area
from exports.drawing.item_balloons import ITEM, SCREWED, port_tags, tell_not_drawn
from exports.drawing.marked_sections import label_parts, mark_section
from exports.drawing.needed_views import WHOLE, Cut
from exports.drawing.part_tables import draft_pieces
from exports.drawing.placing import Field, Tag
from exports.drawing.projection import Pads
from exports.drawing.screw_detail import draw_screw
from exports.drawing.section_marks import circle_detail, mark_cuts
from exports.drawing.sheet_tables import Table, wrap_text
from exports.drawing.values import Linear, PlacedView, View, ViewLine
from exports.tables.parts_list import (
    OUTSIDE,
    PartRow,
    list_parts,
    name_cord,
)
from geom.along import Way
from geom.outline import Arc, Line, Point, Segment
from geom.words import capitalise
from layouts.faces import COVERS, cover_name
from layouts.milling.frame import SetUpPlane, plane_of
from layouts.plan import Layer, Plan
from layouts.strength.screw_hole import clearance_hole

WIDE, BROAD, NARROW = (40.0, 34.0, 58.0, 62.0), (40.0, 34.0, 58.0, 84.0), (34.0, 28.0, 36.0, 44.0)
"""Widths at which name, material, size and where are broken into lines, [mm]."""

CIRCLE = 1.2
"""From a screw's hole to the circle round what is drawn larger, [mm]."""


def draft_assembly(plan: Plan, views: Mapping[str, View], cuts: Sequence[Cut], material: str) -> list[Draft]:
    """Return the assembly's sheets: views, then the parts list where it has no room beside them.

    Parameters
    ----------
    plan : Plan
    views : mapping of str to View
    cuts : sequence of Cut
    material : str
        For the title block.
    """
    area = drawing_area(plan.panel.drawing)
    parts = list_parts(plan)
    items = {row.item: number for number, row in reversed([*enumerate(parts, 1)])}
    column = next(cut for cut in cuts if cut.letter == "A")
    section = mark_section(plan, column, views[column.name])
    screw = draw_screw(plan, 0.2 * area.width)
    wholes = list_wholes(plan, views)
    pads, slim = Pads(18.0, 16.0, 14.0, 10.0), Pads(18.0, 18.0, 10.0, 4.0)
    listed = {number: row for number, row in enumerate(parts, 1) if is_listed(row)}
    scale = min(column_scale(wholes[0].view, area, pads), column_scale(section, area, slim), 1.0)

    def finish_whole(whole: Whole) -> Finish:
        def finish(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
            first = whole is wholes[0]
            if first:
                mark_cuts(draft, (column,), whole.plane.face, whole.plane)
            # Its dimensions stand further out than the ends of the cutting plane.
            _measure_whole(draft, ink, number, placed, 12.0 if first else 8.0)
            draft.tags += _item_tags(plan, whole, placed, items)
            if first:
                _circle_screw(plan, whole, draft, placed)
            draft.tags += port_tags(plan, whole.plane, whole is wholes[-1], placed, listed)

        return finish

    def finish_section(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
        _measure_whole(draft, ink, number, placed)
        before = len(draft.tags)
        label_parts(draft, placed, {one.name for one in plan.detail.blanks})
        draft.tags[before:] = [
            replace(tag, text=(str(items.get(tag.text[0], items.get("cord", 0))),), height=ITEM)
            for tag in draft.tags[before:]
        ]

    first, *others = (
        ViewBlock(whole.view, f"whole panel, {whole.seen}", scale, pads, finish_whole(whole))
        for whole in wholes
    )
    blocks = [first, ViewBlock(section, column.name, scale, slim, finish_section), *others]
    if screw is not None:
        blocks.append(screw)
    out: list[Draft] = []
    left = blocks
    while left:
        draft = Draft(
            "assembly" if not out else "assembly, details",
            "whole panel",
            "assembly drawing",
            material,
            False,
            left[0].scale,
        )
        left = set_blocks(draft, left, plan.panel.drawing)
        out.append(draft)
    out += _draft_list(plan, parts, material)
    return out


def _measure_whole(draft: Draft, ink: Field, number: int, placed: PlacedView, off: float = 8.0) -> None:
    """Add width and height of a view, `off` from it."""
    w, h = placed.view.size
    below, beside = placed.corner[1] - off, placed.corner[0] - off
    add_linear(draft, ink, Linear(number, "u", (0.0, 0.0), (w, 0.0), below), [below])
    add_linear(draft, ink, Linear(number, "v", (0.0, 0.0), (0.0, h), beside), [beside])


@dataclass(frozen=True, slots=True)
class Whole:
    """The closed panel as one sees it: from where, on which part, with which cords under that.

    Parameters
    ----------
    seen : str
        In words.
    plane : SetUpPlane
        Of the face that is seen.
    layer : {"back", "front"} or None
        The joint under it.
    view : View
    """

    seen: str
    plane: SetUpPlane
    layer: Layer | None
    view: View


def list_wholes(plan: Plan, views: Mapping[str, View]) -> tuple[Whole, ...]:
    """Return the views of the closed panel: on each cover that is screwed on, then on its front.

    Parameters
    ----------
    plan : Plan
    views : mapping of str to View
    """
    out = []
    for blank in plan.detail.blanks:
        layer: Layer = "front" if blank.name == cover_name("front") else "back"
        held = plan.sealed.loops_of(layer) or plan.sealed.screws_of(layer)
        if blank.name not in COVERS or not held:
            continue
        plane, view = plane_of(blank, layer), views[f"{blank.name} {layer}"]
        loops = plan.sealed.loops_of(layer)
        cords = [ViewLine(_seen(segment, plane), "cord") for loop in loops for segment in loop.path]
        seen = f"seen from the {layer}" + (f", cords under the {blank.name}" if loops else "")
        out.append(Whole(seen, plane, layer, replace(view, lines=(*view.lines, *cords))))
    blank = plan.detail.blanks[0]
    if out and all(whole.plane.face != "front" for whole in out) and f"{blank.name} front" in views:
        out.append(Whole("seen from the front", plane_of(blank, "front"), None, views[f"{blank.name} front"]))
    if not out:
        face: Layer = "front" if f"{blank.name} front" in views else "back"
        view = views[WHOLE] if WHOLE in views else views[f"{blank.name} {face}"]
        out.append(Whole(f"seen from the {face}", plane_of(blank, face), None, view))
    return tuple(out)


def _seen(segment: Segment, plane: SetUpPlane) -> Segment:
    """Return a segment of the panel's plan as it is seen."""
    if isinstance(segment, Line):
        a, b = (plane.to_plane((*point, 0.0))[:2] for point in (segment.start, segment.end))
        return Line(a, b)
    centre = plane.to_plane((*segment.centre, 0.0))[:2]
    if plane.face == "front":
        return Arc(centre, segment.radius, segment.first, segment.sweep)
    return Arc(centre, segment.radius, math.pi - segment.first, -segment.sweep)


def _item_tags(plan: Plan, whole: Whole, placed: PlacedView, items: Mapping[str, int]) -> list[Tag]:
    """Return the numbers of cords and of one screw with its washer on the closed panel."""

    def paper(point: Point) -> Point:
        return on_paper(placed, whole.plane.to_plane((*point, 0.0))[:2])

    out: list[Tag] = []
    if whole.layer is None:
        return out
    for loop in plan.sealed.loops_of(whole.layer):
        number = items.get(name_cord(loop))
        if number is not None:
            at = Way(loop.path, loop.closed).point(0.4 * loop.length)
            out.append(Tag((str(number),), paper(at), 0.0, ITEM, led=True))
    held = [str(items[name]) for name in SCREWED if name in items]
    screws = plan.sealed.screws_of(whole.layer)
    if screws and held:
        lowest = min(screws, key=lambda point: (point[1], point[0]))
        out.append(Tag((", ".join(held),), paper(lowest), 1.5, ITEM, led=True))
    return out


def _circle_screw(plan: Plan, whole: Whole, draft: Draft, placed: PlacedView) -> None:
    """Circle the highest cover screw, which detail E shows larger."""
    screws = () if whole.layer is None else plan.sealed.screws_of(whole.layer)
    if screws:
        x, y = max(screws, key=lambda point: (point[1], point[0]))
        radius = clearance_hole(plan.panel) / 2 * placed.scale + CIRCLE
        circle_detail(draft, "E", on_paper(placed, whole.plane.to_plane((x, y, 0.0))[:2]), radius)


def tabulate_parts(
    parts: Sequence[PartRow], rooms: tuple[float, float, float, float] = WIDE, not_drawn: str = ""
) -> Table:
    """Return the parts list as a table: what is on or in the panel, by the numbers of parts.csv.

    Parameters
    ----------
    parts : sequence of PartRow
        The whole list.
    rooms : (float, float, float, float)
        Widths at which name, material, size and where are broken into lines, [mm].
    not_drawn : str
        Which items are not drawn, for its heading.
    """
    name, material, size, use = rooms
    rows = [
        (
            (str(number),),
            wrap_text(row.item, name),
            wrap_text(row.material, material),
            (f"{row.count} {row.unit}" if row.unit != "pcs" else row.count,),
            wrap_text(_size(row), size),
            wrap_text(row.use, use),
        )
        for number, row in enumerate(parts, 1)
        if is_listed(row)
    ]
    head = ("item", "name", "material", "count", "size", "where")
    heading = ("Parts list (numbers as in parts.csv)", *((not_drawn,) if not_drawn else ()))
    return Table(heading, head, tuple(rows))


def is_listed(row: PartRow) -> bool:
    """Return whether a row of the parts list stands on the drawing: not what is outside it, nor what is for tests."""
    return row.use != OUTSIDE and not row.item.startswith(("coolant", "test "))


def _size(row: PartRow) -> str:
    if not row.cut_shown:
        return row.size
    return f"{row.size}, cut to {' to '.join(row.cut_shown)} mm" if row.size else f"{row.cut_shown[0]} mm"


def _draft_list(plan: Plan, parts: Sequence[PartRow], material: str) -> list[Draft]:
    """Return the sheets of the parts list, as few as its widths allow: in one wide column or in narrow ones."""
    listed = {number: row for number, row in enumerate(parts, 1) if is_listed(row)}
    not_drawn = capitalise(tell_not_drawn(listed, [blank.name for blank in plan.detail.blanks]))
    ways = [
        draft_pieces(
            plan.panel.drawing,
            Draft("assembly, parts list", "whole panel", "parts list", material, False, 1.0),
            [table],
        )
        for rooms in (WIDE, BROAD, NARROW)
        for table in (tabulate_parts(parts, rooms, not_drawn),)
        if table.width <= drawing_area(plan.panel.drawing).width or rooms == NARROW
    ]
    return min(ways, key=len)
