"""The whole job in a real browser, with the real server: from no file at all to its files in hand."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import cadquery
import pytest
from playwright.sync_api import Download, Page
from sample_page import (
    SMALL,
    await_place,
    await_plan,
    await_root,
    button,
    choose_tab,
    drag,
    find_barriers,
    open_quiet,
    place_of,
    serve_file,
)

from layouts.panels.catalogue import demo_path

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

INLET = "port:diode block inlet"


def fetch(page: Page, words: str) -> Download:
    with page.expect_download() as fetching:
        page.get_by_role("link", name=words).click()
    return fetching.value


def read(download: Download) -> bytes:
    return Path(download.path()).read_bytes()


def read_bodies(folder: Path, data: bytes) -> list[cadquery.Shape]:
    path = folder / "read-back.step"
    path.write_bytes(data)
    return cadquery.importers.importStep(str(path)).solids().vals()


def test_from_a_demo_to_its_step_file(tmp_path: Path):
    with serve_file(tmp_path, demo=None) as served, open_quiet(served) as page:
        button(page, f"begin with the demo {SMALL}").wait_for()
        assert not served.path.exists()
        assert find_barriers(page) == []
        button(page, f"begin with the demo {SMALL}").click()
        await_root(page, shown="checked", solid="ready")
        assert served.text() == demo_path(SMALL).read_text(encoding="utf-8")
        x, y = place_of(page, INLET)
        drag(page, INLET, (5, 0))
        await_plan(page, 3)
        await_place(page, INLET, x + 5, y)
        assert 'at = ["65 mm", "35 mm"]' in served.text()
        await_root(page, revision=3, shown="checked", solid="ready", solid_revision=3)
        findings = page.locator("#findings li[data-code]")
        assert findings.count() > 0
        assert find_barriers(page) == []
        choose_tab(page, "Make")
        button(page, "make the files").click()
        page.locator("#make progress").wait_for()
        await_root(page, make="made")
        assert find_barriers(page) == []
        step = fetch(page, "body.step")
        assert step.suggested_filename == "body.step"
        data = read(step)
        assert data.startswith(b"ISO-10303-21;")
        bodies = read_bodies(tmp_path, data)
        panel = served.panel()
        assert len(bodies) == 1
        box = bodies[0].BoundingBox()
        assert (box.xlen, box.ylen) == pytest.approx((panel.width, panel.height), abs=1e-3)
        names = page.locator("#make .files a").all_inner_texts()
        packed = fetch(page, f"all {len(names)} files, as one")
        with zipfile.ZipFile(io.BytesIO(read(packed))) as archive:
            assert archive.testzip() is None
            assert sorted(Path(name).name for name in archive.namelist()) == sorted(names)
            (own,) = (name for name in archive.namelist() if Path(name).name == "body.step")
            assert archive.read(own) == data
        page.locator("#make .files li").filter(has_text="report.html").wait_for()


def test_from_the_form_to_its_step_file_by_keys_alone(tmp_path: Path):
    """Nothing is clicked: Tab, arrow keys, the space bar and Enter lead everywhere."""
    with serve_file(tmp_path, demo=None) as served, open_quiet(served) as page:
        page.locator("#start-name").wait_for()
        tab_to(page, "#start-name")
        page.keyboard.press("Control+A")
        page.keyboard.type("by keys")
        tab_to(page, ".start button[type=submit]")
        page.keyboard.press("Enter")
        await_root(page, revision=2, shown="checked")
        assert served.panel().name == "by keys"
        press_port(page, "ArrowLeft")  # the started pump stands to its right
        await_plan(page, 3)
        await_root(page, revision=3, shown="checked", solid="ready", solid_revision=3)
        tab_to(page, "#findings-tab")
        page.keyboard.press("End")
        tab_to(page, "#make button.first")
        page.keyboard.press("Enter")
        await_root(page, make="made")
        tab_to(page, '#make a[download="body.step"]')
        with page.expect_download() as fetching:
            page.keyboard.press("Enter")
        assert read(fetching.value).startswith(b"ISO-10303-21;")


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until an element has the focus; from the page's end on from its beginning."""
    for _ in range(120):
        if page.locator(selector).evaluate("element => element === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never comes to {selector}")


def press_port(page: Page, arrow: str) -> None:
    tab_to(page, '.plan-stage .things-of-port .thing[tabindex="0"]')
    page.keyboard.press(" ")
    page.keyboard.press(arrow)
