"""Every distance that placing, routing, sealing and detailing must agree on, worked out once from the panel."""

from __future__ import annotations

from dataclasses import dataclass

from geom.errors import OutOfRange, PanelFileError
from geom.frame import EDGES
from geom.standards import tables
from geom.standards.tables import Thread
from layouts.panel import Closing, Panel

BONDED_LAND = 4.0
"""Least bonded land between wet regions and to the outside, [mm]; common practice, no source."""

PAST_FOOT = 0.75
"""How far an edge bore runs past the channel's end centre, in channel widths.

1.25 widths of bore then lie over the channel, so that the opening between them is no smaller than the
channel's own section; a bore that stopped at one half would end tangent to the round end.
"""


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
        Between the outlines of two channels, or of a channel and the tank: two lands, two grooves and the
        rib between them for a cord; the bonded land; or the least wall.
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
        screw_row = tables.screw(panel.make.screw).clearance + wall
        return Clearances(
            land=wall,
            groove_width=cord.groove_width,
            groove_depth=cord.groove_depth,
            channel_gap=2 * reach + wall,
            edge_gap=reach + wall + screw_row,
            solid_gap=wall,
            seal_reach=reach,
        )
    if panel.make.closing == "bonded":
        land = max(BONDED_LAND, wall)
        return Clearances(0.0, 0.0, 0.0, land, land, wall, land)
    return Clearances(0.0, 0.0, 0.0, wall, wall, wall, 0.0)


def channel_z(panel: Panel) -> tuple[float, float]:
    """Return the z at which channels start and end, [mm]: from the joint face, or about mid-thickness."""
    if panel.make.closing == "one-piece":
        middle = panel.make.body / 2
        return middle - panel.channel.depth / 2, middle + panel.channel.depth / 2
    return 0.0, panel.channel.depth


def tank_z(panel: Panel) -> tuple[float, float]:
    """Return the z at which the tank pocket starts and ends, [mm]."""
    if panel.make.closing == "one-piece":
        middle = panel.make.body / 2
        return middle - panel.tank.depth / 2, middle + panel.tank.depth / 2
    return 0.0, panel.tank.depth


def port_axis_z(panel: Panel, thread: Thread, key: str) -> float:
    """Return the height of an edge port's axis above the joint face, [mm].

    The bore keeps the least wall to the front face and to the grooves under it, its collar seats wholly on
    the body's edge, and it overlaps the channel by at least a third of the channel's depth.

    Parameters
    ----------
    panel : Panel
    thread : Thread
    key : str
        Dotted key of the port in the file, for the message.

    Returns
    -------
    float

    Raises
    ------
    PanelFileError
        Where the body is too thin for the port.
    """
    make = panel.make
    groove = clearances_of(panel).groove_depth
    try:
        return edge_axis_z(
            thread, make.closing, make.body, groove, panel.channel.depth, panel.rules.least_wall
        )
    except OutOfRange as error:
        raise PanelFileError((f"{panel.at_line(key)}: {error}",)) from None


def edge_axis_z(
    thread: Thread,
    closing: Closing,
    body: float,
    groove_depth: float,
    channel_depth: float,
    least_wall: float,
) -> float:
    """Return the height of an edge port's axis above the joint face, as `port_axis_z`, [mm].

    Parameters
    ----------
    thread : Thread
    closing : {"cord", "bonded", "one-piece"}
    body, groove_depth, channel_depth, least_wall : float
        [mm]; `groove_depth` is 0 without a cord.

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
    high = body - over
    deepest = channel_depth * 2 / 3 + radius
    if low > high + 1e-9:
        raise _too_thin(thread, body, low + over)
    if low > deepest + 1e-9:
        raise OutOfRange(
            f"a {thread.name} bore keeps {low - radius:.4g} mm from the joint face, so it would barely meet a "
            f"channel {channel_depth:g} mm deep; expected a depth of at least {(low - radius) * 1.5:.4g} mm, or "
            "a port on the front"
        )
    return min((low + high) / 2, deepest)


def edge_foot_inset(panel: Panel, thread: Thread) -> float:
    """Return the least distance from an edge to the channel end of a port on it, [mm].

    The bore must hold the short thread and one pitch before the channel's round end begins, so that no
    fitting stands in the flow, and the channel keeps its distance from the edge.
    """
    gaps = clearances_of(panel)
    half = panel.channel.width / 2
    return max(gaps.edge_gap + half, thread.short_thread + thread.pitch + half)


def port_bore_length(panel: Panel, on: str, inset: float) -> float:
    """Return the length of a port's bore from its outer face, [mm].

    Parameters
    ----------
    panel : Panel
    on : str
        Face of the port.
    inset : float
        Distance from the edge to the channel's end, [mm]; not used on front and back.
    """
    z0, z1 = channel_z(panel)
    if on in EDGES:
        return inset + PAST_FOOT * panel.channel.width
    middle = (z0 + z1) / 2
    if on == "front":
        return panel.make.body - middle
    return middle + (panel.make.cover if panel.make.closing != "one-piece" else 0.0)


def joint_half(panel: Panel, on: str, radius: float) -> float:
    """Return half of what a bore and its channel take of the joint face, [mm].

    A bore on the back passes the joint between body and cover; all others end above it.

    Parameters
    ----------
    panel : Panel
    on : str
        Face of the bore.
    radius : float
        Of the bore, [mm].
    """
    half = panel.channel.width / 2
    return max(half, radius) if on == "back" and panel.make.closing != "one-piece" else half


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
