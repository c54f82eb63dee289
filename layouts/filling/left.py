"""What stays in one attitude: air when the panel is filled, coolant when it is drained."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geom.frame import Vec
from geom.wet.flooding import NEVER, climb_ways
from geom.wet.links import Links
from geom.wet.pieces import label_pieces, measure_pieces
from geom.wet.voxels import WetVoxels
from layouts.filling.openings import air_links, coolant_links, exits_of, lead_untold, vents_of
from layouts.filling.pocket_limits import AIR_TOLD_MM3, COOLANT_TOLD_MM3
from layouts.filling.values import Left, Opening, Pocket

STEP_SHARE = 1.5
"""A pocket no deeper than so many voxels is a step of their own stairs, not one of the panel."""

TINY_MM3 = 20.0
"""A smaller pocket is none, [mm3]: a bubble or drop of 3 mm sticks to any wall; common practice, no source."""

LEAST_SHARE = 0.01
"""A feature that holds a smaller share of a pocket is not named with it."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Pockets of one kind, and what leaves.

    Parameters
    ----------
    pockets : tuple of Pocket
        The largest first.
    number : numpy.ndarray
        (n,) int32: which of them holds each voxel; -1: none does.
    tops : numpy.ndarray
        int32: the voxel of each that stands highest (air) or lowest (coolant).
    leaves : numpy.ndarray
        (n,) int32: the voxel of an opening through which a voxel's content leaves; -1 where it stays.
    """

    pockets: tuple[Pocket, ...]
    number: np.ndarray
    tops: np.ndarray
    leaves: np.ndarray


def find_left(voxels: WetVoxels, openings: Sequence[Opening], up: Vec, tank: np.ndarray) -> Left:
    """Return what stays in one attitude.

    Parameters
    ----------
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    up : (float, float, float)
        Unit vector.
    tank : numpy.ndarray
        (n,) bool: voxels of the pocket tank, whose air is no pocket: it needs some.
    """
    return find_left_pockets(voxels, openings, up, tank)[0]


def find_left_pockets(
    voxels: WetVoxels, openings: Sequence[Opening], up: Vec, tank: np.ndarray
) -> tuple[Left, Found, Found]:
    """Return what `find_left` returns, with the voxels of its pockets of air and of coolant.

    Parameters
    ----------
    voxels, openings, up, tank
        As `find_left`.
    """
    heights = voxels.elevations(up)
    air, coolant = find_air(voxels, openings, heights, tank), find_coolant(voxels, openings, heights)
    cube = voxels.spacing**3
    held = (air.number < 0) & (air.leaves < 0)
    left = Left(
        up,
        voxels.spacing,
        voxels.volume_mm3,
        air.pockets,
        coolant.pockets,
        float(np.count_nonzero(air.number >= 0)) * cube,
        float(np.count_nonzero(coolant.number >= 0)) * cube,
        _count_leaves(voxels, openings, air.leaves),
        float(np.count_nonzero(held)) * cube,
        not any(opening.kind == "drain" for opening in openings),
    )
    return left, air, coolant


def add_untold(left: Left, voxels: WetVoxels, openings: Sequence[Opening], tank: np.ndarray) -> Left:
    """Return what stays, with what would stay if the hoses whose way is not told went the unfavourable way.

    Parameters
    ----------
    left : Left
        As installed.
    voxels, openings, tank
        As `find_left`; the voxels may be coarser than those of `left`.
    """
    heights, cube = voxels.elevations(left.up), voxels.spacing**3
    air = find_air(voxels, lead_untold(openings, "falls"), heights, tank)
    coolant = find_coolant(voxels, lead_untold(openings, "rises"), heights)
    air_mm3, coolant_mm3 = (float(np.count_nonzero(found.number >= 0)) * cube for found in (air, coolant))
    return replace(
        left,
        air_falling_mm3=air_mm3 if air_mm3 > left.air_mm3 + AIR_TOLD_MM3 else None,
        coolant_rising_mm3=coolant_mm3 if coolant_mm3 > left.coolant_mm3 + COOLANT_TOLD_MM3 else None,
    )


def find_air(voxels: WetVoxels, openings: Sequence[Opening], heights: np.ndarray, tank: np.ndarray) -> Found:
    """Return the pockets of air.

    Parameters
    ----------
    voxels, openings
        As `find_left`.
    heights : numpy.ndarray
        (n,) float32: of the voxels along up, [mm].
    tank : numpy.ndarray
        As `find_left`.
    """
    down = -heights
    return _find(voxels, down, voxels_of(vents_of(openings)), air_links(openings, down), tank)


def find_coolant(voxels: WetVoxels, openings: Sequence[Opening], heights: np.ndarray) -> Found:
    """Return the pockets of coolant.

    Parameters
    ----------
    voxels, openings, heights
        As `find_air`.
    """
    none = np.zeros(voxels.count, bool)
    return _find(voxels, heights, voxels_of(exits_of(openings)), coolant_links(openings, heights), none)


def mark_shut(left: Left, voxels: WetVoxels, wet: np.ndarray) -> Left:
    """Return what stays, with the pockets of air told that coolant does not shut in.

    Parameters
    ----------
    left : Left
    voxels : WetVoxels
        Of the same panel, of the same size.
    wet : numpy.ndarray
        (n,) bool: those that coolant comes to.
    """

    def covers(place: Vec) -> bool:
        cell = np.floor((np.asarray(place) - voxels.origin) / voxels.spacing).astype(np.int32)
        return bool(wet[(voxels.cells == cell).all(axis=1)].any())

    air = tuple(replace(one, shut=one.way_out is None or covers(one.way_out)) for one in left.air)
    return replace(left, air=air)


def voxels_of(openings: Sequence[Opening]) -> np.ndarray:
    """Return the voxels of some openings, int32."""
    return np.concatenate([np.empty(0, np.int32), *(opening.voxels for opening in openings)])


def _find(voxels: WetVoxels, along: np.ndarray, seeds: np.ndarray, links: Links, but: np.ndarray) -> Found:
    """Return the pockets by heights that are turned round for air; none of those voxels in `but`."""
    levels, saddles, exits = climb_ways(voxels, along, seeds, links)
    stays = levels > along
    labels = label_pieces(voxels, stays & ~but)
    pieces = measure_pieces(voxels, labels, along, levels)
    cube = voxels.spacing**3
    shut = levels[pieces.deepest] >= NEVER
    true = shut | ((pieces.depths > STEP_SHARE * voxels.spacing) & (pieces.counts * cube >= TINY_MM3))
    order = sorted(np.flatnonzero(true).tolist(), key=lambda piece: (-pieces.counts[piece], piece))
    new = np.full(len(true) + 1, -1, np.int32)
    new[order] = np.arange(len(order))
    number = new[labels]
    tops = pieces.deepest[order]
    owners = _name_owners(voxels, number, tops)
    pockets = tuple(
        Pocket(
            float(pieces.counts[piece]) * cube,
            voxels.centre(int(top)),
            None if shut[piece] else voxels.centre(_place_of(int(saddles[top]), along, links)),
            0.0 if shut[piece] else float(pieces.depths[piece]),
            names,
        )
        for piece, top, names in zip(order, tops, owners, strict=True)
    )
    # What stays in steps of the voxels alone leaves like what is beside it.
    leaves = np.where((number >= 0) | (stays & but), -1, exits).astype(np.int32)
    return Found(pockets, number, tops, leaves)


def _place_of(saddle: int, along: np.ndarray, links: Links) -> int:
    """Return the voxel of a saddle: itself, or that of a link's mouths whose height its way passes."""
    if saddle < len(along):
        return saddle
    link = saddle - len(along)
    members = links.members[links.starts[link] : links.starts[link + 1]]
    return int(members[np.argmin(np.abs(along[members] - links.heights[link]))])


