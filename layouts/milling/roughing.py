"""Which pockets are worth a roughing cutter of their own: those where it saves more time than its change takes."""

from __future__ import annotations

import math
from dataclasses import replace

from geom.outline import path_length, region_polygon
from layouts.milling import cut_times
from layouts.milling.cutting_data import CuttingData, run_mill
from layouts.milling.placed_cuts import open_region
from layouts.milling.work import Cutting, Pocket, SetUp
from layouts.panel import EndMill


def drop_roughing(
    setup: SetUp, cuttings: tuple[Cutting, ...], data: CuttingData, most_rpm: float
) -> tuple[Cutting, ...]:
    """Return the cuttings of a set-up, its roughing cutters left out where the finishing ones do both as soon.

    A roughing cutter that also finishes a pocket of the set-up is at hand without another change.

    Parameters
    ----------
    setup : SetUp
    cuttings : tuple of Cutting
        Of its pockets.
    data : CuttingData
        Of the part's material.
    most_rpm : float
        Most turns of the spindle, [1/min].
    """
    pockets = {pocket.name: pocket for pocket in setup.pockets}
    finishing = {cutting.finish for cutting in cuttings}
    saved: dict[EndMill, list[float]] = {}
    for cutting in cuttings:
        rough, finish = cutting.rough, cutting.finish
        if rough is not None and finish is not None and rough != finish:
            saves = saved_by(pockets[cutting.pocket], rough, finish, data, most_rpm)
            saved.setdefault(rough, []).append(saves)
    needless = {
        rough
        for rough, minutes in saved.items()
        if math.fsum(minutes) <= (0.0 if rough in finishing else cut_times.CHANGE_MIN)
    }
    return tuple(replace(c, rough=c.finish) if c.rough in needless and c.finish else c for c in cuttings)


def saved_by(pocket: Pocket, rough: EndMill, finish: EndMill, data: CuttingData, most_rpm: float) -> float:
    """Return how much sooner a pocket is cut with both cutters than with the finishing one alone, [min].

    Its walls are finished alike, and the change of the tool is not counted.

    Parameters
    ----------
    pocket : Pocket
    rough, finish : EndMill
    data : CuttingData
    most_rpm : float
        [1/min]
    """
    plan = region_polygon(pocket.region, islands=pocket.islands)
    swept = float(open_region(plan, rough.diameter / 2).area / plan.area)

    def minutes(mill: EndMill, share: float) -> float:
        if share <= 0.0:
            return 0.0
        around = math.fsum(path_length(loop) for loop in (*pocket.region, *pocket.islands))
        width = cut_times.width_of_cut(pocket.volume_mm3 / pocket.depth, around, mill.diameter, data)
        run = run_mill(data, mill.diameter, mill.teeth, most_rpm)
        return cut_times.time_rough(share * pocket.volume_mm3, width, pocket.depth, mill.diameter, data, run)

    return minutes(finish, 1.0) - minutes(rough, swept) - minutes(finish, 1.0 - swept)
