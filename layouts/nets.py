"""From the loop to the channels that must exist: which ends each one joins."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from layouts.panel import Panel, Port

FEED = "feed"
DRAIN = "drain"
TANK_OUTLET = "tank outlet"
TANK_RETURN = "tank return"
PUMP_INLET = "pump inlet"
PUMP_OUTLET = "pump outlet"


@dataclass(frozen=True, slots=True)
class ChannelEnd:
    """An end of a channel. `port` is None for the pump's bores and a pocket tank's walls."""

    name: str
    port: Port | None


@dataclass(frozen=True, slots=True)
class ChannelNeed:
    """A channel that the loop asks for. Coolant comes from the first `sources` of its ends."""

    name: str
    ends: tuple[ChannelEnd, ...]
    sources: int


def channels_needed(panel: Panel) -> tuple[ChannelNeed, ...]:
    """Return the panel's channels in flow order: the feed first, the drain last.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    tuple of ChannelNeed
        The feed (tank outlet to pump inlet), one for each step of the loop, the drain where there is one.
    """
    needs = [ChannelNeed(FEED, (ChannelEnd(TANK_OUTLET, panel.tank.outlet), ChannelEnd(PUMP_INLET, None)), 1)]
    for before, after in pairwise(panel.loop[1:]):
        sources = _ends(panel, before, leaving=True)
        sinks = _ends(panel, after, leaving=False)
        name = f"{_title(before)} - {_title(after)}"
        needs.append(ChannelNeed(name, (*sources, *sinks), len(sources)))
    if panel.drain is not None:
        needs.append(
            ChannelNeed(DRAIN, (ChannelEnd(PUMP_INLET, None), ChannelEnd(panel.drain.name, panel.drain)), 1)
        )
    return tuple(needs)


def _title(step: str | tuple[str, ...]) -> str:
    return step if isinstance(step, str) else " + ".join(step)


def _ends(panel: Panel, step: str | tuple[str, ...], leaving: bool) -> tuple[ChannelEnd, ...]:
    if step == "tank":
        return (ChannelEnd(TANK_RETURN, panel.tank.inlet),)
    if step == "pump":
        return (ChannelEnd(PUMP_OUTLET, None),)
    names = (step,) if isinstance(step, str) else step
    parts = [panel.part(name) for name in names]
    ports = [part.outlet if leaving else part.inlet for part in parts]
    return tuple(ChannelEnd(port.name, port) for port in ports)
