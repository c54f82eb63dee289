"""What the cutter list says, the same in tables and pictures: tools, what they cut, minutes."""

from __future__ import annotations

from collections import Counter

from exports.wording.figures import show_banded, show_mm
from geom.words import count_of
from layouts.milling.cut_times import TIME_BAND
from layouts.milling.cutter_list import OUTLINE
from layouts.milling.work import Hole, Job, Milled, Pocket, SetUp

LEAST_MIN = 0.05
"""Shorter jobs are told as such, [min]."""


def list_cuts(setup: SetUp) -> tuple[Pocket | Hole, ...]:
    """Return all that is cut in a set-up, pockets first."""
    return (*setup.pockets, *setup.holes)


def tell_tool(job: Job) -> str:
    """Return a job's tool: "end mill 6 mm", "tap G1/4", "countersink 90°"."""
    if job.tool == "chamfer cutter":
        return f"countersink {job.size}, {job.diameter:g} mm"
    return f"{job.tool} {job.size}"


def tell_cuts(job: Job, setups: tuple[SetUp, ...]) -> str:
    """Return what a job cuts, counted by kind: "tank, 2 channels"; a single one by its kind alone."""
    kinds = {
        cut.name: cut.kind
        for setup in setups
        if (setup.part, setup.face) == (job.part, job.face)
        for cut in list_cuts(setup)
    }
    counted = Counter(kinds.get(name, name) for name in job.cuts)
    return ", ".join(kind if n == 1 else count_of(n, kind) for kind, n in counted.items())


def show_minutes(minutes: float) -> str:
    """Return a job's minutes with no more digits than the estimate's band allows; "< 0.1" for very few."""
    return "< 0.1" if minutes < LEAST_MIN else show_banded(minutes, TIME_BAND)


def tell_total(milled: Milled) -> str:
    """Return how long all of it takes: "about 3.2 h (±40 %)", or in minutes."""
    band = f"±{100 * TIME_BAND:.0f} %"
    if milled.minutes < 100.0:
        return f"about {show_banded(milled.minutes, TIME_BAND)} min ({band})"
    return f"about {show_banded(milled.minutes / 60.0, 0.1)} h ({band})"


def number_jobs(milled: Milled) -> dict[int, Job]:
    """Return the jobs by their numbers, from 1 in the order in which they are done."""
    return dict(enumerate(milled.jobs, 1))


JOB_HEADS: tuple[str, ...] = ("", "tool", "cuts", "deep", "min", "1/min", "mm/min")


def job_row(number: int, job: Job, milled: Milled) -> tuple[str, ...]:
    """Return a line of the cutter list, a cell for each of `JOB_HEADS`."""
    cuts = "the part free" if job.cuts == (OUTLINE,) else tell_cuts(job, milled.setups)
    return (
        str(number),
        tell_tool(job),
        cuts,
        f"{show_mm(job.deepest)} mm",
        show_minutes(job.minutes),
        show_speed(job.speed_rpm),
        show_speed(job.feed_mm_min),
    )


def show_speed(value: float) -> str:
    """Return turns or a feed to two digits: no source gives more."""
    unit = 10.0 ** max(0, len(str(int(value))) - 2)
    return f"{round(value / unit) * unit:.0f}"


def tell_setup(setup: SetUp) -> str:
    """Return what a set-up is: "body, front face up, stands 20 mm high, cuts the outline"."""
    up = f"{setup.face} face up" if setup.face in ("front", "back") else f"{setup.face} edge up"
    on = "" if setup.on == "machine" else ", on the drill press"
    free = ", cuts the outline" if setup.outline is not None else ""
    return f"{setup.part}, {up}, stands {show_mm(setup.height)} mm high{on}{free}"
