"""Things of a plan by their ids, as the page names them, and where the file tells of them.

*Thing*: "port:NAME", "channel:NAME", "clear:NUMBER" (of the keep-clear regions, from 0), "tank", "pump".
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from geom.errors import EditRefused
from geom.findings import KeyChange, KeyPath
from geom.outline import Point
from geom.words import count_of
from layouts.file.given import show_given
from layouts.file_changes import find_path
from layouts.nets import channels_needed
from layouts.panel import Panel, Port
from layouts.plan import PlacedPort, Routed


def split_thing(thing: Any) -> tuple[str, str]:
    """Return the kind of a thing and its name, empty where it has none; EditRefused where it is no id."""
    if isinstance(thing, str):
        sort, colon, name = thing.partition(":")
        if (sort in ("tank", "pump") and not colon) or (sort in ("port", "channel", "clear") and name):
            return sort, name
    raise EditRefused(
        f"{show_given(thing)} is no thing of a plan: tank, pump, port:NAME, channel:NAME or clear:NUMBER"
    )


def find_port(panel: Panel, name: str) -> tuple[Port, KeyPath]:
    """Return a port of the file and its path; EditRefused where the file has none of that name."""
    port = panel.port(name)
    if port is not None:
        return port, find_path(port.key)
    raise EditRefused(
        f"the file gives no place to a port {show_given(name)}; ports for bleeding and draining stand where they clear"
        " most, or at channels named in [service]"
    )


def find_channel(panel: Panel, thing: Any) -> str:
    """Return the name of a channel that the loop asks for; EditRefused where it asks for none such."""
    sort, name = split_thing(thing)
    if sort == "channel" and any(need.name == name for need in channels_needed(panel)):
        return name
    raise EditRefused(f"{show_given(thing)} is no channel of this panel")


def find_clear(panel: Panel, thing: Any) -> int:
    """Return the number of a keep-clear region, from 0; EditRefused where the file has none such."""
    sort, name = split_thing(thing)
    number = int(name) if sort == "clear" and name.isascii() and name.isdigit() and len(name) < 6 else -1
    if 0 <= number < len(panel.keep_clear):
        return number
    raise EditRefused(
        f"{show_given(thing)}: the file has {count_of(len(panel.keep_clear), 'keep-clear region')}"
    )


def find_tank_size(panel: Panel) -> Point:
    """Return width and height of the pocket, [mm]; EditRefused where the tank is a vessel of its own."""
    if panel.tank.size is None:
        raise EditRefused("a separate tank stands beside the panel; move its ports instead")
    return panel.tank.size


def find_placed(routed: Routed, name: str) -> PlacedPort:
    """Return a port as it stands in a layout; EditRefused where it stands nowhere."""
    for placed in routed.ports:
        if placed.name == name:
            return placed
    raise EditRefused(f'port "{name}" has no place in this layout')


def tell_thing(panel: Panel, thing: Any) -> str:
    """Return a thing in words: 'port "fill"', "tank"."""
    sort, name = split_thing(thing)
    if sort == "clear":
        return f'keep-clear region "{panel.keep_clear[find_clear(panel, thing)].name}"'
    return f'{sort} "{name}"' if name else sort


def let_routes(panel: Panel, ends: Collection[str]) -> tuple[KeyChange, ...]:
    """Return the changes that let go of kept routes of channels that end at one of these."""
    names = {need.name for need in channels_needed(panel) if any(end.name in ends for end in need.ends)}
    return drop_routes(panel, names)


def drop_routes(panel: Panel, names: Collection[str]) -> tuple[KeyChange, ...]:
    """Return the changes that let go of the kept routes of some channels, the last entry first."""
    numbers = [k for k, route in enumerate(panel.keep_routes) if route.channel in names]
    return tuple(KeyChange(("keep_route", k), None) for k in reversed(numbers))
