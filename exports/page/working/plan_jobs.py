"""What the planner does: drafts, places, and the quick plan of a settled text; each from the layout before."""

from __future__ import annotations

import gc
import importlib
import pickle
import time
from typing import TYPE_CHECKING, Any

from exports.page.working.job import Job, Look, Say, Work
from exports.page.working.laid import pickle_laid
from geom.errors import LayoutError, PanelFileError, RillplateError

if TYPE_CHECKING:
    from layouts.laid_out import LaidOut
    from layouts.panel import Panel


def open_planner(path: str) -> Work:
    """Return what does the planner's jobs; what only a drag needs is loaded behind the first settled text.

    Parameters
    ----------
    path : str
        Name of the panel file.
    """
    for needed in ("exports.page.documents.plan_told", "layouts.replan.quick_plan", "layouts.file.read"):
        importlib.import_module(needed)
    return _Planner(path).work


class _Planner:
    def __init__(self, path: str) -> None:
        self._path = path
        self._base: LaidOut | None = None
        self._last: tuple[str, LaidOut] | None = None
        """The last text that is a panel, with its layout, or what stands in for one where it has none."""
        self._settled: tuple[str, LaidOut] | None = None
        """The same of the last text that was settled: where something may stand is asked of that, between drafts."""
        self._said = b""
        """The last layout as it was said: as the base it brings nothing new."""
        self._warm = False

    def work(self, job: Job, say: Say, look: Look) -> None:
        if job.base is not None:
            self._base = pickle.loads(job.base)
            if job.base != self._said:
                # A whole layout of the same text may have come since, with other places.
                self._settled = self._last = None
        if job.kind == "draft":
            self._draft(job, say)
        elif job.kind == "places":
            self._find_places(job, say)
        else:
            self._settle(job, say)

    def _draft(self, job: Job, say: Say) -> None:
        start = time.perf_counter()
        answer, problem = self._answer(job.text, at_once=True)
        say("draft", {"ms": _ms(start), "answer": answer, "problem": problem})

    def _settle(self, job: Job, say: Say) -> None:
        start = time.perf_counter()
        answer, problem = self._answer(job.text, at_once=False)
        self._settled = self._last
        if answer is None:
            say("problem", problem)
        else:
            assert self._last is not None
            said = pickle_laid(self._last[1])
            self._said = said.laid
            say("laid", said)
            say("plan", {"ms": _ms(start), **answer})
        if not self._warm:
            from layouts.replan.warm_up import warm_up

            self._warm = True
            warm_up()
            # What is loaded by now stays: no collection need go through it while something is dragged.
            gc.collect()
            gc.freeze()

    def _answer(self, text: str, at_once: bool) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
        """Return the plan of a text, or why there is none.

        `at_once`: where no text had a layout yet it is not looked for from the beginning, which takes seconds, but from
        where things stand without one.
        """
        from exports.page.documents.loose_plan import loose_document
        from exports.page.documents.plan_told import quick_told
        from exports.page.documents.problem_documents import problem_document
        from layouts.file.read import parse_panel
        from layouts.replan.loose_places import lay_loosely
        from layouts.replan.quick_plan import quick_plan

        try:
            panel = parse_panel(text.encode("utf-8"), self._path)
        except RillplateError as error:
            return None, problem_document(error, self._path)
        before = self._base
        if before is None and at_once:
            before = self._stand_in(panel)
        try:
            quick = quick_plan(panel, before, rates=not at_once)
        except RillplateError as error:
            loose = lay_loosely(panel, self._base)
            self._last = (text, loose)
            return None, problem_document(error, self._path, loose_document(panel, loose.routed))
        self._last = (text, quick.laid)
        return quick_told(quick), None

    def _stand_in(self, panel: Panel) -> LaidOut:
        """Return the layout of the last draft that had one; else what stands in for one."""
        from layouts.replan.loose_places import lay_loosely

        if self._last is not None and self._last[1].routed.channels:
            return self._last[1]
        return lay_loosely(panel, None)

    def _find_places(self, job: Job, say: Say) -> None:
        from exports.wording.places import round_place
        from layouts.file.read import parse_panel
        from layouts.replan.allowed_places import find_allowed

        try:
            panel = parse_panel(job.text.encode("utf-8"), self._path)
            found = find_allowed(panel, self._lay_out(job.text), job.thing)
        except PanelFileError:
            say("refused", "the file cannot be used as it is; correct it first")
            return
        except LayoutError as error:
            why = str(error) if error.failure is None else error.failure.headline
            say("refused", f"where it may stand is not known: {why}")
            return
        except RillplateError as error:
            say("refused", str(error))
            return
        nodes = [round_place(node) for node in found.nodes]
        say("places", {"pitch": panel.pitch, "nodes": nodes, "why": found.why})

    def _lay_out(self, text: str) -> LaidOut:
        """Return the layout of a text that is a panel; what stands in for one where it has none."""
        for known in (self._settled, self._last):
            if known is not None and known[0] == text:
                return known[1]
        self._answer(text, at_once=True)
        assert self._last is not None
        return self._last[1]


def _ms(start: float) -> float:
    return round(1000 * (time.perf_counter() - start), 1)
