"""The bores of a routing against all that they must keep off, by exact distance; for `layouts.verify`."""

from __future__ import annotations

import math
from itertools import combinations

import shapely

from geom.frame import EDGES, WALL_MM
from geom.outline import region_polygon
from geom.standards import tables
from layouts.clearance import clearances_of, port_axis_z, ports_apart, tank_z
from layouts.closing.wet_regions import layer_runs, outline_channel, pump_bores, pump_layer
from layouts.detail import tapped_depth
from layouts.faces import bore_layers, passes_joint
from layouts.layer_checks import pass_each_other, reaches_tank
from layouts.outlines import FINE_SAG, enters_tank, outline_bore, passes_floor, sheet_outline, tank_outline
from layouts.panel import Panel
from layouts.place import pump_reach
from layouts.plan import Layer, Routed

Outlines = dict[str, shapely.Geometry]
"""What each channel takes of one layer, by name; those that have nothing there are left out."""


def say_where(panel: Panel, layer: Layer) -> str:
    """Return in which face something lies, for messages; nothing where there is one."""
    return "" if panel.channel.layers == 1 else f" in the {layer} face"


def check_ports(panel: Panel, routed: Routed, layers: dict[Layer, Outlines]) -> list[str]:
    """Ports keep off channels, the tank, each other, the pump, its screws and keep-clear regions."""
    gaps = clearances_of(panel)
    wall = gaps.solid_gap
    sheet, tank = sheet_outline(panel), tank_outline(routed)
    bores = {port.name: outline_bore(port) for port in routed.ports}
    # A channel's end and a fill bore may meet inside the tank.
    outside = {
        name: outline.difference(tank)
        if tank is not None and enters_tank(routed.channel(name)) and not passes_floor(panel)
        else outline
        for name, outline in layers["back"].items()
    }
    out: list[str] = []
    for port in routed.ports:
        thread = tables.thread(port.thread)
        # A round bore is measured from its axis: quicker, and exact.
        round_bore = port.on not in EDGES
        core = shapely.Point(port.foot) if round_bore else bores[port.name]
        radius = thread.tap_drill / 2
        for layer in bore_layers(panel, port.on, port.layer, radius, port.at[2]):
            around = _keep_off(routed, layers[layer], layer, port.layer, (port.channel,))
            if port.channel == "tank" and layer == "back":
                around = outside
            # The fill port's bore passes the front joint with a groove of its own.
            sealed = port.channel == "tank" and layer == "front" and passes_joint(panel, port.on, layer)
            least = gaps.own_gap if sealed else wall
            apart = shapely.distance([*around.values()], core) - (radius if round_bore else 0.0)
            out.extend(
                f'port "{port.name}": {have:.3f} mm to channel "{name}"{say_where(panel, layer)}, {least:g} needed'
                for name, have in zip(around, apart, strict=True)
                if have < least - WALL_MM
            )
        near_tank = tank is not None and port.channel != "tank" and reaches_tank(panel, port)
        if near_tank and bores[port.name].distance(tank) < wall - WALL_MM:
            out.append(f'port "{port.name}" stands within {wall:g} mm of the tank')
        out.extend(
            f'port "{port.name}" stands within {wall:g} mm of "{clear.name}"'
            for clear in panel.keep_clear
            if bores[port.name].distance(shapely.box(*clear.box)) < wall - WALL_MM
        )
        if port.on == panel.pump.on:
            least = pump_reach(panel) + thread.spanner_radius
            have = math.dist(port.foot, routed.pump.inlet)
            if have < least - WALL_MM:
                out.append(f'port "{port.name}": {have:.3f} mm from the pump\'s middle, {least:g} needed')
        if port.channel == "tank" and (tank is None or not bores[port.name].intersects(tank)):
            out.append(f'port "{port.name}" misses the tank')
        if port.on not in EDGES:
            foot = shapely.Point(port.foot)
            if not sheet.contains(foot) or foot.distance(sheet.exterior) < thread.collar / 2 - WALL_MM:
                out.append(f'port "{port.name}": its collar would stand over the panel\'s edge')
        for screw in routed.pump.screws if port.on in EDGES else ():
            row = tables.screw(panel.pump.screw_size or "M4")
            radius, deep = row.diameter / 2, tapped_depth(panel, row)
            above = port_axis_z(panel, thread, port.name) + thread.tap_drill / 2 + wall
            # In two layers the pump's screws stay in the cover.
            if panel.pump.on == "back" or panel.channel.layers == 2 or above <= panel.make.body - deep:
                continue
            if bores[port.name].distance(shapely.Point(screw)) < radius + wall - WALL_MM:
                out.append(f'port "{port.name}" runs into a pump screw')
    for a, b in combinations(routed.ports, 2):
        one, two = tables.thread(a.thread), tables.thread(b.thread)
        if a.on == b.on:
            have, least = math.dist(a.at, b.at), ports_apart(one, two)
            if have < least - WALL_MM:
                out.append(f'ports "{a.name}" and "{b.name}": {have:.3f} mm apart, {least:g} needed')
        elif pass_each_other(panel, a, b) and bores[a.name].distance(bores[b.name]) < wall - WALL_MM:
            out.append(f'ports "{a.name}" and "{b.name}" come within {wall:g} mm of each other')
    if tank is not None and tank_z(panel)[1] > panel.make.body - panel.rules.least_wall + WALL_MM:
        out.append(f"the tank is {panel.tank.depth:g} mm deep in a body of {panel.make.body:g} mm")
    return out


