"""Design rules on the worst case of the file's general tolerances.

The walls' need the solids; the others go by the plan.
"""

from __future__ import annotations

from geom.findings import Finding, Severity
from geom.frame import SAME_MM, WALL_MM
from geom.standards import tables
from layouts.closing.gland import LEAST_SQUEEZE, MOST_FILL, MOST_SQUEEZE
from layouts.faces import cover_name, joint_z
from layouts.milling.work import Milled
from layouts.panel import Panel
from layouts.plan import Routed, Sealed
from layouts.rules.findings import make_finding
from layouts.tolerances.classes import form_class, linear_class
from layouts.tolerances.fittings import WorstRoom, worst_rooms
from layouts.tolerances.screws import worst_screw
from layouts.tolerances.seal import WorstSeal, is_squeezed, worst_seals
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
    sealing = [wall for wall in walls if wall.wet or _is_groove(wall)]
    breached = [wall for wall in sealing if wall.worst <= SAME_MM]
    thin = [
        wall
        for wall in walls
        if wall not in breached and wall.worst < (wall.needed - WALL_MM if wall.wet else SAME_MM)
    ]
    return (
        *(_tell_wall(panel, wall, "fault") for wall in breached),
        *((_tell_wall(panel, thin[0], "caution", thin[1:]),) if thin else ()),
    )


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
    if worst is None or worst.apart <= worst.play + SAME_MM:
        return ()
    return (
        make_finding(
            "tolerance.screws",
            "note",
            f"by class {linear_class(panel)} both holes of {worst.name} may stand {worst.apart:.2f} mm off each other, "
            f"the cover's leaves {worst.play:.2f} mm to each side",
            "drill cover and body in one clamping, the cover's holes opened up afterwards, or call out a position of "
            f"{worst.zone:.2f} mm diameter for the holes of both in the drawing",
            worst.apart,
            worst.play,
            "mm",
            worst.at,
            (worst.name,),
        ),
    )


def _is_groove(wall: WorstWall) -> bool:
    return any(name.startswith("groove") for name in wall.between)


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
        more = f"; too little too between {'; '.join(named)}" + (f" and at {rest} more" if rest > 0 else "")
    needs = f", {limit:g} mm are needed" if limit > 0 else ""
    return make_finding(
        "tolerance.wall",
        severity,
        f"of the wall of {wall.nominal:.2f} mm between {wall.between[0]} and {wall.between[1]} at ({x:.2f}, {y:.2f}, "
        f"{z:.2f}) mm class {linear_class(panel)} {left}{needs}{more}",
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
        cures.append("set a finer class (tolerance in [make]) and hold it")
    if not wall.one_setup and panel.make.method == "milled":
        cures.append("measure both from one edge that both set-ups share, and call out that position")
    cures.append(f"make the wall {limit - wall.worst:.2g} mm thicker")
    return ", or ".join(cures)


def _judge_seal(panel: Panel, sealed: Sealed, seal: WorstSeal) -> tuple[Finding, ...]:
    cord = tables.cord(panel.make.cord)
    loops = sealed.loops_of(seal.layer)
    if not loops:
        return ()
    at = (*loops[0].path[0].start, joint_z(panel, seal.layer))
    names = tuple(loop.name for loop in loops)
    joint = f"the joint of the {cover_name(seal.layer)}"
    grade = linear_class(panel)
    callout = (
        f"{cord.groove_depth:g} mm deep (+{cord.groove_depth_tolerance:g}/0) and {cord.groove_width:g} mm wide "
        f"(+{cord.groove_width_tolerance:g}/0)"
    )
    least, most = seal.squeeze
    if seal.off_flat > seal.most_off + SAME_MM:
        return (
            make_finding(
                "tolerance.squeeze",
                "caution",
                f"joint faces that are {seal.off_flat:g} mm off flat over the {seal.span:.0f} mm between screws, as "
                f"class {form_class(panel)} lets each be, leave the cord in {joint} a squeeze of {_percent(least)}, "
                f"{LEAST_SQUEEZE * 100:g} % are needed",
                f"call out {seal.most_off:.2f} mm of flatness between screws for both faces, and the grooves "
                f"{callout}, or use a thicker cord",
                least * 100,
                LEAST_SQUEEZE * 100,
                "%",
                at,
                names,
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
        f"; and that both faces are flat within {seal.most_off:.2f} mm between screws, {seal.span:.0f} mm apart"
        if form_class(panel) is None
        else ""
    )
    return (
        make_finding(
            "tolerance.squeeze",
            "note",
            f"by class {grade} alone the grooves of {joint} squeeze the cord by {_percent(low)} to {_percent(high)} "
            f"and are filled up to {_percent(seal.fill_by_class)}; by their own tolerances by {_percent(least)} to "
            f"{_percent(most)}, and {_percent(seal.fill)}",
            f"call out in the drawing that the grooves are {callout}{flat}",
            value * 100,
            limit * 100,
            "%",
            at,
            names,
        ),
    )


def _tell_room(panel: Panel, room: WorstRoom) -> Finding:
    lacks = room.needed - room.worst
    need = "a spanner needs" if room.for_what == "spanner" else "its collar needs"
    beside = room.beside.strip('"')
    names = (room.port, beside) if room.for_what == "spanner" else (room.port,)
    return make_finding(
        "tolerance.spanner",
        "caution",
        f'by class {linear_class(panel)} "{room.port}" may stand {room.worst:.2f} mm from {room.beside}, {need} '
        f"{room.needed:.3g} mm",
        f"move the port by {lacks:.1g} mm or more, or call out its position in the drawing",
        room.worst,
        room.needed,
        "mm",
        room.at,
        names,
    )


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"
