"""Why a route that the file keeps cannot stand, and what to try: the route found again."""

from __future__ import annotations

from geom.findings import KeyChange
from geom.outline import Point
from layouts.failure import LayoutFailure, Link, Remedy
from layouts.keep_routes import Clash, name_kept
from layouts.panel import KeepRoute, Panel
from layouts.place import Placement


def explain_clash(panel: Panel, clash: Clash, placement: Placement | None = None) -> LayoutFailure:
    """Return why a kept route cannot stand; `raise LayoutError(explain_clash(...))` tells it.

    Parameters
    ----------
    panel : Panel
    clash : Clash
    placement : Placement or None
        Of tank and pump where it cannot stand; None: whatever their place.

    Returns
    -------
    LayoutFailure
        Proven: of that place, or of all.
    """
    number = next(n for n, route in enumerate(panel.keep_routes) if route.channel == clash.channel)
    ends = _list_ends(panel.keep_routes[number])
    return LayoutFailure(
        panel=panel,
        placement=placement,
        kind="kept route",
        proven=True,
        text=f"{name_kept(clash.channel)} cannot stand: {clash.text}.",
        remedies=(release_route(panel, number, False),),
        channels=(clash.channel,),
        links=(Link(clash.channel, ends),),
        cells=clash.cells,
        gap=None,
        at=clash.cells[0],
        tried=0 if placement is None else 1,
        impossible=0 if placement is None else 1,
        places=0 if placement is None else 1,
        key=f"keep_route.{number + 1}",
    )


def release_route(panel: Panel, number: int, works: bool) -> Remedy:
    """Return the remedy that a channel's route be found again.

    Parameters
    ----------
    panel : Panel
    number : int
        Of the kept route, from 0.
    works : bool
        Whether it was tried and helped.

    Returns
    -------
    Remedy
    """
    route = panel.keep_routes[number]
    where = f" of line {route.line}" if route.line else ""
    return Remedy(
        f'let the route of channel "{route.channel}" be found again (take its [[keep_route]]{where} out)',
        works,
        (KeyChange(("keep_route", number), None),),
    )


def _list_ends(route: KeepRoute) -> tuple[Point, ...]:
    runs = (*route.back, *route.front)
    return runs[0][0], runs[0][-1]
