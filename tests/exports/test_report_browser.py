"""The report in a real browser, from a file: it asks for nothing, answers to pointer and keys, and all can read it."""

from __future__ import annotations

import itertools
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import OpenPage, open_file
from playwright.sync_api import Page
from sample_demos import plan_demo
from sample_failure import sample_failure
from sample_plan import fault

from exports.check_solids import Checked
from exports.pictures.closing_picture import draw_closing
from exports.pictures.failure_picture import draw_failure
from exports.pictures.panel_picture import draw_panel
from exports.pictures.plan_picture import draw_plan
from exports.pictures.pressure_picture import draw_pressure
from exports.pictures.setup_picture import draw_setups
from exports.report.html.whole import failure_page, report_page
from geom.findings import Finding
from layouts.cost.quantities import cost_sheet
from layouts.plan import Plan
from layouts.rules.catalogue import RULES
from layouts.rules.findings import make_finding
from tests.exports.test_charts import TO_XYZ, VISIONS, linear_light, to_lab

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

FILES = (("plan.svg", "the plan"), ("cost.csv", "what it takes"))
TOUCHED = ("processor block inlet", "pump - processor block", "processor block")
"""A port, its channel, its part."""


@dataclass(frozen=True)
class Pages:
    """Reports as files: of a panel with solids, of one with faults of the plan, of one without a layout."""

    solid: Path
    faulty: Path
    failed: Path


def write_page(folder: Path, name: str, text: str) -> Path:
    path = folder / f"{name}.html"
    path.write_text(text, encoding="utf-8")
    return path


def some_findings(plan: Plan) -> tuple[Finding, ...]:
    at = (*plan.routed.pump.inlet, 4.5)
    return (
        make_finding(
            "flow.fast", "caution", "flow is fast", "widen it", 2.0, 1.5, "m/s", at, ("channel feed",)
        ),
        make_finding("port.torque", "note", "ports have their threads in a plastic", "turn them in by hand"),
    )


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory, plan: Plan, checked: Checked) -> Pages:
    folder = tmp_path_factory.mktemp("pages")
    drawn = {"plan.svg": draw_plan(plan), "panel.svg": draw_panel(plan, checked)}
    solid = report_page(plan, checked, some_findings(plan), cost_sheet(plan), drawn, FILES)
    demo = plan_demo("workshop-render")
    pictures = {
        "plan.svg": draw_plan(demo),
        "pressure.svg": draw_pressure(demo),
        "closing.svg": draw_closing(demo, "back"),
        "setups.svg": draw_setups(demo),
    }
    found = (*demo.findings, fault(), *some_findings(demo))
    faulty = report_page(demo, None, found, cost_sheet(demo), pictures, FILES)
    failure = sample_failure()
    return Pages(
        write_page(folder, "solid", solid),
        write_page(folder, "faulty", faulty),
        write_page(folder, "failed", failure_page(failure, draw_failure(failure))),
    )


@pytest.fixture
def faulty(pages: Pages) -> Iterator[OpenPage]:
    with open_file(pages.faulty) as opened:
        yield opened
        assert opened.requests == []
        assert opened.complaints == []


def tokens_lit(page: Page) -> set[str]:
    return set(
        page.evaluate("[...document.querySelectorAll('.thing.lit, tr.lit')].map(e => e.dataset.token)")
    )


def port_token(name: str) -> str:
    ports = plan_demo("workshop-render").routed.ports
    return f"port-{[port.name for port in ports].index(name) + 1}"


def channel_token(name: str) -> str:
    channels = plan_demo("workshop-render").routed.channels
    return f"channel-{[channel.name for channel in channels].index(name) + 1}"


def wait_for_solid(page: Page) -> str:
    # By its locator: the page's own policy keeps a test from waiting by a script.
    page.locator("html[data-solid]").wait_for(state="attached")
    return page.evaluate("document.documentElement.dataset.solid")


