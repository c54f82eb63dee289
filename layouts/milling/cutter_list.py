"""The cutter list: which tool cuts what in each set-up, how much it takes away, and an estimate of the time.

*Job*: one tool in one set-up. The end mills come first, large to small, then drills, chamfers and taps, and the
part's outline at the very end, for after it the part lies loose. The volumes of the jobs add up to what is cut out
of the blanks; what goes for the outlines is told apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.outline import Point, path_length, region_polygon
from geom.standards import tables
from layouts.milling import cut_times
from layouts.milling.assumptions import list_assumptions, material_of
from layouts.milling.cutters import cutters_at_hand, usable_reach
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
from layouts.milling.placed_cuts import (
    blank_of,
    open_region,
    place_bore,
    place_region,
)
from layouts.milling.removed import Cut, measure_removed
from layouts.milling.setups import MILLED_KINDS
from layouts.milling.work import Cutting, Hole, Job, Pocket, SetUp, ToolKind
from layouts.panel import EndMill, Panel

COUNTERSINK_DEG = 90
"""Angle of the tool that makes the lead chamfers, [deg]: they lie at 45 degrees."""

OUTLINE = "outline"
"""Name of the cut that frees a part from its sheet."""

OUTLINE_MILL = EndMill(6.0)
"""Cuts the outlines where no pocket is cut, unless the file names end mills; common practice, no source."""


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
    assumptions : tuple of str
        What the time stands on, a sentence each.
    """

    jobs: tuple[Job, ...]
    minutes: float
    removed_mm3: float
    outline_mm3: float
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
    """One tool at one feature: where, how deep, and what it takes; `pocket` is None at a hole."""

    tool: _Tool
    name: str
    at: Point
    deepest: float
    cut: Cut | None
    pocket: Pocket | None = None
    hole: Hole | None = None
    finishing: bool = False


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
    outline_mm3 = 0.0
    for part in dict.fromkeys(setup.part for setup in setups):
        own = [setup for setup in setups if setup.part == part]
        data = cutting_data(material_of(panel, part))
        passes = [_list_passes(setup, cuttings) for setup in own]
        placed = [p for one in passes for p in one if p.cut is not None]
        cuts = tuple(p.cut for p in placed if p.cut is not None)
        taken = dict(zip(map(id, placed), measure_removed(cuts, blank_of(own)), strict=True))
        for setup, one in zip(own, passes, strict=True):
            limit = PRESS_RPM if setup.on == "drill press" else most
            for tool in sorted({p.tool for p in one}, key=lambda tool: tool.order):
                mine = [p for p in one if p.tool == tool]
                jobs.append(_make_job(setup, tool, mine, taken, data, limit))
            if setup.outline is not None:
                job = _cut_outline(panel, setup, cuttings, data, most)
                outline_mm3 += job.volume_mm3
                jobs.append(job)
    changes = sum(
        1
        for k, job in enumerate(jobs)
        if k == 0 or (jobs[k - 1].tool, jobs[k - 1].size) != (job.tool, job.size)
    )
    fixed = [
        cut_times.PRESS_SETUP_MIN if setup.on == "drill press" else cut_times.SETUP_MIN for setup in setups
    ]
    minutes = math.fsum((*(job.minutes for job in jobs), *fixed, changes * cut_times.CHANGE_MIN))
    removed = math.fsum(job.volume_mm3 for job in jobs) - outline_mm3
    return JobList(
        tuple(jobs), minutes, removed, outline_mm3, list_assumptions(panel, setups, cuttings, outline_mm3)
    )


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
    if hole.kind in MILLED_KINDS:
        # A flat floor in an edge: a counterbore of its own size sinks it.
        tool = _Tool("end mill", hole.diameter, _show(hole.diameter), (1.0, -hole.diameter))
        return [_Pass(tool, hole.name, hole.at, deepest, cut, hole=hole)]
    drill = _Tool("drill", hole.diameter, _show(hole.diameter), (2.0, hole.diameter))
    out = [_Pass(drill, hole.name, hole.at, deepest, cut, hole=hole)]
    if hole.chamfer > 0.0:
        wide = max(h.diameter + 2 * h.chamfer for h in setup.holes if h.chamfer > 0.0)
        sink = _Tool("chamfer cutter", float(math.ceil(wide - SAME_MM)), f"{COUNTERSINK_DEG}°", (3.0, wide))
        out.append(_Pass(sink, hole.name, hole.at, hole.top + hole.chamfer, None, hole=hole))
    if hole.thread:
        major, pitch, depth = _thread(hole)
        tap = _Tool("tap", major, hole.thread, (4.0, major), pitch=pitch)
        out.append(_Pass(tap, hole.name, hole.at, hole.top + depth, None, hole=hole))
    return out


