"""Every distance that placing, routing, sealing and detailing must agree on, worked out once from the panel."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.errors import OutOfRange, PanelFileError
from geom.frame import EDGES, SAME_MM, Face
from geom.outline import Point
from geom.standards import tables
from geom.standards.tables import Thread
from layouts.faces import bore_z, comes_near, groove_depth, passes_joint
from layouts.panel import Closing, Panel
from layouts.plan import Layer
from layouts.strength.screw_hole import (
    BESIDE_GROOVE,
    OVER_EDGE,
    clearance_hole,
    footprint_diameter,
    insert_room,
)

BONDED_LAND = 4.0
"""Least bonded land between wet regions and to the outside, [mm]; common practice, no source."""

PAST_FOOT = 0.75
"""How far an edge bore runs past the channel's end centre, in channel widths.

1.25 widths of bore then lie over the channel, so that the opening between them is no smaller than the
channel's own section; a bore that stopped at one half would end tangent to the round end.
"""

INTO_TANK = 0.75
"""How far a channel's end centre lies inside the tank, in widths: its round end is then wholly inside."""

BACK_FROM_TEE = 0.25
"""How far a branch stops short of the other centreline, in widths.

Its round end then lies inside the other channel; at 0 it would touch the far wall along one line, and the
kernel's booleans are at their weakest there.
"""

BACK_FROM_INLET = (BACK_FROM_TEE, 0.1875, 0.125)
"""How far the drain may stop short of the pump's inlet, in widths, the first that fits; none further than a branch."""

OFF_TIP = 0.03
"""How far, in the drain's widths, what is round about the pump's inlet keeps from the tip of its round end."""

WIDTH_STEP = 0.1
"""Widths that are worked out are whole multiples of it, [mm]."""


@dataclass(frozen=True, slots=True)
class Clearances:
    """Distances between outlines in plan, [mm].

    Parameters
    ----------
    land : float
        Between a wet outline and its own groove; 0 without a cord.
    groove_width, groove_depth : float
        0 without a cord.
    channel_gap : float
        Between the outlines of two wet regions, so of most channels: two lands, two grooves and the rib between
        them for a cord, or one groove where they may share it; the bonded land; or the least wall.
    own_gap : float
        Between parts of one wet region, which a groove of its own passes on both sides: as `channel_gap`, but never
        with a shared groove.
    edge_gap : float
        From a wet outline to the panel's edge, with room for a row of cover screws where there are any.
    solid_gap : float
        Least solid between a wet outline and a bore, hole or keep-clear region (and its groove, if any, is
        kept clear of them too where they reach the joint face).
    seal_reach : float
        From a wet outline to the outer edge of its groove or bonded land.
    """

    land: float
    groove_width: float
    groove_depth: float
    channel_gap: float
    own_gap: float
    edge_gap: float
    solid_gap: float
    seal_reach: float


def clearances_of(panel: Panel) -> Clearances:
    """Return the distances that follow from how the panel is closed.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    Clearances

    Source
    ------
    Groove width and depth: the cord table; the sums are geometry.
    """
    wall = panel.rules.least_wall
    if panel.make.closing == "cord":
        cord = tables.cord(panel.make.cord)
        reach = wall + cord.groove_width
        # A row of screws along the edge; an insert's hole wants more wall than a screw's clearance hole, a large washer
        # more room than its hole.
        hole = clearance_hole(panel)
        head_row = max(BESIDE_GROOVE, wall / 2) + (hole + footprint_diameter(panel)) / 2 - OVER_EDGE - wall
        screw_row = max(hole + wall, 2 * insert_room(panel) - wall, head_row)
        return Clearances(
            land=wall,
            groove_width=cord.groove_width,
            groove_depth=cord.groove_depth,
            channel_gap=2 * wall + cord.groove_width if panel.make.share_groove else 2 * reach + wall,
            own_gap=2 * reach + wall,
            edge_gap=reach + wall + screw_row,
            solid_gap=wall,
            seal_reach=reach,
        )
    if panel.make.closing == "bonded":
        land = max(BONDED_LAND, wall)
        return Clearances(0.0, 0.0, 0.0, land, land, land, wall, land)
    return Clearances(0.0, 0.0, 0.0, wall, wall, wall, wall, 0.0)


