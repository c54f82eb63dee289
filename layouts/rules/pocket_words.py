"""What to do about air and coolant that stay, in words of the file and of the bench."""

from __future__ import annotations

import math

from geom.findings import KeyChange
from geom.frame import EDGES, Face, Vec
from geom.standards import tables
from geom.units import ml, show_ml, show_number
from layouts.cures import Cure
from layouts.detail import name_port
from layouts.file_changes import set_key, set_port_key, set_port_place
from layouts.filling.not_fed import find_pocket_levels
from layouts.filling.pocket_limits import NOTHING_ML
from layouts.filling.pockets_told import WrongWay, find_own_bore, find_port, find_wrong_way
from layouts.filling.service.standing import PortKind
from layouts.filling.tilt_words import name_tilt, say_tilt
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Pocket, Relief, Tilt
from layouts.installed import lies_flat, rise_along
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed


def write_cures(panel: Panel, routed: Routed, pocket: Pocket, air: bool, said: set[Tilt]) -> list[Cure]:
    """Return what to do about a pocket: what was tried, and what the layout asks for where nothing in it helps.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    pocket : Pocket
    air : bool
        Whether it is of air.
    said : set of Tilt
        Tilts that were told with what stays then; added to.
    """
    cures = []
    for relief in pocket.reliefs:
        if relief.kind in ("bleed", "drain") and relief.name in list_asked(panel, routed, relief.kind):
            # The channel has its port: a second one cannot be asked for.
            continue
        if relief.kind == "tilt" and relief.tilt in said:
            cures.append(Cure(f"{say_tilt(panel, relief.tilt)}, as told of the largest"))
        else:
            said_so = _write_relief(panel, routed, pocket, relief, air)
            cures.append(Cure(said_so, _list_changes(panel, routed, relief, air)))
        if relief.kind == "tilt" and relief.tilt is not None:
            said.add(relief.tilt)
    if all(relief.kind == "tilt" for relief in pocket.reliefs):
        mended = _mend_way(panel, routed, pocket, air)
        if mended:
            cures.append(Cure(mended))
    if not cures:
        cures.append(Cure(_let_out(panel, routed, pocket) if air else _catch_rest(panel, routed, pocket)))
    elif not air and not pocket.reliefs:
        cures.append(Cure(_catch_rest(panel, routed, pocket)))
    return cures


def thin_service(thread: str) -> Cure:
    """Return the way out of giving all bleed and drain ports a smaller thread."""
    return Cure(
        f'give [service] a smaller thread, thread = "{thread}"', (set_key(thread, "service", "thread"),)
    )


def show_xy(at: Vec) -> str:
    """Return a place of the voxels seen from the front: "(145, 65)"."""
    return f"({at[0]:.0f}, {at[1]:.0f})"


def name_key(panel: Panel, port: PlacedPort) -> str:
    """Return where a port stands in the file: '[[part]] "cooler", inlet'; "[service]" for those of that table."""
    own = panel.drain.name if panel.drain is not None else ""
    if port.role in ("bleed", "drain") and port.name != own:
        return "[service]"
    if port.role == "drain":
        return "[drain], port"
    if port.role == "fill" or port.part == "tank":
        return f"[tank], {port.role}"
    return f'[[part]] "{port.part}", {port.role}'