def _mill(mill: EndMill) -> _Tool:
    return _Tool("end mill", mill.diameter, _show(mill.diameter), (0.0, -mill.diameter), mill.teeth)


def _make_job(
    setup: SetUp, tool: _Tool, passes: list[_Pass], taken: dict[int, float], data: CuttingData, limit: float
) -> Job:
    run = _run(setup, tool, data, limit)
    minutes, volume, here = 0.0, 0.0, None
    for one in passes:
        own = taken.get(id(one), 0.0)
        if tool.kind == "chamfer cutter" and one.hole is not None:
            own = _chamfer_volume(one.hole)
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
        return cut_times.HAND_TAP_MIN if by_hand else cut_times.time_tap(_thread(hole)[2], run)
    if tool.kind == "chamfer cutter":
        return cut_times.time_chamfer(hole.chamfer, run)
    if tool.kind == "end mill":
        return cut_times.time_chamfer(hole.depth, run)
    took = cut_times.time_drill(hole.diameter, hole.depth, hole.through, run)
    return took + (cut_times.PRESS_HOLE_MIN if by_hand else 0.0)


def _cut_outline(
    panel: Panel, setup: SetUp, cuttings: tuple[Cutting, ...], data: CuttingData, limit: float
) -> Job:
    if setup.outline is None:
        raise ValueError("this set-up cuts no outline")
    mill = choose_outline_mill(panel, setup, cuttings)
    run = run_mill(data, mill.diameter, mill.teeth, limit)
    around = path_length(setup.outline)
    # A band of one diameter round a convex outline (Steiner's formula).
    band = around * mill.diameter + math.pi * mill.diameter**2
    minutes = cut_times.time_outline(around, setup.height, mill.diameter, data, run)
    return Job(
        setup.part,
        setup.face,
        "end mill",
        _show(mill.diameter),
        mill.diameter,
        (OUTLINE,),
        band * setup.height,
        setup.height,
        minutes + cut_times.time_move(0.0),
        run.speed_rpm,
        run.feed_mm_min,
    )


def choose_outline_mill(panel: Panel, setup: SetUp, cuttings: tuple[Cutting, ...]) -> EndMill:
    """Return the largest end mill that reaches through a part: of those that cut pockets, or else of those at hand.

    Where none reaches, the one that reaches deepest.
    """
    used = {mill for c in cuttings for mill in (c.rough, c.finish) if mill is not None}
    for mills in (tuple(used) or panel.milling.cutters or (OUTLINE_MILL,), cutters_at_hand(panel)):
        reaching = [mill for mill in mills if usable_reach(mill) >= setup.height - SAME_MM]
        if reaching:
            return max(reaching, key=lambda mill: (mill.diameter, usable_reach(mill), mill.teeth))
    return max(cutters_at_hand(panel), key=lambda mill: (usable_reach(mill), mill.diameter, mill.teeth))


def _thread(hole: Hole) -> tuple[float, float, float]:
    """Return major diameter, pitch and depth of a hole's thread, [mm]."""
    if hole.thread in tables.thread_names():
        pipe = tables.thread(hole.thread)
        return pipe.major, pipe.pitch, min(pipe.full_thread, hole.depth)
    screw = tables.screw(hole.thread)
    return screw.diameter, screw.pitch, hole.depth


def _chamfer_volume(hole: Hole) -> float:
    """Return what a 45-degree chamfer takes beside its bore, [mm3]."""
    inner, outer = hole.diameter / 2, hole.diameter / 2 + hole.chamfer
    return math.pi * hole.chamfer * ((inner**2 + inner * outer + outer**2) / 3 - inner**2)


def _show(diameter: float) -> str:
    return f"{round(diameter, 2):g} mm"