@pytest.mark.parametrize("name", ["solid", "faulty", "failed"])
def test_opened_as_a_file_it_asks_for_nothing_and_complains_of_nothing(pages: Pages, name: str):
    with open_file(getattr(pages, name)) as opened:
        if name == "solid":
            assert wait_for_solid(opened.page) == "ready"
        opened.page.mouse.wheel(0, 20000)
        opened.page.wait_for_timeout(100)
        assert opened.requests == []
        assert opened.complaints == []


def test_pointing_at_a_port_lights_up_its_channel_its_part_and_their_rows(faulty: OpenPage):
    page = faulty.page
    port, channel, part = TOUCHED
    expected = {port_token(port), channel_token(channel), "part-1"}
    page.locator(f".reach [data-token={port_token(port)}]").hover()
    assert tokens_lit(page) == expected
    rows = page.locator("tr.lit").all_inner_texts()
    assert any(channel in row for row in rows)
    assert any(row.startswith(port) for row in rows)
    assert any(row.startswith(part) for row in rows)
    said = page.locator("#plan-said").inner_text()
    assert port in said
    assert channel in said
    page.mouse.move(2, 2)
    assert tokens_lit(page) == set()
    assert page.locator("#plan-said").inner_text() == ""


def test_pointing_at_a_channel_tells_its_flow_drop_and_length(faulty: OpenPage):
    page = faulty.page
    name = "pump - processor block"
    page.locator(f"tr[data-token={channel_token(name)}]").first.hover()
    said = page.locator("#plan-said").inner_text()
    row = page.locator(f"tr[data-token={channel_token(name)}]").first.locator("td").all_inner_texts()
    for value in (row[0], row[3], row[6]):
        assert value in said
    assert port_token("processor block inlet") in tokens_lit(page)


def test_a_click_keeps_what_is_lit_and_tells_the_solid_until_escape(faulty: OpenPage):
    page = faulty.page
    page.evaluate("document.addEventListener('rillplate:show', e => window.asked = e.detail)")
    token = port_token("processor block inlet")
    page.locator(f".reach [data-token={token}]").click()
    page.mouse.move(2, 2)
    assert token in tokens_lit(page)
    assert page.evaluate("window.asked") == {"feature": "port processor block inlet G1/4"}
    assert page.locator(f".thing[data-token={token}]").get_attribute("aria-pressed") == "true"
    page.keyboard.press("Escape")
    assert tokens_lit(page) == set()
    assert page.locator(".thing[aria-pressed=true]").count() == 0


def test_what_is_picked_in_the_solid_is_marked_in_plan_and_tables(faulty: OpenPage):
    page = faulty.page

    def pick(feature: str) -> set[str]:
        page.evaluate(
            "f => document.dispatchEvent(new CustomEvent('rillplate:picked', {detail: {feature: f}}))",
            feature,
        )
        return tokens_lit(page)

    assert channel_token("feed") in pick("channel feed")
    assert pick("port drain G1/4") >= {port_token("drain"), channel_token("drain")}
    assert pick("cover clearance 7") >= {port_token("drain")}


def test_keys_walk_through_ports_and_channels_in_flow_order(faulty: OpenPage):
    page = faulty.page
    order = page.evaluate("[...document.querySelectorAll('.thing')].map(e => e.dataset.token)")
    channels = [token for token in order if token.startswith("channel")]
    assert channels == [f"channel-{k}" for k in range(1, 9)]
    assert order.index(port_token("processor block outlet")) < order.index("channel-3")
    assert order.index("channel-3") < order.index(port_token("graphics left inlet"))

    def at() -> str:
        return page.evaluate("document.activeElement.dataset.token ?? document.activeElement.className")

    page.locator("#plan-title").focus()
    page.keyboard.press("Tab")
    assert at() == "skip"
    page.keyboard.press("Tab")
    assert at() == order[0]
    page.keyboard.press("Tab")
    assert at() == order[1]
    page.keyboard.press("ArrowRight")
    assert at() == order[2]
    page.keyboard.press("ArrowUp")
    assert at() == order[1]
    assert order[1] in tokens_lit(page)
    page.keyboard.press("Enter")
    assert page.locator(".thing[aria-pressed=true]").get_attribute("data-token") == order[1]
    page.keyboard.press("End")
    assert at() == order[-1]
    page.keyboard.press("Escape")
    page.locator("#plan-title").focus()
    assert tokens_lit(page) == set()


