"""Which faces of a part stand together on a sheet, at which scale, and the room that their annotations take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from exports.drawing.callouts import COVER_SCREWS, DrawnHole
from exports.drawing.draft import drawing_area, side_area, view_area
from exports.drawing.face_captions import LEAST_WIDTH, SIDES_ROOM, wrap_face
from exports.drawing.face_tags import list_wells
from exports.drawing.needed_views import FLAT, Cut, part_faces
from exports.drawing.ordinates import ordinate_room
from exports.drawing.paper import Box
from exports.drawing.projection import TURNS, Pads, Side, arrange_views, side_of, turn_point
from exports.drawing.scales import SCALES, largest_scale
from exports.drawing.sheet_tables import STEP
from exports.lettering import text_width
from geom.features import Blank
from geom.frame import EDGES, Face
from geom.outline import Point, loop_polygon
from layouts.drawing_choice import DrawingChoice
from layouts.milling.frame import plane_of
from layouts.plan import Plan

Size = tuple[float, float]
Group = tuple[Face, ...]

CAPTION = 3.5
TAG_ROOM, CAPTION_ROOM = 9.0, 5.5
BESIDE_ROOM, MARK_ROOM, LEAST_ROOM = 19.0, 8.0, 3.0
"""Room for tags and captions at the sides of views, [mm]; of one that stands alone: beside it, above it where cutting
planes are marked, and above it where none are."""

ARROW_LETTERS: dict[Face, str] = {"top": "W", "bottom": "X", "left": "Y", "right": "Z"}
"""Of the arrows that say from where an edge on another sheet is seen."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part to be drawn.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    holes : tuple of DrawnHole
        Its own.
    marked : Face or None
        The face on which cutting planes are marked.
    cuts : tuple of Cut
        Those: their places are measured.
    """

    plan: Plan
    blank: Blank
    holes: tuple[DrawnHole, ...]
    marked: Face | None
    cuts: tuple[Cut, ...] = ()

    @property
    def choice(self) -> DrawingChoice:
        """What the file says of the drawing."""
        return self.plan.panel.drawing

    def holes_in(self, face: Face) -> list[DrawnHole]:
        """Return the holes that are made from a face."""
        return [hole for hole in self.holes if hole.face == face]


@dataclass(frozen=True, slots=True)
class Layout:
    """The faces on one sheet.

    Parameters
    ----------
    faces : tuple of Face
        The main one first; edges alone are stacked.
    scale : float
        Paper over true length, [-].
    """

    faces: Group
    scale: float

    @property
    def stacked(self) -> bool:
        """Whether it holds edges alone, below each other."""
        return self.faces[0] in EDGES

    def turns_of(self, face: Face) -> int:
        """Return by how many right angles the view of a face is turned on this sheet."""
        return 0 if self.stacked else TURNS[face]


def lay_out_faces(part: Part) -> tuple[Layout, ...]:
    """Return the faces of a part sheet by sheet: front and back as large as can be, and then on as few sheets.

    All sheets have the largest scale at which all fit; those that have room for a larger one get it, up to true size.

    Parameters
    ----------
    part : Part
    """
    faces = part_faces(part.plan.detail, part.blank, part.holes)
    flat = [face for face in faces if face in FLAT]
    edges = [face for face in faces if face in EDGES]
    main, rests = flat[0], tuple((face,) for face in flat[1:])
    found: list[tuple[Layout, ...]] = []

    def fits(scale: float) -> bool:
        ways: tuple[tuple[Group, ...], ...] = (
            ((main, *edges, *flat[1:]),),
            ((main, *edges), *rests),
            ((main,), *rests, *_stack_edges(part, edges, scale)),
        )
        found.extend(
            tuple(Layout(group, _own_scale(part, group, scale)) for group in way)
            for way in ways
            if all(find_room(part, Layout(group, scale)) is not None for group in way)
        )
        return bool(found)

    if largest_scale(fits) is None:
        # Below the smallest scale all is drawn over the frame: no panel within the file's limits comes there.
        return tuple(Layout((face,), SCALES[-1]) for face in (*flat, *edges))
    return min(found, key=lambda way: (-_sum_scales(way), len(way)))


def _sum_scales(way: tuple[Layout, ...]) -> float:
    """Return the sum of the scales at which front and back are drawn."""
    return sum(layout.scale for layout in way for face in layout.faces if face in FLAT)


def _own_scale(part: Part, group: Group, scale: float) -> float:
    own = largest_scale(lambda s: find_room(part, Layout(group, s)) is not None, max(scale, 1.0))
    return scale if own is None else own


def _stack_edges(part: Part, edges: Sequence[Face], scale: float) -> tuple[Group, ...]:
    """Return the edges sheet by sheet, as many below each other as each holds."""
    groups: list[Group] = []
    for edge in edges:
        more = (*groups[-1], edge) if groups else (edge,)
        if groups and find_room(part, Layout(more, scale)) is not None:
            groups[-1] = more
        else:
            groups.append((edge,))
    return tuple(groups)


def find_room(part: Part, layout: Layout) -> Box | None:
    """Return the room on the paper that the views of a sheet take with their annotations; None where there is none.

    Parameters
    ----------
    part : Part
    layout : Layout
    """
    width, height = measure_group(part, layout)
    # Captions of edges run under the centring mark.
    above = drawing_area(part.choice) if layout.stacked else view_area(part.choice)
    for area in (above, side_area(part.choice)):
        if width <= area.width and height <= area.height:
            return Box(area.x0, area.y1 - height, area.x0 + width, area.y1)
    return None


def take_room(part: Part, layout: Layout) -> Box:
    """Return the room that a sheet's views take, over the frame where there is none, [mm].

    Parameters
    ----------
    part : Part
    layout : Layout
    """
    room = find_room(part, layout)
    if room is not None:
        return room
    area, (width, height) = view_area(part.choice), measure_group(part, layout)
    return Box(area.x0, area.y1 - height, area.x0 + width, area.y1)


def measure_group(part: Part, layout: Layout) -> Size:
    """Return the size of a sheet's views with their annotations, [mm] on the paper."""
    sizes, pads = measure_views(part, layout)
    if layout.stacked:
        wide = (
            pads[f].left + max(sizes[f][0], text_width(name_edge(f), CAPTION, bold=True)) + pads[f].right
            for f in layout.faces
        )
        return max(wide), sum(pads[f].below + sizes[f][1] + pads[f].above for f in layout.faces)
    return arrange_views(sizes, pads, part.choice.projection)[1]


