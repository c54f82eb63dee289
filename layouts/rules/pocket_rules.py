"""Design rules of what stays: air when the panel is filled (`air.left`), coolant when it is drained (`drain.left`)."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.frame import EDGES, Face, Vec
from geom.units import ml, show_number
from geom.words import count_of
from layouts.filling.carry_tilts import name_tilt
from layouts.filling.pocket_limits import (
    AIR_MUCH_MM3,
    AIR_TOLD_MM3,
    COOLANT_MUCH_MM3,
    COOLANT_MUCH_SHARE,
    COOLANT_TOLD_MM3,
    MOST_TOLD,
)
from layouts.filling.pocket_remedies import channels_of
from layouts.filling.values import Filling, Pocket, Relief
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.rules.findings import make_finding

LEAST_SHOWN_ML = 0.05
"""Less that would stay with a remedy is told as none, [mL]."""


def check_air_left(panel: Panel, routed: Routed, filling: Filling) -> tuple[Finding, ...]:
    """Ask whether all air leaves when the panel is filled with the pump at rest (`air.left`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling
    """
    told = [pocket for pocket in filling.left.air if pocket.volume_mm3 >= AIR_TOLD_MM3]
    found = []
    for pocket in told[:MOST_TOLD]:
        channels = channels_of(routed, pocket)
        carried = _is_carried(filling, channels)
        much = pocket.volume_mm3 >= AIR_MUCH_MM3 and not carried
        severity: Severity = "caution" if much else "note"
        cures = [_write_relief(panel, routed, relief, "filled") for relief in pocket.reliefs]
        text = (
            f"{_show_ml(pocket.volume_mm3)} mL of air stay {_name_holder(channels)} when the panel is filled with the "
            f"pump at rest: {_name_way_out(panel, routed, pocket, 'lower')}"
        )
        if carried:
            text += "; coolant runs fast enough there to carry them out"
            cures.insert(0, "run the pump until no more bubbles come, and top up")
        found.append(
            make_finding(
                "air.left",
                severity,
                text,
                "; or ".join(cures) or _raise_way(panel, pocket),
                ml(pocket.volume_mm3),
                ml(AIR_MUCH_MM3 if much else AIR_TOLD_MM3),
                "mL",
                pocket.at,
                pocket.features,
            )
        )
    rest = told[MOST_TOLD:]
    if rest:
        found.append(
            make_finding(
                "air.left",
                "note",
                f"{_count_rest(rest)} hold {_show_ml(_sum(rest))} mL of air in all, the largest "
                f"{_show_ml(rest[0].volume_mm3)} mL",
                "see to the larger ones first, then look at these again",
                ml(_sum(rest)),
                ml(AIR_TOLD_MM3),
                "mL",
                rest[0].at,
                _name_features(rest),
            )
        )
    return tuple(found)


def check_drain_left(panel: Panel, routed: Routed, filling: Filling) -> tuple[Finding, ...]:
    """Ask whether all coolant runs out when the panel is drained (`drain.left`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling
    """
    told = [pocket for pocket in filling.left.coolant if pocket.volume_mm3 >= COOLANT_TOLD_MM3]
    most = min(COOLANT_MUCH_MM3, COOLANT_MUCH_SHARE * filling.left.wet_mm3)
    drains = any(port.part == "drain" for port in routed.ports)
    how = "when the panel is drained" if drains else "when the panel is drained through its opened ports"
    found = []
    for pocket in told[:MOST_TOLD]:
        channels = channels_of(routed, pocket)
        much = pocket.volume_mm3 > most
        severity: Severity = "caution" if much else "note"
        cures = [_write_relief(panel, routed, relief, "drained") for relief in pocket.reliefs]
        found.append(
            make_finding(
                "drain.left",
                severity,
                f"{_show_ml(pocket.volume_mm3)} mL of coolant stay {_name_holder(channels)} {how}: "
                f"{_name_way_out(panel, routed, pocket, 'higher')}",
                "; or ".join(cures) or _catch_rest(pocket),
                ml(pocket.volume_mm3),
                ml(most if much else COOLANT_TOLD_MM3),
                "mL",
                pocket.at,
                pocket.features,
            )
        )
    rest = told[MOST_TOLD:]
    if rest:
        found.append(
            make_finding(
                "drain.left",
                "note",
                f"{_count_rest(rest)} hold {_show_ml(_sum(rest))} mL of coolant in all, the largest "
                f"{_show_ml(rest[0].volume_mm3)} mL",
                "see to the larger ones first, then look at these again",
                ml(_sum(rest)),
                ml(COOLANT_TOLD_MM3),
                "mL",
                rest[0].at,
                _name_features(rest),
            )
        )
    return tuple(found)


def _is_carried(filling: Filling, channels: tuple[str, ...]) -> bool:
    """Return whether coolant carries air down everywhere that it runs down in the channels."""
    falls = [carry for carry in filling.carries if carry.channel in channels]
    return bool(falls) and all(carry.verdict == "carried" for carry in falls)


def _name_holder(channels: tuple[str, ...]) -> str:
    if not channels:
        return "in the panel"
    return "in the tank" if channels[0] == "tank" else f"in channel {channels[0]}"


def _name_way_out(panel: Panel, routed: Routed, pocket: Pocket, where: str) -> str:
    """Return where the way out is that keeps a pocket: "its way out lies 12 mm lower, at ..."."""
    if pocket.way_out is None:
        return "no way leads out of there"
    port = _find_port(routed, pocket.way_out)
    at = f'port "{port.name}"' if port is not None else f"{_show_place(pocket.way_out)} mm"
    return f"the way out lies {show_number(pocket.depth, 2)} mm {where}, at {at}"


def _find_port(routed: Routed, at: Vec) -> PlacedPort | None:
    """Return the port whose bore a place lies in or beside; None where there is none."""
    near = [(_apart(port, at), port.name, port) for port in routed.ports]
    found = [entry for entry in near if entry[0] <= _reach(routed, entry[2])]
    return min(found)[2] if found else None


def _apart(port: PlacedPort, at: Vec) -> float:
    """Return how far a place lies from a port's axis in plan, [mm]."""
    (x0, y0), (x1, y1) = port.at[:2], port.foot
    along = (x1 - x0) ** 2 + (y1 - y0) ** 2
    share = ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / along if along > 0 else 0.0
    share = max(0.0, min(1.0, share))
    return math.dist((x0 + share * (x1 - x0), y0 + share * (y1 - y0)), at[:2])


def _reach(routed: Routed, port: PlacedPort) -> float:
    """Return how far from a port's foot its bore ends, or its channel's wall beside it, [mm]."""
    widths = [channel.width for channel in routed.channels if channel.name == port.channel]
    return max(widths, default=0.0)


def _write_relief(panel: Panel, routed: Routed, relief: Relief, done: str) -> str:
    """Return what to do, with what is left then."""
    left = ml(relief.left_mm3)
    then = "nothing stays" if left < LEAST_SHOWN_ML else f"{show_number(left, 2)} mL stay"
    if relief.kind in ("bleed", "drain"):
        assert relief.at is not None
        ports = f"{relief.kind} = [{', '.join(_list_served(panel, routed, relief))}]"
        return (
            f"set {ports} in [service], which puts a port at {_show_place(relief.at)} mm: then {then} there"
        )
    if relief.kind == "move":
        assert relief.at is not None
        port = next(port for port in routed.ports if port.name == relief.name)
        rises = rise_along(panel.up, relief.at) - rise_along(panel.up, port.at)
        place = _write_place(port.on, relief.at)
        return f'move port "{relief.name}" up by {rises:g} mm, with {place}: then {then} in all'
    if relief.kind == "hose":
        return f'take the hose off at port "{relief.name}" while draining: then {then} there'
    assert relief.tilt is not None
    return f"tilt the panel by {name_tilt(relief.tilt)} while it is {done}: then {then} in all"


def _list_served(panel: Panel, routed: Routed, relief: Relief) -> tuple[str, ...]:
    """Return the channels with a port of a kind, as the file must name them: those that have one, and one more."""
    asked = panel.service.bleed if relief.kind == "bleed" else panel.service.drain
    if isinstance(asked, str):
        own = panel.drain.name if panel.drain is not None else ""
        asked = tuple(port.channel for port in routed.ports if port.role == relief.kind and port.name != own)
    return tuple(f'"{name}"' for name in dict.fromkeys((*asked, relief.name)))


def _write_place(on: Face, at: Vec) -> str:
    """Return a port's place as the file has it."""
    if on in EDGES:
        return f'at = "{at[1] if on in ("left", "right") else at[0]:g} mm"'
    return f'at = ["{at[0]:g} mm", "{at[1]:g} mm"]'


def _raise_way(panel: Panel, pocket: Pocket) -> str:
    """Return what to do where nothing that was tried clears a pocket of air."""
    if pocket.way_out is None:
        return f"give it a way out: a port at {_show_place(pocket.at)} mm"
    return (
        f"let the channel rise all the way to a port: move the port that it ends in up by "
        f"{math.ceil(pocket.depth):g} mm, to the height of {_show_place(pocket.at)} mm"
    )


def _catch_rest(pocket: Pocket) -> str:
    return f"put a cloth under the panel when it is opened: the lowest place is {_show_place(pocket.at)} mm"


def _count_rest(rest: list[Pocket]) -> str:
    return count_of(len(rest), "more pocket")


def _sum(pockets: list[Pocket]) -> float:
    return math.fsum(pocket.volume_mm3 for pocket in pockets)


def _name_features(pockets: list[Pocket]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for pocket in pockets for name in pocket.features))


def _show_ml(volume_mm3: float) -> str:
    """Return a volume in mL: to a tenth of it where that is two digits or more."""
    volume = ml(volume_mm3)
    return f"{volume:.1f}" if volume >= 1 else show_number(volume, 2)


def _show_place(at: Vec) -> str:
    return f"({at[0]:.0f}, {at[1]:.0f})"
