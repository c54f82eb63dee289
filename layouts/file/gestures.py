"""What a hand does on the local page, as changes to the panel file.

*Gesture*: a small mapping such as ``{"move": "port:fill", "to": [40.0, 50.0]}``; all of them stand in `messages.ts`
(`Gesture`). *Thing*: what it is done to, by its id: "port:NAME", "channel:NAME", "clear:NUMBER" (from 0), "tank",
"pump". Places are [mm] in the panel frame; they are taken to the nearest node of the grid inside the panel.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from geom.errors import EditRefused
from geom.findings import KeyChange, KeyPath
from geom.frame import SAME_MM
from geom.outline import Point
from layouts.file.changes import check_path, check_plain
from layouts.file.given import Given, read_list, read_number, read_numbers, show_given
from layouts.file.hand_places import (
    box_around,
    clip_box,
    free_port,
    holds_place,
    place_port,
    swap_keys,
)
from layouts.file.things import (
    drop_routes,
    find_channel,
    find_clear,
    find_placed,
    find_port,
    find_tank_size,
    let_routes,
    split_thing,
    tell_thing,
)
from layouts.file_changes import write_length, write_lengths
from layouts.grid import node_inside, snap
from layouts.nets import FEED, PUMP_INLET, PUMP_OUTLET, TANK_OUTLET, TANK_RETURN
from layouts.panel import Box, Panel
from layouts.plan import Routed

PUMP_ENDS = frozenset((PUMP_INLET, PUMP_OUTLET))
TANK_ENDS = frozenset((TANK_OUTLET, TANK_RETURN))
"""Ends of channels that move with it."""

Changes = tuple[KeyChange, ...]


def gesture_changes(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    """Return one gesture as changes to the file.

    Parameters
    ----------
    panel : Panel
        Of the file.
    routed : Routed or None
        Its layout: where free things stand and how channels run; None where there is none.
    gesture : mapping
        From the page: anything may be in it.

    Returns
    -------
    tuple of KeyChange
        For `edit_text`; several gestures of one step go through `gather_changes`. Moving a port, pump or tank lets
        go of kept routes that end there. Freeing a thing gives it a region: `FREE_MM` to each side of its place on
        the panel (about the pump's seat, the tank's box).

    Raises
    ------
    EditRefused
        It is no gesture, or does not fit the panel.
    """
    kind = kind_of(gesture)
    need, make = _KINDS[kind]
    if set(gesture) != set(need):
        asked = " and ".join(f'"{key}"' for key in need)
        raise EditRefused(f'an edit "{kind}" takes {asked}; read {show_given(list(gesture))}')
    return _tidy_own(panel, make(panel, routed, gesture))


def gather_changes(panel: Panel, routed: Routed | None, gestures: Sequence[Given]) -> Changes:
    """Return all gestures of one step as changes that can be made one after the other.

    Parameters
    ----------
    panel : Panel
        Before all of them.
    routed : Routed or None
    gestures : sequence of mapping

    Returns
    -------
    tuple of KeyChange
        Of one path the last; entries that come to a list are numbered on, those that go come last, from the back.

    Raises
    ------
    EditRefused
        As `gesture_changes`; or changes of a remedy together with other gestures.
    """
    if len(gestures) == 1:
        return gesture_changes(panel, routed, gestures[0])
    kept: dict[KeyPath, KeyChange] = {}
    come: dict[tuple[KeyPath, str], KeyChange] = {}
    gone: set[KeyPath] = set()
    now = panel
    for gesture in gestures:
        kind = kind_of(gesture)
        if kind == "changes":
            raise EditRefused(
                "changes of a remedy are a step of their own; make the other edits before or after it"
            )
        for change in gesture_changes(now, routed, gesture):
            last = change.path[-1]
            if not isinstance(last, int):
                # Put last, so that a key that goes stands beside the one that comes in its place.
                kept.pop(change.path, None)
                kept[change.path] = change
            elif change.value is None:
                gone.add(change.path)
            elif last < _count_entries(panel, change.path[:-1]):
                kept[change.path] = change
            else:
                if kind == "add":
                    names = {*(clear.name for clear in panel.keep_clear), *(name for _, name in come)}
                    change = KeyChange(
                        change.path, {**change.value, "name": _free_name(names, gesture["name"])}
                    )
                come[change.path[:-1], _identity(change)] = change
        if kind == "size":
            # Where the tank then goes is asked of the tank that it will be.
            width, height = read_numbers(gesture, "to", 2)
            now = replace(now, tank=replace(now.tank, size=(width, height)))
    for path in gone:
        kept = {other: change for other, change in kept.items() if other[: len(path)] != path}
    numbers: dict[KeyPath, int] = {}
    numbered = []
    for (base, _), change in come.items():
        at = numbers.setdefault(base, _count_entries(panel, base))
        numbered.append(KeyChange((*base, at), change.value))
        numbers[base] += 1
    dropped = (KeyChange(path, None) for path in sorted(gone, key=lambda path: -int(path[-1])))
    return _tidy_own(panel, (*kept.values(), *numbered, *dropped))


def _count_entries(panel: Panel, base: KeyPath) -> int:
    return len(panel.keep_clear if base == ("keep_clear",) else panel.keep_routes)


def _identity(change: KeyChange) -> str:
    """Return what tells an entry that comes from others: a region's name, the channel of a route."""
    return str(change.value.get("name", change.value.get("channel")))


