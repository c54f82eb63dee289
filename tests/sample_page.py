"""The local page at work: the real command as a process of its own with those that compute, and hands on its page."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psutil
from axe_playwright_python.sync_playwright import Axe
from browser import PATIENCE_MS, OpenPage, await_frame, open_served
from playwright.sync_api import Locator, Page, expect

from layouts.file.read import parse_panel
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path

ROOT = Path(__file__).parents[1]
SMALL, MAIN = "laser-driver", "workshop-render"
SCHEMES = ("light", "dark")

LEAVE_S = 60
"""How long the server may take to end, [s]: only a broken one comes near."""

ENDING = "Ctrl-C ends it."


@dataclass(frozen=True)
class ServedPage:
    """A server at work.

    Parameters
    ----------
    address : str
        With its token.
    path : Path
        Of the panel file.
    process : Popen
    errors : Path
        What it says on standard error.
    """

    address: str
    path: Path
    process: subprocess.Popen[str]
    errors: Path

    @property
    def origin(self) -> str:
        return self.address.removesuffix(urlsplit(self.address).path)

    @property
    def port(self) -> int:
        return urlsplit(self.address).port or 0

    def text(self) -> str:
        return self.path.read_bytes().decode("utf-8")

    def panel(self) -> Panel:
        """Return what the file says: it has no errors."""
        return parse_panel(self.path.read_bytes(), self.path.name)

    def write(self, text: str) -> None:
        """Write the file as an editor does."""
        other = self.path.with_suffix(".editor")
        other.write_bytes(text.encode("utf-8"))
        other.replace(self.path)

    def said(self) -> list[str]:
        """Return the lines on standard error, but for how it ends."""
        return [line for line in self.errors.read_text(encoding="utf-8").splitlines() if line != ENDING]

    def computing(self) -> dict[str, psutil.Process]:
        """Return the processes that compute, by name: the builder lets all others go first."""
        own = psutil.Process(self.process.pid)
        spawned = [child for child in own.children() if "spawn_main" in " ".join(child.cmdline())]
        return {"builder" if child.nice() > own.nice() else "planner": child for child in spawned}


@contextlib.contextmanager
def serve_file(folder: Path, demo: str | None = SMALL, name: str = "panel.toml") -> Iterator[ServedPage]:
    """Serve a copy of a demo, or where it is None a file that is not there yet, for as long as this lasts."""
    path = folder / name
    if demo is not None:
        path.write_bytes(demo_path(demo).read_bytes())
    errors = folder.parent / f"{folder.name}.stderr"
    with errors.open("w", encoding="utf-8") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "exports", "page", str(path), "--no-browser"],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE,
            stderr=out,
            text=True,
        )
    try:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/[\w-]{43}/", address), errors.read_text(
            encoding="utf-8"
        )
        yield ServedPage(address, path, process, errors)
        process.send_signal(signal.SIGINT)
        assert process.wait(LEAVE_S) == 0
        assert "Traceback" not in errors.read_text(encoding="utf-8")
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


@contextlib.contextmanager
def open_quiet(served: ServedPage, **how: Any) -> Iterator[Page]:
    """Open its page, which neither asks another server for anything nor complains to the end."""
    with open_served(served.address, **how) as opened:
        yield opened.page
        assert_quiet(opened)


def assert_quiet(opened: OpenPage) -> None:
    assert not opened.requests, opened.requests
    assert not opened.complaints, opened.complaints


# ---- What the page shows ---------------------------------------------------------------------------------------------


def await_root(page: Page, **values: str | int) -> None:
    """Wait until the page says so of itself: `shown="checked"`, `revision=2`."""
    page.locator("html" + tell_data(values)).wait_for(state="attached")


def await_plan(page: Page, revision: int) -> None:
    """Wait until the plan of a revision is drawn, with nothing in hand."""
    page.locator(f'.plan-view[data-plan-revision="{revision}"][data-draft-phase="none"]').wait_for()
    await_frame(page)


def await_calm(page: Page) -> None:
    """Wait until a plan of the newest text is drawn, with nothing in hand."""
    shown = ", ".join(f'html[data-shown="{depth}"]' for depth in ("quick", "whole", "checked"))
    page.locator(shown).wait_for(state="attached")
    page.locator('.plan-view[data-draft-phase="none"] .thing').first.wait_for(state="attached")


def await_idle(page: Page) -> None:
    """Wait until all is answered, nothing is in hand, and what is drawn is of the newest text; after `count_wishes`."""
    while True:
        await_root(page, unanswered=0)
        page.locator('.plan-view[data-draft-phase="none"]').wait_for()
        revision = revision_of(page)
        await_plan(page, revision)
        root = page.locator(f'html[data-unanswered="0"][data-revision="{revision}"]')
        if root.count() and page.locator('.plan-view[data-draft-phase="none"]').count():
            return


def await_text(page: Page, text: str) -> None:
    """Wait until the page holds a text of the file."""
    expect(page.locator("#file-text")).to_have_value(text, timeout=PATIENCE_MS)


def await_draft(page: Page) -> None:
    """Wait until what is in hand has its routes."""
    trying = '.plan-view[data-draft-phase="trying"]:not([data-draft-shown=""])'
    page.locator(f"{trying} .plan-stage:not(.waiting)").wait_for()


def tell_data(values: dict[str, Any]) -> str:
    return "".join(f'[data-{name.replace("_", "-")}="{value}"]' for name, value in values.items())


def revision_of(page: Page) -> int:
    return int(page.locator("html").get_attribute("data-revision") or 0)


def thing(page: Page, name: str) -> Locator:
    """Return what is pointed at in the plan: "port:fill", "tank", "channel:feed"."""
    return page.locator(f'.plan-stage .thing[data-thing="{name}"]')


def place_of(page: Page, name: str) -> tuple[float, float]:
    """Return where a thing is shown, [mm]."""
    x, y = (thing(page, name).get_attribute("data-at") or "").split()
    return float(x), float(y)


def await_place(page: Page, name: str, x: float, y: float) -> None:
    """Wait until a thing is shown at a place, [mm]."""
    page.locator(f'.plan-stage .thing[data-thing="{name}"][data-at="{x:g} {y:g}"]').wait_for(state="attached")


def choose_tab(page: Page, title: str) -> None:
    page.get_by_role("tab", name=re.compile(f"^{title}")).click()


def button(page: Page, words: str | re.Pattern[str]) -> Locator:
    return page.get_by_role("button", name=words, exact=isinstance(words, str))


def find_barriers(page: Page) -> list[str]:
    """Return what keeps some from using the page as it stands, in both schemes."""
    found = []
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme)
        result = Axe().run(page)
        if result.violations_count:
            found.append(f"{scheme}: {result.generate_report()}")
    page.emulate_media(color_scheme=SCHEMES[0])
    return found


# ---- Hands on it -----------------------------------------------------------------------------------------------------


def standing_box(page: Page, name: str) -> dict[str, float]:
    """Return where a thing is hit, [px], once it stands still: a line of words that comes or goes moves the plan."""
    before = None
    for _ in range(100):
        box = thing(page, name).locator(".hit").bounding_box()
        if box is not None and box == before:
            return dict(box)
        before = box
        page.wait_for_timeout(50)
    raise AssertionError(f"{name} never stands still")


def take(page: Page, name: str, by: tuple[float, float]) -> tuple[float, float]:
    """Take a thing by the mouse and hold it so far from where it was, [mm]; return where the pointer is, [px]."""
    box = standing_box(page, name)
    px = page.locator(".plan-stage").evaluate(
        "svg => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width"
    )
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    to = (x + px * by[0], y - px * by[1])
    page.mouse.move(*to, steps=3)
    return to


def drag(page: Page, name: str, by: tuple[float, float]) -> None:
    """Take a thing so far, [mm], and let it go once its routes are there."""
    take(page, name, by)
    await_draft(page)
    page.mouse.up()


def press(page: Page, name: str, *keys: str) -> None:
    """Take a thing by the keyboard and press keys on it; the keyboard then leaves it."""
    one = thing(page, name)
    one.focus()
    if one.get_attribute("aria-pressed") != "true":
        page.keyboard.press(" ")
        page.locator(f'.plan-stage .thing[data-thing="{name}"][aria-pressed="true"]').wait_for(
            state="attached"
        )
    for key in keys:
        page.keyboard.press(key)


# ---- What page and server say ----------------------------------------------------------------------------------------

COUNT_WISHES = """
(() => {
  const open = [];
  const tell = () => { document.documentElement.dataset.unanswered = open.length; };
  window.WebSocket = class extends WebSocket {
    constructor(...words) {
      super(...words);
      this.addEventListener("message", ({ data }) => {
        const { tell: what, number } = JSON.parse(data);
        const at = what === "conflict" ? 0 : ["done", "refused"].includes(what) ? open.indexOf(number) : -1;
        if (at >= 0) open.splice(at, 1);
        tell();
      });
    }
    send(text) {
      const { do: what, number = 0 } = JSON.parse(text);
      if (["edit", "text", "undo", "redo"].includes(what)) open.push(number);
      tell();
      super.send(text);
    }
  };
})();
"""


def count_wishes(page: Page) -> None:
    """Load the page anew; how many of its wishes to change the file are not answered yet then stands in its root."""
    page.add_init_script(COUNT_WISHES)
    page.reload()


def listen(page: Page) -> list[dict[str, Any]]:
    """Load the page anew; return the list of all that the server then tells it."""
    await_root(page, connected="true")
    with page.expect_websocket() as opening:
        page.reload()
    told: list[dict[str, Any]] = []
    opening.value.on("framereceived", lambda text: told.append(json.loads(text)))
    return told
