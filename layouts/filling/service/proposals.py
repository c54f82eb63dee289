"""Where one bleed or drain port would clear the most of what stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from geom.frame import EDGES, INTO, Face, Vec
from geom.standards import tables
from geom.standards.tables import Thread
from geom.wet.voxels import WetVoxels
from layouts.clearance import edge_mouth
from layouts.closing.wet_regions import layer_runs
from layouts.detail import SPOT_FACE_DEPTH
from layouts.faces import layers_of
from layouts.filling.left import Found
from layouts.filling.pocket_limits import AIR_TOLD_MM3, CLEARED_SHARE, COOLANT_TOLD_MM3, WORTH_MM3
from layouts.filling.service.built_ports import measure_built, measure_opened
from layouts.filling.service.port_blockers import Cut, list_cuts
from layouts.filling.service.port_places import (
    Places,
    list_faces,
    list_places,
    place_port,
)
from layouts.filling.service.standing import (
    Columns,
    PortKind,
    Standing,
    find_pockets,
    find_standing,
    find_useful,
)
from layouts.filling.values import Opening, PortProposal
from layouts.nets import FEED
from layouts.panel import Panel
from layouts.plan import Layer, PlacedPort, Routed

MOST_PROPOSALS = 3
"""Proposals of a kind."""

LEAST_CLEARED: dict[PortKind, float] = {"bleed": AIR_TOLD_MM3, "drain": COOLANT_TOLD_MM3}
"""A port that clears less is not proposed, [mm3]: no more stays than is told of. `WORTH_MM3` asks for more."""

ALIKE = 0.98
"""Of places that clear so nearly as much, the higher (for a drain the lower) is taken, then the middle one."""

LEVEL_MM = 1.0
"""Places no further apart in height are as high as each other, [mm]."""

WORTH_IT = 1.25
"""How much more a port on another face must clear before it is worth a bore through a joint or a set-up of its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """A place chosen for a port.

    Parameters
    ----------
    places : Places
        Among which it is.
    number : int
        Of the place.
    clears_mm3 : float
        What it clears.
    pocket_mm3 : float
        What the pocket holds that it opens into; 0 where it opens into none.
    """

    places: Places
    number: int
    clears_mm3: float
    pocket_mm3: float


def propose_ports(
    panel: Panel,
    routed: Routed,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    found_air: Found | None = None,
    found_coolant: Found | None = None,
) -> tuple[PortProposal, ...]:
    """Return the ports that would clear most, and those that the file asks for.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    voxels : WetVoxels
        Of the whole wet volume, with the ports that the file asks for.
    openings : sequence of Opening
        Of these voxels.
    found_air, found_coolant : Found or None
        The pockets, where they are known already.

    Returns
    -------
    tuple of PortProposal
        Bleeds before drains: of each kind those that are built, then up to `MOST_PROPOSALS` that are not, one for a
        channel, that which clears most first. Each stands where a port may.
    """
    found: list[PortProposal] = []
    cuts: tuple[Cut, ...] = ()
    thread = tables.thread(panel.service.thread)
    kinds: tuple[PortKind, ...] = ("bleed", "drain")
    known = {
        "bleed": found_air or find_pockets(panel, voxels, openings, "bleed"),
        "drain": found_coolant or find_pockets(panel, voxels, openings, "drain"),
    }
    for kind in kinds:
        found += [
            PortProposal(
                kind,
                port.channel,
                port.on,
                port.at,
                port.thread,
                measure_built(panel, voxels, openings, port, kind, known[kind]),
                True,
                measure_built(panel, voxels, openings, port, "drain", known["drain"])
                if kind == "bleed"
                else measure_opened(panel, voxels, openings, port, known["bleed"]),
            )
            for port in service_ports(panel, routed)
            if port.role == kind
        ]
        standing = find_standing(panel, voxels, openings, kind, known[kind])
        if standing.left_mm3 < LEAST_CLEARED[kind]:
            continue
        cuts = cuts or list_cuts(panel, routed)
        choices = [
            choice
            for channel in list_targets(routed, kind)
            if (choice := choose_place(panel, routed, cuts, standing, channel, thread)) is not None
            and is_worth_it(choice, kind)
        ]
        choices.sort(key=lambda choice: -choice.clears_mm3)
        for choice in choices[:MOST_PROPOSALS]:
            port = place_port(panel, routed, choice.places, choice.number, thread, kind, kind)
            found.append(PortProposal(kind, port.channel, port.on, port.at, port.thread, choice.clears_mm3))
    return tuple(found)


