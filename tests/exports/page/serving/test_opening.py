"""The browser finds the page, and its command line tells nobody where that is."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from exports.page.serving import opening
from exports.page.serving.opening import open_browser, write_lead

ADDRESS = "http://127.0.0.1:4000/secret/"


def test_the_browser_is_given_a_file_that_only_the_user_may_read(tmp_path: Path, monkeypatch):
    given: list[str] = []
    called = threading.Event()
    monkeypatch.setattr(opening, "has_browser", lambda: True)
    monkeypatch.setattr(opening.webbrowser, "open", lambda what: (given.append(what), called.set()))
    monkeypatch.setattr(opening, "LEAD_S", 0.05)
    open_browser(ADDRESS, tmp_path)
    assert called.wait(10)
    (lead,) = given
    assert lead.startswith("file://")
    assert "secret" not in lead
    for timer in [one for one in threading.enumerate() if isinstance(one, threading.Timer)]:
        timer.join(10)
    assert list(tmp_path.iterdir()) == []


def test_the_file_leads_on(tmp_path: Path):
    lead = write_lead(ADDRESS, tmp_path)
    assert lead.stat().st_mode & 0o777 == 0o600
    assert f'content="0; url={ADDRESS}"' in lead.read_text(encoding="utf-8")
    with pytest.raises(OSError, match="exists"):
        write_lead(ADDRESS, tmp_path)
