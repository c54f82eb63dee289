"""Design rules on the worst case of the file's general tolerances.

The walls' need the solids; the others go by the plan.
"""

from __future__ import annotations

import math
from dataclasses import replace

from geom.findings import Finding, KeyChange, Severity
from geom.frame import SAME_MM, WALL_MM
from geom.standards import tables
from layouts.closing.cords import CORNER_SECTIONS
from layouts.closing.gland import LEAST_SQUEEZE, MOST_FILL, MOST_SQUEEZE, tightest_turn
from layouts.cures import Cure, join_cures, use_cord
from layouts.faces import cover_name, joint_z
from layouts.file.offers import offer_changes
from layouts.file_changes import set_key, set_length, thicken_sheet
from layouts.milling.work import Milled
from layouts.panel import Make, Panel
from layouts.plan import Routed, Sealed
from layouts.rules.findings import make_finding
from layouts.strength.screw_hole import clearance_hole, widest_hole
from layouts.tolerances.classes import form_class, linear_class
from layouts.tolerances.fittings import BODY_FACE, WorstRoom, worst_rooms
from layouts.tolerances.screws import WorstScrew, worst_screw
from layouts.tolerances.seal import WorstSeal, call_out_groove, is_squeezed, worst_seals
from layouts.tolerances.walls import WorstWall

MOST_NAMED = 3
"""Walls that are named in one finding beside the worst."""


def check_tolerance_walls(panel: Panel, walls: tuple[WorstWall, ...]) -> tuple[Finding, ...]:
    """Ask whether the walls stand the worst case of the tolerances (`tolerance.wall`).

    Walls that the class can take away wholly are faults, one each, where coolant or a cord stands beside them; the
    others that it makes too thin are one caution.

    Parameters
    ----------
    panel : Panel
    walls : tuple of WorstWall
        From `layouts.tolerances.walls.worst_walls`.
    """
    breached = [wall for wall in walls if _is_breached(wall)]
    thin = [wall for wall in walls if wall not in breached and is_thin_at_worst(wall)]
    return (
        *(_tell_wall(panel, wall, "fault") for wall in breached),
        *((_tell_wall(panel, thin[0], "caution", thin[1:]),) if thin else ()),
    )


def is_thin_at_worst(wall: WorstWall) -> bool:
    """Return whether the class can make a wall too thin: beside coolant under what is needed, elsewhere to nothing.

    Parameters
    ----------
    wall : WorstWall
    """
    return _is_breached(wall) or wall.worst < (wall.needed - WALL_MM if wall.wet else SAME_MM)


def _is_breached(wall: WorstWall) -> bool:
    return (wall.wet or wall.groove) and wall.worst <= SAME_MM