def _name_owners(voxels: WetVoxels, number: np.ndarray, tops: np.ndarray) -> tuple[tuple[str, ...], ...]:
    """Return the names of the features that hold each pocket: that at its top, then most of it first."""
    within = number >= 0
    held = np.zeros((len(tops), len(voxels.names)), np.int64)
    np.add.at(held, (number[within], voxels.owner[within]), 1)
    found = []
    for counts, top in zip(held, voxels.owner[tops].tolist(), strict=True):
        most = [top, *(k for k in np.argsort(-counts, kind="stable").tolist() if k != top)]
        found.append(
            tuple(voxels.names[k] for k in most if k == top or counts[k] > LEAST_SHARE * counts.sum())
        )
    return tuple(found)


def _count_leaves(
    voxels: WetVoxels, openings: Sequence[Opening], leaves: np.ndarray
) -> tuple[tuple[str, float], ...]:
    """Return how much leaves through which opening, [mm3]."""
    through = np.full(voxels.count, -1, np.int32)
    for number, opening in enumerate(openings):
        through[opening.voxels] = number
    counts = np.bincount(through[leaves[leaves >= 0]] + 1, minlength=len(openings) + 1)[1:]
    cube = voxels.spacing**3
    return tuple(
        (opening.name, float(count) * cube)
        for opening, count in zip(openings, counts, strict=True)
        if count > 0
    )
