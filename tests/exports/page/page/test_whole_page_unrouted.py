"""A file without a layout, opened cold with the real server: moving a thing is the cure, and it can be moved."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from sample_page import (
    SMALL,
    await_place,
    await_plan,
    await_root,
    drag,
    find_barriers,
    open_quiet,
    place_of,
    press,
    serve_file,
    thing,
)

from layouts.panels.catalogue import demo_path

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

INLET, PLACE = "port:diode block inlet", 'at = ["60 mm", "35 mm"]'
FREE = ("pump", "tank", "port:diode block outlet", "port:drain")
SOUND = demo_path(SMALL).read_text(encoding="utf-8")


def write_failing(folder: Path, place: str) -> Path:
    """Write a demo with a port where no channel reaches it."""
    path = folder / "panel.toml"
    path.write_text(SOUND.replace(PLACE, place), encoding="utf-8")
    return path


def await_ground(page: Page) -> None:
    await_root(page, problem="layout", shown="none")
    thing(page, INLET).wait_for(state="attached")
    expect(page.locator(".plan-unrouted")).to_be_visible()


def places(page: Page) -> list[tuple[float, float]]:
    return [place_of(page, name) for name in (INLET, *FREE)]


def test_a_port_is_dragged_to_where_there_is_a_layout(tmp_path: Path):
    write_failing(tmp_path, 'at = ["5 mm", "5 mm"]')
    with serve_file(tmp_path, demo=None) as served, open_quiet(served) as page:
        await_ground(page)
        assert find_barriers(page) == []
        before = places(page)
        assert before[0] == (5, 5)
        # The whole plan's reasons come later, and move nothing; nor does loading the page anew.
        page.reload()
        await_ground(page)
        assert places(page) == before
        drag(page, INLET, (55, 30))
        await_plan(page, 2)
        await_root(page, revision=2, shown="checked", problem="")
        assert served.text() == SOUND
        await_place(page, INLET, 60, 35)
        expect(page.locator(".plan-stage .things-of-channel .thing")).not_to_have_count(0)
        expect(page.locator(".plan-unrouted")).to_be_hidden()
        page.reload()
        await_root(page, revision=2, shown="checked")
        await_place(page, INLET, 60, 35)


def test_and_by_keys(tmp_path: Path):
    write_failing(tmp_path, 'at = ["60 mm", "5 mm"]')
    with serve_file(tmp_path, demo=None) as served, open_quiet(served) as page:
        await_ground(page)
        press(page, INLET, *(6 * ["ArrowUp"]))
        await_root(page, revision=2, problem="")
        await_plan(page, 2)
        assert served.text() == SOUND
        await_place(page, INLET, 60, 35)
