"""A changed panel laid out from its last layout: what still holds stays, the rest is routed anew round it."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import numpy as np

from geom.errors import LayoutError
from layouts.failure import LayoutFailure
from layouts.ground import survey_panel
from layouts.kept_failure import explain_clash
from layouts.laid_out import LaidOut, as_laid
from layouts.panel import Panel
from layouts.replan.hold_place import explain_no_hold, hold_places
from layouts.replan.put_back import put_back
from layouts.replan.stuck import find_shut, tell_stuck
from layouts.routing.all_channels.negotiate import CHEAP_ENDS, Negotiation
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.one_channel.trace import Trace
from layouts.routing.one_channel.ways import Way
from layouts.routing.trees.trees import FEW_SEARCHES, SAME
from layouts.terrain import Terrain, lay_terrain
from layouts.verify import verify_routed

MOST_PLACES = 3
"""Places of tank and pump that are routed, each unlike the others, before the search begins anew."""

PRICES = (0.5, 1.6, 15)
"""First price, growth a round and most rounds of a negotiation: as a whole search begins."""

RESTARTS = 1
"""Negotiations of all channels together, where those that still hold cannot stay, or had better not."""

WORSE = 1.1
"""Times the last layout's cost: a dearer one is held against that of all channels routed anew."""

DETOUR = 1.05
"""Times its cost alone: where the channels that are left cost more, those in their way are asked to move too."""

NEAR_CELLS = 2
"""Cells between two channels, beyond their least distance, up to which one may gain where the other has moved."""


def re_route(panel: Panel, before: LaidOut) -> LaidOut:
    """Return a changed panel laid out as near as can be to its last layout.

    Tank and pump are held where they may still stand, else they move as little as can be, together. Channels that
    still hold stay where they ran; the others are routed anew round them, then with those in their way, then all
    anew; then the same with tank and pump in a few other places.

    Parameters
    ----------
    panel : Panel
    before : LaidOut
        Of the panel before it was changed; of another panel it helps little, but does no harm.

    Returns
    -------
    LaidOut
        Verified on exact outlines; without a bound.

    Raises
    ------
    LayoutError
        Nothing was found at once: the search of the whole plan looks further, and tells what would help.
    """
    ground = survey_panel(panel)
    if ground.clash is not None:
        raise LayoutError(explain_clash(panel, ground.clash))
    stuck: list[LayoutFailure] = []
    for placement in islice(hold_places(ground, before.placement), MOST_PLACES):
        try:
            laid = _lay_at(lay_terrain(ground, placement), before)
        except LayoutError as error:
            # A route that the file keeps cannot stand there.
            if error.failure is None:
                raise
            laid = error.failure
        if isinstance(laid, LaidOut):
            return laid
        stuck.append(laid)
    if not stuck:
        raise LayoutError(explain_no_hold(ground))
    raise LayoutError(replace(stuck[0], tried=len(stuck), places=None))


def _lay_at(terrain: Terrain, before: LaidOut) -> LaidOut | LayoutFailure:
    """Return the layout with tank and pump in their place, or why none was found."""
    shut = find_shut(terrain)
    if shut is not None:
        return shut
    had = before.routed.cost / terrain.ground.costs.unit_pa
    rest, short = _route_rest(terrain, before)
    if rest is not None and (short or _cost(terrain, rest) <= WORSE * had):
        laid = _verify(terrain, rest)
        if isinstance(laid, LaidOut):
            return laid
    problem = ""
    trees = any(len(net.ends) > 2 for net in terrain.instance.nets)
    for searches in (0, FEW_SEARCHES) if trees else (0,):
        # Trees that are only grown may come too near themselves; those searched for as a whole seldom do.
        anew = route_instance(terrain.instance, 0, 0, RESTARTS, searches=searches)
        found = [traces for traces in (rest, anew.traces or None) if traces is not None]
        for traces in sorted(found, key=lambda traces: _cost(terrain, traces)):
            laid = _verify(terrain, traces)
            if isinstance(laid, LaidOut):
                return laid
            problem = laid
        if not anew.traces:
            break
        rest = None
    return tell_stuck(terrain, anew, problem)


