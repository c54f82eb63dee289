"""Place and route: one search over tank, pump, ports and channels, verified before it is handed on."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from geom.errors import LayoutError
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import (
    BACK_FROM_TEE,
    INTO_TANK,
    feed_width,
    port_axis_z,
    port_bore_length,
    tank_z,
)
from layouts.explain import explain_failure
from layouts.nets import (
    DRAIN,
    FEED,
    PUMP_INLET,
    TANK_OUTLET,
    TANK_RETURN,
    ChannelNeed,
)
from layouts.panel import Panel, Port
from layouts.place import Placement, find_placements
from layouts.plan import Channel, Junction, Leg, PlacedPort, PlacedPump, PlacedTank, Routed, Run
from layouts.routing.negotiate import Routing, improve_routing, route_instance
from layouts.routing.runs import TEE
from layouts.routing.trace import Trace
from layouts.tank import find_fill, tank_corner_radius
from layouts.terrain import Terrain, edge_inset, edge_mouth, lay_terrain
from layouts.verify import verify_routed

LOOKED_AT_AFTER_FIRST = 10
"""Placements still looked at after one has been routed: whether their channels, each alone, could be cheaper."""

ROUTED_AFTER_FIRST = 2
"""Of those, placements that are routed."""

MOST_TRIALS = 40
"""Placements tried before giving up."""

MOST_FAILED = 8
"""Placements that may fail although every channel can be reached, before giving up."""

TRIAL_STEPS, FINAL_STEPS = 0, 5
"""Steps of the last improvement, for a trial and for the best of them."""


@dataclass(frozen=True, slots=True)
class _Trial:
    terrain: Terrain
    routing: Routing
    cost: float


def route_panel(
    panel: Panel, bend_mm: float, seed: int = 0, progress: Callable[[str], None] | None = None
) -> Routed:
    """Return tank, pump, ports and channels, placed and routed.

    Parameters
    ----------
    panel : Panel
    bend_mm : float
        Length of straight channel that loses as much as one bend, [mm].
    seed : int
        Same seed, same answer.
    progress : callable or None
        Told in a few words what is being tried.

    Returns
    -------
    Routed
        Verified on exact outlines.

    Raises
    ------
    LayoutError
        Where nothing was found: names the channel and what blocks it.
    """
    if panel.channel.layers != 1:
        raise LayoutError(
            f"{panel.at_line('channel.layers')}: {panel.channel.layers}; channels are routed in one face: use 1"
        )
    placements = find_placements(panel)
    best: _Trial | None = None
    failed: _Trial | None = None
    refused: list[str] = []
    looked_at = negotiated = given_up = 0
    for number, placement in enumerate(_spread(placements, panel.pitch)):
        if number >= MOST_TRIALS or looked_at > LOOKED_AT_AFTER_FIRST or negotiated > ROUTED_AFTER_FIRST:
            break
        if progress is not None:
            progress(f"placement {number + 1}")
        terrain = lay_terrain(panel, placement, bend_mm)
        drop = _drop_cost(terrain)
        beat = math.inf if best is None else best.cost - drop
        # The first failure is looked at closely; after it a placement gets one round of bidding.
        restarts = 3 if given_up == 0 else 1
        routing = route_instance(terrain.instance, seed, TRIAL_STEPS, restarts, beat)
        trial = _Trial(terrain, routing, routing.cost + drop)
        if routing.conflicting:
            if failed is None or _nearer(routing, failed.routing):
                failed = trial
            given_up += not routing.unreachable
            if best is None and given_up >= MOST_FAILED:
                break
        elif routing.traces and (best is None or trial.cost < best.cost - 1e-9):
            problems = verify_routed(panel, _as_routed(panel, trial, placements))
            refused.extend(problems)
            if not problems:
                best = trial
        looked_at += best is not None
        negotiated += best is not None and not math.isinf(trial.cost)
    if best is None:
        if refused:
            often = max(refused, key=refused.count)
            raise LayoutError(
                f"{panel.path}: routings were found, but none that keeps all distances on exact outlines; the most "
                f"frequent reason: {often}; widen the boxes or spans of what is named"
            )
        assert failed is not None
        raise LayoutError(explain_failure(panel, failed.terrain, failed.routing))
    if progress is not None:
        progress("improving")
    routing = improve_routing(best.terrain.instance, best.routing, seed, FINAL_STEPS)
    final = _Trial(best.terrain, routing, routing.cost + _drop_cost(best.terrain))
    if final.cost < best.cost - 1e-9:
        routed = _as_routed(panel, final, placements)
        if not verify_routed(panel, routed):
            return routed
    return _as_routed(panel, best, placements)


def _spread(placements: tuple[Placement, ...], pitch: float) -> Iterator[Placement]:
    """Yield placements best first, near copies of those yielded before put off to the end."""
    kept: list[Placement] = []
    near: list[Placement] = []
    for p in placements:
        alike = any(
            q.turn_deg == p.turn_deg
            and math.dist(q.inlet, p.inlet) < 2.5 * pitch
            and math.dist((q.box or (*q.top,))[:2], (p.box or (*p.top,))[:2]) < 2.5 * pitch
            for q in kept
        )
        if alike:
            near.append(p)
        else:
            kept.append(p)
            yield p
    yield from near


def _nearer(one: Routing, two: Routing) -> bool:
    """Return whether a failed routing came nearer to success: everything reachable, then fewer conflicts."""
    return (len(one.unreachable), len(one.conflicting)) < (len(two.unreachable), len(two.conflicting))


def _drop_cost(terrain: Terrain) -> float:
    drop = terrain.placement.top[1] - terrain.placement.inlet[1]
    return terrain.instance.rates.step * drop / terrain.grid.pitch


def _as_routed(panel: Panel, trial: _Trial, placements: tuple[Placement, ...]) -> Routed:
    terrain, routing = trial.terrain, trial.routing
    placement = terrain.placement
    ports: list[PlacedPort] = []
    channels = [_feed(panel, placement)]
    if panel.tank.outlet is not None:
        ports.append(_place_port(panel, panel.tank.outlet, placement.top, channels[0]))
    for need, trace in zip(terrain.needs, routing.traces, strict=True):
        channel = _as_channel(panel, terrain, need, trace)
        channels.append(channel)
        for end, terminal in zip(need.ends, trace.chosen, strict=True):
            if end.port is not None:
                foot = terrain.grid.point_of(terminal.node)
                ports.append(_place_port(panel, end.port, foot, channel))
    if panel.tank.fill is not None and placement.box is not None:
        ports.append(_place_fill_port(panel, placement, panel.tank.fill))
    # The bound of one placement proves nothing about the others, unless there are none.
    bound = None
    if routing.bound is not None and len(placements) == 1:
        bound = routing.bound + _drop_cost(terrain)
    gap = None if bound is None else max(0.0, (trial.cost - bound) / trial.cost)
    status = "found (no bound)"
    if gap is not None:
        status = "optimal (proven)" if gap < 1e-9 else f"within {100 * gap:.1f} % (proven)"
    return Routed(
        ports=tuple(ports),
        tank=PlacedTank(placement.box, placement.top, tank_corner_radius(panel)),
        pump=PlacedPump(placement.inlet, placement.outlet, placement.turn_deg, placement.screws),
        channels=tuple(channels),
        cost=trial.cost,
        bound=bound,
        gap=gap,
        status=status,
    )


def _feed(panel: Panel, placement: Placement) -> Channel:
    top, inlet, width = placement.top, placement.inlet, feed_width(panel)
    inside = (top[0], top[1] + INTO_TANK * width) if placement.box is not None else top
    leg = Leg(f"{FEED} leg 1", TANK_OUTLET, PUMP_INLET, (top, inlet))
    return _channel(panel, FEED, (TANK_OUTLET, PUMP_INLET), (Run((inside, inlet)),), (leg,), (), width)


def _channel(
    panel: Panel,
    name: str,
    ends: tuple[str, ...],
    runs: tuple[Run, ...],
    legs: tuple[Leg, ...],
    junctions: tuple[Junction, ...],
    width: float,
) -> Channel:
    return Channel(name, ends, runs, legs, junctions, width, panel.channel.depth, panel.channel.bend_radius)


def _as_channel(panel: Panel, terrain: Terrain, need: ChannelNeed, trace: Trace) -> Channel:
    names = tuple(end.name for end in need.ends)
    box = terrain.placement.box
    width = panel.channel.width
    runs: list[Run] = []
    pieces: list[tuple[str, str, list[Point]]] = []
    tees: list[tuple[str, Point]] = []
    for grid_run in trace.runs:
        points = [(c * terrain.grid.pitch, r * terrain.grid.pitch) for c, r in grid_run.corners]
        drawn = list(points)
        first, last = names[grid_run.first], names[grid_run.last] if grid_run.last != TEE else ""
        for name, at, towards in ((first, 0, 1), (last, -1, -2)):
            if name == TANK_RETURN and box is not None:
                points[at], drawn[at] = _into_tank(points[at], points[towards], box, width)
        if first == PUMP_INLET and need.name == DRAIN:
            drawn[0] = _shift(drawn[0], drawn[1], BACK_FROM_TEE * width)
        if grid_run.last == TEE:
            drawn[-1] = _shift(drawn[-1], drawn[-2], BACK_FROM_TEE * width)
            last = f"{need.name} junction {len(tees) + 1}"
            tees.append((last, points[-1]))
            _split(pieces, points[-1], last)
        runs.append(Run(tuple(drawn)))
        pieces.append((first, last, points))
    legs = _legs(need, pieces)
    junctions = tuple(_junction(name, at, legs) for name, at in tees)
    return _channel(panel, need.name, names, tuple(runs), legs, junctions, width)


def _shift(point: Point, towards: Point, by: float) -> Point:
    length = math.dist(point, towards)
    return (
        point[0] + (towards[0] - point[0]) * by / length,
        point[1] + (towards[1] - point[1]) * by / length,
    )


def _into_tank(
    node: Point, towards: Point, box: tuple[float, float, float, float], width: float
) -> tuple[Point, Point]:
    """Return where a channel's centreline meets the tank's wall, and where its drawn end lies inside."""
    inside = INTO_TANK * width
    if abs(node[1] - towards[1]) < SAME_MM:
        wall_x = box[0] if towards[0] < box[0] else box[2]
        inwards = 1.0 if towards[0] < box[0] else -1.0
        return (wall_x, node[1]), (wall_x + inwards * inside, node[1])
    wall_y = box[1] if towards[1] < box[1] else box[3]
    inwards = 1.0 if towards[1] < box[1] else -1.0
    return (node[0], wall_y), (node[0], wall_y + inwards * inside)


def _split(pieces: list[tuple[str, str, list[Point]]], at: Point, name: str) -> None:
    """Split the piece on which a junction lies into two, in place."""
    for n, (first, last, points) in enumerate(pieces):
        for k, (a, b) in enumerate(pairwise(points)):
            on = abs(math.dist(a, at) + math.dist(at, b) - math.dist(a, b)) < SAME_MM
            if on:
                pieces[n : n + 1] = [
                    (first, name, [*points[: k + 1], at]),
                    (name, last, [at, *points[k + 1 :]]),
                ]
                return
    raise LayoutError(f"the T at ({at[0]:g}, {at[1]:g}) mm does not lie on its channel")


def _legs(need: ChannelNeed, pieces: list[tuple[str, str, list[Point]]]) -> tuple[Leg, ...]:
    """Return the pieces as legs, each turned the way coolant would flow if all ends shared alike."""
    sources = [end.name for end in need.ends[: need.sources]]
    sinks = [end.name for end in need.ends[need.sources :]]
    share = {name: 1.0 / len(sources) for name in sources} | {name: -1.0 / len(sinks) for name in sinks}
    legs = []
    for n, (first, last, points) in enumerate(pieces):
        others = pieces[:n] + pieces[n + 1 :]
        near, grew = {first}, True
        while grew:
            grew = False
            for a, b, _ in others:
                if (a in near) != (b in near):
                    near |= {a, b}
                    grew = True
        forward = sum(share.get(name, 0.0) for name in near) >= -1e-9
        name = f"{need.name} leg {n + 1}"
        legs.append(
            Leg(name, first, last, tuple(points)) if forward else Leg(name, last, first, tuple(points[::-1]))
        )
    return tuple(legs)


def _junction(name: str, at: Point, legs: tuple[Leg, ...]) -> Junction:
    """Return the T at a point: the two legs in line, and the one across."""
    ways: list[tuple[str, Point]] = []
    for leg in legs:
        if leg.start == name:
            ways.append((leg.name, _direction(leg.points[0], leg.points[1])))
        if leg.end == name:
            ways.append((leg.name, _direction(leg.points[-1], leg.points[-2])))
    for n, (branch, across) in enumerate(ways):
        (one, a), (two, b) = [way for m, way in enumerate(ways) if m != n]
        if a[0] * b[0] + a[1] * b[1] < -0.5 and abs(a[0] * across[0] + a[1] * across[1]) < 0.5:
            return Junction(name, at, (one, two), branch)
    raise LayoutError(f"{name} at ({at[0]:g}, {at[1]:g}) mm is not a T")


def _direction(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def _place_port(panel: Panel, port: Port, foot: Point, channel: Channel) -> PlacedPort:
    inset = edge_inset(panel, port.on, foot)
    if port.on in EDGES:
        x, y = edge_mouth(panel, port.on, foot)
        at = (x, y, port_axis_z(panel, tables.thread(port.thread), port.key))
    elif port.on == "front":
        at = (*foot, panel.make.body)
    else:
        at = (*foot, 0.0 if panel.make.closing == "one-piece" else -panel.make.cover)
    depth = port_bore_length(panel, port.on, inset, channel.width)
    return PlacedPort(port.name, port.part, port.role, port.thread, port.on, at, foot, channel.name, depth)


def _place_fill_port(panel: Panel, placement: Placement, fill: Port) -> PlacedPort:
    bore = find_fill(panel, placement.box)
    if bore is None:
        raise LayoutError(f"{panel.at_line(fill.key)}: the fill port misses the tank")
    thread = tables.thread(fill.thread)
    if fill.on in EDGES:
        z = port_axis_z(panel, thread, fill.key)
        depth = math.dist(bore.mouth, bore.end)
    else:
        middle = sum(tank_z(panel)) / 2
        back = 0.0 if panel.make.closing == "one-piece" else -panel.make.cover
        z = panel.make.body if fill.on == "front" else back
        depth = abs(z - middle)
    return PlacedPort(
        fill.name, "tank", "fill", fill.thread, fill.on, (*bore.mouth, z), bore.end, "tank", depth
    )
