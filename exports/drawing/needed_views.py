"""Which views and sections a drawing needs, taken from the solids; neither paper nor projection matters here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from exports.drawing.callouts import DrawnHole, list_holes
from exports.drawing.frames import CuttingPlane, ViewFrame, cut_frame
from exports.drawing.values import View
from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Track, Vault
from geom.frame import EDGES, SAME_MM, Face, Vec
from geom.outline import Arc, Line, Point, round_corners
from layouts.detail import name_channel
from layouts.milling.frame import plane_of
from layouts.milling.setups import outer_face
from layouts.plan import Channel, Layer, Plan

if TYPE_CHECKING:
    from geom.build import Solids

WHOLE = "whole front"
"""Name of the view of a split panel's pieces together."""

JOINT_SCREW, JOINT_RING, JOINT_PIN = "F", "G", "H"
"""Letters of the sections through the joint of a split panel; D and E are details."""

STEP_OFF, CLEAR_OFF = 0.2, 0.1
"""A section that runs along floors of bores is moved off them in such steps, until it is so far from all, [mm]."""

FLAT: tuple[Face, ...] = ("front", "back")


@dataclass(frozen=True, slots=True)
class Cut:
    """A section of the whole panel.

    Parameters
    ----------
    letter : str
    plane : CuttingPlane
    about : (float, float, float)
        The middle of what it is about, [mm].
    channel : str
        Name of the feature of the channel that it is about; empty where it is about none.
    width : float
        Of that, [mm].
    """

    letter: str
    plane: CuttingPlane
    about: Vec
    channel: str = ""
    width: float = 0.0

    @property
    def name(self) -> str:
        """Of its view: "section A-A"."""
        return f"section {self.letter}-{self.letter}"


def part_faces(detail: Detail, blank: Blank, holes: Sequence[DrawnHole]) -> tuple[Face, ...]:
    """Return the faces of a part that are drawn: those in which something opens, its outer one at least.

    Parameters
    ----------
    detail : Detail
    blank : Blank
    holes : sequence of DrawnHole
        Of all parts.
    """
    open_faces = {hole.face for hole in holes if hole.part == blank.name}
    open_faces |= {face for feature in detail.features for face in _opened(blank, feature)}
    if not open_faces & set(FLAT):
        open_faces.add(outer_face(blank))
    return tuple(face for face in (*FLAT, *EDGES) if face in open_faces)


def _opened(blank: Blank, feature: Feature) -> tuple[Face, ...]:
    """Return the flat faces of a part in which a pocket opens."""
    shape = feature.shape
    if isinstance(shape, Cylinder) or not _shares(blank, shape):
        return ()
    out: list[Face] = []
    if shape.z0 < blank.z0 + SAME_MM < shape.z1:
        out.append("back")
    if shape.z1 > blank.z1 - SAME_MM > shape.z0:
        out.append("front")
    return tuple(out)


def _shares(blank: Blank, shape: Prism | Track | Vault) -> bool:
    """Return whether a pocket lies over a part at all: of a split panel each piece has its own."""
    loops = (shape.path,) if isinstance(shape, Track) else shape.region
    low, high = plane_of(blank, "front").low, plane_of(blank, "front").high
    ends = [segment.start for loop in loops for segment in loop]
    return all(
        min(end[k] for end in ends) < high[k] - SAME_MM and max(end[k] for end in ends) > low[k] + SAME_MM
        for k in (0, 1)
    )


def whole_box(detail: Detail) -> tuple[Vec, Vec]:
    """Return the least and the greatest corner of the box of all parts, [mm]."""
    planes = [plane_of(blank, "front") for blank in detail.blanks]
    low = tuple(min(plane.low[k] for plane in planes) for k in range(3))
    high = tuple(max(plane.high[k] for plane in planes) for k in range(3))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def frame_of_cut(detail: Detail, cut: Cut) -> ViewFrame:
    """Return the frame of a section of the whole panel."""
    return cut_frame(cut.plane, *whole_box(detail))


def list_cuts(plan: Plan) -> tuple[Cut, ...]:
    """Return the sections: A through tank and pump, B across a typical channel, C near mid-thickness of one piece.

    Of a split panel F, G and H too: through a screw, a ring of cord and a pin of its joint.

    Parameters
    ----------
    plan : Plan
    """
    panel, pump = plan.panel, plan.routed.pump
    upright = abs(panel.up[1]) >= abs(panel.up[0])
    x, y = pump.inlet
    body = panel.make.body
    first = CuttingPlane("x", x) if upright else CuttingPlane("y", y)
    out = [Cut("A", first, (x, y, body / 2))]
    straight = typical_straight(plan)
    if straight is not None:
        channel, layer, (ax, ay), (bx, by) = straight
        middle = ((ax + bx) / 2, (ay + by) / 2)
        across = CuttingPlane("x", middle[0]) if abs(bx - ax) > abs(by - ay) else CuttingPlane("y", middle[1])
        name = name_channel(channel.name, layer)
        low, high = channel_z(plan.detail, name)
        out.append(Cut("B", across, (*middle, (low + high) / 2), name, channel.width))
    if panel.make.closing == "one-piece":
        z = find_free_z(plan.detail, body / 2)
        out.append(Cut("C", CuttingPlane("z", z), (panel.width / 2, panel.height / 2, z)))
    return (*out, *_joint_cuts(plan))


