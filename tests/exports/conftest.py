"""One small panel built once, and one example panel made twice by the command, in processes of their own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sample_plan import sample_plan

from exports.check_solids import Checked, check_solids
from layouts.plan import Plan

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "layouts" / "panels" / "laser-driver.toml"


@dataclass(frozen=True)
class Twice:
    """Two folders that the command filled from the same file, and what it printed."""

    first: Path
    second: Path
    printed: str
    talk: str


@pytest.fixture(scope="session")
def plan() -> Plan:
    return sample_plan()


@pytest.fixture(scope="session")
def checked(plan: Plan) -> Checked:
    return check_solids(plan)


@pytest.fixture(scope="module")
def shared_browser() -> Iterator[None]:
    """One browser for all tests of a module, each with a context of its own."""
    from browser import share_browsers

    with share_browsers():
        yield


@pytest.fixture(scope="session")
def twice(tmp_path_factory: pytest.TempPathFactory) -> Twice:
    """Make the example in two folders, with other hash seeds, time zones and working folders."""
    folder = tmp_path_factory.mktemp("made twice")
    talk = printed = ""
    for name, hash_seed, zone in (("first", "1", "UTC"), ("second place", "77", "Asia/Tokyo")):
        done = subprocess.run(
            [sys.executable, "-m", "exports", "make", str(DEMO), "--out", str(folder / name), "--json"],
            cwd=ROOT if name == "first" else folder,
            env={"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": hash_seed, "TZ": zone, "HOME": str(Path.home())},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout[-2000:] + done.stderr
        if name == "first":
            printed, talk = done.stdout, done.stderr
    return Twice(folder / "first", folder / "second place", printed, talk)
