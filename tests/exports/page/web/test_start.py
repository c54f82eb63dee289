"""The form of a new panel in a real browser: kinds of parts, ways of the flow, what is wrong beside its field."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from scripted_server import TEXT, file_of, plan_of, shown, wait_for

from layouts.file.read import parse_panel
from layouts.panels.start import write_start
from layouts.panels.start_form import read_form

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

NEW = file_of(1, "", exists=False)


def begin(page: Page) -> None:
    page.get_by_role("button", name="begin with this panel").click()


def test_a_form_as_it_comes_up_makes_a_file(address: str):
    with shown(address, NEW) as (page, server):
        begin(page)
        panel = parse_panel(write_start(read_form(server.last(page, "start")["form"])).encode(), "panel.toml")
        assert [(part.name, part.heat_w, bool(part.capacity)) for part in panel.parts] == [
            ("block 1", 150, False),
            ("radiator", 0, True),
        ]


def test_a_part_asks_for_the_number_of_its_kind_and_how_it_is_passed(address: str):
    with shown(address, NEW) as (page, server):
        page.get_by_role("button", name="one part more").click()
        way, rating = page.locator("#part-3-way"), page.locator("#part-3-rating")
        expect(page.locator("#part-1-way")).to_be_hidden()
        way.select_option("beside")
        expect(page.locator("label[for=part-3-rating]")).to_have_text("Heat")
        page.locator("#part-3-kind").select_option("radiator")
        expect(page.locator("label[for=part-3-rating]")).to_contain_text("per kelvin")
        expect(page.locator("#part-3-rating-range")).to_have_text("1 to 200 W/K")
        expect(rating).to_have_value("20")
        rating.fill("35")
        begin(page)
        assert server.last(page, "start")["form"]["parts"][1] == {
            "name": "block 2", "kind": "radiator", "rating": 35, "beside": True,
        }  # fmt: skip
        page.get_by_role("button", name="leave out part 1").click()
        # Now it is the first, and has none before it.
        expect(way).to_be_hidden()
        page.locator("#part-3-kind").select_option("cooled")
        begin(page)
        parts = server.last(page, "start")["form"]["parts"]
        assert [(part["name"], part["beside"]) for part in parts] == [("block 2", False), ("radiator", False)]


def test_what_is_wrong_stands_beside_its_field_and_is_gone_to(address: str):
    with shown(address, NEW) as (page, server):
        for field, value, told in (
            ("#start-name", "", "Name: is missing."),
            ("#start-height", "90", "Height: must be a number from 120 to 400 mm."),
            ("#part-1-rating", "0", "Heat: must be a number from 1 to 1000 W."),
            ("#part-2-name", "pump", '"pump": a piece of the panel bears this name'),
        ):
            before = page.locator(field).input_value()
            page.locator(field).fill(value)
            begin(page)
            expect(page.locator(field)).to_be_focused()
            expect(page.locator(field)).to_have_attribute("aria-invalid", "true")
            expect(page.locator(f"{field}-wrong")).to_contain_text(told)
            assert f"{field[1:]}-wrong" in (page.locator(field).get_attribute("aria-describedby") or "")
            page.locator(field).fill(before)
        for kind, lacks in (("cooled", "a radiator"), ("radiator", "one that is cooled")):
            for part in ("#part-1-kind", "#part-2-kind"):
                page.locator(part).select_option(kind)
            begin(page)
            expect(page.locator("#parts-wrong")).to_contain_text(lacks)
            expect(page.locator("#part-1-kind")).to_be_focused()
        assert [told for told in server.got if told["do"] == "start"] == []
        page.locator("#part-1-kind").select_option("cooled")
        begin(page)
        assert server.last(page, "start")["form"]["parts"][0]["kind"] == "cooled"
        expect(page.locator("#parts-wrong")).to_be_hidden()


def test_more_side_by_side_than_a_channel_takes_is_told_at_the_part(address: str):
    with shown(address, NEW) as (page, _):
        for part in range(3, 7):
            page.get_by_role("button", name="one part more").click()
            page.locator(f"#part-{part}-way").select_option("beside")
        begin(page)
        expect(page.locator("#part-6-way")).to_be_focused()
        expect(page.locator("#part-6-way-wrong")).to_contain_text("at most 4 parts side by side")
        expect(page.locator("#part-5-way-wrong")).to_be_hidden()


# 640 px is a window of 1280 px at 200 %.
@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (390, "dark"), (640, "light"), (1280, "dark")])
def test_the_form_fits_any_window_and_bars_nobody(address: str, width: int, scheme: Any):
    with shown(address, NEW, size=(width, 844), scheme=scheme) as (page, _):
        page.get_by_role("button", name="one part more").click()
        page.locator("#part-3-name").fill("pump")
        begin(page)
        expect(page.locator("#part-3-name-wrong")).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        broken = Axe().run(page).response["violations"]
        assert [(each["id"], each["nodes"][0]["html"]) for each in broken] == []


def test_a_name_of_spaces_is_told_at_its_field(address: str):
    with shown(address, NEW) as (page, server):
        name = page.locator("#start-name")
        name.fill("  ")
        begin(page)
        expect(name).to_be_focused()
        expect(page.locator("#start-name-wrong")).to_have_text("Name: is missing.")
        assert server.got == []


def test_the_last_text_of_a_file_that_was_removed_can_be_written_again(address: str, told: dict[str, Any]):
    with shown(address, file_of(4, undo="move x"), plan_of(told, 4)) as (page, server):
        wait_for(page, shown="whole")
        server.tell(file_of(5, exists=False, undo="move x", by="editor"))
        again = page.get_by_role("button", name="write its last text again")
        expect(again).to_be_visible()
        # There is nothing to be judged, and no step that could be gone back.
        expect(page.locator(".judged")).to_have_text("")
        expect(page.get_by_role("button", name="nothing to undo")).to_be_disabled()
        again.click()
        wish = server.last(page, "text")
        assert (wish["revision"], wish["text"]) == (5, TEXT)
        server.tell(
            file_of(6), {"tell": "done", "number": wish["number"], "revision": 6, "said": "wrote panel.toml"}
        )
        expect(again).to_be_hidden()


@pytest.mark.parametrize(("size", "stacked"), [((1280, 800), False), ((390, 844), True)])
def test_fields_stand_beside_their_labels_or_below_where_it_is_narrow(
    address: str, size: tuple[int, int], stacked: bool
):
    with shown(address, NEW, size=size) as (page, _):
        fields = page.locator(".start .field:visible")
        expect(fields.first).to_be_visible()
        for field in fields.all():
            label, own = (field.locator(what).first.bounding_box() for what in ("label", "input, select"))
            assert label is not None
            assert own is not None
            assert (own["y"] >= label["y"] + label["height"]) is stacked
        assert not page.evaluate(
            "document.documentElement.scrollWidth > document.documentElement.clientWidth"
        )
        # The longest of its choices is read whole.
        closing = page.locator("#start-closing").bounding_box()
        assert closing is not None
        assert closing["width"] > 290
