"""Why pump and tank find no place together, whatever the channels: what is in the way, and what to try."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

import numpy as np

from geom.findings import KeyChange
from geom.frame import SAME_MM
from geom.outline import Point
from layouts.failure import LayoutFailure, Remedy
from layouts.file.offers import keep_readable
from layouts.file_changes import set_box, set_key
from layouts.ground import Ground
from layouts.keep_routes import name_kept
from layouts.kept_failure import release_route
from layouts.panel import Box, Panel
from layouts.place import list_outlets, list_pumps, list_tanks
from layouts.remedies import MOST_MOVE, Attempts, Found, move_regions
from layouts.tank_over_pump import match_drops, match_tanks

EVERY_TURN = (0, 90, 180, 270)

MOST_TRIALS = 60
"""Changed panels on which a place is looked for."""


def explain_no_place(ground: Ground, reasons: Counter[str], pumps: int, tanks: int) -> LayoutFailure:
    """Return why there is no place for the pump under the tank: proven, every node having been tried.

    Parameters
    ----------
    ground : Ground
    reasons : Counter
        How often what was in the way.
    pumps, tanks : int
        Places that each has alone.

    Returns
    -------
    LayoutFailure
    """
    panel = ground.panel
    if not pumps or (not tanks and panel.tank.kind == "pocket"):
        # Only what keeps that one from standing anywhere.
        reasons = Counter()
        if pumps:
            list_tanks(ground, reasons)
        else:
            list_pumps(ground, reasons)
    if reasons:
        most = max(sorted(reasons), key=lambda reason: reasons[reason])
    elif pumps:
        most = "no tank position lies above it in its column"
    else:
        most = "the box is too small for its seat, or lies too near the panel's edges"
    what = "the tank" if panel.tank.kind == "pocket" else "the tank's outlet"
    if pumps and tanks:
        alone = (
            f"the pump alone has {_count(pumps)} and {what} {_count(tanks)}, but no two of them fit together."
        )
    else:
        alone = f"no place is left for {what if pumps else 'the pump'}, even alone."
    released = tuple(
        release_route(panel, number, False)
        for number, route in enumerate(panel.keep_routes)
        if most.startswith(name_kept(route.channel))
    )
    remedies = (*_try_remedies(ground), *released)
    if not remedies:
        remedies = (
            Remedy("widen pump.within or tank.within, allow more turns, or move what is in the way", False),
        )
    return LayoutFailure(
        panel=panel,
        placement=None,
        kind="no place",
        proven=True,
        text=f"no place for the pump under the tank: {most}. On the grid of {panel.pitch:g} mm {alone}",
        remedies=remedies,
        channels=(),
        links=(),
        cells=(),
        gap=None,
        at=_find_middle(panel),
        tried=0,
        impossible=0,
        places=0,
        key="pump",
    )


def has_place(ground: Ground) -> bool:
    """Return whether pump and tank can stand together somewhere on a panel."""
    reasons: Counter[str] = Counter()
    pumps = list_pumps(ground, reasons)
    if ground.panel.tank.kind == "separate":
        feet = np.array(list_outlets(ground)).reshape(-1, 2)
        for place in pumps:
            above = (np.abs(feet[:, 0] - place.inlet[0]) < SAME_MM) & (feet[:, 1] > place.inlet[1])
            if match_drops(ground, place, feet[above, 1], reasons).any():
                return True
        return False
    boxes = np.array(list_tanks(ground, reasons)).reshape(-1, 4)
    return len(boxes) > 0 and any(bool(match_tanks(ground, place, boxes, reasons).any()) for place in pumps)


class _Places(Attempts):
    """Looks for a place of pump and tank on changed panels instead of routing them."""

    def __init__(self, ground: Ground) -> None:
        super().__init__(MOST_TRIALS)
        self.ground = ground

    def attempt(self, panel: Panel) -> Found | None:
        """Return a value without ports where pump and tank have a place on a changed panel, else None."""
        # Boxes, turns and keep-clear regions change nothing else of the ground that places depend on.
        return Found({}) if has_place(replace(self.ground, panel=panel)) else None


def _try_remedies(ground: Ground) -> Iterator[Remedy]:
    panel, trials = ground.panel, _Places(ground)
    pump, tank = panel.pump, panel.tank
    if set(pump.turns) != set(EVERY_TURN):
        turned = replace(panel, pump=replace(pump, turns=EVERY_TURN))
        if trials.route(turned) is not None:
            every = [f"{turn} deg" for turn in EVERY_TURN]
            changes = keep_readable(panel, set_key(every, "pump", "turns"))
            yield Remedy("allow every turn of the pump (pump.turns)", True, changes)
    found = trials.find_least(lambda by: widen_pump(panel, by), panel.pitch, MOST_MOVE)
    if found is not None:
        box = widen_pump(panel, found[0]).pump.within
        yield Remedy(_tell_wider("pump", pump.within, found[0]), True, _set_within(panel, "pump", box))
    if tank.kind == "pocket":
        found = trials.find_least(lambda by: widen_tank(panel, by), panel.pitch, MOST_MOVE)
        if found is not None:
            box = widen_tank(panel, found[0]).tank.within
            yield Remedy(_tell_wider("tank", tank.within, found[0]), True, _set_within(panel, "tank", box))
    yield from move_regions(panel, trials, tuple(f'keep-clear region "{c.name}"' for c in panel.keep_clear))


def _set_within(panel: Panel, what: Literal["pump", "tank"], box: Box | None) -> tuple[KeyChange, ...]:
    """Return the changes by which pump or tank may stand within a box, in place of where they may stand now."""
    if box is None:
        return ()
    fixed = (panel.pump.at if what == "pump" else panel.tank.at) is not None
    gone = (set_key(None, what, "at"),) if fixed else ()
    return keep_readable(panel, *gone, set_box(box, what, "within"))


def _tell_wider(what: str, within: Box | None, by: float) -> str:
    if within is not None:
        return f"widen {what}.within by {by:g} mm on every side"
    return f"let the {what} stand up to {by:g} mm off ({what}.within instead of {what}.at)"


def widen_pump(panel: Panel, by: float) -> Panel:
    """Return the panel with its pump free to stand up to `by` beyond where it may stand now, [mm]."""
    pump = panel.pump
    if pump.within is not None:
        box = pump.within
    else:
        assert pump.at is not None
        # A box holds the pump's whole seat.
        (x, y), radius = pump.at, pump.seat_diameter / 2
        box = (x - radius, y - radius, x + radius, y + radius)
    return replace(panel, pump=replace(pump, at=None, within=_widen(panel, box, by)))


def widen_tank(panel: Panel, by: float) -> Panel:
    """Return the panel with its pocket tank free to stand up to `by` beyond where it may stand now, [mm]."""
    tank = panel.tank
    assert tank.size is not None
    if tank.within is not None:
        box = tank.within
    else:
        assert tank.at is not None
        box = (*tank.at, tank.at[0] + tank.size[0], tank.at[1] + tank.size[1])
    return replace(panel, tank=replace(tank, at=None, within=_widen(panel, box, by)))


def _widen(panel: Panel, box: Box, by: float) -> Box:
    x0, y0, x1, y1 = box
    return max(0.0, x0 - by), max(0.0, y0 - by), min(panel.width, x1 + by), min(panel.height, y1 + by)


def _find_middle(panel: Panel) -> Point:
    """Return the middle of where the pump may stand, [mm]."""
    if panel.pump.at is not None:
        return panel.pump.at
    assert panel.pump.within is not None
    x0, y0, x1, y1 = panel.pump.within
    return (x0 + x1) / 2, (y0 + y1) / 2


def _count(places: int) -> str:
    return "1 place" if places == 1 else f"{places} places"
