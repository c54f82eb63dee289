"""The plan picture's colours, sizes and symbols."""

from __future__ import annotations

import math
from typing import Literal

from exports.pictures.svg import View, number, path_of, text_at
from geom.frame import INTO
from geom.outline import Loop, Point, outline_circle
from layouts.plan import PlacedPort

PAPER = "#f4f2ec"
SHEET = "#ffffff"
INK = "#22303a"
SOFT = "#66747e"
FINE = "#a9b4bb"
WATER = "#7fc0d8"
STILL = "#cfe6ee"
SHORE = "#1f6f8f"
FRONT_WATER = "url(#front)"
FRONT_STILL = "url(#front-still)"
"""Channels in the front face: striped, as defined by `front_patterns`."""
FAULT = "#c0392b"
CAUTION = "#b9770e"

ScrewIn = Literal["back", "both", "front"]
"""Which cover a screw is in."""

TEXT = 12.0
SMALL = 10.5
TAG_RADIUS = 8.0
EDGE_ARROW = 9.0
"""Half the length of the arrow at a port in an edge, in picture units."""
HIDDEN = 'stroke-dasharray="4 3"'
"""What lies behind the body's face, as on every drawing: dashed."""


def draw_edge_port(port: PlacedPort, bore: float, view: View) -> list[str]:
    """Draw the hidden bore of a port in an edge, with an arrow at its mouth."""
    dx, dy, _ = INTO[port.on]
    x, y = port.at[0], port.at[1]
    tip = (x + dx * port.depth, y + dy * port.depth)
    side = (abs(dy) * bore / 2, abs(dx) * bore / 2)
    a, b = (x - side[0], y - side[1]), (x + side[0], y + side[1])
    c, d = (tip[0] + side[0], tip[1] + side[1]), (tip[0] - side[0], tip[1] - side[1])
    box = f"M{view.xy(a)}L{view.xy(d)}L{view.xy(c)}L{view.xy(b)}"
    out = [f'<path d="{box}" fill="none" stroke="{INK}" stroke-width="1" {HIDDEN}/>']
    if not port.is_shut:
        px, py = view.to((x, y))
        # y points down in the picture: the outward direction keeps x and turns y.
        out.append(draw_arrow((px, py), (-dx, dy) if port.role == "inlet" else (dx, -dy), EDGE_ARROW, INK))
    return out


def draw_bore(at: Point, radius: float, leaves: bool, view: View, on_back: bool = False) -> list[str]:
    """Draw a bore: a dot where coolant leaves the panel, a cross where it comes in; dashed on the back."""
    out = [draw_region((outline_circle(at, radius),), view, SHEET, INK, 1.5, HIDDEN if on_back else "")]
    x, y = at
    if leaves:
        out.append(draw_region((outline_circle(at, radius * 0.3),), view, INK, "none", 0.0))
    else:
        r = radius * math.sqrt(0.5)
        rising = f"M{view.xy((x - r, y - r))}L{view.xy((x + r, y + r))}"
        cross = f"{rising}M{view.xy((x - r, y + r))}L{view.xy((x + r, y - r))}"
        out.append(f'<path d="{cross}" stroke="{INK}" stroke-width="1.3"/>')
    return out


def draw_plug(at: Point, radius: float, view: View, on_back: bool = False) -> list[str]:
    """Draw a bore that a plug closes while the pump runs: with the plug's hexagon; dashed on the back."""
    corners = [
        (at[0] + radius * 0.6 * math.cos(k * math.pi / 3), at[1] + radius * 0.6 * math.sin(k * math.pi / 3))
        for k in range(6)
    ]
    hexagon = f"M{'L'.join(view.xy(corner) for corner in corners)}Z"
    return [
        draw_region((outline_circle(at, radius),), view, SHEET, INK, 1.5, HIDDEN if on_back else ""),
        f'<path d="{hexagon}" fill="none" stroke="{INK}" stroke-width="1.3"/>',
    ]


def draw_hole(at: Point, radius: float, view: View) -> list[str]:
    """Draw a through hole from face to face: a circle with one half filled."""
    radius_units = radius * view.scale
    x, y = view.to(at)
    half = f"M{number(x - radius_units)} {number(y)}a1 1 0 0 0 {number(2 * radius_units)} 0Z"
    return [
        draw_region((outline_circle(at, radius),), view, SHEET, SHORE, 1.6),
        f'<path d="{half}" fill="{SHORE}"/>',
    ]


