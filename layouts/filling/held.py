"""What each voxel and each part holds when it is full, so that the sums agree with the plan's own volumes.

A voxel counts as a share of what the plan reckons exactly: those of the pocket tank share the tank's volume, all others
that of the channels with the bores into them. So no sum depends on the size of the voxels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from geom.outline import region_polygon
from geom.wet.voxels import WetVoxels
from layouts.clearance import tank_z
from layouts.closing.wet_regions import outline_tank
from layouts.detail import name_port
from layouts.feed import HOSES, tank_volume_ml
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.tank import outline_posts
from layouts.wet_volume import SAG_MM, channel_volume_ml

TANK = "tank"
"""What stands for a separate tank among the volumes that are not known."""


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """What the loop holds, [mL].

    Parameters
    ----------
    tank : numpy.ndarray
        (n,) bool: voxels of the pocket tank; ends of channels and bores inside it are its own.
    tank_ml : float or None
        The whole tank; None: a separate one whose volume the file does not give.
    voxels_ml : numpy.ndarray
        (n,) float64: what each voxel outside the tank takes; 0 for the tank's, and for bores into it, which stand in
        air.
    parts_ml : tuple of (str, float)
        Each part with its share of the hoses.
    unknown : tuple of str
        What the file does not give: it counts as nothing.
    """

    tank: np.ndarray
    tank_ml: float | None
    voxels_ml: np.ndarray
    parts_ml: tuple[tuple[str, float], ...]
    unknown: tuple[str, ...]


def weigh_voxels(panel: Panel, routed: Routed, voxels: WetVoxels) -> Held:
    """Return what each voxel and each part holds when it is full.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
        Of the panel's features.

    Returns
    -------
    Held
        The hoses' volume is split evenly over the parts, since the file gives one for all.
    """
    tank = find_tank(panel, routed, voxels)
    known = {channel.name for channel in routed.channels}
    aside = {name_port(port) for port in routed.ports if port.channel not in known}
    takes = ~tank & ~voxels.owned_by(aside)
    count = int(takes.sum())
    each = channel_volume_ml(panel, routed) / count if count else 0.0
    hoses = panel.hose_volume_ml or 0.0
    parts = [(part.name, (part.volume_ml or 0.0) + hoses / len(panel.parts)) for part in panel.parts]
    whole = tank_volume_ml(panel, routed)
    return Held(
        tank,
        whole,
        np.where(takes, each, 0.0),
        tuple(parts or [(HOSES, hoses)]),
        (
            *((TANK,) if whole is None else ()),
            *(part.name for part in panel.parts if part.volume_ml is None),
            *((HOSES,) if panel.hose_volume_ml is None else ()),
        ),
    )


def find_tank(panel: Panel, routed: Routed, voxels: WetVoxels) -> np.ndarray:
    """Return which voxels lie in the pocket tank, (n,) bool; none where it is separate.

    Whichever feature holds them: the tank's volume is all inside its outline. `layouts.filling.openings.tank_voxels`
    are those of its own feature alone.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
    """
    inside = np.zeros(voxels.count, bool)
    box = routed.tank.box
    if box is None:
        return inside
    low, high = tank_z(panel)
    x, y, z = voxels.centres().T
    near = np.flatnonzero((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3]) & (z > low) & (z < high))
    # One look for each column of voxels: the pocket has the same section at every depth.
    columns = voxels.cells[near, 0].astype(np.int64) * voxels.shape[1] + voxels.cells[near, 1]
    _, first, back = np.unique(columns, return_index=True, return_inverse=True)
    pocket = region_polygon((outline_tank(routed, 0.0),), SAG_MM, outline_posts(routed.tank))
    shapely.prepare(pocket)
    inside[near] = shapely.contains_xy(pocket, x[near][first], y[near][first])[back]
    return inside