def check_tolerance_seal(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether the class holds the cord's squeeze and fill (`tolerance.squeeze`)."""
    return tuple(
        finding for seal in worst_seals(panel, sealed) for finding in _judge_seal(panel, sealed, seal)
    )


def check_tolerance_rooms(panel: Panel, routed: Routed, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether spanners and collars have room at the worst (`tolerance.spanner`).

    Where there is too little room as drawn, `port.room` and `port.seat` tell.
    """
    found = []
    for room in worst_rooms(panel, routed, milled):
        if room.worst >= room.needed - SAME_MM or room.nominal < room.needed - SAME_MM:
            continue
        found.append(_tell_room(panel, room))
    return tuple(found)


def check_tolerance_screws(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether the cover's screws go in where both sheets are drilled apart (`tolerance.screws`)."""
    worst = worst_screw(panel, sealed)
    if worst is None or not worst.misses:
        return ()
    cure = _cure_screws(panel, worst)
    return (
        make_finding(
            "tolerance.screws",
            "note",
            f"{_by_class(panel)} both holes of {worst.name} may stand {worst.apart:.2f} mm off each other, "
            f"the cover's leaves {worst.play:.2f} mm to each side",
            cure.text,
            worst.apart,
            worst.play,
            "mm",
            worst.at,
            (worst.name,),
            offer_changes(panel, cure),
        ),
    )


def _tell_wall(
    panel: Panel, wall: WorstWall, severity: Severity, others: list[WorstWall] | None = None
) -> Finding:
    others = others or []
    x, y, z = wall.at
    limit = wall.needed if wall.wet and severity == "caution" else 0.0
    left = (
        f"may leave only {wall.worst:.2f} mm"
        if wall.worst > 0
        else "may take all of it"
        if wall.worst > -SAME_MM
        else f"may take {wall.nominal - wall.worst:.2f} mm"
    )
    more = ""
    if others:
        named = [f"{a} and {b}" for a, b in (other.between for other in others[:MOST_NAMED])]
        rest = len(others) - len(named)
        more = f"; also too thin between {'; '.join(named)}" + (f" and at {rest} more" if rest > 0 else "")
    needs = f", {limit:g} mm are needed" if limit > 0 else ""
    return make_finding(
        "tolerance.wall",
        severity,
        f"of the wall of {wall.nominal:.2f} mm between {wall.between[0]} and {wall.between[1]} at ({x:.2f}, {y:.2f}, "
        f"{z:.2f}) mm {_within_class(panel)} {left}{needs}{more}",
        _cure_wall(panel, wall, limit),
        wall.worst,
        limit,
        "mm",
        wall.at,
        tuple(
            dict.fromkeys(
                name for each in (wall, *others) for name in each.between if not name.startswith("outer ")
            )
        ),
    )


def _cure_wall(panel: Panel, wall: WorstWall, limit: float) -> str:
    cures = []
    if linear_class(panel) != "f":
        hold = "if the printer holds it" if panel.make.method == "printed" else "and hold it"
        cures.append(f"set a finer class (tolerance in [make]) {hold}")
    if not wall.one_setup and panel.make.method == "milled":
        cures.append("measure both from one edge that both set-ups share, and call out that position")
    cures.append(f"make the wall {limit - wall.worst:.2g} mm thicker")
    return ", or ".join(cures)


def _cure_screws(panel: Panel, worst: WorstScrew) -> Cure:
    if panel.make.method == "printed":
        # Up to a hundredth, so that both play and the file's value do.
        wider = math.ceil((clearance_hole(panel) + 2 * (worst.apart - worst.play)) * 100 - SAME_MM) / 100
        if wider <= widest_hole(panel) + SAME_MM:
            return Cure(
                "try the cover on the body and open up those of its holes that do not meet, to "
                f'{wider:g} mm at most, or set screw_hole = "{wider:g} mm" in [make]',
                (set_length(wider, "make", "screw_hole"),),
            )
        # A wider hole would leave the screw's head, or its washer, no seat.
        finer = (
            ""
            if linear_class(panel) == "f"
            else "set a finer class (tolerance in [make]) if the printer holds it, or "
        )
        return Cure(
            f"{finer}mark the body's holes on the cover where its own do not meet them, and drill it there"
        )
    return Cure(
        "hold the position of "
        f"{worst.zone:g} mm diameter that the drawing calls out for the holes of both, or drill cover and body in one "
        "clamping, the cover's holes opened up afterwards"
    )


def _judge_seal(panel: Panel, sealed: Sealed, seal: WorstSeal) -> tuple[Finding, ...]:
    loops = sealed.loops_of(seal.layer)
    if not loops:
        return ()
    at = (*loops[0].path[0].start, joint_z(panel, seal.layer))
    names = tuple(loop.name for loop in loops)
    joint = f"the joint of the {cover_name(seal.layer)}"
    printed = panel.make.method == "printed"
    callout = _call_out_groove(panel)
    least, most = seal.squeeze
    if seal.off_flat > seal.most_off + SAME_MM:
        cures = _cure_flatness(panel, sealed, seal)
        return (
            make_finding(
                "tolerance.squeeze",
                "caution",
                f"joint faces that are {seal.off_flat:g} mm off flat over the {seal.span:.0f} mm between screws, as "
                f"class {form_class(panel)} lets each be, leave the cord in {joint} {_tell_squeeze(least)}, "
                f"{LEAST_SQUEEZE * 100:g} % are needed",
                join_cures(cures),
                least * 100,
                LEAST_SQUEEZE * 100,
                "%",
                at,
                names,
                offer_changes(panel, *cures),
            ),
        )
    if not seal.called_out:
        return ()
    low, high = seal.by_class
    squeezed = not is_squeezed(seal.by_class)
    under = LEAST_SQUEEZE - low > high - MOST_SQUEEZE
    value, limit = (
        ((low, LEAST_SQUEEZE) if under else (high, MOST_SQUEEZE))
        if squeezed
        else (seal.fill_by_class, MOST_FILL)
    )
    flat = (
        f"{'' if printed else '; and that'} both faces are flat within {seal.flat_limit:g} mm between screws, "
        f"{seal.span:.0f} mm apart"
        if form_class(panel) is None
        else ""
    )
    return (
        make_finding(
            "tolerance.squeeze",
            "note",
            f"{_by_class(panel)} alone the grooves of {joint} {_tell_range(low, high)} "
            f"and are filled up to {_percent(seal.fill_by_class)}; by their own tolerances by {_percent(least)} to "
            f"{_percent(most)}, and {_percent(seal.fill)}",
            f"measure the printed grooves before the cord goes in: {callout}{flat and ';'}{flat}"
            if printed
            else f"measure what the drawing calls out: that the grooves are {callout}{flat}",
            value * 100,
            limit * 100,
            "%",
            at,
            names,
        ),
    )


def _call_out_groove(panel: Panel) -> str:
    """Return what the grooves have to be for a drawing, or of a printed panel for whoever measures them."""
    cord = tables.cord(panel.make.cord)
    depth, deeper = cord.groove_depth, cord.groove_depth_tolerance
    width, wider = cord.groove_width, cord.groove_width_tolerance
    if panel.make.method == "printed":
        return f"{depth:g} to {depth + deeper:g} mm deep and {width:g} to {width + wider:g} mm wide"
    return call_out_groove(cord)


def _cure_flatness(panel: Panel, sealed: Sealed, seal: WorstSeal) -> list[Cure]:
    """Return what gives the cord its squeeze over faces that are off flat; of cords only one that also turns."""
    cures = []
    form, grade = form_class(panel) or "", linear_class(panel)
    for finer in ("K", "H"):
        if finer < form and _is_flat_enough(
            panel, sealed, seal, replace(panel.make, tolerance=grade + finer)
        ):
            held = (set_key(f"{grade}{finer}", "make", "tolerance"),)
            cures.append(Cure(f'set tolerance = "{grade}{finer}" in [make]', held))
            break
    turns = [turn[0] for loop in sealed.loops if (turn := tightest_turn(loop)) is not None]
    for section in tables.cord_sections():
        turning = section * CORNER_SECTIONS <= min(turns, default=math.inf) + SAME_MM
        thicker = replace(panel.make, cord=section)
        if section > panel.make.cord and turning and _is_flat_enough(panel, sealed, seal, thicker):
            cures.append(use_cord(section))
            break
    flat, callout = f"{seal.flat_limit:g}", _call_out_groove(panel)
    dropped = f'leave the class of form out (tolerance = "{grade}" in [make])'
    by_hand = (
        f"sand both faces flat within {flat} mm between screws, measure that the grooves are {callout}, and {dropped}"
        if panel.make.method == "printed"
        else f"hold the {flat} mm of flatness between screws that the drawing calls out for both faces, and that the "
        f"grooves are {callout}, and {dropped}"
    )
    cures.append(Cure(by_hand, (set_key(grade, "make", "tolerance"),)))
    return cures


def _is_flat_enough(panel: Panel, sealed: Sealed, seal: WorstSeal, make: Make) -> bool:
    """Return whether the cord of a joint keeps its squeeze when made otherwise."""
    others = worst_seals(replace(panel, make=make), sealed)
    worst = next(each for each in others if each.layer == seal.layer)
    return worst.off_flat <= worst.most_off + SAME_MM


def _round_up(length: float) -> float:
    """Return a length up to a tenth, [mm]."""
    return math.ceil(length * 10 - SAME_MM) / 10


def _by_class(panel: Panel) -> str:
    return f"{'printed within' if panel.make.method == 'printed' else 'by'} class {linear_class(panel)}"


def _within_class(panel: Panel) -> str:
    return f"{'printing within ' if panel.make.method == 'printed' else ''}class {linear_class(panel)}"


def _tell_room(panel: Panel, room: WorstRoom) -> Finding:
    lacks = room.needed - room.worst
    cure = _cure_room(panel, room, lacks)
    need = "a spanner needs" if room.for_what == "spanner" else "its collar needs"
    beside = room.beside.strip('"')
    names = (room.port, beside) if room.for_what == "spanner" else (room.port,)
    return make_finding(
        "tolerance.spanner",
        "caution",
        f'{_by_class(panel)} "{room.port}" may stand {room.worst:.2f} mm from {room.beside}, {need} '
        f"{room.needed:.3g} mm",
        cure.text,
        room.worst,
        room.needed,
        "mm",
        room.at,
        names,
        offer_changes(panel, cure),
    )


def _cure_room(panel: Panel, room: WorstRoom, lacks: float) -> Cure:
    # An edge port stands in the middle of what the body leaves it: only a thicker body moves it off both faces.
    if room.beside == BODY_FACE:
        more = _round_up(2 * lacks)
        move = f"set body in [make] {more:g} mm thicker, or use fittings of a smaller thread"
        thicker: tuple[KeyChange, ...] = (thicken_sheet(panel, "body", more),)
    else:
        move, thicker = f"move the port by {_round_up(lacks):g} mm or more", ()
    drawn = "" if panel.make.method == "printed" else ", or call out its position in the drawing"
    return Cure(f"{move}{drawn}", thicker)


def _tell_squeeze(least: float) -> str:
    return "without any squeeze" if least <= 0 else f"a squeeze of {_percent(least)}"


def _tell_range(low: float, high: float) -> str:
    if low <= 0:
        return f"may not squeeze the cord at all, or by up to {_percent(high)},"
    return f"squeeze the cord by {_percent(low)} to {_percent(high)}"


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"
