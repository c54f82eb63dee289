"""Tests do not wait as long for other programs as the server does."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from exports.page.serving import resting


@pytest.fixture(autouse=True, scope="module")
def rest_shortly() -> Iterator[None]:
    """Let files rest for no time, but for those that look like half of one."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(resting, "REST_S", 0.0)
        patched.setattr(resting, "DOUBT_S", 0.4)
        yield
