"""A panel without a layout on the page, in a real browser: its things are drawn and can be moved."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from sample_page import place_of, press, take, thing
from scripted_server import Server, file_of, plan_of, shown, wait_for

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

PORT = "port:block inlet"
HEADLINE = "no layout was found"


def problem_of(plan: dict[str, Any] | None, **more: Any) -> dict[str, Any]:
    return {
        "kind": "layout",
        "headline": HEADLINE,
        "told": [{"line": 0, "key": "", "text": "It is cut off."}],
        "remedies": [],
        "at": [30, 40],
        "channels": [],
        "cells": [[30, 40], [35, 40]],
        "plan": plan,
    } | more


def tell_problem(revision: int, problem: dict[str, Any]) -> dict[str, Any]:
    return {"tell": "problem", "revision": revision, "problem": problem}


def unrouted(told: dict[str, Any], x: float = 40.0) -> dict[str, Any]:
    """Return a plan's things without its routes; a port stands elsewhere."""
    plan = copy.deepcopy(told["plan"]) | {"channels": [], "cords": [], "screws": [], "front_screws": []}
    port = next(port for port in plan["ports"] if port["id"] == PORT)
    port["at"] = port["foot"] = [x, port["at"][1]]
    return plan


def draft_of(told: dict[str, Any], number: int, problem: dict[str, Any] | None = None) -> dict[str, Any]:
    answer = None if problem else copy.deepcopy(told) | {"whole": False}
    return {"tell": "draft", "number": number, "ms": 1, "answer": answer, "problem": problem}


def channels(page: Page) -> Any:
    return page.locator(".plan-stage .things-of-channel .thing")


@pytest.fixture
def cold(told: dict[str, Any]) -> tuple[dict[str, Any], ...]:
    """What a page is told that is opened on a file without a layout."""
    return file_of(1), tell_problem(1, problem_of(unrouted(told)))


def await_ground(page: Page) -> None:
    wait_for(page, problem="layout")
    thing(page, PORT).wait_for(state="attached")


def test_things_are_drawn_with_the_problems_places_and_nothing_of_routes(
    address: str, told: dict[str, Any], cold: Any
):
    with shown(address, *cold) as (page, _):
        await_ground(page)
        assert place_of(page, PORT) == (40, 35)
        expect(channels(page)).to_have_count(0)
        expect(page.locator(".plan-stage .problem-spot")).to_have_count(1)
        expect(page.locator(".plan-unrouted")).to_be_visible()
        expect(page.locator(".plan-unrouted")).to_contain_text("Nothing is routed")
        expect(page.locator(".plan-told")).to_have_text(HEADLINE)
        expect(page.locator("#said")).to_contain_text("Nothing is routed")
        expect(page.locator(".plan-legend > p")).to_be_hidden()
        # Groups of findings that are not there have no headings either.
        expect(page.locator("#findings .group:visible")).to_have_count(0)


def test_one_is_dragged_to_where_there_is_a_layout(address: str, told: dict[str, Any], cold: Any):
    with shown(address, *cold) as (page, server):
        await_ground(page)
        legend, stage = page.locator(".plan-legend"), page.locator(".plan-stage")
        expect(legend.locator("> p")).to_be_hidden()
        take(page, PORT, (5, 0))
        high = [one.bounding_box()["height"] for one in (legend, stage)]
        asked = server.sent(page, "places", 1)[-1]
        places = {"pitch": 5, "nodes": [[45, 35]], "why": "full"}
        server.tell({"tell": "places", "number": asked["number"], "thing": PORT, **places})
        draft = server.sent(page, "draft", 1)[-1]
        assert draft["edits"] == [{"move": PORT, "to": [45, 35]}]
        expect(page.locator(".plan-told")).to_contain_text("may stand here")
        answer = draft_of(told, draft["number"])
        other = next(port for port in answer["answer"]["plan"]["ports"] if port["id"] != PORT)
        other["at"] = [other["at"][0] + 5, other["at"][1]]
        server.tell(answer)
        expect(channels(page)).to_have_count(len(told["plan"]["channels"]))
        # Colours have their key as soon as they are there, and nothing moves below the pointer for it.
        expect(legend.locator("> p")).to_be_visible()
        expect(legend.locator("> ul").first).to_be_visible()
        assert [one.bounding_box()["height"] for one in (legend, stage)] == high
        # Without routes no free thing had its place yet: none is told to have moved.
        expect(page.locator(".plan-stage .answered")).to_have_count(0)
        expect(page.locator(".plan-stage .channel.moved")).to_have_count(0)
        page.mouse.up()
        edit = server.last(page, "edit")
        assert (edit["edits"], edit["revision"]) == ([{"move": PORT, "to": [45, 35]}], 1)
        server.tell(
            {"tell": "done", "number": edit["number"], "revision": 2, "said": "moved"},
            file_of(2),
            plan_of(told, 2),
        )
        wait_for(page, shown="whole", problem="")
        expect(page.locator(".plan-unrouted")).to_be_hidden()
        expect(page.locator(".plan-legend > p")).to_be_visible()


