"""What stays over all tilts as a picture (SVG): a map of air left when filled, one of coolant left when drained.

Every cell tells its volume as a number, so that no colour is needed to read it. Who looks at the panel stands below the
map: forwards is down, as on a table.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import replace

import numpy as np

from exports.pictures.bow_picture import BANDS
from exports.pictures.plan_symbols import INK, SHEET, SMALL, SOFT, TEXT
from exports.pictures.svg import guess_width, number, text_at
from exports.pictures.tilt_attitudes import draw_attitude, draw_eye, draw_upright_side
from exports.pictures.whole_picture import whole_picture
from exports.wording.figures import show_degrees, show_mm, wrap_words
from exports.wording.filling_words import tell_attitude, tell_tilts
from geom.frame import ROUNDING
from geom.units import ml, show_ml, show_number
from layouts.filling.pocket_limits import TILT_GAIN_MM3
from layouts.filling.tilt_words import name_side
from layouts.filling.tilts import SAME_MM3
from layouts.filling.values import Left, Tilt, TiltMap
from layouts.panel import Panel
from layouts.plan import Plan

CELL = 36.0
"""Side of a cell, picture units."""

LEFT, BETWEEN = 128.0, 150.0
"""Beside a map, for its axis with small drawings; between both maps, picture units."""

HEAD = 42.0
BELOW = 118.0
"""Over a map for its headings, and under it for its axis."""

DRAWN = 46.0
"""Longest side of the panel in a small drawing, picture units."""

SHOWN_DEG = 25.0
"""How far the panel in the small drawings is tilted, [deg]."""

EVERY_DEG = 15.0
"""Between the angles told along an axis, [deg]."""

STEPS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
"""Steps of the scale that read well, times a power of ten."""

BAR = 34.0
"""Width of a step of the scale, picture units."""

LINE = 17.0
LETTER = 0.56
"""Height of a line of text; width of its letters in the mean, in their size."""

LIGHT_FROM = 4
"""From which of `BANDS` on text stands in white."""

NONE_MM3 = 50.0
"""Less counts as nothing, and stays white, [mm3]."""


def draw_tilts(plan: Plan, tilts: TiltMap, left: Left | None = None) -> str:
    """Return the picture of what stays over all tilts.

    Parameters
    ----------
    plan : Plan
    tilts : TiltMap
    left : Left or None
        What stays as installed, where it is known from finer voxels than the map's: told in the middle cells.

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same values.
    """
    panel = plan.panel
    side = CELL * len(tilts.degrees)
    out: list[str] = []
    second = LEFT + side + BETWEEN
    bared = ~tilts.tank_stays
    if left is not None:
        tilts = _set_middle(tilts, left)
    for x, title, values, best, hatched in (
        (LEFT, "Air left when filled, mL, about", tilts.air_mm3, tilts.fill_best, bared),
        (
            second,
            "Coolant left when drained, mL, about",
            tilts.coolant_mm3,
            tilts.drain_best,
            np.zeros_like(bared),
        ),
    ):
        out += [f'<g transform="translate({number(x)} {number(HEAD)})">']
        out += _draw_map(panel, tilts, title, values, best, hatched)
        out.append("</g>")
    width, height = second + side + 8.0, HEAD + side + BELOW
    return whole_picture(
        f"What stays in {panel.name} over all tilts",
        (f"{panel.name}: air and coolant that stay when the panel is tilted", _tell_installed(panel)),
        out,
        (0.0, 0.0, width, height),
        _draw_notes(plan, tilts, width, left),
        (_hatch(),),
    )


def _set_middle(tilts: TiltMap, left: Left) -> TiltMap:
    """Return the map with what stays as installed from finer voxels: one figure for one thing."""
    middle = (tilts.degrees.index(0.0), tilts.degrees.index(0.0))
    air, coolant = tilts.air_mm3.copy(), tilts.coolant_mm3.copy()
    air[middle], coolant[middle] = left.air_mm3, left.coolant_mm3
    return replace(tilts, air_mm3=air, coolant_mm3=coolant)


def _tell_installed(panel: Panel) -> str:
    return (
        f"the middle of each map is as installed: the panel {tell_attitude(panel)} · the small drawings show which way "
        "it is tilted, its front face in blue"
    )


def _draw_map(
    panel: Panel, tilts: TiltMap, title: str, values: np.ndarray, best: Tilt, hatched: np.ndarray
) -> list[str]:
    count = len(tilts.degrees)
    side = CELL * count
    levels = find_levels(tilts)
    out = [text_at(0.0, -16.0, title, 14.0, INK, 'font-weight="600"')]
    for row in range(count):
        for column in range(count):
            x, y = CELL * column, CELL * row
            value = float(values[row, column])
            fill = _colour(value, levels)
            out.append(
                f'<rect x="{number(x)}" y="{number(y)}" width="{number(CELL)}" height="{number(CELL)}" fill="{fill}"/>'
            )
            if hatched[row, column]:
                out.append(
                    f'<rect x="{number(x)}" y="{number(y)}" width="{number(CELL)}" height="{number(CELL)}" '
                    'fill="url(#bared)"/>'
                )
            out.append(_draw_value(x, y, value, fill, bool(hatched[row, column])))
    lines = "".join(
        f"M{number(CELL * k)} 0V{number(side)}M0 {number(CELL * k)}H{number(side)}" for k in range(count + 1)
    )
    out.append(f'<path d="{lines}" stroke="{SHEET}" stroke-width="1" fill="none"/>')
    out.append(
        f'<rect x="0" y="0" width="{number(side)}" height="{number(side)}" fill="none" stroke="{INK}" '
        'stroke-width="1.2"/>'
    )
    installed = _place(tilts, Tilt(0.0, 0.0))
    if installed is not None:
        out += draw_installed(*installed, CELL)
    marked = _place(tilts, best)
    if marked is not None:
        out += draw_best(*marked, CELL)
    return [*out, *_draw_axes(panel, tilts, side)]


def _draw_value(x: float, y: float, value_mm3: float, ground: str, hatched: bool) -> str:
    ink = SHEET if ground in BANDS[LIGHT_FROM:] else INK
    # Over hatching a number needs its own ground.
    halo = (
        f' paint-order="stroke" stroke="{ground}" stroke-width="4" stroke-linejoin="round"' if hatched else ""
    )
    said = show_cell(value_mm3)
    return text_at(x + CELL / 2, y + CELL / 2 + 3.8, said, SMALL, ink, f'text-anchor="middle"{halo}')


def show_cell(value_mm3: float) -> str:
    """Return a volume for a cell, in mL without its unit: a tenth below 100 mL."""
    return show_ml(ml(value_mm3))


def find_levels(tilts: TiltMap) -> tuple[float, ...]:
    """Return the volumes between which the colour changes, from 0 up, the same in both maps, [mL]."""
    most = ml(max(float(tilts.air_mm3.max()), float(tilts.coolant_mm3.max()), NONE_MM3))
    power = 10.0 ** math.floor(math.log10(most / len(BANDS)))
    step = next(power * share for share in STEPS if power * share * len(BANDS) >= most * (1 - ROUNDING))
    return tuple(step * k for k in range(math.ceil(most / step - ROUNDING) + 1))


def _colour(value_mm3: float, levels: tuple[float, ...]) -> str:
    """Return the colour of a volume: white for none, the darkest for the most."""
    if value_mm3 < NONE_MM3:
        return SHEET
    step = min(bisect_right(levels, ml(value_mm3)) - 1, len(levels) - 2)
    return _colours(levels)[step]


def _colours(levels: tuple[float, ...]) -> tuple[str, ...]:
    """Return a colour for each step, from the lightest to the darkest whatever their number."""
    last = max(len(levels) - 2, 1)
    return tuple(BANDS[round(k * (len(BANDS) - 1) / last)] for k in range(len(levels) - 1))


def _place(tilts: TiltMap, tilt: Tilt) -> tuple[float, float] | None:
    """Return the corner of a tilt's cell; None where it is not on the map."""
    if tilt.right not in tilts.degrees or tilt.front not in tilts.degrees:
        return None
    return CELL * tilts.degrees.index(tilt.right), CELL * tilts.degrees.index(tilt.front)


