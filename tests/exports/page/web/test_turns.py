"""Of what an edit is meant: of the plan that is drawn, after all that this page has asked for before."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from scripted_server import Server, file_of, plan_of, shown, wait_for

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

CHANGES = [{"path": ["part", 0, "heat"], "value": "9 W"}]
NO_LAYOUT = {
    "kind": "layout",
    "headline": "no layout was found",
    "told": [],
    "remedies": [],
    "at": None,
    "channels": [],
    "cells": [],
    "plan": None,
}


@pytest.fixture(scope="module")
def regions(told: dict[str, Any]) -> dict[str, Any]:
    """A plan with three keep-clear regions, and a remedy that means the first part."""
    told = copy.deepcopy(told)
    told["plan"]["clears"] = [
        {"id": f"clear:{k}", "name": name, "box": [5 + 15 * k, 90, 12 + 15 * k, 97], "line": 5}
        for k, name in enumerate("ABC")
    ]
    for finding in told["findings"]:
        if finding["changes"]:
            finding["changes"] = CHANGES
    return told


def remove(page: Page, number: int) -> None:
    page.locator(f'.plan-stage .thing[data-thing="clear:{number}"]').focus()
    page.keyboard.press("Delete")


def done(number: int, revision: int) -> dict[str, Any]:
    return {"tell": "done", "number": number, "revision": revision, "said": "done"}


def asked(server: Server, page: Page, count: int) -> list[dict[str, Any]]:
    """Return what was asked for that changes the file."""
    for _ in range(1000):
        found = [wish for wish in server.got if wish["do"] in ("edit", "undo")]
        if len(found) >= count:
            return found
        page.wait_for_timeout(20)
    raise AssertionError(server.got)


def test_a_region_is_that_of_the_plan_that_is_drawn(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        remove(page, 0)
        remove(page, 1)
        (first,) = asked(server, page, 1)
        server.tell(file_of(2), done(first["number"], 2))
        second = asked(server, page, 2)[-1]
        # In revision 2 that number is another region's.
        assert (second["revision"], second["edits"]) == (1, [{"remove": "clear:1"}])


def test_what_does_not_number_anew_is_followed(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        for _ in range(2):
            page.locator('.plan-stage .thing[data-thing="clear:0"]').focus()
            page.keyboard.press("Enter")
            field = page.locator(".thing-form").get_by_label("x", exact=True)
            field.fill("20")
            field.press("Enter")
        (first,) = asked(server, page, 1)
        server.tell(file_of(2), done(first["number"], 2))
        # Its own change before is no change by another.
        assert asked(server, page, 2)[-1]["revision"] == 2


def test_a_route_is_kept_as_it_is_drawn(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        remove(page, 0)
        (first,) = asked(server, page, 1)
        server.tell(file_of(2), done(first["number"], 2))
        wait_for(page, revision="2")
        channel = next(one["id"] for one in regions["plan"]["channels"] if one["id"] != "channel:feed")
        page.locator(f'.plan-stage .thing[data-thing="{channel}"]').focus()
        page.keyboard.press("Enter")
        page.get_by_role("button", name="Keep this route").click()
        # Of revision 2 no layout is known yet.
        edit = asked(server, page, 2)[-1]
        assert (edit["revision"], edit["edits"]) == (1, [{"keep": channel}])


def test_a_change_outside_leaves_an_edit_that_of_the_plan_that_is_drawn(
    address: str, regions: dict[str, Any]
):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        server.tell(file_of(2, by="editor"))
        wait_for(page, revision="2")
        remove(page, 0)
        assert server.last(page, "edit")["revision"] == 1


@pytest.mark.parametrize("how", ["do it", "try"])
def test_a_remedy_is_that_of_the_plan_that_it_was_offered_with(
    address: str, regions: dict[str, Any], how: str
):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        server.tell(file_of(2, by="editor"), {"tell": "problem", "revision": 2, "problem": NO_LAYOUT})
        wait_for(page, problem="layout")
        page.get_by_role("button", name=how).first.click()
        wish = server.last(page, "edit" if how == "do it" else "draft")
        assert (wish["revision"], wish["edits"]) == (1, [{"changes": CHANGES}])
        if how == "try":
            quick = regions | {"findings": [], "whole": False}
            server.tell(
                {"tell": "draft", "number": wish["number"], "ms": 1, "answer": quick, "problem": None}
            )
            page.get_by_role("group", name="What is tried").get_by_role("button", name="keep").click()
            assert server.last(page, "edit")["revision"] == 1


def test_undo_waits_its_turn(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1, undo="move x"), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        remove(page, 0)
        remove(page, 1)
        page.keyboard.press("Control+z")
        expect(page.locator(".plan-stage")).to_be_visible()
        for count, revision in ((1, 2), (2, 3)):
            number = asked(server, page, count)[-1]["number"]
            server.tell(file_of(revision, undo=f"step {count}"), done(number, revision))
        wishes = asked(server, page, 3)
        assert [wish["do"] for wish in wishes] == ["edit", "edit", "undo"]
        assert wishes[-1]["revision"] == 3


def test_a_number_off_the_grid_is_told_as_it_is_written(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        page.locator('.plan-stage .thing[data-thing="pump"]').focus()
        page.keyboard.press("Enter")
        pitch = regions["plan"]["pitch"]
        x, y = regions["plan"]["pump"]["inlet"]
        field = page.locator(".thing-form").get_by_label("x", exact=True)
        field.fill(f"{x + 1.2 * pitch:g}")
        field.press("Enter")
        edit = server.last(page, "edit")
        assert edit["edits"] == [{"move": "pump", "to": [x + pitch, y]}]
        assert f"({x + pitch:g}, {y:g}) mm, the nearest node of the grid" in edit["said"]


def test_a_new_region_lies_over_nothing_and_is_what_one_works_at(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1), plan_of(regions, 1)) as (page, server):
        wait_for(page, shown="whole")
        page.get_by_role("tab", name="Numbers").click()
        page.get_by_role("button", name="Add a keep-clear box").click()
        edit = server.last(page, "edit")
        (added,) = edit["edits"]
        x0, y0, x1, y1 = added["box"]
        plan = copy.deepcopy(regions)
        for port in plan["plan"]["ports"]:
            x, y = port["at"]
            away = max(x0 - x, x - x1, y0 - y, y - y1)
            assert away >= port["collar_radius"] or port["on"] not in ("front", "back"), port["name"]
        for region in [clear["box"] for clear in plan["plan"]["clears"]] + [plan["plan"]["tank"]["box"]]:
            assert max(x0 - region[2], region[0] - x1, y0 - region[3], region[1] - y1) >= 0
        said = f"{x1 - x0:g} × {y1 - y0:g} mm"
        new = {"id": "clear:3", "name": added["name"], "box": added["box"], "line": 9}
        plan["plan"]["clears"].append(new)
        server.tell(file_of(2), done(edit["number"], 2), plan_of(plan, 2))
        form = page.locator("form.thing-form")
        expect(form).to_contain_text(added["name"], ignore_case=True)
        expect(form).to_contain_text(said)
        expect(form.get_by_label("x", exact=True)).to_be_focused()


def test_what_is_below_the_head_stays_where_it_is(address: str, regions: dict[str, Any]):
    with shown(address, file_of(1), plan_of(regions, 1), size=(1280, 720)) as (page, server):
        wait_for(page, shown="whole")
        top = "document.querySelector('.plan-stage').getBoundingClientRect().top"
        before = page.evaluate(top)
        stage = "routing the channels: placement 15"
        server.tell({"tell": "progress", "of": "plan", "stage": stage, "seconds": 12.0, "share": 0.4})
        server.tell(
            {
                "tell": "progress",
                "of": "solid",
                "stage": "filling, in all tilts",
                "seconds": 2.0,
                "share": None,
            }
        )
        expect(page.locator(".work")).to_contain_text("filling")
        assert page.evaluate(top) == before
        proof = "within 1.8 % (proven); --effort thorough searches longer"
        server.tell(file_of(2), plan_of(regions | {"proof": proof, "whole": False}, 2))
        expect(page.locator(".proof")).to_contain_text("searches longer")
        assert page.evaluate(top) == before
        server.tell(file_of(3), {"tell": "problem", "revision": 3, "problem": NO_LAYOUT})
        # What is still sought is not told as not found.
        expect(page.locator(".judged")).to_have_text("no layout so far (still being sought)")
        assert page.evaluate(top) == before
        server.tell({"tell": "progress", "of": "plan", "stage": "", "seconds": 13.0, "share": None})
        expect(page.locator(".judged")).to_have_text("no layout found")
        server.tell({"tell": "problem", "revision": 3, "problem": NO_LAYOUT | {"kind": "stopped"}})
        expect(page.locator(".judged")).to_have_text("could not be worked out")
