"""Design rule of the bleed and drain ports that the file asks for."""

from __future__ import annotations

from geom.findings import Finding
from geom.frame import Vec
from layouts.clearance import tank_z
from layouts.cures import Cure, join_cures
from layouts.file.offers import offer_changes
from layouts.file_changes import set_key
from layouts.filling.service.proposals import service_ports
from layouts.filling.service.service_ports import find_serving_plug, look_at
from layouts.filling.service.service_trials import explain_no_room, try_smaller_threads
from layouts.filling.service.standing import PortKind
from layouts.installed import place_at
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding
from layouts.rules.pocket_words import thin_service


def check_service_ports(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether each channel that the file wants a bleed or drain port on has room for one (`service.room`)."""
    found: list[Finding] = []
    kinds: tuple[PortKind, ...] = ("bleed", "drain")
    for kind in kinds:
        asked = panel.service.bleed if kind == "bleed" else panel.service.drain
        built = _list_served(panel, routed, kind)
        missing = [channel for channel in (() if isinstance(asked, str) else asked) if channel not in built]
        if not missing:
            continue
        looked = look_at(panel, routed)
        plugs = {channel: find_serving_plug(panel, looked, kind, channel) for channel in missing}
        found += [
            _tell_served(panel, routed, kind, channel, plug)
            for channel, plug in plugs.items()
            if plug is not None
        ]
        missing = [channel for channel in missing if plugs[channel] is None]
        if not missing:
            continue
        threads = [
            (name, served)
            for name, tried, layout in try_smaller_threads(panel, routed, kind)
            if built <= (served := _list_served(tried, layout, kind))
        ]
        for channel in missing:
            fits = next((name for name, served in threads if channel in served), None)
            found.append(_tell_no_room(panel, routed, kind, channel, fits))
    return tuple(found)


def _list_served(panel: Panel, routed: Routed, kind: PortKind) -> frozenset[str]:
    return frozenset(port.channel for port in service_ports(panel, routed) if port.role == kind)


def _tell_no_room(panel: Panel, routed: Routed, kind: PortKind, channel: str, fits: str | None) -> Finding:
    """Return the finding of a channel, with a smaller thread that has room there."""
    cures = [] if fits is None else [thin_service(fits)]
    where, feature = _name_target(channel)
    cures.append(_take_out(panel, kind, channel))
    return make_finding(
        "service.room",
        "caution",
        f"no {kind} port {panel.service.thread} has room on {where}: {explain_no_room(panel, routed, channel)}",
        join_cures(cures),
        at_mm=_middle_of(panel, routed, channel),
        features=(feature,),
        changes=offer_changes(panel, *cures),
    )


def _tell_served(panel: Panel, routed: Routed, kind: PortKind, channel: str, plug: str) -> Finding:
    """Return the finding of a channel that a plug of the other kind clears."""
    where, feature = _name_target(channel)
    cure = _take_out(panel, kind, channel)
    how = (
        "lets its air out while the panel is filled, opened until coolant comes"
        if kind == "bleed"
        else "lets its coolant out while the panel is drained"
    )
    return make_finding(
        "service.room",
        "note",
        f'no {kind} port is put on {where}: the plug of port "{plug}" {how}',
        cure.text,
        at_mm=_middle_of(panel, routed, channel),
        features=(feature,),
        changes=offer_changes(panel, cure),
    )


def _take_out(panel: Panel, kind: PortKind, channel: str) -> Cure:
    """Return the way out of not asking for a port there."""
    asked = panel.service.bleed if kind == "bleed" else panel.service.drain
    left = [name for name in asked if name != channel]
    return Cure(
        f"take {_name_target(channel)[0]} out of {kind} in [service]",
        (set_key(left or "none", "service", kind),),
    )


def _name_target(channel: str) -> tuple[str, str]:
    """Return a channel, or the pocket tank, in words and as a feature."""
    return ("the tank", "tank") if channel == "tank" else (f'channel "{channel}"', f"channel {channel}")


def _middle_of(panel: Panel, routed: Routed, channel: str) -> Vec | None:
    """Return a place of a channel, or of the pocket tank, in its middle, [mm]."""
    box = routed.tank.box
    if channel == "tank":
        if box is None:
            return None
        return ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2, sum(tank_z(panel)) / 2)
    run = routed.channel(channel).runs[0]
    (ax, ay), (bx, by) = run.points[:2]
    return place_at(panel, ((ax + bx) / 2, (ay + by) / 2), run.layer)