def draw_screw(at: Point, radius: float, where: ScrewIn, view: View) -> str:
    """Draw a cover screw: a cross in its head; one bar where it is in the front cover alone.

    In the back cover alone it is dashed, and clear, for it may lie behind a channel in the front face.
    """
    (x, y), arm = at, radius * 0.6
    hidden, fill = (f" {HIDDEN}", "none") if where == "back" else ("", SHEET)
    bars = f"M{view.xy((x - arm, y))}L{view.xy((x + arm, y))}"
    if where != "front":
        bars += f"M{view.xy((x, y - arm))}L{view.xy((x, y + arm))}"
    head = path_of((outline_circle(at, radius),), view)
    return (
        f'<path d="{head}" fill="{fill}" stroke="{SOFT}" stroke-width="1.1"{hidden}/>'
        f'<path d="{bars}" stroke="{SOFT}" stroke-width="0.9"/>'
    )


def front_patterns() -> list[str]:
    """Return the definitions of the stripes of channels in the front face."""
    out = []
    for fill, line in ((FRONT_WATER, "#8fcbb0"), (FRONT_STILL, "#d3e6dc")):
        out += [
            f'<pattern id="{fill[5:-1]}" width="6" height="6" patternUnits="userSpaceOnUse" '
            'patternTransform="rotate(-45)">',
            f'<rect width="6" height="6" fill="#e9f5ef"/><path d="M0 3H6" stroke="{line}" stroke-width="2.4"/>',
            "</pattern>",
        ]
    return out


def draw_region(
    region: tuple[Loop, ...], view: View, fill: str, stroke: str, width: float, extra: str = ""
) -> str:
    """Draw closed outlines as one path."""
    line = f' stroke="{stroke}" stroke-width="{number(width)}"' if stroke != "none" else ""
    spaced = f" {extra}" if extra else ""
    return f'<path d="{path_of(region, view)}" fill="{fill}"{line}{spaced}/>'


def draw_tag(at: Point, text: str) -> str:
    """Draw a channel\'s number."""
    x, y = at
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(TAG_RADIUS)}" fill="{SHORE}"/>' + text_at(
        x, y + 3.8, text, 10.5, SHEET, 'text-anchor="middle" font-weight="600"'
    )


def draw_badge(at: Point, letter: str, colour: str) -> list[str]:
    """Draw a finding\'s letter."""
    x, y = at
    return [
        f'<rect x="{number(x - 8)}" y="{number(y - 8)}" width="16" height="16" rx="3" fill="{colour}" '
        f'stroke="{SHEET}" stroke-width="1.5"/>',
        text_at(x, y + 4, letter, 11.0, SHEET, 'text-anchor="middle" font-weight="700"'),
    ]


def draw_chevron(at: Point, u: Point, size: float) -> str:
    """Draw a flow arrow in a channel, its middle at `at`."""
    x, y = at
    back = (x - u[0] * size * 0.5, y - u[1] * size * 0.5)
    tip = (x + u[0] * size * 0.5, y + u[1] * size * 0.5)
    a = (back[0] - u[1] * size * 0.75, back[1] + u[0] * size * 0.75)
    b = (back[0] + u[1] * size * 0.75, back[1] - u[0] * size * 0.75)
    points = "L".join(f"{number(p[0])} {number(p[1])}" for p in (a, tip, b))
    return f'<path d="M{points}" fill="none" stroke="{SHORE}" stroke-width="2" stroke-linecap="round"/>'


def draw_arrow(at: Point, u: Point, length: float, colour: str) -> str:
    """Draw a short arrow across the panel's edge, its middle at `at`."""
    x0, y0 = at[0] - u[0] * length, at[1] - u[1] * length
    x1, y1 = at[0] + u[0] * length, at[1] + u[1] * length
    a = (x1 - u[0] * 5 - u[1] * 4, y1 - u[1] * 5 + u[0] * 4)
    b = (x1 - u[0] * 5 + u[1] * 4, y1 - u[1] * 5 - u[0] * 4)
    return (
        f'<path d="M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}M{number(a[0])} {number(a[1])}'
        f'L{number(x1)} {number(y1)}L{number(b[0])} {number(b[1])}" fill="none" stroke="{colour}" '
        'stroke-width="1.6"/>'
    )
