"""What works at what, told as stages begin, and where a job may be left."""

from __future__ import annotations

import time
from itertools import accumulate

from exports.page.working.job import Look, Say

NOTE_EVERY_S = 0.1
"""What the router is at is told no oftener, [s]: ten times a second is as quick as words are seen to change; chosen, no
source."""

PLAN_STAGES = {
    "route": ("routing the channels", 0.62),
    "flow": ("sizing the flow", 0.01),
    "posts": ("posts in the tank", 0.01),
    "service": ("ports for bleeding and draining", 0.04),
    "advise": ("advice", 0.01),
    "seal": ("cords and screws", 0.09),
    "making": ("set-ups", 0.04),
    "fill": ("filling", 0.08),
    "rules": ("rules", 0.1),
}
"""The plan's stages in their order: words, and the share of the time that each takes of the main example."""

SOLID_STAGES = {
    "load kernel": ("loading the solid's kernel", 0.04),
    "build": ("building the solid", 0.14),
    "mesh": ("meshing the solid", 0.08),
    "walls": ("measuring walls", 0.07),
    "volumes": ("comparing volumes", 0.11),
    "fill": ("filling, in all tilts", 0.24),
    "cover": ("how the covers bow", 0.25),
    "poses": ("poses for printing", 0.04),
    "print meshes": ("meshes of the parts", 0.03),
}

WRITE_STAGES = {"write": ("writing drawings, sheets and solids", 1.0)}

PLAN_END, SOLID_END = 0.12, 0.65
"""Shares of making's time at which the plan is there, and the solid's checks.

Measured on the main example and two smaller ones: 0.07 to 0.33 and 0.48 to 0.78, low where all is loaded and high on
a busy machine; these are about those of the first time. Only the bar's way hangs on them.
"""

Stages = dict[str, tuple[str, float]]


class StageTeller:
    """Tells of each stage as the one before it has ended.

    Parameters
    ----------
    of : {"plan", "solid", "make"}
    stages : dict of str to (str, float)
        In their order: words and share of the time.
    say, look : callable
        The job's.
    span : (float, float)
        Shares of all the work at which they begin and end.
    """

    def __init__(
        self, of: str, stages: Stages, say: Say, look: Look, span: tuple[float, float] = (0.0, 1.0)
    ) -> None:
        self._of, self._stages, self._say, self._look = of, stages, say, look
        self._names = list(stages)
        shares = list(accumulate((share for _, share in stages.values()), initial=0.0))
        first, last = span
        self._before = {
            name: first + (last - first) * share / shares[-1]
            for name, share in zip(self._names, shares, strict=False)
        }
        self._start = time.perf_counter()
        self._noted = 0.0
        self._at = self._names[0]

    def begin(self, stage: str) -> None:
        """Tell that a stage begins; raises `Outdated` where the job is no longer wanted."""
        self._look()
        self._at = stage
        self._tell(self._stages[stage][0])

    def end(self, stage: str, seconds: float) -> None:
        """Tell of the stage that comes after one that has ended: a pipeline's `progress`."""
        after = self._names.index(stage) + 1 if stage in self._stages else 0
        # What was loaded or built beforehand is told once more, too late.
        if self._names.index(self._at) < after < len(self._names):
            self.begin(self._names[after])
        else:
            self._look()

    def note(self, what: str) -> None:
        """Tell what the router is at."""
        self._look()
        now = time.perf_counter()
        if now - self._noted >= NOTE_EVERY_S:
            self._noted = now
            self._tell(f"{self._stages[self._at][0]}: {what}")

    def _tell(self, words: str) -> None:
        self._say(
            "progress",
            {
                "of": self._of,
                "stage": words,
                "seconds": round(time.perf_counter() - self._start, 3),
                "share": round(self._before[self._at], 3),
            },
        )
