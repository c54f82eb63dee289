"""The fill, step by step: coolant is poured slowly into the tank, then the pump pushes it on in short runs.

A run takes coolant out of the tank until its outlet is about to be bared; then the tank is filled to its level again.
The order in which the loop fills is that of `layouts.filling.fill_course`, the volumes those of `layouts.filling.held`.
Whether moving coolant carries off the air that stays is told elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geom.wet.voxels import WetVoxels
from layouts.basin import Basin, find_surface
from layouts.feed import loop_volume_ml, pocket_basin
from layouts.filling.dry_inlet import find_dry, find_outlet
from layouts.filling.fill_course import ROUNDING, Course, Moment, TankLevels, follow_coolant
from layouts.filling.held import Held, weigh_voxels
from layouts.filling.hose_ways import HoseWay, add_ranges, has_untold, tell_hoses
from layouts.filling.left import find_air
from layouts.filling.not_fed import find_pocket_levels, find_unfed, is_shut
from layouts.filling.openings import tank_voxels
from layouts.filling.sequence_values import DryInlet, FillSequence, FillStep, StepKind
from layouts.filling.values import Opening
from layouts.installed import find_feed
from layouts.panel import Panel
from layouts.plan import Routed


@dataclass(frozen=True, slots=True, eq=False)
class Wet:
    """Voxels of a panel, their openings, (n,) bool in which of them air stays, and what they hold."""

    voxels: WetVoxels
    openings: tuple[Opening, ...]
    air: np.ndarray
    held: Held


def fill_in_steps(
    panel: Panel,
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    air: np.ndarray,
    coarse: tuple[WetVoxels, tuple[Opening, ...], np.ndarray] | None = None,
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
    coarse : (WetVoxels, tuple of Opening, numpy.ndarray) or None
        The same at the size of a plan's voxels, on which it is judged whether the pump may run, and with which the
        ways of hoses are varied: so a made panel is judged as its plan is. None: those above.

    Returns
    -------
    FillSequence or None
        None where no feed leads from the tank to the pump.

    Notes
    -----
    A separate tank stands above the panel, its coolant no higher than the mouth of its port for certain, and may run
    empty.
    """
    if find_feed(routed) is None:
        return None
    fine = Wet(voxels, tuple(openings), air, weigh_voxels(panel, routed, voxels))
    base = fine
    if coarse is not None:
        base = Wet(*coarse, weigh_voxels(panel, routed, coarse[0]))
    judged = _fill(panel, routed, base)
    if judged is None:
        return None
    filled = judged if base is fine else _fill(panel, routed, fine, judged)
    if filled is None or not has_untold(openings):
        return filled
    return add_ranges(filled, _vary_hoses(panel, routed, base, judged))


def _vary_hoses(
    panel: Panel, routed: Routed, wet: Wet, straight: FillSequence
) -> dict[HoseWay, FillSequence]:
    """Return the fill with all hoses that the file does not tell rising, and falling."""
    rise, fall = tell_hoses(wet.openings, "rises"), tell_hoses(wet.openings, "falls")
    heights = wet.voxels.elevations(panel.up)
    stays = find_air(wet.voxels, fall, heights, tank_voxels(wet.voxels)).number >= 0
    # A hose that is not told lets air out as one that rises does, so the inlet is as dry with both.
    rising = _fill(panel, routed, replace(wet, openings=rise), straight)
    falling = _fill(panel, routed, replace(wet, openings=fall, air=stays))
    ways: dict[HoseWay, FillSequence | None] = {"rises": rising, "falls": falling}
    return {way: one for way, one in ways.items() if one is not None}


def _fill(panel: Panel, routed: Routed, wet: Wet, judged: FillSequence | None = None) -> FillSequence | None:
    """Return the fill on some voxels; whether the pump may run as `judged` says where that is given."""
    voxels, openings, held = wet.voxels, wet.openings, wet.held
    outlet = find_outlet(panel, openings)
    if outlet is None and not held.tank.any():
        return None
    heights = voxels.elevations(panel.up)
    air = wet.air & ~held.tank
    levels = find_pocket_levels(panel, routed)
    if levels is None:
        mouth = 0.0 if outlet is None else float(heights[outlet.voxels].max())
        levels = TankLevels(panel.tank.level, 0.0, 0.0, mouth)
    if judged is None:
        dry = find_dry(
            panel, routed, voxels, openings, heights, air, held.tank, levels.surface
        ) or find_unfed(panel, routed, levels)
    else:
        dry = judged.dry
    if is_shut(panel):
        whole = loop_volume_ml(panel, routed) + levels.level * (held.tank_ml or 0.0)
        return FillSequence((), None, None, None, 0, 0.0, held.unknown, dry, whole_ml=whole)
    course = follow_coolant(voxels, openings, outlet, heights, held, air, levels)
    basin = pocket_basin(panel, routed)
    return _tell(panel, voxels.count, held, basin, levels, course, dry, loop_volume_ml(panel, routed))


def _tell(
    panel: Panel,
    count: int,
    held: Held,
    basin: Basin | None,
    levels: TankLevels,
    course: Course,
    dry: DryInlet | None,
    without_air_ml: float,
) -> FillSequence:
    tank_ml, start = held.tank_ml or 0.0, float(course.filled_ml[course.at_level])
    push = course.whole_ml - start
    covered = course.covered if dry is None else None
    # What `find_dry` lets pass, within half a voxel of the level, may run once the tank reads it.
    ready = None if dry is not None else course.ready or Moment(course.at_level, levels.level)
    # A tank that bares its outlet at its level lets the pump take nothing out of it.
    run = None if held.tank_ml is None or ready is None else tank_ml * (levels.level - levels.bare)
    tops = 0
    if ready is not None and push > ROUNDING * course.whole_ml:
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
                to_mouth=levels.under > 0 and kind in ("level reached", "top up"),
            )
        )

    def reach(kind: StepKind, moment: Moment | None) -> float | None:
        if moment is None:
            return None
        add(kind, float(course.filled_ml[moment.items]), moment.tank, moment.items)
        return steps[-1].total_ml

    at_once = covered is not None and covered == ready
    covered_ml = None if at_once else reach("inlet covered", covered)
    ready_ml = reach("may run", ready)
    add("level reached", start, levels.level, course.at_level)
    if tops:
        drawn = push if run is None else min(run, push)
        reached = start + drawn
        passed = int(np.searchsorted(course.filled_ml, reached + ROUNDING, side="right")) - 1
        add("run", reached, levels.level - drawn / tank_ml if tank_ml else 0.0, passed, tops)
        add("top up", course.whole_ml, levels.level, len(course.items), tops)
    if ready is not None:
        add("end", course.whole_ml, levels.level, len(course.items))
    return FillSequence(
        tuple(steps),
        ready_ml if at_once else covered_ml,
        ready_ml,
        None if ready is None else _fall(panel, basin, levels, course.whole_ml / tank_ml if tank_ml else 0.0),
        tops,
        steps[-1].total_ml,
        held.unknown,
        dry,
        run,
        push,
        levels.level * tank_ml + without_air_ml,
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
