"""Tubes in words: what joins what, how it is bent, and to what length it is cut."""

from __future__ import annotations

from exports.wording.figures import show_degrees
from geom.words import count_of
from layouts.plan import Plan
from layouts.tubes.centreline import BendMark, mark_bends
from layouts.tubes.values import TubeRun


def tell_tube(plan: Plan, tube: TubeRun) -> str:
    """Return one tube in one line: 'tube 1: pump inlet (front) to radiator, 2 bends 90°, 90°, cut to 214 mm'.

    Parameters
    ----------
    plan : Plan
    tube : TubeRun
    """
    joins = f"{tube.name}: {tube.port} ({face_of(plan, tube)}) to {tube.part}"
    if not tube.points:
        return f"{joins}, none: {tube.why_none}"
    near = "".join(f"; too near to {other.what}" for other in tube.near)
    return f"{joins}, {tell_bends(tube)}, cut to {show_cut(tube.length)}{near}"


def tell_bends(tube: TubeRun) -> str:
    """Return the bends of a tube: "straight", "1 bend 90°", "2 bends 45°, 45°"."""
    if not tube.bends:
        return "straight"
    return f"{count_of(len(tube.bends), 'bend')} {', '.join(show_degrees(angle) for angle in tube.bends)}"


def tell_mark(mark: BendMark, first: bool) -> str:
    """Return a bend as it is marked on the straight tube, from the panel's end.

    Parameters
    ----------
    mark : BendMark
    first : bool
        Whether it is the tube's first: all others tell where they point.
    """
    said = f"{show_degrees(mark.angle_deg)} from {mark.start:.0f} to {mark.end:.0f} mm"
    if first:
        return said
    return f"{said}, {tell_turn(mark.turned_deg)}"


def tell_turn(turned_deg: float) -> str:
    """Return where a bend points against the one before, as seen along the tube from the panel's end."""
    turn = round(turned_deg, 1)
    if turn == 0.0:
        return "to the same side"
    if abs(turn) == 180.0:
        return "to the opposite side"
    return f"pointing {show_degrees(abs(turn))} {'clockwise' if turn > 0 else 'counter-clockwise'} of the one before"


def show_cut(length: float) -> str:
    """Return the length that a tube is cut to, in whole mm."""
    return f"{length:.0f} mm"


def number_of(tube: TubeRun) -> str:
    """Return a tube's number alone: "1" of "tube 1"."""
    return tube.name.rpartition(" ")[2]


def face_of(plan: Plan, tube: TubeRun) -> str:
    """Return the face of the port that a tube comes from."""
    return next(port.on for port in plan.routed.ports if port.name == tube.port)


def marks_of(tube: TubeRun) -> tuple[BendMark, ...]:
    """Return the bends of a tube as they are marked on it; empty for one that is straight or not there."""
    return mark_bends(tube.points, tube.bend_radius) if tube.points else ()
