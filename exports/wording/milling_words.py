"""What the cutter list says, the same in tables and pictures: tools, what they cut, minutes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType

from exports.wording.figures import show_banded, show_mm
from exports.wording.hole_numbers import list_numbers_of
from geom.frame import SAME_MM
from geom.words import count_of
from layouts.milling.cut_times import TIME_BAND
from layouts.milling.stock import OUTLINE, only_corners
from layouts.milling.work import Hole, Job, Milled, Pocket, SetUp, Stock

NO_NUMBERS: Mapping[str, str] = MappingProxyType({})
"""Where features are told by their kinds alone."""

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


def tell_cuts(job: Job, setups: tuple[SetUp, ...], numbers: Mapping[str, str] = NO_NUMBERS) -> str:
    """Return what a job cuts, counted by kind: "tank, 2 channels"; a single one by its kind alone.

    Parameters
    ----------
    job : Job
    setups : tuple of SetUp
    numbers : mapping of str to str, optional
        The drawing's numbers of round features: "2 ports P1, P3" with them.
    """
    kinds = {
        cut.name: cut.kind
        for setup in setups
        if (setup.part, setup.face) == (job.part, job.face)
        for cut in list_cuts(setup)
    }
    counted = Counter(kinds.get(name, name) for name in job.cuts)
    said = []
    for kind, count in counted.items():
        own = list_numbers_of((name for name in job.cuts if kinds.get(name, name) == kind), numbers)
        said.append(f"{kind if count == 1 else count_of(count, kind)}{' ' if own else ''}{own}")
    return ", ".join(said)


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


def job_row(
    number: int, job: Job, milled: Milled, numbers: Mapping[str, str] = NO_NUMBERS
) -> tuple[str, ...]:
    """Return a line of the cutter list, a cell for each of `JOB_HEADS`; `numbers` as in `tell_cuts`."""
    cuts = _tell_outline(job, milled) if job.cuts == (OUTLINE,) else tell_cuts(job, milled.setups, numbers)
    return (
        str(number),
        tell_tool(job),
        cuts,
        f"{show_mm(job.deepest)} mm",
        show_minutes(job.minutes),
        show_speed(job.speed_rpm),
        show_speed(job.feed_mm_min),
    )


def _is_sawn(setup: SetUp, stocks: tuple[Stock, ...]) -> bool:
    return any(stock.part == setup.part and only_corners(setup, stock) for stock in stocks)


def _tell_outline(job: Job, milled: Milled) -> str:
    sawn = any(
        _is_sawn(setup, milled.stocks)
        for setup in milled.setups
        if (setup.part, setup.face) == (job.part, job.face)
    )
    return "the corners round" if sawn else "the part free"


def show_speed(value: float) -> str:
    """Return turns or a feed to two digits: no source gives more."""
    unit = 10.0 ** max(0, len(str(int(value))) - 2)
    return f"{round(value / unit) * unit:.0f}"


def tell_axes(setup: SetUp) -> str:
    """Return how the plane of a set-up lies in the panel: "u = x, v = y: as in the plan"."""
    wide = show_mm(setup.size[0])
    if setup.face == "front":
        return "u = x, v = y: as in the plan"
    if setup.face == "back":
        return f"u = {wide} - x, v = y: mirrored, the left edge on the right"
    along = {"top": f"{wide} - x, mirrored", "bottom": "x", "left": f"{wide} - y, mirrored", "right": "y"}
    return f"u = {along[setup.face]}; v from the back face up: the front face above, the back face below"


def tell_holding(setup: SetUp, stocks: tuple[Stock, ...] = ()) -> str:
    """Return how a part is held in a set-up, by the sheet that it is cut from; common practice, no source."""
    if setup.outline is not None:
        sheet = next((stock for stock in stocks if stock.part == setup.part), None)
        if sheet is not None and min(sheet.width - setup.size[0], sheet.height - setup.size[1]) < SAME_MM:
            return (
                "the sheet is no larger than the part: clamped from above, inside the outline, the clamps moved on "
                "before their places are cut"
            )
        return (
            "held by the sheet, clamped outside the outline; that is cut last, and until then tabs left standing or "
            "double-sided tape hold the part"
        )
    if setup.face in ("front", "back"):
        return "held on double-sided tape, or in soft jaws at its edges"
    return "held upright in a vice or against an angle plate, square to the table"


def tell_setup(setup: SetUp, stocks: tuple[Stock, ...] = ()) -> str:
    """Return what a set-up is: "body, front face up, stands 20 mm high, cuts the outline"."""
    up = f"{setup.face} face up" if setup.face in ("front", "back") else f"{setup.face} edge up"
    on = "" if setup.on == "machine" else ", on the drill press"
    free = ""
    if setup.outline is not None:
        free = ", rounds the corners" if _is_sawn(setup, stocks) else ", cuts the outline"
    return f"{setup.part}, {up}, stands {show_mm(setup.height)} mm high{on}{free}"
