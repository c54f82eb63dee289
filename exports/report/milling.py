"""How milled parts are cut, in the report: set-ups, cutters, cutter list, what is left standing, time."""

from __future__ import annotations

from typing import Any

from exports.formats.dxf import dxf_name
from exports.wording.figures import round_banded, round_plain
from exports.wording.milling_words import tell_axes, tell_holding
from layouts.milling.cut_times import TIME_BAND
from layouts.milling.work import Cutting, Job, Milled, Rest, SetUp
from layouts.panel import EndMill
from layouts.plan import Plan


def milling_section(plan: Plan) -> dict[str, Any] | None:
    """Return how the milled parts are cut; None where all are printed.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict or None
        Ready for JSON; [mm], [mm3], [min].
    """
    milled = plan.milled
    if milled is None:
        return None
    return {
        "setups": [_setup(n, setup, milled) for n, setup in enumerate(milled.setups, 1)],
        "cutters": [_cutting(cutting) for cutting in milled.cuttings],
        "jobs": [_job(n, job, milled) for n, job in enumerate(milled.jobs, 1)],
        "rests": [_rest(rest) for rest in milled.rests],
        "minutes": round_banded(milled.minutes, TIME_BAND),
        "minutes_band": TIME_BAND,
        "removed_mm3": round_plain(milled.removed_mm3, 1),
        "outline_mm3": round_plain(milled.outline_mm3, 1),
        "assumptions": list(milled.assumptions),
    }


def _setup(number: int, setup: SetUp, milled: Milled) -> dict[str, Any]:
    return {
        "number": number,
        "part": setup.part,
        "up": setup.face,
        "on": setup.on,
        "size_mm": [round_plain(v, 4) for v in setup.size],
        "height_mm": round_plain(setup.height, 4),
        "axes": tell_axes(setup),
        "held": tell_holding(setup, milled.stocks),
        "outline": setup.outline is not None,
        "pockets": [pocket.name for pocket in setup.pockets],
        "holes": [hole.name for hole in setup.holes],
        "holes_uv_mm": [[round_plain(c, 4) for c in hole.at] for hole in setup.holes],
        "dxf": dxf_name(setup),
    }


def _cutting(cutting: Cutting) -> dict[str, Any]:
    return {
        "part": cutting.part,
        "up": cutting.face,
        "pocket": cutting.pocket,
        "rough_mm": _diameter(cutting.rough),
        "finish_mm": _diameter(cutting.finish),
    }


def _diameter(mill: EndMill | None) -> float | None:
    return None if mill is None else round_plain(mill.diameter, 4)


def _job(number: int, job: Job, milled: Milled) -> dict[str, Any]:
    setup = next(
        n for n, setup in enumerate(milled.setups, 1) if (setup.part, setup.face) == (job.part, job.face)
    )
    return {
        "number": number,
        "setup": setup,
        "tool": job.tool,
        "size": job.size,
        "diameter_mm": round_plain(job.diameter, 4),
        "cuts": list(job.cuts),
        "removed_mm3": round_plain(job.volume_mm3, 1),
        "deepest_mm": round_plain(job.deepest, 4),
        "minutes": round_banded(job.minutes, TIME_BAND),
        "speed_rpm": round_plain(job.speed_rpm, 0),
        "feed_mm_min": round_plain(job.feed_mm_min, 0),
    }


def _rest(rest: Rest) -> dict[str, Any]:
    return {
        "pocket": rest.pocket,
        "at_mm": [round_plain(v, 4) for v in rest.at],
        "radius_mm": round_plain(rest.radius, 4),
        "width_mm": round_plain(rest.width, 4),
        "cutter_mm": round_plain(rest.cutter, 4),
        "area_mm2": round_plain(rest.area, 4),
    }