def test_a_draft_without_a_layout_moves_nothing_but_what_is_in_hand(
    address: str, told: dict[str, Any], cold: Any
):
    with shown(address, *cold) as (page, server):
        await_ground(page)
        others = [one["id"] for one in told["plan"]["ports"] if one["id"] != PORT]
        before = [place_of(page, other) for other in others]
        take(page, PORT, (5, 0))
        draft = server.sent(page, "draft", 1)[-1]
        moved = unrouted(told, 45.0)
        for port in moved["ports"]:
            port["at"] = [port["at"][0] + 5, port["at"][1]]
        server.tell(draft_of(told, draft["number"], problem_of(moved)))
        expect(page.locator(".plan-told")).to_contain_text("no layout with it here")
        assert [place_of(page, other) for other in others] == before
        assert place_of(page, PORT) == (45, 35)
        page.keyboard.press("Escape")
        page.mouse.up()


def test_places_that_are_refused_are_no_warning_and_no_end_of_it(
    address: str, told: dict[str, Any], cold: Any
):
    with shown(address, *cold) as (page, server):
        await_ground(page)
        press(page, PORT, "ArrowRight")
        asked = server.sent(page, "places", 1)[-1]
        why = "where it may stand is not known: a route cannot stand"
        server.tell({"tell": "refused", "number": asked["number"], "why": why})
        draft = server.sent(page, "draft", 1)[-1]
        server.tell(draft_of(told, draft["number"]))
        assert server.last(page, "edit")["edits"] == [{"move": PORT, "to": [45, 35]}]
        # It is no warning: what is in hand goes on.
        expect(page.locator("#warned")).to_be_hidden()


def test_its_numbers_can_be_typed(address: str, told: dict[str, Any], cold: Any):
    with shown(address, *cold) as (page, server):
        await_ground(page)
        press(page, PORT, "Enter")
        field = page.locator(".thing-form").get_by_label("x", exact=True)
        expect(field).to_have_value("40")
        field.fill("50")
        field.press("Enter")
        assert server.last(page, "edit")["edits"] == [{"move": PORT, "to": [50, 35]}]


def test_what_is_free_is_pinned_where_it_is_drawn(address: str, told: dict[str, Any]):
    plan = unrouted(told)
    next(port for port in plan["ports"] if port["id"] == PORT).update(pinned=False, region=[20, 20, 60, 60])
    with shown(address, file_of(1), tell_problem(1, problem_of(plan))) as (page, server):
        await_ground(page)
        press(page, PORT, "Enter")
        # Where a thing is drawn without a layout only the page knows: it is moved there.
        page.locator(".thing-form").get_by_role("button", name="Pin it here").click()
        edit = server.last(page, "edit")
        assert edit["edits"] == [{"move": PORT, "to": [40, 35]}]
        assert "pin port" in edit["said"]


