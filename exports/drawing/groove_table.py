"""The table of grooves: what each goes round, its length and its bends, to check a programme against."""

from __future__ import annotations

from exports.drawing.face_tags import layer_of
from exports.drawing.sheet_tables import Table, wrap_text
from exports.wording.cord_names import cord_tag, name_rounds
from exports.wording.figures import show_mm
from geom.features import Blank
from geom.frame import Face
from geom.outline import Arc
from layouts.clearance import clearances_of
from layouts.plan import CordLoop, Plan

NAME_ROOM = 46.0
"""Width at which what a groove goes round is broken into lines, [mm]."""


def tabulate_grooves(plan: Plan, blank: Blank, face: Face) -> tuple[Table, ...]:
    """Return the table of the grooves that are cut into a face; none where there are none.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    """
    layer = layer_of(plan, blank, face)
    loops = () if layer is None else plan.sealed.loops_of(layer)
    if not loops:
        return ()
    rounds = name_rounds(plan.sealed)
    rows = tuple(
        (
            (cord_tag(loop),),
            wrap_text(rounds[loop.name], NAME_ROOM),
            (f"{loop.length:.0f}",),
            (_tell_radii(loop, 1.0),),
            (_tell_radii(loop, -1.0),),
        )
        for loop in loops
    )
    head = ("groove", "round", "length", "R outward", "R inward")
    said = "length and R of the middle line; outward: about what is wet"
    return (Table((f"Grooves, seen in the {face}", said), head, rows),)


def _tell_radii(loop: CordLoop, sign: float) -> str:
    """Return the radii of the turns of a groove's middle line to one side, the least first."""
    radii = {show_mm(s.radius): s.radius for s in loop.path if isinstance(s, Arc) and s.sweep * sign > 0}
    return ", ".join(sorted(radii, key=lambda said: radii[said])) or "–"


def tell_grooves(plan: Plan) -> str:
    """Return how the grooves of a panel run, in two sentences; empty where there are none.

    Parameters
    ----------
    plan : Plan
    """
    arcs = [s.radius for loop in plan.sealed.loops for s in loop.path if isinstance(s, Arc)]
    if not arcs:
        return ""
    width, land = plan.sealed.loops[0].groove_width, clearances_of(plan.panel).land
    return (
        f"Grooves run along the walls of channels and tank, their near edge {show_mm(land)} from them; at corners and "
        f"where channels meet they are rounded and stand further off. R of the middle line nowhere under "
        f"{show_mm(min(arcs))}, of the inner edge nowhere under {show_mm(min(arcs) - width / 2)}."
    )
