"""The page of the main example: all can use it, at any size and in both schemes, and it asks nobody else."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page
from sample_page import (
    MAIN,
    SCHEMES,
    ServedPage,
    await_plan,
    await_root,
    button,
    choose_tab,
    drag,
    find_barriers,
    open_quiet,
    revision_of,
    serve_file,
    take,
)

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

PORT = "port:processor block inlet"
ZOOMED = (640, 450)
"""A window of 1280 x 900 px at 200 %."""

TABS = ("Findings", "Numbers", "File", "Make")

WIDER = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
LASTING = "one.playState === 'running' && one.effect.getTiming().duration > 1"
MOVING = f"document.getAnimations().filter(one => {LASTING}).length"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedPage]:
    with serve_file(tmp_path_factory.mktemp("looks"), MAIN) as served:
        yield served
        assert served.said() == []


def await_whole(page: Page) -> None:
    await_root(page, shown="checked", solid="ready")


def test_plan_findings_and_solid_have_no_barriers(served: ServedPage):
    with open_quiet(served) as page:
        await_whole(page)
        for name in TABS:
            choose_tab(page, name)
            assert find_barriers(page) == [], name
        choose_tab(page, "Findings")
        page.locator("#findings summary").first.click()
        page.locator("#findings li[data-code]").first.get_by_role("button", name="show").click()
        page.locator("#said").filter(has_text="Shown in the plan").wait_for(state="attached")
        assert find_barriers(page) == []
        take(page, PORT, (5, 0))
        page.locator(".plan-stage .places").wait_for(state="attached")
        page.locator(".plan-stage:not(.waiting)").wait_for()
        assert find_barriers(page) == []
        page.keyboard.press("Escape")
        page.mouse.up()


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_scheme_is_that_of_the_system_unless_chosen(served: ServedPage, scheme: str):
    other = SCHEMES[1 - SCHEMES.index(scheme)]
    with open_quiet(served, scheme=scheme) as page:
        ground = "getComputedStyle(document.body).backgroundColor"
        first = page.evaluate(ground)
        page.get_by_label("Colours").select_option(other)
        assert page.evaluate(ground) != first
        page.reload()
        await_root(page, scheme=other)
        assert page.evaluate(ground) != first


def test_who_wants_no_motion_sees_none(served: ServedPage):
    with open_quiet(served, motion="reduce") as page:
        await_root(page, shown="checked")
        page.locator("#findings li[data-code]").first.get_by_role("button", name="show").click()
        take(page, PORT, (5, 0))
        assert page.evaluate(MOVING) == 0
        page.keyboard.press("Escape")
        page.mouse.up()


def test_at_200_percent_all_is_there_and_nothing_is_wider_than_the_window(served: ServedPage):
    with open_quiet(served, size=ZOOMED) as page:
        await_root(page, shown="checked")
        for name in TABS:
            choose_tab(page, name)
            assert not page.evaluate(WIDER), name
        button(page, "show the solid").click()
        page.locator("#solid").scroll_into_view_if_needed()
        await_root(page, solid="ready")
        assert not page.evaluate(WIDER)
        assert find_barriers(page) == []
        revision = revision_of(page)
        page.locator(".plan-stage").scroll_into_view_if_needed()
        drag(page, PORT, (0, 5))
        await_plan(page, revision + 1)
        button(page, re.compile("^undo: move port processor block inlet")).click()
        await_plan(page, revision + 2)
