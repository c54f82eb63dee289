"""Why a routing that was found is no layout: it does not keep all distances on exact outlines."""

from __future__ import annotations

from layouts.explain import find_port_middle
from layouts.failure import LayoutFailure, Link, Remedy
from layouts.panel import Panel
from layouts.routing.effort import LONGER_SEARCH, NORMAL, THOROUGH, Effort
from layouts.routing.one_channel.trace import Trace
from layouts.terrain import Terrain


def explain_refused(
    panel: Panel,
    terrain: Terrain,
    traces: tuple[Trace, ...],
    problems: tuple[str, ...],
    tried: int = 1,
    impossible: int = 0,
    places: int = 1,
    effort: Effort = NORMAL,
) -> LayoutFailure:
    """Return why routings that were found were all refused.

    Parameters
    ----------
    panel : Panel
    terrain : Terrain
        Of a placement whose routing was refused.
    traces : tuple of Trace
        That routing.
    problems : tuple of str
        What `verify_routed` said of all of them.
    tried, impossible, places : int
        As in `explain_failure`.
    effort : Effort
        Of the search.

    Returns
    -------
    LayoutFailure
        Never proven: another routing might keep the distances.
    """
    # The first of the most frequent, so that the same problems give the same words.
    often = max(dict.fromkeys(problems), key=problems.count)
    links = tuple(
        Link(need.name, tuple(terrain.grid.point_of(t.node % terrain.grid.cells) for t in trace.chosen))
        for need, trace in zip(terrain.needs, traces, strict=True)
        if f'"{need.name}"' in often
    )
    ports = [
        end.port
        for need in terrain.needs
        for end in need.ends
        if end.port is not None and f'"{end.port.name}"' in often
    ]
    longer = "another --seed"
    if effort.name != THOROUGH.name:
        longer = f"{LONGER_SEARCH}--effort thorough, or {longer}"
    places_named = [
        *(end for link in links for end in link.ends),
        *(find_port_middle(panel, p) for p in ports),
    ]
    return LayoutFailure(
        panel=panel,
        placement=terrain.placement,
        kind="refused",
        proven=False,
        text=(
            "routings were found, but none that keeps all distances on exact outlines; the most frequent reason: "
            f"{often}."
        ),
        remedies=(
            Remedy("widen the boxes or spans of what is named", False),
            Remedy("use a finer pitch (panel.pitch)", False),
            Remedy(longer, False),
        ),
        channels=tuple(link.channel for link in links),
        links=links,
        cells=(),
        gap=None,
        at=_find_mean(places_named) if places_named else terrain.placement.inlet,
        tried=tried,
        impossible=impossible,
        places=places,
    )


def _find_mean(points: list[tuple[float, float]]) -> tuple[float, float]:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)
