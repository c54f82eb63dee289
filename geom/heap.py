"""A binary heap in two arrays, for compiled searches."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def grow(entries):  # type: ignore[no-untyped-def]
    """Return the entries in an array of twice their length."""
    more = np.empty(2 * entries.size, entries.dtype)
    for n in range(entries.size):
        more[n] = entries[n]
    return more


@njit(cache=True)
def push(keys, values, size, key, value):  # type: ignore[no-untyped-def]
    """Put an entry in, least key first; return the new size. There must be room for it."""
    i = size
    while i > 0:
        p = (i - 1) >> 1
        if keys[p] <= key:
            break
        keys[i] = keys[p]
        values[i] = values[p]
        i = p
    keys[i] = key
    values[i] = value
    return size + 1


@njit(cache=True)
def pop(keys, values, size):  # type: ignore[no-untyped-def]
    """Take entry 0 out; return the new size."""
    size -= 1
    if size > 0:
        key = keys[size]
        value = values[size]
        i = 0
        while True:
            child = 2 * i + 1
            if child >= size:
                break
            if child + 1 < size and keys[child + 1] < keys[child]:
                child += 1
            if keys[child] >= key:
                break
            keys[i] = keys[child]
            values[i] = values[child]
            i = child
        keys[i] = key
        values[i] = value
    return size
