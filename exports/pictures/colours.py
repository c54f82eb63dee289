"""Colours of the parts, the same in STEP, GLB and pictures."""

from __future__ import annotations

Colour = tuple[float, float, float, float]
"""Red, green, blue as sRGB, opacity, each 0 to 1."""

SERIES = ("#164ed6", "#bd5902", "#078853", "#750f7b")
"""Lines and names of a chart: 25 apart in CIELAB from each other and from `LOOP` for normal vision, protanopia,
deuteranopia and tritanopia, and 4.5 to 1 against white (WCAG 2.2, criterion 1.4.3)."""

LOOP = "#22303a"
LOOP_BAND = "#dfe5e8"
"""The loop's line in a chart, and the area of its band."""

_BY_NAME: dict[str, Colour] = {
    "body": (0.76, 0.82, 0.86, 1.0),
    "panel": (0.76, 0.82, 0.86, 1.0),
    "panel left": (0.76, 0.82, 0.86, 1.0),
    "panel right": (0.70, 0.78, 0.84, 1.0),
    "panel lower": (0.76, 0.82, 0.86, 1.0),
    "panel upper": (0.70, 0.78, 0.84, 1.0),
    "cover": (0.62, 0.70, 0.76, 0.35),
    "front cover": (0.62, 0.70, 0.76, 0.35),
    "coolant": (0.13, 0.55, 0.75, 0.60),
}
_INSERT: Colour = (0.16, 0.16, 0.18, 1.0)


def part_colour(name: str) -> Colour:
    """Return the colour of a part by its name; cords and other inserts are dark."""
    return _BY_NAME.get(name, _INSERT)


def linear_colour(colour: Colour) -> Colour:
    """Return an sRGB colour in linear light, as glTF wants it; opacity stays.

    Source
    ------
    IEC 61966-2-1, sRGB, section 5.2 (transfer function).
    """
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3])
    return (red, green, blue, colour[3])