def feed_width(panel: Panel) -> float:
    """Return the width at which the feed from tank to pump is cut, [mm].

    It is as wide as the channels, the tank's outlet and the pump's inlet bore, and its section is no smaller
    than that bore's. Where the pump's own outlet stands too near for that, it takes the room there is, but is
    never narrower than the channels: `feed.column` and `feed.bore` then say what is missing.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float
    """
    least = WIDTH_STEP * math.ceil(inlet_section(panel) / panel.channel.depth / WIDTH_STEP - SAME_MM)
    room = WIDTH_STEP * math.floor(feed_room(panel) / WIDTH_STEP + SAME_MM)
    wanted = max(panel.channel.width, panel.tank.outlet_bore, panel.pump.inlet_bore, least)
    return max(panel.channel.width, round(min(wanted, room), 6))


def off_feed_of(panel: Panel, width: float, gap: float) -> tuple[float, float]:
    """Return how far a channel's centreline keeps from the feed's, and from the pump's inlet, [mm].

    Parameters
    ----------
    panel : Panel
    width, gap : float
        Of the channel, and between its outline and the feed's, [mm].

    Returns
    -------
    (float, float)
    """
    bore, feed = panel.pump.inlet_bore / 2, feed_width(panel)
    at_joint = joint_half(panel, panel.pump.on, bore, feed)
    return feed / 2 + gap + width / 2, max(gap + at_joint, bore + panel.rules.least_wall) + width / 2


def back_from_inlet(panel: Panel, width: float, feed: float) -> float:
    """Return how far a drain stops short of the pump's inlet, in widths.

    Its round end would touch the inlet's bore, or the feed's own round end, along one line where its tip reaches just
    as far past the inlet as they do.

    Parameters
    ----------
    panel : Panel
    width, feed : float
        Of the drain and of the feed, [mm].

    Returns
    -------
    float
        One of `BACK_FROM_INLET`.
    """
    round_it = (panel.pump.inlet_bore / 2, feed / 2)
    return next(
        back
        for back in BACK_FROM_INLET
        if all(abs((0.5 - back) * width - radius) >= OFF_TIP * width for radius in round_it)
    )


def inlet_section(panel: Panel) -> float:
    """Return the section of the pump's inlet bore, which the feed's must not fall short of, [mm2]."""
    return math.pi / 4 * panel.pump.inlet_bore**2


def feed_room(panel: Panel) -> float:
    """Return how wide a feed can be beside the pump's own outlet, over all its turns, [mm]."""
    gaps, x, y = clearances_of(panel), *panel.pump.outlet_offset
    bore = panel.pump.outlet_bore / 2
    beside = max(
        gaps.channel_gap + joint_half(panel, panel.pump.on, bore, max(panel.channel.widths)),
        gaps.solid_gap + bore,
    )
    # The feed comes down its column: only an outlet above the inlet stands beside it.
    offsets = [turn_point((x, y), turn) for turn in panel.pump.turns]
    return 2 * (max(abs(dx) if dy > 0 else math.hypot(dx, dy) for dx, dy in offsets) - beside)


def widest_section(panel: Panel) -> float:
    """Return the width that no channel of the panel goes beyond, [mm]."""
    return max(*panel.channel.widths, panel.channel.widen_to or 0.0, feed_width(panel))


