"""The line below the plan, which tells why a thing goes back or stays, and the two faces of the plan."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from playwright.sync_api import expect
from sample_page import press, take
from scripted_server import file_of, plan_of, shown, wait_for

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

PORT = "port:block inlet"


def test_why_it_goes_back_stays_until_the_next_act(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        x, y = take(page, PORT, (5, 0))
        asked = server.sent(page, "places", 1)[-1]
        places = {"pitch": 5, "nodes": [[20, 20]], "why": "the tank has that place"}
        server.tell({"tell": "places", "number": asked["number"], "thing": PORT, **places})
        line = page.locator(".plan-told")
        expect(line).to_contain_text("may not stand here")
        page.mouse.up()
        expect(line).to_contain_text("the tank has that place. It goes back.")
        # To point at things is no act.
        page.mouse.move(x + 60, y + 40)
        page.wait_for_timeout(100)
        expect(line).to_contain_text("It goes back.")
        page.keyboard.press("Home")
        expect(line).not_to_contain_text("It goes back.")


def middle_of(box: str | None) -> tuple[float, float]:
    """Return the middle of a view box."""
    assert box is not None
    x, y, width, height = (float(number) for number in box.split())
    return x + width / 2, y + height / 2


def test_a_port_that_others_place_stays_and_so_does_the_plan(address: str, told: dict[str, Any]):
    name = next(port["id"] for port in told["plan"]["ports"] if not port["movable"])
    with shown(address, file_of(1), plan_of(told, 1)) as (page, _):
        wait_for(page, shown="whole")
        stage = page.locator(".plan-stage")
        before = middle_of(stage.get_attribute("viewBox"))
        take(page, name, (15, 10))
        expect(page.locator(".plan-told")).to_contain_text("is not moved by itself: ")
        page.mouse.up()
        # The line of words may take another row: the stage then changes its size round the same middle.
        assert middle_of(stage.get_attribute("viewBox")) == pytest.approx(before, abs=1.0)


def test_the_shading_of_the_tank_is_told_and_ends_at_the_plate(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        press(page, "tank", "ArrowRight")
        asked = server.sent(page, "places", 1)[-1]
        places = {"pitch": 5, "nodes": [[0, 0], [5, 5]], "why": "full"}
        server.tell({"tell": "places", "number": asked["number"], "thing": "tank", **places})
        expect(page.locator(".plan-told")).to_contain_text("where its lower left corner may stand")
        assert page.locator(".plan-stage .places").get_attribute("clip-path") == "url(#plan-plate)"
        page.keyboard.press("Escape")
        expect(page.locator(".plan-told")).not_to_contain_text("lower left corner may stand")


def test_the_width_of_the_feed_is_not_typed(address: str, told: dict[str, Any]):
    with shown(address, file_of(1), plan_of(told, 1)) as (page, _):
        wait_for(page, shown="whole")
        press(page, "channel:feed", "Enter")
        field = page.locator(".thing-form").get_by_label("width")
        expect(field).to_be_disabled()
        why = "The feed takes its width from the pump's inlet bore, in the file's text."
        expect(field).to_have_accessible_description(f"mm {why}")
        press(page, "channel:pump - block", "Enter")
        expect(field).to_be_enabled()


def test_of_two_faces_one_can_be_dimmed(address: str, told: dict[str, Any]):
    other = copy.deepcopy(told)
    channel = other["plan"]["channels"][0]
    channel["outlines"] = {"front": channel["outlines"]["back"]}
    for leg in channel["legs"]:
        leg["layer"] = "front"
    with shown(address, file_of(1), plan_of(told, 1)) as (page, server):
        wait_for(page, shown="whole")
        choice = page.get_by_role("group", name="Faces")
        expect(choice).to_be_hidden()
        expect(page.locator(".plan-faces")).to_be_hidden()
        server.tell(plan_of(other, 2))
        expect(choice).to_be_visible()
        expect(page.locator(".plan-faces")).to_have_text("front face: full lineback face: dashed")
        choice.get_by_label("front").check()
        expect(page.locator(".channel .in-back").first).to_have_css("opacity", "0.18")
        expect(page.locator(".channel .in-front").first).to_have_css("opacity", "1")
        choice.get_by_label("both").check()
        expect(page.locator(".channel .in-back").first).to_have_css("opacity", "1")
