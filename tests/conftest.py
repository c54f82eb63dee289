"""Markers that must carry a source or a program; what could not run is said at the end.

With ALL_PROGRAMS set, as `.ci/run` sets it, a missing program is an error.
"""

from __future__ import annotations

import os
import shutil

import pytest
from hypothesis import settings

# The same examples on every run where a failure must mean a change; new ones at every run elsewhere.
settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Fail collection where a published check has no source; set aside what needs a missing program."""
    for item in items:
        for mark in item.iter_markers("published"):
            source = mark.kwargs.get("source", mark.args[0] if mark.args else "")
            if not (isinstance(source, str) and len(source.strip()) >= 8):
                raise pytest.UsageError(f"{item.nodeid}: @pytest.mark.published needs source='author, table'")
        for mark in item.iter_markers("needs"):
            missing = [program for program in mark.args if shutil.which(program) is None]
            if missing and os.environ.get("ALL_PROGRAMS"):
                raise pytest.UsageError(
                    f"{item.nodeid} needs {', '.join(missing)}, and no test may be left out"
                )
            if missing:
                item.add_marker(pytest.mark.skip(reason=f"not run: needs {', '.join(missing)}"))