def measure_views(part: Part, layout: Layout) -> tuple[dict[Face, Size], dict[Face, Pads]]:
    """Return the size of each view as it stands, and the room of its annotations, [mm] on the paper.

    Parameters
    ----------
    part : Part
    layout : Layout
    """
    sizes: dict[Face, Size] = {}
    pads: dict[Face, Pads] = {}
    for face in layout.faces:
        w, h = plane_of(part.blank, face).size
        if layout.turns_of(face) % 2:
            w, h = h, w
        sizes[face] = (w * layout.scale, h * layout.scale)
        points = _measured_points(part, face)
        across, upward = ordinate_room(p[0] for p in points), ordinate_room(p[1] for p in points)
        if layout.turns_of(face) % 2:
            across, upward = upward, across
        if layout.stacked:
            pads[face] = Pads(upward, max(TAG_ROOM, SIDES_ROOM), across, CAPTION_ROOM + 5.0)
        elif len(layout.faces) == 1:
            # Its caption stands beside it.
            above = MARK_ROOM if face == part.marked else LEAST_ROOM
            pads[face] = Pads(upward, BESIDE_ROOM, across, above)
        elif face in FLAT:
            said = STEP * len(wrap_face(part.plan, part.blank, face, max(LEAST_WIDTH, sizes[face][0])))
            pads[face] = Pads(upward, TAG_ROOM, across, TAG_ROOM + CAPTION_ROOM + said)
        else:
            side = side_of(face, part.choice.projection)
            pads[face] = _edge_pads(face, side, across, upward)
    return sizes, pads


def _edge_pads(face: Face, side: Side, across: float, upward: float) -> Pads:
    named = text_width(f"{face} edge", CAPTION, bold=True) + 5.0
    if side in ("left", "right"):
        outer = max(upward, named)
        near, far = (5.0, outer) if side == "right" else (outer, 5.0)
        return Pads(near, far, across, SIDES_ROOM + CAPTION_ROOM)
    below, above = (across, 4.0) if side == "below" else (4.0, across)
    return Pads(upward, SIDES_ROOM + named, below, above)


def name_edge(face: Face) -> str:
    """Return the caption of an edge that stands on a sheet of its own."""
    return f"{face} edge, seen as arrow {ARROW_LETTERS[face]} points; front up"


def place_in_view(part: Part, layout: Layout, face: Face, point: Point) -> Point:
    """Return where a point of a face's plane stands in its view on a sheet, [mm]."""
    return turn_point(point, plane_of(part.blank, face).size, layout.turns_of(face))


def list_points(part: Part, layout: Layout, face: Face) -> list[Point]:
    """Return what is measured by ordinates in a view, [mm] in its plane as it stands.

    Parameters
    ----------
    part : Part
    layout : Layout
    face : Face
    """
    return [place_in_view(part, layout, face, point) for point in _measured_points(part, face)]


def _measured_points(part: Part, face: Face) -> list[Point]:
    """Return what is measured in a face's plane, [mm]: outline, holes but for many alike, tank, wells."""
    w, h = plane_of(part.blank, face).size
    points = [(0.0, 0.0), (w, 0.0), (0.0, h), (w, h)]
    points += [hole.at for hole in part.holes_in(face) if hole.sort not in COVER_SCREWS]
    points += _tank_corners(part, face)
    if face in FLAT:
        for _, loop in list_wells(part.plan, part.blank, face):
            x0, y0, x1, y1 = loop_polygon(loop).bounds
            points += [(x0, y0), (x1, y1)]
    return [*points, *(_mark_at(part, face, cut) for cut in part.cuts if face == part.marked)]


def _mark_at(part: Part, face: Face, cut: Cut) -> Point:
    """Return the end of a cutting plane's line that is nearest to the datum, in a face's plane, [mm]."""
    u, v, _ = plane_of(part.blank, face).to_plane(cut.about)
    return {"x": (u, 0.0), "y": (0.0, v), "z": (0.0, 0.0)}[cut.plane.axis]


def _tank_corners(part: Part, face: Face) -> list[Point]:
    """Return the corners of the tank's box where it opens in a face, in that face's plane, [mm]."""
    box, plane = part.plan.routed.tank.box, plane_of(part.blank, face)
    if box is None or (part.blank.name, face) != ("body", "back"):
        return []
    x0, y0, x1, y1 = box
    return [plane.to_plane((x, y, 0.0))[:2] for x in (x0, x1) for y in (y0, y1)]
