"""The code passes its linter and its type checker."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def run_tool(*arguments: str) -> None:
    """Run a Python tool on the project and fail with what it prints."""
    done = subprocess.run(
        [sys.executable, "-m", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_linter_finds_nothing():
    run_tool("ruff", "check", "geom", "layouts", "exports", "tests")


def test_types_hold():
    run_tool("mypy")
