"""The browser, led to the page's address without that standing in its command line.

Every user of a computer may see what commands run there, and the address bears the key to the page. So the browser is
given the name of a file that only this user may read, and the file leads on.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import webbrowser
from html import escape
from pathlib import Path

LEAD_NAME = "open.html"

LEAD_S = 60.0
"""So long does the file stay that leads to the page, [s]: a browser may be slow to start."""


def open_browser(address: str, folder: Path) -> None:
    """Open the page in a browser of windows, where there is one; returns at once.

    Parameters
    ----------
    address : str
    folder : Path
        Only this user may look into it.
    """
    if not has_browser():
        return
    with contextlib.suppress(OSError):
        lead = write_lead(address, folder)
        # A browser may take seconds to come, or never return.
        threading.Thread(target=_open, args=(lead,), daemon=True).start()
        forget = threading.Timer(LEAD_S, _forget, (lead,))
        forget.daemon = True
        forget.start()


def write_lead(address: str, folder: Path) -> Path:
    """Write the file that leads to an address, for this user alone; return its path.

    Parameters
    ----------
    address : str
    folder : Path

    Raises
    ------
    OSError
        It cannot be written.
    """
    path = folder / LEAD_NAME
    document = f"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="referrer" content="no-referrer">
<meta http-equiv="refresh" content="0; url={escape(address)}">
<title>rillplate</title>
<p><a href="{escape(address)}">To the page</a></p>
</html>
"""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write(document)
    return path


def has_browser() -> bool:
    """Return whether a browser of windows can be shown: one of the terminal would take it from the server."""
    if sys.platform in ("win32", "darwin") or os.environ.get("BROWSER"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _open(lead: Path) -> None:
    with contextlib.suppress(webbrowser.Error, OSError):
        webbrowser.open(lead.as_uri())


def _forget(lead: Path) -> None:
    with contextlib.suppress(OSError):
        lead.unlink()
