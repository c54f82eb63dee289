"""The built page and a plan to tell it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from exports.check_solids import Checked
from exports.page.built import FOLDER, REMEDY
from exports.page.documents.plan_told import whole_told
from exports.page.serving.guard import HEADERS
from exports.page.serving.page_files import KINDS
from exports.report.html.scene import pack_scene
from geom.findings import Finding, KeyChange
from layouts.plan import Plan


@pytest.fixture(scope="module")
def told(plan: Plan) -> dict[str, Any]:
    """A plan with one finding of each severity, one with a remedy that is an edit."""
    findings = (
        Finding(
            "wall.thin",
            "fault",
            "a thin wall",
            "Make the body thicker.",
            "none",
            at_mm=(30.0, 40.0, 10.0),
            changes=(KeyChange(("channel", "own", "pump - block"), "9 mm"),),
        ),
        Finding("port.room", "caution", "little room", "Move it.", "none"),
        Finding("fill.volume", "note", "a volume", "", "none"),
    )
    return whole_told(plan, None, findings)


@pytest.fixture(scope="module")
def address(plan: Plan, checked: Checked) -> Iterator[str]:
    """The built page under a path of its own, with the headers of the real server."""
    assert (FOLDER / "page.html").is_file(), f"the pages are not built: {REMEDY}"
    scene = pack_scene(plan, checked, ()).encode()

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            name = self.path.removeprefix("/token/") or "page.html"
            path = FOLDER / name
            if name.startswith("scene/"):
                data, media = scene, "application/json"
            elif path.is_file():
                data, media = path.read_bytes(), KINDS[path.suffix]
            else:
                self.send_error(404)
                return
            self.send_response(200)
            for key, value in HEADERS:
                self.send_header(key.decode(), value.decode())
            self.send_header("content-type", media)
            self.send_header("content-length", str(len(data)))
            self.end_headers()
            self.wfile.write(data)

        def log_message(self, format: str, *args: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answer)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/token/"
    server.shutdown()
    server.server_close()