def draw_installed(x: float, y: float, size: float) -> list[str]:
    """Draw the mark of the installed attitude: a dashed frame inside its cell."""
    inner = f'x="{number(x + 3)}" y="{number(y + 3)}" width="{number(size - 6)}" height="{number(size - 6)}"'
    return [
        f'<rect {inner} rx="4" fill="none" stroke="{SHEET}" stroke-width="3.4"/>',
        f'<rect {inner} rx="4" fill="none" stroke="{INK}" stroke-width="1.6" stroke-dasharray="4 2.5"/>',
    ]


def draw_best(x: float, y: float, size: float) -> list[str]:
    """Draw the mark of the best tilt: a heavy frame round its cell."""
    outer = f'x="{number(x)}" y="{number(y)}" width="{number(size)}" height="{number(size)}"'
    return [
        f'<rect {outer} fill="none" stroke="{SHEET}" stroke-width="6"/>',
        f'<rect {outer} fill="none" stroke="{INK}" stroke-width="3"/>',
    ]


def _draw_axes(panel: Panel, tilts: TiltMap, side: float) -> list[str]:
    out: list[str] = []
    for k, degrees in enumerate(tilts.degrees):
        if degrees % EVERY_DEG:
            continue
        at = CELL * (k + 0.5)
        out.append(text_at(at, side + 15.0, show_degrees(degrees), SMALL, SOFT, 'text-anchor="middle"'))
        out.append(text_at(-8.0, at + 4.0, show_degrees(degrees), SMALL, SOFT, 'text-anchor="end"'))
    y = side + 56.0
    for share, tilt, said in (
        (0.12, Tilt(-SHOWN_DEG, 0.0), ""),
        (0.5, Tilt(0.0, 0.0), "seen from the front"),
        (0.88, Tilt(SHOWN_DEG, 0.0), ""),
    ):
        said = said or name_side(panel, tilt)
        out += draw_attitude(panel, tilt, (share * side, y), DRAWN)
        out.append(text_at(share * side, y + 44.0, said, TEXT, INK, 'text-anchor="middle"'))
    x = -78.0
    for share, tilt, said in (
        (0.13, Tilt(0.0, -SHOWN_DEG), ""),
        (0.5, Tilt(0.0, 0.0), "from its side"),
        (0.87, Tilt(0.0, SHOWN_DEG), ""),
    ):
        said = said or name_side(panel, tilt)
        middle = (x, share * side - 6.0)
        out += (
            draw_upright_side(panel, middle, DRAWN)
            if tilt.front == 0.0
            else draw_attitude(panel, tilt, middle, DRAWN)
        )
        out += draw_eye((x - DRAWN / 2 - 16.0, middle[1]), True)
        out.append(text_at(x, middle[1] + 44.0, said, TEXT, INK, 'text-anchor="middle"'))
    return out


