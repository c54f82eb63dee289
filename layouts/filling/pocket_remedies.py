"""What would clear a pocket: ports of its own, a hose taken off, a tilt; each tried on the voxels."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geom.frame import INTO
from geom.standards import tables
from geom.wet.flooding import climb_ways
from geom.wet.links import join_links
from geom.wet.voxels import WetVoxels
from layouts.filling.left import STEP_SHARE, Found
from layouts.filling.pocket_limits import AIR_TOLD_MM3, COOLANT_TOLD_MM3, MOST_TOLD
from layouts.filling.values import Left, Opening, Pocket, PortProposal, Relief, Tilt, TiltMap
from layouts.plan import Routed

CLEARED_SHARE = 0.5
"""What leaves more than this share of a pocket where it is (a tilt: of all pockets) is no remedy."""


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """One kind of pockets, by heights that are turned round for air."""

    along: np.ndarray
    found: Found
    told_mm3: float


def add_reliefs(
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    left: Left,
    air: Found,
    coolant: Found,
    proposals: Sequence[PortProposal],
    find_tilts: Callable[[], TiltMap],
    try_move: Callable[[Pocket], tuple[Relief, ...]],
) -> Left:
    """Return what stays, with what would clear the largest pockets that are told of.

    Parameters
    ----------
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
    find_tilts : callable
        Called only where a pocket is told of.
    try_move : callable
        Called with the largest pocket of air, where it is told of.
    """
    heights = voxels.elevations(left.up)
    sides = (
        _Side(-heights, air, AIR_TOLD_MM3),
        _Side(heights, coolant, COOLANT_TOLD_MM3),
    )
    if not any(pocket.volume_mm3 >= side.told_mm3 for side in sides for pocket in side.found.pockets):
        return left
    tilts = find_tilts()
    by_tilt = (
        _judge_tilt(tilts, tilts.air_mm3, tilts.fill_best, left.air_mm3),
        _judge_tilt(tilts, tilts.coolant_mm3, tilts.drain_best, left.coolant_mm3),
    )

    def relieve(side: _Side, number: int) -> Pocket:
        pocket = side.found.pockets[number]
        if number >= MOST_TOLD or pocket.volume_mm3 < side.told_mm3:
            return pocket
        if side is sides[0]:
            moved = try_move(pocket) if number == 0 else ()
            port = _try_ports(routed, voxels, side, number, "bleed", proposals)
            return replace(pocket, reliefs=(*moved, *port, *by_tilt[0]))
        port = _try_ports(routed, voxels, side, number, "drain", proposals)
        return replace(pocket, reliefs=(*port, *by_tilt[1], *_try_hoses(voxels, openings, side, number)))

    return replace(
        left,
        air=tuple(relieve(sides[0], number) for number in range(len(left.air))),
        coolant=tuple(relieve(sides[1], number) for number in range(len(left.coolant))),
    )


def channels_of(routed: Routed, pocket: Pocket) -> tuple[str, ...]:
    """Return the channels that hold a pocket, or open into what does, most of it first; "tank" for the pocket tank."""
    names = {f"port {port.name} {port.thread}": port.channel for port in routed.ports}
    for channel in routed.channels:
        names[f"channel {channel.name}"] = names[f"channel {channel.name} front"] = channel.name
        names.update(
            {f"through hole {channel.name} {k + 1}": channel.name for k in range(len(channel.holes))}
        )
        names.update({f"{end} bore": channel.name for end in channel.ends if end.startswith("pump")})
    names["tank"] = "tank"
    return tuple(dict.fromkeys(names[name] for name in pocket.features if name in names))


def _judge_tilt(tilts: TiltMap, stays_mm3: np.ndarray, best: Tilt, now_mm3: float) -> tuple[Relief, ...]:
    """Return the tilt with which least stays, where it helps."""
    left = float(stays_mm3[tilts.degrees.index(best.front), tilts.degrees.index(best.right)])
    if (best.front, best.right) == (0.0, 0.0) or left > CLEARED_SHARE * now_mm3:
        return ()
    return (Relief("tilt", left, tilt=best),)


def _try_ports(
    routed: Routed,
    voxels: WetVoxels,
    side: _Side,
    number: int,
    kind: str,
    proposals: Sequence[PortProposal],
) -> tuple[Relief, ...]:
    """Return the proposed port that clears a pocket best, where one does."""
    channels = channels_of(routed, side.found.pockets[number])
    reliefs = []
    for proposal in proposals:
        if proposal.built or proposal.kind != kind or proposal.channel not in channels:
            continue
        held = np.flatnonzero(side.found.number == number)
        left = _left_with(voxels, side, held, _reached_by(voxels, held, proposal))
        if left <= CLEARED_SHARE * side.found.pockets[number].volume_mm3:
            reliefs.append(Relief(proposal.kind, left, proposal.channel, proposal.at))
    return tuple(sorted(reliefs, key=lambda relief: relief.left_mm3)[:1])


def _try_hoses(
    voxels: WetVoxels, openings: Sequence[Opening], side: _Side, number: int
) -> tuple[Relief, ...]:
    """Return the part's port at which a hose taken off clears a pocket best; none where they are taken off anyway."""
    if not any(opening.kind == "drain" for opening in openings):
        return ()
    held = np.flatnonzero(side.found.number == number)
    reliefs = []
    for opening in openings:
        # Only mouths beneath the pocket's surface let anything of it out.
        if opening.kind != "part" or not (side.found.number[opening.voxels] == number).any():
            continue
        left = _left_with(voxels, side, held, opening.voxels)
        if left <= CLEARED_SHARE * side.found.pockets[number].volume_mm3:
            reliefs.append(Relief("hose", left, opening.name, opening.at))
    return tuple(sorted(reliefs, key=lambda relief: relief.left_mm3)[:1])


def _left_with(voxels: WetVoxels, side: _Side, held: np.ndarray, exits: np.ndarray) -> float:
    """Return what stays of a pocket with more openings, steps of the voxels left out, [mm3].

    Parameters
    ----------
    voxels : WetVoxels
    side : _Side
    held : numpy.ndarray
        Its voxels. What lies outside them stands higher than all that could run out another way.
    exits : numpy.ndarray
        Voxels of the new openings; only those in the pocket count.
    """
    within = np.full(voxels.count, -1, np.int32)
    within[held] = np.arange(len(held), dtype=np.int32)
    beside = voxels.beside[held]
    pocket = replace(
        voxels,
        cells=voxels.cells[held],
        beside=np.where(beside >= 0, within[beside], -1),
        owner=voxels.owner[held],
    )
    along, seeds = side.along[held], within[exits]
    levels, _, _ = climb_ways(pocket, along, seeds[seeds >= 0], join_links(len(held), [], []))
    return float(np.count_nonzero(levels - along > STEP_SHARE * voxels.spacing)) * voxels.spacing**3


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
