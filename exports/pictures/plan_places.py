"""Where numbers, flow arrows and finding badges stand in the plan picture: clear of ports, pump and each other.

*Disc*: a centre and a radius in picture units that nothing else should cover. *Mark*: a finding with its letter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.pictures.plan_layers import Disc, list_discs, list_holes
from exports.pictures.plan_symbols import EDGE_ARROW, TAG_RADIUS
from exports.pictures.svg import View
from exports.wording.channel_ways import cut_leg
from geom.along import Way
from geom.findings import Finding
from geom.frame import EDGES, INTO
from geom.outline import Arc, Point, Segment, path_length, round_corners
from geom.standards import tables
from layouts.plan import Channel, Layer, Plan
from layouts.strength.screw_hole import clearance_hole

MOST_FINDINGS = 12
BADGE_RADIUS = 10.0
SCREW_MM = 2.5
"""Radius of the disc round a screw that a badge keeps off, [mm]."""
ARROW_EVERY = 70.0
"""Picture units from one flow arrow to the next."""
STEP = 2.0
"""Picture units between the places that are tried along a centreline."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A finding with its letter; where its badge stands, and the place that it is about, in picture units."""

    letter: str
    finding: Finding
    at: Point | None
    about: Point | None


@dataclass(frozen=True, slots=True)
class FlowArrow:
    """A flow arrow: its place and size in picture units, its direction in the panel frame."""

    channel: str
    at: Point
    along: Point
    size: float


def list_symbols(plan: Plan, view: View) -> tuple[Disc, ...]:
    """Return the discs of all bores, of through holes, of screws in front, and of the arrows at ports in an edge."""
    pump, routed = plan.panel.pump, plan.routed
    discs = [
        (view.to(routed.pump.inlet), pump.inlet_bore / 2 * view.scale),
        (view.to(routed.pump.outlet), pump.outlet_bore / 2 * view.scale),
    ]
    for port in routed.ports:
        if port.on in EDGES:
            discs.append((view.to((port.at[0], port.at[1])), EDGE_ARROW))
        else:
            discs.append((view.to(port.foot), tables.thread(port.thread).tap_drill / 2 * view.scale))
    discs += [(view.to(at), radius * view.scale) for at, radius in list_holes(plan)]
    if plan.sealed.front_screws:
        # In front, screws stand over channels of the back face too.
        radius = clearance_hole(plan.panel) / 2 * view.scale
        discs += [(view.to(at), radius) for at in plan.sealed.front_screws]
    return tuple(discs)


def list_screws(plan: Plan, view: View) -> tuple[Disc, ...]:
    """Return the discs of all cover screws and pump screws."""
    sealed = plan.sealed
    screws = (*sealed.screws, *sealed.front_screws, *plan.routed.pump.screws)
    return tuple((view.to(at), SCREW_MM * view.scale) for at in screws)


def place_tags(plan: Plan, view: View) -> dict[str, Point]:
    """Return where each channel's number stands: clear of symbols, best in the middle of its longest piece."""
    symbols, under = list_symbols(plan, view), list_discs(plan, view, "back")
    over = list_discs(plan, view, "front")
    tags: dict[str, Point] = {}
    for channel in plan.routed.channels:
        blocked = (*symbols, *((tag, TAG_RADIUS) for tag in tags.values()))
        # A number at a crossing could be taken for the other channel's.
        tags[channel.name] = _tag_place(
            plan, channel, view, {"back": (*blocked, *over), "front": (*blocked, *under)}
        )
    return tags


def place_arrows(plan: Plan, view: View, tags: dict[str, Point]) -> tuple[FlowArrow, ...]:
    """Return the flow arrows: at even distances where there is room, and at least one a flowing channel."""
    flows = {leg.leg: leg.flow_m3_s for flow in plan.flowing.channels for leg in flow.legs}
    symbols, covers = list_symbols(plan, view), list_discs(plan, view, "front")
    blocked = (*symbols, *((tag, TAG_RADIUS) for tag in tags.values()))
    wider = (*symbols, *((tag, 2 * TAG_RADIUS) for tag in tags.values()))
    arrows: list[FlowArrow] = []
    for channel in plan.routed.channels:
        size = min(7.0, 0.3 * channel.width * view.scale)
        spare: list[tuple[float, FlowArrow]] = []
        before = len(arrows)
        for leg in channel.legs:
            flow = flows.get(leg.name, 0.0)
            if flow == 0.0 or len(leg.points) < 2:
                continue
            for piece in cut_leg(leg):
                over = covers if piece.layer == "back" else ()
                segments = round_corners(piece.points, channel.bend_radius)
                length = path_length(segments)

                def arrow(
                    distance: float,
                    segments: tuple[Segment, ...] = segments,
                    sense: float = math.copysign(1.0, flow),
                    channel: Channel = channel,
                    size: float = size,
                ) -> FlowArrow:
                    at, (ux, uy) = point_along(segments, distance)
                    return FlowArrow(channel.name, view.to(at), (sense * ux, sense * uy), size)

                count = max(1, round(length * view.scale / ARROW_EVERY))
                even = [arrow(length * (k + 0.5) / count) for k in range(count)]
                even = [one for one in even if _room(one.at, (*wider, *over)) > size + 2.0]
                arrows += even
                if even:
                    continue
                steps = int(length * view.scale / STEP)
                tries = [(k * STEP / view.scale, arrow(k * STEP / view.scale)) for k in range(1, steps)]
                if not tries:
                    tries = [(length / 2, arrow(length / 2))]
                free = (*blocked, *over)
                rooms = [(min(_room(one.at, free), min(d, length - d) * view.scale), one) for d, one in tries]
                best = max(rooms, key=lambda offer: round(offer[0], 3))
                if best[0] > 0.5 * size + 2.0:
                    arrows.append(best[1])
                else:
                    spare.append(best)
        if len(arrows) == before and spare:
            arrows.append(max(spare, key=lambda offer: round(offer[0], 3))[1])
    return tuple(arrows)


