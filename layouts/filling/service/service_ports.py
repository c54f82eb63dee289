"""Ports that serve only to bleed and drain: those that the file asks for, placed where they clear most."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from geom.features import Feature
from geom.standards import tables
from geom.wet.raster import raster_wet
from geom.wet.voxels import WetVoxels
from layouts.detail import cut_openings
from layouts.filling.openings import find_openings, open_drains
from layouts.filling.pocket_limits import (
    AIR_MUCH_MM3,
    CLEARED_SHARE,
    COOLANT_MUCH_MM3,
    COOLANT_MUCH_SHARE,
)
from layouts.filling.pockets_told import channels_of
from layouts.filling.service.port_blockers import list_cuts
from layouts.filling.service.port_places import place_port
from layouts.filling.service.proposals import (
    LEAST_CLEARED,
    Choice,
    choose_place,
    is_worth_it,
    list_targets,
)
from layouts.filling.service.standing import PortKind, Standing, find_pockets, find_standing
from layouts.filling.spacing import PLAN_SPACING
from layouts.filling.values import Opening
from layouts.panel import Panel
from layouts.plan import Routed

MOST_PORTS = 4
"""Ports of a kind that "auto" adds at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """A layout, what is cut of it, and its wet volume in voxels."""

    routed: Routed
    features: tuple[Feature, ...]
    voxels: WetVoxels
    openings: tuple[Opening, ...]


def add_service_ports(panel: Panel, routed: Routed) -> Routed:
    """Return the layout with the bleed and drain ports that the file asks for; the same where it asks for none.

    Those for named channels stand where they clear most, at the highest (for a drain the lowest) place with room where
    nothing stays; a channel without room gets none, nor does one that a plug of the other kind clears. "auto" adds the
    port that clears most, then the next, until what stays is under the limits of the rules, or no further port clears
    enough; a panel without a drain gets one anyway.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        With posts, if there are any.
    """
    looked: Looked | None = None
    kinds: tuple[PortKind, ...] = ("bleed", "drain")
    for kind in kinds:
        asked = panel.service.bleed if kind == "bleed" else panel.service.drain
        if asked == "none":
            continue
        looked = looked or look_at(panel, routed)
        if asked == "auto":
            looked = _add_best(panel, looked, kind)
        else:
            for channel in asked:
                looked = _add_named(panel, looked, kind, channel)
    return looked.routed if looked is not None else routed


def look_at(panel: Panel, routed: Routed) -> Looked:
    """Return a layout with its wet volume, before anything that follows from its ports.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    """
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, PLAN_SPACING)
    return Looked(routed, features, voxels, find_openings(panel, routed, features, voxels))


def find_asked(panel: Panel, looked: Looked, kind: PortKind) -> Standing:
    """Return what stays of one kind, and what a port would clear of it that the file asks for.

    Parameters
    ----------
    panel : Panel
    looked : Looked
    kind : {"bleed", "drain"}
    """
    standing = find_standing(panel, looked.voxels, looked.openings, kind)
    # What the file asks for is built, even where ports of parts drain more.
    return replace(standing, lost_mm3=0.0)


def is_much(standing: Standing) -> bool:
    """Return whether a pocket is left over the limit of the rules, which "auto" builds ports for."""
    if standing.kind == "bleed":
        return standing.largest_mm3 >= AIR_MUCH_MM3
    most = min(COOLANT_MUCH_MM3, COOLANT_MUCH_SHARE * standing.voxels.volume_mm3)
    return standing.largest_mm3 > most


def find_serving_plug(panel: Panel, looked: Looked, kind: PortKind, channel: str) -> str | None:
    """Return the port of the other kind whose plug, opened too, clears all that is told of in a channel.

    Parameters
    ----------
    panel : Panel
    looked : Looked
    kind : {"bleed", "drain"}
    channel : str
        "tank" for the pocket.

    Returns
    -------
    str or None
        None where nothing is told of there, or no plug clears it.
    """
    openings = looked.openings
    if kind == "bleed":
        plugs = [opening for opening in openings if opening.kind == "drain"]
        shut, opened = openings, open_drains(openings)
    else:
        plugs = [opening for opening in openings if opening.kind == "bleed"]
        shut, opened = tuple(opening for opening in openings if opening.kind != "bleed"), openings
    if not plugs:
        return None
    found = find_pockets(panel, looked.voxels, shut, kind)
    told = [
        number
        for number, pocket in enumerate(found.pockets)
        if pocket.volume_mm3 >= LEAST_CLEARED[kind] and channel in channels_of(looked.routed, pocket)
    ]
    held = np.isin(found.number, told)
    names = [plug.name for plug in plugs if held[plug.voxels].any()]
    if not names:
        return None
    rest = held & (find_pockets(panel, looked.voxels, opened, kind).number >= 0)
    return names[0] if np.count_nonzero(rest) <= CLEARED_SHARE * np.count_nonzero(held) else None


def _add_best(panel: Panel, looked: Looked, kind: PortKind) -> Looked:
    thread = tables.thread(panel.service.thread)
    for _ in range(MOST_PORTS):
        routed, standing = looked.routed, find_asked(panel, looked, kind)
        without = kind == "drain" and not any(port.role == "drain" for port in routed.ports)
        if not (without or is_much(standing)):
            break
        cuts = list_cuts(panel, routed, looked.features)
        choices = [
            choose_place(panel, routed, cuts, standing, channel, thread)
            for channel in list_targets(routed, kind)
        ]
        best = max(
            (choice for choice in choices if choice is not None),
            key=lambda choice: choice.clears_mm3,
            default=None,
        )
        if best is None or not is_worth_it(best, kind):
            break
        looked = _build(panel, routed, best, kind)
    return looked


def _add_named(panel: Panel, looked: Looked, kind: PortKind, channel: str) -> Looked:
    if find_serving_plug(panel, looked, kind, channel) is not None:
        return looked
    routed, thread = looked.routed, tables.thread(panel.service.thread)
    cuts = list_cuts(panel, routed, looked.features)
    standing = find_asked(panel, looked, kind)
    choice = choose_place(panel, routed, cuts, standing, channel, thread, anywhere=True)
    return looked if choice is None else _build(panel, routed, choice, kind)


def _build(panel: Panel, routed: Routed, choice: Choice, kind: PortKind) -> Looked:
    """Return the layout with one more port, numbered on from those of its kind."""
    number = 1 + sum(port.role == kind for port in routed.ports)
    thread = tables.thread(panel.service.thread)
    port = place_port(panel, routed, choice.places, choice.number, thread, f"{kind} {number}", kind)
    return look_at(panel, replace(routed, ports=(*routed.ports, port)))
