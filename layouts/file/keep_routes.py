"""Routes that a panel file keeps: as data, and what is wrong with them."""

from __future__ import annotations

from difflib import get_close_matches
from itertools import pairwise

from geom.frame import SAME_MM
from layouts.file.model import KeepRouteTable, PanelFile
from layouts.file.places import check_inside, check_on_grid
from layouts.file.positions import Path, Problems
from layouts.file.quantities import show_value
from layouts.nets import FEED, list_channel_names
from layouts.panel import KeepRoute


def build_keep_routes(file: PanelFile, lines: dict[Path, int]) -> tuple[KeepRoute, ...]:
    """Return the [[keep_route]] entries as data, [mm].

    Parameters
    ----------
    file : PanelFile
        Without contradictions.
    lines : dict of Path to int
    """
    return tuple(
        KeepRoute(entry.channel, _freeze(entry.back), _freeze(entry.front), lines["keep_route", index])
        for index, entry in enumerate(file.keep_route)
    )


def check_keep_routes(file: PanelFile, problems: Problems) -> None:
    """Note kept routes of channels that the loop does not ask for, the feed's, and corners that make no route.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to. Names are not looked at while the loop's order stands wrong.
    """
    names: tuple[str, ...] = ()
    if not any(path[0] == "loop" for path, _ in problems.found):
        names = list_channel_names(file.loop.order, file.drain is not None)
    seen: dict[str, int] = {}
    for index, entry in enumerate(file.keep_route):
        where: Path = ("keep_route", index)
        first = seen.setdefault(entry.channel, index)
        if entry.channel == FEED:
            problems.add(
                (*where, "channel"),
                f"{show_value(FEED)} is one straight column from the tank down to the pump and keeps no route; "
                "fix tank.at and pump.at instead",
            )
        elif names and entry.channel not in names:
            near = [show_value(other) for other in get_close_matches(entry.channel, names, n=1)]
            meant = f"; is {near[0]} meant?" if near else ""
            problems.add(
                (*where, "channel"),
                f"{show_value(entry.channel)} is no channel of this panel{meant}; its channels are "
                f"{', '.join(show_value(other) for other in names)}",
            )
        elif first != index:
            problems.add(
                (*where, "channel"),
                f"{show_value(entry.channel)} is kept twice, first in entry {first + 1}; keep one of them",
            )
        _check_runs(file, entry, where, problems)


def _check_runs(file: PanelFile, entry: KeepRouteTable, where: Path, problems: Problems) -> None:
    if not entry.back and not entry.front:
        problems.add(where, 'no run; write e.g. back = [[["305 mm", "60 mm"], ["240 mm", "60 mm"]]]')
    if entry.front and file.channel.layers == 1:
        problems.add(
            (*where, "front"),
            "read front; channel.layers = 1 has channels in the back face only: remove the key, or use layers = 2",
        )
    for layer, runs in (("back", entry.back), ("front", entry.front)):
        for number, run in enumerate(runs):
            _check_run(file, run, (*where, layer, number), problems)


def _check_run(file: PanelFile, run: list[list[float]], where: Path, problems: Problems) -> None:
    """Note corners outside the panel or off the grid, pieces askew, and a run that turns back or goes nowhere."""
    for number, (x, y) in enumerate(run):
        at = (*where, number)
        if check_inside(file, (x, y), at, problems):
            check_on_grid(file, {"x": x, "y": y}, at, problems)
    steps: list[tuple[float, float]] = []
    for number, ((ax, ay), (bx, by)) in enumerate(pairwise(run), start=1):
        dx, dy = bx - ax, by - ay
        if abs(dx) > SAME_MM and abs(dy) > SAME_MM:
            problems.add(
                (*where, number),
                f"({bx:g}, {by:g}) mm lies askew of the corner before it, ({ax:g}, {ay:g}) mm; runs go along x or y: "
                "give both the same x or the same y",
            )
        elif abs(dx) <= SAME_MM and abs(dy) <= SAME_MM:
            problems.add((*where, number), f"({bx:g}, {by:g}) mm stands twice in a row; keep one of them")
        elif steps and (dx * steps[-1][0] < -SAME_MM or dy * steps[-1][1] < -SAME_MM):
            problems.add(
                (*where, number),
                f"({bx:g}, {by:g}) mm leads straight back from ({ax:g}, {ay:g}) mm; turn aside there, or end the run",
            )
        steps.append((dx, dy))


def _freeze(runs: list[list[list[float]]]) -> tuple[tuple[tuple[float, float], ...], ...]:
    return tuple(tuple((x, y) for x, y in run) for run in runs)
