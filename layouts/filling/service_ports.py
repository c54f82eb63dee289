"""Ports that serve only to bleed and drain: those that the file asks for, placed where they clear most."""

from __future__ import annotations

from dataclasses import replace

from geom.standards import tables
from geom.wet.raster import raster_wet
from layouts.detail import cut_openings
from layouts.filling.openings import find_openings
from layouts.filling.pocket_limits import AIR_MUCH_MM3, COOLANT_MUCH_MM3, COOLANT_MUCH_SHARE
from layouts.filling.port_blockers import Cut, list_cuts
from layouts.filling.port_places import place_port
from layouts.filling.proposals import (
    LEAST_CLEARED,
    Choice,
    choose_place,
    list_targets,
)
from layouts.filling.standing import PortKind, Standing, find_standing
from layouts.panel import Panel
from layouts.plan import Routed

SPACING = 1.0
"""Side of the voxels that places are looked for with, [mm]."""

MOST_PORTS = 4
"""Ports of a kind that "auto" adds at most."""


def add_service_ports(panel: Panel, routed: Routed) -> Routed:
    """Return the layout with the bleed and drain ports that the file asks for; the same where it asks for none.

    Those for named channels stand where they clear most, at the highest (for a drain the lowest) place with room where
    nothing stays; a channel without room gets none. "auto" adds the port that clears most, then the next, until what
    stays is under the limits of the rules, or no further port clears enough; a panel without a drain gets one anyway.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        With posts, if there are any.
    """
    kinds: tuple[PortKind, ...] = ("bleed", "drain")
    for kind in kinds:
        asked = panel.service.bleed if kind == "bleed" else panel.service.drain
        if asked == "auto":
            routed = _add_best(panel, routed, kind)
        elif asked != "none":
            for channel in asked:
                standing, cuts = _stand(panel, routed, kind), list_cuts(panel, routed)
                choice = _choose(panel, routed, cuts, standing, channel, anywhere=True)
                if choice is not None:
                    routed = _build(panel, routed, choice, kind)
    return routed


def _add_best(panel: Panel, routed: Routed, kind: PortKind) -> Routed:
    for _ in range(MOST_PORTS):
        standing = _stand(panel, routed, kind)
        without = kind == "drain" and not any(port.role == "drain" for port in routed.ports)
        if not (without or _is_much(standing)):
            break
        cuts = list_cuts(panel, routed)
        choices = [_choose(panel, routed, cuts, standing, channel) for channel in list_targets(routed, kind)]
        best = max(
            (choice for choice in choices if choice is not None),
            key=lambda choice: choice.clears_mm3,
            default=None,
        )
        if best is None or best.clears_mm3 < LEAST_CLEARED[kind]:
            break
        routed = _build(panel, routed, best, kind)
    return routed


def _is_much(standing: Standing) -> bool:
    """Return whether a pocket is left over the limit of the rules."""
    if standing.kind == "bleed":
        return standing.largest_mm3 >= AIR_MUCH_MM3
    most = min(COOLANT_MUCH_MM3, COOLANT_MUCH_SHARE * standing.voxels.volume_mm3)
    return standing.largest_mm3 > most


def _stand(panel: Panel, routed: Routed, kind: PortKind) -> Standing:
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, SPACING)
    standing = find_standing(panel, voxels, find_openings(panel, routed, features, voxels), kind)
    # What the file asks for is built, even where ports of parts drain more.
    return replace(standing, lost_mm3=0.0)


def _choose(
    panel: Panel,
    routed: Routed,
    cuts: tuple[Cut, ...],
    standing: Standing,
    channel: str,
    anywhere: bool = False,
) -> Choice | None:
    thread = tables.thread(panel.service.thread)
    return choose_place(panel, routed, cuts, standing, channel, thread, anywhere)


def _build(panel: Panel, routed: Routed, choice: Choice, kind: PortKind) -> Routed:
    """Return the layout with one more port, numbered on from those of its kind."""
    number = 1 + sum(port.role == kind for port in routed.ports)
    thread = tables.thread(panel.service.thread)
    port = place_port(panel, routed, choice.places, choice.number, thread, f"{kind} {number}", kind)
    return replace(routed, ports=(*routed.ports, port))
