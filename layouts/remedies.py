"""What would let a panel be routed: changes that are tried, the least of each kind told."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from geom.errors import RillplateError
from geom.findings import KeyChange
from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from geom.standards import tables
from layouts.clearance import clearances_of
from layouts.faces import least_body
from layouts.failure import Remedy
from layouts.file.offers import keep_readable
from layouts.file_changes import set_channel_width, set_clear_box, set_key, set_length, set_port_place
from layouts.nets import list_parts
from layouts.panel import Box, KeepClear, Panel, Port, Step
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.reasons.narrow import find_narrow
from layouts.terrain import Terrain

Lay = Callable[[Panel], Terrain]

TRIAL_ROUNDS = 20
"""Rounds of bidding for each."""

MOST_MOVE = 60.0
"""Farthest that a keep-clear region or a port is moved, [mm]."""

MOVE_STEP = 1.0
"""Step of such moves, [mm]."""

LEAST_WIDTH = 1.0
WIDTH_STEP = 0.5
"""Least width of a channel that is tried, and the step, [mm]."""

LEAST_SHARE = 0.5
"""Share of the asked width under which a channel is another one, not a narrower one: it takes far more head."""

WALL_STEP = 0.25
LEAST_WALL = 1.0
"""Step of the walls that are tried, and the least, [mm]; under it no plate holds: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Found:
    """A changed panel that could be routed: where each port came to stand, [mm]."""

    ports: dict[str, Point]


class Attempts(ABC):
    """Tries changed panels, up to a number of them.

    Parameters
    ----------
    most : int
        Changed panels that are tried at most.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self.count = 0

    @abstractmethod
    def attempt(self, panel: Panel) -> Found | None:
        """Return what was found on a changed panel; None where the change does not help."""

    def route(self, panel: Panel) -> Found | None:
        """Return what was found on a changed panel; None where the change does not help, or enough was tried."""
        if self.count >= self.most:
            return None
        self.count += 1
        return self.attempt(panel)

    def find_least(
        self, change: Callable[[float], Panel], step: float, most: float
    ) -> tuple[float, Found] | None:
        """Return the least whole number of steps, [mm], with which a changed panel is routed, and how.

        Steps are doubled until one works, then halved back: what works is taken to work farther on too.
        """
        count, low, found = 1, 0, None
        last = math.floor(most / step + 1e-9)
        while found is None and low < last:
            count = min(count, last)
            found = self.route(change(count * step))
            if found is None:
                low, count = count, 2 * count
        if found is None:
            return None
        while count - low > 1:
            middle = (count + low) // 2
            nearer = self.route(change(middle * step))
            if nearer is None:
                low = middle
            else:
                count, found = middle, nearer
        return count * step, found


class Trials(Attempts):
    """Routes changed panels.

    Parameters
    ----------
    lay : callable
        Lays the failed placement on a changed panel.
    most : int
        Changed panels that are routed at most.
    alone : str or None
        Name of the one channel that has to be routed; None: all.
    """

    def __init__(self, lay: Lay, most: int, alone: str | None = None) -> None:
        super().__init__(most)
        self.lay = lay
        self.alone = alone

    def attempt(self, panel: Panel) -> Found | None:
        """Return where ports come to stand on a changed panel; None where it was not routed."""
        try:
            terrain = self.lay(panel)
        except RillplateError:
            return None
        if self.alone is None and find_narrow(terrain.instance) is not None:
            return None
        search = Negotiation(terrain.instance)
        nets = [n for n, net in enumerate(terrain.instance.nets) if self.alone in (None, net.name)]
        if search.negotiate(nets, 0.5, 1.6, TRIAL_ROUNDS, None):
            return None
        ports = {}
        for need, trace in zip(terrain.needs, search.traces, strict=True):
            for end, terminal in zip(need.ends, trace.chosen if trace is not None else (), strict=False):
                ports[end.name] = terrain.grid.point_of(terminal.node % terrain.grid.cells)
        return Found(ports)


WAYS = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


def move_regions(
    panel: Panel, trials: Attempts, names: tuple[str, ...], ways: tuple[str, ...] = tuple(WAYS)
) -> Iterator[Remedy]:
    """Yield for each keep-clear region the shortest move that helps.

    Parameters
    ----------
    panel : Panel
    trials : Attempts
    names : tuple of str
        As a terrain's labels name them; others are passed over.
    ways : tuple of str
        Ways that are tried, of "left", "right", "up" and "down".
    """
    for clear in panel.keep_clear:
        if f'keep-clear region "{clear.name}"' not in names:
            continue
        if trials.route(_with_region(panel, clear, None)) is None:
            continue
        best: tuple[float, str] | None = None
        for way in ways:
            dx, dy = WAYS[way]
            most = MOST_MOVE if best is None else best[0] - MOVE_STEP

            def moved(by: float, clear: KeepClear = clear, dx: int = dx, dy: int = dy) -> Panel:
                return _with_region(panel, clear, _move_box(clear.box, dx * by, dy * by))

            found = trials.find_least(moved, MOVE_STEP, most)
            if found is not None:
                best = (found[0], way)
        if best is not None:
            yield Remedy(_tell_move(panel, clear, *best), True, _move_region(panel, clear, *best))
        else:
            yield Remedy(f'make keep-clear region "{clear.name}" smaller, or do without it', True)


def _tell_move(panel: Panel, clear: KeepClear, by: float, way: str) -> str:
    """Return the words for a region that gives way; one at the panel's edge ends earlier instead."""
    x0, y0, x1, y1 = clear.box
    at_edge = {"left": x0 <= 0, "right": x1 >= panel.width, "down": y0 <= 0, "up": y1 >= panel.height}
    if not at_edge[way]:
        return f'move keep-clear region "{clear.name}" {by:g} mm {way}'
    end = {"left": "right", "right": "left", "down": "upper", "up": "lower"}[way]
    return f'shorten keep-clear region "{clear.name}" by {by:g} mm at its {end} end'


