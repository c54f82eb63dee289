"""Where tank and pump may stand: every pair in which the tank outlet lies in the pump inlet's column."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import (
    INTO_TANK,
    channel_z,
    clearances_of,
    edge_foot_inset,
    feed_width,
    joint_half,
    tank_z,
    turn_point,
)
from layouts.detail import tapped_depth
from layouts.grid import Grid, distance_inside, grid_of
from layouts.nets import PUMP_INLET, PUMP_OUTLET, TANK_RETURN, ChannelNeed, channels_needed
from layouts.panel import Box, Panel, Port
from layouts.tank import fill_meets, tank_corner_radius

MOST_STEPS = 14
"""Places of the pump and of the tank that are looked at along each axis: a fine pitch has thousands."""


@dataclass(frozen=True, slots=True)
class Placement:
    """One choice of tank and pump.

    Parameters
    ----------
    inlet, outlet : (float, float)
        The pump's nodes, [mm].
    turn_deg : int
    screws : tuple of (float, float)
        The pump's screws, [mm].
    box : Box or None
        The pocket tank, [mm]; None for a separate tank.
    top : (float, float)
        Upper end of the drop, [mm]: on the tank's lower wall, or the separate tank's outlet port.
    estimate : float
        Straight-line guess of what the layout costs, [mm]; orders the search.
    """

    inlet: Point
    outlet: Point
    turn_deg: int
    screws: tuple[Point, ...]
    box: Box | None
    top: Point
    estimate: float


def pump_reach(panel: Panel) -> float:
    """Return the radius about the pump's inlet that the pump and its screw heads take, [mm]."""
    pump = panel.pump
    heads = 0.0
    if pump.screw_size is not None and pump.screw_count:
        heads = pump.screw_circle / 2 + tables.screw(pump.screw_size).head_diameter / 2
    return max(pump.seat_diameter / 2, heads)


def find_placements(panel: Panel) -> tuple[Placement, ...]:
    """Return every placement that can stand by itself, the most promising first.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    tuple of Placement
        Ordered by estimate, then by place: the same for the same panel.

    Raises
    ------
    LayoutError
        Where there is none: says what was in the way most often.
    """
    grid = grid_of(panel)
    reasons: dict[str, int] = {}
    pumps = _pumps(panel, grid, reasons)
    found: list[Placement] = []
    needs = channels_needed(panel)
    fixed = _fixed_ports(needs)
    boxes = _tank_boxes(panel, grid, needs, fixed, reasons)
    for inlet, outlet, turn, screws in pumps:
        blocked_by = _port_under_pump(panel, inlet, fixed)
        if blocked_by:
            reasons[blocked_by] = reasons.get(blocked_by, 0) + 1
            continue
        way = _pump_estimate(needs, panel, inlet, outlet)
        if panel.tank.kind == "separate":
            tops: list[tuple[Box | None, Point, float]] = [
                (None, foot, 0.0) for foot in _separate_tops(panel, grid, inlet)
            ]
        else:
            tops = _pocket_tops(panel, boxes, inlet, outlet, screws, reasons)
        found.extend(
            Placement(inlet, outlet, turn, screws, box, top, way + tank_way + top[1] - inlet[1])
            for box, top, tank_way in tops
        )
    if not found:
        if reasons:
            most = max(sorted(reasons), key=lambda reason: reasons[reason])
        elif pumps:
            most = "no tank position lies above it in its column"
        else:
            most = "the box is too small for its seat, or lies too near the panel's edges"
        raise LayoutError(
            f"{panel.at_line('pump')}: no place for the pump under the tank: {most}; "
            "widen pump.within or tank.within, allow more turns, or move what is in the way"
        )
    return tuple(sorted(found, key=lambda p: (round(p.estimate, 6), p.turn_deg, p.inlet, p.top, p.box or ())))


def _pumps(
    panel: Panel, grid: Grid, reasons: dict[str, int]
) -> list[tuple[Point, Point, int, tuple[Point, ...]]]:
    pump = panel.pump
    gaps = clearances_of(panel)
    halves = (
        joint_half(panel, pump.on, pump.inlet_bore / 2, feed_width(panel)),
        joint_half(panel, pump.on, pump.outlet_bore / 2, panel.channel.width),
    )
    if pump.at is not None:
        inlets = [pump.at]
    else:
        assert pump.within is not None
        x0, y0, x1, y1 = pump.within
        radius = pump.seat_diameter / 2
        inlets = [
            (column * grid.pitch, row * grid.pitch)
            for row in _thin_out(grid.span(y0 + radius, y1 - radius))
            for column in _thin_out(grid.span(x0 + radius, x1 - radius))
        ]
        if not inlets:
            reasons[
                f"pump.within holds no grid node at which a {pump.seat_diameter:g} mm seat stays inside it"
            ] = 1
    out = []
    for inlet in inlets:
        for turn in pump.turns:
            dx, dy = turn_point(pump.outlet_offset, turn)
            outlet = (inlet[0] + dx, inlet[1] + dy)
            screws = _pump_screws(panel, inlet, turn)
            where = _seat_over_clear(panel, inlet)
            for node, half in zip((inlet, outlet), halves, strict=True):
                keep = half + max(gaps.seal_reach, gaps.solid_gap)
                where = where or _outside(panel, (node,), gaps.edge_gap + half, keep)
            if screws:
                keep = tables.screw(pump.screw_size or "M4").diameter / 2 + panel.rules.least_wall
                where = where or _outside(panel, screws, keep, keep)
            if where is not None:
                reasons[where] = reasons.get(where, 0) + 1
                continue
            out.append((inlet, outlet, turn, screws))
    return out


