"""The ends of a channel as arrays, so that thousands of candidates cost no Python loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layouts.routing.instance import CHANNEL, Terminal


class EndTable:
    """The terminals of one end of a net whose channel is of `channel_class`."""

    def __init__(self, terminals: tuple[Terminal, ...], channel_class: int = CHANNEL) -> None:
        self.terminals = terminals
        self.channel_class = channel_class
        self.cell = np.array([t.cell for t in terminals], np.int64)
        self.node = np.array([t.node for t in terminals], np.int64)
        self.port_class = np.array([t.port_class for t in terminals], np.int64)
        self.cost = np.array([t.cost for t in terminals])
        self.owner = np.array([n for n, t in enumerate(terminals) for _ in t.leaves], np.int64)
        leaves = np.array([leave for t in terminals for leave in t.leaves], np.int64)
        cells = self.cell[self.owner] if len(terminals) else leaves
        self.leaving = cells * 4 + leaves
        self.arriving = cells * 4 + (leaves + 2) % 4
        self.tails = [(n, np.array(t.tail, np.int64)) for n, t in enumerate(terminals) if t.tail]
        self.bores = [(n, np.array(t.bore, np.int64)) for n, t in enumerate(terminals) if t.bore]

    def usable(self, blocked: np.ndarray, busy: np.ndarray | None) -> np.ndarray:
        """Return which terminals may end a channel, (n,) bool."""
        out = ~blocked[self.channel_class, self.cell]
        out &= (self.port_class == CHANNEL) | ~blocked[self.port_class, self.node]
        for n, cells in self.bores:
            if out[n] and blocked[self.port_class[n], cells].any():
                out[n] = False
        if busy is not None:
            for n, cells in self.tails:
                if out[n] and busy[cells].any():
                    out[n] = False
        return out

    def prices(self, cell_price: np.ndarray, end_price: np.ndarray | None) -> np.ndarray:
        """Return what it costs to end at each terminal, (n,) float."""
        out = self.cost.copy()
        for n, cells in self.tails:
            out[n] += cell_price[cells].sum()
        if end_price is not None:
            here = np.where(self.port_class == CHANNEL, 0.0, end_price[self.port_class, self.node])
            for n, cells in self.bores:
                here[n] = max(here[n], end_price[self.port_class[n], cells].max())
            out += here
        return out


@dataclass(frozen=True, slots=True)
class Starts:
    """The terminals of several ends in one row, as far as a search needs them."""

    terminals: tuple[Terminal, ...]
    cell: np.ndarray
    owner: np.ndarray
    leaving: np.ndarray
