"""The page around the plan, in a real browser on a socket made by hand: what is told is shown, what is stale is not."""

from __future__ import annotations

import re
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect
from scripted_server import TEXT, cut_off, file_of, plan_of, shown, wait_for

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]


def test_a_stale_plan_is_never_shown(address: str, told: dict[str, Any]):
    with shown(address, file_of(2), plan_of(told, 2)) as (page, server):
        wait_for(page, revision="2", shown="whole")
        judged = page.locator(".judged")
        expect(judged).to_contain_text("not to be made 1 fault, 1 caution, 1 note")
        server.tell(plan_of(told, 1, findings=[]), file_of(3))
        wait_for(page, revision="3", shown="older")
        expect(judged).to_contain_text("1 fault")
        server.tell(plan_of(told, 2, findings=[]), plan_of(told, 3, findings=[], whole=False))
        wait_for(page, revision="3", shown="quick")
        expect(judged).to_contain_text("no faults so far no cautions, no notes")
        # What the quick plan's rules do not look at is not gone.
        expect(judged).to_contain_text("3 findings not looked at again yet")
        left = page.locator("#findings .left")
        expect(left).to_contain_text("Not looked at again yet (3)")
        expect(left).to_contain_text("a thin wall")
        # What a change changed is marked with what it was.
        numbers = [dict(each) for each in told["numbers"]]
        was, numbers[0]["value"] = numbers[0]["value"], "none at all"
        server.tell(plan_of(told, 3, numbers=numbers))
        page.get_by_role("tab", name="Numbers").click()
        first = page.locator(".numbers > div").first
        expect(first).to_contain_text("none at all")
        expect(first).to_contain_text(f"was {was}")


def test_only_a_checked_plan_may_be_made(address: str, told: dict[str, Any]):
    solid = {"tell": "solid", "revision": 1, "address": "scene/1.json", "checked": True}
    with shown(address, file_of(1), plan_of(told, 1, findings=[])) as (page, server):
        wait_for(page, shown="whole")
        expect(page.locator(".judged")).to_contain_text("no faults so far")
        expect(page.locator(".judged .sign")).to_have_class("sign open")
        server.tell(solid)
        expect(page.locator(".judged")).to_contain_text("may be made")
        expect(page.locator(".judged .sign")).to_have_class("sign good")


