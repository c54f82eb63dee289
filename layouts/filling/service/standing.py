"""What stays in a panel as it is installed, and what one more port would clear of it, by columns of voxels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from geom.wet.cleared import Cleared, find_cleared
from geom.wet.voxels import WetVoxels
from layouts.clearance import tank_z
from layouts.faces import layer_z, layers_of
from layouts.filling.left import Found, find_air, find_coolant
from layouts.filling.openings import air_links, coolant_links, open_drains, tank_voxels
from layouts.filling.values import Opening
from layouts.panel import Panel

PortKind = Literal["bleed", "drain"]


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Columns of voxels through a layer.

    Parameters
    ----------
    best : numpy.ndarray
        (nx, ny) int32: the voxel at which an exit clears most; -1 where nothing stays in the column.
    before : numpy.ndarray
        (nx + 1, ny + 1) int64: in how many columns before this one along both axes something stays.
    """

    best: np.ndarray
    before: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """What stays of one kind with all plugs opened, and what a port would clear of it.

    Parameters
    ----------
    kind : {"bleed", "drain"}
        Of the port that would clear it.
    voxels : WetVoxels
    along : numpy.ndarray
        (n,) float32: heights of the voxels, turned round for air, [mm].
    number : numpy.ndarray
        (n,) int32: which pocket holds each voxel; -1: none does.
    cleared : Cleared
    columns : dict of str to Columns
        What stays at the heights of each layer, and of the pocket ("tank"); those in which nothing does are left out.
    pockets_mm3 : tuple of float
        What each pocket holds, the largest first. Where there is no drain at all the whole of it is one.
    left_mm3, largest_mm3 : float
        What stays as things are, and in the largest pocket.
    lost_mm3 : float
        What stays besides if ports of parts are no longer opened: without a drain they are what drains the panel.
    """

    kind: PortKind
    voxels: WetVoxels
    along: np.ndarray
    number: np.ndarray
    cleared: Cleared
    columns: dict[str, Columns]
    pockets_mm3: tuple[float, ...]
    left_mm3: float
    largest_mm3: float
    lost_mm3: float = 0.0


def find_pockets(panel: Panel, voxels: WetVoxels, openings: Sequence[Opening], kind: PortKind) -> Found:
    """Return the pockets of one kind as the panel is installed.

    Parameters
    ----------
    panel, voxels, openings, kind
        As `find_standing`.
    """
    heights = voxels.elevations(panel.up)
    if kind == "drain":
        return find_coolant(voxels, openings, heights)
    return find_air(voxels, openings, heights, tank_voxels(voxels))


def find_standing(
    panel: Panel,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    kind: PortKind,
    found: Found | None = None,
) -> Standing:
    """Return what stays of one kind as the panel is installed.

    Parameters
    ----------
    panel : Panel
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    kind : {"bleed", "drain"}
        "bleed": air; "drain": coolant.
    found : Found or None
        Its pockets with these openings, where they are known already.
    """
    found = found or find_pockets(panel, voxels, openings, kind)
    # Only a mouth in a pocket lets anything of it out.
    if kind == "bleed" and any(
        (found.number[opening.voxels] >= 0).any() for opening in openings if opening.kind == "drain"
    ):
        openings = open_drains(openings)
        found = find_pockets(panel, voxels, openings, kind)
    heights, cube = voxels.elevations(panel.up), voxels.spacing**3
    along = -heights if kind == "bleed" else heights
    links = air_links(openings, along) if kind == "bleed" else coolant_links(openings, along)
    number, stays = found.number, found.number >= 0
    left = float(np.count_nonzero(stays)) * cube
    pockets = tuple(pocket.volume_mm3 for pocket in found.pockets)
    largest = found.pockets[0].volume_mm3 if found.pockets else 0.0
    lost = 0.0
    if kind == "drain" and not any(opening.kind == "drain" for opening in openings):
        lost = voxels.volume_mm3 - left
        number, stays, pockets = np.zeros_like(number), np.ones(voxels.count, bool), (voxels.volume_mm3,)
    cleared = find_cleared(voxels, along, stays, stays, links)
    heights_of = {str(layer): layer_z(panel, layer) for layer in layers_of(panel)}
    if panel.tank.kind == "pocket":
        heights_of["tank"] = tank_z(panel)
    columns = {
        name: some
        for name, (low, high) in heights_of.items()
        if (some := _find_columns(voxels, along, stays, cleared, low, high)) is not None
    }
    return Standing(kind, voxels, along, number, cleared, columns, pockets, left, largest, lost)


def _find_columns(
    voxels: WetVoxels, along: np.ndarray, stays: np.ndarray, cleared: Cleared, low: float, high: float
) -> Columns | None:
    """Return what stays between two z, [mm]; None where nothing does."""
    chosen = np.flatnonzero(stays)
    level = voxels.origin[2] + (voxels.cells[chosen, 2] + 0.5) * voxels.spacing
    chosen = chosen[(level > low) & (level < high)]
    if not len(chosen):
        return None
    # The last of a column to be written is that which clears most; of several the one that lies best.
    chosen = chosen[np.lexsort((-along[chosen], cleared.counts[chosen]))]
    best = np.full(voxels.shape[:2], -1, np.int32)
    best[voxels.cells[chosen, 0], voxels.cells[chosen, 1]] = chosen
    before = np.zeros((best.shape[0] + 1, best.shape[1] + 1), np.int64)
    before[1:, 1:] = (best >= 0).cumsum(axis=0).cumsum(axis=1)
    return Columns(best, before)


def find_useful(standing: Standing, columns: Columns | None, reach: float, feet: np.ndarray) -> np.ndarray:
    """Return beside which places something stays.

    Parameters
    ----------
    standing : Standing
    columns : Columns or None
        Those of one layer.
    reach : float
        How far off at most, to either side, [mm].
    feet : numpy.ndarray
        (n, 2) float64, [mm].

    Returns
    -------
    numpy.ndarray
        (n,) bool.
    """
    if columns is None:
        return np.zeros(len(feet), bool)
    before, origin = columns.before, np.array(standing.voxels.origin[:2])
    most = np.array(before.shape) - 1
    low = np.clip(np.floor((feet - reach - origin) / standing.voxels.spacing).astype(int), 0, most)
    high = np.clip(np.ceil((feet + reach - origin) / standing.voxels.spacing).astype(int), 0, most)
    (x0, y0), (x1, y1) = low.T, high.T
    return np.asarray(before[x1, y1] - before[x0, y1] - before[x1, y0] + before[x0, y0] > 0)