def _joint_cuts(plan: Plan) -> list[Cut]:
    split = None if plan.printed is None else plan.printed.split
    if split is None:
        return []
    screws, rings = split.screws, tuple(one.at for one in split.crossings)
    out = []
    for letter, places in ((JOINT_SCREW, screws), (JOINT_RING, rings), (JOINT_PIN, split.pins)):
        if places:
            at = places[0]
            across = CuttingPlane("y", at[1]) if split.axis == "x" else CuttingPlane("x", at[0])
            out.append(Cut(letter, across, at))
    return out


def find_free_z(detail: Detail, wanted: float) -> float:
    """Return the z nearest to one wanted at which no face lies in the plane, [mm]; of two alike the one further up.

    Parameters
    ----------
    detail : Detail
    wanted : float
    """
    floors = [z for feature in detail.features for z in _floors(feature)]
    offs = (k * STEP_OFF for k in range(1, 100))
    return next(
        (
            z
            for off in offs
            for z in (wanted + off, wanted - off)
            if all(abs(z - f) > CLEAR_OFF for f in floors)
        ),
        wanted,
    )


def _floors(feature: Feature) -> tuple[float, ...]:
    """Return at which z a feature has faces square to z, or walls that touch such a plane, [mm]."""
    shape = feature.shape
    if not isinstance(shape, Cylinder):
        return shape.z0, shape.z1
    z = shape.mouth[2]
    along = shape.direction[2] * shape.length
    return (z, z + along) if along else (z - shape.radius, z + shape.radius)


def typical_straight(plan: Plan) -> tuple[Channel, Layer, Point, Point] | None:
    """Return the longest straight of the channels along x or y, with its channel and layer; None without any.

    Of channels as wide as the file asks for, where there are any.

    Parameters
    ----------
    plan : Plan
    """
    usual = plan.panel.channel.width
    best: tuple[tuple[bool, float], tuple[Channel, Layer, Point, Point]] | None = None
    for channel in plan.routed.channels:
        for run in channel.runs:
            for line in centreline(channel, run.points):
                (ax, ay), (bx, by) = line.start, line.end
                if not isinstance(line, Line) or min(abs(bx - ax), abs(by - ay)) > SAME_MM:
                    continue
                rank = (abs(channel.width - usual) < SAME_MM, round(line.length, 3))
                if best is None or rank > best[0]:
                    best = rank, (channel, run.layer, line.start, line.end)
    return None if best is None else best[1]


def channel_z(detail: Detail, name: str) -> tuple[float, float]:
    """Return the z between which a channel is cut, its roof included, [mm].

    Parameters
    ----------
    detail : Detail
    name : str
        Of its feature.
    """
    shape = next(feature.shape for feature in detail.features if feature.name == name)
    if isinstance(shape, Cylinder):
        raise GeometryError(f"{name} is a bore, not a channel")
    return shape.z0, shape.z1


def centreline(channel: Channel, points: tuple[Point, ...]) -> tuple[Line | Arc, ...]:
    """Return a run's centreline, [mm]."""
    return round_corners(points, channel.bend_radius) if len(points) > 1 else ()


def take_views(plan: Plan, solids: Solids) -> dict[str, View]:
    """Return all views and sections by name: "body front", "section A-A".

    Parameters
    ----------
    plan : Plan
    solids : Solids
    """
    from exports.drawing.sections import cut_parts
    from exports.drawing.views import view_part, view_parts

    views, holes = {}, list_holes(plan)
    by_name = {part.name: part for part in solids.parts}
    for blank in plan.detail.blanks:
        for face in part_faces(plan.detail, blank, holes):
            name = f"{blank.name} {face}"
            views[name] = view_part(by_name[blank.name].solid, name, face)
    if len(by_name.keys() & {blank.name for blank in plan.detail.blanks}) > 1 and "cover" not in by_name:
        views[WHOLE] = view_parts(solids.parts, WHOLE, "front")
    for cut in list_cuts(plan):
        views[cut.name] = cut_parts(solids.parts, cut.plane, cut.name, beyond=cut.plane.axis != "z")
    return views
