"""What only two layers ask of a routing: the floor between them, through holes, pieces that a cord goes round."""

from __future__ import annotations

import math
from itertools import combinations

import shapely

from geom.frame import EDGES, WALL_MM
from geom.outline import Loop, Point, outline_circle, region_polygon
from geom.standards import tables
from layouts.clearance import clearances_of, tank_z
from layouts.closing.wet_regions import joint_discs, layer_runs, outline_channel
from layouts.faces import bore_z, floor_thickness, hole_bore, joints_of, layers_of
from layouts.outlines import FINE_SAG
from layouts.panel import Panel
from layouts.plan import Channel, PlacedPort, Routed


def check_floor(panel: Panel) -> list[str]:
    """Channels that cross in the two faces keep the least wall between them."""
    floor, wall = floor_thickness(panel.make.body, panel.channel.depth), panel.rules.least_wall
    if floor >= wall - WALL_MM:
        return []
    return [
        f"a body of {panel.make.body:g} mm leaves {floor:.3f} mm between channels {panel.channel.depth:g} mm deep in "
        f"both faces, {wall:g} needed"
    ]


def check_holes(panel: Panel, routed: Routed) -> list[str]:
    """Every through hole joins two runs of its channel, as its legs say, and keeps off all other channels."""
    wall = clearances_of(panel).solid_gap
    out = []
    for channel in routed.channels:
        passed = [leg.points[k] for leg in channel.legs for k in leg.holes]
        if sorted(passed) != sorted(channel.holes):
            out.append(f'channel "{channel.name}": its legs pass other through holes than it has')
        for at in channel.holes:
            missing = [layer for layer in layers_of(panel) if not _has_end(channel, layer, at)]
            out.extend(
                f'a through hole of channel "{channel.name}" at ({at[0]:g}, {at[1]:g}) mm does not end a run in the '
                f"{layer} face"
                for layer in missing
            )
            for other in routed.channels:
                for layer in layers_of(panel):
                    if other.name == channel.name or not layer_runs(other, layer):
                        continue
                    outline = region_polygon(outline_channel(other, 0.0, layer), FINE_SAG)
                    have = outline.distance(shapely.Point(at)) - hole_bore(channel.width) / 2
                    if have < wall - WALL_MM:
                        out.append(
                            f'a through hole of channel "{channel.name}": {max(have, 0.0):.3f} mm to channel '
                            f'"{other.name}" in the {layer} face, {wall:g} needed'
                        )
    return out


def check_pieces(panel: Panel, routed: Routed) -> list[str]:
    """The pieces of one channel in a joint keep the distance within a wet region: a cord goes round each."""
    gap = clearances_of(panel).own_gap
    out = []
    for layer in joints_of(panel):
        discs = joint_discs(panel, routed, layer)
        for channel in routed.channels:
            loops: list[Loop] = [*outline_channel(channel, 0.0, layer)]
            loops += [outline_circle(at, radius) for name, at, radius in discs if name == channel.name]
            for one, two in combinations(shapely.get_parts(region_polygon(tuple(loops), FINE_SAG)), 2):
                have = one.distance(two)
                if have < gap - WALL_MM:
                    x, y = two.centroid.x, two.centroid.y
                    out.append(
                        f'channel "{channel.name}": {have:.3f} mm between its own pieces near ({x:.0f}, {y:.0f}) mm '
                        f"in the {layer} face, {gap:g} needed"
                    )
    return out


def pass_each_other(panel: Panel, one: PlacedPort, two: PlacedPort) -> bool:
    """Return whether bores from unlike faces must keep apart in plan, where their own channels do not see to it.

    In one layer all do but those from front and back, which end in it. In two layers, those that come as near in
    height as the least wall.
    """
    faces = {one.on, two.on}
    if panel.channel.layers == 1 or "tank" in (one.channel, two.channel):
        return faces != {"front", "back"}
    if faces == {"front", "back"} and one.layer == two.layer:
        return False
    return _height_apart(_port_z(panel, one), _port_z(panel, two)) < panel.rules.least_wall - WALL_MM


def reaches_tank(panel: Panel, port: PlacedPort) -> bool:
    """Return whether a port must keep off the tank in plan: always, but over it in the front face."""
    if panel.channel.layers == 1:
        return True
    return _height_apart(_port_z(panel, port), tank_z(panel)) < panel.rules.least_wall - WALL_MM


def _port_z(panel: Panel, port: PlacedPort) -> tuple[float, float]:
    """Return the z between which a port's bore into a channel lies, [mm]."""
    if port.on in EDGES:
        radius = tables.thread(port.thread).tap_drill / 2
        return port.at[2] - radius, port.at[2] + radius
    return bore_z(panel, port.on, port.layer)


def _height_apart(one: tuple[float, float], two: tuple[float, float]) -> float:
    """Return the solid in height between two ranges of z, negative where they overlap, [mm]."""
    return max(one[0] - two[1], two[0] - one[1])


def _has_end(channel: Channel, layer: str, at: Point) -> bool:
    return any(
        math.dist(end, at) <= WALL_MM
        for run in channel.runs
        if run.layer == layer
        for end in (run.points[0], run.points[-1])
    )
