"""The plotting frame of a chart: scales, round ticks, grid, and lines as paths."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from exports.pictures.labels import Rect
from exports.pictures.plan_symbols import INK, SHEET, SOFT, TEXT
from exports.pictures.svg import FONT, attribute, guess_width, number, text_at
from exports.wording.figures import shorten_until, wrap_words
from geom.outline import Point

WIDTH = 1000.0
"""Of a chart, in picture units."""
MARGIN = 28.0
LABEL = 12.0
TICK = 11.0
"""Sizes of text, in picture units: the smallest is legible where the chart is 1000 pixels wide."""
LINE_HEIGHT = 16.0
GRID = "#e7ebed"


@dataclass(frozen=True, slots=True)
class Frame:
    """A box of the picture and the values that it spans.

    Parameters
    ----------
    box : Rect
        In picture units, y down.
    across, up : (float, float)
        Least and greatest value, in the chart's units.
    """

    box: Rect
    across: tuple[float, float]
    up: tuple[float, float]

    def to(self, x: float, y: float) -> Point:
        """Return a pair of values in picture units."""
        x0, y0, x1, y1 = self.box
        (left, right), (low, high) = self.across, self.up
        return (x0 + (x - left) / (right - left) * (x1 - x0), y1 - (y - low) / (high - low) * (y1 - y0))


def round_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Return the multiples of the smallest round step (1, 2 or 5 times a power of ten) within a range.

    Parameters
    ----------
    low, high : float
        `high` greater than `low`.
    most : int
        Most intervals between ticks that the range may hold, at least 1.

    Returns
    -------
    tuple of float
        Rising; as exact as their decimal notation.
    """
    step, decimals = _round_step(low, high, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    ticks = tuple(round(k * step, decimals) + 0.0 for k in range(first, last + 1))
    # A range between two multiples of the step, such as 1 to 4002 in steps of 5000, has none.
    return ticks or round_ticks(low, high, most + 1)


def show_tick(value: float, ticks: tuple[float, ...]) -> str:
    """Return a tick's label: as many decimals as the ticks' step has."""
    step = ticks[1] - ticks[0] if len(ticks) > 1 else abs(value) or 1.0
    return f"{value:.{max(0, -math.floor(math.log10(step) + 1e-9))}f}"


def widen_to_ticks(low: float, high: float, most: int) -> tuple[float, float]:
    """Return a range widened to whole steps of its round ticks."""
    step, decimals = _round_step(low, high, most)
    return (
        round(math.floor(low / step + 1e-9) * step, decimals) + 0.0,
        round(math.ceil(high / step - 1e-9) * step, decimals) + 0.0,
    )


def draw_grid(
    frame: Frame, x_title: str, y_title: str, x_ticks: tuple[float, ...], y_ticks: tuple[float, ...]
) -> list[str]:
    """Draw grid, ticks and titles: that of y stands over its axis, that of x under it."""
    x0, y0, x1, y1 = frame.box
    lines = [f"M{number(frame.to(x, 0)[0])} {number(y0)}V{number(y1)}" for x in x_ticks]
    lines += [f"M{number(x0)} {number(frame.to(0, y)[1])}H{number(x1)}" for y in y_ticks]
    out = [f'<path d="{"".join(lines)}" stroke="{GRID}" stroke-width="1" fill="none"/>']
    out.append(
        f'<path d="M{number(x0)} {number(y0)}V{number(y1)}H{number(x1)}" stroke="{SOFT}" fill="none"/>'
    )
    for x in x_ticks:
        at = frame.to(x, 0)[0]
        out.append(text_at(at, y1 + 17.0, show_tick(x, x_ticks), TICK, SOFT, 'text-anchor="middle"'))
    for y in y_ticks:
        at = frame.to(0, y)[1]
        out.append(text_at(x0 - 7.0, at + 4.0, show_tick(y, y_ticks), TICK, SOFT, 'text-anchor="end"'))
    out.append(text_at(MARGIN, y0 - 12.0, y_title, LABEL, INK))
    if x_title:
        out.append(text_at(x1, y1 + 36.0, x_title, LABEL, INK, 'text-anchor="end"'))
    return out


def draw_line(points: Iterable[Point], colour: str, weight: float, dashes: str = "") -> str:
    """Return a polyline through points in picture units; `dashes` as SVG's stroke-dasharray."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<path d="{trace_path(points)}" fill="none" stroke="{colour}" stroke-width="{number(weight)}" '
        f'stroke-linejoin="round"{dashed}/>'
    )


def trace_path(points: Iterable[Point]) -> str:
    """Return path data of a polyline through points in picture units."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def write_chart(title: str, heading: list[str], body: list[str], height: float) -> str:
    """Return a whole SVG document: title, lines under it, and the drawing, on white.

    Parameters
    ----------
    title : str
    heading : list of str
        Lines under the title, as `wrap_heading` gives them.
    body : list of str
        Elements in picture units of the whole picture.
    height : float
        Of the whole picture.
    """
    size = f'width="{number(WIDTH)}" height="{number(height)}" viewBox="0 0 {number(WIDTH)} {number(height)}"'
    said = [
        text_at(MARGIN, MARGIN + 36.0 + k * LINE_HEIGHT, line, TEXT, SOFT) for k, line in enumerate(heading)
    ]
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family={attribute(FONT)} role="img" '
            f"aria-label={attribute(title)}>",
            f'<rect width="100%" height="100%" fill="{SHEET}"/>',
            text_at(
                MARGIN,
                MARGIN + 14.0,
                fit_text(title, 18.0, WIDTH - 2 * MARGIN),
                18.0,
                INK,
                'font-weight="600"',
            ),
            *said,
            *body,
            "</svg>",
            "",
        )
    )


def wrap_heading(text: str) -> list[str]:
    """Return a text in lines as wide as a chart."""
    return wrap_words(text, int((WIDTH - 2 * MARGIN) / (0.6 * TEXT)))


def heading_height(heading: list[str]) -> float:
    """Return where the drawing under a heading begins, picture units from the top."""
    return MARGIN + 36.0 + len(heading) * LINE_HEIGHT


def fit_text(text: str, size: float, width: float) -> str:
    """Return a text that is no wider than `width`: what is too long loses its middle to an ellipsis."""
    return shorten_until(text, lambda short: guess_width(short, size) <= width)


def _round_step(low: float, high: float, most: int) -> tuple[float, int]:
    """Return the smallest round step of which the range holds at most `most`, and its decimals."""
    power = math.floor(math.log10((high - low) / most)) - 1
    while True:
        for digit in (1, 2, 5):
            step = digit * 10.0**power
            if (high - low) / step <= most * (1 + 1e-9):
                return step, max(0, -power)
        power += 1
