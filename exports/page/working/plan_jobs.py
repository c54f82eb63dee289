"""What the planner does: drafts, places, and the quick plan of a settled text; each from the layout before."""

from __future__ import annotations

import importlib
import pickle
import time
from typing import TYPE_CHECKING, Any

from exports.page.working.job import Job, Look, Say, Work
from exports.page.working.laid import pickle_laid
from geom.errors import PanelFileError, RillplateError

if TYPE_CHECKING:
    from layouts.replan.quick_plan import QuickPlan
    from layouts.route import LaidOut


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
        self._warm = False

    def work(self, job: Job, say: Say, look: Look) -> None:
        if job.base is not None:
            self._base = pickle.loads(job.base)
        if job.kind == "draft":
            self._draft(job, say)
        elif job.kind == "places":
            self._find_places(job, say)
        else:
            self._settle(job, say)

    def _plan(self, text: str) -> QuickPlan:
        from layouts.file.read import parse_panel
        from layouts.replan.quick_plan import quick_plan

        quick = quick_plan(parse_panel(text.encode("utf-8"), self._path), self._base)
        self._last = (text, quick.laid)
        return quick

    def _draft(self, job: Job, say: Say) -> None:
        start = time.perf_counter()
        answer, problem = self._answer(job.text)
        say("draft", {"ms": _ms(start), "answer": answer, "problem": problem})

    def _settle(self, job: Job, say: Say) -> None:
        start = time.perf_counter()
        answer, problem = self._answer(job.text)
        if answer is None:
            say("problem", problem)
            return
        assert self._last is not None
        say("laid", pickle_laid(self._last[1]))
        say("plan", {"ms": _ms(start), **answer})
        if not self._warm:
            from layouts.replan.warm_up import warm_up

            self._warm = True
            warm_up()

    def _answer(self, text: str) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
        """Return the plan of a text, or why there is none."""
        from exports.page.documents.plan_told import quick_told
        from exports.page.documents.problem_documents import problem_document

        try:
            return quick_told(self._plan(text)), None
        except RillplateError as error:
            return None, problem_document(error, self._path)

    def _find_places(self, job: Job, say: Say) -> None:
        from exports.wording.places import round_place
        from layouts.file.read import parse_panel
        from layouts.replan.allowed_places import find_allowed

        try:
            panel = parse_panel(job.text.encode("utf-8"), self._path)
            laid = self._lay_out(job.text)
            if laid is None:
                say("refused", "there is no plan yet in which it could be moved; wait until there is one")
                return
            found = find_allowed(panel, laid, job.thing)
        except PanelFileError:
            say("refused", "the file cannot be used as it is; correct it first")
            return
        except RillplateError as error:
            say("refused", str(error))
            return
        nodes = [round_place(node) for node in found.nodes]
        say("places", {"pitch": panel.pitch, "nodes": nodes, "why": found.why})

    def _lay_out(self, text: str) -> LaidOut | None:
        """Return the layout of a text; that of drafts where it has none of its own."""
        if self._last is not None and self._last[0] == text:
            return self._last[1]
        try:
            return self._plan(text).laid
        except PanelFileError:
            raise
        except RillplateError:
            return self._base


def _ms(start: float) -> float:
    return round(1000 * (time.perf_counter() - start), 1)
