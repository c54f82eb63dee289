"""Design rule of the bleed and drain ports that the file asks for."""

from __future__ import annotations

from geom.findings import Finding
from geom.frame import Vec
from geom.standards import tables
from layouts.clearance import tank_z
from layouts.filling.proposals import explain_no_room, service_ports
from layouts.filling.standing import PortKind
from layouts.installed import place_at
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding


def check_service_ports(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether each channel that the file wants a bleed or drain port on has room for one (`service.room`)."""
    found: list[Finding] = []
    kinds: tuple[PortKind, ...] = ("bleed", "drain")
    for kind in kinds:
        asked = panel.service.bleed if kind == "bleed" else panel.service.drain
        built = {port.channel for port in service_ports(panel, routed) if port.role == kind}
        found += [
            _tell_no_room(panel, routed, kind, channel)
            for channel in (() if isinstance(asked, str) else asked)
            if channel not in built
        ]
    return tuple(found)


def _tell_no_room(panel: Panel, routed: Routed, kind: PortKind, channel: str) -> Finding:
    name = panel.service.thread
    smaller = [one for one in tables.thread_names() if tables.thread(one).collar < tables.thread(name).collar]
    cures = [f'give [service] a smaller thread, thread = "{smaller[0]}"'] if smaller else []
    where, feature = (
        ("the tank", "tank") if channel == "tank" else (f'channel "{channel}"', f"channel {channel}")
    )
    return make_finding(
        "service.room",
        "caution",
        f"no {kind} port {name} has room on {where}: {explain_no_room(panel, routed, channel)}",
        " or ".join([*cures, f"take {where} out of {kind} in [service]"]),
        at_mm=_middle_of(panel, routed, channel),
        features=(feature,),
    )


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