def is_worth_it(choice: Choice, kind: PortKind) -> bool:
    """Return whether a port there clears enough for "auto" to build it, and for a proposal."""
    enough = min((1.0 - CLEARED_SHARE) * choice.pocket_mm3, WORTH_MM3)
    return choice.clears_mm3 >= max(LEAST_CLEARED[kind], enough)


def service_ports(panel: Panel, routed: Routed) -> tuple[PlacedPort, ...]:
    """Return the ports that the [service] table of the file asks for, as they are built."""
    own = panel.drain.name if panel.drain is not None else ""
    return tuple(port for port in routed.ports if port.role in ("bleed", "drain") and port.name != own)


def list_targets(routed: Routed, kind: PortKind) -> tuple[str, ...]:
    """Return the channels that a port may be proposed for: no plug in the feed, through which a pump would draw air."""
    names = tuple(channel.name for channel in routed.channels if channel.name != FEED)
    return (*names, "tank") if kind == "drain" and routed.tank.box is not None else names


def choose_place(
    panel: Panel,
    routed: Routed,
    cuts: tuple[Cut, ...],
    standing: Standing,
    channel: str,
    thread: Thread,
    anywhere: bool = False,
) -> Choice | None:
    """Return the place where a port into a channel would clear most.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    cuts : tuple of Cut
        Of the same layout.
    standing : Standing
    channel : str
        "tank" for the pocket.
    thread : Thread
    anywhere : bool
        Whether one is chosen even where nothing stays: the highest for a bleed, the lowest for a drain.

    Returns
    -------
    Choice or None
        None where there is no room for one, or, but for `anywhere`, nothing that it would clear.
    """
    best: Choice | None = None
    for layer in layers_with(panel, routed, channel):
        columns = standing.columns.get("tank" if channel == "tank" else layer)
        if columns is None and not anywhere:
            continue
        first, others = list_faces(panel, routed, layer)
        most = math.inf
        # A face that no fitting stands on may be out of reach: only where the file names the channel.
        others = tuple(on for on in others if (channel != "tank" if on in EDGES else anywhere))
        for on in (*first, *others):
            if on not in EDGES and on not in first and best is not None and is_worth_it(best, standing.kind):
                # It stands where it is proposed.
                continue
            factor = 1.0 if on in first else WORTH_IT
            # A port that clears what there is needs no rival; nor do others pay that clear hardly more.
            if (most <= 0.0 and not anywhere) or (best is not None and most <= best.clears_mm3 * factor):
                continue
            useful = None if anywhere else partial(find_useful, standing, columns, thread.tap_drill)
            places = list_places(panel, routed, cuts, channel, layer, on, thread, useful)
            if places is None:
                continue
            clears = _measure_cleared(panel, standing, columns, places, thread)
            if on not in EDGES:
                most = float(clears.max())
            choice = _choose_on(panel, standing, columns, places, clears, thread, anywhere)
            if choice is not None and (best is None or choice.clears_mm3 > best.clears_mm3 * factor):
                best = choice
    return best


def mouth_level(up: Vec, at: Vec, on: Face, thread: Thread, kind: PortKind) -> float:
    """Return the height of the best place in a port's mouth, turned round for air, [mm]: no more leaves past it.

    Parameters
    ----------
    up : (float, float, float)
        Unit vector.
    at : (float, float, float)
        Centre of the mouth, [mm].
    on : Face
    thread : Thread
    kind : {"bleed", "drain"}
    """
    axis = math.fsum(a * b for a, b in zip(up, INTO[on], strict=True))
    seat = SPOT_FACE_DEPTH if on not in EDGES else 0.0
    height = math.fsum(a * b for a, b in zip(up, at, strict=True)) + seat * axis
    # The lead chamfer ends as wide as the thread.
    rim = thread.major / 2 * math.sqrt(max(0.0, 1.0 - axis**2))
    return -(height + rim) if kind == "bleed" else height - rim