def turn_point(point: Point, degrees: int) -> Point:
    """Return a point turned about the origin, exact for multiples of 90 degrees."""
    x, y = point
    for _ in range((degrees // 90) % 4):
        x, y = -y, x
    return x, y


def tank_z(panel: Panel) -> tuple[float, float]:
    """Return the z at which the tank pocket starts and ends, [mm]."""
    if panel.make.closing == "one-piece":
        middle = panel.make.body / 2
        return middle - panel.tank.depth / 2, middle + panel.tank.depth / 2
    return 0.0, panel.tank.depth


def off_tank(panel: Panel) -> float:
    """Return how far channels of the front layer and their grooves keep off a pocket tank in plan, [mm].

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    float
        From outline to outline; 0 where the body over the tank is thick enough for them to pass.
    """
    wall, roof = panel.rules.least_wall, tank_z(panel)[1]
    gaps = clearances_of(panel)
    if not comes_near(panel, tank_z(panel), "front"):
        return 0.0
    if panel.make.body - gaps.groove_depth - roof < wall - SAME_MM:
        return gaps.seal_reach + wall
    return gaps.solid_gap


def port_axis_z(panel: Panel, thread: Thread, key: str, layer: Layer = "back") -> float:
    """Return z of an edge port's axis, [mm].

    The bore keeps the least wall to the body's faces and to the grooves in them, its collar seats wholly on
    the body's edge, and it overlaps the channel by at least a third of the channel's depth.

    Parameters
    ----------
    panel : Panel
    thread : Thread
    key : str
        Dotted key of the port in the file, for the message.
    layer : {"back", "front"}
        That of the channel which it opens into: in the front layer it stands as in the back one, mirrored.

    Returns
    -------
    float

    Raises
    ------
    PanelFileError
        Where the body is too thin for the port.
    """
    make, channel = panel.make, panel.channel
    groove = groove_depth(make.closing, make.cord)
    try:
        from_back = edge_axis_z(
            thread, make.closing, make.body, groove, channel.depth, panel.rules.least_wall, channel.layers
        )
    except OutOfRange as error:
        raise PanelFileError((f"{panel.at_line(key)}: {error}",)) from None
    return make.body - from_back if layer == "front" else from_back


def edge_axis_z(
    thread: Thread,
    closing: Closing,
    body: float,
    groove_depth: float,
    channel_depth: float,
    least_wall: float,
    layers: int = 1,
) -> float:
    """Return the height of an edge port's axis above its channel's joint, as `port_axis_z`, [mm].

    Parameters
    ----------
    thread : Thread
    closing : {"cord", "bonded", "one-piece"}
    body, groove_depth, channel_depth, least_wall : float
        [mm]; `groove_depth` is 0 without a cord.
    layers : {1, 2}
        With two, both faces of the body have grooves.

    Returns
    -------
    float

    Raises
    ------
    OutOfRange
        Where the body is too thin, or the channel too shallow, for the port.
    """
    radius = thread.tap_drill / 2
    over = max(radius + least_wall, thread.collar / 2)
    if closing == "one-piece":
        if body / 2 < over - 1e-9:
            raise _too_thin(thread, body, 2 * over)
        return body / 2
    low = max(groove_depth + least_wall + radius, thread.collar / 2)
    # With two layers the far face has grooves as the near one has.
    high = body - (low if layers == 2 else over)
    deepest = channel_depth * 2 / 3 + radius
    if low > high + 1e-9:
        raise _too_thin(thread, body, low + body - high)
    if low > deepest + 1e-9:
        raise OutOfRange(
            f"a {thread.name} bore keeps {low - radius:.4g} mm from the joint face, so it would barely meet a "
            f"channel {channel_depth:g} mm deep; expected a depth of at least {(low - radius) * 1.5:.4g} mm, or "
            "a port on the front"
        )
    return min((low + high) / 2, deepest)


def edge_foot_inset(panel: Panel, thread: Thread, width: float) -> float:
    """Return the least distance from an edge to the end of a channel of `width` at a port on it, [mm].

    The bore must hold the short thread and one pitch before the channel's round end begins, so that no
    fitting stands in the flow, and the channel keeps its distance from the edge.
    """
    half = width / 2
    return max(clearances_of(panel).edge_gap + half, thread.short_thread + thread.pitch + half)


def port_bore_length(panel: Panel, on: Face, inset: float, width: float, layer: Layer = "back") -> float:
    """Return the length of a port's bore from its outer face, [mm].

    Parameters
    ----------
    panel : Panel
    on : Face
        Face of the port.
    inset : float
        Distance from the edge to the channel's end, [mm]; not used on front and back.
    width : float
        Of the channel, [mm].
    layer : {"back", "front"}
        That of the channel.
    """
    if on in EDGES:
        return inset + PAST_FOOT * width
    low, high = bore_z(panel, on, layer)
    return high - low


def joint_half(panel: Panel, on: Face, radius: float, width: float, layer: Layer = "back") -> float:
    """Return half of what a bore and its channel take of the joint of a layer, [mm].

    A bore from a covered face passes the joint under that cover; all others end before it.

    Parameters
    ----------
    panel : Panel
    on : Face
        Face of the bore.
    radius, width : float
        Of the bore and of the channel, [mm]; width 0 where the channel lies in the other layer.
    layer : {"back", "front"}
        Whose joint.
    """
    half = width / 2
    return max(half, radius) if passes_joint(panel, on, layer) else half


def edge_mouth(panel: Panel, on: Face, foot: Point) -> Point:
    """Return where a port's axis leaves the panel in plan, [mm]; its foot on front and back."""
    return {
        "top": (foot[0], panel.height),
        "bottom": (foot[0], 0.0),
        "left": (0.0, foot[1]),
        "right": (panel.width, foot[1]),
    }.get(on, foot)


def ports_apart(a: Thread, b: Thread) -> float:
    """Return the least distance between the axes of two fittings on one face, [mm].

    A spanner must swing on either without touching the other's collar.
    """
    return max(a.spanner_radius + b.collar / 2, b.spanner_radius + a.collar / 2)


def _too_thin(thread: Thread, body: float, least: float) -> OutOfRange:
    return OutOfRange(
        f"a {thread.name} port on an edge needs a body of at least {least:.4g} mm, the body is {body:g} mm; "
        "expected a thicker body, a smaller thread, or a port on the front"
    )
