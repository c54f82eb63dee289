"""What is named on the view of a face: numbers of holes, channels, tank, grooves, corners."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.callouts import DrawnHole
from exports.drawing.needed_views import centreline
from exports.drawing.placing import Tag
from exports.drawing.values import PlacedView
from exports.wording.figures import show_mm
from geom.features import Blank, Feature, Prism
from geom.frame import Face
from geom.outline import Arc, Line, Loop, Point, loop_polygon
from geom.standards import tables
from layouts.clearance import tank_z
from layouts.faces import joint_z
from layouts.milling.frame import plane_of
from layouts.plan import Channel, Layer, Plan, Run

ALONG = (0.5, 0.3, 0.7, 0.15, 0.85)
"""Where on a straight of a channel its name is tried, [-]."""


SHARES = (0.5, 0.25, 0.75, 0.12, 0.88)
"""Where over the tank's width and height what is said of it is tried, [-]."""

POST_CLEAR = 1.5
"""How far off a post the end of a leader into the tank stays, [mm]."""

RIMS = ("seat", "ring groove")
"""Sorts of round cuts so wide that a number beside them is taken for that of a hole near it: they have a leader."""


def hole_tags(holes: Sequence[DrawnHole], at: Sequence[Point], placed: PlacedView) -> list[Tag]:
    """Return the numbers of holes at their places, [mm] in the view's plane.

    Parameters
    ----------
    holes : sequence of DrawnHole
    at : sequence of (float, float)
        As the view stands.
    placed : PlacedView
    """
    return [
        Tag((hole.number,), on_paper(placed, point), hole.radius * placed.scale, TEXT, hole.sort in RIMS)
        for hole, point in zip(holes, at, strict=True)
    ]


def number_channels(plan: Plan) -> dict[str, str]:
    """Return the number of each channel by its name: "C1" ..."""
    return {channel.name: f"C{k}" for k, channel in enumerate(plan.routed.channels, 1)}


def layer_of(plan: Plan, blank: Blank, face: Face) -> Layer | None:
    """Return the joint that a part's face is, where channels are cut into it; None for any other face."""
    if plan.panel.make.closing == "one-piece" or blank.name != "body":
        return None
    if face == "back":
        return "back"
    return "front" if face == "front" and plan.panel.channel.layers == 2 else None


def separate_runs(channel: Channel, layer: Layer | None) -> list[list[Run]]:
    """Return the runs of a channel in a layer (None: in all), those that meet together.

    Parameters
    ----------
    channel : Channel
    layer : {"back", "front"} or None
    """
    groups: list[list[Run]] = []
    for run in channel.runs:
        if layer is not None and run.layer != layer:
            continue
        line = shapely.LineString(run.points)
        met = [
            group
            for group in groups
            if any(line.dwithin(shapely.LineString(other.points), channel.width) for other in group)
        ]
        groups = [group for group in groups if group not in met]
        groups.append([*(other for group in met for other in group), run])
    return groups


def channel_straights(channel: Channel, runs: Sequence[Run]) -> list[Line]:
    """Return the straights of runs' centrelines, the longest first, [mm].

    Parameters
    ----------
    channel : Channel
    runs : sequence of Run
        Of the channel.
    """
    lines = [
        segment for run in runs for segment in centreline(channel, run.points) if isinstance(segment, Line)
    ]
    return sorted(lines, key=lambda line: -round(line.length, 3))


def channel_tags(plan: Plan, blank: Blank, face: Face, placed: PlacedView) -> list[Tag]:
    """Return the numbers of the channels that are cut into a face, inside them where there is room.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    placed : PlacedView
    """
    layer, plane = layer_of(plan, blank, face), plane_of(blank, face)
    if layer is None:
        return []

    def paper(x: float, y: float) -> Point:
        return on_paper(placed, plane.to_plane((x, y, 0.0))[:2])

    out = []
    for name, number in number_channels(plan).items():
        channel = plan.routed.channel(name)
        for runs in separate_runs(channel, layer):
            straights = channel_straights(channel, runs)
            points = [paper(*_between(line, share)) for line in straights for share in ALONG]
            if points:
                out.append(tag_channel(number, points, len(ALONG), straights))
    return out


