"""What stands under the picture of a closing: a table of cords or of clamps, the legend, what it comes to."""

from __future__ import annotations

import math
from collections.abc import Callable

from exports.pictures.closing_places import tight_arcs
from exports.pictures.closing_symbols import (
    CORD,
    GROOVE,
    LAND,
    TURNS,
    draw_clamp,
    draw_cord_tag,
    draw_reach,
    draw_screw_number,
)
from exports.pictures.plan_symbols import FAULT, FINE, INK, SHEET, SHORE, SOFT, TEXT
from exports.pictures.svg import guess_width, number, text_at
from exports.wording.closing_work import list_work
from exports.wording.cord_names import cord_tag, name_rounds
from exports.wording.figures import show_mm, wrap_words
from geom.outline import Point
from geom.standards import tables
from geom.units import GRAVITY_M_S2, show_number
from geom.words import count_of, join_names, tell_within
from layouts.closing.bond import (
    BOND_LINE,
    FILM,
    clamp_forces,
    clamp_pressure,
    mean_pull,
    rim_pull,
    squeezed_ml,
)
from layouts.closing.clamps import BOARD
from layouts.closing.gland import cut_length, tightest_turn
from layouts.closing.spacing import LIMIT_WORDS
from layouts.plan import BondedLands, Layer, Plan
from layouts.rules.cautions import list_bonding_cautions

ROW = 20.0
LINE = 16.0
GAP = 48.0
COLUMN_GAP = 18.0
WORK = 84.0
"""Where the sentences for the bench begin, right of their headings."""

Entry = tuple[list[str], str]


def draw_closing_notes(
    plan: Plan, layer: Layer, width: float, scale: float
) -> tuple[list[str], float, float]:
    """Draw table, legend and sentences; return their size too.

    Parameters
    ----------
    plan : Plan
    layer : {"back", "front"}
    width : float
        Of the drawing above, in picture units.
    scale : float
        Picture units a millimetre of the drawing.
    """
    lands = plan.sealed.lands_of(layer)
    work: list[tuple[str, str]] = []
    if lands is not None:
        rows, entries, said = clamp_rows(plan, lands), _bond_entries(lands), tell_bond(plan, lands)
    else:
        rows, entries, said = cord_rows(plan, layer), _cord_entries(plan, layer), _tell_screws(plan, layer)
        work = list_work(plan, layer)
    table, table_width, table_height = _table(rows, lands is None)
    legend, legend_width, legend_height = _legend(entries, scale, 0.0)
    beside = table_width + GAP + legend_width <= max(width, 760.0)
    if not beside:
        legend, legend_width, legend_height = _legend(entries, scale, max(width, table_width))
    lx, ly = (table_width + GAP, 0.0) if beside else (0.0, table_height + 16.0)
    out = [*table, f'<g transform="translate({number(lx)} {number(ly)})">', *legend, "</g>"]
    y = max(table_height, ly + legend_height) + 14.0
    full = max(width, table_width + GAP + legend_width if beside else table_width)
    for heading, text in work:
        out.append(text_at(0.0, y + 4, heading, TEXT, SOFT))
        for line in wrap_words(text, int((full - WORK) / (0.6 * TEXT))):
            out.append(text_at(WORK, y + 4, line, TEXT, INK))
            y += LINE
        y += 4.0
    y += 6.0 if work else 0.0
    for sentence in said:
        for line in wrap_words(sentence, int(full / (0.6 * TEXT))):
            out.append(text_at(0.0, y + 4, line, TEXT, INK))
            y += LINE
        y += 4.0
    return out, full, y


def cord_rows(plan: Plan, layer: Layer) -> list[tuple[str, ...]]:
    """Return the cords of a joint by their tags: round what, groove, cut, the least turn's radius."""
    cord = tables.cord(plan.panel.make.cord)
    rows: list[tuple[str, ...]] = [("", "cord round", "groove", "cut to", "least turn")]
    rounds, tags = name_rounds(plan.sealed), {loop.name: cord_tag(loop) for loop in plan.sealed.loops}
    for loop in plan.sealed.loops_of(layer):
        tightest = tightest_turn(loop)
        turn = "–" if tightest is None else f"{tightest[0]:.1f} mm, {tightest[0] / cord.section:.1f} cords"
        cut = tell_within(*cut_length(loop, cord))
        others = dict.fromkeys(tags[name] for name in loop.meets)
        ends = f", ends at {join_names(tuple(others))}" if others else ""
        rows.append((tags[loop.name], rounds[loop.name] + ends, f"{loop.length:.0f} mm", cut, turn))
    return rows


