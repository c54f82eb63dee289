"""The cover screws in the report: what pulls on them, what holds them, how tight they are."""

from __future__ import annotations

from typing import Any

from exports.wording.figures import round_plain
from layouts.plan import Plan
from layouts.strength.fastening import fasten_plan


def fastening_section(plan: Plan) -> list[dict[str, Any]]:
    """Return an entry for each cover that is screwed, the back one first.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of dict
        Ready for JSON; `loads_n` and `shares_n` in the order of the panel's `screws_mm` or `front_screws_mm`.
    """
    return [
        {
            "layer": one.layer,
            "screw": one.screw,
            "length_mm": round_plain(one.length, 2),
            "engagement_mm": round_plain(one.engagement, 2),
            "washer_mm": round_plain(one.washer, 2) if one.washer else None,
            "insert": one.insert,
            "loads_n": [round_plain(load, 1) for load in one.loads_n],
            "shares_n": [round_plain(share, 1) for share in one.shares_n],
            "calculated": one.calculated,
            "asked_n": round_plain(one.asked_n, 1),
            "preload_n": round_plain(one.preload_n, 1),
            "holds_n": round_plain(one.holds_n, 1),
            "head_holds_n": round_plain(one.head_holds_n, 1),
            "torque_nm": [round_plain(torque, 3) for torque in one.torque_nm],
        }
        for one in fasten_plan(plan)
    ]
