"""What this machine has and what it lacks, each with its remedy."""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

LEAST_PYTHON = (3, 11)

PACKAGES = (
    "cadquery",
    "cadquery-ocp",
    "click",
    "CoolProp",
    "embreex",
    "ezdxf",
    "highspy",
    "Jinja2",
    "manifold3d",
    "numba",
    "numpy",
    "psutil",
    "pydantic",
    "reportlab",
    "scikit-fem",
    "scipy",
    "shapely",
    "starlette",
    "tomlkit",
    "trimesh",
    "uvicorn",
    "websockets",
)

_PROBES = (
    ("CAD kernel", "import cadquery; cadquery.Solid.makeBox(1, 1, 1).Volume()"),
    (
        "ray kernel",
        "import trimesh, trimesh.ray.ray_pyembree as r; "
        "m = trimesh.creation.box(); r.RayMeshIntersector(m).intersects_any([[0, 0, 5]], [[0, 0, -1]])",
    ),
    ("mesh kernel", "import manifold3d; assert manifold3d.Manifold.cube((1, 1, 1)).volume() == 1.0"),
    ("coolant data", "import CoolProp.CoolProp as c; c.PropsSI('D', 'T', 300, 'P', 101325, 'Water')"),
    ("PDF writer", "from reportlab.pdfgen import canvas; canvas.Canvas('none').getpdfdata()"),
    ("compiler", "import numba; numba.njit(lambda x: x + 1)(1)"),
)

SYSTEM_LIBRARIES = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libX11.so.6": "libx11-6",
    "libXrender.so.1": "libxrender1",
    "libXext.so.6": "libxext6",
    "libfontconfig.so.1": "libfontconfig1",
    "libgomp.so.1": "libgomp1",
    "libstdc++.so.6": "libstdc++6",
}
"""Shared library to the Debian package that brings it."""


@dataclass(frozen=True, slots=True)
class Check:
    """One line of the answer; `remedy` is empty where all is well."""

    name: str
    good: bool
    found: str
    remedy: str = ""


def examine_machine() -> tuple[Check, ...]:
    """Return what was found, good and bad.

    Returns
    -------
    tuple of Check
        Python, platform, packages, each heavy library tried out in a process of its own, what is built and the cache.
    """
    checks = [_check_python(), Check("platform", True, platform.platform())]
    checks += [_check_package(name) for name in PACKAGES]
    checks += [_probe(name, code) for name, code in _PROBES]
    checks += [_check_built(), _check_cache()]
    return tuple(checks)


def name_missing_library(error: str) -> str:
    """Return the remedy for a loader's message; empty where no known library is named in it."""
    for library, package in SYSTEM_LIBRARIES.items():
        if library in error:
            return f"install the system library {library}: apt-get install {package}"
    return ""


def _check_python() -> Check:
    found = platform.python_version()
    if sys.version_info >= LEAST_PYTHON:
        return Check("Python", True, found)
    least = ".".join(str(n) for n in LEAST_PYTHON)
    return Check("Python", False, found, f"use Python {least} or later")


def _check_package(name: str) -> Check:
    try:
        return Check(name, True, metadata.version(name))
    except metadata.PackageNotFoundError:
        return Check(name, False, "missing", f"pip install {name}")


def _probe(name: str, code: str) -> Check:
    """Try a library in another process: one that crashes there does not take this one along."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False
        )
    except subprocess.TimeoutExpired:
        return Check(name, False, "no answer within 120 s", "install its packages afresh")
    except OSError as error:
        return Check(name, False, f"could not be started: {error.strerror}", "install Python afresh")
    if done.returncode == 0:
        return Check(name, True, "works")
    if done.returncode < 0:
        return Check(
            name,
            False,
            f"stopped by signal {-done.returncode}",
            "this processor may lack an instruction set that the package was built for: install it from source",
        )
    last = (done.stderr.strip().splitlines() or ["no message"])[-1]
    return Check(name, False, last, name_missing_library(done.stderr) or "install its packages afresh")


def _check_built() -> Check:
    from exports.page.built import REMEDY, read_built

    if read_built("report.js"):
        return Check("solids in the report", True, "built")
    return Check("solids in the report", False, "not built: report.html then has no solid to turn", REMEDY)


def _check_cache() -> Check:
    from layouts.hydraulics.coolant import find_cache_folder

    try:
        folder = find_cache_folder()
    except RuntimeError:
        return Check("cache", False, "no home folder", "set XDG_CACHE_HOME to a folder that you may write to")
    if _may_write(folder):
        return Check("cache", True, str(folder))
    return Check(
        "cache",
        False,
        f"{folder} may not be written",
        "set XDG_CACHE_HOME to a folder that you may write to; until then each run takes 2 s longer",
    )


def _may_write(folder: Path) -> bool:
    probe = folder
    while not probe.exists() and probe != probe.parent:
        probe = probe.parent
    if probe != folder:
        return os.access(probe, os.W_OK | os.X_OK)
    try:
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