def _tell_screws(plan: Plan, layer: Layer) -> list[str]:
    loops, screws = plan.sealed.loops_of(layer), plan.sealed.screws_of(layer)
    coverage = plan.sealed.coverage_of(layer)
    if not screws:
        bare = math.fsum(loop.length for loop in loops)
        return [f"No cover screw has room; {bare:.0f} mm of cord are held by none."]
    first = f"{count_of(len(screws), 'screw')} {plan.panel.make.screw}"
    if coverage is None:
        return [f"{first}."]
    said = [
        f"{first}; among the places tried, fewer than {coverage.least} would leave something out of reach (proven). "
        f"Along a cord they may stand {coverage.spacing:.1f} mm apart at most, by {LIMIT_WORDS[coverage.limit]}; the "
        f"cord's farthest place is {coverage.reach:.1f} mm from its screw, {coverage.spacing / 2:.1f} mm are allowed."
    ]
    if coverage.crowded is not None:
        said.append(
            f"Where a screw would be loaded too much they stand closer, {coverage.crowded:.1f} mm apart at the closest."
        )
    if coverage.stretches:
        bare = math.fsum(stretch.length for stretch in coverage.stretches)
        names = sorted({name for stretch in coverage.stretches for name in stretch.blockers})
        kept = f", kept away by {', '.join(names)}" if names else ""
        said.append(f"{max(bare, 1):.0f} mm of cord are out of reach of every screw{kept}.")
    return said


def _cord_entries(plan: Plan, layer: Layer) -> list[Entry]:
    coverage = plan.sealed.coverage_of(layer)
    cord, loops = plan.panel.make.cord, plan.sealed.loops_of(layer)
    groove = f'<rect x="0" y="-5" width="20" height="10" fill="{GROOVE}" stroke="{FINE}" stroke-width="0.8"/>'
    bar = f'<path d="M0 0h20" stroke="{CORD}" stroke-width="7"/>'

    def over(colour: str, width: float) -> list[str]:
        return [groove, bar, f'<path d="M0 0h20" stroke="{colour}" stroke-width="{number(width)}"/>']

    entries: list[Entry] = [
        ([groove, bar, draw_cord_tag((10.0, 0.0), "1")], "cord in its groove, and its number"),
        *(
            (over(colour, 3.0), f"turn under {sections:g} cords")
            for sections, colour in TURNS
            if any(tight_arcs(loop, sections * cord) for loop in loops)
        ),
        ([draw_screw_number((10.0, 0.0), 7.5, 1)], f"cover screw {plan.panel.make.screw}, and its number"),
    ]
    if coverage is not None:
        entries.append(([draw_reach((10.0, 0.0), 8.0)], "what a screw reaches"))
        if coverage.stretches:
            entries.append((over(FAULT, 8.0), "out of reach of every screw"))
    return entries


def clamp_rows(
    plan: Plan, lands: BondedLands, see: Callable[[Point], Point] = lambda at: at
) -> list[tuple[str, ...]]:
    """Return what presses, two to a row: number, place as `see` turns it, force."""
    kind = tables.material(plan.panel.make.cover_row).kind
    places = (*lands.clamps, *lands.weights)
    cells = []
    for k, (at, (low, high)) in enumerate(zip(places, clamp_forces(lands, kind), strict=True), 1):
        weight = k > len(lands.clamps)
        force = (
            f"{low / GRAVITY_M_S2:.1f} to {high / GRAVITY_M_S2:.1f} kg"
            if weight
            else f"{low:.0f} to {high:.0f} N"
        )
        u, v = see(at)
        cells.append((f"{'weight' if weight else 'clamp'} {k}", f"{show_mm(u)}, {show_mm(v)} mm", force))
    half = math.ceil(len(cells) / 2)
    rows: list[tuple[str, ...]] = [("", "pressed at", "with", "", "pressed at", "with")]
    for k in range(half):
        right = cells[half + k] if half + k < len(cells) else ("", "", "")
        rows.append((*cells[k], *right))
    return rows


