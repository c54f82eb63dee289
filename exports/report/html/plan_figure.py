"""The plan as it stands in the page: the drawing of plan.svg, what can be pointed at over it, its legend."""

from __future__ import annotations

from dataclasses import dataclass, replace

from exports.pictures.plan_notes import draw_legend
from exports.pictures.plan_picture import PlanDrawing, lay_plan
from exports.report.html.inline_svg import inline_svg
from exports.report.html.plan_things import Thing, list_things
from geom.findings import Finding
from layouts.plan import Plan

PREFIX = "plan"
"""Of the plan's ids in the page."""

MARGIN = 10.0
"""Round the drawing and the legend, in picture units."""


@dataclass(frozen=True, slots=True)
class PlanFigure:
    """The plan for the page: SVG elements, their extent as a view box, what can be pointed at.

    `letters` and `places` belong to findings by number: the badge's letter, and "x y" in picture units.
    """

    pieces: str
    definitions: str
    box: str
    width: float
    things: tuple[Thing, ...]
    legend: str
    legend_box: str
    legend_width: float
    letters: dict[int, str]
    places: dict[int, str]


def draw_plan_figure(plan: Plan, findings: tuple[Finding, ...]) -> PlanFigure:
    """Return the plan for the page.

    Parameters
    ----------
    plan : Plan
    findings : tuple of Finding
        In the page's order.
    """
    drawn = lay_plan(replace(plan, findings=findings))
    left, top, right, bottom = (round(edge, 2) for edge in drawn.extent)
    legend, legend_width, legend_height = draw_legend(plan, drawn.view.scale)
    return PlanFigure(
        pieces=inline_svg("".join(drawn.pieces), PREFIX),
        definitions=inline_svg("".join(drawn.definitions), PREFIX),
        box=_box(left, top, right - left, bottom - top),
        width=round(right - left + 2 * MARGIN, 1),
        things=list_things(plan, drawn.view),
        legend=inline_svg("".join(legend), PREFIX),
        legend_box=_box(0.0, 0.0, round(legend_width, 2), round(legend_height, 2)),
        legend_width=round(legend_width + 2 * MARGIN, 1),
        letters=_find_letters(drawn, findings),
        places={
            number: drawn.view.xy((finding.at_mm[0], finding.at_mm[1]))
            for number, finding in enumerate(findings)
            if finding.at_mm is not None
        },
    )


def _find_letters(drawn: PlanDrawing, findings: tuple[Finding, ...]) -> dict[int, str]:
    letters: dict[int, str] = {}
    for mark in drawn.marks:
        number = next(k for k, one in enumerate(findings) if one is mark.finding and k not in letters)
        if mark.at is not None:
            letters[number] = mark.letter
    return letters


def _box(left: float, top: float, width: float, height: float) -> str:
    numbers = (left - MARGIN, top - MARGIN, width + 2 * MARGIN, height + 2 * MARGIN)
    return " ".join(f"{number:.1f}" for number in numbers)
