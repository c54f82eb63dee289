"""What the builder does: the whole plan of a text, its solid, the solid's checks, and files."""

from __future__ import annotations

import importlib
import pickle
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from exports.page.documents.stopped_documents import unmade_document
from exports.page.working.job import Job, Look, Say, Search, Work
from exports.page.working.laid import pickle_laid
from exports.page.working.stages import (
    PLAN_END,
    PLAN_STAGES,
    SOLID_END,
    SOLID_STAGES,
    WRITE_STAGES,
    StageTeller,
)
from geom.errors import LayoutError, PanelFileError, RillplateError
from geom.findings import Finding, has_fault

if TYPE_CHECKING:
    from exports.check_solids import Built, Checked
    from layouts.laid_out import LaidOut
    from layouts.plan import Plan


def open_builder(path: str) -> Work:
    """Return what does the builder's jobs; the solid's kernel is loaded once the first whole plan has been told.

    Parameters
    ----------
    path : str
        Name of the panel file.
    """
    for needed in ("exports.pipeline", "exports.page.documents.plan_told", "layouts.route"):
        importlib.import_module(needed)
    return _Builder(path).work


@dataclass(frozen=True, slots=True)
class _Kept:
    """What has been found of the last text, as far as it went."""

    text: str
    search: Search
    plan: Plan
    laid: LaidOut
    built: Built | None = None
    checked: Checked | None = None


