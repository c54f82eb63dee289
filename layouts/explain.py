"""Why no routing was found: which channels, what stands in their way and where, and what to try."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import shapely

from geom.outline import Point
from geom.words import join_names
from layouts.blockers import Blocker, outline_blockers
from layouts.failure import Gap, LayoutFailure, Link, Remedy
from layouts.file.offers import keep_readable
from layouts.file_changes import set_key
from layouts.gaps import find_gap
from layouts.nets import PUMP_INLET, PUMP_OUTLET, ChannelEnd
from layouts.panel import Panel, Port
from layouts.place import pump_reach
from layouts.remedies import (
    Lay,
    Trials,
    add_layer,
    change_order,
    move_ports,
    move_regions,
    narrow_channels,
    share_groove,
    thin_cord,
    thin_walls,
    tighten_bends,
)
from layouts.routing.all_channels.route_instance import Routing
from layouts.routing.effort import LONGER_SEARCH, NORMAL, Effort, find_longer
from layouts.routing.reasons.ladder import find_reason
from layouts.routing.reasons.reason import Reason
from layouts.routing.reasons.unreachable import RIM, Unreached, find_unreached
from layouts.terrain import Terrain

MOST_PORTS = 4
"""Ports whose moves are tried."""

MOST_NAMED = 3
"""Blockers named in one sentence."""

PLACED = frozenset(("the tank", "the pump", "the drop from tank to pump"))
"""What stands elsewhere where tank and pump do."""

LEAST_NODES = 4
"""Grid nodes across under which a panel holds no channels."""


def explain_failure(
    panel: Panel,
    terrain: Terrain,
    found: Routing | Reason,
    lay: Lay | None = None,
    effort: Effort = NORMAL,
    tried: int = 1,
    impossible: int = 0,
    places: int = 1,
    counted: bool = True,
) -> LayoutFailure:
    """Return why a panel could not be routed; `raise LayoutError(explain_failure(...))` tells it.

    Parameters
    ----------
    panel : Panel
    terrain : Terrain
        Of the placement that came nearest.
    found : Routing or Reason
        What its search ended with: a routing without traces, or the reason already worked out.
    lay : callable or None
        Lays the same placement on a changed panel (keep-clear regions moved, a port freed, narrower
        channels, two layers): remedies are tried with it. It may raise RillplateError where the changed
        panel holds no such placement. None: remedies are named without having been tried.
    effort : Effort
    tried, impossible, places : int
        Placements that were tried (this one included), those of them proven impossible, and all that there are.
    counted : bool
        Whether this one is among `impossible`, if it is proven impossible. False: it is one more.

    Returns
    -------
    LayoutFailure
    """
    reason = found if isinstance(found, Reason) else find_reason(terrain.instance, found, effort)
    told = _Told(panel, terrain, reason, lay if effort.trials else None, effort)
    remedies: tuple[Remedy, ...]
    gap: Gap | None = None
    if min(terrain.grid.columns, terrain.grid.rows) < LEAST_NODES:
        text, remedies = told.tell_coarse(), (Remedy("use a finer pitch (panel.pitch)", False),)
    elif reason.kind == "unreachable":
        text, remedies = told.tell_unreachable()
    elif reason.kind == "narrow":
        text, remedies, gap = told.tell_narrow()
    else:
        text, remedies = told.tell_conflict()
    links = tuple(Link(name, told.places_of(name)) for name in reason.channels)
    cells = tuple(terrain.grid.point_of(cell % terrain.grid.cells) for cell in reason.cells)
    failure = LayoutFailure(
        panel=panel,
        placement=terrain.placement,
        kind=reason.kind,
        proven=reason.proven,
        text=text,
        remedies=tuple(sorted(remedies, key=lambda remedy: not remedy.works)),
        channels=reason.channels,
        links=links,
        cells=cells,
        gap=gap,
        at=told.find_middle(gap, links),
        tried=tried,
        # Whoever tried the placements may not have known yet that this one is impossible.
        impossible=max(impossible, 1) if counted and reason.proven else impossible + reason.proven,
        places=places,
    )
    longer = find_longer(effort)
    if failure.proven_everywhere or longer is None:
        return failure
    search = Remedy(f"{LONGER_SEARCH}--effort {longer.name}", False)
    return replace(failure, remedies=(*failure.remedies, search))


class _Told:
    """Tells one reason in the panel's terms."""

    def __init__(
        self, panel: Panel, terrain: Terrain, reason: Reason, lay: Lay | None, effort: Effort
    ) -> None:
        self.panel = panel
        self.most = effort.trials
        self.terrain = terrain
        self.reason = reason
        self.lay = lay
        self.at: Point | None = None

    def tell_coarse(self) -> str:
        instance = self.terrain.instance
        return f"a grid of {instance.columns} x {instance.rows} nodes holds no channels."

    def tell_unreachable(self) -> tuple[str, tuple[Remedy, ...]]:
        """Return what cuts a channel off, and what to try."""
        name, found = self._find_first_cut()
        number = self._number_of(name)
        ends = self.terrain.needs[number].ends
        end, others = ends[found.end], [e for n, e in enumerate(ends) if n != found.end]
        self.at = self._place_of(number, found.end)
        near = f"({self.at[0]:g}, {self.at[1]:g}) mm"
        if found.hindrance == "no place":
            room = (
                "a channel has room"
                if end.port is None
                else "a channel and a fitting with its spanner have room"
            )
            text = (
                f'channel "{name}": its end "{end.name}" has no place left where {room}; the nearest to it is '
                f"{self._nearest(end)}."
            )
        elif found.hindrance == "buried":
            text = (
                f'channel "{name}": its end "{end.name}" at {near} lies within the room that '
                f"{join_names(self._blocking(found)) or 'what stands beside it'} takes with its walls and grooves."
            )
        elif found.hindrance == "walled off":
            blocking = self._blocking(found)
            text = (
                f'channel "{name}" cannot reach "{end.name}" near {near} from "{others[0].name}": '
                f"{join_names(blocking)} stand{'s' if len(blocking) == 1 else ''} between them"
            )
            each = len(found.opening) + len(found.opening_beside) > 1
            text += "; the way would be open without any one of these." if each else "."
        else:
            text = (
                f'channel "{name}" cannot be joined: there is a way, but none with room for its bends of '
                f"{self.terrain.instance.bend_cells} cells before and after each corner, or for another channel's "
                "only port beside it."
            )
        return text, tuple(self._remedies_alone(name, found, end))

    def _find_first_cut(self) -> tuple[str, Unreached]:
        """Return the channel that is told of, and what cuts it off: first what no place of tank and pump would mend."""
        cut = [
            (name, find_unreached(self.terrain.instance, self._number_of(name)))
            for name in self.reason.channels
        ]
        for name, found in cut:
            end = self.terrain.needs[self._number_of(name)].ends[found.end]
            if found.hindrance == "no place" and end.port is not None and not self._near_placed(end):
                return name, found
        return cut[0]

    def _near_placed(self, end: ChannelEnd) -> bool:
        """Return whether what stands nearest to where an end is asked for stands elsewhere at other places."""
        return self._find_nearest(end)[1] in PLACED

    def _remedies_alone(self, name: str, found: Unreached, end: ChannelEnd) -> Iterator[Remedy]:
        tried: list[Remedy] = []
        if self.lay is not None:
            trials = Trials(self.lay, self.most, alone=name)
            names = found.opening or found.names
            if found.hindrance == "no place":
                names = tuple(f'keep-clear region "{clear.name}"' for clear in self.panel.keep_clear)
            tried += move_regions(self.panel, trials, names)
            beside = [e for n in found.beside for e in self.terrain.needs[n].ends]
            ports = tuple(e.port for e in (end, *beside) if e.port is not None)
            tried += move_ports(self.panel, trials, ports[:MOST_PORTS])
            tried += narrow_channels(self.panel, trials, (name,))
            tried += thin_cord(self.panel, trials)
            if found.hindrance == "no bend":
                tried += tighten_bends(self.panel, trials)
            tried += add_layer(self.panel, trials)
        yield from tried
        if not tried:
            if end.port is not None:
                give = "widen the box or span of" if end.port.at is None else "move"
                yield Remedy(f'{give} port "{end.port.name}"', False)
            yield Remedy("move what stands there, or make the channels narrower", False)

    def tell_narrow(self) -> tuple[str, tuple[Remedy, ...], Gap | None]:
        """Return which gap is too narrow for which channels, with its width, and what to try."""
        reason = self.reason
        names, lack = (
            join_names(tuple(f'"{name}"' for name in reason.channels)),
            reason.must_pass - reason.fit,
        )
        gap = find_gap(self.panel, self.terrain, reason)
        if gap is None:
            pitch = self.terrain.grid.pitch
            where = self.terrain.grid.point_of(reason.cells[0] % self.terrain.grid.cells)
            text = (
                f"channels {names} must all pass a gap near ({where[0]:g}, {where[1]:g}) mm, but no more than "
                f"{reason.fit} of {reason.must_pass} fit: about {reason.lacking_cells * pitch:g} mm are lacking."
            )
        else:
            x, y = _middle(gap)
            text = (
                f"channels {names} must all pass between {join_names(gap.between)} near ({x:.4g}, {y:.4g}) mm, but no "
                f"more than {reason.fit} of {reason.must_pass} fit. The gap is {gap.width:.1f} mm wide; "
            )
            wanted = (
                "they need" if gap.must_pass == reason.must_pass else f"for {gap.must_pass} channels it needs"
            )
            if gap.lacking > 0:
                text += f"{wanted} {gap.needed:.1f} mm with their walls: {gap.lacking:.1f} mm are lacking."
            else:
                text += (
                    f"{wanted} {gap.needed:.1f} mm with their walls, which it has, but not on a grid of "
                    f"{self.panel.pitch:g} mm."
                )
        return text, tuple(self._remedies_narrow(gap, lack)), gap

    def _remedies_narrow(self, gap: Gap | None, lack: int) -> Iterator[Remedy]:
        tried: list[Remedy] = []
        if self.lay is not None:
            trials = Trials(self.lay, self.most)
            tried += share_groove(self.panel, trials)
            tried += thin_cord(self.panel, trials)
            tried += add_layer(self.panel, trials)
            if gap is not None:
                tried += _widen(self.panel, trials, gap)
            tried += narrow_channels(self.panel, trials, self.reason.channels)
            tried += thin_walls(self.panel, trials)
            tried += change_order(self.panel, trials, self.reason.channels)
        yield from tried
        if not tried:
            if gap is not None and gap.lacking > 0:
                yield Remedy(
                    f"widen the gap by {gap.lacking:.1f} mm, and up to a step of the grid more", False
                )
            elif gap is not None:
                yield Remedy("use a finer pitch (panel.pitch)", False)
            if self.lay is None:
                yield Remedy("make the channels or their walls narrower", False)
        fewer = "one channel" if lack == 1 else f"{lack} channels"
        order = "" if self.lay is not None else ", or change the loop's order"
        yield Remedy(f"move ports so that {fewer} fewer must pass{order}", False)

    def tell_conflict(self) -> tuple[str, tuple[Remedy, ...]]:
        """Return which channels do not fit together, proven or only not found, and what to try."""
        reason = self.reason
        names = join_names(tuple(f'"{name}"' for name in reason.channels))
        if reason.kind == "conflict":
            text = f"channels {names} cannot all be routed"
            text += (
                " in one face: it is proven that "
                if self.panel.channel.layers == 1
                else ": it is proven that "
            )
            text += (
                "they must cross each other or come too near."
                if len(reason.channels) == 2
                else "however they run, two of them must cross or come too near; no fewer of them were found to."
            )
        else:
            text = (
                f"no routing was found in {reason.rounds} rounds: channels {names} stay in each other's way; it is "
                "not proven that there is none."
            )
            free = tuple(f'"{port.name}"' for port in self._ports() if port.within is not None)
            if free:
                places = "every place of ports" if len(free) > 1 else "every place of port"
                boxes = "their boxes" if len(free) > 1 else "its box"
                text += f" A proof would have to hold for {places} {join_names(free)} in {boxes}."
        return text, tuple(self._remedies_conflict())

    def _remedies_conflict(self) -> Iterator[Remedy]:
        tried: list[Remedy] = []
        if self.lay is not None:
            trials = Trials(self.lay, self.most)
            tried += share_groove(self.panel, trials)
            tried += thin_cord(self.panel, trials)
            tried += add_layer(self.panel, trials)
            tried += move_ports(self.panel, trials, self._ports()[:MOST_PORTS])
            tried += narrow_channels(self.panel, trials, self.reason.channels)
            regions = tuple(f'keep-clear region "{clear.name}"' for clear in self.panel.keep_clear)
            tried += move_regions(self.panel, trials, regions)
            tried += change_order(self.panel, trials, self.reason.channels)
        yield from tried
        if not tried:
            if self.panel.channel.layers == 1 and self.panel.make.closing != "one-piece":
                changes = keep_readable(self.panel, set_key(2, "channel", "layers"))
                yield Remedy("cut channels in both faces (channel.layers = 2)", False, changes)
            yield Remedy(
                "give a port of theirs a box or a span instead of a fixed place, or another face", False
            )
            yield Remedy("make channels and walls narrower, or the panel larger", False)
        if self.lay is None:
            yield Remedy("another order of the parts in the loop", False)

    def _number_of(self, name: str) -> int:
        return [net.name for net in self.terrain.instance.nets].index(name)

    def _ports(self) -> tuple[Port, ...]:
        """Return the ports of the channels concerned, those that have no choice first."""
        ports = [
            end.port
            for name in self.reason.channels
            for end in self.terrain.needs[self._number_of(name)].ends
            if end.port is not None
        ]
        return tuple(sorted(ports, key=lambda port: port.at is None))

    def _blocking(self, found: Unreached) -> tuple[str, ...]:
        """Return the names of what is in the way: those that alone would open it, or else all, longest first."""
        nets = self.terrain.instance.nets
        if found.opening or found.opening_beside:
            names, beside = found.opening, found.opening_beside
        else:
            names, beside = tuple(name for name in found.names if name != RIM), found.beside
        named = (
            *names[:MOST_NAMED],
            *(f'a port of channel "{nets[net].name}"' for net in beside[:MOST_NAMED]),
        )
        return named or (RIM,)

    def _nearest(self, end: ChannelEnd) -> str:
        """Return what stands nearest to where an end is asked for, with the distance between their outlines."""
        away, name = self._find_nearest(end)
        return f"{name}, {away:.3g} mm away" if away > 0 else f"{name}, over it"

    def _find_nearest(self, end: ChannelEnd) -> tuple[float, str]:
        """Return what stands nearest to where an end is asked for, and how far its outline is from there, [mm].

        An end without a port is on a wall of the tank or in one of the pump's bores; these are not in its own way.
        """
        placement, port = self.terrain.placement, end.port
        blockers = list(outline_blockers(self.panel, placement).values())
        pump = shapely.Point(placement.inlet).buffer(pump_reach(self.panel))
        blockers.append(Blocker("the pump", pump, 0.0))
        blockers += [
            Blocker(f'port "{e.port.name}"', shapely.Point(find_port_middle(self.panel, e.port)), 0.0)
            for need in self.terrain.needs
            for e in need.ends
            if e.port is not None and e.port.at is not None and e.port != port
        ]
        own: tuple[str, ...] = ()
        if port is not None:
            box = port.within
            asked = shapely.Point(find_port_middle(self.panel, port)) if box is None else shapely.box(*box)
        elif end.name in (PUMP_INLET, PUMP_OUTLET):
            asked = shapely.Point(placement.inlet if end.name == PUMP_INLET else placement.outlet)
            own = ("the pump", "the drop from tank to pump")
        else:
            asked = (
                shapely.Point(placement.top)
                if placement.box is None
                else shapely.box(*placement.box).exterior
            )
            own = ("the tank", "the drop from tank to pump")
        return min(
            (round(float(asked.distance(one.shape)), 6), one.name) for one in blockers if one.name not in own
        )

    def places_of(self, name: str) -> tuple[Point, ...]:
        """Return where the ends of a channel stand, or about where they may."""
        number = self._number_of(name)
        return tuple(self._place_of(number, end) for end in range(len(self.terrain.needs[number].ends)))

    def _place_of(self, number: int, end: int) -> Point:
        grid, terminals = self.terrain.grid, self.terrain.instance.nets[number].ends[end]
        if terminals:
            nodes = [grid.point_of(t.node % grid.cells) for t in terminals]
            mean = (sum(x for x, _ in nodes) / len(nodes), sum(y for _, y in nodes) / len(nodes))
            return min(nodes, key=lambda p: ((p[0] - mean[0]) ** 2 + (p[1] - mean[1]) ** 2, p))
        asked = self.terrain.needs[number].ends[end]
        if asked.port is not None:
            return find_port_middle(self.panel, asked.port)
        placement = self.terrain.placement
        known = {PUMP_INLET: placement.inlet, PUMP_OUTLET: placement.outlet}
        return known.get(asked.name, placement.top)

    def find_middle(self, gap: Gap | None, links: tuple[Link, ...]) -> Point:
        """Return where to look first."""
        if gap is not None:
            return _middle(gap)
        if self.at is not None:
            return self.at
        ends = [end for link in links for end in link.ends]
        return (sum(x for x, _ in ends) / len(ends), sum(y for _, y in ends) / len(ends))


