"""A real Chromium for tests: pages from files and servers, with all that they ask for or complain about noted."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Playwright,
    Request,
    WebSocket,
    sync_playwright,
)

CHROMIUM = "chromium"
"""The program's name."""

# WebGL in software, and none of the browser's own calls home. The page itself is not drawn by that renderer: a thing
# that is moved by a node then took seven times the processor's time.
ARGUMENTS = (
    "--enable-unsafe-swiftshader",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

READ_BACK = "GPU stall due to ReadPixels"
"""What the browser's own driver says where a drawing in WebGL is put into a page that is drawn without it."""

PATIENCE_MS = 120_000
"""No wait for a served page takes longer: only a broken one comes near."""


@dataclass
class OpenPage:
    """A page with what it asked for beside itself, and what it complained about."""

    page: Page
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


class _Shared:
    """The browsers that the tests of a module share: one for each set of arguments."""

    def __init__(self, driver: Playwright) -> None:
        self._driver = driver
        self._browsers: dict[tuple[str, ...], Browser] = {}

    def get(self, arguments: tuple[str, ...]) -> Browser:
        """Return the browser with these arguments; the first time it is started."""
        if arguments not in self._browsers:
            self._browsers[arguments] = _launch(self._driver, arguments)
        return self._browsers[arguments]

    def close(self) -> None:
        """Close all."""
        for browser in self._browsers.values():
            browser.close()


_shared: list[_Shared] = []
"""Those of the module that is tested; none elsewhere."""


@contextmanager
def share_browsers() -> Iterator[None]:
    """Let every `open_file` within use one browser: starting it takes longer than most tests."""
    with sync_playwright() as driver:
        shared = _Shared(driver)
        _shared.append(shared)
        try:
            yield
        finally:
            _shared.remove(shared)
            shared.close()


@contextmanager
def _browser(arguments: tuple[str, ...]) -> Iterator[Browser]:
    """Give the shared browser, or a new one where none is shared."""
    if _shared:
        yield _shared[-1].get(arguments)
        return
    with sync_playwright() as driver:
        browser = _launch(driver, arguments)
        try:
            yield browser
        finally:
            browser.close()


def _launch(driver: Playwright, arguments: tuple[str, ...]) -> Browser:
    return driver.chromium.launch(
        executable_path=shutil.which(CHROMIUM), args=list(arguments), chromium_sandbox=False
    )


@contextmanager
def open_file(
    path: Path,
    size: tuple[int, int] = (1280, 900),
    scheme: str = "light",
    motion: str = "no-preference",
    arguments: tuple[str, ...] = ARGUMENTS,
    touch: bool = False,
) -> Iterator[OpenPage]:
    """Open a file, offline, in a context of its own: nothing of one page is left for the next.

    Parameters
    ----------
    path : Path
    size : (int, int)
        Of the window, [px].
    scheme : str
        "light" or "dark".
    motion : str
        "no-preference" or "reduce".
    arguments : tuple of str
        Of the browser.
    touch : bool
        Whether there is a touch screen.
    """
    with _browser(arguments) as browser:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            reduced_motion=motion,
            offline=True,
            has_touch=touch,
        )
        address = path.resolve().as_uri()
        opened = _watch_page(context, lambda url: url.split("#")[0] == address)
        opened.page.goto(address)
        try:
            yield opened
        finally:
            context.close()


@contextmanager
def open_served(
    address: str,
    size: tuple[int, int] = (1440, 900),
    scheme: str = "light",
    motion: str = "no-preference",
    arguments: tuple[str, ...] = ARGUMENTS,
    prepare: Callable[[Page], None] | None = None,
) -> Iterator[OpenPage]:
    """Open a page that a server of this computer serves, in a context of its own; downloads are taken.

    Requests and sockets to any other server are noted.

    Parameters
    ----------
    address : str
    size : (int, int)
        Of the window, [px].
    scheme : str
        "light" or "dark".
    motion : str
        "no-preference" or "reduce".
    arguments : tuple of str
        Of the browser.
    prepare : callable, optional
        Called with the page before it is opened.
    """
    with _browser(arguments) as browser:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            reduced_motion=motion,
            accept_downloads=True,
        )
        context.set_default_timeout(PATIENCE_MS)
        beneath = (address, "ws" + address.removeprefix("http"))
        opened = _watch_page(context, lambda url: url.startswith(beneath))
        if prepare is not None:
            prepare(opened.page)
        opened.page.goto(address)
        try:
            yield opened
        finally:
            context.close()


def await_frame(page: Page) -> None:
    """Wait until what the page has changed is drawn: that is done with the next frame."""
    page.evaluate("() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")


def _watch_page(context: BrowserContext, is_own: Callable[[str], bool]) -> OpenPage:
    """Return a new page; what it asks for that is not its own, and its complaints, are noted."""
    page = context.new_page()
    opened = OpenPage(page)

    def ask(asked: Request | WebSocket) -> None:
        if not is_own(asked.url) and not asked.url.startswith(("data:", "blob:")):
            opened.requests.append(asked.url)

    def say(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and READ_BACK not in message.text:
            opened.complaints.append(message.text)

    page.on("request", ask)
    page.on("websocket", ask)
    page.on("console", say)
    page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    return opened
