"""Hands on the page while answers are late, lost or another page's: in a real browser, on a socket made by hand."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from sample_page import place_of, press, take, thing
from scripted_server import TEXT, Server, cut_off, file_of, plan_of, shown, wait_for

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

PORT = "port:block inlet"
NODES = [[x, y] for x in range(20, 80, 5) for y in range(20, 100, 5)]


def draft_of(told: dict[str, Any], number: int, drop: float = 0.0) -> dict[str, Any]:
    """Return the answer to a draft; its first channel's drop is `drop`, so that it can be told from others."""
    answer = copy.deepcopy(told) | {"whole": False}
    answer["plan"]["channels"][0]["told"]["drop"] = f"{drop:.2f}"
    return {"tell": "draft", "number": number, "ms": 1, "answer": answer, "problem": None}


def place_answer(server: Server, page: Page) -> None:
    asked = server.sent(page, "places", 1)[-1]
    server.tell(
        {
            "tell": "places",
            "number": asked["number"],
            "thing": PORT,
            "pitch": 5,
            "nodes": NODES,
            "why": "full",
        }
    )


def drawn(page: Page) -> tuple[str, str]:
    """Return the numbers of the draft that is shown and of the newest."""
    root = page.locator("html")
    return root.get_attribute("data-draft-number") or "", root.get_attribute("data-draft-newest") or ""


def scale_of(page: Page) -> float:
    """Return how many pixels a millimetre has."""
    svg = page.locator(".plan-stage")
    return float(svg.evaluate("svg => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width"))


# ---- Drafts while something is in hand ------------------------------------------------------------------------------