def _write_relief(panel: Panel, routed: Routed, pocket: Pocket, relief: Relief, air: bool) -> str:
    """Return what to do, with what is left then."""
    left = ml(relief.left_mm3)
    nothing = left < NOTHING_ML
    then = "nothing stays" if nothing else f"{show_ml(left)} mL stays"
    in_all = then if nothing else f"{then} in all"
    if relief.kind in ("bleed", "drain"):
        assert relief.at is not None
        served = list_served(panel, routed, relief.kind, relief.name)
        names = ", ".join(f'"{name}"' for name in served)
        ports = f"{relief.kind} = [{names}]"
        placed = f"set {ports} in [service], which puts a port at {show_xy(relief.at)} mm"
        return f"{placed}: then {then} at {show_xy(pocket.at)} mm"
    if relief.kind == "move":
        return f"{_write_move(panel, routed, relief)} (tried, all laid out anew): then {in_all}"
    if relief.kind == "plug":
        levels = find_pocket_levels(panel, routed)
        high = (
            levels is not None and relief.at is not None and rise_along(panel.up, relief.at) >= levels.surface
        )
        when = (
            "while the pump runs slowly, since it stands over the tank's coolant,"
            if high
            else "while the panel is filled,"
        )
        return f'loosen the plug of port "{relief.name}" {when} until coolant comes: then {then} there'
    if relief.kind == "hose" and air:
        port = next(port for port in routed.ports if port.name == relief.name)
        return (
            f'lead the hose at port "{relief.name}" upwards (hose = "rises" in {name_key(panel, port)}): '
            f"then {then} there"
        )
    if relief.kind == "hose":
        return f'take the hose off at port "{relief.name}" while draining: then {then} there'
    assert relief.tilt is not None
    if relief.kind == "slope":
        up = ", ".join(f"{c:g}" for c in _slope_up(panel, relief.tilt))
        slope = name_tilt(panel, relief.tilt)
        return f"install the panel with a slope, {slope} (up = [{up}] in [panel]): then {then} there"
    return f"{say_tilt(panel, relief.tilt)} while it is {'filled' if air else 'drained'}: then {in_all}"


def _list_changes(panel: Panel, routed: Routed, relief: Relief, air: bool) -> tuple[KeyChange, ...]:
    """Return what to do as changes to the file; none where it is done at the bench."""
    if relief.kind in ("bleed", "drain"):
        return (set_key(list(list_served(panel, routed, relief.kind, relief.name)), "service", relief.kind),)
    if relief.kind == "slope" and relief.tilt is not None:
        return (set_key(list(_slope_up(panel, relief.tilt)), "panel", "up"),)
    port = panel.port(relief.name)
    if relief.kind == "move" and port is not None and relief.at is not None:
        return set_port_place(port, relief.at[:2])
    return (
        (set_port_key(port, "hose", "rises"),) if relief.kind == "hose" and air and port is not None else ()
    )


def _slope_up(panel: Panel, tilt: Tilt) -> tuple[float, ...]:
    """Return which way is up in a panel installed with a slope, as the file has it."""
    return tuple(round(c, 4) + 0.0 for c in tilted_up(panel.up, tilt))


def list_served(panel: Panel, routed: Routed, kind: PortKind, channel: str) -> tuple[str, ...]:
    """Return the channels with a port of a kind, as the file must name them: those that have one, and one more.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    kind : {"bleed", "drain"}
    channel : str
        The one more.
    """
    return tuple(dict.fromkeys((*list_asked(panel, routed, kind), channel)))


def list_asked(panel: Panel, routed: Routed, kind: PortKind) -> tuple[str, ...]:
    """Return the channels that have a port of a kind, or that the file asks one for.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    kind : {"bleed", "drain"}
    """
    asked = panel.service.bleed if kind == "bleed" else panel.service.drain
    if isinstance(asked, str):
        own = panel.drain.name if panel.drain is not None else ""
        asked = tuple(port.channel for port in routed.ports if port.role == kind and port.name != own)
    return asked


def _write_move(panel: Panel, routed: Routed, relief: Relief) -> str:
    assert relief.at is not None
    port = next(port for port in routed.ports if port.name == relief.name)
    rises = rise_along(panel.up, relief.at) - rise_along(panel.up, port.at)
    span = "between" if port.on in EDGES else "within"
    return (
        f'move port "{relief.name}" up by {rises:g} mm: {write_place(port.on, relief.at)} in place of {span} in '
        f"{name_key(panel, port)}"
    )