def find_port_middle(panel: Panel, port: Port) -> Point:
    """Return the middle of where a port may stand, [mm]: on the panel's edge for one on an edge."""
    if port.within is not None:
        x0, y0, x1, y1 = port.within
        return (x0 + x1) / 2, (y0 + y1) / 2
    size = panel.width if port.on in ("top", "bottom") else panel.height
    low, high = port.between if port.between is not None else (0.0, size)
    along = (low + high) / 2
    x, y = port.at if port.at is not None else (along, along)
    return {"top": (x, panel.height), "bottom": (x, 0.0), "left": (0.0, y), "right": (panel.width, y)}.get(
        port.on, (x, y)
    )


def _widen(panel: Panel, trials: Trials, gap: Gap) -> Iterator[Remedy]:
    """Yield how far a keep-clear region on either side of a gap has to give way."""
    dx, dy = gap.end[0] - gap.start[0], gap.end[1] - gap.start[1]
    along = ("left", "right") if abs(dx) > abs(dy) else ("down", "up")
    outwards = along if (dx if along[0] == "left" else dy) > 0 else along[::-1]
    for name, way in zip(gap.between, outwards, strict=True):
        yield from move_regions(panel, trials, (name,), (way,))


def _middle(gap: Gap) -> Point:
    return (gap.start[0] + gap.end[0]) / 2, (gap.start[1] + gap.end[1]) / 2