def _keep_off(
    routed: Routed, outlines: Outlines, layer: Layer, opens: Layer, own: tuple[str, ...]
) -> Outlines:
    """Return what a bore keeps off in a layer: other channels, and its own where it opens in the other layer."""
    around = {name: outline for name, outline in outlines.items() if name not in own}
    if layer == opens:
        return around
    for name in own:
        # What its channel takes of this layer without the bore itself.
        if name != "tank" and layer_runs(routed.channel(name), layer):
            around[name] = region_polygon(outline_channel(routed.channel(name), 0.0, layer), FINE_SAG)
    return around


def check_pump(panel: Panel, routed: Routed, layers: dict[Layer, Outlines]) -> list[str]:
    """The pump's bores keep off other channels, its seat and screws off keep-clear regions and the edge."""
    wall, pump = panel.rules.least_wall, panel.pump
    inlet = shapely.Point(routed.pump.inlet)
    out = []
    for end, at, bore in pump_bores(panel, routed):
        own = tuple(channel.name for channel in routed.channels if end in channel.ends)
        opens = pump_layer(routed, end)
        for layer in bore_layers(panel, pump.on, opens, bore / 2, 0.0):
            for name, outline in _keep_off(routed, layers[layer], layer, opens, own).items():
                have = outline.distance(shapely.Point(at)) - bore / 2
                if have < wall - WALL_MM:
                    out.append(
                        f'the bore of the {end}: {have:.3f} mm to channel "{name}"{say_where(panel, layer)}, '
                        f"{wall:g} needed"
                    )
    for clear in panel.keep_clear:
        box = shapely.box(*clear.box)
        if inlet.distance(box) < pump.seat_diameter / 2 - WALL_MM:
            out.append(f'the pump\'s seat lies over "{clear.name}"')
        if pump.screw_size is not None:
            least = tables.screw(pump.screw_size).diameter / 2 + wall
            if any(shapely.Point(at).distance(box) < least - WALL_MM for at in routed.pump.screws):
                out.append(f'a pump screw comes within {wall:g} mm of "{clear.name}"')
    if pump.screw_size is not None:
        inside = sheet_outline(panel).buffer(-tables.screw(pump.screw_size).diameter / 2 - wall + WALL_MM)
        if not all(inside.contains(shapely.Point(at)) for at in routed.pump.screws):
            out.append(f"a pump screw comes within {wall:g} mm of the panel's edge")
    return out
