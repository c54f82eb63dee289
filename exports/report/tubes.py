"""The tubes between panel and parts in the report."""

from __future__ import annotations

from typing import Any

from exports.wording.figures import round_plain
from exports.wording.tube_words import marks_of
from geom.frame import Vec
from layouts.plan import Plan
from layouts.tubes.centreline import BendMark
from layouts.tubes.values import TooNear, TubeRun


def tubes_section(plan: Plan) -> dict[str, Any] | None:
    """Return the tubes of a plan, ready for JSON; None where the file gives none.

    `points_mm` are the ends and corners of a centreline in the panel frame; `cut_mm` its length from stop to stop,
    insertions included, None where no tube fits. `bends` are marked from the panel's end.

    Parameters
    ----------
    plan : Plan
    """
    tubing = plan.panel.tubing
    if tubing is None or not plan.tubes:
        return None
    return {
        "outer_mm": round_plain(tubing.outer, 3),
        "bend_radius_mm": round_plain(tubing.bend_radius, 3),
        "stop_mm": round_plain(tubing.stop, 3),
        "insertion_mm": round_plain(tubing.insertion, 3),
        "runs": [_run(tube) for tube in plan.tubes],
    }


def _run(tube: TubeRun) -> dict[str, Any]:
    return {
        "name": tube.name,
        "port": tube.port,
        "part": tube.part,
        "cut_mm": round_plain(tube.length, 1) if tube.points else None,
        "points_mm": [_mm(point) for point in tube.points],
        "bends": [_mark(mark) for mark in marks_of(tube)],
        "why_none": tube.why_none or None,
        "straight_by_mm": None if tube.straight_by is None else _mm(tube.straight_by),
        "near": [_near(near) for near in tube.near],
    }


def _mark(mark: BendMark) -> dict[str, Any]:
    return {
        "angle_deg": round_plain(mark.angle_deg, 2),
        "start_mm": round_plain(mark.start, 1),
        "end_mm": round_plain(mark.end, 1),
        "turned_deg": round_plain(mark.turned_deg, 2),
    }


def _near(near: TooNear) -> dict[str, Any]:
    return {
        "what": near.what,
        "apart_mm": round_plain(near.apart, 2),
        "needs_mm": round_plain(near.needs, 2),
        "at_mm": _mm(near.at),
    }


def _mm(point: Vec) -> list[float | None]:
    return [round_plain(c, 2) for c in point]
