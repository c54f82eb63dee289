"""Pictures of a run as they stand in the page: no id twice, however many there are."""

from __future__ import annotations

import re
from collections.abc import Mapping

from exports.pictures.svg import number
from exports.report.html.blocks import Picture

PAGE_WIDE, PAGE_TALL = 273.0, 180.0
"""Of a printed page that lies sideways: A4 without its margins, [mm]; the named page "wide" in the style sheet."""

_DECLARATION = re.compile(r"<\?xml[^>]*\?>\s*")
_TAG = re.compile(r"<[A-Za-z][^<>]*>")
_ATTRIBUTE = re.compile(r"""(\s[\w:.-]+=)("[^"]*"|'[^']*')""")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_BREAKS = re.compile(r'data-breaks="([^"]*)"')
_BOX = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_REFERS = ("href", "xlink:href")


def inline_svg(document: str, prefix: str) -> str:
    """Return an SVG document, or pieces of one, for an HTML page.

    Parameters
    ----------
    document : str
    prefix : str
        Stands before each of its ids, and wherever one is named.
    """
    element = _DECLARATION.sub("", document, count=1).strip()
    if " id=" not in element and "#" not in element:
        return element
    return _TAG.sub(lambda tag: _ATTRIBUTE.sub(lambda one: _rename(one, prefix), tag[0]), element)


def figure_of(pictures: Mapping[str, str], file: str, caption: str) -> tuple[Picture, ...]:
    """Return a picture of the run with its caption; nothing where the run has none of that name.

    Parameters
    ----------
    pictures : mapping of str to str
        File name to SVG document; empty for one that is too large for the page.
    file : str
    caption : str
    """
    if file not in pictures:
        return ()
    prefix = file.removesuffix(".svg")
    svg = inline_svg(pictures[file], prefix)
    parts = part_picture(svg)
    if parts:
        svg = svg.replace("<svg", f'<svg id="{prefix}-whole"', 1)
    return (Picture(svg, caption, file, parts, f"{prefix}-whole"),)


def part_picture(svg: str) -> tuple[str, ...]:
    """Return the parts in which a picture that is too tall for one page is printed, as view boxes.

    Parameters
    ----------
    svg : str
        Its ``data-breaks`` are the heights at which a part may end.

    Returns
    -------
    tuple of str
        Empty where it is printed as it is. As much in each as a page laid sideways takes at full width.
    """
    head = svg[: svg.find(">")]
    breaks, box = _BREAKS.search(head), _BOX.search(head)
    if breaks is None or box is None:
        return ()
    width, height = float(box[1]), float(box[2])
    most = width * PAGE_TALL / PAGE_WIDE
    parts, top, last = [], 0.0, 0.0
    for end in (*map(float, breaks[1].split()), height):
        if end - top > most and last > top:
            parts.append((top, last))
            top = last
        last = end
    parts.append((top, height))
    return tuple(f"0 {number(a)} {number(width)} {number(b - a)}" for a, b in parts)


def _rename(attribute: re.Match[str], prefix: str) -> str:
    start, quoted = attribute[1], attribute[2]
    name, quote, value = start.strip().removesuffix("="), quoted[0], quoted[1:-1]
    if name == "id":
        value = f"{prefix}-{value}"
    elif name in _REFERS and value.startswith("#"):
        value = f"#{prefix}-{value[1:]}"
    elif name not in ("aria-label", "font-family"):
        value = _REFERENCE.sub(rf"url(#{prefix}-\1)", value)
    return f"{start}{quote}{value}{quote}"
