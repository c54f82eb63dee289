"""What would clear a pocket: ports of its own, plugs and hoses, tilts, a port moved; each tried on the voxels."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geom.frame import INTO, Vec
from geom.standards import tables
from geom.wet.flooding import climb_ways
from geom.wet.links import Links, join_links
from geom.wet.pieces import label_pieces, measure_pieces
from geom.wet.voxels import WetVoxels, take_part
from layouts.filling.left import STEP_SHARE, TINY_MM3, Found
from layouts.filling.openings import air_links, coolant_links
from layouts.filling.pocket_limits import AIR_TOLD_MM3, CLEARED_SHARE, COOLANT_TOLD_MM3, MOST_TOLD
from layouts.filling.pockets_told import channels_of, list_told
from layouts.filling.service.proposals import mouth_level
from layouts.filling.tilts import AtTilt, is_worth
from layouts.filling.values import Left, Opening, Pocket, PortProposal, Relief, Tilt, TiltMap
from layouts.installed import lies_flat
from layouts.panel import Panel
from layouts.plan import Routed

SLOPES_DEG = (1.0, 2.0, 3.0, 5.0)
"""Tilts that a panel may be installed with, [deg]: seen only by who looks for them; common practice, no source."""

ON_AN_EDGE = (Tilt(0.0, 90.0), Tilt(0.0, -90.0), Tilt(90.0, 0.0), Tilt(-90.0, 0.0))
"""From lying flat to standing on an edge: on that at its lower end in the tilt's sense first, [deg]."""


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """One kind of pockets, by heights that are turned round for air; with what the panel's tilts and ports offer."""

    air: bool
    along: np.ndarray
    found: Found
    told: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """What is called only where a pocket is told of.

    Parameters
    ----------
    find_tilts : callable
        Returns the map of tilts.
    look : callable
        Returns what tells how much stays at any tilt.
    try_move : callable
        Called with the largest pocket of air that is told of, where nothing else clears it.
    """

    find_tilts: Callable[[], TiltMap]
    look: Callable[[], Callable[[Tilt], AtTilt]]
    try_move: Callable[[Pocket], tuple[Relief, ...]]


def add_reliefs(
    panel: Panel,
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    left: Left,
    air: Found,
    coolant: Found,
    proposals: Sequence[PortProposal],
    trials: Trials,
) -> Left:
    """Return what stays, with what would clear the largest pockets that are told of.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    left : Left
        Of the panel as it is installed.
    air, coolant : Found
        Its pockets.
    proposals : sequence of PortProposal
        Ports that have room.
    trials : Trials
    """
    heights = voxels.elevations(left.up)
    sides = (
        _Side(True, -heights, air, list_told(panel, routed, left.air, air=True)[:MOST_TOLD]),
        _Side(False, heights, coolant, list_told(panel, routed, left.coolant, air=False)[:MOST_TOLD]),
    )
    if not any(side.told for side in sides):
        return left
    links = {True: air_links(openings, -heights), False: coolant_links(openings, heights)}
    look = trials.look()
    tilts = trials.find_tilts()

    def relieve(side: _Side, number: int) -> tuple[Relief, ...]:
        ports = _try_ports(left.up, routed, voxels, side, number, proposals, links[side.air])
        opened = _try_opened(voxels, openings, side, number)
        slopes = _try_slopes(panel, routed, side, number, look)
        turned = slopes or by_tilt[side.air]
        reliefs = (*ports, *opened, *turned) if side.air else (*ports, *turned, *opened)
        if side.air and not reliefs and number == side.told[0]:
            return trials.try_move(side.found.pockets[number])
        return reliefs

    by_tilt = {side.air: _try_tilts(panel, left, side, tilts, look) if side.told else () for side in sides}
    told = {(side.air, number): relieve(side, number) for side in sides for number in side.told}
    return replace(
        left,
        air=tuple(replace(p, reliefs=told.get((True, k), ())) for k, p in enumerate(left.air)),
        coolant=tuple(replace(p, reliefs=told.get((False, k), ())) for k, p in enumerate(left.coolant)),
    )


