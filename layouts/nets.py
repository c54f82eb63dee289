"""From the loop to the channels that must exist: which ends each one joins."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from layouts.panel import Panel, Port, Step

Steps: TypeAlias = "str | Sequence[Steps]"
"""A step as the panel or the file has it: nested tuples or lists."""

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


def list_channel_names(order: Sequence[Steps], drained: bool) -> tuple[str, ...]:
    """Return the names of the channels that a loop asks for, the feed left out.

    Parameters
    ----------
    order : sequence of str or nested sequence
        The loop from "tank" to "tank".
    drained : bool
        Whether there is a drain.

    Returns
    -------
    tuple of str
        In flow order, the drain last.
    """
    names = tuple(_name_channel(before, after) for before, after in _list_joints(order[1:]))
    return (*names, DRAIN) if drained else names


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
    for before, after in _list_joints(chain):
        sources, sinks = _find_ends(before, leaving=True), _find_ends(after, leaving=False)
        ends = [_name_end(panel, part, leaving=True) for part in sources]
        ends += [_name_end(panel, part, leaving=False) for part in sinks]
        yield ChannelNeed(_name_channel(before, after), tuple(ends), len(sources))


def _name_channel(before: Steps, after: Steps) -> str:
    sources, sinks = _find_ends(before, leaving=True), _find_ends(after, leaving=False)
    return f"{' + '.join(sources)} - {' + '.join(sinks)}"


def _list_joints(chain: Sequence[Steps]) -> Iterator[tuple[Steps, Steps]]:
    """Yield each two steps that follow each other, those of a group's chains behind the one before it."""
    for k, after in enumerate(chain):
        if k > 0:
            yield chain[k - 1], after
        if not isinstance(after, str):
            for branch in after:
                if not isinstance(branch, str):
                    yield from _list_joints(branch)


def _find_ends(step: Steps, leaving: bool, in_series: bool = False) -> tuple[str, ...]:
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