def test_of_the_same_things_the_last_routes_stay_with_them(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        server.tell(file_of(2), tell_problem(2, problem_of(unrouted(told))))
        wait_for(page, problem="layout")
        # Where the file has it now, and so in the form.
        page.locator(f'.plan-stage .thing[data-thing="{PORT}"][data-at="40 35"]').wait_for(state="attached")
        expect(channels(page)).to_have_count(len(told["plan"]["channels"]))
        expect(page.locator(".plan-unrouted")).to_be_hidden()
        expect(page.locator(".plan-told")).to_have_text(f"The plan is that of before: {HEADLINE}")
        press(page, PORT, "Enter")
        expect(page.locator(".thing-form").get_by_label("x", exact=True)).to_have_value("40")


@pytest.mark.parametrize("other", ["size", "port", "region"])
def test_of_other_things_no_routes_stay(address: str, told: dict[str, Any], other: str):
    plan = unrouted(told)
    if other == "size":
        plan["width"] += 20
    elif other == "port":
        port = next(port for port in plan["ports"] if port["id"] == PORT)
        plan["ports"].append(port | {"id": "port:new", "name": "new", "at": [70, 60]})
    else:
        plan["clears"] = [{"id": "clear:0", "name": "another", "box": [20, 20, 40, 40], "line": 3}]
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        server.tell(file_of(2), tell_problem(2, problem_of(plan)))
        expect(channels(page)).to_have_count(0)
        expect(page.locator(".plan-unrouted")).to_be_visible()


def test_errors_of_the_file_leave_what_is_drawn(address: str, told: dict[str, Any], cold: Any):
    with shown(address, *cold) as (page, server):
        await_ground(page)
        server.tell(
            file_of(2), tell_problem(2, problem_of(None, kind="file", headline="1 problem in the file"))
        )
        wait_for(page, problem="file")
        assert place_of(page, PORT) == (40, 35)
        expect(page.locator(".plan-told")).to_have_text("1 problem in the file")


def test_a_remedy_that_was_tried_and_left_leaves_no_routes(address: str, told: dict[str, Any]):
    changes = [{"path": ["part", 0, "inlet", "at"], "value": ["50 mm", "35 mm"]}]
    problem = problem_of(unrouted(told), remedies=[{"text": "move it", "changes": changes}])
    with shown(address, file_of(1), tell_problem(1, problem)) as (page, server):
        await_ground(page)
        page.locator("#findings").get_by_role("button", name="try").click()
        draft = last_draft(server, page)
        server.tell(draft_of(told, draft["number"]))
        expect(channels(page)).to_have_count(len(told["plan"]["channels"]))
        page.get_by_role("button", name="leave").click()
        expect(channels(page)).to_have_count(0)
        expect(page.locator(".plan-unrouted")).to_be_visible()


def last_draft(server: Server, page: Page) -> dict[str, Any]:
    return server.sent(page, "draft", 1)[-1]


def test_why_nothing_can_be_made_stands_beside_the_button(address: str, cold: Any):
    with shown(address, *cold) as (page, server):
        await_ground(page)
        page.get_by_role("tab", name="Make").click()
        begin = page.get_by_role("button", name="make the files")
        expect(begin).to_have_accessible_description(
            "Nothing can be made without a layout: Findings tells what is in the way."
        )
        begin.press("Enter")
        expect(page.locator("#said")).to_contain_text("Nothing can be made without a layout")
        assert server.got == []


def test_routes_of_before_stay_pale_while_something_is_tried(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        server.tell(file_of(2), tell_problem(2, problem_of(unrouted(told))))
        stage = page.locator(".plan-stage")
        expect(stage).to_have_class(re.compile("outdated"))
        press(page, PORT, "ArrowRight")
        draft = server.last(page, "draft")
        server.tell(draft_of(told, draft["number"], problem_of(None)))
        expect(page.locator(".plan-told")).to_contain_text("no layout with it here")
        expect(stage).to_have_class(re.compile("outdated"))
        page.keyboard.press("Escape")


def test_an_edit_that_cannot_be_is_told_as_that(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        press(page, PORT, "ArrowRight")
        why = "the file has errors, which must be corrected first: its line 3"
        server.tell(
            draft_of(told, server.last(page, "draft")["number"], problem_of(None, kind="edit", headline=why))
        )
        expect(page.locator(".plan-told")).to_contain_text(f"cannot be put here · {why}")
        page.keyboard.press("Escape")
