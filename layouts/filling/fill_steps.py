"""The fill, step by step: coolant is poured slowly into the tank, then the pump pushes it on in short runs.

A run takes coolant out of the tank until its outlet is about to be bared; then the tank is filled to its level again.
The order in which the loop fills is that of `layouts.filling.fill_course`, the volumes those of `layouts.filling.held`.
Whether moving coolant carries off the air that stays is told elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from geom.wet.voxels import WetVoxels
from layouts.basin import Basin, find_surface, volume_under, volume_under_rim
from layouts.feed import bare_surface, pocket_basin
from layouts.filling.dry_inlet import find_dry, find_outlet
from layouts.filling.fill_course import ROUNDING, Course, Moment, TankLevels, follow_coolant
from layouts.filling.held import Held, weigh_voxels
from layouts.filling.values import DryInlet, FillSequence, FillStep, Opening, StepKind
from layouts.installed import find_feed
from layouts.panel import Panel
from layouts.plan import Routed


def fill_in_steps(
    panel: Panel, routed: Routed, voxels: WetVoxels, openings: Sequence[Opening], air: np.ndarray
) -> FillSequence | None:
    """Return how the panel fills from its tank.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    air : numpy.ndarray
        (n,) bool: voxels in which air stays; those of the pocket tank do not count.

    Returns
    -------
    FillSequence or None
        None where no feed leads from the tank to the pump.

    Notes
    -----
    A separate tank stands above the panel, its coolant no higher than the mouth of its port for certain, and may run
    empty.
    """
    outlet = find_outlet(panel, openings)
    held = weigh_voxels(panel, routed, voxels)
    if find_feed(routed) is None or (outlet is None and not held.tank.any()):
        return None
    heights = voxels.elevations(panel.up)
    air = air & ~held.tank
    basin = pocket_basin(panel, routed)
    levels = _find_levels(panel, routed, basin, heights, outlet)
    dry = find_dry(panel, routed, voxels, openings, heights, air, held.tank, levels.surface)
    course = follow_coolant(voxels, openings, outlet, heights, held, air, levels)
    return _tell(panel, voxels.count, held, basin, levels, course, dry)


def _find_levels(
    panel: Panel, routed: Routed, basin: Basin | None, heights: np.ndarray, outlet: Opening | None
) -> TankLevels:
    level = panel.tank.level
    if basin is None:
        mouth = 0.0 if outlet is None else float(heights[outlet.voxels].max())
        return TankLevels(level, 0.0, 0.0, mouth)
    bare = volume_under(basin, panel.up, bare_surface(panel, routed, basin)) / basin.volume
    stuck = min(level, volume_under_rim(basin, panel.up) / basin.volume)
    return TankLevels(level, bare, stuck, find_surface(basin, panel.up, level * basin.volume))


def _tell(
    panel: Panel,
    count: int,
    held: Held,
    basin: Basin | None,
    levels: TankLevels,
    course: Course,
    dry: DryInlet | None,
) -> FillSequence:
    tank_ml, start = held.tank_ml or 0.0, float(course.filled_ml[course.at_level])
    push = course.whole_ml - start
    run = None if held.tank_ml is None else tank_ml * (levels.level - levels.bare)
    covered = course.covered if dry is None else None
    tops = 0
    if covered is not None and push > ROUNDING * course.whole_ml:
        # The rest of a division that leaves nothing must not count as one more filling.
        tops = 1 if run is None else math.ceil(push / run - ROUNDING)
    steps: list[FillStep] = []

    def add(kind: StepKind, loop_ml: float, share: float, items: int, times: int = 1) -> None:
        wet = np.zeros(count, bool)
        full = course.items[:items]
        wet[full[(full < count) & (np.diff(course.filled_ml[: items + 1]) > 0)]] = True
        wet[course.tank[: round(share * len(course.tank))]] = True
        known = kind != "run" or run is not None
        total = steps[-1].total_ml if kind == "run" else loop_ml + share * tank_ml
        steps.append(
            FillStep(
                kind,
                times,
                total - (steps[-1].total_ml if steps else 0.0),
                total,
                _stand(panel, basin, share),
                share if known else None,
                loop_ml / course.whole_ml if course.whole_ml > 0 else 1.0,
                wet,
            )
        )

    def add_moment(kind: StepKind, moment: Moment | None) -> None:
        if moment is not None:
            add(kind, float(course.filled_ml[moment.items]), moment.tank, moment.items)

    add_moment("pour", course.touched)
    add_moment("inlet covered", covered)
    add("level reached", start, levels.level, course.at_level)
    if tops:
        drawn = push if run is None else min(run, push)
        reached = start + drawn
        passed = int(np.searchsorted(course.filled_ml, reached + ROUNDING, side="right")) - 1
        add("run", reached, levels.level - drawn / tank_ml if tank_ml else 0.0, passed, tops)
        add("top up", course.whole_ml, levels.level, len(course.items), tops)
    if covered is not None:
        add("end", course.whole_ml, levels.level, len(course.items))
    return FillSequence(
        tuple(steps),
        next((step.total_ml for step in steps if step.kind == "inlet covered"), None),
        "" if dry is None else dry.why,
        None if dry is None else dry.at,
        _fall(panel, basin, levels, course.whole_ml / tank_ml if tank_ml else 0.0),
        tops,
        steps[-1].total_ml,
        held.unknown,
        dry,
        run,
        push,
    )


def _stand(panel: Panel, basin: Basin | None, share: float) -> float | None:
    """Return how high the coolant stands over the tank's lowest place, [mm]; None where that is not known."""
    if basin is None or share <= 0:
        return None
    lowest = find_surface(basin, panel.up, 0.0)
    return find_surface(basin, panel.up, share * basin.volume) - lowest


def _fall(panel: Panel, basin: Basin | None, levels: TankLevels, loop: float) -> float | None:
    """Return how far the level falls when the loop, as a share of the tank, fills out of it at once, [mm]."""
    if basin is None:
        return None
    left = max(levels.stuck, levels.level - loop)
    return levels.surface - find_surface(basin, panel.up, left * basin.volume)