def _try_tilts(
    panel: Panel, left: Left, side: _Side, tilts: TiltMap, look: Callable[[Tilt], AtTilt]
) -> tuple[Relief, ...]:
    """Return the best tilt, where it is worth it; of a panel that lies flat else an edge to stand on.

    None to fill with, where none keeps the tank's outlet in coolant and its fill port over it.
    """
    now, stays, best = (
        (left.air_mm3, tilts.air_mm3, tilts.fill_best)
        if side.air
        else (left.coolant_mm3, tilts.coolant_mm3, tilts.drain_best)
    )
    row, column = tilts.degrees.index(best.front), tilts.degrees.index(best.right)
    kept = not side.air or bool(tilts.tank_stays[row, column])
    if kept and best != Tilt(0.0, 0.0) and is_worth(now, float(stays[row, column])):
        return (Relief("tilt", float(stays[row, column]), tilt=best),)
    found = []
    for order, tilt in enumerate(ON_AN_EDGE if lies_flat(panel) else ()):
        at = look(tilt)
        then = at.air_mm3 if side.air else at.coolant_mm3
        if is_worth(now, then) and (at.tank_stays or not side.air):
            found.append((then, order, tilt))
    return tuple(
        Relief("tilt", then, tilt=tilt) for then, _, tilt in sorted(found, key=lambda one: one[:2])[:1]
    )


def _try_slopes(
    panel: Panel, routed: Routed, side: _Side, number: int, look: Callable[[Tilt], AtTilt]
) -> tuple[Relief, ...]:
    """Return the least small tilt for good with which a thin pocket of air in a nearly level run is cleared.

    What stays of it is what it holds, less what all pockets lose together: none may grow instead.
    """
    pocket = side.found.pockets[number]
    widths = [c.width for c in routed.channels if c.name in channels_of(routed, pocket)]
    if not side.air or pocket.way_out is None or not widths or pocket.depth > max(widths):
        return ()
    now = look(Tilt(0.0, 0.0))
    tried = []
    for tilt in _list_slopes(panel):
        at = look(tilt)
        left = max(0.0, pocket.volume_mm3 - (now.air_mm3 - at.air_mm3))
        less = left <= CLEARED_SHARE * pocket.volume_mm3
        if less and at.coolant_mm3 < now.coolant_mm3 + COOLANT_TOLD_MM3 and at.tank_stays:
            tried.append(Relief("slope", left, tilt=tilt))
    least = min((relief.left_mm3 for relief in tried), default=0.0)
    return tuple(relief for relief in tried if relief.left_mm3 < least + AIR_TOLD_MM3)[:1]


def _list_slopes(panel: Panel) -> Iterator[Tilt]:
    """Yield small tilts, the smallest first: in the panel's plane, and where it lies flat about both axes."""
    for degrees in SLOPES_DEG:
        for by in (degrees, -degrees):
            yield Tilt(by, 0.0)
            if lies_flat(panel):
                yield Tilt(0.0, by)


def _try_ports(
    up: Vec,
    routed: Routed,
    voxels: WetVoxels,
    side: _Side,
    number: int,
    proposals: Sequence[PortProposal],
    links: Links,
) -> tuple[Relief, ...]:
    """Return the proposed port that clears a pocket best, where one does."""
    channels = channels_of(routed, side.found.pockets[number])
    held = side.found.number == number
    reliefs = []
    for proposal in proposals:
        kind = "bleed" if side.air else "drain"
        if proposal.built or proposal.kind != kind or proposal.channel not in channels:
            continue
        mouth = mouth_level(up, proposal.at, proposal.on, tables.thread(proposal.thread), proposal.kind)
        reached = _reached_by(voxels, np.flatnonzero(held), proposal)
        left = _left_with(voxels, side, held, reached, mouth, links)
        if left <= CLEARED_SHARE * side.found.pockets[number].volume_mm3:
            reliefs.append(Relief(proposal.kind, left, proposal.channel, proposal.at))
    return tuple(sorted(reliefs, key=lambda relief: relief.left_mm3)[:1])