def write_place(on: Face, at: Vec) -> str:
    """Return a port's place as the file has it."""
    if on in EDGES:
        return f'at = "{at[1] if on in ("left", "right") else at[0]:g} mm"'
    return f'at = ["{at[0]:g} mm", "{at[1]:g} mm"]'


def _mend_way(panel: Panel, routed: Routed, pocket: Pocket, air: bool) -> str:
    """Return which piece of a channel leads the wrong way, and how much that is; empty where none does."""
    if lies_flat(panel):
        return ""
    way = find_wrong_way(panel, routed, pocket, air)
    if way is None:
        return ""
    end = f"{show_xy(way.end)} mm" if way.port is None else f'port "{way.port.name}"'
    said = (
        f"let channel {way.channel} {'rise' if air else 'fall'} from {show_xy(way.start)} mm to {end}, where it "
        f"{'falls' if air else 'rises'} by {show_number(way.height, 2)} mm"
    )
    if way.port is None or not _serves(panel, routed, way, air) or not _moves_along(panel, way.port.on):
        return said
    by, sense = math.ceil(pocket.depth), "up" if air else "down"
    return f"{said}: move the port {sense} by {by} mm or more ({name_key(panel, way.port)})"


def _serves(panel: Panel, routed: Routed, way: WrongWay, air: bool) -> bool:
    """Return whether air (coolant) leaves through the port that a way ends in."""
    assert way.port is not None
    if not air:
        drains = any(port.role == "drain" for port in routed.ports)
        return way.port.role == "drain" or (not drains and not way.port.is_shut)
    hoses = {port.name: port.hose for part in panel.parts for port in (part.inlet, part.outlet)}
    return way.port.role not in ("drain", "bleed") and hoses.get(way.port.name) != "falls"


def _moves_along(panel: Panel, on: Face) -> bool:
    """Return whether a port can be moved up in its face; in an upper or a lower edge it cannot."""
    if on not in EDGES:
        return True
    return (on in ("left", "right")) == (abs(panel.up[1]) > abs(panel.up[0]))


def _let_out(panel: Panel, routed: Routed, pocket: Pocket) -> str:
    """Return what to do where nothing that was tried clears a pocket of air, and no piece of a channel is to blame."""
    place = show_xy(pocket.at)
    if pocket.way_out is None:
        return f"give it a way out: a port at {place} mm"
    port = find_own_bore(panel, routed, pocket)
    if port is not None:
        return _narrow_bore(panel, port)
    if lies_flat(panel):
        if pocket.features and pocket.features[0].startswith("pump"):
            return "turn the panel slowly to all sides while the pump runs: the air stands at the pump itself"
        return f"give it a vent: a port in the face that looks up, at {place} mm"
    port = find_port(routed, pocket.way_out)
    lies = f'port "{port.name}"' if port is not None else f"the way out, {show_xy(pocket.way_out)} mm,"
    return (
        f"let all that leads from {place} mm to its way out rise: {lies} has to stand "
        f"{math.ceil(pocket.depth):g} mm higher, or that place as much lower"
    )


def _narrow_bore(panel: Panel, port: PlacedPort) -> str:
    """Return what to do about a bubble at the crown of a bore that is wider than its channel."""
    bore = tables.thread(port.thread).tap_drill
    return (
        f'a smaller thread of port "{port.name}" than {port.thread}, whose bore of {bore:g} mm is wider than its '
        f"channel, holds less ({name_key(panel, port)}, thread)"
    )


def _catch_rest(panel: Panel, routed: Routed, pocket: Pocket) -> str:
    port = next((port for port in routed.ports if pocket.features[:1] == (name_port(port),)), None)
    if port is not None and rise_along(panel.up, port.at) <= rise_along(panel.up, pocket.at):
        return f'open port "{port.name}" over a bowl: its bore is the lowest place, {show_xy(pocket.at)} mm'
    return f"put a cloth under the panel when it is opened: the lowest place is {show_xy(pocket.at)} mm"