def test_the_filter_shows_only_the_severities_that_are_ticked(faulty: OpenPage):
    page = faulty.page
    shown = ".findings > li:not([hidden])"
    whole = page.locator(shown).count()
    page.locator(".filter input[value=note]").uncheck()
    severities = set(page.evaluate(f"[...document.querySelectorAll('{shown}')].map(e => e.dataset.severity)"))
    assert severities == {"fault", "caution"}
    assert str(page.locator(shown).count()) in page.locator("#findings-said").inner_text()
    page.locator(".filter input[value=note]").focus()
    page.keyboard.press("Space")
    assert page.locator(shown).count() == whole
    # A link from the verdict leads to a finding even where its severity is not ticked, each time.
    for _ in range(2):
        page.locator(".filter input[value=caution]").uncheck()
        page.locator(".against a", has_text="flow.fast").click()
        page.locator(".findings > li", has_text="flow is fast").wait_for(state="visible", timeout=5000)


def test_a_finding_leads_to_its_place_in_the_plan(faulty: OpenPage):
    page = faulty.page
    finding = page.locator(".findings > li", has_text="flow is fast")
    finding.get_by_role("button", name="Show on the plan").click()
    assert page.evaluate("document.activeElement.id") == "plan-title"
    assert tokens_lit(page) == {channel_token("feed")}
    assert "flow is fast" in page.locator("#plan-said").inner_text().lower()
    finder = page.locator("#plan-finder").bounding_box()
    # The mark stands at the pump's inlet, where the feed channel ends.
    outline = page.locator(f".thing[data-token={channel_token('feed')}]").bounding_box()
    assert finder is not None
    assert outline is not None
    assert finder["x"] + finder["width"] / 2 == pytest.approx(outline["x"] + outline["width"] / 2, abs=2.0)
    page.keyboard.press("Escape")
    assert page.locator("#plan-finder").evaluate("e => getComputedStyle(e).display") == "none"


def test_a_finding_leads_to_its_place_in_the_solid(pages: Pages):
    with open_file(pages.solid) as opened:
        page = opened.page
        wait_for_solid(page)
        page.evaluate("document.addEventListener('rillplate:show', e => window.asked = e.detail)")
        page.get_by_role("button", name="Show in the solid").click()
        assert page.evaluate("window.asked") == {"finding": 0}
        assert page.evaluate("document.activeElement.id") == "solid-title"
        assert opened.complaints == []


def test_print_shows_the_projection_instead_of_what_can_be_turned(pages: Pages):
    with open_file(pages.solid) as opened:
        page = opened.page
        assert wait_for_solid(page) == "ready"
        assert not page.locator(".projection").is_visible()
        assert page.locator("#solid canvas").is_visible()
        page.emulate_media(media="print")
        assert page.locator(".projection svg").is_visible()
        assert not page.locator("#solid canvas").is_visible()
        for gone in ("nav", ".buttons button", ".filter", ".skip"):
            assert not page.locator(gone).first.is_visible()
        assert page.locator("main > section#flow").is_visible()


