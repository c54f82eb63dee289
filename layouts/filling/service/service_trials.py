"""Why a bleed or drain port that the file asks for is not there, and the smaller threads that have room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from geom.standards import tables
from geom.words import join_names
from layouts.filling.pocket_limits import CLEARED_SHARE
from layouts.filling.service.port_blockers import list_cuts
from layouts.filling.service.port_places import holds_thread, list_faces, list_places, thread_left
from layouts.filling.service.proposals import layers_with, list_targets, service_ports
from layouts.filling.service.service_ports import MOST_PORTS, add_service_ports, find_asked, is_much, look_at
from layouts.filling.service.standing import PortKind, Standing, find_useful
from layouts.filling.values import Pocket
from layouts.panel import Panel
from layouts.plan import Routed


@dataclass(frozen=True, slots=True)
class Missing:
    """A port that "auto" does not put where something stays.

    Parameters
    ----------
    why : str
        A sentence's part.
    thread : str or None
        The largest smaller one with which "auto" puts a port there; None: it does with none.
    """

    why: str
    thread: str | None


def explain_no_room(panel: Panel, routed: Routed, channel: str, standing: Standing | None = None) -> str:
    """Return why no port of the file's thread has room on a channel: a sentence's part.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    channel : str
        "tank" for the pocket.
    standing : Standing or None
        What it should clear; None: it may stand anywhere on the channel.
    """
    thread, cuts = tables.thread(panel.service.thread), list_cuts(panel, routed)
    whys = []
    for layer in layers_with(panel, routed, channel):
        useful = None
        if standing is not None:
            columns = standing.columns.get("tank" if channel == "tank" else layer)
            if columns is None:
                continue
            useful = partial(find_useful, standing, columns, thread.tap_drill)
        for on in list_faces(panel, routed, layer)[0]:
            if not holds_thread(panel, channel, layer, on, thread):
                has, needs = thread_left(panel, channel, layer, on), thread.short_thread + thread.pitch
                whys.append(
                    f"from the {on} its bore is {max(0.0, has):.3g} mm long, its thread needs {needs:.3g} mm"
                )
                continue
            places = list_places(panel, routed, cuts, channel, layer, on, thread, useful)
            if places is None:
                whys.append(f"from the {on} there is no place for its bore")
            elif standing is not None and places.free().any():
                whys.append(f"on the {on} there is room only where it would clear little")
            else:
                whys.append(f"on the {on} it would come too near to {join_names(places.name_blockers())}")
    return "; ".join(dict.fromkeys(whys)) or "the panel has none"


def try_smaller_threads(panel: Panel, routed: Routed, kind: PortKind) -> Iterator[tuple[str, Panel, Routed]]:
    """Return the layouts that the file would have with each smaller thread of its service ports, the largest first.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        With the service ports that it has now.
    kind : {"bleed", "drain"}
        Ports of the other kind may be left out where they are placed after those of this one.

    Returns
    -------
    iterator of (str, Panel, Routed)
        The thread, and the panel with it.
    """
    own, asked = service_ports(panel, routed), panel.service
    bare = replace(routed, ports=tuple(port for port in routed.ports if port not in own))
    drain = "none" if kind == "bleed" else asked.drain
    rows = sorted(map(tables.thread, tables.thread_names()), key=lambda row: -row.collar)
    for row in rows:
        if row.collar < tables.thread(asked.thread).collar:
            tried = replace(panel, service=replace(asked, thread=row.name, drain=drain))
            yield row.name, tried, add_service_ports(tried, bare)


def find_missing(
    panel: Panel, routed: Routed, kind: PortKind, pocket: Pocket, channels: Sequence[str]
) -> Missing | None:
    """Return why "auto" puts no port where much stays.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        With the service ports that it has now.
    kind : {"bleed", "drain"}
    pocket : Pocket
    channels : sequence of str
        Those that hold it, most of it first.

    Returns
    -------
    Missing or None
        None where the file does not say "auto", or no more stays than it puts up with.
    """
    if (panel.service.bleed if kind == "bleed" else panel.service.drain) != "auto":
        return None
    looked = look_at(panel, routed)
    standing = find_asked(panel, looked, kind)
    if not is_much(standing):
        return None
    targets = [channel for channel in channels if channel in list_targets(routed, kind)]
    if not targets:
        return Missing("none goes into the feed, through whose plug the pump would draw air", None)
    if sum(port.role == kind for port in service_ports(panel, routed)) >= MOST_PORTS:
        return Missing(f"it puts {MOST_PORTS} at most", None)
    for name, tried, built in try_smaller_threads(panel, routed, kind):
        left = find_asked(tried, look_at(tried, built), kind).left_mm3
        gone = standing.left_mm3 - left
        served = {port.channel for port in service_ports(tried, built) if port.role == kind}
        if served & set(targets) and gone >= (1.0 - CLEARED_SHARE) * pocket.volume_mm3:
            return Missing(explain_no_room(panel, routed, targets[0], standing), name)
    return Missing(explain_no_room(panel, routed, targets[0], standing), None)