def layers_with(panel: Panel, routed: Routed, channel: str) -> tuple[Layer, ...]:
    """Return the layers that a channel runs in; the back for the pocket ("tank"), where there is one."""
    if channel == "tank":
        return ("back",) if routed.tank.box is not None else ()
    own = routed.channel(channel)
    return tuple(layer for layer in layers_of(panel) if layer_runs(own, layer))


def _choose_on(
    panel: Panel,
    standing: Standing,
    columns: Columns | None,
    places: Places,
    clears: np.ndarray,
    thread: Thread,
    anywhere: bool,
) -> Choice | None:
    """Return the best of the places on one face with room."""
    free = np.flatnonzero(places.free())
    if not len(free):
        return None
    feet, clears = places.feet[free], clears[free]
    most = float(clears.max())
    if most <= 0.0 and not anywhere:
        return None
    tied = np.flatnonzero(clears >= ALIKE * most)
    sign = -1.0 if standing.kind == "bleed" else 1.0
    heights = sign * (feet[tied] @ np.array(panel.up[:2]))
    tied = tied[heights <= heights.min() + LEVEL_MM]
    middle = feet[tied].mean(axis=0)
    off = np.round(np.hypot(*(feet[tied] - middle).T), 6)
    k = int(tied[np.argmin(off)])
    exit_there = -1 if columns is None else _find_exit(standing, columns, places, feet[k], thread)
    pocket = 0.0 if exit_there < 0 else standing.pockets_mm3[standing.number[exit_there]]
    return Choice(places, int(free[k]), float(clears[k]), pocket)


def _measure_cleared(
    panel: Panel, standing: Standing, columns: Columns | None, places: Places, thread: Thread
) -> np.ndarray:
    """Return what a port at each of the places would clear, (n,) float64 [mm3]."""
    if columns is None:
        return np.zeros(len(places.feet))
    counts = [_count_cleared(panel, standing, columns, places, foot, thread) for foot in places.feet]
    return np.maximum(0.0, np.array(counts) * standing.voxels.spacing**3 - standing.lost_mm3)


def _count_cleared(
    panel: Panel, standing: Standing, columns: Columns, places: Places, foot: np.ndarray, thread: Thread
) -> int:
    """Return how many voxels a port with its foot there would clear."""
    best = _find_exit(standing, columns, places, foot, thread)
    if best < 0:
        return 0
    mouth = (*edge_mouth(panel, places.on, (float(foot[0]), float(foot[1]))), places.mouth_z)
    return standing.cleared.above(best, mouth_level(panel.up, mouth, places.on, thread, standing.kind))


def _find_exit(standing: Standing, columns: Columns, places: Places, foot: np.ndarray, thread: Thread) -> int:
    """Return the voxel through which a port with its foot there would clear most; -1 where it opens into nothing."""
    voxels, radius = standing.voxels, thread.tap_drill / 2
    out = -np.array(INTO[places.on])
    spacing, origin = voxels.spacing, np.array(voxels.origin[:2])
    middle = foot + out[:2] * max(0.0, places.to_wall - radius)
    low = np.maximum(np.floor((middle - radius - origin) / spacing).astype(int), 0)
    high = np.maximum(np.ceil((middle + radius - origin) / spacing).astype(int), 0)
    window = columns.best[low[0] : high[0], low[1] : high[1]]
    dx, dy = (
        origin[k] + (np.arange(low[k], low[k] + window.shape[k]) + 0.5) * spacing - middle[k] for k in (0, 1)
    )
    inside = (window >= 0) & (np.hypot(dx[:, None], dy[None, :]) <= radius)
    held = window[inside]
    if not len(held):
        return -1
    counts = standing.cleared.counts[held]
    return int(held[np.lexsort((standing.along[held], -counts))[0]])
