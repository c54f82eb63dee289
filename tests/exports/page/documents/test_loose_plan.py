"""A panel without a layout as the page is told of it: what stands where, nothing of routes, and a longer search."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sample_demos import plan_demo
from sample_failure import sample_failure
from typed_messages import find_misfits

from exports.page.documents.longer_search import tell_longer_search
from exports.page.documents.loose_plan import loose_document
from exports.page.documents.plan_told import UNPROVEN, quick_told, whole_told
from exports.page.documents.problem_documents import problem_document
from exports.page.documents.stopped_documents import stopped_document
from exports.page.serving.tells import tell_draft_refused
from exports.page.working.job import Job
from exports.page.working.plan_jobs import open_planner
from geom.errors import GeometryError, LayoutError, PanelFileError
from layouts.failure import Remedy
from layouts.file.edit import edit_text
from layouts.file.gestures import gesture_changes
from layouts.file.read import parse_panel, read_panel
from layouts.panels.catalogue import demo_names, demo_path
from layouts.plan import PlacedPort, PlacedPump, PlacedTank
from layouts.replan.loose_places import lay_loosely
from layouts.replan.quick_plan import quick_plan
from layouts.routing.effort import NORMAL, QUICK, THOROUGH

SMALL = "laser-driver"
INLET = "port:diode block inlet"


def text_of(name: str) -> str:
    return demo_path(name).read_text(encoding="utf-8")


def corner_text(name: str) -> str:
    """Return a demo's text with a part's inlet moved into a corner, where no channel reaches it."""
    panel = read_panel(demo_path(name))
    move = {"move": f"port:{panel.parts[0].inlet.name}", "to": [5.0, 5.0]}
    return edit_text(text_of(name), gesture_changes(panel, None, move))


def walled_text(name: str) -> str:
    """Return a demo's text with a wall between tank and pump."""
    panel = read_panel(demo_path(name))
    y = round(panel.height / 2)
    wall = f'box = ["0 mm", "{y - 3} mm", "{panel.width} mm", "{y + 3} mm"]'
    return f'{text_of(name)}\n[[keep_clear]]\nname = "wall"\n{wall}\n'


class Planner:
    """The planner's work, in this process."""

    def __init__(self) -> None:
        self._work = open_planner("panel.toml")
        self._serial = 0

    def ask(self, kind: Any, text: str, thing: str = "") -> dict[str, Any]:
        """Return what it says to a job."""
        self._serial += 1
        said: dict[str, Any] = {}
        self._work(Job(self._serial, kind, text, thing), said.__setitem__, lambda: None)
        return said


@pytest.mark.parametrize("name", demo_names())
@pytest.mark.parametrize("fail", [corner_text, walled_text])
def test_what_fails_is_told_with_all_that_stands_in_it(name: str, fail: Any):
    text = fail(name)
    panel = parse_panel(text.encode(), "panel.toml")
    for before in (None, quick_plan(read_panel(demo_path(name)), None).laid):
        shown = loose_document(panel, lay_loosely(panel, before).routed)
        assert find_misfits(shown, "PlanDoc") == []
        assert json.loads(json.dumps(shown, allow_nan=False)) == shown
        assert shown["channels"] == []
        assert {port["name"] for port in shown["ports"]} == {port.name for port in panel.ports}
        assert len(shown["clears"]) == len(panel.keep_clear)


@pytest.mark.parametrize("name", demo_names())
def test_its_things_are_told_in_the_words_of_a_plan(name: str):
    panel = read_panel(demo_path(name))
    quick = quick_plan(panel, None)
    whole, loose = quick_told(quick)["plan"], loose_document(panel, lay_loosely(panel, quick.laid).routed)
    assert {key: loose[key] for key in ("ports", "pump", "tank", "clears")} == {
        key: whole[key] for key in ("ports", "pump", "tank", "clears")
    }


