"""Where one bleed or drain port would clear the most of what stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from geom.frame import EDGES, INTO
from geom.standards import tables
from geom.standards.tables import Thread
from geom.wet.voxels import WetVoxels
from geom.words import join_names
from layouts.clearance import edge_mouth
from layouts.closing.wet_regions import layer_runs
from layouts.detail import name_port
from layouts.faces import layers_of
from layouts.filling.pocket_limits import AIR_TOLD_MM3, COOLANT_TOLD_MM3
from layouts.filling.port_blockers import Cut, list_cuts
from layouts.filling.port_places import (
    Places,
    holds_thread,
    list_faces,
    list_places,
    place_port,
    thread_left,
)
from layouts.filling.standing import Columns, PortKind, Standing, find_standing, find_useful
from layouts.filling.values import Opening, PortProposal
from layouts.nets import FEED
from layouts.panel import Panel
from layouts.plan import Layer, PlacedPort, Routed

MOST_PROPOSALS = 3
"""Proposals of a kind."""

LEAST_CLEARED: dict[PortKind, float] = {"bleed": AIR_TOLD_MM3, "drain": COOLANT_TOLD_MM3}
"""A port that clears less is not proposed, [mm3]: no more stays than is told of."""

ALIKE = 0.98
"""Of places that clear so nearly as much, the higher (for a drain the lower) is taken, then the middle one."""

LEVEL_MM = 1.0
"""Places no further apart in height are as high as each other, [mm]."""

WORTH_IT = 1.25
"""How much more a port on another face must clear before it is worth a bore through a joint or a set-up of its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """A place chosen for a port: the places among which it is, its number, and what it clears, [mm3]."""

    places: Places
    number: int
    clears_mm3: float


def propose_ports(
    panel: Panel, routed: Routed, voxels: WetVoxels, openings: Sequence[Opening]
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
    for kind in kinds:
        standing = find_standing(panel, voxels, openings, kind)
        found += [
            PortProposal(
                kind,
                port.channel,
                port.on,
                port.at,
                port.thread,
                _measure_built(panel, voxels, openings, port, standing.left_mm3),
                True,
            )
            for port in service_ports(panel, routed)
            if port.role == kind
        ]
        if standing.left_mm3 < LEAST_CLEARED[kind]:
            continue
        cuts = cuts or list_cuts(panel, routed)
        choices = [
            choice
            for channel in list_targets(routed, kind)
            if (choice := choose_place(panel, routed, cuts, standing, channel, thread)) is not None
            and choice.clears_mm3 >= LEAST_CLEARED[kind]
        ]
        choices.sort(key=lambda choice: -choice.clears_mm3)
        for choice in choices[:MOST_PROPOSALS]:
            port = place_port(panel, routed, choice.places, choice.number, thread, kind, kind)
            found.append(PortProposal(kind, port.channel, port.on, port.at, port.thread, choice.clears_mm3))
    return tuple(found)


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
    for layer in _layers_of(panel, routed, channel):
        columns = standing.columns.get("tank" if channel == "tank" else layer)
        if columns is None and not anywhere:
            continue
        first, others = list_faces(panel, routed, layer)
        most = math.inf
        for on in (*first, *(on for on in others if channel != "tank" or on not in EDGES)):
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
            choice = _choose_on(panel, standing, places, clears, anywhere)
            if choice is not None and (best is None or choice.clears_mm3 > best.clears_mm3 * factor):
                best = choice
    return best


def explain_no_room(panel: Panel, routed: Routed, channel: str) -> str:
    """Return why no port of the file's thread has room on a channel: a sentence's part.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    channel : str
        "tank" for the pocket.
    """
    thread, cuts = tables.thread(panel.service.thread), list_cuts(panel, routed)
    whys = []
    for layer in _layers_of(panel, routed, channel):
        for on in list_faces(panel, routed, layer)[0]:
            places = list_places(panel, routed, cuts, channel, layer, on, thread)
            if not holds_thread(panel, channel, layer, on, thread):
                has, needs = thread_left(panel, channel, layer, on), thread.short_thread + thread.pitch
                whys.append(
                    f"from the {on} its bore is {max(0.0, has):.3g} mm long, its thread needs {needs:.3g} mm"
                )
            elif places is None:
                whys.append(f"from the {on} there is no place for its bore")
            else:
                whys.append(f"on the {on} it would come too near to {join_names(places.name_blockers())}")
    return "; ".join(dict.fromkeys(whys)) or "the panel has none"


def _layers_of(panel: Panel, routed: Routed, channel: str) -> tuple[Layer, ...]:
    if channel == "tank":
        return ("back",) if routed.tank.box is not None else ()
    own = routed.channel(channel)
    return tuple(layer for layer in layers_of(panel) if layer_runs(own, layer))


def _choose_on(
    panel: Panel, standing: Standing, places: Places, clears: np.ndarray, anywhere: bool
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
    return Choice(places, int(free[k]), float(clears[k]))


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
        return 0
    counts = standing.cleared.counts[held]
    best = int(held[np.lexsort((standing.along[held], -counts))[0]])
    return standing.cleared.above(best, _mouth_level(panel, standing, places, foot, out, radius))


def _mouth_level(
    panel: Panel, standing: Standing, places: Places, foot: np.ndarray, out: np.ndarray, radius: float
) -> float:
    """Return the height of the best place in a port's mouth, turned round for air, [mm]."""
    up = np.array(panel.up)
    mouth = np.array([*edge_mouth(panel, places.on, (float(foot[0]), float(foot[1]))), places.mouth_z])
    rim = radius * float(np.sqrt(max(0.0, 1.0 - float(out @ up) ** 2)))
    height = float(mouth @ up)
    return -(height + rim) if standing.kind == "bleed" else height - rim


def _measure_built(
    panel: Panel, voxels: WetVoxels, openings: Sequence[Opening], port: PlacedPort, left_mm3: float
) -> float:
    """Return what a port that is there clears: what would stay besides if it were shut, but for its bore, [mm3]."""
    others = [opening for opening in openings if opening.name != port.name]
    stays = find_standing(panel, voxels, others, "bleed" if port.role == "bleed" else "drain").stays
    bore = np.array([name == name_port(port) for name in voxels.names])[voxels.owner]
    return max(0.0, float(np.count_nonzero(stays & ~bore)) * voxels.spacing**3 - left_mm3)
