"""The split of a printed panel as the report tells it."""

from __future__ import annotations

from typing import Any

from exports.wording.figures import round_plain
from layouts.plan import Plan
from layouts.printing.printed import Split
from layouts.printing.split_ring import ring_cut_length


def split_section(plan: Plan) -> dict[str, Any] | None:
    """Return where a panel is split and how its joint is sealed and held; None where it is not.

    `rings` are the rings of cord, one for each channel that passes: `cut_mm` holds the least and the greatest length to
    cut for a square butt joint. `screws` tells how many there are, what pulls on each at the test pressure and what
    each holds: an estimate.
    """
    split = None if plan.printed is None else plan.printed.split
    if split is None:
        return None
    return {
        "axis": split.axis,
        "at_mm": round_plain(split.at, 3),
        "pieces": list(split.pieces),
        "rings": _rings(split),
        "screws": _screws(split),
        "pins_mm": [[round_plain(c, 3) for c in at] for at in split.pins],
    }


def _rings(split: Split) -> list[dict[str, Any]]:
    return [
        {
            "name": f"cord ring {number}",
            "channel": one.channel,
            "at_mm": [round_plain(c, 3) for c in one.at],
            "cord_mm": round_plain(split.cord, 3),
            "groove_mm": [round_plain(d, 3) for d in (split.ring_inner, split.ring_outer, split.ring_depth)],
            "cut_mm": [round_plain(length, 1) for length in ring_cut_length(split)],
        }
        for number, one in enumerate(split.crossings, start=1)
    ]


def _screws(split: Split) -> dict[str, Any] | None:
    screw = split.screw
    if screw is None:
        return None
    return {
        "screw": screw.name,
        "length_mm": round_plain(screw.length, 3),
        "washer_mm": round_plain(screw.washer, 3),
        "count": len(split.screws),
        "at_mm": [[round_plain(c, 3) for c in at] for at in split.screws],
        "loads_n": [round_plain(load, 1) for load in split.loads_n],
        "preload_n": round_plain(split.preload_n, 1),
        "holds_n": round_plain(screw.holds_n, 1),
        "torque_nm": [round_plain(torque, 3) for torque in split.torque_nm],
    }
