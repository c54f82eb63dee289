"""The closing as the report tells it."""

from __future__ import annotations

import math
from typing import Any

from exports.wording.figures import round_plain
from geom.standards import tables
from layouts.closing.gland import cut_length, scarf_allowance, tightest_turn
from layouts.plan import Plan


def cords_section(plan: Plan) -> list[dict[str, Any]]:
    """Return the cords in the order of their grooves; none where the panel is bonded or one piece.

    `cut_mm` holds the least and the greatest length to cut for a square butt joint, `scarf_mm` what a splice at 45
    degrees takes more; `least_radius_mm` is that of the tightest turn's inner wall. `ends_in` names the grooves that an
    open one starts and ends in; a closed one has none.
    """
    if not plan.sealed.loops:
        return []
    cord = tables.cord(plan.panel.make.cord)
    section = []
    for loop in plan.sealed.loops:
        turn = tightest_turn(loop)
        section.append(
            {
                "name": loop.name,
                "region": loop.region,
                "layer": loop.layer,
                "ends_in": list(loop.meets),
                "length_mm": round_plain(loop.length, 2),
                "cut_mm": [round_plain(length, 1) for length in cut_length(loop, cord)],
                "scarf_mm": round_plain(scarf_allowance(cord), 2),
                "least_radius_mm": None if turn is None else round_plain(turn[0], 3),
            }
        )
    return section


def screws_section(plan: Plan) -> list[dict[str, Any]]:
    """Return how well each cover's screws hold its cords; none where nothing is screwed.

    `least` is the proven least number of screws, `reach_mm` the greatest distance from a place of a cord to its
    nearest screw (None without screws), `crowded_mm` the closest spacing that the load on screws asks for at some place
    (None where it asks for none), `open` the stretches of cord that no screw reaches.
    """
    return [
        {
            "layer": one.layer,
            "count": len(plan.sealed.screws_of(one.layer)),
            "least": one.least,
            "spacing_mm": round_plain(one.spacing, 3),
            "limit": one.limit,
            "crowded_mm": None if one.crowded is None else round_plain(one.crowded, 3),
            "reach_mm": round_plain(one.reach, 3) if math.isfinite(one.reach) else None,
            "open": [
                {
                    "cord": stretch.loop,
                    "at_mm": [round_plain(c, 3) for c in stretch.at],
                    "length_mm": round_plain(stretch.length, 2),
                    "blockers": list(stretch.blockers),
                }
                for stretch in one.stretches
            ],
        }
        for one in plan.sealed.coverage
    ]
