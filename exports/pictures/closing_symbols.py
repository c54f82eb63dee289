"""Colours and symbols of the picture of a closing."""

from __future__ import annotations

from exports.pictures.plan_symbols import INK, SHEET, SOFT, TAG_RADIUS
from exports.pictures.svg import View, guess_width, number, text_at
from layouts.closing.cords import CORNER_SECTIONS, PREFERRED_SECTIONS
from layouts.plan import Plan
from layouts.strength.screw_hole import clearance_hole

CORD = "#4a555e"
GROOVE = "#e9ecee"
CLOSE_CORNER = "#e0b25f"
TIGHT_CORNER = "#8a4b00"
TURNS = ((PREFERRED_SECTIONS, CLOSE_CORNER), (CORNER_SECTIONS, TIGHT_CORNER))
"""Inner radius of a cord's turn in cord sections, the preferred and the least one, and what is tighter."""
REACH = "#1f6f8f"
LAND = "url(#land)"
LAND_GROUND = "#f6efdd"
TAG_SIZE = 10.5
"""Size of the text on a cord's badge, in picture units."""
CLAMP_RADIUS = 9.0
"""In picture units; a weight is a square of the same width."""
LEAST_SCREW = 7.5
"""Radius of a screw that still holds its number, in picture units."""


def screw_radius(plan: Plan, view: View) -> float:
    """Return the radius of a cover screw as drawn, in picture units: its clearance hole's, but room for a number."""
    return max(LEAST_SCREW, clearance_hole(plan.panel) / 2 * view.scale)


def land_pattern() -> list[str]:
    """Return the definition of the hatching of bonded lands."""
    return [
        '<pattern id="land" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">',
        f'<rect width="8" height="8" fill="{LAND_GROUND}"/><path d="M0 0V8" stroke="#d9c79a" stroke-width="1.6"/>',
        "</pattern>",
    ]


def draw_screw_number(at: tuple[float, float], radius: float, count: int) -> str:
    """Draw a cover screw with its number, its middle at `at`."""
    x, y = at
    size = 9.0 if count < 100 else 7.0
    return (
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{SHEET}" stroke="{INK}" '
        f'stroke-width="1"/>' + text_at(x, y + 0.36 * size, str(count), size, INK, 'text-anchor="middle"')
    )


def tag_half(tag: str) -> float:
    """Return half the width of a cord's badge, in picture units: a disc, or longer where the tag needs it."""
    return max(TAG_RADIUS, guess_width(tag, TAG_SIZE) / 2 + 3.5)


def draw_cord_tag(at: tuple[float, float], tag: str) -> str:
    """Draw a cord's badge."""
    x, y = at
    half = tag_half(tag)
    return (
        f'<rect x="{number(x - half)}" y="{number(y - TAG_RADIUS)}" width="{number(2 * half)}" '
        f'height="{number(2 * TAG_RADIUS)}" rx="{number(TAG_RADIUS)}" fill="{INK}" stroke="{SHEET}" stroke-width="1"/>'
        + text_at(x, y + 3.8, tag, TAG_SIZE, SHEET, 'text-anchor="middle" font-weight="600"')
    )


def draw_clamp(at: tuple[float, float], count: int, weight: bool) -> list[str]:
    """Draw a clamp's pad as a circle with its number, a weight as a square."""
    x, y = at
    r = CLAMP_RADIUS
    shape = (
        f'<rect x="{number(x - r)}" y="{number(y - r)}" width="{number(2 * r)}" height="{number(2 * r)}" rx="2"'
        if weight
        else f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r)}"'
    )
    return [
        f'{shape} fill="{INK}" stroke="{SHEET}" stroke-width="1.5"/>',
        text_at(x, y + 3.8, str(count), 10.5, SHEET, 'text-anchor="middle" font-weight="600"'),
    ]


def draw_reach(at: tuple[float, float], radius: float) -> str:
    """Draw a circle of reach for the legend."""
    x, y = at
    return (
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{REACH}" fill-opacity="0.07" '
        f'stroke="{SOFT}" stroke-width="0.6"/>'
    )
