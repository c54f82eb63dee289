"""Signs and colours: the same in the list, in the plan, on the solid and in the report."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from scripted_server import HELLO, file_of, plan_of, shown, wait_for

ROOT = Path(__file__).parents[4] / "exports"
PAGE, REPORT = ROOT / "page/web/src/page/page.css", ROOT / "report/html/style.css"
PARTS = ROOT / "report/html/templates/parts.html"


def values_of(text: str) -> dict[str, str]:
    return dict(re.findall(r"(--[\w-]+):\s*(light-dark\([^)]*\)|#\w+);", text))


def test_the_page_has_the_colours_of_the_report():
    sheet = REPORT.read_text(encoding="utf-8").split("@page")[0]
    light, dark = (values_of(part) for part in sheet.split("@media (prefers-color-scheme: dark)"))
    page = values_of(PAGE.read_text(encoding="utf-8"))
    assert light.keys() == dark.keys()
    assert {name: page[name] for name in light} == {
        name: f"light-dark({light[name]}, {dark[name]})" for name in light
    }


@pytest.mark.needs("chromium")
@pytest.mark.usefixtures("shared_browser")
def test_severities_have_one_shape_and_one_colour_each(address: str, told: dict[str, Any]):
    template = PARTS.read_text(encoding="utf-8")
    shapes = dict(re.findall(r'mark == "(\w+)" %}\n<path class="ground" d="([^"]+)"', template))
    assert shapes.keys() == {"fault", "caution"}
    assert '<circle class="ground" cx="8" cy="8" r="8"/>' in template
    shapes["note"] = "M0 8a8 8 0 1 0 16 0a8 8 0 1 0-16 0z"
    colour = "element => getComputedStyle(element).fill"
    placed = [finding | {"at": [20.0 + 30 * k, 60.0, 10.0]} for k, finding in enumerate(told["findings"])]
    solid = {"tell": "solid", "revision": 1, "address": "scene/1.json", "checked": True}
    with shown(address, file_of(1), plan_of(told, 1, findings=placed), solid) as (page, _):
        wait_for(page, shown="checked")
        for severity, shape in shapes.items():
            mark = page.locator(f".finding.{severity} .finding-shape")
            sign = page.locator(f".filter .sign.{severity} .ground")
            assert mark.get_attribute("d") == sign.get_attribute("d") == shape
            # The plan is drawn anew at times: its mark is asked until it stands.
            expect(mark).to_have_css("fill", sign.evaluate(colour))
        # On the solid, by the style sheet alone: the sample's findings have no place in the scene.
        page.locator("#solid-title").scroll_into_view_if_needed()
        wait_for(page, solid="ready")
        for severity in shapes:
            pin = 'document.querySelector(".solid-pins").appendChild(document.createElement("button"))'
            seen = page.evaluate(
                f"(() => {{ const pin = {pin}; pin.className = 'solid-pin solid-pin-{severity}'; "
                "return getComputedStyle(pin, '::before').backgroundColor; })()"
            )
            assert seen == page.locator(f".filter .sign.{severity} .ground").evaluate(colour)


@pytest.mark.needs("chromium")
@pytest.mark.usefixtures("shared_browser")
def test_numbers_have_a_true_minus(address: str, told: dict[str, Any]):
    words = {"told": {"flow": "-", "velocity": "0.4", "drop": "-1.5"}}
    channels = [channel | words for channel in told["plan"]["channels"]]
    turned = told | {"plan": told["plan"] | {"channels": channels}}
    with shown(address, file_of(1), plan_of(turned, 1)) as (page, _):
        page.get_by_role("tab", name="Numbers").click()
        cells = page.locator("#numbers tbody tr").first.locator("td")
        expect(cells.nth(0)).to_have_text("-")
        expect(cells.nth(2)).to_have_text("−1.5")


@pytest.mark.needs("chromium")
@pytest.mark.usefixtures("shared_browser")
def test_where_legs_meet_no_edge_lies_across(address: str, told: dict[str, Any]):
    """Of each layer of a channel the edges are drawn before all legs, which cover what lies within."""
    with shown(address, file_of(1), plan_of(told, 1)) as (page, _):
        wait_for(page, shown="whole")
        page.locator(".layer-channels .leg").first.wait_for(state="attached")
        order = page.locator(".layer-channels .channel").evaluate_all(
            "groups => groups.map((group) => [...group.querySelectorAll('.leg, .channel-edge')]"
            ".map((each) => each.classList.contains('leg') ? 'leg' : 'channel-edge'))"
        )
        drawn = [names for names in order if names]
        assert drawn
        for names in drawn:
            assert names[0] == "channel-edge"
            assert names[-1] == "leg"


@pytest.mark.needs("chromium")
@pytest.mark.usefixtures("shared_browser")
def test_the_form_of_a_new_panel_goes_by_the_servers_limits(address: str):
    own = {"width": [170.0, 440.0], "parts": 3, "closings": ["bonded"], "reserved": ["sump"]}
    with shown(address, file_of(1, "", exists=False), hello=HELLO | {"limits": HELLO["limits"] | own}) as (
        page,
        _,
    ):
        expect(page.get_by_text("170 to 440 mm")).to_be_visible()
        width = page.get_by_label("Width")
        assert (width.get_attribute("min"), width.get_attribute("max")) == ("170", "440")
        expect(page.locator("#part-2-name")).to_have_value("radiator")
        page.get_by_role("button", name="one part more").click()
        expect(page.locator("#part-3-name")).to_be_focused()
        expect(page.get_by_role("button", name="one part more")).to_be_disabled()
        assert page.get_by_label("Closed by").locator("option").count() == 1
        for name, why in (("block 1", "stands twice"), ("sump", "bears this name")):
            page.locator("#part-3-name").fill(name)
            page.get_by_role("button", name="begin with this panel").click()
            expect(page.locator("#part-3-name-wrong")).to_contain_text(why)
            expect(page.locator("#part-3-name")).to_be_focused()
        expect(page.locator(".skip")).to_have_attribute("href", "#start-title")
