"""Which terminals a net may choose, and what of an instance lies in its first layer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.instance import Instance, Terminal
from layouts.routing.one_channel.ends import EndTable


def usable_ends(instance: Instance, search: Negotiation) -> tuple[tuple[np.ndarray, ...], ...]:
    """Return for each net and end which terminals it may choose, (terminals,) bool each."""
    return tuple(
        tuple(
            EndTable(end, net.channel_class).usable(search.fixed[n], search.near_others[n])
            for end in net.ends
        )
        for n, net in enumerate(instance.nets)
    )


def first_layer(instance: Instance) -> Instance:
    """Return an instance of the first layer alone, with what of its bores lies there."""
    size = instance.columns * instance.rows

    def cut(terminal: Terminal) -> Terminal:
        return replace(terminal, bore=tuple(c for c in terminal.bore if c < size))

    nets = tuple(replace(net, ends=tuple(tuple(map(cut, end)) for end in net.ends)) for net in instance.nets)
    return replace(instance, layers=1, nets=nets, blocked=instance.blocked[:, :size], labels=None)


def in_first_layer(
    instance: Instance, usable: tuple[tuple[np.ndarray, ...], ...]
) -> tuple[tuple[np.ndarray, ...], ...]:
    """Return the usable terminals that lie in the first layer with all that belongs to them."""
    size = instance.columns * instance.rows
    return tuple(
        tuple(
            may & np.array([max(t.cell, t.node, *t.tail) < size for t in end], dtype=bool)
            for may, end in zip(both, net.ends, strict=True)
        )
        for both, net in zip(usable, instance.nets, strict=True)
    )
