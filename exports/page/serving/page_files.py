"""The page's own files: those that the build made, by a list of what is there; without them, a page that says so."""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from pathlib import Path

from exports.page.built import FOLDER, REMEDY

PAGE = "page.html"

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
    ".wasm": "application/wasm",
}
"""Media type by a name's end; a file with another end is no part of the page."""

PACKED = (".html", ".js", ".css", ".svg")

LEAST_PACKED = 500
"""Bytes below which packing gains nothing."""


@dataclass(frozen=True, slots=True)
class PageFile:
    """A file of the page: its media type, and its bytes plain and, where that gains, packed (else empty)."""

    media: str
    data: bytes
    packed: bytes


def list_built(folder: Path = FOLDER) -> Mapping[str, Path]:
    """Return the page's files by the name that stands in an address.

    Parameters
    ----------
    folder : Path
        Of what was built.
    """
    found = sorted(folder.rglob("*")) if folder.is_dir() else []
    return {
        path.relative_to(folder).as_posix(): path
        for path in found
        if path.suffix in KINDS and path.is_file() and not path.is_symlink()
    }


def read_page_file(path: Path) -> PageFile:
    """Return a file of the page; the same while it stays unchanged.

    Raises
    ------
    OSError
        It cannot be read.
    """
    return _read(path, path.stat().st_mtime_ns)


def page_document(built: Mapping[str, Path]) -> PageFile:
    """Return the page; where it was not built, one that says how to.

    Parameters
    ----------
    built : mapping of str to Path
    """
    if PAGE in built:
        return read_page_file(built[PAGE])
    return PageFile(KINDS[".html"], _UNBUILT.encode("utf-8"), b"")


def pack_text(data: bytes) -> bytes:
    """Return text packed as browsers take it, the same bytes for the same text; empty where that gains nothing."""
    if len(data) < LEAST_PACKED:
        return b""
    return gzip.compress(data, 5, mtime=0)


@lru_cache(maxsize=64)
def _read(path: Path, changed: int) -> PageFile:
    data = path.read_bytes()
    return PageFile(KINDS[path.suffix], data, pack_text(data) if path.suffix in PACKED else b"")


_UNBUILT = f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>rillplate: the page is not built</title>
</head>
<body>
<h1>The page is not built</h1>
<p>rillplate runs from sources whose page was never built: {escape(REMEDY.replace("`", ""))}, then start it again.</p>
</body>
</html>
"""
