"""Lays a tube from each port of the panel to the part's own port that the file gives in the case's frame.

Tubes with the fewest bends are laid first: they have the least choice. Each then takes its shortest way that keeps
clear of the panel and of those before it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from geom.frame import SAME_MM, to_vec
from layouts.case import Tubing
from layouts.panel import Panel, Port
from layouts.plan import PlacedPort, Routed
from layouts.terrain import Terrain
from layouts.tubes.bends import find_one_bend, find_straight, find_three_bends, find_two_bends
from layouts.tubes.centreline import BendRule, bend_angles, measure_lines
from layouts.tubes.ends import list_meeting_ports, panel_end, part_end
from layouts.tubes.obstacles import Obstacles, Rods, is_in_panel, list_rods, panel_box, tube_rods
from layouts.tubes.straight_moves import find_move, survey_places
from layouts.tubes.values import TubeEnd, TubeRun

STRAIGHT_BEYOND = 1.0
"""Straight tube beyond each fitting before a bend may begin, and between two bends, in outer diameters.

What holds the tube while it is bent needs that: common practice, no source.
"""


@dataclass(frozen=True, slots=True, eq=False)
class _Wanted:
    """One tube to be laid: its port as the file has it and as placed, its ends, and its first choice of line."""

    name: str
    port: Port
    placed: PlacedPort
    a: TubeEnd
    b: TubeEnd
    line: np.ndarray | None
    why_none: str = ""
    cure_none: str = ""


def lay_tubes(panel: Panel, routed: Routed) -> tuple[TubeRun, ...]:
    """Return the tubes, in the order of the ports; empty where the file gives none.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    """
    tubing, ports = panel.tubing, list_meeting_ports(panel)
    if tubing is None or not ports:
        return ()
    rule = bend_rule(tubing)
    placed = {port.name: port for port in routed.ports}
    wanted = [
        _want(panel, f"tube {number}", port, placed[port.name], rule) for number, port in enumerate(ports, 1)
    ]
    terrain: Terrain | None = None
    runs: dict[str, TubeRun] = {}
    low, high = panel_box(panel)
    fittings = list_rods(panel, routed)
    laid: dict[str, Rods] = {}

    def look_round(want: _Wanted) -> Obstacles:
        """Return all but the tube's own fitting and itself."""
        others = (rods for name, rods in fittings if name != want.port.name)
        tubes = (rods for name, rods in laid.items() if name != want.name)
        return Obstacles(np.array(low), np.array(high), tubing.outer / 2, (*others, *tubes), rule.radius)

    for want in sorted(wanted, key=_count_bends):
        if want.line is None:
            runs[want.name] = _run_none(want)
            continue
        obstacles = look_round(want)
        line = _choose_line(want, rule, obstacles, tubing)
        laid[want.name] = tube_rods(want.name, line, rule.radius, tubing.outer)
        runs[want.name] = _run(want, line, rule, obstacles)
    for want in wanted:
        run = runs[want.name]
        # A port whose tube is straight already, or fixed, is not moved.
        if len(run.points) == 2 or want.port.at is not None:
            continue
        terrain = terrain or survey_places(panel, routed)
        move = find_move(panel, routed, terrain, want.port, want.placed, want.b, look_round(want))
        runs[want.name] = replace(run, straight_by=move)
    return tuple(runs[want.name] for want in wanted)


def bend_rule(tubing: Tubing) -> BendRule:
    """Return what bends of the tubes need; a radius of 0 where they stay straight.

    Parameters
    ----------
    tubing : Tubing
    """
    beyond = STRAIGHT_BEYOND * tubing.outer
    return BendRule(tubing.bend_radius or 0.0, tubing.insertion + beyond, beyond)


def _want(panel: Panel, name: str, port: Port, placed: PlacedPort, rule: BendRule) -> _Wanted:
    tubing = panel.tubing
    assert tubing is not None
    assert port.meets is not None
    a, b = panel_end(panel, placed), part_end(panel.case, port.meets)
    line, why, cure = None, "", ""
    apart = math.dist(a.at, b.at)
    if is_in_panel(panel, b.at):
        why = "the part's port lies inside the panel"
        cure = "correct its place, or origin, right and front in [case]"
    elif find_straight(a, b):
        line = np.array([a.at, b.at])
        if apart < 2 * tubing.insertion - SAME_MM:
            line, cure = None, "move the part farther off"
            why = f"its ends stand {apart:.3g} mm apart, and {2 * tubing.insertion:g} mm of it go into the fittings"
    elif tubing.bend_radius is None:
        why = "its ends are not in line, and [tube] gives no bend_radius"
        cure = "write one, or move the part in line with the port"
    else:
        for find in (find_one_bend, find_two_bends, find_three_bends):
            line = find(a, b, rule)
            if line is not None:
                break
        else:
            why = (
                f"no three bends of {tubing.bend_radius:g} mm, with {rule.lead:g} mm straight at each end, fit between "
                f"its ends, {apart:.3g} mm apart"
            )
            cure = "move or turn the part, or bend the tube tighter"
    return _Wanted(name, port, placed, a, b, line, why, cure)


def _count_bends(want: _Wanted) -> int:
    return 0 if want.line is None else len(want.line) - 2


def _choose_line(want: _Wanted, rule: BendRule, obstacles: Obstacles, tubing: Tubing) -> np.ndarray:
    """Return the line of a tube: its first choice where that is clear, else the next that is; else its first."""
    assert want.line is not None
    if float(obstacles.lack(want.line[None])[0]) <= SAME_MM or tubing.bend_radius is None:
        return want.line
    if _is_shut_in(want, rule, obstacles):
        return want.line
    for find in (find_two_bends, find_three_bends):
        line = find(want.a, want.b, rule, obstacles.lack)
        if line is not None:
            return line
    return want.line


def _is_shut_in(want: _Wanted, rule: BendRule, obstacles: Obstacles) -> bool:
    """Return whether a tube comes too near to something on its first straight, or its last, whatever its bends."""
    stubs = [
        [np.array(end.at), np.array(end.at), np.array(end.at) + rule.lead * np.array(end.out)]
        for end in (want.a, want.b)
    ]
    # The first piece of a chain stands in its own fitting: that of the part's end does not.
    stubs[0] = [stubs[0][0], stubs[0][2], stubs[0][2]]
    return bool((obstacles.lack_chains(np.array(stubs)) > SAME_MM).any())


def _run_none(want: _Wanted) -> TubeRun:
    return TubeRun(
        want.name,
        want.port.name,
        want.port.part,
        (),
        (),
        0.0,
        0.0,
        want.why_none,
        cure_none=want.cure_none,
    )


def _run(want: _Wanted, line: np.ndarray, rule: BendRule, obstacles: Obstacles) -> TubeRun:
    bends = tuple(float(np.degrees(angle)) for angle in bend_angles(line[None])[0])
    return TubeRun(
        want.name,
        want.port.name,
        want.port.part,
        tuple(to_vec(point) for point in line),
        bends,
        rule.radius if bends else 0.0,
        float(measure_lines(line[None], rule)[0][0]),
        near=obstacles.list_near(line),
    )
