"""Markers that must carry a source or a program; what could not run is said at the end.

With ALL_PROGRAMS set, as `.ci/run` sets it, a missing program is an error.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Generator

import pytest
from hypothesis import settings

LEAST_SOURCE = 8
"""Characters of the shortest source that says anything."""

# The same examples on every run where a failure must mean a change; new ones at every run elsewhere.
settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI") or os.environ.get("ALL_PROGRAMS"):
    settings.load_profile("repeatable")


@pytest.hookimpl(wrapper=True)
def pytest_pycollect_makeitem(collector: pytest.Collector) -> Generator[None, object, object]:
    """Fail collection where a published check has no source, or a program is missing and none may be."""
    made = yield
    for item in made if isinstance(made, list) else [made]:
        if isinstance(item, pytest.Item):
            problem = _find_problem(item)
            if problem:
                raise collector.CollectError(f"{item.nodeid} {problem}")
    return made


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Set aside what needs a missing program."""
    for item in items:
        missing = _missing_programs(item)
        if missing:
            item.add_marker(pytest.mark.skip(reason=f"not run: needs {', '.join(missing)}"))


def _find_problem(item: pytest.Item) -> str:
    for mark in item.iter_markers("published"):
        source = mark.kwargs.get("source", mark.args[0] if mark.args else "")
        if not (isinstance(source, str) and len(source.strip()) >= LEAST_SOURCE):
            return "needs @pytest.mark.published(source='author, table')"
    missing = _missing_programs(item)
    if missing and os.environ.get("ALL_PROGRAMS"):
        return f"needs {', '.join(missing)}, and no test may be left out"
    return ""


def _missing_programs(item: pytest.Item) -> list[str]:
    programs = [program for mark in item.iter_markers("needs") for program in mark.args]
    return [program for program in programs if shutil.which(program) is None]
