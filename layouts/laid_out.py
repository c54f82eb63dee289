"""A layout with what it was made of: where a changed panel is laid out from."""

from __future__ import annotations

from dataclasses import dataclass

from layouts.as_routed import to_routed
from layouts.grid import Grid
from layouts.place import Placement
from layouts.plan import Routed
from layouts.routing.one_channel.trace import Trace
from layouts.terrain import Terrain


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A layout with what it was made of on the grid, so that a changed panel may be laid out from it.

    Parameters
    ----------
    routed : Routed
        Verified on exact outlines.
    placement : Placement
        Of tank and pump.
    traces : tuple of Trace
        In the order of the instance's nets, then those whose route the file keeps: all channels but the feed.
    names : tuple of str
        The channel of each trace.
    grid : Grid
        That of the traces' cells.
    """

    routed: Routed
    placement: Placement
    traces: tuple[Trace, ...]
    names: tuple[str, ...]
    grid: Grid


def as_laid(terrain: Terrain, traces: tuple[Trace, ...], bound: float | None) -> LaidOut:
    """Return a routing as a layout.

    Parameters
    ----------
    terrain : Terrain
    traces : tuple of Trace
        In the order of the instance's nets.
    bound : float or None
        As in `to_routed`.

    Returns
    -------
    LaidOut
        Not yet verified.
    """
    names = tuple(need.name for need in (*terrain.needs, *(one.need for one in terrain.ground.kept)))
    routed = to_routed(terrain, traces, bound)
    return LaidOut(routed, terrain.placement, (*traces, *terrain.kept), names, terrain.grid)