@pytest.mark.needs("pdftotext")
def test_on_paper_folds_are_open_and_tall_pictures_run_over_pages_laid_sideways(
    faulty: OpenPage, tmp_path: Path
):
    page = faulty.page
    folds = page.locator("details")
    assert folds.count() > 0
    assert page.locator("details[open]").count() == 0
    page.locator("details").first.evaluate("e => { e.open = true; }")
    paper = tmp_path / "page.pdf"
    page.pdf(path=paper, prefer_css_page_size=True)
    assert page.locator("details[open]").count() == 1
    said = subprocess.run(
        ["pdftotext", "-layout", paper, "-"], capture_output=True, text=True, check=True
    ).stdout
    assert all(rule.code in said for rule in RULES)
    boxes = subprocess.run(["pdfinfo", "-l", "99", paper], capture_output=True, text=True, check=True).stdout
    sizes = [tuple(map(float, pair)) for pair in re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+)", boxes)]
    sideways = [number for number, (wide, tall) in enumerate(sizes) if wide > tall]
    setups = plan_demo("workshop-render").milled.setups
    assert len(sideways) >= 2
    pages = said.split("\f")
    for number in range(1, len(setups) + 1):
        assert [k for k in sideways if f"{number} of {len(setups)}: " in pages[k]]
    # 11 picture units, those of the set-ups' tables, are 6 pt and more.
    words = page_words(paper, sideways[0] + 1)
    assert min(words) >= 6.0


def page_words(paper: Path, number: int) -> list[float]:
    """Return how tall the words of a page stand, [pt]."""
    told = subprocess.run(
        ["pdftotext", "-bbox", "-f", str(number), "-l", str(number), paper, "-"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return [float(low) - float(top) for top, low in re.findall(r'yMin="([\d.]+)".*?yMax="([\d.]+)"', told)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.published(
    source="Machado, Oliveira, Fernandes, A physiologically-based model for simulation of color vision deficiency, "
    "IEEE TVCG 15 (2009), matrices of severity 1 (read in copies), on linear sRGB; CIE 1976 distance; WCAG 2.2, "
    "success criterion 1.4.3: 4.5 to 1"
)
def test_severities_are_told_apart_for_every_colour_vision(faulty: OpenPage, pages: Pages, scheme: str):
    page = faulty.page
    page.emulate_media(color_scheme=scheme)
    names = ("fault", "caution", "note", "good", "card")
    read = "n => getComputedStyle(document.documentElement).getPropertyValue('--' + n).trim()"
    colours = {name: page.evaluate(read, name) for name in names}
    ground = float(TO_XYZ[1] @ linear_light(colours.pop("card")))
    for colour in colours.values():
        low, high = sorted((float(TO_XYZ[1] @ linear_light(colour)), ground))
        assert (high + 0.05) / (low + 0.05) >= 4.5
    for vision in VISIONS.values():
        seen = [to_lab(vision @ linear_light(colour)) for colour in colours.values()]
        for a, b in itertools.combinations(seen, 2):
            assert np.linalg.norm(a - b) >= 15.0


@pytest.mark.parametrize("name", ["solid", "faulty", "failed"])
def test_a_narrow_window_needs_no_sideways_scrolling(pages: Pages, name: str):
    with open_file(getattr(pages, name), (360, 740)) as opened:
        page = opened.page
        if name == "solid":
            wait_for_solid(page)
        for _ in range(12):
            page.mouse.wheel(0, 2500)
            page.wait_for_timeout(30)
            assert page.evaluate("document.documentElement.scrollWidth") <= 360
        # What is wider than its room takes the keyboard.
        too_wide = "e.checkVisibility() && e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0"
        left_out = page.evaluate(f"[...document.querySelectorAll('.wide')].filter(e => {too_wide}).length")
        assert left_out == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["solid", "faulty", "failed"])
def test_nothing_keeps_anybody_from_reading_it(pages: Pages, name: str, scheme: str):
    with open_file(getattr(pages, name), scheme=scheme) as opened:
        page = opened.page
        if name == "solid":
            wait_for_solid(page)
        # All of it is looked at, what is laid out only when it is come to included.
        page.add_style_tag(content="main > section { content-visibility: visible !important; }")
        for folded in page.locator("details").all():
            folded.evaluate("e => { e.open = true; }")
        result = Axe().run(page)
        assert result.violations_count == 0, result.generate_report()
