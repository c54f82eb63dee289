"""How long each stage of a run took, for whoever waits."""

from __future__ import annotations

import time
from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called after each stage with its name and the seconds it took."""


class StageClock:
    """Tells how long each stage took.

    Parameters
    ----------
    progress : callable or None
        Is told; nobody where there is none.
    """

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress
        self._last = time.perf_counter()

    def start(self) -> None:
        """Leave out what was told by another clock."""
        self._last = time.perf_counter()

    def tell(self, stage: str) -> None:
        """Tell of a stage that has ended: it began where the one before it did."""
        now = time.perf_counter()
        if self._progress is not None:
            self._progress(stage, now - self._last)
        self._last = now
