"""Which pockets are told of, what holds them, and the piece of a channel that keeps them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from geom.frame import INTO, Vec
from geom.standards import tables
from geom.words import join_names
from layouts.detail import name_port
from layouts.filling.moving_air import height_of_fall, list_descents
from layouts.filling.pocket_limits import AIR_TOLD_MM3, BORE_TOLD_MM3, COOLANT_TOLD_MM3
from layouts.filling.values import Pocket
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed

LYING_SINE = 0.5
"""A bore whose axis rises by less than this share of its length has a crown along all of it, [-]."""

MOST_FEATURES = 2
"""Features named of a pocket; of more than one more the number is told."""


@dataclass(frozen=True, slots=True)
class WrongWay:
    """The piece of a channel that leads down from a pocket of air to its way out, or up from one of coolant.

    Parameters
    ----------
    channel : str
    start, end : (float, float, float)
        Its end at the pocket and that at the way out, at mid-depth, [mm].
    height : float
        From one to the other along up, greater than 0, [mm].
    port : PlacedPort or None
        The port that it ends in.
    """

    channel: str
    start: Vec
    end: Vec
    height: float
    port: PlacedPort | None


def list_told(panel: Panel, routed: Routed, pockets: Sequence[Pocket], air: bool) -> tuple[int, ...]:
    """Return which pockets are told of, the largest first.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    pockets : sequence of Pocket
        The largest first.
    air : bool
        Whether they are of air.
    """

    def limit(pocket: Pocket) -> float:
        if not air:
            return COOLANT_TOLD_MM3
        return AIR_TOLD_MM3 if find_own_bore(panel, routed, pocket) is None else BORE_TOLD_MM3

    return tuple(k for k, pocket in enumerate(pockets) if pocket.volume_mm3 >= limit(pocket))


def channels_of(routed: Routed, pocket: Pocket) -> tuple[str, ...]:
    """Return the channels that hold a pocket, or open into what does, most of it first; "tank" for the pocket tank."""
    names = {name_port(port): port.channel for port in routed.ports}
    for channel in routed.channels:
        names[f"channel {channel.name}"] = names[f"channel {channel.name} front"] = channel.name
        names.update(
            {f"through hole {channel.name} {k + 1}": channel.name for k in range(len(channel.holes))}
        )
        names.update({f"{end} bore": channel.name for end in channel.ends if end.startswith("pump")})
    names["tank"] = "tank"
    return tuple(dict.fromkeys(names[name] for name in pocket.features if name in names))


def name_holders(features: Sequence[str]) -> str:
    """Return the names of what holds a pocket: 'port "x inlet", channel "a - b" and 2 more'.

    Parameters
    ----------
    features : sequence of str
        Of a `Pocket`, in its order.
    """
    names = tuple(dict.fromkeys(_name_holder(feature) for feature in features))
    more = len(names) - MOST_FEATURES
    return join_names((*names[:MOST_FEATURES], f"{more} more") if more > 1 else names)


def _name_holder(feature: str) -> str:
    """Return a wet feature's name as makers say it: ports without their thread."""
    if feature.startswith("channel "):
        return f'channel "{feature.removeprefix("channel ")}"'
    if feature.startswith("port "):
        return f'port "{feature.removeprefix("port ").rsplit(" ", 1)[0]}"'
    return f"the {feature}" if feature == "tank" or feature.startswith("pump ") else feature


def find_own_bore(panel: Panel, routed: Routed, pocket: Pocket) -> PlacedPort | None:
    """Return the port whose bore holds a pocket at its own crown (coolant: its floor); None where another does.

    Such a bore lies, is wider than its channel, and bulges past it.
    """
    if pocket.way_out is None or not pocket.features:
        return None
    port = next((port for port in routed.ports if name_port(port) == pocket.features[0]), None)
    if port is None or abs(rise_along(panel.up, INTO[port.on])) > LYING_SINE:
        return None
    return port if pocket.depth <= tables.thread(port.thread).tap_drill / 2 else None


def find_port(routed: Routed, at: Vec) -> PlacedPort | None:
    """Return the port whose bore a place lies in or beside, [mm]; None where there is none."""
    near = [(_apart(port, at), port.name, port) for port in routed.ports]
    found = [entry for entry in near if entry[0] <= _reach(routed, entry[2])]
    return min(found)[2] if found else None


def find_wrong_way(panel: Panel, routed: Routed, pocket: Pocket, air: bool) -> WrongWay | None:
    """Return the piece of a channel that leads the wrong way from a pocket to its way out.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    pocket : Pocket
    air : bool
        Whether it is of air.

    Returns
    -------
    WrongWay or None
        None where none of its channels' legs has one that begins at the pocket's height and ends at its way out.
    """
    if pocket.way_out is None:
        return None
    seen = panel if air else replace(panel, up=(-panel.up[0], -panel.up[1], -panel.up[2]))
    found: list[tuple[float, float, WrongWay]] = []
    for name in channels_of(routed, pocket):
        for channel in (channel for channel in routed.channels if channel.name == name):
            for leg in channel.legs:
                for forward in (True, False):
                    for fall in list_descents(seen, leg, forward):
                        start, end = fall[0].start, fall[-1].end
                        off = math.dist(end[:2], pocket.way_out[:2])
                        over = rise_along(seen.up, pocket.at) - rise_along(seen.up, start)
                        # The pocket reaches up to the channel's wall, or to that of a bore at its end.
                        if off <= 1.5 * channel.width and abs(over) <= channel.width:
                            way = WrongWay(
                                name, start, end, height_of_fall(seen, fall), find_port(routed, end)
                            )
                            found.append((off, math.dist(start, pocket.at), way))
    return min(found, key=lambda one: one[:2])[2] if found else None


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