def _hatch() -> str:
    return (
        '<pattern id="bared" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<path d="M0 0V6" stroke="{INK}" stroke-width="1.1"/></pattern>'
    )


def _draw_notes(
    plan: Plan, tilts: TiltMap, width: float, left: Left | None
) -> tuple[list[str], float, float]:
    out: list[str] = []
    y = 8.0
    for sentence in tell_tilts(plan.panel, tilts, left):
        for line in wrap_words(sentence, int(width / (LETTER * 14.0))):
            out.append(text_at(0.0, y + 4.0, line, 13.0, INK, 'font-weight="600"'))
            y += LINE
    y += 14.0
    x = 0.0
    levels = find_levels(tilts)
    out.append(text_at(x, y + 4.0, "mL", TEXT, INK))
    x += 28.0
    out.append(
        f'<rect x="{number(x)}" y="{number(y - 8)}" width="{number(BAR)}" height="14" fill="{SHEET}" '
        f'stroke="{SOFT}" stroke-width="0.5"/>'
    )
    out.append(text_at(x + BAR / 2, y + 19.0, "none", SMALL, SOFT, 'text-anchor="middle"'))
    x += BAR + 14.0
    for k, colour in enumerate(_colours(levels)):
        out.append(
            f'<rect x="{number(x + BAR * k)}" y="{number(y - 8)}" width="{number(BAR)}" height="14" fill="{colour}" '
            f'stroke="{SOFT}" stroke-width="0.5"/>'
        )
    for k, level in enumerate(levels):
        out.append(text_at(x + BAR * k, y + 19.0, show_number(level, 3), SMALL, SOFT, 'text-anchor="middle"'))
    x += BAR * (len(levels) - 1) + 36.0
    entries = [
        (draw_installed(0.0, -11.0, 22.0), "as installed"),
        (draw_best(0.0, -11.0, 22.0), "best tilt"),
    ]
    if not tilts.tank_stays.all():
        hatched = f'<rect x="0" y="-9" width="22" height="18" fill="url(#bared)" stroke="{SOFT}" stroke-width="0.8"/>'
        entries.append(([hatched], "the tank, filled to its level, bares its outlet or floods its fill port"))
    for symbol, said in entries:
        out += [f'<g transform="translate({number(x)} {number(y)})">', *symbol, "</g>"]
        out.append(text_at(x + 32.0, y + 4.0, said, TEXT, INK))
        x += 32.0 + guess_width(said, TEXT) + 14.0
    whole = max(width, x)
    y += 40.0
    cubes = f"about so much, counted on cubes of {show_mm(tilts.spacing)} mm"
    if left is not None and left.spacing != tilts.spacing:
        cubes += f" (as installed on those of {show_mm(left.spacing)} mm)"
    caution = (
        f"Volumes are {cubes}, for a panel that is filled or drained in the attitude "
        "named and stays in it, with the pump at rest."
    )
    caution += (
        f" Best is the tilt nearest to as installed that leaves within {ml(SAME_MM3):g} mL of the least; as installed, "
        f"where none lets out half of what stays and more than {ml(TILT_GAIN_MM3):g} mL."
    )
    if not tilts.tank_stays.all():
        caution += " A tilt moves the tank's surface too: do not fill where the map is hatched."
    for line in wrap_words(caution, int(whole / (LETTER * TEXT))):
        out.append(text_at(0.0, y, line, TEXT, SOFT))
        y += LINE
    return out, whole, y
