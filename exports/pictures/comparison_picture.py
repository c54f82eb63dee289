"""Two plans at one scale in one picture (SVG), with what differs under them."""

from __future__ import annotations

from dataclasses import replace

from exports.comparing.values import ALIKE, Comparison, Group, Row, Side
from exports.pictures.labels import Rect
from exports.pictures.plan_notes import draw_legend
from exports.pictures.plan_picture import PlanDrawing, lay_plan, plan_heading, plan_scale
from exports.pictures.plan_symbols import INK, SHORE, SOFT, TEXT
from exports.pictures.svg import guess_width, number, text_at
from exports.pictures.whole_picture import Notes, whole_picture
from exports.wording.comparison_words import (
    RESULTS,
    list_notes,
    show_figure,
    show_values,
    tell_difference,
    tell_finding,
    tell_sameness,
)
from exports.wording.figures import shorten_text, wrap_words
from layouts.plan import Plan

BESIDE = 1600.0
"""Width up to which both plans stand side by side, in picture units; wider ones stand one above the other."""

SMALLER = (1.0, 0.75)
"""Shares of their usual size that are tried for that."""

GAP = 44.0
CAPTION = 46.0
"""Between the two plans, and height of what stands over each, in picture units."""

TEXT_WIDTH = 620.0
"""Of what is told where there is no plan, in picture units."""

ROW = 20.0
LETTER = 0.56
"""Height of a table's row in picture units, and width of a letter in text sizes, in the mean."""

MAIN = {
    "flow": ("flow", "head", "drop of the loop"),
    "coolant": ("channels with the bores into them",),
    "mass, planned": ("all parts",),
    "cover screws": ("cover screws",),
}
"""What stands in the table even where it does not differ."""

MOST_ROWS = 30
MOST_FINDINGS = 10
MOST_KEYS = 15
"""More is told by the command's table."""

CELL = 40


def draw_comparison(comparison: Comparison, plan_a: Plan | None, plan_b: Plan | None) -> str:
    """Return the picture of two plans compared.

    Parameters
    ----------
    comparison : Comparison
    plan_a, plan_b : Plan or None
        None where there is no layout.

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same plans.
    """
    both = (plan_a, plan_b)
    drawn, beside = _lay_both(both)
    plans = [plan for plan in both if plan is not None]
    scale = next((one.view.scale for one in drawn if one is not None), 1.0)
    pieces: list[str] = []
    x = y = width = 0.0
    tall = [0.0]
    for letter, side, plan, one in zip("AB", (comparison.a, comparison.b), both, drawn, strict=True):
        placed, size = _draw_side(letter, side, plan, one, (x, y))
        pieces += placed
        width = max(width, x + size[0])
        tall.append(y + size[1])
        if beside:
            x += size[0] + GAP
        else:
            y += size[1] + GAP
    extent: Rect = (0.0, 0.0, width, max(tall))
    # All plans have the first of the same patterns: the most are those of both.
    definitions = max((one.definitions for one in drawn if one is not None), key=len, default=())
    return whole_picture(
        f"Plans of {comparison.a.name} and {comparison.b.name}, compared",
        _heading(comparison, beside),
        pieces,
        extent,
        _draw_notes(comparison, plans, width, scale),
        definitions,
    )


def _lay_both(plans: tuple[Plan | None, Plan | None]) -> tuple[list[PlanDrawing | None], bool]:
    """Return both plans drawn at one scale, and whether they stand side by side."""
    usual = min((plan_scale(plan.panel) for plan in plans if plan is not None), default=1.0)
    for share in SMALLER:
        # Letters of findings would be taken for those of the panels; findings are told in words.
        drawn = [
            None if plan is None else lay_plan(replace(plan, findings=()), share * usual) for plan in plans
        ]
        if sum(_width(one) for one in drawn) + GAP <= BESIDE:
            return drawn, True
    return [None if plan is None else lay_plan(replace(plan, findings=()), usual) for plan in plans], False


def _width(drawn: PlanDrawing | None) -> float:
    return TEXT_WIDTH if drawn is None else drawn.extent[2] - drawn.extent[0]


def _heading(comparison: Comparison, beside: bool) -> tuple[str, str]:
    where = "side by side" if beside else "A above B"
    title = "Two panels compared"
    same = tell_sameness(comparison)
    return title, f"{where}, at one scale, seen from the front{f' · {same}' if same else ''}"


def _draw_side(
    letter: str, side: Side, plan: Plan | None, drawn: PlanDrawing | None, at: tuple[float, float]
) -> tuple[list[str], tuple[float, float]]:
    """Draw one plan with its caption; return the size that it takes too."""
    x, y = at
    file = shorten_text(side.path, 60)
    out = [
        text_at(x, y + 14, f"{letter}: {side.name}", 17.0, INK, 'font-weight="600"'),
        text_at(x + guess_width(f"{letter}: {side.name}", 17.0, True) + 14, y + 14, file, TEXT, SOFT),
    ]
    title = guess_width(f"{letter}: {side.name}", 17.0, True) + 14 + guess_width(file, TEXT)
    if plan is None or drawn is None:
        lines = wrap_words(f"{RESULTS[side.result]}: {side.problem}", int(TEXT_WIDTH / (LETTER * TEXT)))
        out += [text_at(x, y + 36 + 16 * k, line, TEXT, INK) for k, line in enumerate(lines)]
        return out, (max(title, TEXT_WIDTH), 36.0 + 16.0 * len(lines))
    said = plan_heading(plan)[1].removesuffix(" · seen from the front")
    out.append(text_at(x, y + 33, said, TEXT, SOFT))
    left, top, right, bottom = drawn.extent
    shift = f"translate({number(x - left)} {number(y + CAPTION - top)})"
    out += [f'<g transform="{shift}">', *drawn.pieces, "</g>"]
    width = max(right - left, title, guess_width(said, TEXT))
    return out, (width, CAPTION + bottom - top)