def _outside(panel: Panel, points: tuple[Point, ...], margin: float, keep: float) -> str | None:
    for x, y in points:
        if float(distance_inside(panel, np.array(x), np.array(y))) < margin - SAME_MM:
            return f"the pump's bores or screws would come within {margin:g} mm of the panel's edge"
        for clear in panel.keep_clear:
            if math.dist((x, y), _nearest_in(clear.box, (x, y))) < keep - SAME_MM:
                return f'keep-clear region "{clear.name}" lies under the pump'
    return None


def _seat_over_clear(panel: Panel, inlet: Point) -> str | None:
    for clear in panel.keep_clear:
        if math.dist(inlet, _nearest_in(clear.box, inlet)) < panel.pump.seat_diameter / 2 - SAME_MM:
            return f'keep-clear region "{clear.name}" lies under the pump\'s seat'
    return None


def _pump_screws(panel: Panel, inlet: Point, turn: int) -> tuple[Point, ...]:
    pump = panel.pump
    if pump.screw_size is None or pump.screw_count == 0:
        return ()
    # The first screw stands half a pitch off the outlet's direction, so that it clears the outlet.
    first = math.radians(turn) + math.pi / pump.screw_count
    radius = pump.screw_circle / 2
    return tuple(
        (
            round(inlet[0] + radius * math.cos(first + 2 * math.pi * k / pump.screw_count), 9),
            round(inlet[1] + radius * math.sin(first + 2 * math.pi * k / pump.screw_count), 9),
        )
        for k in range(pump.screw_count)
    )


def _fixed_ports(needs: tuple[ChannelNeed, ...]) -> list[tuple[Port, Point]]:
    ports = [end.port for need in needs for end in need.ends if end.port is not None]
    return [(port, port.at) for port in ports if port.at is not None and port.on not in EDGES]


def _port_under_pump(panel: Panel, inlet: Point, fixed: list[tuple[Port, Point]]) -> str | None:
    for port, at in fixed:
        if port.on != panel.pump.on:
            continue
        least = pump_reach(panel) + tables.thread(port.thread).spanner_radius
        if math.dist(inlet, at) < least - SAME_MM:
            return f'port "{port.name}" would stand within {least:g} mm of the pump, under it or its spanner'
    return None


def _tank_boxes(
    panel: Panel,
    grid: Grid,
    needs: tuple[ChannelNeed, ...],
    fixed: list[tuple[Port, Point]],
    reasons: dict[str, int],
) -> list[tuple[Box, float]]:
    """Return where a pocket tank may stand whatever the pump, each with its estimate, [mm]."""
    tank = panel.tank
    if tank.kind == "separate":
        return []
    assert tank.size is not None
    width, height = tank.size
    if tank.at is not None:
        corners = [tank.at]
    else:
        assert tank.within is not None
        x0, y0, x1, y1 = tank.within
        corners = [(x, y) for y in _places(grid, y0, y1 - height) for x in _places(grid, x0, x1 - width)]
    out: list[tuple[Box, float]] = []
    for x, y in corners:
        box = (x, y, x + width, y + height)
        reason: str | None
        if not fill_meets(panel, box):
            key = panel.tank.fill.key if panel.tank.fill is not None else "tank.fill"
            reason = f"the fill port would miss the tank ({key})"
        elif not _tank_clear_of_edges(panel, box):
            gap = clearances_of(panel).edge_gap
            reason = f"the tank would come within {gap:g} mm of the panel's edge or cut short its fill thread"
        else:
            reason = _tank_meets(panel, box, fixed)
        if reason is None:
            out.append((box, _tank_estimate(needs, panel, box)))
        else:
            reasons[reason] = reasons.get(reason, 0) + 1
    return out