class _Builder:
    def __init__(self, path: str) -> None:
        self._path = path
        self._kept: _Kept | None = None
        self._before: LaidOut | None = None

    def work(self, job: Job, say: Say, look: Look) -> None:
        if job.base is not None:
            self._before = pickle.loads(job.base)
        if job.kind == "make":
            self._make(job, say, look)
        else:
            self._settle(job, say, look)

    def _settle(self, job: Job, say: Say, look: Look) -> None:
        from exports.page.documents.plan_told import whole_told
        from layouts.routing.effort import EFFORTS

        start = time.perf_counter()

        def tell_plan(plan: Plan, checked: Checked | None, findings: tuple[Finding, ...]) -> None:
            ms = round(1000 * (time.perf_counter() - start), 1)
            say("plan", {"ms": ms, **whole_told(plan, checked, findings, EFFORTS[job.search.effort])})

        try:
            kept = self._plan(job, StageTeller("plan", PLAN_STAGES, say, look))
        except RillplateError as error:
            say("problem", self._tell_problem(job, error))
            return
        say("laid", pickle_laid(kept.laid))
        tell_plan(kept.plan, None, kept.plan.findings)
        stages = StageTeller("solid", SOLID_STAGES, say, look)
        try:
            self._show_solid(stages, say)
            if not has_fault(kept.plan.findings):
                self._check(stages)
                tell_plan(*self._measured())
                self._say_scene(say)
        except RillplateError as error:
            say("unbuilt", str(error))

    def _tell_problem(self, job: Job, error: RillplateError) -> dict[str, Any]:
        """Return why there is no plan of a text; of one that is a panel, with what stands where without routes."""
        from exports.page.documents.loose_plan import loose_document
        from exports.page.documents.problem_documents import problem_document
        from layouts.file.read import parse_panel
        from layouts.replan.loose_places import lay_loosely

        if isinstance(error, PanelFileError):
            return problem_document(error, self._path, None, is_last=True)
        panel = parse_panel(job.text.encode("utf-8"), self._path)
        loose = lay_loosely(panel, self._before).routed
        return problem_document(error, self._path, loose_document(panel, loose), is_last=True)

    def _make(self, job: Job, say: Say, look: Look) -> None:
        from exports.page.documents.finding_documents import findings_document
        from exports.page.documents.made_document import made_document
        from exports.pipeline import write_checked
        from exports.wording.withheld import BY_FAULT, tell_withheld

        folder = Path(job.folder)
        try:
            kept = self._plan(job, StageTeller("make", PLAN_STAGES, say, look, (0.0, PLAN_END)))
            if not has_fault(kept.plan.findings):
                kept = self._check(StageTeller("make", SOLID_STAGES, say, look, (PLAN_END, SOLID_END)))
            StageTeller("make", WRITE_STAGES, say, look, (SOLID_END, 1.0)).begin("write")
            made = write_checked(kept.plan, kept.checked, folder)
        except LayoutError as error:
            say("made", self._write_failure(error, folder))
            return
        except RillplateError as error:
            say("made", unmade_document(str(error)))
            return
        withheld = tell_withheld(BY_FAULT) if has_fault(made.findings) else ""
        of_solid = () if made.checked is None else made.checked.findings
        findings = findings_document(made.findings, made.plan.panel, made.plan.routed, of_solid)
        say("made", made_document(made.files, folder, withheld, findings))

    def _write_failure(self, error: LayoutError, folder: Path) -> dict[str, Any]:
        """Write why there is no layout, as the command does."""
        from exports.page.documents.made_document import made_document
        from exports.wording.withheld import BY_LAYOUT, tell_withheld
        from exports.written_files import write_failure

        if error.failure is None:
            return unmade_document(str(error))
        try:
            records = write_failure(error.failure, folder)
        except RillplateError as failed:
            return unmade_document(str(failed))
        return made_document(records, folder, tell_withheld(BY_LAYOUT), [])

    def _plan(self, job: Job, stages: StageTeller) -> _Kept:
        """Return the whole plan of a job's text: that of the last one where it is the same, looked for alike."""
        from exports.pipeline import plan_laid
        from layouts.file.read import parse_panel
        from layouts.routing.effort import EFFORTS

        text, search = job.text, job.search
        if self._kept is None or (self._kept.text, self._kept.search) != (text, search):
            # Solids hold memory: those of the last text go first.
            self._kept = None
            stages.begin("route")
            panel = parse_panel(text.encode("utf-8"), self._path)
            plan, laid = plan_laid(panel, stages.end, search.seed, EFFORTS[search.effort], stages.note)
            self._kept = _Kept(text, search, plan, laid)
        return self._kept

    def _build(self, stages: StageTeller) -> _Kept:
        """Return the solid of the last plan with it."""
        assert self._kept is not None
        if self._kept.built is None:
            from exports.check_solids import build_meshes

            stages.begin("load kernel")
            importlib.import_module("geom.build")
            stages.begin("build")
            self._kept = replace(self._kept, built=build_meshes(self._kept.plan, stages.end))
        return self._kept

    def _check(self, stages: StageTeller) -> _Kept:
        """Return what is measured on the solid of the last plan with it."""
        kept = self._build(stages)
        if kept.checked is None:
            from exports.check_solids import check_solids
            from layouts.routing.effort import EFFORTS

            stages.begin("walls")
            seed, effort = kept.search.seed, EFFORTS[kept.search.effort]
            kept = replace(kept, checked=check_solids(kept.plan, stages.end, seed, effort, kept.built))
            self._kept = kept
        return kept

    def _measured(self) -> tuple[Plan, Checked | None, tuple[Finding, ...]]:
        """Return the last plan with what its check has measured, and all findings."""
        from exports.pipeline import join_findings, take_measured

        assert self._kept is not None
        plan, checked = self._kept.plan, self._kept.checked
        return take_measured(plan, checked), checked, join_findings(plan, checked)

    def _show_solid(self, stages: StageTeller, say: Say) -> None:
        """Tell the scene of the solid, unless its checks are there already."""
        kept = self._build(stages)
        if kept.checked is None:
            self._say_scene(say)

    def _say_scene(self, say: Say) -> None:
        from exports.report.document import order_findings
        from exports.report.html.scene import pack_scene

        plan, checked, findings = self._measured()
        assert self._kept is not None
        shown = checked or self._kept.built
        assert shown is not None
        scene = pack_scene(plan, shown, order_findings(findings), {})
        say("solid", {"scene": scene, "checked": checked is not None})
