"""Which end mills there are, and which of them cut a pocket."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import ROUNDING, SAME_MM
from layouts.milling.pockets import OpenPocket, cleared_share, find_middle, goes_in, is_cleared, list_rests
from layouts.milling.work import Cutting, Rest
from layouts.panel import EndMill, Panel

COMMON_SIZES = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
"""Diameters of end mills in most workshops, [mm]; common practice, no source."""

REACH_GOOD, REACH_MOST = 4.0, 6.0
"""Depth over cutter diameter that is cut well, and at all: milling guides."""

QUIET_CORNER = 1.3
"""Inner radius over the cutter's from which it runs quietly: milling guides."""

SHALLOW = 0.1
"""Depth over cutter diameter up to which a cutter runs quietly in any corner that it goes in: so little of its edge
cuts; common practice, no source. It keeps a spot face from asking for a cutter, and a tool change, of its own."""

ROUGH_ROOM = 1.1
"""A roughing cutter has this much room, of its own diameter; common practice, no source."""

ROUGH_GAIN = 1.4
"""Diameter over the finishing cutter's from which another tool is worth its change; common practice, no source."""

ROUGH_SHARE = 0.7
"""Share of a pocket that is worth a cutter of its own to rough it; common practice, no source."""

WET_POCKETS = ("channel", "tank")
"""Kinds for which the file's `cutter` is the smallest."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What cuts a pocket, and what is then left in it."""

    cutting: Cutting
    rests: tuple[Rest, ...]


def cutters_at_hand(panel: Panel) -> tuple[EndMill, ...]:
    """Return the end mills at hand, small to large: the file's, or the common sizes with the file's `cutter`.

    Parameters
    ----------
    panel : Panel
    """
    if panel.milling.cutters:
        return tuple(sorted(panel.milling.cutters, key=lambda cutter: cutter.diameter))
    sizes = {*COMMON_SIZES, panel.make.cutter} if panel.make.cutter > 0 else {*COMMON_SIZES}
    return tuple(EndMill(size) for size in sorted(sizes))


def cutters_for(panel: Panel, kind: str) -> tuple[EndMill, ...]:
    """Return the end mills that may cut a kind of feature, small to large.

    Parameters
    ----------
    panel : Panel
    kind : str
        Channels and tank are cut with none smaller than the file's `cutter`; grooves, seats and spot faces with any.
    """
    least = panel.make.cutter if kind in WET_POCKETS else 0.0
    return tuple(cutter for cutter in cutters_at_hand(panel) if cutter.diameter >= least - SAME_MM)


def usable_reach(cutter: EndMill) -> float:
    """Return how deep a cutter cuts at all, [mm]: what the file says, else as many diameters as guides allow.

    Parameters
    ----------
    cutter : EndMill
    """
    return REACH_MOST * cutter.diameter if cutter.reach is None else cutter.reach


def choose_cutters(panel: Panel, space: OpenPocket) -> Choice:
    """Return what cuts a pocket.

    The finishing cutter leaves nothing standing, reaches the floor within few diameters, and has room in every corner
    and way: the largest that has all of it. Where none has room, the smallest: it has most. Where all are long for
    the depth, the stiffest. Where all leave something, the one that leaves least. A roughing cutter is the largest
    that takes most of it in one piece.

    Parameters
    ----------
    panel : Panel
    space : OpenPocket

    Returns
    -------
    Choice
        Without cutters where none goes in.
    """
    pocket = space.pocket
    allowed = cutters_for(panel, pocket.kind)
    part, face = space.setup.part, space.setup.face
    corner = next(iter(space.corners), None)
    tightest = math.inf if corner is None else corner.radius
    tight_at = None if corner is None else space.plane.to_panel((*corner.at, pocket.floor))
    at = find_middle(space)
    clean = 0
    for k in range(len(allowed), 0, -1):
        if is_cleared(space, allowed[k - 1].diameter / 2):
            clean = k
            break
    if clean:
        finish = _choose_finish(space, allowed[:clean])
        rests: tuple[Rest, ...] = ()
    else:
        reaching = [cutter for cutter in allowed if _trouble(cutter, pocket.floor) < 2]
        finish = (reaching or list(allowed))[0]
        rests = list_rests(space, finish.diameter / 2)
        if not goes_in(space, finish.diameter / 2):
            return Choice(Cutting(part, face, pocket.name, None, None, tightest, tight_at, at), rests)
    rough = _choose_rough(space, allowed, finish)
    return Choice(Cutting(part, face, pocket.name, rough, finish, tightest, tight_at, at), rests)


def quiet_radius(cutter: EndMill, depth: float) -> float:
    """Return the inner radius from which a cutter runs quietly at a depth, [mm].

    Parameters
    ----------
    cutter : EndMill
    depth : float
        [mm]
    """
    radius = cutter.diameter / 2
    return radius if reach_ratio(cutter, depth) <= SHALLOW + ROUNDING else QUIET_CORNER * radius


def reach_ratio(cutter: EndMill, depth: float) -> float:
    """Return a depth in diameters of a cutter, [-]."""
    return depth / cutter.diameter


def _cuts_to(cutter: EndMill) -> float:
    """Return how deep a cutter may be used, [mm]: its reach, but no more diameters than guides allow."""
    return min(usable_reach(cutter), REACH_MOST * cutter.diameter)


def _trouble(cutter: EndMill, depth: float) -> int:
    """Return 2 where a cutter does not reach a depth, 1 where it is cut badly, else 0."""
    if depth > _cuts_to(cutter) + SAME_MM:
        return 2
    return 1 if reach_ratio(cutter, depth) > REACH_GOOD + ROUNDING else 0


def _choose_finish(space: OpenPocket, clean: tuple[EndMill, ...]) -> EndMill:
    """Return the best of cutters that leave nothing: the larger one that has room needs no look at smaller ones."""
    depth = space.pocket.floor
    good = [cutter for cutter in clean if _trouble(cutter, depth) == 0]
    if not good:
        deepest = max(min(depth, _cuts_to(cutter)) for cutter in clean)
        good = [cutter for cutter in clean if min(depth, _cuts_to(cutter)) >= deepest - SAME_MM]
        if _trouble(good[-1], depth) < 2:
            # Long for the depth: stiffness counts before room.
            return good[-1]
    for cutter in reversed(good):
        if is_cleared(space, quiet_radius(cutter, space.pocket.depth)):
            return cutter
    return good[0]


def _choose_rough(space: OpenPocket, allowed: tuple[EndMill, ...], finish: EndMill) -> EndMill:
    larger = [cutter for cutter in allowed if cutter.diameter >= ROUGH_GAIN * finish.diameter - SAME_MM]
    most = max(1, _trouble(finish, space.pocket.floor))
    for cutter in reversed(larger):
        if _trouble(cutter, space.pocket.floor) > most:
            continue
        share, pieces = cleared_share(space, ROUGH_ROOM * cutter.diameter / 2)
        if share >= ROUGH_SHARE and pieces <= 1:
            return cutter
    return finish