def _draw_notes(comparison: Comparison, plans: list[Plan], width: float, scale: float) -> Notes:
    table, table_width, height = _draw_table(comparison)
    out = list(table)
    if plans:
        legend, legend_width, legend_height = draw_legend(
            plans[0], scale, plans[1] if len(plans) > 1 else None
        )
        beside = table_width + GAP + legend_width <= max(width, 900.0)
        x, y = (table_width + GAP, 0.0) if beside else (0.0, height + 8.0)
        out += [f'<g transform="translate({number(x)} {number(y)})">', *legend, "</g>"]
        height = max(height, y + legend_height)
        table_width = max(table_width, x + legend_width)
    full = max(width, table_width)
    for title, said in (
        ("channels", _tell_channels(plans)),
        ("findings" if comparison.alone else "findings that are not the same", _tell_findings(comparison)),
        ("what differs in the files", _tell_keys(comparison)),
        ("", list_notes(comparison)),
    ):
        height += 8.0 if said else 0.0
        if said and title:
            out.append(text_at(0.0, height + 12, title, TEXT, SHORE, 'font-weight="600"'))
            height += ROW
        for one in said:
            for line in wrap_words(one, int(full / (LETTER * TEXT))):
                out.append(text_at(0.0, height + 12, line, TEXT, INK if title else SOFT))
                height += 16.0
    return out, full, height


def _draw_table(comparison: Comparison) -> Notes:
    """Draw the main rows and all others that differ, but for those of single parts, channels and ports."""
    rows: list[tuple[str, ...]] = [("", "A", "B", "" if comparison.alone else "B less A")]
    soft = {0}
    listed = [(group, row) for group in comparison.groups for row in group.rows if _is_shown(group, row)]
    spare = MOST_ROWS - sum(_is_main(group, row) for group, row in listed)
    for group, row in listed:
        if not _is_main(group, row):
            spare -= 1
            if spare < 0:
                continue
        cells = (shorten_text(show_figure(figure, row.unit), CELL) for figure in (row.a, row.b))
        name = row.what if row.what.startswith(group.name) else f"{group.name}: {row.what}"
        if row.verdict in ALIKE:
            soft.add(len(rows))
        rows.append((name, *cells, "" if comparison.alone else tell_difference(row)))
    if len(rows) == 1:
        return [], 0.0, 0.0
    more = len(listed) - len(rows) + 1
    widths = [max(guess_width(row[c], TEXT) for row in rows) + 22.0 for c in range(4)]
    out, y = [], 8.0
    for k, told in enumerate(rows):
        x = 0.0
        for c, cell in enumerate(told):
            colour = SOFT if k == 0 or (k in soft and c == 3) else INK
            if c in (1, 2):
                out.append(text_at(x + widths[c] - 22.0, y + 4, cell, TEXT, colour, 'text-anchor="end"'))
            elif cell:
                out.append(text_at(x, y + 4, cell, TEXT, colour))
            x += widths[c]
        y += ROW
    if more > 0:
        out.append(text_at(0.0, y + 4, f"and {more} more in the table of rillplate compare", TEXT, SOFT))
        y += ROW
    return out, sum(widths) - 22.0, y


def _is_main(group: Group, row: Row) -> bool:
    return row.what in MAIN.get(group.name, ())


def _is_shown(group: Group, row: Row) -> bool:
    return _is_main(group, row) or (not row.single and row.verdict not in ALIKE)


def _tell_channels(plans: list[Plan]) -> list[str]:
    """Return what the numbers in the plans stand for: once where both have the same."""
    told = [
        ", ".join(f"{k} {channel.name}" for k, channel in enumerate(plan.routed.channels, 1))
        for plan in plans
    ]
    if len(set(told)) < 2:
        return told[:1]
    return [f"{letter}: {one}" for letter, one in zip("AB", told, strict=True)]


def _tell_findings(comparison: Comparison) -> list[str]:
    if not comparison.groups:
        return []
    pairs = [pair for pair in comparison.findings if pair.verdict != "same"]
    told = [
        f"{pair.verdict}: {tell_finding(pair)}" if pair.verdict.startswith("only") else tell_finding(pair)
        for pair in pairs[:MOST_FINDINGS]
    ]
    more = len(pairs) - MOST_FINDINGS
    return [*told, *([f"and {more} more"] if more > 0 else [])]


def _tell_keys(comparison: Comparison) -> list[str]:
    keys = comparison.keys
    told = ["{}: A {}, B {}".format(row.key, *show_values(row, CELL)) for row in keys[:MOST_KEYS]]
    more = len(keys) - MOST_KEYS
    return [*told, *([f"and {more} more"] if more > 0 else [])]
