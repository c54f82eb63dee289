"""Whether the pump's inlet can be dry when the tank reads full, filled slowly with the pump at rest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geom.standards import tables
from geom.wet.flooding import climb
from geom.wet.links import join_links
from geom.wet.voxels import WetVoxels, take_part
from layouts.detail import name_channel
from layouts.feed import find_fill_coolant
from layouts.filling.openings import air_links, vents_of
from layouts.filling.sequence_values import DryInlet
from layouts.filling.values import Opening
from layouts.hydraulics.bubbles import coolant_lock_diameter_m
from layouts.installed import find_feed, place_at
from layouts.nets import FEED, PUMP_INLET
from layouts.panel import Panel
from layouts.plan import Channel, Routed

DRY_SHARE = 0.5
"""Share of a section that may not be dry, [-]: from half of it on the pump draws air rather than coolant."""

FEED_FEATURES = (name_channel(FEED, "back"), f"{PUMP_INLET} bore")


def find_dry(
    panel: Panel,
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    heights: np.ndarray,
    air: np.ndarray,
    tank: np.ndarray,
    surface: float,
) -> DryInlet | None:
    """Return why the pump's inlet may be dry when the tank reads full; None where it stands in coolant.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
    openings : sequence of Opening
        Of these voxels.
    heights : numpy.ndarray
        (n,) float32: of the voxels, along up, [mm].
    air : numpy.ndarray
        (n,) bool: voxels in which air stays.
    tank : numpy.ndarray
        (n,) bool: voxels of the pocket tank.
    surface : float
        Of the coolant in the tank at its level, along up, [mm]; of a separate tank its port's mouth.

    Returns
    -------
    DryInlet or None
        The first of: air in more than half of the inlet's mouth, air across more than half of the feed, a way to the
        inlet that rises over the surface, a feed so narrow that air locks in it with no other way up.
    """
    mouth = next((opening for opening in openings if opening.name == PUMP_INLET), None)
    feed = find_feed(routed)
    if mouth is None or feed is None or not len(mouth.voxels):
        return None
    own = voxels.owned_by(FEED_FEATURES[:1]) & ~tank
    return (
        _find_air_at_mouth(voxels, mouth, heights, air)
        or _find_air_across(routed, voxels, own, heights, air)
        or _find_sill(panel, voxels, openings, mouth, own, heights, tank, surface)
        or _find_lock(panel, routed, voxels, openings, mouth, feed, own, heights)
    )


def _find_air_at_mouth(
    voxels: WetVoxels, mouth: Opening, heights: np.ndarray, air: np.ndarray
) -> DryInlet | None:
    share = float(air[mouth.voxels].mean())
    if share <= DRY_SHARE + _half_voxel(heights[mouth.voxels], voxels.spacing):
        return None
    held = mouth.voxels[air[mouth.voxels]]
    return DryInlet(
        "air",
        f"air stays in {100 * share:.0f} % of the pump's inlet",
        voxels.centre(held[np.argmax(heights[held])]),
        100 * share,
        100 * DRY_SHARE,
        "%",
        (PUMP_INLET,),
    )


def _half_voxel(heights: np.ndarray, spacing: float) -> float:
    """Return which share of a section half a voxel of height is: air that ends halfway up may count so much more.

    Of a level section it is none: all of it is in air, or none.
    """
    tall = float(heights.max() - heights.min())
    return 0.0 if tall < spacing else spacing / 2 / (tall + spacing)


def _find_air_across(
    routed: Routed, voxels: WetVoxels, own: np.ndarray, heights: np.ndarray, air: np.ndarray
) -> DryInlet | None:
    """Return the section of the feed, between the tank's outlet and the pump's inlet, that most air stays in."""
    (x0, y0), (x1, y1) = routed.tank.outlet, routed.pump.inlet
    length = math.hypot(x1 - x0, y1 - y0)
    feed = np.flatnonzero(own)
    if not length or not air[feed].any():
        return None
    centres = voxels.centres()[feed]
    along = ((centres[:, 0] - x0) * (x1 - x0) + (centres[:, 1] - y0) * (y1 - y0)) / length
    between = (along >= 0) & (along <= length)
    if not between.any():
        return None
    feed, section = feed[between], (along[between] / voxels.spacing).astype(int)
    whole = np.bincount(section)
    share = np.bincount(section, air[feed]) / np.maximum(1, whole)
    worst = int(np.argmax(share))
    if share[worst] <= DRY_SHARE + _half_voxel(heights[feed[section == worst]], voxels.spacing):
        return None
    held = feed[(section == worst) & air[feed]]
    return DryInlet(
        "air",
        f"air stays in the drop to the pump and fills {100 * share[worst]:.0f} % of its section",
        voxels.centre(held[np.argmax(heights[held])]),
        float(100 * share[worst]),
        100 * DRY_SHARE,
        "%",
        (FEED_FEATURES[0], PUMP_INLET),
    )


def _find_sill(
    panel: Panel,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    mouth: Opening,
    own: np.ndarray,
    heights: np.ndarray,
    tank: np.ndarray,
    surface: float,
) -> DryInlet | None:
    """Return the highest place of the way down the feed where it stands over the surface for half of the inlet."""
    outlet = find_outlet(panel, openings)
    bore = voxels.owned_by(FEED_FEATURES[1:])
    way = own | bore | tank
    way[mouth.voxels] = True
    if outlet is not None:
        port = voxels.owner[outlet.voxels[0]]
        way |= voxels.owner == port
    part, index = take_part(voxels, way)
    rise = heights[way]
    starts = np.flatnonzero(tank[way]) if outlet is None else index[outlet.voxels]
    if not len(starts):
        return None
    lowest = starts[rise[starts] <= rise[starts].min() + 1e-3]
    reached = climb(part, rise, lowest, join_links(part.count, (), ()))
    asked = np.sort(reached[index[mouth.voxels]])
    # A voxel's centre that stands level with the surface counts as covered.
    needs = float(asked[math.ceil(DRY_SHARE * len(asked)) - 1])
    over = needs - surface
    if over <= voxels.spacing / 2:
        return None
    sills = np.flatnonzero((reached == needs) & (rise == needs))
    sill = sills[len(sills) // 2] if len(sills) else index[mouth.voxels[0]]
    return DryInlet(
        "sill",
        f"the way from the tank to the pump's inlet rises {over:.3g} mm over the coolant that stands in the tank",
        part.centre(sill),
        over,
        0.0,
        "mm",
        (part.names[part.owner[sill]], PUMP_INLET),
    )


def _find_lock(
    panel: Panel,
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    mouth: Opening,
    feed: Channel,
    own: np.ndarray,
    heights: np.ndarray,
) -> DryInlet | None:
    """Return the feed that is so narrow that air locks in it, where no other way leads up from the inlet to a vent."""
    least = 1e3 * coolant_lock_diameter_m(find_fill_coolant(panel))
    bore = min(feed.width, feed.depth)
    outlet = find_outlet(panel, openings)
    if outlet is not None and panel.tank.outlet is not None:
        bore = min(bore, tables.thread(panel.tank.outlet.thread).tap_drill)
    if bore >= least:
        return None
    part, index = take_part(voxels, ~own)
    others = [
        replace(opening, voxels=index[opening.voxels][index[opening.voxels] >= 0])
        for opening in openings
        if outlet is None or opening.name != outlet.name
    ]
    down = -heights[~own]
    seeds = np.concatenate([np.empty(0, np.int32), *(opening.voxels for opening in vents_of(others))])
    place = index[mouth.voxels]
    place = place[place >= 0]
    if len(seeds) and len(place):
        leaves = climb(part, down, seeds, air_links(others, down)) <= down
        if leaves[place].mean() > DRY_SHARE:
            return None
    return DryInlet(
        "lock",
        f"the drop from the tank is {bore:.3g} mm at its narrowest, and in less than {least:.3g} mm a bubble locks: "
        "coolant does not run down past the air that has no other way up",
        place_at(panel, routed.tank.outlet),
        bore,
        least,
        "mm",
        (FEED_FEATURES[0], "tank"),
    )


def find_outlet(panel: Panel, openings: Sequence[Opening]) -> Opening | None:
    """Return the mouth through which a separate tank feeds the panel; None for a pocket."""
    outlet = panel.tank.outlet
    if outlet is None:
        return None
    return next((o for o in openings if o.name == outlet.name and len(o.voxels)), None)
