"""The picture of the set-ups: colours by depth, holes, tags, and what is drawn beside a face."""

from __future__ import annotations

import math
from dataclasses import dataclass

from exports.pictures.labels import Rect
from exports.pictures.plan_symbols import FINE, INK, SHEET, SOFT, draw_region
from exports.pictures.svg import View, guess_width, number, text_at
from exports.wording.figures import show_mm
from geom.frame import EDGES
from geom.outline import Point, outline_circle
from geom.standards import tables
from layouts.milling.work import Hole, SetUp

SHALLOW, DEEP = (214, 231, 240), (30, 94, 128)
"""Fill of the shallowest and of the deepest pocket, red, green and blue; depths between them lie between."""

TAG_TEXT = 10.0
TAG_HEIGHT = 14.0
SWATCH = 16.0
ROW = 18.0
COLUMN_GAP = 16.0
DATUM = 20.0
"""Length of the arrows at a face's origin, in picture units."""

CROSS_SHARE, CROSS_LEAST = 1.35, 4.0
"""How far the centre mark goes beyond a hole, of its radius; and its least length, in picture units."""


@dataclass(frozen=True, slots=True)
class DepthScale:
    """Which fill a depth has; `deepest` is that of all set-ups, [mm]."""

    deepest: float

    def fill(self, depth: float) -> str:
        """Return the fill of a depth, [mm]."""
        share = 0.0 if self.deepest <= 0.0 else min(1.0, math.sqrt(max(depth, 0.0) / self.deepest))
        red, green, blue = (round(a + (b - a) * share) for a, b in zip(SHALLOW, DEEP, strict=True))
        return f"#{red:02x}{green:02x}{blue:02x}"


def thread_major(hole: Hole) -> float:
    """Return the major diameter of a hole's thread, [mm]; 0 where it has none."""
    if not hole.thread:
        return 0.0
    if hole.thread in tables.thread_names():
        return tables.thread(hole.thread).major
    return tables.screw(hole.thread).diameter


def hole_reach(hole: Hole) -> float:
    """Return the radius of all that is drawn of a hole but its centre mark, [mm]."""
    return max(hole.diameter / 2 + hole.chamfer, thread_major(hole) / 2)


def draw_hole_seen(hole: Hole, view: View, depths: DepthScale) -> list[str]:
    """Draw a hole with its centre mark, its chamfer, and its thread as three quarters of a circle."""
    x, y = view.to(hole.at)
    out = []
    if hole.chamfer > 0.0:
        mouth = outline_circle(hole.at, hole.diameter / 2 + hole.chamfer)
        out.append(draw_region((mouth,), view, SHEET, INK, 0.7))
    fill = SHEET if hole.through else depths.fill(hole.top + hole.depth)
    out.append(draw_region((outline_circle(hole.at, hole.diameter / 2),), view, fill, INK, 1.1))
    major = thread_major(hole) / 2 * view.scale
    if major > 0.0:
        out.append(
            f'<path d="M{number(x + major)} {number(y)}A{number(major)} {number(major)} 0 1 1 {number(x)} '
            f'{number(y - major)}" fill="none" stroke="{INK}" stroke-width="0.7"/>'
        )
    arm = max(CROSS_SHARE * hole_reach(hole) * view.scale, CROSS_LEAST)
    out.append(
        f'<path d="M{number(x - arm)} {number(y)}h{number(2 * arm)}M{number(x)} {number(y - arm)}v{number(2 * arm)}" '
        f'stroke="{SOFT}" stroke-width="0.6"/>'
    )
    return out


def tag_size(text: str) -> tuple[float, float]:
    """Return width and height of a tag."""
    return guess_width(text, TAG_TEXT) + 8.0, TAG_HEIGHT


def draw_number_tag(text: str, box: tuple[float, float, float, float], to: Point | None) -> list[str]:
    """Draw the numbers of the jobs at a feature, with a line to it where the tag stands off."""
    x0, y0, x1, y1 = box
    out = []
    if to is not None:
        near = (min(max(to[0], x0), x1), min(max(to[1], y0), y1))
        out.append(
            f'<path d="M{number(to[0])} {number(to[1])}L{number(near[0])} {number(near[1])}" stroke="{INK}" '
            f'stroke-width="0.8"/><circle cx="{number(to[0])}" cy="{number(to[1])}" r="1.5" fill="{INK}"/>'
        )
    out.append(
        f'<rect x="{number(x0)}" y="{number(y0)}" width="{number(x1 - x0)}" height="{number(y1 - y0)}" rx="3" '
        f'fill="{SHEET}" stroke="{INK}" stroke-width="0.9"/>'
    )
    middle = 'text-anchor="middle" font-weight="600"'
    out.append(text_at((x0 + x1) / 2, y0 + TAG_HEIGHT - 3.6, text, TAG_TEXT, INK, middle))
    return out


def draw_datum(height: float) -> list[str]:
    """Draw the origin of a face, at its lower left corner, with the ways of u and v."""
    y = height + 8.0
    return [
        f'<path d="M-8 {number(y)}h{number(DATUM)}m-5 -3l5 3l-5 3M-8 {number(y)}v{number(-DATUM)}m-3 5l3 -5l3 5" '
        f'fill="none" stroke="{SOFT}" stroke-width="1"/>',
        text_at(DATUM - 4.0, y + 3.5, "u", TAG_TEXT, SOFT),
        text_at(-11.0, y - DATUM - 4.0, "v", TAG_TEXT, SOFT),
    ]


def draw_sides(setup: SetUp, width: float, height: float) -> list[str]:
    """Name the faces on both long sides of an edge, which lie alike; nothing for the front and the back."""
    return [
        text_at(box[0], box[3] - 2.0, said, TAG_TEXT, SOFT)
        for said, box in zip(("front", "back"), side_boxes(setup, width, height), strict=False)
    ]


def side_boxes(setup: SetUp, width: float, height: float) -> list[Rect]:
    """Return what these names take, on the right of the edge, in picture units."""
    if setup.face not in EDGES:
        return []
    x, wide = width + 5.0, guess_width("front", TAG_TEXT)
    return [
        (x, bottom - TAG_HEIGHT, x + wide, bottom) for bottom in (8.0, max(height + 5.0, 8.0 + TAG_HEIGHT))
    ]


def draw_depths(setup: SetUp, depths: DepthScale, width: float) -> tuple[list[str], float]:
    """Draw the legend of a set-up's depths, wrapped to a width; return its height too."""
    floors = {round(pocket.floor, 2) for pocket in setup.pockets}
    floors |= {round(hole.top + hole.depth, 2) for hole in setup.holes if not hole.through}
    entries = [(depths.fill(depth), f"{show_mm(depth)} mm deep") for depth in sorted(floors)]
    if any(hole.through for hole in setup.holes):
        entries.append((SHEET, "through"))
    out: list[str] = []
    x, y = 0.0, 0.0
    for fill, said in entries:
        wide = SWATCH + 6.0 + guess_width(said, TAG_TEXT) + COLUMN_GAP
        if x > 0.0 and x + wide > width:
            x, y = 0.0, y + ROW
        out.append(
            f'<rect x="{number(x)}" y="{number(y)}" width="{number(SWATCH)}" height="11" fill="{fill}" '
            f'stroke="{FINE}" stroke-width="0.8"/>'
        )
        out.append(text_at(x + SWATCH + 6.0, y + 9.5, said, TAG_TEXT, INK))
        x += wide
    return out, (y + ROW if entries else 0.0)
