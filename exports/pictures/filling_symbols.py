"""Colours, patterns and symbols of the picture of filling."""

from __future__ import annotations

import math

from exports.pictures.plan_symbols import INK, SHEET, SHORE, SOFT
from exports.pictures.svg import number
from geom.outline import Point

EMPTY = "#eef1f2"
"""What holds neither coolant nor a pocket."""

AIR = "#f7d9a0"
AIR_INK = "#8a4b08"
"""Ground and bubbles of air that stays."""

STAYS = "#2b7ea1"
STAYS_INK = "#d9eef5"
"""Ground and lines of coolant that stays."""

MARK_EVERY = 7.0
"""Between the bubbles and the lines of what stays, picture units."""


def define_patterns(name: int, unit: float) -> list[str]:
    """Return the definitions of the patterns "air-NAME", bubbles, and "stays-NAME", lines.

    Parameters
    ----------
    name : int
    unit : float
        A picture unit in the units of what is filled with them.
    """
    side, half, radius, line = (number(share * MARK_EVERY * unit) for share in (1.0, 0.5, 0.22, 0.16))
    pattern = f'width="{side}" height="{side}" patternUnits="userSpaceOnUse"'
    return [
        f'<pattern id="air-{name}" {pattern}><rect width="{side}" height="{side}" fill="{AIR}"/>'
        f'<circle cx="{half}" cy="{half}" r="{radius}" fill="none" stroke="{AIR_INK}" stroke-width="{line}"/>'
        "</pattern>",
        f'<pattern id="stays-{name}" {pattern}><rect width="{side}" height="{side}" fill="{STAYS}"/>'
        f'<path d="M0 {half}H{side}" stroke="{STAYS_INK}" stroke-width="{line}"/></pattern>',
    ]


def draw_surface(at: Point) -> str:
    """Draw the triangle that stands on a surface of coolant."""
    x, y = at
    return f'<path d="M{number(x)} {number(y)}l-5 -8h10z" fill="{SHEET}" stroke="{INK}" stroke-width="1"/>'


def draw_ring(at: Point, radius: float, runs: bool) -> list[str]:
    """Draw the pump's ring."""
    x, y = at
    if not runs:
        return [
            f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="none" stroke="{SOFT}" '
            'stroke-width="1" stroke-dasharray="5 3"/>'
        ]
    out = [
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="none" stroke="{INK}" '
        'stroke-width="2.6"/>'
    ]
    size = min(9.0, 0.6 * radius)
    for k in range(3):
        a = math.radians(-90.0 + 120.0 * k)
        px, py = x + radius * math.cos(a), y + radius * math.sin(a)
        # Clockwise: along the tangent.
        tx, ty = -math.sin(a), math.cos(a)
        nx, ny = math.cos(a), math.sin(a)
        points = (
            (px + tx * size, py + ty * size),
            (px - tx * 0.4 * size + nx * 0.7 * size, py - ty * 0.4 * size + ny * 0.7 * size),
            (px - tx * 0.4 * size - nx * 0.7 * size, py - ty * 0.4 * size - ny * 0.7 * size),
        )
        out.append(f'<path d="M{"L".join(f"{number(u)} {number(v)}" for u, v in points)}Z" fill="{INK}"/>')
    return out


def draw_drop(at: Point) -> str:
    """Draw a drop: coolant goes in here."""
    x, y = at
    return (
        f'<path d="M{number(x)} {number(y - 9)}c3 5 5 7 5 10a5 5 0 0 1 -10 0c0 -3 2 -5 5 -10z" '
        f'fill="{SHORE}" stroke="{SHEET}" stroke-width="1"/>'
    )