def _move_region(panel: Panel, clear: KeepClear, by: float, way: str) -> tuple[KeyChange, ...]:
    """Return what `_tell_move` says as changes to the file: of a box moved over the edge the panel's part is left."""
    dx, dy = WAYS[way]
    x0, y0, x1, y1 = _move_box(clear.box, dx * by, dy * by)
    box = (max(0.0, x0), max(0.0, y0), min(panel.width, x1), min(panel.height, y1))
    return keep_readable(panel, set_clear_box(panel, clear, box))


def _move_box(box: Box, dx: float, dy: float) -> Box:
    x0, y0, x1, y1 = box
    return x0 + dx, y0 + dy, x1 + dx, y1 + dy


def _with_region(panel: Panel, clear: KeepClear, box: Box | None) -> Panel:
    kept: list[KeepClear] = []
    for one in panel.keep_clear:
        if one is not clear:
            kept.append(one)
        elif box is not None:
            kept.append(replace(one, box=box))
    return replace(panel, keep_clear=tuple(kept))


def narrow_channels(panel: Panel, trials: Attempts, names: tuple[str, ...]) -> Iterator[Remedy]:
    """Yield the widest channels, in steps, that help: all of the usual width, and each with one of its own.

    Parameters
    ----------
    panel : Panel
    trials : Attempts
    names : tuple of str
        Of the channels concerned.
    """
    channel, make = panel.channel, panel.make
    tool = (panel.printing.line_width or 0.0) if make.method == "printed" else make.cutter
    own = tuple(name for name in dict(channel.own) if name in names)
    for name in (None, *own) if len(own) < len(names) else own:
        width = channel.width if name is None else channel.width_of(name)

        def narrowed(by: float, name: str | None = name, width: float = width) -> Panel:
            if name is None:
                return replace(panel, channel=replace(channel, width=width - by, widen_to=None))
            widths = {**dict(channel.own), name: width - by}
            return replace(panel, channel=replace(channel, own=tuple(widths.items())))

        least = max(LEAST_WIDTH, tool, LEAST_SHARE * width)
        found = trials.find_least(narrowed, WIDTH_STEP, width - least)
        if found is not None:
            what, narrow = "the channels" if name is None else f'channel "{name}"', width - found[0]
            changes = keep_readable(panel, set_channel_width(name, narrow))
            yield Remedy(f"make {what} {narrow:g} mm wide (now {width:g} mm)", True, changes)


