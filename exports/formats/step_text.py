"""A STEP file in one canonical order, so that the same solids give the same bytes.

The kernel numbers assembly links by a counter of the process and lists styles in the order of memory
addresses. Here every instance gets a digest of what it says and refers to; instances are then written from
the roots down, roots and sets in the order of their digests. Text beyond ASCII becomes ``\\X2\\...\\X0\\``.
"""

from __future__ import annotations

import hashlib
import re

from geom.errors import GeometryError

_INSTANCE = re.compile(r"#(\d+)\s*=\s*((?:'(?:[^']|'')*'|[^';])*);")
_TOKEN = re.compile(r"'(?:[^']|'')*'|#\d+|\s+|[^'#\s]+")
_LINK = re.compile(r"^NEXT_ASSEMBLY_USAGE_OCCURRENCE\(('[^']*'),('(?:[^']|'')*')")
_STYLES = "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION("
_CONTEXT = "(GEOMETRIC_REPRESENTATION_CONTEXT("
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]+")


def canonical_step(text: str) -> str:
    """Return the file with its instances in canonical order, one a line.

    Parameters
    ----------
    text : str
        A whole STEP file, as decoded from UTF-8.

    Returns
    -------
    str
        ASCII only.

    Raises
    ------
    GeometryError
        Where the text has no DATA section.
    """
    head, found, data = _BEYOND_ASCII.sub(_escape, text).partition("DATA;")
    if not found:
        raise GeometryError("the STEP text has no DATA section: the kernel's writer failed")
    bodies = {int(number): _tokens(body) for number, body in _INSTANCE.findall(data)}
    digests = _digests(bodies)
    for number, tokens in bodies.items():
        if tokens[0].startswith(_STYLES):
            bodies[number] = _sorted_set(tokens, digests)
    _share_contexts(bodies, digests)
    referred = {_ref(t) for tokens in bodies.values() for t in tokens if t[0] == "#"}
    roots = sorted((n for n in bodies if n not in referred), key=lambda n: (digests[n], n))
    # A context that another took the place of is a root only now; nothing refers to it, so it goes.
    order = _reachable([n for n in roots if not _opens(bodies[n], _CONTEXT)], bodies)
    number_of = {old: new for new, old in enumerate(order, 1)}
    lines = [
        f"#{number_of[old]}="
        + "".join(f"#{number_of[_ref(t)]}" if t[0] == "#" else t for t in bodies[old])
        + ";"
        for old in order
    ]
    return f"{head}DATA;\n" + "\n".join(lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"


def _tokens(body: str) -> list[str]:
    """Return an instance as references ("#12") and the text between them, without white space and breaks."""
    pieces: list[str] = []
    said: list[str] = []
    for token in _TOKEN.findall(body):
        if token[0] == "#":
            if said:
                pieces.append("".join(said))
                said = []
            pieces.append(token)
        elif token[0] == "'":
            said.append(token.replace("\n", ""))
        elif not token.isspace():
            said.append(token)
    if said:
        pieces.append("".join(said))
    link = _LINK.match(pieces[0])
    if link:
        # The id is a counter of the process; the link's own name is as unique and stays the same.
        pieces[0] = pieces[0].replace(link.group(1), link.group(2), 1)
    return pieces


def _ref(token: str) -> int:
    return int(token[1:])


def _opens(tokens: list[str], start: str) -> bool:
    return tokens[0].startswith(start)


def _digests(bodies: dict[int, list[str]]) -> dict[int, bytes]:
    """Return a digest of each instance with all that it refers to; sets count in any order."""
    digests: dict[int, bytes] = {}
    for start in bodies:
        stack = [start]
        while stack:
            number = stack[-1]
            tokens = bodies[number]
            waiting = [r for t in tokens if t[0] == "#" and (r := _ref(t)) not in digests]
            if waiting:
                stack.extend(waiting)
                continue
            stack.pop()
            if tokens[0].startswith(_STYLES):
                tokens = _sorted_set(tokens, digests)
            said = b"".join(digests[_ref(t)] if t[0] == "#" else t.encode() for t in tokens)
            digests[number] = hashlib.sha256(said).digest()
    return digests


def _sorted_set(tokens: list[str], digests: dict[int, bytes]) -> list[str]:
    """Return the instance with its items, all references but the last (the context), sorted."""
    places = [i for i, t in enumerate(tokens) if t[0] == "#"][:-1]
    items = sorted((tokens[i] for i in places), key=lambda t: (digests[_ref(t)], _ref(t)))
    out = list(tokens)
    for place, item in zip(places, items, strict=True):
        out[place] = item
    return out


def _share_contexts(bodies: dict[int, list[str]], digests: dict[int, bytes]) -> None:
    """Let equal contexts be one: which of them the styles refer to depends on memory addresses."""
    first: dict[bytes, int] = {}
    same: dict[int, int] = {}
    for number in sorted(bodies):
        if _opens(bodies[number], _CONTEXT):
            same[number] = first.setdefault(digests[number], number)
    for number, tokens in bodies.items():
        if any(t[0] == "#" and _ref(t) in same for t in tokens):
            bodies[number] = [f"#{same.get(_ref(t), _ref(t))}" if t[0] == "#" else t for t in tokens]


def _reachable(roots: list[int], bodies: dict[int, list[str]]) -> list[int]:
    order: list[int] = []
    seen: set[int] = set()
    stack = list(reversed(roots))
    while stack:
        number = stack.pop()
        if number in seen:
            continue
        seen.add(number)
        order.append(number)
        stack.extend(_ref(t) for t in reversed(bodies[number]) if t[0] == "#")
    return order


def _escape(match: re.Match[str]) -> str:
    return "\\X2\\" + match.group().encode("utf-16-be").hex().upper() + "\\X0\\"
