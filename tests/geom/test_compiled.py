"""Compiled functions, with a cache and without."""

from __future__ import annotations

from typing import Any

from geom.compiled import compile_cached


def test_what_can_be_kept_in_no_folder_is_compiled_all_the_same():
    """A function of no file has none beside it, as one of a package that may not be written has without a home."""
    made: dict[str, Any] = {}
    exec("def add_one(x):\n    return x + 1\n", made)
    assert compile_cached(made["add_one"])(1) == 2
