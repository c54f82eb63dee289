"""Sections through the joint of a split panel: a screw in its well and its thread, a ring of cord, a pin."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.blocks import ViewBlock, add_linear, view_box
from exports.drawing.draft import Draft
from exports.drawing.marked_sections import label_parts, mark_section
from exports.drawing.needed_views import JOINT_PIN, JOINT_RING, JOINT_SCREW, Cut, frame_of_cut
from exports.drawing.placing import Field, Tag
from exports.drawing.projection import Pads
from exports.drawing.scales import largest_scale
from exports.drawing.sections import detail_of
from exports.drawing.values import Linear, PlacedView, View
from exports.wording.figures import show_mm
from geom.frame import Vec
from geom.outline import Point
from layouts.plan import Plan
from layouts.printing.printed import Split
from layouts.printing.split_features import PIN_DIAMETER, PIN_LENGTH, PIN_PLAY

ROOM = 108.0
"""Width that each may take, [mm] on the paper."""

AROUND = 3.0
"""What is shown round a ring, a pin or a screw with its well, [mm]."""


def draw_joint(plan: Plan, cuts: Sequence[Cut], views: Mapping[str, View]) -> list[ViewBlock]:
    """Return the sections through the joint of a split panel; none of any other.

    Parameters
    ----------
    plan : Plan
    cuts : sequence of Cut
    views : mapping of str to View
    """
    split = None if plan.printed is None else plan.printed.split
    if split is None:
        return []
    return [
        _block(plan, split, cut, views[cut.name])
        for cut in cuts
        if cut.letter in (JOINT_SCREW, JOINT_RING, JOINT_PIN)
    ]


def _block(plan: Plan, split: Split, cut: Cut, whole: View) -> ViewBlock:
    frame, k = frame_of_cut(plan.detail, cut), 0 if split.axis == "x" else 1
    low, high = _reach(split, cut)
    middle: Vec = cut.about
    along = [*middle]
    along[k] = (low + high) / 2
    radius = (high - low) / 2 + AROUND
    centre = frame.to_view((along[0], along[1], along[2]))
    view = detail_of(mark_section(plan, cut, whole), centre, radius, cut.name)
    scale = largest_scale(lambda s: 2 * radius * s <= ROOM, 5.0) or 1.0

    def at(far: float, z: float) -> Point:
        point = [*middle]
        point[k], point[2] = far, z
        u, v = frame.to_view((point[0], point[1], point[2]))
        return u + radius - centre[0], v + radius - centre[1]

    def finish(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
        def name(far: float, z: float, *said: str) -> None:
            spot = on_paper(placed, at(far, z))
            draft.tags.append(Tag(said, spot, 0.0, TEXT, led=True, dot=True, beside=view_box(placed)))

        def measure(start: float, end: float, z: float) -> None:
            # A section that cuts y shows the joint's axis level, one that cuts x upright.
            j = 1 if split.axis == "x" else 0
            lines = [placed.corner[j] - off for off in (5.0, 8.0)]
            a, b = at(start, z), at(end, z)
            add_linear(draft, ink, Linear(number, "u" if j else "v", a, b, lines[0]), lines)

        if cut.letter == JOINT_SCREW:
            _tell_screw(split, measure, name)
        elif cut.letter == JOINT_RING:
            back = split.at - split.ring_depth / 2
            z = cut.about[2] + (split.ring_inner + split.ring_outer) / 4
            rim = f"Ø{show_mm(split.ring_inner)} to Ø{show_mm(split.ring_outer)}"
            name(back, z, f"ring of cord Ø{show_mm(split.cord)}", f"in its groove, {rim}")
            measure(split.at - split.ring_depth, split.at, z)
        else:
            size = f"pin Ø{show_mm(PIN_DIAMETER)} x {show_mm(PIN_LENGTH)}"
            name(split.at + 1.0, cut.about[2], size)
            deep = PIN_LENGTH / 2 + PIN_PLAY
            measure(split.at - deep, split.at + deep, cut.about[2])
        label_parts(draft, placed, {blank.name for blank in plan.detail.blanks})

    return ViewBlock(view, f"{cut.name}, part of it", scale, Pads(14.0, 20.0, 14.0, 6.0), finish)


def _reach(split: Split, cut: Cut) -> tuple[float, float]:
    """Return from where to where along the joint's axis a section is shown, [mm]."""
    if cut.letter == JOINT_SCREW and split.screw is not None:
        well, k = split.wells[0], 0 if split.axis == "x" else 1
        far = split.screw.hole_depth if well.forward else -split.screw.hole_depth
        ends = (well.box[k], well.box[2 + k], split.at + far)
        return min(ends), max(ends)
    half = split.ring_outer / 2 if cut.letter == JOINT_RING else PIN_LENGTH / 2 + PIN_PLAY
    return split.at - half, split.at + half


def _tell_screw(
    split: Split, measure: Callable[[float, float, float], None], name: Callable[..., None]
) -> None:
    """Add the wall between the well and the plane, the depth of the tapped hole, and what is screwed in."""
    joint, well, z = split.screw, split.wells[0], split.screws[0][2]
    if joint is None:
        return
    ahead = 1.0 if well.forward else -1.0
    wall, floor = split.at - ahead * joint.flange, split.at + ahead * joint.hole_depth
    measure(wall, split.at, z)
    measure(split.at, floor, z)
    washer = f", washer Ø{show_mm(joint.washer)}" if joint.washer > 0 else ""
    name(split.at - ahead * joint.flange / 2, z, f"{joint.name} x {show_mm(joint.length)}{washer}")
    thread = f"{joint.name} ↧{show_mm(joint.engagement)}"
    name(split.at + ahead * joint.engagement / 2, z, f"{thread}, hole ↧{show_mm(joint.hole_depth)}")
    k = 0 if split.axis == "x" else 1
    name((well.box[k] + well.box[2 + k]) / 2, (well.z0 + well.z1) / 2, "well")
