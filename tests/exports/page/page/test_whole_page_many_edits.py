"""Two hundred edits at random by mouse and keys, some before the last is answered: nothing stale is ever shown."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Page
from sample_page import (
    ServedPage,
    await_idle,
    await_root,
    button,
    count_wishes,
    open_quiet,
    place_of,
    press,
    revision_of,
    serve_file,
    take,
    thing,
)

from exports.pipeline import plan_panel
from geom.errors import LayoutError
from layouts.panel import Panel

pytestmark = [pytest.mark.needs("chromium"), pytest.mark.usefixtures("shared_browser")]

EDITS, SEED = 200, 20
MOVED = (
    "port:diode block inlet",
    "port:diode block outlet",
    "port:radiator inlet",
    "port:radiator outlet",
    "port:drain",
    "tank",
    "pump",
)
CHANNELS = ("channel:pump - diode block", "channel:diode block - radiator", "channel:radiator - tank")
STEPS = [-10, -5, 5, 10]

NOTE_ALL = """
() => {
  window.noted = {revision: [], planRevision: [], draftShown: []};
  const note = (element, name) => new MutationObserver(() => noted[name].push(element.dataset[name]))
    .observe(element, {attributeFilter: ["data-" + name.replace(/[A-Z]/g, "-$&").toLowerCase()]});
  note(document.documentElement, "revision");
  note(document.querySelector(".plan-view"), "planRevision");
  note(document.querySelector(".plan-view"), "draftShown");
}
"""


class Hands:
    """Does one edit after the other; where nobody waits, the next may come before the last is answered."""

    def __init__(self, page: Page, chance: random.Random) -> None:
        self.page = page
        self.chance = chance
        self.done: Counter[str] = Counter()
        self._kinds: list[tuple[Callable[[], bool], int]] = [
            (self.drag_slowly, 6),
            (self.drag_fast, 6),
            (self.step, 4),
            (self.turn, 1),
            (self.undo, 3),
            (self.redo, 2),
            (self.widen, 2),
            (self.keep_or_let, 2),
        ]

    def act(self) -> None:
        """Do an edit that can be done."""
        functions, weights = zip(*self._kinds, strict=True)
        while True:
            (act,) = self.chance.choices(functions, weights)
            if act():
                self.done[act.__name__] += 1
                return

    def _way(self) -> tuple[int, int]:
        way = [0, 0]
        way[self.chance.randrange(2)] = self.chance.choice(STEPS)
        return way[0], way[1]

    def drag_slowly(self) -> bool:
        take(self.page, self.chance.choice(MOVED), self._way())
        self.page.locator(".plan-stage:not(.waiting)").wait_for()
        self.page.mouse.up()
        return True

    def drag_fast(self) -> bool:
        take(self.page, self.chance.choice(MOVED), self._way())
        self.page.mouse.up()
        return True

    def step(self) -> bool:
        arrows = [self.chance.choice(("ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown")) for _ in range(2)]
        press(self.page, self.chance.choice(MOVED), *arrows, "Tab")
        return True

    def turn(self) -> bool:
        press(self.page, "pump", "r", "Tab")
        return True

    def undo(self) -> bool:
        return self._walk("undo", "Control+z")

    def redo(self) -> bool:
        return self._walk("redo", "Control+y")

    def _walk(self, word: str, keys: str) -> bool:
        if button(self.page, f"nothing to {word}").count():
            return False
        self.page.locator(".plan-stage").focus()
        self.page.keyboard.press(keys)
        return True

    def widen(self) -> bool:
        self._open_channel()
        field = self.page.get_by_role("spinbutton", name="width")
        field.fill(str(self.chance.choice((6, 7, 8))))
        field.press("Enter")
        return True

    def keep_or_let(self) -> bool:
        self._open_channel()
        self.page.locator(".thing-buttons button").filter(has_text="route").click()
        return True

    def _open_channel(self) -> None:
        press(self.page, self.chance.choice(CHANNELS), "Enter")


def pinned_places(panel: Panel) -> dict[str, tuple[float, float]]:
    """Return where the file itself says that things stand."""
    ports = [port for part in panel.parts for port in (part.inlet, part.outlet)]
    places = {f"port:{port.name}": port.at for port in ports if port.at is not None}
    return places | {
        name: at for name, at in (("tank", panel.tank.at), ("pump", panel.pump.at)) if at is not None
    }


def assert_shown(served: ServedPage, page: Page) -> None:
    """What the file says is what is shown."""
    for name, at in pinned_places(served.panel()).items():
        assert place_of(page, name) == pytest.approx(at, abs=1e-3), name


def test_two_hundred_edits_show_nothing_stale(tmp_path: Path):
    chance = random.Random(SEED)
    with serve_file(tmp_path) as served, open_quiet(served) as page:
        count_wishes(page)
        await_idle(page)
        page.evaluate(NOTE_ALL)
        hands = Hands(page, chance)
        for _ in range(EDITS):
            hands.act()
            if chance.random() < 0.7:
                await_idle(page)
                if not page.locator("html").get_attribute("data-problem"):
                    assert_shown(served, page)
        await_idle(page)
        noted = page.evaluate("noted")
        for name, values in noted.items():
            numbers = [int(value) for value in values if value]
            assert all(a <= b for a, b in pairwise(numbers)), name
        assert revision_of(page) > EDITS / 2
        print(hands.done, revision_of(page))
        assert served.said() == []
        compare_with_the_command(served, page)


def compare_with_the_command(served: ServedPage, page: Page) -> None:
    """The plan that is shown at last is the one of the file alone, whatever came before it."""
    try:
        plan = plan_panel(served.path)
    except LayoutError:
        await_root(page, problem="layout")
        return
    await_root(page, shown="checked", problem="")
    for port in plan.routed.ports:
        assert place_of(page, f"port:{port.name}") == pytest.approx(port.at[:2], abs=1e-3)
    assert place_of(page, "pump") == pytest.approx(plan.routed.pump.inlet, abs=1e-3)
    for channel in plan.routed.channels:
        assert thing(page, f"channel:{channel.name}").count() == 1