def tag_channel(number: str, points: Sequence[Point], each: int, straights: Sequence[Line]) -> Tag:
    """Return the number of a channel, to stand in it: along it where it runs up the sheet.

    Parameters
    ----------
    number : str
    points : sequence of (float, float)
        Where it may stand, on the paper, [mm].
    each : int
        How many of them lie on each straight.
    straights : sequence of Line
    """
    upright = tuple(
        point
        for k, point in enumerate(points)
        for line in (straights[k // each],)
        if abs(line.end[1] - line.start[1]) > abs(line.end[0] - line.start[0])
    )
    more = tuple(points[1:])
    return Tag((number,), points[0], 0.0, TEXT, dot=True, inside=True, more=more, upright=upright)


def _between(line: Line, share: float) -> Point:
    (ax, ay), (bx, by) = line.start, line.end
    return ax + (bx - ax) * share, ay + (by - ay) * share


def pocket_tags(plan: Plan, blank: Blank, face: Face, placed: PlacedView) -> list[Tag]:
    """Return what is said of tank, posts and grooves in a face.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    placed : PlacedView
    """
    layer, plane, tank = layer_of(plan, blank, face), plane_of(blank, face), plan.routed.tank
    if layer is None:
        return []

    def paper(point: Point) -> Point:
        return on_paper(placed, plane.to_plane((*point, joint_z(plan.panel, layer)))[:2])

    out = []
    if tank.box is not None and layer == "back":
        low, high = tank_z(plan.panel)
        x0, y0, x1, y1 = tank.box
        said = [f"tank ↧{show_mm(high - low)}", f"corners R{show_mm(tank.corner_radius)}"]
        if tank.posts:
            said.append(f"{len(tank.posts)} posts Ø{show_mm(tank.post_diameter)}, left")
            said.append("standing round their screws")
        clear = tank.post_diameter / 2 + POST_CLEAR
        spots = [
            (x0 + (x1 - x0) * across, y0 + (y1 - y0) * up)
            for up in SHARES
            for across in SHARES
            if all(
                math.dist((x0 + (x1 - x0) * across, y0 + (y1 - y0) * up), post) > clear for post in tank.posts
            )
        ]
        at, *more = (paper(spot) for spot in spots)
        out.append(Tag(tuple(said), at, 0.0, TEXT, led=True, dot=True, more=tuple(more)))
    loops = plan.sealed.loops_of(layer)
    if loops:
        cord = tables.cord(plan.panel.make.cord)
        said = [
            f"grooves {show_mm(cord.groove_width)} wide ↧{show_mm(cord.groove_depth)},",
            "see detail D",
        ]
        lines = sorted(
            (s for loop in loops for s in loop.path if isinstance(s, Line)), key=lambda s: -round(s.length, 3)
        )
        points = [paper(_between(line, share)) for line in lines for share in (0.3, 0.7)]
        if points:
            out.append(Tag(tuple(said), points[0], 0.0, TEXT, led=True, more=tuple(points[1:])))
    return out


def corner_tag(plan: Plan, placed: PlacedView) -> list[Tag]:
    """Return the radius of the outline's corners and how many have it, at one on the right, where they are rounded."""
    radius = plan.panel.corner_radius
    w, h = placed.view.size
    near, far = radius, radius * (1 - math.sqrt(0.5))
    rounded = [
        line.segment
        for line in placed.view.lines
        if isinstance(line.segment, Arc)
        and abs(line.segment.radius - radius) < 1e-4
        and min(line.segment.centre[0], w - line.segment.centre[0]) < near + 1e-3
        and min(line.segment.centre[1], h - line.segment.centre[1]) < near + 1e-3
    ]
    if radius <= 0 or not rounded:
        return []
    right = any(arc.centre[0] > w / 2 for arc in rounded)
    corner = (w - far if right else far, h - far)
    text = (f"{len(rounded)}x R{show_mm(radius)}",)
    return [Tag(text, on_paper(placed, corner), 0.0, TEXT, led=True)]


def well_tags(plan: Plan, blank: Blank, face: Face, placed: PlacedView) -> list[Tag]:
    """Return depths and corners of the wells of a split's screws, in the face that they open in.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    placed : PlacedView
    """
    out = []
    for feature, loop in list_wells(plan, blank, face):
        middle = loop_polygon(loop).centroid
        shape = feature.shape
        deep = shape.z1 - shape.z0 if isinstance(shape, Prism) else 0.0
        radius = min((s.radius for s in loop if isinstance(s, Arc)), default=0.0)
        text = (f"well ↧{show_mm(deep)}", f"corners R{show_mm(radius)}")
        out.append(Tag(text, on_paper(placed, (middle.x, middle.y)), 0.0, TEXT, led=True, dot=True))
    return out


def list_wells(plan: Plan, blank: Blank, face: Face) -> list[tuple[Feature, Loop]]:
    """Return the wells of a split's screws that open in a face, with their outlines in that face's plane, [mm]."""
    plane = plane_of(blank, face)
    low, high = plane.low, plane.high
    out = []
    for feature in plan.detail.features:
        if feature.kind != "screw well" or face not in feature.opens or not isinstance(feature.shape, Prism):
            continue
        loop = feature.shape.region[0]
        x, y = loop_polygon(loop).centroid.coords[0]
        if low[0] < x < high[0] and low[1] < y < high[1]:
            out.append((feature, plane.loop_to_plane(loop)))
    return out
