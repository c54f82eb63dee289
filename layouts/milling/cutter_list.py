"""The cutter list: which tool cuts what in each set-up, how much it takes away, and an estimate of the time.

*Job*: one tool in one set-up. The end mills come first, large to small, then drills, chamfers and taps, and the
part's outline at the very end, for after it the part lies loose. The volumes of the jobs add up to what is cut out
of the blanks; what goes for the outlines is told apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geom.features import chamfer_volume
from geom.frame import SAME_MM
from geom.outline import Loop, Point, path_length, region_polygon
from geom.standards import tables
from layouts.faces import material_of
from layouts.milling import cut_times
from layouts.milling.assumptions import list_assumptions
from layouts.milling.cutting_data import (
    PRESS_RPM,
    SPINDLE_RPM,
    CuttingData,
    Running,
    cutting_data,
    run_drill,
    run_mill,
    run_tap,
)
from layouts.milling.drilling import is_drilled
from layouts.milling.placed_cuts import (
    blank_of,
    open_region,
    place_bore,
    place_region,
)
from layouts.milling.removed import Cut, measure_removed
from layouts.milling.stock import OUTLINE, choose_outline_mill, choose_stock, outline_chips, outline_way
from layouts.milling.work import Cutting, Hole, Job, Pocket, SetUp, Stock, ToolKind
from layouts.panel import EndMill, Panel

COUNTERSINK_DEG = 90
"""Angle of the tool that makes the lead chamfers, [deg]: they lie at 45 degrees."""


@dataclass(frozen=True, slots=True)
class JobList:
    """The cutter list.

    Parameters
    ----------
    jobs : tuple of Job
        In the order in which they are done.
    minutes : float
        All of it: jobs, tool changes, set-ups, [min].
    removed_mm3 : float
        Cut out of all blanks, [mm3].
    outline_mm3 : float
        Chips of the cuts round the parts, which is not part of the blanks, [mm3].
    stocks : tuple of Stock
        The sheet of each part.
    assumptions : tuple of str
        What the time stands on, a sentence each.
    """

    jobs: tuple[Job, ...]
    minutes: float
    removed_mm3: float
    outline_mm3: float
    stocks: tuple[Stock, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Tool:
    """What stands in the spindle; `order` is the tool's place within its set-up."""

    kind: ToolKind
    diameter: float
    size: str
    order: tuple[float, ...]
    teeth: int = 2
    pitch: float = 0.0


@dataclass(frozen=True, slots=True)
class _Pass:
    """One tool at one feature: where, how deep, and what it takes; `pocket` is None at a hole.

    Of `cut` it takes `volume`, [mm3]: what no cut before it has taken.
    """

    tool: _Tool
    name: str
    at: Point
    deepest: float
    cut: Cut | None
    pocket: Pocket | None = None
    hole: Hole | None = None
    finishing: bool = False
    volume: float = 0.0


def list_jobs(panel: Panel, setups: tuple[SetUp, ...], cuttings: tuple[Cutting, ...]) -> JobList:
    """Return the cutter list.

    Parameters
    ----------
    panel : Panel
    setups : tuple of SetUp
        In the order in which they are done.
    cuttings : tuple of Cutting
        A pocket without an end mill is left out, and told.

    Returns
    -------
    JobList
        [min], [mm3]; each part of the material counts once, with the job that comes to it first.
    """
    most = panel.milling.speed_rpm or SPINDLE_RPM
    jobs: list[Job] = []
    stocks: list[Stock] = []
    for part in dict.fromkeys(setup.part for setup in setups):
        own = [setup for setup in setups if setup.part == part]
        data = cutting_data(material_of(panel, part))
        for setup, passes in zip(own, _share_out(own, cuttings), strict=True):
            limit = PRESS_RPM if setup.on == "drill press" else most
            jobs += [
                _make_job(setup, tool, [p for p in passes if p.tool == tool], data, limit)
                for tool in sorted({p.tool for p in passes}, key=lambda tool: tool.order)
            ]
            if setup.outline is not None:
                mill = choose_outline_mill(panel, setup, cuttings)
                stocks.append(choose_stock(panel, setup, mill))
                jobs.append(_cut_outline(setup, setup.outline, mill, stocks[-1], data, most))
        if all(setup.outline is None for setup in own):
            # The first set-up lies flat; the sheet has the part's own size.
            stocks.append(Stock(part, *own[0].size, own[0].height))
    changes = sum(
        1
        for k, job in enumerate(jobs)
        if k == 0 or (jobs[k - 1].tool, jobs[k - 1].size) != (job.tool, job.size)
    )
    fixed = [
        cut_times.PRESS_SETUP_MIN if setup.on == "drill press" else cut_times.SETUP_MIN for setup in setups
    ]
    minutes = math.fsum((*(job.minutes for job in jobs), *fixed, changes * cut_times.CHANGE_MIN))
    outline_mm3 = math.fsum(job.volume_mm3 for job in jobs if job.cuts == (OUTLINE,))
    removed = math.fsum(job.volume_mm3 for job in jobs) - outline_mm3
    assumed = list_assumptions(panel, setups, cuttings, outline_mm3)
    return JobList(tuple(jobs), minutes, removed, outline_mm3, tuple(stocks), assumed)