def place_marks(findings: tuple[Finding, ...], view: View, blocked: tuple[Disc, ...]) -> tuple[Mark, ...]:
    """Return the findings to be told, faults first, each badge at the free place nearest to what it is about."""
    told = [f for severity in ("fault", "caution") for f in findings if f.severity == severity]
    marks: list[Mark] = []
    taken = list(blocked)
    for k, finding in enumerate(told[:MOST_FINDINGS]):
        about = view.to((finding.at_mm[0], finding.at_mm[1])) if finding.at_mm else None
        at = None if about is None else free_place(about, BADGE_RADIUS, tuple(taken))
        if at is not None:
            taken.append((at, BADGE_RADIUS))
        marks.append(Mark(chr(ord("A") + k), finding, at, about))
    return tuple(marks)


def point_along(segments: tuple[Segment, ...], distance: float) -> tuple[Point, Point]:
    """Return the point at a distance along a centreline and the direction there."""
    way = Way(segments, closed=False)
    return way.point(distance), way.heading(distance)


def _tag_place(plan: Plan, channel: Channel, view: View, taken: dict[Layer, tuple[Disc, ...]]) -> Point:
    offers: list[tuple[float, bool, float, float, int, Point]] = []
    for run in channel.runs:
        blocked = taken[run.layer]
        for s in round_corners(run.points, channel.bend_radius):
            steps = max(2, 2 * int(s.length * view.scale / STEP / 2))
            for k in range(1, steps):
                at, _ = point_along((s,), s.length * k / steps)
                lack = max(0.0, TAG_RADIUS + 2.0 - _room(view.to(at), blocked))
                lack += _line_lack(plan, view, at)
                off = abs(k / steps - 0.5)
                offers.append(
                    (round(lack, 3), isinstance(s, Arc), -round(s.length, 6), off, len(offers), view.to(at))
                )
    return min(offers)[-1]


def _line_lack(plan: Plan, view: View, at: Point) -> float:
    """Return how far a number at `at` would reach into the seat's line or the bores of edge ports."""
    reach = (TAG_RADIUS + 2.0) / view.scale
    lack = 0.0
    seat = plan.panel.pump.seat_diameter / 2
    if seat > 0.0:
        lack += max(0.0, reach - abs(math.dist(at, plan.routed.pump.inlet) - seat))
    for port in plan.routed.ports:
        if port.on not in EDGES:
            continue
        dx, dy, _ = INTO[port.on]
        half = tables.thread(port.thread).tap_drill / 2
        inward = (at[0] - port.at[0]) * dx + (at[1] - port.at[1]) * dy
        beside = abs((at[0] - port.at[0]) * dy - (at[1] - port.at[1]) * dx)
        if inward > 0.0 and beside < half + reach:
            lack += max(0.0, port.depth + reach - inward)
    return lack * view.scale


def _room(at: Point, discs: tuple[Disc, ...]) -> float:
    """Return the distance to the nearest disc's rim; negative inside it."""
    return min((math.dist(at, centre) - radius for centre, radius in discs), default=math.inf)


def free_place(about: Point, radius: float, blocked: tuple[Disc, ...]) -> Point:
    """Return the nearest place whose disc meets no other; where there is none, the one with the most room."""
    offers = [about]
    for off in (12.0, 16.0, 20.0, 25.0, 31.0, 38.0, 46.0, 56.0):
        turns = (math.pi / 4 + k * math.pi / 6 for k in range(12))
        offers += [(about[0] + off * math.cos(a), about[1] - off * math.sin(a)) for a in turns]
    for offer in offers:
        if _room(offer, blocked) >= radius:
            return offer
    return max(offers, key=lambda offer: round(_room(offer, blocked), 3))
