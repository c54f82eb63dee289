"""What the planner answers, in this process."""

from __future__ import annotations

import pickle
from typing import Any

import pytest

from exports.page.working.job import Job
from exports.page.working.plan_jobs import open_planner
from exports.wording.places import round_place
from geom.errors import LayoutError
from layouts.file.read import parse_panel
from layouts.laid_out import LaidOut
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path
from layouts.replan import quick_plan, warm_up
from layouts.replan.allowed_places import find_allowed
from tests.layouts.replan.sample_edits import lay_demo

DEMO = "laser-driver"
THING = "port:diode block outlet"


def test_places_are_those_of_the_layout_that_came_since(monkeypatch: pytest.MonkeyPatch):
    text = demo_path(DEMO).read_text(encoding="utf-8")
    _, laid = lay_demo(DEMO)
    told: dict[str, Any] = {}

    def find_nothing(panel: Panel, before: LaidOut | None, rates: bool = True) -> object:
        raise LayoutError("no quick one")

    work = open_planner("panel.toml")
    monkeypatch.setattr(warm_up, "warm_up", lambda: None)
    with monkeypatch.context() as patched:
        patched.setattr(quick_plan, "quick_plan", find_nothing)
        work(Job(1, "quick", text), told.__setitem__, lambda: None)
    assert set(told) == {"problem"}
    work(
        Job(2, "places", text, THING, base_version=1, base=pickle.dumps(laid)), told.__setitem__, lambda: None
    )
    wanted = find_allowed(parse_panel(text.encode("utf-8"), "panel.toml"), laid, THING).nodes
    assert told["places"]["nodes"] == [round_place(node) for node in wanted]