def _share_out(setups: list[SetUp], cuttings: tuple[Cutting, ...]) -> list[list[_Pass]]:
    """Return what every tool does in each set-up of a part, each with what it takes that none before it has taken."""
    passes = [_list_passes(setup, cuttings) for setup in setups]
    cuts = tuple(one.cut for listed in passes for one in listed if one.cut is not None)
    volumes = iter(measure_removed(cuts, blank_of(setups)))
    return [
        [one if one.cut is None else replace(one, volume=next(volumes)) for one in listed]
        for listed in passes
    ]


def _list_passes(setup: SetUp, cuttings: tuple[Cutting, ...]) -> list[_Pass]:
    """Return what every tool does in one set-up, in the order of its tools."""
    chosen = {c.pocket: c for c in cuttings if (c.part, c.face) == (setup.part, setup.face)}
    out: list[_Pass] = []
    for pocket in setup.pockets:
        cutting = chosen.get(pocket.name)
        if cutting is not None:
            out += _mill_pocket(setup, pocket, cutting)
    for hole in setup.holes:
        out += _make_hole(setup, hole)
    return sorted(out, key=lambda p: p.tool.order)


def _mill_pocket(setup: SetUp, pocket: Pocket, cutting: Cutting) -> list[_Pass]:
    plan = region_polygon(pocket.region, islands=pocket.islands)
    at = plan.representative_point()
    where = (float(at.x), float(at.y))
    whole = place_region(setup, plan, pocket.top, pocket.floor)
    rough, finish = cutting.rough, cutting.finish or cutting.rough
    if finish is None:
        return []
    last = _Pass(_mill(finish), pocket.name, where, pocket.floor, whole, pocket, finishing=True)
    if rough is None or rough == finish:
        return [last]
    opened = place_region(setup, open_region(plan, rough.diameter / 2), pocket.top, pocket.floor)
    first = _Pass(_mill(rough), pocket.name, where, pocket.floor, opened, pocket)
    return [first, last]


def _make_hole(setup: SetUp, hole: Hole) -> list[_Pass]:
    deepest = hole.top + hole.depth
    cut = place_bore(setup, hole)
    tool = (
        _Tool("drill", hole.diameter, _show(hole.diameter), (2.0, hole.diameter))
        if is_drilled(hole.kind, hole.diameter)
        # In an edge a tool of its own size sinks what no drill makes.
        else _Tool("end mill", hole.diameter, _show(hole.diameter), (1.0, -hole.diameter))
    )
    out = [_Pass(tool, hole.name, hole.at, deepest, cut, hole=hole)]
    if hole.chamfer > 0.0:
        wide = max(h.diameter + 2 * h.chamfer for h in setup.holes if h.chamfer > 0.0)
        sink = _Tool("chamfer cutter", float(math.ceil(wide - SAME_MM)), f"{COUNTERSINK_DEG}°", (3.0, wide))
        out.append(_Pass(sink, hole.name, hole.at, hole.top + hole.chamfer, None, hole=hole))
    if hole.thread:
        major, pitch = _thread(hole)
        tap = _Tool("tap", major, hole.thread, (4.0, major), pitch=pitch)
        out.append(_Pass(tap, hole.name, hole.at, hole.top + hole.thread_depth, None, hole=hole))
    return out