def _cost(terrain: Terrain, traces: tuple[Trace, ...]) -> float:
    return terrain.feed + sum(trace.cost for trace in traces)


def _verify(terrain: Terrain, traces: tuple[Trace, ...]) -> LaidOut | str:
    """Return channels as a layout where they keep all distances on exact outlines, else the first that is kept ill."""
    laid = as_laid(terrain, traces, None)
    problems = verify_routed(terrain.ground.panel, laid.routed)
    return problems[0] if problems else laid


def _route_rest(terrain: Terrain, before: LaidOut) -> tuple[tuple[Trace, ...] | None, bool]:
    """Return the channels, those that still hold put back first, and whether the others took hardly a detour.

    None where the others find no way round those.
    """
    search = Negotiation(terrain.instance)
    nets = list(range(len(terrain.instance.nets)))
    left = put_back(search, terrain, before)
    if not left:
        return _list_traces(search), True
    if not _route_alone(search, left):
        return None, False
    kept = search.keep()
    best: list[Way | None] | None = None
    cost, short = np.inf, False
    held = [net for net in nets if net not in left]
    for also in (_list_none, _list_in_way):
        search.restore(kept)
        moved = [*left, *also(search, left, held)]
        if best is not None and len(moved) == len(left):
            break
        if search.negotiate(moved, *PRICES, None, hard=True):
            continue
        search.improve_each([*moved, *_list_near(search, moved, held)], searches=0)
        if search.cost() < cost - SAME:
            best, cost, short = search.keep(), search.cost(), _is_short(search, left)
        if short:
            break
    if best is None:
        return None, False
    search.restore(best)
    return _list_traces(search), short


def _list_none(search: Negotiation, left: list[int], held: list[int]) -> list[int]:
    return []


def _route_alone(search: Negotiation, nets: list[int]) -> bool:
    """Route each of `nets` with nothing else in the plate; return whether all can be."""
    for net in nets:
        cheap = len(search.instance.nets[net].ends) <= CHEAP_ENDS
        if search.route_alone(net, int(cheap)) is None:
            return False
    return True


def _list_in_way(search: Negotiation, left: list[int], held: list[int]) -> list[int]:
    """Return which nets that were put back stand in the way of the others' cheapest channels."""
    for net in left:
        search.put(net, search.alone[net])
    clashing = search.list_clashing(held)
    for net in left:
        search.put(net, None)
    return clashing


def _is_short(search: Negotiation, nets: list[int]) -> bool:
    """Return whether nets cost together hardly more than each alone."""
    ways, alone = [search.ways[net] for net in nets], [search.alone[net] for net in nets]
    have = sum(way.cost for way in ways if way is not None)
    return have <= DETOUR * sum(trace.cost for trace in alone if trace is not None)


def _list_near(search: Negotiation, moved: list[int], held: list[int]) -> list[int]:
    """Return which of the nets held run beside those moved, and may gain by it."""
    columns, plane = search.instance.columns, search.instance.columns * search.instance.rows
    offsets = search.instance.offsets

    def spots(net: int) -> tuple[np.ndarray, np.ndarray]:
        way = search.ways[net]
        cells = np.zeros(0, np.int64) if way is None else way.channel % plane
        return cells % columns, cells // columns

    near = []
    for net in held:
        if net in moved:
            continue
        x, y = spots(net)
        for other in moved:
            ox, oy = spots(other)
            pair = offsets[search.instance.nets[net].channel_class][search.instance.nets[other].channel_class]
            reach = int(np.abs(pair).max()) + NEAR_CELLS
            apart = np.maximum(np.abs(x[:, None] - ox), np.abs(y[:, None] - oy))
            if apart.size and int(apart.min()) <= reach:
                near.append(net)
                break
    return near


def _list_traces(search: Negotiation) -> tuple[Trace, ...]:
    return tuple(trace for trace in search.traces if trace is not None)
