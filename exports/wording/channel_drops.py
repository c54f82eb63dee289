"""What the drop of a channel is made of: friction of its straight pieces, its bends, and its turns."""

from __future__ import annotations

from dataclasses import dataclass

from layouts.plan import Channel, ChannelFlow, Flowing, LegFlow


@dataclass(frozen=True, slots=True)
class DropParts:
    """Shares of a channel's drop along its most costly way, [Pa]; turns with entries, exits and tees."""

    straight_pa: float
    bends_pa: float
    turns_pa: float


def split_drop(channel: Channel, flow: ChannelFlow) -> DropParts:
    """Return what a channel's drop is made of, along the way from its first end to its furthest.

    Parameters
    ----------
    channel : Channel
    flow : ChannelFlow
        Of this channel.

    Returns
    -------
    DropParts
        Their sum is `flow.drop_pa`.
    """
    onward: dict[str, list[tuple[str, LegFlow]]] = {}
    for leg, carried in zip(channel.legs, flow.legs, strict=True):
        if carried.flow_m3_s > 0.0:
            onward.setdefault(leg.start, []).append((leg.end, carried))
        elif carried.flow_m3_s < 0.0:
            onward.setdefault(leg.end, []).append((leg.start, carried))
    reached: dict[str, tuple[LegFlow, ...]] = {channel.ends[0]: ()}
    waiting = [channel.ends[0]]
    while waiting:
        here = waiting.pop()
        for there, carried in onward.get(here, ()):
            if there not in reached:
                reached[there] = (*reached[here], carried)
                waiting.append(there)
    ways = [reached[end] for end in channel.ends[1:] if end in reached]
    way = max(ways, key=lambda legs: sum(leg.drop_pa for leg in legs), default=())
    straight = sum(leg.straight_pa for leg in way)
    bends = sum(leg.bends_pa for leg in way)
    return DropParts(straight, bends, flow.drop_pa - straight - bends)


def drop_band(flowing: Flowing, band: float) -> float:
    """Return the relative band to which a drop is told, [-].

    Its formulas' errors at one flow, or what the band of the flow makes of a drop that goes with its square,
    whichever is more.
    """
    return max(band, 2.0 * flowing.band)