def _tidy_own(panel: Panel, changes: Changes) -> Changes:
    """Return the changes with the whole table of own widths going where its last entry would."""
    table: KeyPath = ("channel", "own")
    own = {
        change.path[-1]: change for change in changes if change.path[:2] == table and len(change.path) == 3
    }
    gone = {name for name, change in own.items() if change.value is None}
    if not gone or len(own) > len(gone) or gone < set(dict(panel.channel.own)):
        return changes
    return (*(change for change in changes if change not in own.values()), KeyChange(table, None))


def kind_of(gesture: Any) -> str:
    """Return which kind of gesture it is: the key that says so.

    Raises
    ------
    EditRefused
        It is none.
    """
    if isinstance(gesture, Mapping):
        # An added region has a box too.
        for kind in ("add", *_KINDS):
            if kind in gesture:
                return kind
    raise EditRefused(f"no such edit: {show_given(gesture)}; an edit is one of {', '.join(_KINDS)}")


def _move(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    sort, name = split_thing(gesture["move"])
    to = read_numbers(gesture, "to", 2)
    if sort == "port":
        port, path = find_port(panel, name)
        return (*place_port(panel, port, path, (to[0], to[1])), *let_routes(panel, {port.name}))
    now = _stays_at(panel, routed, gesture["move"], (to[0], to[1]))
    if now is not None:
        # It stands off the grid, and no node is meant: it is only pinned where it stands.
        pinned = sort == "clear" or now == (panel.tank.at if sort == "tank" else panel.pump.at)
        return () if pinned else swap_keys((sort,), "within", "at", write_lengths(now))
    if sort == "pump":
        at = node_inside(panel, (to[0], to[1]))
        return _with_let(panel, swap_keys(("pump",), "within", "at", write_lengths(at)), PUMP_ENDS)
    if sort == "tank":
        size = find_tank_size(panel)
        at = node_inside(panel, (to[0], to[1]), size)
        return _with_let(panel, swap_keys(("tank",), "within", "at", write_lengths(at)), TANK_ENDS)
    if sort == "clear":
        number = find_clear(panel, gesture["move"])
        x0, y0, x1, y1 = panel.keep_clear[number].box
        x, y = node_inside(panel, (to[0], to[1]), (x1 - x0, y1 - y0))
        box = (x, y, x + x1 - x0, y + y1 - y0)
        return (KeyChange(("keep_clear", number, "box"), write_lengths(box)),)
    raise EditRefused(f'channel "{name}" cannot be moved by hand; move what stands at its ends')


def _stays_at(panel: Panel, routed: Routed | None, thing: str, to: Point) -> Point | None:
    """Return where tank, pump or region stands if that is off the grid and half a pitch at most from there, [mm]."""
    sort, _ = split_thing(thing)
    if sort == "clear":
        now: Point | None = panel.keep_clear[find_clear(panel, thing)].box[:2]
    elif sort == "pump":
        now = panel.pump.at if routed is None else routed.pump.inlet
    elif sort == "tank":
        box = None if routed is None else routed.tank.box
        now = panel.tank.at if box is None else box[:2]
    else:
        now = None
    if now is None:
        return None
    on_grid = all(abs(snap(length, panel.pitch) - length) < SAME_MM for length in now)
    near = all(abs(a - b) <= panel.pitch / 2 + SAME_MM for a, b in zip(now, to, strict=True))
    return now if near and not on_grid else None


def _turn(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    if gesture["turn"] != "pump":
        raise EditRefused(f"only the pump can be turned; read {show_given(gesture['turn'])}")
    turn = read_number(gesture, "to")
    if turn % 90 != 0:
        raise EditRefused(f"the pump turns by whole multiples of 90 deg; read {turn:g} deg")
    return (KeyChange(("pump", "turns"), [f"{turn % 360:g} deg"]), *let_routes(panel, {PUMP_OUTLET}))


def _box(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    sort, name = split_thing(gesture["box"])
    given = read_numbers(gesture, "to", 4)
    drawn = (given[0], given[1], given[2], given[3])
    if sort == "port":
        port, path = find_port(panel, name)
        changes, used = free_port(panel, port, path, drawn)
        stays = routed is not None and holds_place(used, find_placed(routed, port.name).at[:2])
        return changes if stays else (*changes, *let_routes(panel, {port.name}))
    box = clip_box(panel, drawn)
    if sort == "clear":
        return (KeyChange(("keep_clear", find_clear(panel, gesture["box"]), "box"), write_lengths(box)),)
    if sort == "tank":
        width, height = find_tank_size(panel)
        if box[2] - box[0] < width - SAME_MM or box[3] - box[1] < height - SAME_MM:
            raise EditRefused(
                f"{_tell_box(box)} cannot hold the tank of {write_length(width)} x {write_length(height)};"
                " draw a larger box or make the tank smaller"
            )
        return _with_let(panel, swap_keys(("tank",), "at", "within", write_lengths(box)), TANK_ENDS)
    if sort == "pump":
        seat = panel.pump.seat_diameter
        if min(box[2] - box[0], box[3] - box[1]) < seat - SAME_MM:
            raise EditRefused(
                f"{_tell_box(box)} cannot hold the pump's seat of {write_length(seat)}; draw a larger box"
            )
        return _with_let(panel, swap_keys(("pump",), "at", "within", write_lengths(box)), PUMP_ENDS)
    raise EditRefused(f'channel "{name}" has no box; keep-clear regions keep channels away')


def _size(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    if gesture["size"] != "tank":
        raise EditRefused(f"only the tank has a size; read {show_given(gesture['size'])}")
    find_tank_size(panel)
    width, height = read_numbers(gesture, "to", 2)
    if not (0 < width <= panel.width and 0 < height <= panel.height):
        raise EditRefused(
            f"a tank of {write_length(width)} x {write_length(height)}; give a size above 0 mm that the panel of"
            f" {write_length(panel.width)} x {write_length(panel.height)} holds"
        )
    changes: Changes = (KeyChange(("tank", "size"), write_lengths((width, height))),)
    within = panel.tank.within
    if within is not None:
        # Its box grows with it, as little as it must.
        x0 = max(0.0, min(within[0], panel.width - width))
        y0 = max(0.0, min(within[1], panel.height - height))
        wide: Box = (x0, y0, max(within[2], x0 + width), max(within[3], y0 + height))
        if wide != within:
            changes += (KeyChange(("tank", "within"), write_lengths(wide)),)
    return _with_let(panel, changes, TANK_ENDS)


def _free(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    sort, name = split_thing(gesture["free"])
    if sort == "port":
        port, path = find_port(panel, name)
        if port.role == "fill":
            # The only port that may be left without a place.
            return (KeyChange((*path, "at"), None),) if port.at is not None else ()
        if port.at is None:
            return ()
        x, y = port.at
        return free_port(panel, port, path, box_around(panel, (x, y, x, y)))[0]
    if sort == "pump":
        if panel.pump.at is None:
            return ()
        x, y = panel.pump.at
        radius = panel.pump.seat_diameter / 2
        box = box_around(panel, (x - radius, y - radius, x + radius, y + radius))
        return swap_keys(("pump",), "at", "within", write_lengths(box))
    if sort == "tank":
        size = find_tank_size(panel)
        if panel.tank.at is None:
            return ()
        x, y = panel.tank.at
        return swap_keys(
            ("tank",), "at", "within", write_lengths(box_around(panel, (x, y, x + size[0], y + size[1])))
        )
    raise EditRefused(f"{tell_thing(panel, gesture['free'])} is not pinned by the file")


def _pin(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    sort, name = split_thing(gesture["pin"])
    if sort not in ("port", "pump", "tank"):
        raise EditRefused(f"{tell_thing(panel, gesture['pin'])} has no place of its own to be pinned in")
    if routed is None:
        raise EditRefused(
            f"{tell_thing(panel, gesture['pin'])} stands nowhere while there is no layout; move it to a place instead"
        )
    if sort == "port":
        port, path = find_port(panel, name)
        at = find_placed(routed, port.name).at
        return place_port(panel, port, path, (at[0], at[1]))
    if sort == "pump":
        return swap_keys(("pump",), "within", "at", write_lengths(routed.pump.inlet))
    find_tank_size(panel)
    assert routed.tank.box is not None, "a pocket has a box"
    return swap_keys(("tank",), "within", "at", write_lengths(routed.tank.box[:2]))


def _width(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    name = find_channel(panel, gesture["width"])
    own = dict(panel.channel.own)
    if gesture["to"] is None:
        if name not in own:
            return ()
        return (KeyChange(("channel", "own", name), None),)
    if name == FEED:
        raise EditRefused(
            "the feed takes its width from the pump's inlet bore; change that in the file's text"
        )
    width = read_number(gesture, "to")
    if width <= 0:
        raise EditRefused(f'channel "{name}": a width of {write_length(width)}; give one above 0 mm')
    return (KeyChange(("channel", "own", name), write_length(width)),)


def _keep(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    from layouts.keep_routes import route_corners

    name = find_channel(panel, gesture["keep"])
    if name == FEED:
        raise EditRefused("the feed is one straight drop from the tank to the pump; pin tank and pump")
    if routed is None:
        raise EditRefused(f'channel "{name}" has no route to keep while there is no layout')
    try:
        channel = routed.channel(name)
    except KeyError:
        raise EditRefused(f'channel "{name}" has no route in this layout') from None
    back, front = route_corners(panel, channel)
    entry: dict[str, Any] = {"channel": name}
    for layer, runs in (("back", back), ("front", front)):
        if runs:
            entry[layer] = [[write_lengths(corner) for corner in run] for run in runs]
    kept = [k for k, route in enumerate(panel.keep_routes) if route.channel == name]
    return (KeyChange(("keep_route", kept[0] if kept else len(panel.keep_routes)), entry),)


def _let(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    return drop_routes(panel, {find_channel(panel, gesture["let"])})


def _add(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    if gesture["add"] != "clear":
        raise EditRefused(f"only keep-clear regions can be added; read {show_given(gesture['add'])}")
    name = gesture["name"]
    if not isinstance(name, str) or not name.strip():
        raise EditRefused(f"a keep-clear region needs a name; read {show_given(name)}")
    given = read_numbers(gesture, "box", 4)
    box = clip_box(panel, (given[0], given[1], given[2], given[3]))
    entry = {"name": _free_name({clear.name for clear in panel.keep_clear}, name), "box": write_lengths(box)}
    return (KeyChange(("keep_clear", len(panel.keep_clear)), entry),)


def _remove(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    sort, _ = split_thing(gesture["remove"])
    if sort != "clear":
        raise EditRefused(f"only keep-clear regions can be removed here; take {sort} out in the file's text")
    return (KeyChange(("keep_clear", find_clear(panel, gesture["remove"])), None),)


def _pass_changes(panel: Panel, routed: Routed | None, gesture: Given) -> Changes:
    found = []
    for entry in read_list(gesture, "changes"):
        if not isinstance(entry, Mapping) or set(entry) != {"path", "value"}:
            raise EditRefused(f'a change takes "path" and "value"; read {show_given(entry)}')
        if not isinstance(entry["path"], list | tuple):
            raise EditRefused(
                f"the path of a change is a list of names and numbers; read {show_given(entry['path'])}"
            )
        path = tuple(entry["path"])
        check_path(path)
        if entry["value"] is not None:
            check_plain(entry["value"], path)
        found.append(KeyChange(path, entry["value"]))
    return tuple(found)


_KINDS: dict[str, tuple[tuple[str, ...], Callable[[Panel, Routed | None, Given], Changes]]] = {
    "move": (("move", "to"), _move),
    "turn": (("turn", "to"), _turn),
    "box": (("box", "to"), _box),
    "size": (("size", "to"), _size),
    "free": (("free",), _free),
    "pin": (("pin",), _pin),
    "width": (("width", "to"), _width),
    "keep": (("keep",), _keep),
    "let": (("let",), _let),
    "add": (("add", "box", "name"), _add),
    "remove": (("remove",), _remove),
    "changes": (("changes",), _pass_changes),
}
"""Keys that each kind of gesture has, and what it changes."""


def _with_let(panel: Panel, changes: Changes, ends: frozenset[str]) -> Changes:
    return (*changes, *let_routes(panel, ends))


def _tell_box(box: Box) -> str:
    return f"a box of {write_length(box[2] - box[0])} x {write_length(box[3] - box[1])}"


def _free_name(taken: Collection[str], name: str) -> str:
    name = name.strip()
    found, number = name, 2
    while found in taken:
        found, number = f"{name} {number}", number + 1
    return found