def _pocket_tops(
    panel: Panel,
    boxes: list[tuple[Box, float]],
    inlet: Point,
    outlet: Point,
    screws: tuple[Point, ...],
    reasons: dict[str, int],
) -> list[tuple[Box | None, Point, float]]:
    """Return the tank boxes that can stand over a pump, with the top of the drop and their estimate."""
    gaps, wall = clearances_of(panel), panel.rules.least_wall
    feed = feed_width(panel)
    side = tank_corner_radius(panel) + feed / 2
    screw_depth_meets = _pump_screw_floor(panel) < tank_z(panel)[1] + wall
    screw_radius = tables.screw(panel.pump.screw_size).diameter / 2 if panel.pump.screw_size else 0.0
    seat_meets = panel.make.body - panel.pump.seat_depth - tank_z(panel)[1] < wall
    on, pump = panel.pump.on, panel.pump
    from_outlet = gaps.channel_gap + joint_half(panel, on, pump.outlet_bore / 2, panel.channel.width)
    from_inlet = gaps.channel_gap + joint_half(panel, on, pump.inlet_bore / 2, feed)
    out: list[tuple[Box | None, Point, float]] = []
    for box, estimate in boxes:
        reason = None
        if box[1] - inlet[1] < max(feed, from_inlet if on == "back" else 0.0) + SAME_MM:
            reason = "the tank would not stand above the pump inlet"
        elif not box[0] + side - SAME_MM <= inlet[0] <= box[2] - side + SAME_MM:
            reason = "the pump inlet's column would miss the tank's floor"
        elif box[3] - box[1] < (INTO_TANK + 0.5) * feed - SAME_MM:
            reason = f"the tank is too low for the round end of a drop {feed:g} mm wide"
        elif math.dist(outlet, _nearest_in(box, outlet)) < from_outlet - SAME_MM:
            reason = "the pump's outlet would stand too near the tank"
        elif screw_depth_meets and any(
            math.dist(s, _nearest_in(box, s)) < screw_radius + wall - SAME_MM for s in screws
        ):
            reason = "the pump's screws would run into the tank"
        elif seat_meets and math.dist(inlet, _nearest_in(box, inlet)) < panel.pump.seat_diameter / 2:
            reason = "the pump's seat would leave too thin a floor over the tank"
        if reason is not None:
            reasons[reason] = reasons.get(reason, 0) + 1
            continue
        out.append((box, (inlet[0], box[1]), estimate))
    return out


def _thin_out(steps: range) -> list[int]:
    """Return at most `MOST_STEPS` of the steps along one axis, evenly, both ends among them."""
    if len(steps) <= MOST_STEPS:
        return list(steps)
    return sorted({steps[round(n * (len(steps) - 1) / (MOST_STEPS - 1))] for n in range(MOST_STEPS)})


def _places(grid: Grid, low: float, high: float) -> list[float]:
    places = [n * grid.pitch for n in _thin_out(grid.span(low, high))]
    return places or ([low] if high >= low - SAME_MM else [])


def _tank_clear_of_edges(panel: Panel, box: Box) -> bool:
    least = dict.fromkeys(EDGES, clearances_of(panel).edge_gap)
    fill = panel.tank.fill
    if fill is not None and fill.on in EDGES:
        thread = tables.thread(fill.thread)
        least[fill.on] = max(least[fill.on], thread.short_thread + thread.pitch)
    corner = tank_corner_radius(panel)
    x = np.array([box[0] + corner, box[2] - corner, box[0] + corner, box[2] - corner])
    y = np.array([box[1] + corner, box[1] + corner, box[3] - corner, box[3] - corner])
    if (distance_inside(panel, x, y) - corner < clearances_of(panel).edge_gap - SAME_MM).any():
        return False
    have = {"left": box[0], "bottom": box[1], "right": panel.width - box[2], "top": panel.height - box[3]}
    return all(have[edge] >= least[edge] - SAME_MM for edge in have if edge in least)


def _tank_meets(panel: Panel, box: Box, fixed: list[tuple[Port, Point]]) -> str | None:
    gaps = clearances_of(panel)
    for clear in panel.keep_clear:
        if _boxes_apart(box, clear.box) < max(gaps.seal_reach, gaps.solid_gap) - SAME_MM:
            return f'keep-clear region "{clear.name}" lies under the tank'
    for port, at in fixed:
        if math.dist(at, _nearest_in(box, at)) < gaps.channel_gap + panel.channel.width / 2 - SAME_MM:
            return f'port "{port.name}" would stand too near the tank'
    return None