def thin_walls(panel: Panel, trials: Attempts) -> Iterator[Remedy]:
    """Yield the thickest walls, in steps, that help."""
    wall = panel.rules.least_wall

    def thinned(by: float) -> Panel:
        return replace(panel, rules=replace(panel.rules, least_wall=wall - by))

    found = trials.find_least(thinned, WALL_STEP, wall - LEAST_WALL)
    if found is not None:
        thin = wall - found[0]
        changes = keep_readable(panel, set_length(thin, "rules", "least_wall"))
        yield Remedy(f"allow walls of {thin:g} mm (rules.least_wall, now {wall:g} mm)", True, changes)


def tighten_bends(panel: Panel, trials: Attempts) -> Iterator[Remedy]:
    """Yield the largest bend radius, in steps, that helps."""
    channel = panel.channel

    def tightened(by: float) -> Panel:
        return replace(panel, channel=replace(channel, bend_radius=channel.bend_radius - by))

    found = trials.find_least(tightened, 1.0, channel.bend_radius - channel.width)
    if found is not None:
        radius = channel.bend_radius - found[0]
        changes = keep_readable(panel, set_length(radius, "channel", "bend_radius"))
        yield Remedy(f"use a bend radius of {radius:g} mm (now {channel.bend_radius:g} mm)", True, changes)


def add_layer(panel: Panel, trials: Attempts) -> Iterator[Remedy]:
    """Yield the second face, where the panel has one, with the body that it needs; untried where it cannot be."""
    if panel.channel.layers == 2 or panel.make.closing == "one-piece":
        return
    body, least = panel.make.body, least_body(panel.channel.depth, panel.rules.least_wall)
    both = replace(panel, channel=replace(panel.channel, layers=2))
    said, changes = "cut channels in both faces (channel.layers = 2)", [set_key(2, "channel", "layers")]
    if body < least - SAME_MM:
        both = replace(both, make=replace(both.make, body=least))
        said += f", in a body of {least:g} mm (make.body, now {body:g} mm)"
        changes.append(set_length(least, "make", "body"))
    pump = panel.pump
    apart = (pump.inlet_bore + pump.outlet_bore) / 2 + clearances_of(both).channel_gap
    if pump.on == "front" and math.hypot(*pump.outlet_offset) < apart - SAME_MM:
        yield Remedy(f"{said}, with a pump whose bores stand {apart:.3g} mm apart", False)
    elif trials.route(both) is not None:
        yield Remedy(said, True, keep_readable(panel, *changes))


def share_groove(panel: Panel, trials: Attempts) -> Iterator[Remedy]:
    """Yield one groove between two channels instead of two, where a cord seals them."""
    if panel.make.closing != "cord" or panel.make.share_groove:
        return
    if trials.route(replace(panel, make=replace(panel.make, share_groove=True))) is not None:
        changes = keep_readable(panel, set_key(True, "make", "share_groove"))
        yield Remedy(
            "let neighbours share a groove where two do not fit (make.share_groove = true)", True, changes
        )


def thin_cord(panel: Panel, trials: Attempts) -> Iterator[Remedy]:
    """Yield the thickest of the thinner cords that helps, where a cord seals the channels."""
    if panel.make.closing != "cord":
        return
    for section in reversed(tables.cord_sections()):
        if section >= panel.make.cord - SAME_MM:
            continue
        if trials.route(replace(panel, make=replace(panel.make, cord=section))) is not None:
            changes = keep_readable(panel, set_length(section, "make", "cord"))
            yield Remedy(
                f"use a cord of {section:g} mm (make.cord, now {panel.make.cord:g} mm)", True, changes
            )
            return


def change_order(panel: Panel, trials: Attempts, names: tuple[str, ...]) -> Iterator[Remedy]:
    """Yield the first exchange of two neighbours in the loop that helps, of those at the channels concerned.

    Parameters
    ----------
    panel : Panel
    trials : Attempts
    names : tuple of str
        Of the channels concerned.
    """
    loop = panel.loop
    for k in range(1, len(loop) - 2):
        one, two = loop[k], loop[k + 1]
        # Pump and tank keep their places: the pump stands under the tank.
        if "pump" in (one, two) or not _joins(names, (*list_parts(one), *list_parts(two))):
            continue
        order = (*loop[:k], two, one, *loop[k + 2 :])
        if trials.route(replace(panel, loop=order)) is not None:
            before, after = " and ".join(list_parts(two)), " and ".join(list_parts(one))
            changes = keep_readable(panel, set_key(_write_steps(order), "loop", "order"))
            yield Remedy(f"let the loop pass {before} before {after} (loop.order)", True, changes)
            return


