"""Edits on the page, in other tabs and in an editor beside it: each changes its lines alone, and none is lost."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, WebSocketRoute
from sample_page import (
    SMALL,
    ServedPage,
    await_calm,
    await_draft,
    await_place,
    await_plan,
    await_root,
    await_text,
    button,
    choose_tab,
    drag,
    find_barriers,
    open_quiet,
    place_of,
    press,
    revision_of,
    serve_file,
    take,
    thing,
)

from layouts.panels.catalogue import demo_path

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

DEMO = demo_path(SMALL).read_text(encoding="utf-8")
INLET, LINE = "port:diode block inlet", 'at = ["60 mm", "35 mm"]'
CHANNEL = "channel:pump - diode block"
TITLE = 'name = "laser driver"'


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedPage]:
    with serve_file(tmp_path_factory.mktemp("edits")) as served:
        yield served
        assert served.said() == []


@pytest.fixture
def page(served: ServedPage) -> Iterator[Page]:
    """The page of the untouched demo."""
    served.write(DEMO)
    with open_quiet(served) as page:
        await_text(page, DEMO)
        await_calm(page)
        yield page


def moved(x: int, y: int, text: str = DEMO) -> str:
    assert text.count(LINE) == 1
    return text.replace(LINE, f'at = ["{x} mm", "{y} mm"]')


def route_of(page: Page, channel: str) -> str | None:
    return thing(page, channel).locator(".hit").get_attribute("d")


def await_route(page: Page, channel: str, such: str) -> None:
    thing(page, channel).locator(f".hit:{such}").wait_for(state="attached")


# ---- By hand ---------------------------------------------------------------------------------------------------------


def test_a_port_is_dragged_by_the_mouse_undone_and_redone(served: ServedPage, page: Page):
    revision, route = revision_of(page), route_of(page, CHANNEL)
    drag(page, INLET, (5, 0))
    await_plan(page, revision + 1)
    await_place(page, INLET, 65, 35)
    await_route(page, CHANNEL, f'not([d="{route}"])')
    assert served.text() == moved(65, 35)
    said = "move port diode block inlet to (65, 35) mm"
    button(page, f"undo: {said}").click()
    await_plan(page, revision + 2)
    await_place(page, INLET, 60, 35)
    await_route(page, CHANNEL, f'is([d="{route}"])')
    assert served.text() == DEMO
    button(page, f"redo: {said}").click()
    await_plan(page, revision + 3)
    assert served.text() == moved(65, 35)
    page.keyboard.press("Control+z")
    await_plan(page, revision + 4)
    assert served.text() == DEMO
    page.keyboard.press("Control+y")
    await_plan(page, revision + 5)
    await_place(page, INLET, 65, 35)
    assert served.text() == moved(65, 35)


def test_a_port_is_moved_by_keys(served: ServedPage, page: Page):
    revision = revision_of(page)
    press(page, INLET, "ArrowRight", "ArrowUp")
    await_plan(page, revision + 1)
    await_place(page, INLET, 65, 40)
    assert served.text() == moved(65, 40)
    press(page, INLET, "ArrowLeft", "Escape")
    await_place(page, INLET, 65, 40)
    assert thing(page, INLET).evaluate("element => element === document.activeElement")
    page.keyboard.press("Control+z")
    await_plan(page, revision + 2)
    assert served.text() == DEMO


def test_where_it_may_not_stand_it_goes_back(served: ServedPage, page: Page):
    revision = revision_of(page)
    take(page, INLET, (10, 0))
    page.locator(".plan-told").filter(has_text="may not stand here").wait_for()
    page.mouse.up()
    await_place(page, INLET, 60, 35)
    await_calm(page)
    assert (revision_of(page), served.text()) == (revision, DEMO)


def test_the_pump_is_taken_at_its_inlet_where_channels_end(served: ServedPage, page: Page):
    take(page, "pump", (5, 0))
    await_place(page, "pump", 110, 35)
    page.keyboard.press("Escape")
    page.mouse.up()
    await_place(page, "pump", 105, 35)
    assert served.text() == DEMO


def test_what_is_held_stays_below_the_pointer_when_more_is_told(page: Page):
    """The line below the plan grows with what it tells, and the plan must not shrink away from the hand."""
    page.set_viewport_size({"width": 640, "height": 900})
    await_plan(page, revision_of(page))
    told = page.locator(".plan-told")
    height = told.evaluate("line => line.offsetHeight")
    x, y = take(page, INLET, (10, 0))
    told.filter(has_text="may not stand here").wait_for()
    page.locator(".plan-stage:not(.waiting)").wait_for()
    assert told.evaluate("line => line.offsetHeight") > height
    page.mouse.move(x + 1, y)
    page.mouse.move(x, y)
    assert place_of(page, INLET) == (70, 35)
    page.keyboard.press("Escape")
    page.mouse.up()
    await_place(page, INLET, 60, 35)


def test_a_width_and_a_kept_route_are_written_and_taken_back(served: ServedPage, page: Page):
    revision = revision_of(page)
    press(page, CHANNEL, "Enter")
    field = page.get_by_role("spinbutton", name="width")
    field.fill("7")
    field.press("Enter")
    await_plan(page, revision + 1)
    assert '"pump - diode block" = "7 mm"' in served.text()
    button(page, "Keep this route").click()
    await_plan(page, revision + 2)
    assert len(served.panel().keep_routes) == 1
    button(page, "Let its route be found").click()
    await_plan(page, revision + 3)
    assert served.panel().keep_routes == ()
    button(page, "Use the usual width").click()
    await_plan(page, revision + 4)
    assert "7 mm" not in served.text()


# ---- In two tabs -----------------------------------------------------------------------------------------------------


class Late:
    """Lets what the server tells a page reach it only later."""

    def __init__(self, page: Page) -> None:
        self.holds = False
        self._kept: list[str | bytes] = []
        self._routes: list[WebSocketRoute] = []
        page.route_web_socket(re.compile("/live$"), self._join)

    def _join(self, route: WebSocketRoute) -> None:
        self._routes.append(route)
        route.connect_to_server().on_message(self._hear)

    def _hear(self, message: str | bytes) -> None:
        if self.holds:
            self._kept.append(message)
        else:
            self._routes[-1].send(message)

    def release(self) -> None:
        self.holds = False
        for message in self._kept:
            self._routes[-1].send(message)
        self._kept.clear()


def test_two_tabs_show_the_same_file_and_drafts_are_private(served: ServedPage, page: Page):
    revision = revision_of(page)
    with open_quiet(served) as other:
        await_calm(other)
        take(page, INLET, (5, 5))
        page.locator('.plan-view[data-draft-phase="trying"]:not([data-draft-shown=""])').wait_for()
        assert place_of(other, INLET) == (60, 35)
        assert other.locator(".plan-view").get_attribute("data-draft-phase") == "none"
        page.mouse.up()
        for tab in (page, other):
            await_plan(tab, revision + 1)
            await_place(tab, INLET, 65, 40)
        press(other, "port:radiator inlet", "ArrowUp")
        for tab in (page, other):
            await_plan(tab, revision + 2)
        assert place_of(page, INLET) == (65, 40)
        assert place_of(page, "port:radiator inlet") == place_of(other, "port:radiator inlet")
        button(page, re.compile("^undo: ")).click()
        await_plan(other, revision + 3)
        assert served.text() == moved(65, 40)


@pytest.mark.parametrize(("take_the", "stands"), [("page", (60, 40)), ("file", (65, 35))])
def test_the_same_place_moved_in_both_is_asked(
    served: ServedPage, page: Page, take_the: str, stands: tuple[int, int]
):
    revision = revision_of(page)
    with open_quiet(served) as other:
        late = Late(other)
        other.reload()
        await_calm(other)
        late.holds = True
        drag(page, INLET, (5, 0))
        await_plan(page, revision + 1)
        # The other page still believes the older text: its edit raises the question, which both may answer.
        press(other, INLET, "ArrowUp", "Tab")
        button(page, "look at both").click()
        late.release()
        questions = [
            tab.get_by_role("dialog", name="Page and file changed the same lines") for tab in (page, other)
        ]
        for question in questions:
            question.wait_for()
        assert served.text() == moved(65, 35)
        if take_the == "page":
            assert find_barriers(page) == []
        button(page, f"take the {take_the}'s").click()
        for question in questions:
            question.wait_for(state="hidden")
        for tab in (page, other):
            await_place(tab, INLET, *stands)
            await_calm(tab)
        assert served.text() == moved(*stands)


# ---- Beside an editor ------------------------------------------------------------------------------------------------


def test_what_an_editor_writes_shows_and_its_comments_stay(served: ServedPage, page: Page):
    revision = revision_of(page)
    other = DEMO.replace(TITLE, 'name = "bench two"  # the second one').replace(
        "# A bench", "# Mine\n# A bench"
    )
    served.write(other)
    await_text(page, other)
    page.get_by_role("heading", name="bench two").wait_for()
    await_plan(page, revision + 1)
    drag(page, INLET, (0, 5))
    await_plan(page, revision + 2)
    assert served.text() == moved(60, 40, other)


def test_what_an_editor_changes_while_it_is_held_is_asked(served: ServedPage, page: Page):
    revision = revision_of(page)
    take(page, INLET, (5, 0))
    served.write(moved(55, 35))
    page.locator(f'.plan-view[data-plan-revision="{revision + 1}"]').wait_for()
    page.locator("#noted").filter(has_text="The file was changed outside").wait_for()
    await_draft(page)
    page.mouse.up()
    question = page.get_by_role("dialog", name="Page and file changed the same lines")
    question.wait_for()
    assert served.text() == moved(55, 35)
    button(page, "take the page's").click()
    question.wait_for(state="hidden")
    await_place(page, INLET, 65, 35)
    assert served.text() == moved(65, 35)
    # What the page itself has written since is no reason to ask.
    press(page, INLET, "ArrowUp", "Tab")
    press(page, INLET, "ArrowUp", "Tab")
    await_place(page, INLET, 65, 45)
    await_text(page, moved(65, 45))


def test_a_kept_route_that_goes_with_an_edit_is_told(served: ServedPage, page: Page):
    revision = revision_of(page)
    press(page, CHANNEL, "Enter")
    button(page, "Keep this route").click()
    await_plan(page, revision + 1)
    drag(page, INLET, (5, 0))
    await_plan(page, revision + 2)
    gone = f'the kept route of channel "{CHANNEL.removeprefix("channel:")}" goes'
    page.locator("#noted").filter(has_text=gone).wait_for()
    button(page, f"undo: move port diode block inlet to (65, 35) mm; {gone}").wait_for()


def test_unsaved_text_is_kept_and_put_together(served: ServedPage, page: Page):
    choose_tab(page, "File")
    area = page.locator("#file-text")
    mine = DEMO + "# mine\n"
    area.fill(mine)
    theirs = DEMO.replace(TITLE, 'name = "bench two"')
    served.write(theirs)
    page.locator(".file .notice").wait_for()
    assert area.input_value() == mine
    button(page, "write to the file").click()
    await_text(page, theirs + "# mine\n")
    assert served.text() == theirs + "# mine\n"


def test_the_same_line_written_in_both_is_asked(served: ServedPage, page: Page):
    choose_tab(page, "File")
    page.locator("#file-text").fill(moved(65, 35))
    served.write(moved(55, 35))
    page.locator(".file .notice").wait_for()
    button(page, "write to the file").click()
    question = page.get_by_role("dialog")
    question.wait_for()
    assert question.locator("tr.differs").count() == 1
    button(page, "decide later").click()
    question.wait_for(state="hidden")
    assert served.text() == moved(55, 35)
    button(page, "look at both").click()
    button(page, "take the page's").click()
    await_text(page, moved(65, 35))
    await_place(page, INLET, 65, 35)
    assert served.text() == moved(65, 35)


def test_a_broken_file_is_told_at_its_line_until_it_is_mended(served: ServedPage, page: Page):
    revision = revision_of(page)
    number = DEMO[: DEMO.index(TITLE)].count("\n") + 2
    served.write(DEMO.replace('size = ["160 mm", "120 mm"]', 'size = ["160 mm", "much"]'))
    await_root(page, revision=revision + 1, problem="file")
    told = page.locator("#findings .problem")
    told.get_by_text("much").wait_for()
    assert find_barriers(page) == []
    told.get_by_role("button", name=f"line {number}").click()
    area = page.locator("#file-text")
    start, end = area.evaluate("area => [area.selectionStart, area.selectionEnd]")
    assert area.input_value()[start:end] == 'size = ["160 mm", "much"]'
    page.locator(".lines .wrong").filter(has_text=re.compile(f"^{number}$")).wait_for()
    assert find_barriers(page) == []
    assert place_of(page, INLET) == (60, 35)
    served.write("[panel\n" + DEMO)
    page.locator(".file-errors").get_by_role("button", name="line 1").wait_for()
    served.write(DEMO)
    await_root(page, revision=revision + 3, problem="")
    await_plan(page, revision + 3)
    assert page.locator(".file-errors li").count() == 0
