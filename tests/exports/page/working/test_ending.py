"""Processes neither outlive the server's, however that ends, nor heed what the terminal sends it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

ROOT = Path(__file__).parents[4]
LIMIT_S = 60.0
"""No test waits longer: only a broken one comes near."""

SERVER = """
import asyncio, signal, sys
from pathlib import Path
from fake_work import open_fake, write_steps
from exports.page.working.supervisor import Processes, Workers

async def serve():
    answered = asyncio.Event()

    def tell(event, client):
        print(event["tell"], flush=True)
        answered.set()

    workers = Workers(Path("panel.toml"), tell, 10**12, Processes(open_fake, open_fake))
    await workers.start()
    print(*workers.process_ids(), flush=True)
    await asyncio.to_thread(sys.stdin.readline)
    workers.draft("one", 1, write_steps(("say", "draft", {"answer": 1}), ("hold",)))
    await answered.wait()
    await asyncio.to_thread(sys.stdin.readline)
    await workers.close()

if __name__ == "__main__":
    signal.signal(signal.SIGINT, lambda number, frame: None)
    asyncio.run(serve())
"""


@pytest.fixture
def server(tmp_path: Path):
    script = tmp_path / "serve.py"
    script.write_text(SERVER, encoding="utf-8")
    paths = os.pathsep.join((str(ROOT), str(ROOT / "tests")))
    process = subprocess.Popen(
        [sys.executable, str(script)],
        env=os.environ | {"PYTHONPATH": paths},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    yield process
    process.kill()
    process.communicate()


def wait_for_end(pids: list[int]) -> None:
    left = [psutil.Process(pid) for pid in pids if psutil.pid_exists(pid)]
    assert not psutil.wait_procs(left, timeout=LIMIT_S)[1]


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="process groups as here are of POSIX")
def test_an_interrupt_in_the_terminal_reaches_the_server_alone(server: subprocess.Popen):
    pids = [int(pid) for pid in server.stdout.readline().split()]
    # While they are being loaded, and once more when they are at work.
    os.killpg(server.pid, signal.SIGINT)
    server.stdin.write("\n")
    server.stdin.flush()
    assert server.stdout.readline() == "draft\n"
    os.killpg(server.pid, signal.SIGINT)
    _, told = server.communicate("\n", timeout=LIMIT_S)
    assert told == ""
    wait_for_end(pids)


def test_no_process_outlives_a_server_that_is_killed_not_even_a_busy_one(server: subprocess.Popen):
    pids = [int(pid) for pid in server.stdout.readline().split()]
    server.stdin.write("\n")
    server.stdin.flush()
    assert server.stdout.readline() == "draft\n"
    assert all(psutil.pid_exists(pid) for pid in pids)
    server.kill()
    wait_for_end(pids)
