"""Compiling with numba, so that a process that finds the compiled code in the cache starts fast."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba import njit
from numba.core.runtime import rtsys


def compile_cached(function: Callable[..., Any]) -> Any:
    """Return the function compiled by numba, kept in numba's cache beside the module.

    numba loads everything that compiling may need, scipy's linear algebra among it, before it looks into its
    cache: 0.3 s of each process, of the one second that a plan may take. Machine code from the cache needs
    none of that, and compiling after a miss loads it anyway. Where numba's inside is not as expected its own
    way stays in place.

    Parameters
    ----------
    function : callable

    Returns
    -------
    numba dispatcher
    """
    try:
        dispatcher = njit(cache=True)(function)
    except RuntimeError:
        # No folder can hold a cache, as without a home where the package may not be written: compiled in each process.
        return njit(function)
    cache: Any = getattr(dispatcher, "_cache", None)
    if hasattr(cache, "_load_overload") and hasattr(cache, "_guard_against_spurious_io_errors"):

        def load_overload(signature: Any, target_context: Any) -> Any:
            rtsys.initialize(target_context)
            with cache._guard_against_spurious_io_errors():
                try:
                    return cache._load_overload(signature, target_context)
                except ImportError:
                    # Code kept by an older version that called a module which has since moved: compile anew.
                    return None
            return None

        cache.load_overload = load_overload
    return dispatcher