def test_a_steady_drag_shows_each_answer_and_sends_one_draft_at_a_time(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        page.get_by_role("tab", name="Numbers").click()
        drop = page.locator("#numbers tbody tr").first.locator("td").nth(2).locator("span")
        x, y = take(page, PORT, (5, 0))
        place_answer(server, page)
        (first,) = server.sent(page, "draft", 1)
        px = scale_of(page)
        # The hand goes on, and rests nowhere.
        for step in range(1, 5):
            page.mouse.move(x + 5 * px * step, y)
            page.wait_for_timeout(40)
        assert len(server.sent(page, "draft", 1)) == 1
        server.tell(draft_of(told, first["number"], 11.25))
        expect(drop).to_have_text("11.25")
        wait_for(page, draft_number=str(first["number"]), draft_phase="trying")
        # What is in hand stands where it is held, not where the answer has it.
        assert place_of(page, PORT) == (65, 35)
        second = server.sent(page, "draft", 2)[-1]
        assert second["edits"] == [{"move": PORT, "to": [65, 35]}]
        page.mouse.move(x + 5 * px * 5, y)
        server.tell(draft_of(told, second["number"], 22.5))
        expect(drop).to_have_text("22.50")
        third = server.sent(page, "draft", 3)[-1]
        # What is older than what is shown is never shown.
        server.tell(draft_of(told, first["number"], 33.75), draft_of(told, third["number"], 45.0))
        expect(drop).to_have_text("45.00")
        page.locator(".plan-stage:not(.waiting)").wait_for()
        assert drawn(page) == (str(third["number"]), str(third["number"]))
        page.mouse.up()
        assert server.last(page, "edit")["edits"] == [{"move": PORT, "to": [70, 35]}]


def test_answers_of_an_earlier_try_are_not_shown(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        take(page, PORT, (5, 0))
        place_answer(server, page)
        (first,) = server.sent(page, "draft", 1)
        page.keyboard.press("Escape")
        page.mouse.up()
        take(page, PORT, (10, 0))
        drafts = server.sent(page, "draft", 3)
        assert drafts[1]["edits"] == []
        server.tell(draft_of(told, first["number"]))
        server.tell(draft_of(told, drafts[-1]["number"]))
        wait_for(page, draft_number=str(drafts[-1]["number"]))
        page.keyboard.press("Escape")
        page.mouse.up()
        wait_for(page, draft_phase="none", draft_number="", draft_newest="")


def test_back_where_it_stood_nothing_is_tried(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        x, y = take(page, PORT, (5, 0))
        (first,) = server.sent(page, "draft", 1)
        px = scale_of(page)
        page.mouse.move(x - 5 * px, y)
        assert server.sent(page, "draft", 2)[-1]["edits"] == []
        server.tell(draft_of(told, first["number"]))
        page.mouse.move(x + 5 * px, y)
        third = server.sent(page, "draft", 3)[-1]
        assert third["edits"] == [{"move": PORT, "to": [50, 35]}]
        server.tell(draft_of(told, third["number"]))
        wait_for(page, draft_number=str(third["number"]))
        page.keyboard.press("Escape")
        page.mouse.up()


@pytest.mark.parametrize("how", ["refused", "restarted", "disconnected"])
def test_an_answer_that_is_lost_does_not_hold_the_next(address: str, told: dict[str, Any], how: str):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        x, y = take(page, PORT, (5, 0))
        (first,) = server.sent(page, "draft", 1)
        px = scale_of(page)
        page.mouse.move(x + 5 * px, y)
        page.wait_for_timeout(100)
        assert len(server.sent(page, "draft", 1)) == 1
        if how == "refused":
            server.tell({"tell": "refused", "number": first["number"], "why": "the server failed at this"})
        elif how == "restarted":
            server.tell({"tell": "restarted", "why": "the planner ended by itself", "urgent": True})
        else:
            server.routes[-1].close()
        second = server.sent(page, "draft", 2)[-1]
        assert second["edits"] == [{"move": PORT, "to": [50, 35]}]
        server.tell(draft_of(told, second["number"]))
        wait_for(page, draft_number=str(second["number"]), draft_newest=str(second["number"]))
        page.keyboard.press("Escape")
        page.mouse.up()


def test_what_is_taken_up_while_a_remedy_is_tried_stays_in_hand(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        page.get_by_role("button", name=re.compile("^try ")).click()
        tried = server.last(page, "draft")
        server.tell(draft_of(told, tried["number"]))
        expect(page.locator(".judged")).to_contain_text("tried, not written")
        take(page, PORT, (5, 0))
        draft = server.sent(page, "draft", 1)[-1]
        assert draft["edits"] == [{"move": PORT, "to": [45, 35]}]
        wait_for(page, draft_phase="trying", draft_newest=str(draft["number"]))
        expect(page.get_by_role("group", name="What is tried")).to_be_hidden()
        page.keyboard.press("Escape")
        page.mouse.up()


# ---- Numbers that are typed -----------------------------------------------------------------------------------------


def test_what_is_typed_stands_until_it_is_set_or_given_up(address: str, told: dict[str, Any]):
    progress = {"tell": "progress", "of": "plan", "stage": "rules", "seconds": 1.0, "share": None}
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        press(page, PORT, "Enter")
        x, y = page.get_by_label("x", exact=True), page.get_by_label("y", exact=True)
        expect(x).to_have_value("40")
        x.fill("55")
        y.focus()
        server.tell(progress, file_of(2, by="editor"), plan_of(told, 2))
        wait_for(page, revision="2", shown="whole")
        expect(x).to_have_value("55")
        x.press("Escape")
        expect(x).to_have_value("40")
        x.fill("60")
        x.press("Enter")
        edit = server.last(page, "edit")
        assert edit["edits"] == [{"move": PORT, "to": [60, 35]}]
        # Until its plan is there the number does not jump back; then the plan's counts.
        server.tell(progress)
        server.tell({"tell": "done", "number": edit["number"], "revision": 3, "said": "moved"})
        expect(x).to_have_value("60")
        moved = copy.deepcopy(told)
        next(port for port in moved["plan"]["ports"] if port["id"] == PORT)["at"] = [62.5, 35.0]
        server.tell(file_of(3), plan_of(moved, 3))
        expect(x).to_have_value("62.5")


# ---- What is asked, and never answered ------------------------------------------------------------------------------


def test_a_lost_connection_tells_of_the_edit_that_was_under_way(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        with cut_off(page, server):
            pass
        expect(page.locator("#warned")).to_be_hidden()
        page.get_by_role("button", name=re.compile("^do it")).click()
        server.last(page, "edit")
        with cut_off(page, server):
            expect(page.locator(".away")).to_contain_text("open the address that it printed")
        expect(page.locator("#warned")).to_contain_text("may not have been written")


def test_a_refusal_of_nobody_knows_what_does_not_hold_later_edits(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        do = page.get_by_role("button", name=re.compile("^do it"))
        do.click()
        do.click()
        assert len(server.sent(page, "edit", 1)) == 1
        server.tell({"tell": "refused", "number": 0, "why": "the message is not JSON"})
        server.sent(page, "edit", 2)
        expect(page.locator("#warned")).to_contain_text("look at the file")


def test_only_so_many_edits_wait(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        do = page.get_by_role("button", name=re.compile("^do it"))
        do.evaluate("button => { for (let k = 0; k < 60; k++) button.click(); }")
        expect(page.locator("#warned")).to_contain_text(
            "50 edits wait for an answer, so this one was not made"
        )
        assert len(server.sent(page, "edit", 1)) == 1


# ---- Questions ------------------------------------------------------------------------------------------------------


def conflict(number: int | None = None) -> dict[str, Any]:
    """Return a question; with a number as it is told to the page that wished."""
    told: dict[str, Any] = {
        "tell": "conflict",
        "conflict": 3,
        "said": "an edit",
        "page": TEXT,
        "file": TEXT + "# x\n",
    }
    told["lines"] = [7]
    return told if number is None else told | {"number": number}


def settle_question(page: Page, server: Server) -> None:
    """Answer that the question is settled as the page wished."""
    number = server.last(page, "settle")["number"]
    server.tell(
        {"tell": "settled", "conflict": 3}, {"tell": "done", "number": number, "revision": 1, "said": "done"}
    )


def test_only_the_page_that_wished_is_asked_by_itself(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        dialog, both = page.get_by_role("dialog"), page.get_by_role("button", name="look at both")
        do = page.get_by_role("button", name=re.compile("^do it"))
        do.click()
        edit = server.last(page, "edit")
        # Another page's question is no answer to this page's edit.
        server.tell(conflict())
        expect(both).to_be_visible()
        expect(dialog).to_be_hidden()
        server.tell({"tell": "done", "number": edit["number"], "revision": 1, "said": "done"})
        do.click()
        edit = server.last(page, "edit")
        server.tell(conflict(), conflict(edit["number"]))
        expect(dialog).to_be_visible()
        dialog.get_by_role("button", name="decide later").click()
        expect(do).to_be_focused()
        # The button by which it was opened goes with the question.
        both.click()
        take_files = dialog.get_by_role("button", name="take the file's")
        take_files.click()
        settle_question(page, server)
        expect(dialog).to_be_hidden()
        expect(page.locator("#findings-title")).to_be_focused()


@pytest.mark.parametrize("way", ["decide later", "take the page's", "Escape"])
def test_the_keyboard_is_not_lost_after_a_question_about_the_text(
    address: str, told: dict[str, Any], way: str
):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        page.get_by_role("tab", name="File").click()
        page.locator("#file-text").fill(TEXT + "# mine\n")
        write = page.get_by_role("button", name="write to the file")
        write.click()
        # What had the keyboard cannot have it again: it was used up.
        server.tell(conflict(server.last(page, "text")["number"]))
        dialog = page.get_by_role("dialog")
        expect(dialog).to_be_visible()
        write.evaluate("button => { button.disabled = true; }")
        page.keyboard.press("Escape") if way == "Escape" else dialog.get_by_role("button", name=way).click()
        if way.startswith("take"):
            settle_question(page, server)
        expect(dialog).to_be_hidden()
        expect(page.locator("#file-title")).to_be_focused()


def test_no_question_comes_amid_typing_or_dragging(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        dialog, both = page.get_by_role("dialog"), page.get_by_role("button", name="look at both")
        page.get_by_role("button", name=re.compile("^do it")).click()
        edit = server.last(page, "edit")
        page.get_by_role("tab", name="File").click()
        page.get_by_label("Text of the panel file").press_sequentially("# ")
        server.tell(conflict(), conflict(edit["number"]))
        expect(both).to_be_visible()
        expect(dialog).to_be_hidden()
        page.keyboard.press("Control+s")
        text = server.last(page, "text")
        take(page, PORT, (5, 0))
        # Once the file is heard the question was, too: the hand lets go only then.
        server.tell(conflict(text["number"]), file_of(2))
        wait_for(page, revision="2")
        expect(dialog).to_be_hidden()
        page.mouse.up()
        expect(both).to_be_visible()
        expect(dialog).to_be_hidden()


# ---- What is told of work -------------------------------------------------------------------------------------------


def test_seconds_go_on_and_are_not_said_aloud(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        page.get_by_role("tab", name="Make").click()
        for of in ("make", "solid"):
            server.tell({"tell": "progress", "of": of, "stage": "drawing", "seconds": 4.0, "share": None})
        status = page.locator("span[role=status]", has_text="drawing")
        expect(page.locator("#make p", has=status)).to_have_text(re.compile(r"^drawing, [6-9] s$"))
        expect(page.locator('.work [data-of="solid"]')).to_contain_text(
            re.compile(r"solid, [6-9] s: drawing")
        )
        assert status.inner_text() == "drawing"


def test_a_process_that_rests_is_told_politely(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        why = "the builder gave back 3 GB of memory after its work"
        server.tell({"tell": "restarted", "why": why, "urgent": False})
        expect(page.locator("#said")).to_contain_text("gave back 3 GB")
        expect(page.locator("#warned")).to_be_hidden()
        server.tell({"tell": "restarted", "why": "the builder ended by itself", "urgent": True})
        expect(page.locator("#warned")).to_contain_text("ended by itself")


# ---- The solid ------------------------------------------------------------------------------------------------------

HOLD_FRAMES = """(() => {
  const ask = window.requestAnimationFrame.bind(window);
  let held = null;
  window.requestAnimationFrame = (draw) => held ? held.push(draw) : ask(draw);
  window.holdFrames = () => { held = []; };
  window.freeFrames = () => { const all = held; held = null; all.forEach((draw) => ask(draw)); };
})()"""


def test_solids_do_not_pile_up_where_nothing_is_drawn(address: str, told: dict[str, Any]):
    def solid(revision: int) -> dict[str, Any]:
        return {"tell": "solid", "revision": revision, "address": f"scene/{revision}.json", "checked": False}

    with shown(address, file_of(1), plan_of(told, 1), solid(1)) as (page, server):
        page.locator("#solid-title").scroll_into_view_if_needed()
        wait_for(page, solid="ready")
        page.evaluate(HOLD_FRAMES)
        page.evaluate("holdFrames()")
        for revision in (2, 3, 4):
            server.tell(file_of(revision), plan_of(told, revision))
            with page.expect_response(re.compile(f"scene/{revision}")):
                server.tell(solid(revision))
            page.locator(".solid-next").wait_for(state="attached")
            page.wait_for_timeout(300)
            assert page.locator(".solid-live").count() == 2
        page.evaluate("freeFrames()")
        wait_for(page, solid="ready", solid_revision="4")
        assert page.locator(".solid-live").count() == 1


def test_the_thing_with_the_keyboard_is_that_which_was_moved(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        press(page, PORT, "ArrowRight")
        place_answer(server, page)
        draft = server.sent(page, "draft", 1)[-1]
        server.tell(draft_of(told, draft["number"]))
        wait_for(page, draft_number=str(draft["number"]))
        assert server.last(page, "edit")["edits"] == [{"move": PORT, "to": [45, 35]}]
        assert thing(page, PORT).evaluate("element => element === document.activeElement")
