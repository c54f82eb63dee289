"""What a picture shows, from the SVG alone: its texts with their boxes, its coolant."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from exports.pictures.labels import meet
from exports.pictures.svg import guess_width

SVG = "{http://www.w3.org/2000/svg}"


def texts_of(picture: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return each text of the drawing with its box, shifts of its groups included."""
    root = ElementTree.fromstring(picture)
    out = []

    def walk(element: ElementTree.Element, dx: float, dy: float) -> None:
        shift = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", element.get("transform", ""))
        if shift:
            dx, dy = dx + float(shift[1]), dy + float(shift[2])
        if element.tag == f"{SVG}text":
            size, said = float(element.get("font-size")), element.text or ""
            width = guess_width(said, size) * 0.85
            x, y = float(element.get("x")) + dx, float(element.get("y")) + dy
            x -= {"middle": width / 2, "end": width}.get(element.get("text-anchor", ""), 0.0)
            out.append((said, (x, y - 0.75 * size, x + width, y + 0.1 * size)))
        for child in element:
            walk(child, dx, dy)

    walk(root, 0.0, 0.0)
    return out


def assert_no_text_over_text(picture: str) -> None:
    texts = texts_of(picture)
    for k, (said, box) in enumerate(texts):
        for other, taken in texts[:k]:
            assert meet(box, taken) < 1.0, f"{said!r} over {other!r}"


def assert_inside(picture: str) -> None:
    root = ElementTree.fromstring(picture)
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    for said, (x0, y0, x1, y1) in texts_of(picture):
        assert x0 >= 0, said
        assert x1 <= width, said
        assert y0 >= 0, said
        assert y1 <= height, said


def pane_area(picture: str) -> float:
    """Return the area of the coolant's pane, in square picture units."""
    total = 0.0
    for d in re.findall(r'd="([^"]+)" fill="#[0-9a-f]{6}" stroke="none" fill-opacity="0.6"', picture):
        for loop in d.split("z"):
            steps = [int(n) for n in re.findall(r"-?\d+", loop)]
            x = y = area = 0.0
            for dx, dy in zip(steps[2::2], steps[3::2], strict=True):
                area += 0.5 * (x * (y + dy) - (x + dx) * y)
                x, y = x + dx, y + dy
            total += area
    return abs(total) / 100.0
