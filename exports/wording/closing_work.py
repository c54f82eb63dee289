"""What the picture of a closing says for the work at the bench: screws, holes, groove, cord."""

from __future__ import annotations

import math

from exports.wording.figures import show_mm
from geom.standards import tables
from geom.words import count_of, tell_torque
from layouts.closing.gland import cut_length, scarf_allowance
from layouts.plan import Layer, Plan
from layouts.strength.fastening import fasten_plan
from layouts.strength.results import Fastening
from layouts.strength.screw_hole import clearance_hole, fit_screw
from layouts.strength.tightening_order import HOW

BY_HAND_NM = 0.3
"""Torque under which common torque wrenches do not read, [N m]; common practice, no source."""

BY_HAND = (
    "so little torque is given by hand: turn the short end of the key between two fingers until the head lies firm, "
    "and no further"
)
"""How so little torque is given; common practice, no source."""

HEAD = "socket head (ISO 4762), stainless steel of class 70 (ISO 3506-1) or stronger"
"""What the table of screws and the strength of their steel stand for."""


def list_work(plan: Plan, layer: Layer) -> list[tuple[str, str]]:
    """Return what is drilled, cut and tightened at one joint: a heading and a sentence each.

    Parameters
    ----------
    plan : Plan
        Of a panel closed by a cord.
    layer : {"back", "front"}
        The joint.

    Returns
    -------
    list of (str, str)
        Without screws only groove and cord.
    """
    fastened = next((one for one in fasten_plan(plan) if one.layer == layer), None)
    screws = [] if fastened is None else _list_screws(plan, fastened)
    return [*screws, *_list_cords(plan, layer)]


def is_by_hand(one: Fastening) -> bool:
    """Return whether the middle of what its screws are tightened to is under what a torque wrench reads."""
    return sum(one.torque_nm) / 2 < BY_HAND_NM


def _list_screws(plan: Plan, one: Fastening) -> list[tuple[str, str]]:
    panel = plan.panel
    count, fit = len(one.loads_n), fit_screw(panel)
    size = (
        f"{one.screw} x {one.length:g},"
        if one.length is not None
        else f"{one.screw}, no length finds thread,"
    )
    key = "front_screws_mm" if one.layer == "front" else "screws_mm"
    work = [("screws", f"{count} of {size} {HEAD}; their middles are in report.json, panel.{key}")]
    if one.washer:
        work.append(
            (
                "washers",
                f"{count} for {one.screw}, {one.washer:g} mm across ({one.washer_standard}), one under each head",
            )
        )
    least, most = one.torque_nm
    by_hand = f"; {BY_HAND}" if is_by_hand(one) else ""
    work.append(
        (
            "tighten to",
            f"{tell_torque(least, most)} for {one.preload_n:.0f} N each, by an estimate of friction, {HOW}"
            f"{by_hand}",
        )
    )
    work.append(("cover", f"{count_of(count, 'hole')} of {show_mm(clearance_hole(panel))} mm, through"))
    hole = f"{count_of(count, 'hole')} of {show_mm(fit.diameter)} mm, {show_mm(fit.depth)} mm deep from the joint"
    if fit.insert is None:
        thread = f"{show_mm(fit.engagement)} mm of thread {one.screw} at least"
    else:
        thread = f"an insert {fit.insert.name} in each, flush with the joint or a little below it"
    work.append(("body", f"{hole}; {thread}"))
    return work


def _list_cords(plan: Plan, layer: Layer) -> list[tuple[str, str]]:
    cord = tables.cord(plan.panel.make.cord)
    loops = plan.sealed.loops_of(layer)
    if not loops:
        return []
    deep = f"{show_mm(cord.groove_depth)} to {show_mm(cord.groove_depth + cord.groove_depth_tolerance)}"
    wide = f"{show_mm(cord.groove_width)} to {show_mm(cord.groove_width + cord.groove_width_tolerance)}"
    closed = [loop for loop in loops if loop.closed]
    scarf = scarf_allowance(cord)
    whole = math.fsum(cut_length(loop, cord)[1] for loop in loops) + scarf * len(closed)
    cut = (
        "near the longer end of its range: stretched, a cord grows thinner; longer than its groove, it buckles. "
        f"A splice at 45 degrees takes {show_mm(scarf)} mm more"
    )
    if len(closed) < len(loops):
        cut += "; one that ends at others is trimmed until both its ends just touch them"
    return [
        (
            "groove",
            f"{wide} mm wide, {deep} mm deep, in the body; radius of {show_mm(cord.groove_radius)} mm in the corners "
            "of its floor",
        ),
        (
            "cord",
            f"{whole / 1000:.2f} m of {show_mm(cord.section)} mm (±{show_mm(cord.tolerance)} mm) in all, with "
            f"{count_of(len(closed), 'splice')}; waste not counted",
        ),
        ("cut each", cut),
    ]
