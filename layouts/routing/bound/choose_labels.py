"""The cheapest choice of one label for each net such that no two contradict each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from geom.compiled import compile_cached
from layouts.routing.bound.distances import FAR

MOST_DEEP = 600
"""Open branches held at once: each decides one pair, so there are at most two for each pair on the way down."""


@dataclass(frozen=True, slots=True)
class LabelChoice:
    """One label a net.

    Parameters
    ----------
    value : float
        No choice costs less; FAR where every choice contradicts itself.
    chosen : (nets,) int
        Number of each net's label; -1: one that is not found yet, taken at its frontier.
    """

    value: float
    chosen: np.ndarray


def choose_labels(
    words: list[np.ndarray],
    costs: list[np.ndarray],
    frontier: np.ndarray,
    pairs: np.ndarray,
    most: int,
    forced: tuple[int, int, int] | None = None,
) -> LabelChoice:
    """Return the cheapest choice of labels without contradiction.

    Parameters
    ----------
    words, costs : list of (labels,) int and float
        Each net's labels found, cheapest first.
    frontier : (nets,) float
        What any label not found yet costs at least; agrees with every other. Not less than the costs found.
    pairs : (pairs, 3) int
        (i, j, parity): bit j of i's label and bit i of j's must differ by `parity`.
    most : int
        Branches that may be opened; where more are needed the value is what is certain by then.
    forced : (int, int, int) or None
        (i, j, value): bit j of i's label must have this value.

    Returns
    -------
    LabelChoice
        Of no nets, which trees alone leave, nothing: it costs 0.
    """
    if not words:
        return LabelChoice(0.0, np.zeros(0, np.int64))
    first = np.cumsum([0, *(len(w) for w in words)]).astype(np.int64)
    chosen = np.full(len(words), -1, np.int64)
    value = _choose(
        first,
        np.concatenate(words),
        np.concatenate(costs),
        frontier,
        pairs.reshape(-1, 3),
        most,
        np.array(forced if forced is not None else (-1, 0, 0), np.int64),
        chosen,
    )
    return LabelChoice(float(value), chosen)


@njit(cache=True)
def _next(first, words, net, start, mask, want):  # type: ignore[no-untyped-def]
    """Return the first label of a net from `start` on that has the wanted bits; the count of its labels: none."""
    n = start
    count = first[net + 1] - first[net]
    while n < count and (words[first[net] + n] & mask) != want:
        n += 1
    return n


@njit(cache=True)
def _cost(first, costs, frontier, net, number):  # type: ignore[no-untyped-def]
    if number < first[net + 1] - first[net]:
        return costs[first[net] + number]
    return frontier[net]


@compile_cached
def _choose(first, words, costs, frontier, pairs, most, forced, chosen):  # type: ignore[no-untyped-def]
    nets = frontier.size
    mask = np.zeros((MOST_DEEP, nets), np.int64)
    want = np.zeros((MOST_DEEP, nets), np.int64)
    at = np.zeros((MOST_DEEP, nets), np.int64)
    bound = np.zeros(MOST_DEEP)
    deep = 1
    if forced[0] >= 0:
        i = forced[0]
        mask[0, i] = np.int64(1) << forced[1]
        want[0, i] = forced[2] << forced[1]
        at[0, i] = _next(first, words, i, 0, mask[0, i], want[0, i])
    for i in range(nets):
        bound[0] += _cost(first, costs, frontier, i, at[0, i])
    best = FAR
    opened = 0
    one = np.int64(1)
    here_mask = np.empty(nets, np.int64)
    here_want = np.empty(nets, np.int64)
    here_at = np.empty(nets, np.int64)
    rise = np.empty(2)
    while deep > 0:
        if opened >= most or deep + 2 > MOST_DEEP:
            # Not finished: what is left costs at least the cheapest of the open branches.
            for n in range(deep):
                best = min(best, bound[n])
            return best
        deep -= 1
        if bound[deep] >= best:
            continue
        opened += 1
        value = bound[deep]
        here_mask[:] = mask[deep]
        here_want[:] = want[deep]
        here_at[:] = at[deep]
        # The pair that contradicts itself and costs most to settle.
        worst = -1
        worst_low = -1.0
        worst_high = -1.0
        for p in range(pairs.shape[0]):
            i = pairs[p, 0]
            j = pairs[p, 1]
            if here_at[i] >= first[i + 1] - first[i] or here_at[j] >= first[j + 1] - first[j]:
                continue
            bit_i = (words[first[i] + here_at[i]] >> j) & 1
            bit_j = (words[first[j] + here_at[j]] >> i) & 1
            if bit_i ^ bit_j == pairs[p, 2]:
                continue
            for bit in range(2):
                n = _next(
                    first, words, i, here_at[i], here_mask[i] | one << j, here_want[i] | np.int64(bit) << j
                )
                m = _next(
                    first,
                    words,
                    j,
                    here_at[j],
                    here_mask[j] | one << i,
                    here_want[j] | np.int64(bit ^ pairs[p, 2]) << i,
                )
                rise[bit] = (
                    _cost(first, costs, frontier, i, n)
                    - _cost(first, costs, frontier, i, here_at[i])
                    + _cost(first, costs, frontier, j, m)
                    - _cost(first, costs, frontier, j, here_at[j])
                )
            low = min(rise[0], rise[1])
            high = max(rise[0], rise[1])
            if low > worst_low or (low == worst_low and high > worst_high):
                worst, worst_low, worst_high = p, low, high
        if worst < 0:
            best = value
            for i in range(nets):
                chosen[i] = here_at[i] if here_at[i] < first[i + 1] - first[i] else -1
            continue
        i = pairs[worst, 0]
        j = pairs[worst, 1]
        slot = deep
        for turn in range(2):
            # The cheaper branch is put on top, to be opened next; `deep` counts what is left to do.
            bit = turn
            mask[slot] = here_mask
            want[slot] = here_want
            at[slot] = here_at
            mask[slot, i] |= one << j
            want[slot, i] |= np.int64(bit) << j
            mask[slot, j] |= one << i
            want[slot, j] |= np.int64(bit ^ pairs[worst, 2]) << i
            at[slot, i] = _next(first, words, i, here_at[i], mask[slot, i], want[slot, i])
            at[slot, j] = _next(first, words, j, here_at[j], mask[slot, j], want[slot, j])
            bound[slot] = (
                value
                - _cost(first, costs, frontier, i, here_at[i])
                - _cost(first, costs, frontier, j, here_at[j])
                + _cost(first, costs, frontier, i, at[slot, i])
                + _cost(first, costs, frontier, j, at[slot, j])
            )
            if frontier[i] >= FAR / 2 and at[slot, i] >= first[i + 1] - first[i]:
                continue
            if frontier[j] >= FAR / 2 and at[slot, j] >= first[j + 1] - first[j]:
                continue
            if bound[slot] < best:
                slot += 1
        if slot == deep + 2 and bound[slot - 1] > bound[slot - 2]:
            for k in range(nets):
                mask[slot - 1, k], mask[slot - 2, k] = mask[slot - 2, k], mask[slot - 1, k]
                want[slot - 1, k], want[slot - 2, k] = want[slot - 2, k], want[slot - 1, k]
                at[slot - 1, k], at[slot - 2, k] = at[slot - 2, k], at[slot - 1, k]
            bound[slot - 1], bound[slot - 2] = bound[slot - 2], bound[slot - 1]
        deep = slot
    return best