def tell_bond(plan: Plan, lands: BondedLands) -> list[str]:
    """Return what is told of a bonded joint: its lands, the pull on them, how it is pressed, cautions."""
    make, pressure = plan.panel.make, plan.panel.rules.test_pressure_pa
    low, high = clamp_pressure(tables.material(make.cover_row).kind)
    mean, rim = mean_pull(lands, pressure), rim_pull(pressure, lands.span, lands.beside, make.cover)
    a, b = lands.between
    at_rim = f", by {show_number(rim, 2)} MPa at the rim of the {lands.pulled}" if lands.pulled else ""
    return [
        f"{lands.area_mm2 / 100:.0f} cm² of land; the narrowest, {show_mm(lands.least_width)} mm, lies between {a} "
        f"and {b}. At the test pressure the cover pulls on its bond by {show_number(mean, 2)} MPa in the "
        f"mean{at_rim}.",
        f"Each clamp presses {show_mm(lands.reach)} mm round its middle, through a flat board {show_mm(BOARD)} mm "
        f"thick; {low:g} to {high:g} MPa on the lands are enough. {squeezed_ml(lands):.2g} mL of adhesive are pressed "
        f"out if a film of {FILM:g} mm becomes one of {BOND_LINE:g} mm.",
        *list_bonding_cautions(plan.panel),
    ]


def _bond_entries(lands: BondedLands) -> list[Entry]:
    entries: list[Entry] = [
        ([f'<rect x="0" y="-6" width="20" height="12" fill="{LAND}" stroke="{FINE}"/>'], "bonded land"),
        ([f'<rect x="0" y="-6" width="20" height="12" fill="{SHEET}" stroke="{SHORE}"/>'], "wet"),
        (draw_clamp((10.0, 0.0), 1, False), "clamp, and its number"),
    ]
    if lands.weights:
        entries.append((draw_clamp((10.0, 0.0), 1, True), "weight, and its number"))
    ring = f'<circle cx="10" cy="0" r="8" fill="none" stroke="{SOFT}" stroke-width="0.8" stroke-dasharray="2 4"/>'
    entries.append(([ring], "what it presses"))
    mark = f'<path d="M2 0h16M2 -5v10M18 -5v10" stroke="{FAULT}" stroke-width="2"/>'
    entries.append(([mark], "narrowest land"))
    return entries


def _table(rows: list[tuple[str, ...]], tagged: bool) -> tuple[list[str], float, float]:
    """Draw rows under a head; `tagged` where the first cells are cords' tags."""
    columns = list(zip(*rows, strict=True))
    widths = [max(guess_width(cell, TEXT) for cell in column) + COLUMN_GAP for column in columns]
    widths[0] = max(widths[0], 28.0)
    out: list[str] = []
    y = 8.0
    for r, row in enumerate(rows):
        x = 0.0
        for c, cell in enumerate(row):
            if r and c == 0 and tagged:
                out.append(draw_cord_tag((8.0, y), cell))
            elif cell:
                out.append(text_at(x, y + 4, cell, TEXT, INK if r else SOFT))
            x += widths[c]
        y += ROW
    return out, sum(widths), y


def _legend(entries: list[Entry], scale: float, width: float) -> tuple[list[str], float, float]:
    """Draw the legend with its scale bar, in as many columns as `width` holds, at least one."""
    bar_mm = 50.0 if 50.0 * scale <= 200.0 else 20.0
    bar = bar_mm * scale
    label = f"{show_mm(bar_mm)} mm"
    ruler = [f'<path d="M0 -5v10M0 0h{number(bar)}m0 -5v10" stroke="{INK}" fill="none"/>']
    cells = [*((symbol, text, 28.0) for symbol, text in entries), (ruler, label, bar + 10.0)]
    column = max(at + guess_width(text, TEXT) for _, text, at in cells) + 24.0
    columns = max(1, int(width / column))
    rows = math.ceil(len(cells) / columns)
    out: list[str] = []
    for k, (symbol, text, at) in enumerate(cells):
        x, y = (k // rows) * column, 8.0 + (k % rows) * ROW
        out += [f'<g transform="translate({number(x)} {number(y)})">', *symbol, "</g>"]
        out.append(text_at(x + at, y + 4, text, TEXT, INK))
    return out, columns * column, 8.0 + rows * ROW