def _separate_tops(panel: Panel, grid: Grid, inlet: Point) -> list[Point]:
    """Return the feet of a separate tank's outlet port that lie above the pump inlet in its column."""
    port = panel.tank.outlet
    assert port is not None
    foots = [grid.point_of(cell) for cell, _ in port_feet(panel, grid, port)]
    edge = 0.0 if port.on in EDGES else clearances_of(panel).edge_gap + feed_width(panel) / 2
    return [
        (x, y)
        for x, y in foots
        if abs(x - inlet[0]) < SAME_MM
        and y > inlet[1]
        and float(distance_inside(panel, np.array(x), np.array(y))) > edge - SAME_MM
    ]


def port_feet(panel: Panel, grid: Grid, port: Port) -> list[tuple[int, tuple[int, ...]]]:
    """Return the cells at which a port's axis may meet its channel, each with the cells of an edge bore.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    port : Port

    Returns
    -------
    list of (int, tuple of int)
        Foot cell, and the cells from the edge up to it (empty on front and back).
    """
    if port.on not in EDGES:
        if port.at is not None:
            return [(grid.cell_at(port.at), ())]
        assert port.within is not None
        x0, y0, x1, y1 = port.within
        return [(r * grid.columns + c, ()) for r in grid.span(y0, y1) for c in grid.span(x0, x1)]
    width = feed_width(panel) if port is panel.tank.outlet else panel.channel.width
    inset = edge_foot_inset(panel, tables.thread(port.thread), width)
    upright = port.on in ("top", "bottom")
    if port.at is not None:
        along = port.at[0] if upright else port.at[1]
        spots = range(round(along / grid.pitch), round(along / grid.pitch) + 1)
    else:
        assert port.between is not None
        spots = grid.span(*port.between)
    size = panel.height if upright else panel.width
    count = grid.rows if upright else grid.columns
    if port.on in ("bottom", "left"):
        foot = int(np.ceil(inset / grid.pitch - SAME_MM))
        bore = range(foot)
    else:
        foot = int(np.floor((size - inset) / grid.pitch + SAME_MM))
        bore = range(count - 1, foot, -1)
    if upright:
        return [(foot * grid.columns + s, tuple(b * grid.columns + s for b in bore)) for s in spots]
    return [(s * grid.columns + foot, tuple(s * grid.columns + b for b in bore)) for s in spots]


def _pump_screw_floor(panel: Panel) -> float:
    """Return the z of the lowest point of the pump's screw holes, [mm] (they keep a wall above channels)."""
    pump = panel.pump
    if pump.screw_size is None:
        return math.inf
    deep = tapped_depth(panel, tables.screw(pump.screw_size))
    if pump.on == "back":
        # Tapped into the cover alone; it does not reach the tank.
        return math.inf
    return max(panel.make.body - deep, channel_z(panel)[1] + panel.rules.least_wall)


def _pump_estimate(needs: tuple[ChannelNeed, ...], panel: Panel, inlet: Point, outlet: Point) -> float:
    """Return the shortest rectangular ways from the pump to what it must be joined to, [mm]."""
    total = 0.0
    for need in needs[1:]:
        names = [end.name for end in need.ends]
        start = outlet if PUMP_OUTLET in names else inlet if PUMP_INLET in names else None
        if start is not None:
            total += sum(_way(start, end.port, panel) for end in need.ends if end.port is not None)
    return total


def _tank_estimate(needs: tuple[ChannelNeed, ...], panel: Panel, box: Box) -> float:
    """Return the shortest rectangular ways to a pocket tank, [mm]."""
    return sum(
        _way_to_box(box, end.port, panel)
        for need in needs[1:]
        if TANK_RETURN in [end.name for end in need.ends]
        for end in need.ends
        if end.port is not None
    )


def _port_box(port: Port, panel: Panel) -> Box:
    if port.within is not None:
        return port.within
    if port.at is not None:
        return (*port.at, *port.at)
    low, high = port.between or (0.0, 0.0)
    return {
        "top": (low, panel.height, high, panel.height),
        "bottom": (low, 0.0, high, 0.0),
        "left": (0.0, low, 0.0, high),
        "right": (panel.width, low, panel.width, high),
    }[port.on]


def _way(point: Point, port: Port, panel: Panel) -> float:
    x, y = _nearest_in(_port_box(port, panel), point)
    return abs(x - point[0]) + abs(y - point[1])


def _way_to_box(box: Box, port: Port, panel: Panel) -> float:
    place = _port_box(port, panel)
    return max(box[0] - place[2], place[0] - box[2], 0.0) + max(box[1] - place[3], place[1] - box[3], 0.0)


def _nearest_in(box: Box, point: Point) -> Point:
    return min(max(point[0], box[0]), box[2]), min(max(point[1], box[1]), box[3])


def _boxes_apart(a: Box, b: Box) -> float:
    dx = max(a[0] - b[2], b[0] - a[2], 0.0)
    dy = max(a[1] - b[3], b[1] - a[3], 0.0)
    return math.hypot(dx, dy)
