"""The builder's work in this process: how it looks for plans, and what it tells where there is none."""

from __future__ import annotations

import pickle
from typing import Any

import pytest
from sample_failure import sample_failure
from typed_messages import find_misfits

from exports.page.working.build_jobs import open_builder
from exports.page.working.job import Job, Search
from geom.errors import GeometryError, LayoutError
from layouts.failure import Remedy
from layouts.file.read import read_panel
from layouts.laid_out import LaidOut
from layouts.panels.catalogue import demo_path
from layouts.route import lay_out
from layouts.routing.effort import QUICK

DEMO = "laser-driver"
TEXT = demo_path(DEMO).read_text(encoding="utf-8")
CUT_OFF = TEXT.replace('at = ["60 mm", "35 mm"]', 'at = ["5 mm", "5 mm"]')


def ask(job: Job) -> dict[str, Any]:
    """Return what a new builder says to a job, of each kind the last."""
    said: dict[str, Any] = {}
    open_builder("panel.toml")(job, said.__setitem__, lambda: None)
    return said


def test_plans_and_checks_are_looked_for_as_the_job_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Any):
    import exports.check_solids
    import exports.pipeline

    plan, asked = exports.pipeline.plan_laid, []

    def look(panel: Any, progress: Any, seed: int, effort: Any, note: Any) -> Any:
        asked.append(("plan", seed, effort.name))
        return plan(panel, progress, seed, effort, note)

    def check(plan: Any, progress: Any, seed: int, effort: Any, built: Any) -> None:
        asked.append(("check", seed, effort.name))
        raise GeometryError("seen enough")

    monkeypatch.setattr(exports.pipeline, "plan_laid", look)
    monkeypatch.setattr(exports.check_solids, "build_meshes", lambda plan, progress: object())
    monkeypatch.setattr(exports.check_solids, "check_solids", check)
    said = ask(Job(1, "make", TEXT, folder=str(tmp_path), search=Search("quick", 3)))
    assert asked == [("plan", 3, "quick"), ("check", 3, "quick")]
    assert said["made"]["withheld"] == "seen enough"


def lay_demo() -> LaidOut:
    return lay_out(read_panel(demo_path(DEMO)), 0, QUICK)


def test_without_a_layout_things_stand_where_they_last_stood():
    laid = lay_demo()
    said = ask(Job(1, "whole", CUT_OFF, base_version=1, base=pickle.dumps(laid), search=Search("quick", 0)))
    problem = said["problem"]
    assert find_misfits(problem, "ProblemDoc") == []
    shown, stood = problem["plan"], laid.routed
    assert shown["channels"] == []
    assert (shown["pump"]["inlet"], shown["tank"]["box"]) == (
        list(stood.pump.inlet),
        list(stood.tank.box or ()),
    )
    places = {port["name"]: port["at"] for port in shown["ports"]}
    assert places == {
        port.name: [5.0, 5.0] if port.name == "diode block inlet" else list(port.at[:2])
        for port in stood.ports
    }


@pytest.mark.parametrize(("effort", "longer"), [("quick", "normal"), ("normal", "thorough")])
def test_where_the_search_ended_for_its_limits_a_longer_one_is_named(
    monkeypatch: pytest.MonkeyPatch, effort: str, longer: str
):
    def fail(panel: Any, progress: Any, seed: int, effort: Any, note: Any) -> None:
        raise LayoutError(sample_failure(remedies=(Remedy(f"a longer search: --effort {longer}", False),)))

    monkeypatch.setattr("exports.pipeline.plan_laid", fail)
    (remedy,) = ask(Job(1, "whole", TEXT, search=Search(effort, 0)))["problem"]["remedies"]
    assert remedy["text"] == f"a longer search: rillplate page FILE --effort {longer} (may help)"


def test_a_file_that_cannot_be_used_has_no_plan_at_all():
    problem = ask(Job(1, "whole", "[panel]\n"))["problem"]
    assert (problem["kind"], problem["plan"]) == ("file", None)
