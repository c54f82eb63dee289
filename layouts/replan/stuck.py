"""Why no layout was found at once, in few words: nothing is searched for or tried beyond what is known already."""

from __future__ import annotations

from geom.outline import Point
from geom.words import join_names
from layouts.explain import find_port_middle
from layouts.failure import FailureKind, LayoutFailure, Link
from layouts.nets import PUMP_INLET, PUMP_OUTLET, ChannelEnd, ChannelNeed
from layouts.routing.all_channels.route_instance import Routing
from layouts.terrain import Terrain


def find_shut(terrain: Terrain) -> LayoutFailure | None:
    """Return the failure of a place at which some channel's end has nowhere to stand; None where all have.

    Parameters
    ----------
    terrain : Terrain

    Returns
    -------
    LayoutFailure or None
    """
    for need, net in zip(terrain.needs, terrain.instance.nets, strict=True):
        for asked, end in zip(need.ends, net.ends, strict=True):
            if not end:
                room = (
                    "a channel has room"
                    if asked.port is None
                    else "a channel and a fitting with its spanner have room"
                )
                text = (
                    f'channel "{need.name}": its end "{asked.name}" has no place left where {room} beside what '
                    "stands there."
                )
                return _fail(terrain, "unreachable", text, (need,), _place_of(terrain, asked))
    return None


def tell_stuck(terrain: Terrain, routing: Routing, problem: str) -> LayoutFailure:
    """Return the failure of a place at which the channels were not routed.

    Parameters
    ----------
    terrain : Terrain
    routing : Routing
        Without traces, or with some that came too near each other on exact outlines.
    problem : str
        What is wrong with these, as `layouts.verify.verify_routed` tells it; empty without.

    Returns
    -------
    LayoutFailure
    """
    needs = [need for need in terrain.needs if need.name in routing.conflicting] or list(terrain.needs)
    one = len(needs) == 1
    listed = join_names(tuple(f'"{need.name}"' for need in needs))
    names = f"channel{'' if one else 's'} {listed}"
    ends = [_place_of(terrain, end) for need in needs for end in need.ends]
    at = (sum(x for x, _ in ends) / len(ends), sum(y for _, y in ends) / len(ends))
    if routing.unreachable:
        finds = "finds no way between its ends" if one else "find no ways between their ends"
        text = f"{names} {finds} past what stands fast."
        return _fail(terrain, "unreachable", text, tuple(needs), at)
    if routing.traces:
        text = f"{names} {'was' if one else 'were'} routed, but too near what stands beside: {problem}."
        return _fail(terrain, "refused", text, tuple(needs), at)
    text = f"no way {'' if one else 'past each other '}was found at once for {names}; a longer search may find one."
    return _fail(terrain, "not found", text, tuple(needs), at)


def _fail(
    terrain: Terrain, kind: FailureKind, text: str, needs: tuple[ChannelNeed, ...], at: Point
) -> LayoutFailure:
    links = tuple(Link(need.name, tuple(_place_of(terrain, end) for end in need.ends)) for need in needs)
    return LayoutFailure(
        panel=terrain.ground.panel,
        placement=terrain.placement,
        kind=kind,
        proven=False,
        text=text,
        remedies=(),
        channels=tuple(need.name for need in needs),
        links=links,
        cells=(),
        gap=None,
        at=at,
    )


def _place_of(terrain: Terrain, end: ChannelEnd) -> Point:
    """Return where an end stands, or about where it may, [mm]."""
    placement = terrain.placement
    if end.port is not None:
        return find_port_middle(terrain.ground.panel, end.port)
    return {PUMP_INLET: placement.inlet, PUMP_OUTLET: placement.outlet}.get(end.name, placement.top)