def _mill(mill: EndMill) -> _Tool:
    return _Tool("end mill", mill.diameter, _show(mill.diameter), (0.0, -mill.diameter), mill.teeth)


def _make_job(setup: SetUp, tool: _Tool, passes: list[_Pass], data: CuttingData, limit: float) -> Job:
    run = _run(setup, tool, data, limit)
    minutes, volume, here = 0.0, 0.0, None
    for one in passes:
        own = one.volume
        if tool.kind == "chamfer cutter" and one.hole is not None:
            own = chamfer_volume(one.hole.diameter / 2, one.hole.chamfer)
        minutes += _time(setup, one, own, data, run)
        minutes += cut_times.time_move(0.0 if here is None else math.dist(here, one.at))
        volume, here = volume + own, one.at
    return Job(
        setup.part,
        setup.face,
        tool.kind,
        tool.size,
        tool.diameter,
        tuple(dict.fromkeys(one.name for one in passes)),
        volume,
        max(one.deepest for one in passes),
        minutes,
        run.speed_rpm,
        run.feed_mm_min,
    )


def _run(setup: SetUp, tool: _Tool, data: CuttingData, limit: float) -> Running:
    if tool.kind == "end mill" and setup.on == "machine":
        return run_mill(data, tool.diameter, tool.teeth, limit)
    if tool.kind == "tap":
        return run_tap(data, tool.diameter, tool.pitch, limit)
    return run_drill(data, tool.diameter, limit)


def _time(setup: SetUp, one: _Pass, volume: float, data: CuttingData, run: Running) -> float:
    """Return the minutes of one tool at one feature, moves between features aside."""
    tool, hole, pocket = one.tool, one.hole, one.pocket
    if pocket is not None:
        loops = (*pocket.region, *pocket.islands)
        around = math.fsum(path_length(loop) for loop in loops)
        area = pocket.volume_mm3 / pocket.depth
        took = 0.0
        if volume > 0.0:
            width = cut_times.width_of_cut(area, around, tool.diameter, data)
            took += cut_times.time_rough(volume, width, pocket.depth, tool.diameter, data, run)
        if one.finishing:
            took += cut_times.time_finish(around, pocket.depth, tool.diameter, run)
        return took
    if hole is None:
        return 0.0
    by_hand = setup.on == "drill press"
    if tool.kind == "tap":
        return cut_times.HAND_TAP_MIN if by_hand else cut_times.time_tap(hole.thread_depth, run)
    if tool.kind == "chamfer cutter":
        return cut_times.time_chamfer(hole.chamfer, run)
    if tool.kind == "end mill":
        return cut_times.time_chamfer(hole.depth, run)
    took = cut_times.time_drill(hole.diameter, hole.depth, hole.through, run)
    return took + (cut_times.PRESS_HOLE_MIN if by_hand else 0.0)


def _cut_outline(
    setup: SetUp, outline: Loop, mill: EndMill, stock: Stock, data: CuttingData, limit: float
) -> Job:
    run = run_mill(data, mill.diameter, mill.teeth, limit)
    way = outline_way(outline, setup.size, (stock.width, stock.height))
    minutes = cut_times.time_outline(way, setup.height, mill.diameter, data, run)
    return Job(
        setup.part,
        setup.face,
        "end mill",
        _show(mill.diameter),
        mill.diameter,
        (OUTLINE,),
        outline_chips(setup, mill, stock),
        setup.height,
        minutes + cut_times.time_move(0.0),
        run.speed_rpm,
        run.feed_mm_min,
    )


def _thread(hole: Hole) -> tuple[float, float]:
    """Return major diameter and pitch of a hole's thread, [mm]."""
    if hole.thread in tables.thread_names():
        pipe = tables.thread(hole.thread)
        return pipe.major, pipe.pitch
    screw = tables.screw(hole.thread)
    return screw.diameter, screw.pitch


def _show(diameter: float) -> str:
    return f"{round(diameter, 2):g} mm"