def test_a_finding_of_a_code_that_was_looked_at_again_is_not_kept(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        first = page.locator(".finding[data-number='0'] .what")
        expect(first).to_have_text("1 fault a thin wall")
        again = [one for one in told["findings"] if one["code"] == "port.room"]
        server.tell(file_of(2), plan_of(told, 2, findings=again, whole=False))
        left = page.locator("#findings .left")
        expect(left.locator(".finding")).to_have_count(2)
        page.locator("#show-fault").uncheck()
        expect(left.get_by_text("a thin wall")).to_be_hidden()
        server.tell(plan_of(told, 2, findings=again))
        expect(left).to_be_hidden()


def test_with_a_problem_numbers_are_those_of_the_plan_before(address: str, told: dict[str, Any]):
    problem = {"kind": "layout", "headline": "No way", "told": [], "remedies": [], "at": None}
    problem |= {"channels": [], "cells": []}
    with shown(address, file_of(1), {"tell": "problem", "revision": 1, "problem": problem}) as (page, server):
        wait_for(page, problem="layout")
        expect(page.locator("#findings .filter")).to_be_hidden()
        expect(page.get_by_text("These are of the last plan that there was.")).to_have_count(0)
        numbers = [one | {"value": "10 L/min ±5 %"} for one in told["numbers"][:2]]
        banded = [numbers[0] | {"value": "10 L/min ±6 %"}, numbers[1] | {"value": "11 L/min ±5 %"}]
        server.tell(plan_of(told, 1, numbers=numbers), file_of(2), plan_of(told, 2, numbers=banded))
        page.get_by_role("tab", name="Numbers").click()
        lines = page.locator(".numbers > div")
        expect(lines.nth(1)).to_have_class("changed")
        expect(lines.nth(0)).not_to_have_class("changed")
        older = page.get_by_text("These are of the plan before.")
        expect(older).to_be_hidden()
        server.tell({"tell": "problem", "revision": 2, "problem": problem})
        expect(older).to_be_visible()
        expect(page.locator(".numbers")).to_have_class("numbers older")


def test_a_remedy_is_tried_then_kept_or_left(address: str, told: dict[str, Any]):
    changes = [{"path": ["channel", "own", "pump - block"], "value": "9 mm"}]
    words = 'channel.own "pump - block" = "9 mm"'
    with shown(address, file_of(4), plan_of(told, 4)) as (page, server):
        tried = page.get_by_role("group", name="What is tried")
        for answer in ("leave", "keep"):
            page.get_by_role("button", name=f"try {words}").click()
            draft = server.last(page, "draft")
            assert draft["edits"] == [{"changes": changes}]
            assert draft["revision"] == 4
            expect(tried).to_contain_text(f"Tried, not written: {words}")
            quick = told | {"findings": [], "whole": False, "proof": "not proven yet"}
            server.tell(
                {"tell": "draft", "number": draft["number"] - 1, "ms": 1, "answer": quick, "problem": None}
            )
            expect(page.locator(".judged")).to_contain_text("1 fault")
            server.tell(
                {"tell": "draft", "number": draft["number"], "ms": 1, "answer": quick, "problem": None}
            )
            expect(page.locator(".judged")).to_contain_text("no faults so far")
            expect(page.locator(".judged")).to_contain_text("tried, not written")
            tried.get_by_role("button", name=answer).click()
            if answer == "leave":
                assert server.last(page, "draft")["edits"] == []
                expect(tried).to_be_hidden()
                expect(page.locator(".judged")).to_contain_text("1 fault")
        edit = server.last(page, "edit")
        assert edit["edits"] == [{"changes": changes}]
        assert edit["said"] == words
        server.tell(
            {"tell": "refused", "number": edit["number"], "why": "no such channel (panel.toml: channel.own)"}
        )
        expect(page.get_by_role("alert").filter(has_text="no such channel")).to_be_visible()
        expect(tried).to_be_hidden()


def test_unsaved_text_outlives_a_change_outside_and_is_asked_about(address: str, told: dict[str, Any]):
    outside = TEXT.replace("8 mm", "10 mm")
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        page.get_by_role("tab", name="File").click()
        text = page.get_by_label("Text of the panel file")
        mine = TEXT.replace("8 mm", "9 mm")
        text.fill(mine)
        server.tell(file_of(2, outside, by="editor"))
        expect(page.get_by_text("The file was changed outside since.")).to_be_visible()
        assert text.input_value() == mine
        text.press("Control+s")
        wish = server.last(page, "text")
        assert (wish["text"], wish["revision"]) == (mine, 1)
        server.tell(
            {
                "tell": "conflict",
                "conflict": 7,
                "said": "Your text",
                "page": mine,
                "file": outside,
                "lines": [6],
                "number": wish["number"],
            }
        )
        dialog = page.get_by_role("dialog")
        expect(dialog).to_contain_text('width = "9 mm"')
        expect(dialog).to_contain_text('width = "10 mm"')
        dialog.get_by_role("button", name="decide later").click()
        assert text.input_value() == mine
        page.get_by_role("button", name="look at both").click()
        dialog.get_by_role("button", name="take the file's").click()
        wish = server.last(page, "settle")
        number = wish.pop("number")
        assert wish == {"do": "settle", "revision": 2, "conflict": 7, "take": "file"}
        # It was not done: question and text are still there, and so they are after another change outside.
        server.tell({"tell": "refused", "number": number, "why": "panel.toml is being written"})
        expect(page.get_by_role("alert").filter(has_text="being written")).to_be_visible()
        outside += "# more\n"
        server.tell(file_of(3, outside, by="editor"))
        expect(page.locator("html")).to_have_attribute("data-revision", "3")
        assert text.input_value() == mine
        page.get_by_role("button", name="look at both").click()
        dialog.get_by_role("button", name="take the file's").click()
        wish = server.last(page, "settle")
        assert wish["revision"] == 3
        done = {"tell": "done", "number": wish["number"], "revision": 3, "said": "left as it is in the file"}
        server.tell({"tell": "settled", "conflict": 7}, done)
        expect(text).to_have_value(outside)
        expect(dialog).to_be_hidden()
        # Tab leaves the field.
        text.focus()
        text.press("Tab")
        assert page.evaluate("document.activeElement.id") != "file-text"


def test_line_ends_of_two_signs_are_no_change(address: str, told: dict[str, Any]):
    """A field gives back plain ones: the text is unsaved only once it is typed in, and follows the file till then."""
    with shown(address, file_of(1, TEXT.replace("\n", "\r\n")), plan_of(told, 1)) as (page, server):
        page.get_by_role("tab", name="File").click()
        text = page.get_by_label("Text of the panel file")
        expect(page.locator(".file")).to_have_attribute("data-unsaved", "false")
        outside = TEXT.replace("8 mm", "10 mm")
        server.tell(file_of(2, outside.replace("\n", "\r\n"), by="editor"))
        expect(text).to_have_value(outside)
        text.fill(TEXT)
        expect(page.locator(".file")).to_have_attribute("data-unsaved", "true")


def test_errors_of_the_file_lead_to_their_lines(address: str, told: dict[str, Any]):
    problem = {
        "kind": "file",
        "headline": "The file has 1 error",
        "told": [{"line": 6, "key": "channel.width", "text": "no such unit"}],
        "remedies": [],
        "at": None,
        "channels": [],
        "cells": [],
    }
    with shown(address, file_of(1), {"tell": "problem", "revision": 1, "problem": problem}) as (page, _):
        wait_for(page, revision="1", problem="file")
        page.get_by_role("button", name="line 6").first.click()
        assert page.get_by_role("tab", name="File").get_attribute("aria-selected") == "true"
        picked = page.evaluate(
            "(() => { const t = document.activeElement; "
            "return t.value.slice(t.selectionStart, t.selectionEnd); })()"
        )
        assert picked == 'width = "8 mm"'
        expect(page.locator(".lines .wrong")).to_have_text("6")


def test_without_a_connection_nothing_is_changed_and_nothing_is_sent_later(
    address: str, told: dict[str, Any]
):
    with shown(address, file_of(1, undo="move it"), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        with cut_off(page, server):
            expect(page.locator(".away")).to_contain_text("is rillplate still running?")
            expect(page.get_by_role("button", name="undo")).to_be_disabled()
            expect(page.get_by_role("button", name="do it")).to_be_disabled()
            page.keyboard.press("Control+z")
            expect(page.get_by_role("alert").filter(has_text="nothing was changed")).to_be_visible()
        wait_for(page, shown="whole")
        assert server.got == []


def test_making_is_followed_fetched_and_marked_when_stale(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        page.get_by_role("tab", name="Make").click()
        expect(page.get_by_text("not a certificate; follow local codes")).to_be_visible()
        page.get_by_role("button", name="make the files").click()
        server.last(page, "make")
        server.tell({"tell": "progress", "of": "make", "stage": "drawing", "seconds": 4.2, "share": 0.5})
        expect(page.get_by_text(re.compile(r"drawing, \d+ s"))).to_be_visible()
        page.get_by_role("button", name="stop making").click()
        server.last(page, "stop making")
        made = {"name": "body.step", "what": "the body", "bytes": 812_345, "address": "made/body.step"}
        server.tell(
            {
                "tell": "made",
                "revision": 1,
                "files": [made],
                "all": "made.zip",
                "withheld": "",
                "findings": [],
            }
        )
        wait_for(page, make="made")
        assert page.get_by_role("link", name="body.step").get_attribute("href") == "made/body.step"
        expect(page.get_by_text("812 kB")).to_be_visible()
        server.tell(file_of(2))
        expect(page.get_by_text("The file has changed since these were made.")).to_be_visible()


def test_a_file_that_is_not_there_is_begun(address: str):
    with shown(address, file_of(1, "", exists=False)) as (page, server):
        page.get_by_role("button", name="begin with the demo laser-driver").click()
        assert server.last(page, "start") == {"do": "start", "demo": "laser-driver"}
        page.get_by_label("Width").fill("20")
        page.get_by_role("button", name="begin with this panel").click()
        expect(page.get_by_text("Width: must be a number from 150 to 600 mm.")).to_be_visible()
        page.get_by_label("Width").fill("320")
        page.get_by_role("button", name="one part more").click()
        page.get_by_role("button", name="begin with this panel").click()
        form = server.last(page, "start")["form"]
        assert (form["width"], form["height"], form["closing"]) == (320, 200, "cord")
        assert form["parts"] == [
            {"name": "block 1", "kind": "cooled", "rating": 150, "beside": False},
            {"name": "block 2", "kind": "cooled", "rating": 150, "beside": False},
            {"name": "radiator", "kind": "radiator", "rating": 20, "beside": False},
        ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_bars_anyone(address: str, told: dict[str, Any], scheme: str):
    solid = {"tell": "solid", "revision": 1, "address": "scene/1.json", "checked": True}
    with shown(address, file_of(1), plan_of(told, 1), solid, scheme=scheme) as (page, _):
        page.locator("#solid-title").scroll_into_view_if_needed()
        wait_for(page, solid="ready", shown="checked")
        for name in ("Findings", "Numbers", "File", "Make"):
            page.get_by_role("tab", name=name).click()
            broken = Axe().run(page).response["violations"]
            assert [(each["id"], each["nodes"][0]["html"]) for each in broken] == []
        other = {"light": "dark", "dark": "light"}[scheme]
        before = page.evaluate("getComputedStyle(document.body).backgroundColor")
        page.get_by_label("Colours").select_option(other)
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") != before
        page.reload()
        wait_for(page, connected="true", scheme=other)


def test_the_next_solid_is_seen_from_where_the_last_one_was(address: str, told: dict[str, Any]):
    def solid(revision: int) -> dict[str, Any]:
        return {"tell": "solid", "revision": revision, "address": f"scene/{revision}.json", "checked": False}

    with shown(address, file_of(1), plan_of(told, 1), solid(1)) as (page, server):
        page.locator("#solid-title").scroll_into_view_if_needed()
        wait_for(page, solid="ready")
        page.get_by_role("button", name="back", exact=True).click()
        page.get_by_label("coolant", exact=True).check()
        page.get_by_label("measure", exact=True).check()
        page.wait_for_selector('.solid-live[data-still="true"]')
        before = page.locator(".solid-live").get_attribute("data-camera")
        server.tell(file_of(2), plan_of(told, 2))
        wait_for(page, solid="stale")
        expect(page.get_by_text("This is the solid of an older plan.")).to_be_visible()
        server.tell(solid(2))
        wait_for(page, solid="ready", solid_revision="2")
        assert page.locator(".solid-live").count() == 1
        page.wait_for_selector('.solid-live[data-still="true"]')
        assert page.locator(".solid-live").get_attribute("data-camera") == before
        assert page.get_by_label("coolant", exact=True).is_checked()
        assert page.get_by_label("measure", exact=True).is_checked()
