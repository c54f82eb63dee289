"""What the page is told of plans, findings and problems: of every demo, ready for JSON and true to the plan."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from sample_checked import unbuilt_check
from sample_demos import plan_demo
from sample_failure import sample_failure
from sample_plan import sample_plan

from exports.page.documents.finding_documents import changes_document, findings_document, name_things
from exports.page.documents.number_documents import numbers_document, quick_numbers_document
from exports.page.documents.plan_told import whole_told
from exports.page.documents.problem_documents import problem_document
from exports.page.documents.stopped_documents import failed_solid_document, stopped_document
from exports.report.document import order_findings
from geom.errors import GeometryError, LayoutError, PanelFileError
from geom.findings import Finding, KeyChange
from layouts.file.read import parse_panel
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan

FINDING_KEYS = {
    *("number", "severity", "code", "text", "remedy", "source", "accepted", "value", "limit", "where"),
    *("at", "features", "things", "changes", "of"),
}


@pytest.fixture(scope="module", params=demo_names())
def plan(request: pytest.FixtureRequest) -> Plan:
    return plan_demo(request.param)


@pytest.fixture(scope="module")
def told(plan: Plan) -> dict[str, Any]:
    return whole_told(plan, None, plan.findings)


def things_of(document: dict[str, Any]) -> list[str]:
    drawn = document["plan"]
    listed = [one["id"] for kind in ("channels", "ports", "clears") for one in drawn[kind]]
    return [*listed, drawn["tank"]["id"], drawn["pump"]["id"]]


def test_a_told_plan_is_finite_json(told: dict[str, Any]):
    assert json.loads(json.dumps(told, allow_nan=False)) == told


def test_things_have_one_id_each_and_whatever_names_one_names_one_that_is_there(told: dict[str, Any]):
    ids = things_of(told)
    assert len(ids) == len(set(ids))
    assert {port["channel"] for port in told["plan"]["ports"]} <= set(ids)
    assert {thing for finding in told["findings"] for thing in finding["things"]} <= set(ids)


def test_every_name_that_stands_for_things_stands_for_ones_that_are_there(plan: Plan, told: dict[str, Any]):
    named = name_things(plan.panel, plan.routed)
    assert {thing for things in named.values() for thing in things} <= set(things_of(told))
    for feature in plan.detail.features:
        if feature.kind in ("channel", "through hole", "port", "spot face", "tank", "pump bore", "seat"):
            assert named[feature.name], feature.name


def test_findings_stand_in_the_reports_order_with_all_that_it_says(plan: Plan, told: dict[str, Any]):
    assert [one["number"] for one in told["findings"]] == list(range(len(plan.findings)))
    for shown, finding in zip(told["findings"], order_findings(plan.findings), strict=True):
        assert set(shown) == FINDING_KEYS
        assert (shown["code"], shown["text"], shown["of"]) == (finding.code, finding.text, "plan")


def test_a_leg_is_split_where_it_passes_through_and_nowhere_else(plan: Plan, told: dict[str, Any]):
    for channel, shown in zip(plan.routed.channels, told["plan"]["channels"], strict=True):
        holes = [hole for leg in channel.legs for hole in leg.holes]
        inner = [hole for leg in channel.legs for hole in leg.holes if 0 < hole < len(leg.points) - 1]
        assert len(shown["legs"]) == len(channel.legs) + len(inner)
        assert {leg["layer"] for leg in shown["legs"]} == {run.layer for run in channel.runs}
        if holes:
            ends = {tuple(leg["points"][end]) for leg in shown["legs"] for end in (0, -1)}
            assert {tuple(at) for at in shown["holes"]} <= ends
        walked = sum(math.dist(a, b) for leg in shown["legs"] for a, b in pairwise(leg["points"]))
        whole = sum(math.dist(a, b) for leg in channel.legs for a, b in pairwise(leg.points))
        assert walked == pytest.approx(whole, abs=0.01)


def test_a_channels_figures_are_told_as_in_its_words(plan: Plan, told: dict[str, Any]):
    for channel in told["plan"]["channels"]:
        flow, velocity, drop = (channel["told"][name] for name in ("flow", "velocity", "drop"))
        if channel["flow_l_min"] > 0:
            assert f", {flow} L/min, {velocity} m/s, drop {drop} kPa" in channel["said"]
        else:
            assert (flow, velocity, drop) == ("-", "-", "-")
            assert "L/min" not in channel["said"]


def test_the_demo_in_two_faces_has_legs_that_pass_through():
    assert any(
        leg.holes for channel in plan_demo("observatory-camera").routed.channels for leg in channel.legs
    )


def test_numbers_while_dragging_are_the_first_of_the_whole_plans(plan: Plan):
    quick = quick_numbers_document(plan.panel, plan.routed, plan.flowing)
    whole = numbers_document(plan, None)
    assert whole[: len(quick)] == quick
    assert len(whole) > len(quick)
    assert [one["name"] for one in quick][:3] == ["flow", "pump's head", "loop's drop"]


def test_a_finding_of_the_solid_is_told_as_one_and_an_accepted_one_with_its_reason():
    plan = sample_plan()
    planned = Finding("port.deep", "note", "deep", "", "", accepted="it is so by intent")
    measured = Finding("wall.thin", "fault", "thin", "more", "src", 1.5, 2.0, "mm", (1.0, 2.0, 3.0))
    shown = findings_document((planned, measured), plan.panel, plan.routed, (measured,))
    assert [(one["code"], one["of"], one["accepted"]) for one in shown] == [
        ("wall.thin", "solid", ""),
        ("port.deep", "plan", "it is so by intent"),
    ]
    assert (shown[0]["value"], shown[0]["limit"], shown[0]["at"]) == ("1.5 mm", "2 mm", [1.0, 2.0, 3.0])


def test_a_checked_plan_tells_the_numbers_and_findings_of_its_solid():
    plan = sample_plan()
    found = Finding("wall.thin", "caution", "thin", "more", "src")
    checked = replace(unbuilt_check(plan), findings=(found,))
    shown = whole_told(plan, checked, (found,))
    assert "coolant in the plate" in [one["name"] for one in shown["numbers"]]
    assert [one["of"] for one in shown["findings"]] == ["solid"]


def test_changes_are_paths_and_values_or_nothing():
    assert changes_document(()) is None
    assert changes_document((KeyChange(("part", 0, "inlet", "at"), ["40 mm", "50 mm"]),)) == [
        {"path": ["part", 0, "inlet", "at"], "value": ["40 mm", "50 mm"]}
    ]


def test_problems_of_a_file_stand_at_their_lines_under_their_keys():
    with pytest.raises(PanelFileError) as caught:
        parse_panel(b'[panel]\nname = "x"\nwide = 3\n', "my: panel.toml")
    problem = problem_document(caught.value, "my: panel.toml")
    assert problem["kind"] == "file"
    assert len(problem["told"]) == len(caught.value.problems)
    (wide,) = [one for one in problem["told"] if one["key"] == "panel.wide"]
    assert wide["line"] == 3
    assert "my: panel.toml" not in "".join(one["text"] for one in problem["told"])


@pytest.mark.parametrize(
    ("told", "line", "key", "text"),
    [
        ("f.toml:7: part.1.inlet: is off", 7, "part.1.inlet", "is off"),
        ('f.toml:7: channel.own."pump - a: b": is off', 7, 'channel.own."pump - a: b"', "is off"),
        ("f.toml:4: column 2: not TOML: broken", 4, "", "column 2: not TOML: broken"),
        ("f.toml: no such file; name one", 0, "", "no such file; name one"),
        ("nothing of a file", 0, "", "nothing of a file"),
    ],
)
def test_a_problem_is_taken_apart(told: str, line: int, key: str, text: str):
    (shown,) = problem_document(PanelFileError((told,)), "f.toml")["told"]
    assert shown == {"line": line, "key": key, "text": text}


def test_a_layout_that_was_not_found_tells_why_and_what_helps():
    failure = sample_failure()
    problem = problem_document(LayoutError(failure), failure.panel.path)
    assert problem["kind"] == "layout"
    assert problem["headline"] == failure.headline
    assert len(problem["remedies"]) == len(failure.remedies)
    assert problem["told"][0]["text"] == failure.describe_reason()
    assert problem["at"] == pytest.approx(failure.at)
    json.dumps(problem, allow_nan=False)


def test_a_failure_without_a_place_has_none():
    failure = replace(sample_failure(), at=(math.nan, 0.0), cells=((math.inf, 1.0), (1.0, 2.0)))
    problem = problem_document(LayoutError(failure), failure.panel.path)
    assert (problem["at"], problem["cells"]) == (None, [[1.0, 2.0]])


def test_whatever_else_stops_a_plan_is_told_in_its_own_words():
    shown = [
        problem_document(LayoutError("the fill port misses the tank"), "f.toml"),
        problem_document(GeometryError("a solid is torn"), "f.toml"),
        stopped_document("the builder ended"),
    ]
    assert [one["told"][0]["text"] for one in shown] == [
        "the fill port misses the tank",
        "a solid is torn",
        "the builder ended",
    ]
    assert len({frozenset(one) for one in shown}) == 1


def test_a_solid_that_failed_looks_like_a_finding():
    assert set(failed_solid_document(3, "torn")) == FINDING_KEYS