def _write_steps(steps: tuple[Step, ...]) -> list[Any]:
    """Return an order of the loop as the file has it."""
    return [step if isinstance(step, str) else _write_steps(step) for step in steps]


def _joins(names: tuple[str, ...], parts: tuple[str, ...]) -> bool:
    """Return whether one of some channels begins or ends at one of some parts."""
    ends = {part for name in names for side in name.split(" - ") for part in side.split(" + ")}
    return not ends.isdisjoint(parts)


def move_ports(panel: Panel, trials: Attempts, ports: tuple[Port, ...]) -> Iterator[Remedy]:
    """Yield the shortest move of one port that helps: of all those given the nearest.

    Parameters
    ----------
    panel : Panel
    trials : Attempts
    ports : tuple of Port
    """
    best: tuple[float, Port, Point] | None = None
    for port in ports:
        most = MOST_MOVE if best is None else best[0] - panel.pitch
        if most < panel.pitch or trials.route(free_port(panel, port, most)) is None:
            continue

        def freed(by: float, port: Port = port) -> Panel:
            return free_port(panel, port, by)

        found = trials.find_least(freed, panel.pitch, most)
        # Where one channel alone is tried, ports of others stand nowhere yet.
        place = None if found is None else found[1].ports.get(port.name)
        if found is not None and place is not None:
            best = (found[0], port, place)
    if best is not None:
        _, port, (x, y) = best
        at = f"({x:g}, {y:g}) mm"
        if port.on in EDGES:
            at = f"{x if port.on in ('top', 'bottom') else y:g} mm along the {port.on} edge"
        by = _measure_move(port, (x, y))
        changes = keep_readable(panel, *set_port_place(port, (x, y)))
        yield Remedy(f'move port "{port.name}" by {by:.3g} mm, to {at}', True, changes)


def _measure_move(port: Port, to: Point) -> float:
    """Return how far a place lies from where a port may stand now, [mm]; along the edge for one on an edge."""
    if port.on in EDGES:
        along = 0 if port.on in ("top", "bottom") else 1
        low, high = port.between if port.between is not None else ((port.at or to)[along],) * 2
        return max(low - to[along], to[along] - high, 0.0)
    x0, y0, x1, y1 = port.within if port.within is not None else (*(port.at or to), *(port.at or to))
    return math.hypot(max(x0 - to[0], to[0] - x1, 0.0), max(y0 - to[1], to[1] - y1, 0.0))


def free_port(panel: Panel, port: Port, by: float) -> Panel:
    """Return the panel with a port free to stand up to `by` beyond where it may stand now, [mm]."""
    if port.on in EDGES:
        size = panel.width if port.on in ("top", "bottom") else panel.height
        along = 0 if port.on in ("top", "bottom") else 1
        span = port.between if port.between is not None else (port.at[along],) * 2 if port.at else (0.0, size)
        free = replace(port, at=None, between=(max(0.0, span[0] - by), min(size, span[1] + by)))
    else:
        box = port.within if port.within is not None else (*port.at, *port.at) if port.at else None
        if box is None:
            return panel
        x0, y0, x1, y1 = box
        wider = (max(0.0, x0 - by), max(0.0, y0 - by), min(panel.width, x1 + by), min(panel.height, y1 + by))
        free = replace(port, at=None, within=wider)
    parts = tuple(
        replace(
            part,
            inlet=free if part.inlet.name == port.name else part.inlet,
            outlet=free if part.outlet.name == port.name else part.outlet,
        )
        for part in panel.parts
    )
    tank = panel.tank
    if tank.inlet is not None and tank.inlet.name == port.name:
        tank = replace(tank, inlet=free)
    drain = free if panel.drain is not None and panel.drain.name == port.name else panel.drain
    return replace(panel, parts=parts, tank=tank, drain=drain)