def _try_opened(
    voxels: WetVoxels, openings: Sequence[Opening], side: _Side, number: int
) -> tuple[Relief, ...]:
    """Return the mouth that clears a pocket best once it is open: a plug loosened, a hose led upwards or taken off."""
    drains = any(opening.kind == "drain" for opening in openings)
    held = side.found.number == number
    reliefs = []
    for opening in openings:
        if side.air:
            useful = opening.kind == "drain" or (opening.kind == "part" and opening.hose == "falls")
        else:
            # Without a drain hoses are taken off anyway.
            useful = drains and opening.kind == "part"
        # Only mouths in the pocket let anything of it out.
        if not useful or not held[opening.voxels].any():
            continue
        left = _left_with(voxels, side, held, opening.voxels)
        if left <= CLEARED_SHARE * side.found.pockets[number].volume_mm3:
            reliefs.append(
                Relief("hose" if opening.kind == "part" else "plug", left, opening.name, opening.at)
            )
    return tuple(sorted(reliefs, key=lambda relief: relief.left_mm3)[:1])


def _left_with(
    voxels: WetVoxels,
    side: _Side,
    held: np.ndarray,
    exits: np.ndarray,
    mouth: float = -math.inf,
    links: Links | None = None,
) -> float:
    """Return what stays of a pocket with more openings, steps of the voxels left out, [mm3].

    Parameters
    ----------
    voxels : WetVoxels
    side : _Side
    held : numpy.ndarray
        (n,) bool: its voxels. What lies outside them stands higher than all that could run out another way.
    exits : numpy.ndarray
        Voxels of the new openings; only those in the pocket count.
    mouth : float
        Height of the best place of their mouth, where a bore leads on to it, turned round for air, [mm].
    links : Links or None
        Ways outside the panel that stay as they are.
    """
    # Through links one pocket may run out by another: all that stays is looked at.
    mask = held if links is None else side.found.number >= 0
    part, within = take_part(voxels, mask)
    heights, seeds = side.along[mask], within[exits]
    along, seeds = heights.copy(), seeds[seeds >= 0]
    along[seeds] = np.maximum(along[seeds], np.float32(mouth))
    levels, _, _ = climb_ways(part, along, seeds, _links_within(links, within, part.count))
    labels = label_pieces(part, (levels > heights) & held[mask])
    pieces = measure_pieces(part, labels, heights, levels)
    cube = voxels.spacing**3
    true = (pieces.depths > STEP_SHARE * voxels.spacing) & (pieces.counts * cube >= TINY_MM3)
    return float(pieces.counts[true].sum()) * cube


def _links_within(links: Links | None, within: np.ndarray, count: int) -> Links:
    """Return the ways outside that begin and end in a part of the voxels."""
    if links is None:
        return join_links(count, [], [])
    bounds = zip(links.starts[:-1], links.starts[1:], strict=True)
    groups = [within[links.members[start:end]] for start, end in bounds]
    return join_links(count, [group[group >= 0] for group in groups], links.heights.tolist())


def _reached_by(voxels: WetVoxels, held: np.ndarray, proposal: PortProposal) -> np.ndarray:
    """Return the voxels of a pocket that the bore of a proposed port comes upon first along its way, int32."""
    radius = tables.thread(proposal.thread).tap_drill / 2
    into = np.asarray(INTO[proposal.on])
    centres = np.asarray(voxels.origin) + (voxels.cells[held] + 0.5) * voxels.spacing
    away = centres - np.asarray(proposal.at)
    along = away @ into
    across = np.linalg.norm(away - along[:, None] * into, axis=1)
    within = (along >= 0) & (across <= radius)
    if not within.any():
        return np.empty(0, np.int32)
    first = along[within].min()
    return held[within & (along < first + radius)].astype(np.int32)
