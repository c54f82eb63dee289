"""From the loop to the channels that must exist: which ends each one joins."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layouts.panel import Panel, Port, Step

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
        The feed (tank outlet to pump inlet), one between each two steps that follow each other in the loop or
        in a chain of a parallel group, the drain where there is one.
    """
    needs = [ChannelNeed(FEED, (ChannelEnd(TANK_OUTLET, panel.tank.outlet), ChannelEnd(PUMP_INLET, None)), 1)]
    needs += _join_chain(panel, panel.loop[1:])
    if panel.drain is not None:
        needs.append(
            ChannelNeed(DRAIN, (ChannelEnd(PUMP_INLET, None), ChannelEnd(panel.drain.name, panel.drain)), 1)
        )
    return tuple(needs)


def list_parts(step: Step) -> tuple[str, ...]:
    """Return the names in a step of the loop, in flow order.

    Parameters
    ----------
    step : str or nested tuple of str

    Returns
    -------
    tuple of str
    """
    return (step,) if isinstance(step, str) else tuple(name for inner in step for name in list_parts(inner))


def list_groups(chain: tuple[Step, ...]) -> tuple[tuple[Step, ...], ...]:
    """Return the parallel groups of a chain, an outer one before those within its branches.

    Parameters
    ----------
    chain : tuple of str or nested tuple
        The loop, or a chain of a group.

    Returns
    -------
    tuple of tuple
        Branches of each group; a branch is a part, or a chain.
    """
    found: list[tuple[Step, ...]] = []
    for group in chain:
        if isinstance(group, tuple):
            found.append(group)
            for branch in group:
                if isinstance(branch, tuple):
                    found += list_groups(branch)
    return tuple(found)


def _join_chain(panel: Panel, chain: tuple[Step, ...]) -> Iterator[ChannelNeed]:
    for k, after in enumerate(chain):
        if k > 0:
            before = chain[k - 1]
            sources, sinks = _find_ends(before, leaving=True), _find_ends(after, leaving=False)
            name = f"{' + '.join(sources)} - {' + '.join(sinks)}"
            ends = [_name_end(panel, part, leaving=True) for part in sources]
            ends += [_name_end(panel, part, leaving=False) for part in sinks]
            yield ChannelNeed(name, tuple(ends), len(sources))
        if isinstance(after, tuple):
            for branch in after:
                if isinstance(branch, tuple):
                    yield from _join_chain(panel, branch)


def _find_ends(step: Step, leaving: bool, in_series: bool = False) -> tuple[str, ...]:
    """Return the parts that a step begins with, or where it is left, ends with."""
    if isinstance(step, str):
        return (step,)
    if in_series:
        return _find_ends(step[-1 if leaving else 0], leaving)
    return tuple(name for branch in step for name in _find_ends(branch, leaving, in_series=True))


def _name_end(panel: Panel, name: str, leaving: bool) -> ChannelEnd:
    if name == "tank":
        return ChannelEnd(TANK_RETURN, panel.tank.inlet)
    if name == "pump":
        return ChannelEnd(PUMP_OUTLET, None)
    port = panel.part(name).outlet if leaving else panel.part(name).inlet
    return ChannelEnd(port.name, port)