def test_a_problem_of_a_layout_has_it_and_one_of_a_file_has_none():
    failure = sample_failure()
    plan = loose_document(failure.panel, lay_loosely(failure.panel, None).routed)
    for error in (LayoutError(failure), LayoutError("no way"), GeometryError("no solid")):
        assert problem_document(error, "p.toml", plan)["plan"] == plan
    assert problem_document(PanelFileError("p.toml: no end"), "p.toml", plan)["plan"] is None
    assert stopped_document("it died")["plan"] is None
    assert tell_draft_refused(1, 2.0, "no")["problem"]["plan"] is None


def test_the_values_that_stand_in_are_those_of_a_layout():
    routed = lay_loosely(read_panel(demo_path(SMALL)), None).routed
    assert {type(one) for one in routed.ports} == {PlacedPort}
    assert (type(routed.tank), type(routed.pump)) == (PlacedTank, PlacedPump)


def test_the_planner_tells_where_a_thing_may_stand_without_any_layout():
    planner = Planner()
    text = corner_text(SMALL)
    said = planner.ask("quick", text)
    assert set(said) == {"problem"}
    assert find_misfits(said["problem"], "ProblemDoc") == []
    stands = {port["id"]: port["at"] for port in said["problem"]["plan"]["ports"]}
    assert stands[INLET] == [5.0, 5.0]
    assert [60.0, 35.0] in planner.ask("places", text, INLET)["places"]["nodes"]
    drafted = planner.ask("draft", text_of(SMALL))["draft"]
    assert drafted["problem"] is None
    assert drafted["answer"]["plan"]["channels"]
    # Drafts change nothing of where the file's things stand.
    again = planner.ask("quick", text)["problem"]
    assert {port["id"]: port["at"] for port in again["plan"]["ports"]} == stands


def test_a_draft_that_fails_is_told_without_a_search_from_the_beginning(monkeypatch: pytest.MonkeyPatch):
    planner = Planner()

    def search(*given: Any) -> None:
        raise AssertionError("searched from the beginning")

    monkeypatch.setattr("layouts.replan.quick_plan.lay_out", search)
    drafted = planner.ask("draft", corner_text(SMALL))["draft"]
    assert drafted["problem"]["kind"] == "layout"
    assert drafted["problem"]["plan"]["channels"] == []


KEPT = """
[[keep_route]]
channel = "pump - diode block"
back = [[["5 mm", "5 mm"], ["5 mm", "60 mm"]]]
"""


def test_where_it_cannot_be_told_why_is_one_plain_sentence():
    planner = Planner()
    said = planner.ask("places", text_of(SMALL) + KEPT, "port:radiator inlet")
    why = "no layout: a route that the file keeps cannot stand (proven)"
    assert said["refused"] == f"where it may stand is not known: {why}"


@pytest.mark.parametrize(
    ("status", "effort", "told"),
    [
        ("optimal (proven)", NORMAL, ""),
        ("within 3 % (proven)", NORMAL, "--effort thorough searches longer"),
        ("found (no bound)", QUICK, "--effort normal searches longer"),
        ("found (no bound)", THOROUGH, ""),
    ],
)
def test_a_longer_search_is_told_where_it_may_help(status: str, effort: Any, told: str):
    assert tell_longer_search(status, effort) == told


def test_the_proof_of_a_whole_plan_tells_of_a_longer_search():
    plan = plan_demo("workshop-render")
    longer = "--effort thorough searches longer"
    assert whole_told(plan, None, (), NORMAL)["proof"] == f"{plan.routed.status}; {longer}"
    assert whole_told(plan, None, (), THOROUGH)["proof"] == plan.routed.status
    assert quick_told(quick_plan(read_panel(demo_path(SMALL)), None))["proof"] == UNPROVEN


def test_the_longer_search_of_a_problem_names_the_page_and_only_where_none_follows():
    longer = Remedy("a longer search: --effort thorough", False)
    error = LayoutError(sample_failure(remedies=(Remedy("use a finer pitch", False), longer)))
    assert [one["text"] for one in problem_document(error, "p.toml", None, is_last=True)["remedies"]] == [
        "use a finer pitch (may help)",
        "a longer search: rillplate page FILE --effort thorough (may help)",
    ]
    assert [one["text"] for one in problem_document(error, "p.toml")["remedies"]] == [
        "use a finer pitch (may help)"
    ]
