"""The command that serves the page: what it prints, how it ends, and what it leaves behind."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import threading
from pathlib import Path

import httpx
import pytest
from sample_serving import DEMO

from exports.interruption import Interrupted
from exports.page.serving import opening, serve
from exports.page.serving.serve import PortTaken, check_place, listen_at
from geom.errors import PanelFileError

ROOT = Path(__file__).parents[4]

COMMAND = """
import sys
from exports.page.working import supervisor
from sample_serving import FakeWorkers
def start(path, tell, most_bytes, search):
    path.with_suffix(".search").write_text(f"{search.effort} {search.seed}")
    return FakeWorkers(tell)
supervisor.Workers = start
from exports.cli import main
main(sys.argv[1:])
"""


def start(tmp_path: Path, *words: str) -> subprocess.Popen[str]:
    (tmp_path / "temporary").mkdir(exist_ok=True)
    environment = os.environ | {
        "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}",
        "TMPDIR": str(tmp_path / "temporary"),
    }
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, "page", *words],
        env=environment,
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_it_prints_its_address_once_and_ends_quietly(tmp_path: Path, end: signal.Signals):
    (tmp_path / "panel.toml").write_text(DEMO, encoding="utf-8")
    running = start(tmp_path, "panel.toml", "--no-browser")
    assert running.stdout is not None
    address = running.stdout.readline().strip()
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/[A-Za-z0-9_-]{43}/", address)
    assert httpx.get(address).status_code == 200
    assert len(list((tmp_path / "temporary").glob("rillplate-page-*"))) == 1
    running.send_signal(end)
    rest, said = running.communicate(timeout=30)
    assert (running.returncode, rest, said) == (0, "", "Ctrl-C ends it.\n")
    assert list((tmp_path / "temporary").iterdir()) == []
    assert [p.name for p in tmp_path.glob("*.toml")] == ["panel.toml"]


@pytest.mark.parametrize(
    ("words", "told"), [((), "normal 0"), (("--effort", "quick", "--seed", "7"), "quick 7")]
)
def test_plans_and_files_are_looked_for_as_is_asked(tmp_path: Path, words: tuple[str, ...], told: str):
    (tmp_path / "panel.toml").write_text(DEMO, encoding="utf-8")
    running = start(tmp_path, "panel.toml", "--no-browser", *words)
    assert running.stdout is not None
    assert running.stdout.readline()
    running.send_signal(signal.SIGINT)
    assert running.wait(30) == 0
    assert (tmp_path / "panel.search").read_text(encoding="utf-8") == told


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--effort", "hasty"), "'hasty' is not one of 'quick', 'normal', 'thorough'"),
        (("--seed", "-1"), "-1 is not in the range x>=0"),
    ],
)
def test_an_effort_or_seed_that_there_is_not_is_wrong_usage(tmp_path: Path, words: tuple[str, ...], why: str):
    running = start(tmp_path, "panel.toml", "--no-browser", *words)
    told, said = running.communicate(timeout=30)
    assert (running.returncode, told) == (2, "")
    assert why in said
    assert "Traceback" not in said


def test_a_port_that_is_taken_is_told(tmp_path: Path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        done = start(tmp_path, "panel.toml", "--no-browser", "--port", str(port))
        out, said = done.communicate(timeout=30)
        assert (done.returncode, out) == (2, "")
        assert said == (
            f"rillplate: port {port} is used by another program; name another with --port, or leave it out\n"
        )
        with pytest.raises(PortTaken, match="is used by another program"):
            listen_at(port)


def test_a_port_can_be_chosen_and_used_again():
    first = listen_at(0)
    port = first.getsockname()[1]
    first.close()
    listen_at(port).close()


def test_a_file_must_have_a_folder(tmp_path: Path):
    check_place(tmp_path / "new.toml")
    with pytest.raises(PanelFileError, match="its folder does not exist"):
        check_place(tmp_path / "none" / "new.toml")
    with pytest.raises(PanelFileError, match="is a directory"):
        check_place(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names")
def test_a_pipe_is_no_panel_file(tmp_path: Path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(PanelFileError, match="a pipe or a device"):
        check_place(tmp_path / "pipe")


def test_what_a_killed_server_left_goes_and_another_that_lives_is_told(tmp_path: Path):
    (tmp_path / "panel.toml").write_text(DEMO, encoding="utf-8")
    temporary = tmp_path / "temporary"

    def begin() -> subprocess.Popen[str]:
        running = start(tmp_path, "panel.toml", "--no-browser")
        assert running.stdout is not None
        assert running.stdout.readline()
        return running

    def folders() -> set[str]:
        return {folder.name for folder in temporary.glob("rillplate-page-*")}

    killed = begin()
    killed.kill()
    killed.communicate(timeout=30)
    (left,) = folders()
    first = begin()
    assert left not in folders()
    second = begin()
    assert len(folders()) == 2
    said = []
    for running in (second, first):
        running.terminate()
        said.append(running.communicate(timeout=30)[1])
    assert said[0].startswith("rillplate: another page server has panel.toml open too; ")
    assert said[1] == "Ctrl-C ends it.\n"
    assert list(temporary.iterdir()) == []


def test_an_end_that_was_asked_for_while_loading_is_not_forgotten(tmp_path: Path, monkeypatch):
    asked = threading.Event()
    asked.set()
    monkeypatch.setattr(serve, "END_ASKED", asked)
    monkeypatch.setattr(serve.tempfile, "tempdir", str(tmp_path))
    wanted = serve.Serving(tmp_path / "panel.toml", 0, 10**9, browser=False)
    told: list[str] = []
    with pytest.raises(Interrupted):
        serve.serve_page(wanted, told.append, told.append)
    assert told == []
    assert list(tmp_path.iterdir()) == []


def test_memory_too_little_is_told_why(tmp_path: Path):
    done = start(tmp_path, "panel.toml", "--no-browser", "--memory", "1")
    _, said = done.communicate(timeout=30)
    assert done.returncode == 2
    assert "1 GB is too little: the solid" in said


def test_a_browser_of_the_terminal_is_not_opened(monkeypatch):
    monkeypatch.setattr(opening.sys, "platform", "linux")
    for name in ("BROWSER", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not opening.has_browser()
    monkeypatch.setenv("DISPLAY", ":0")
    assert opening.has_browser()


def test_what_libraries_complain_of_is_one_line():
    said: list[str] = []
    with serve._told_in_lines(said.append):
        import logging

        try:
            raise ValueError("two\nlines")
        except ValueError:
            logging.getLogger("uvicorn.error").exception("Exception in\nASGI application")
        logging.getLogger("uvicorn.error").warning("only a warning")
    assert said == ["page server: Exception in ASGI application (ValueError: two lines); the server goes on"]


@pytest.mark.skipif(sys.platform == "win32", reason="groups of processes are those of POSIX")
def test_ctrl_c_reaches_no_process_that_is_still_loading(tmp_path: Path):
    """A terminal sends it to all processes at once, the real ones that compute among them."""
    (tmp_path / "panel.toml").write_text(DEMO, encoding="utf-8")
    running = subprocess.Popen(
        [sys.executable, "-m", "exports", "page", "panel.toml", "--no-browser"],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert running.stdout is not None
    running.stdout.readline()
    os.killpg(running.pid, signal.SIGINT)
    _, said = running.communicate(timeout=60)
    assert (running.returncode, said) == (0, "Ctrl-C ends it.\n")


def test_a_refused_socket_is_no_complaint_of_the_server():
    """Its library calls it one, each time that a page of an earlier run tries to come back."""
    said: list[str] = []
    with serve._told_in_lines(said.append):
        import logging

        logging.getLogger("uvicorn.error").error("ASGI callable returned without completing handshake.")
    assert said == []
