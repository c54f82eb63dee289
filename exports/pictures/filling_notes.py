"""What stands under the picture of filling: its legend, what is done on the bench, what is not calculated."""

from __future__ import annotations

from exports.pictures.filling_symbols import EMPTY, draw_drop, draw_ring, draw_surface
from exports.pictures.plan_symbols import INK, SHORE, SOFT, STILL, TEXT, WATER, draw_arrow
from exports.pictures.svg import guess_width, number, text_at
from exports.wording.figures import show_mm, wrap_words
from exports.wording.filling_words import list_left, tell_untold
from geom.frame import EDGES
from geom.words import make_sentence
from layouts.filling.values import Filling
from layouts.installed import lies_flat
from layouts.panel import Panel
from layouts.plan import Plan

ROW = 24.0
LINE = 16.0
LETTER = 0.56
"""Height of a row of the legend and of a line; width of letters in the mean, in their size."""

STEEP = 1e-6
"""Part of `up` along the panel's normal from which on columns may be partly filled, [-]."""


def draw_fill_notes(plan: Plan, filling: Filling, width: float) -> tuple[list[str], float, float]:
    """Draw legend, orders of bleeding and draining, and cautions; return their size too.

    Parameters
    ----------
    plan : Plan
    filling : Filling
    width : float
        Of the drawing above, picture units.
    """
    out, y = _draw_legend(plan, filling, width)
    letters = int(width / (LETTER * TEXT))
    for title, steps in (("To fill and bleed", filling.bleed_order), ("To drain", filling.drain_order)):
        if not steps:
            continue
        y += 10.0
        out.append(text_at(0.0, y + 4.0, title, TEXT, INK, 'font-weight="600"'))
        y += LINE + 2.0
        for n, step in enumerate(steps, 1):
            for k, line in enumerate(wrap_words(step.text, letters - 5)):
                if k == 0:
                    out.append(text_at(18.0, y + 4.0, f"{n}", TEXT, INK, 'text-anchor="end"'))
                out.append(text_at(28.0, y + 4.0, line, TEXT, INK))
                y += LINE
    y += 10.0
    for line in wrap_words(_tell_limits(plan.panel, filling), letters):
        out.append(text_at(0.0, y + 4.0, line, TEXT, SOFT))
        y += LINE
    return out, width, y


def _draw_legend(plan: Plan, filling: Filling, width: float) -> tuple[list[str], float]:
    def swatch(fill: str) -> list[str]:
        return [f'<rect x="0" y="-6" width="22" height="12" fill="{fill}" stroke="{SHORE}"/>']

    entries: list[tuple[list[str], str]] = [(swatch(WATER), "coolant")]
    if abs(plan.panel.up[2]) > STEEP:
        entries.append((swatch(STILL), "filled in part of its depth"))
    entries.append((swatch(EMPTY), "empty"))
    if list_left(filling, "air")[0]:
        entries.append((swatch("url(#air-1)"), "air that stays"))
    if filling.left.coolant:
        entries.append((swatch("url(#stays-1)"), "coolant that stays"))
    if filling.sequence is not None:
        fill = next((port for port in plan.routed.ports if port.role == "fill"), None)
        if fill is not None:
            pours = (
                [draw_arrow((11.0, 0.0), (1.0, 0.0), 10.0, INK)]
                if fill.on in EDGES
                else [draw_drop((11.0, 0.0))]
            )
            entries.append((pours, "coolant is poured in"))
        if plan.routed.tank.box is not None and not lies_flat(plan.panel):
            entries.append(([draw_surface((11.0, 4.0))], "surface in the tank"))
            dashes = f'<path d="M0 0H22" stroke="{INK}" stroke-dasharray="5 3"/>'
            entries.append(([dashes], "its filling level"))
        entries.append((draw_ring((11.0, 0.0), 8.0, False), "pump at rest"))
        if any(step.kind == "run" for step in filling.sequence.steps):
            entries.append((draw_ring((11.0, 0.0), 8.0, True), "pump runs"))
    out: list[str] = []
    x, y = 0.0, 8.0
    for symbol, said in entries:
        wide = 30.0 + guess_width(said, TEXT) + 12.0
        if x and x + wide > width:
            x, y = 0.0, y + ROW
        out += [f'<g transform="translate({number(x)} {number(y)})">', *symbol, "</g>"]
        out.append(text_at(x + 30.0, y + 4.0, said, TEXT, INK))
        x += wide
    return out, y + ROW


def _tell_limits(panel: Panel, filling: Filling) -> str:
    """Return what the pictures stand on."""
    said = [
        f"Calculated on cubes of {show_mm(filling.left.spacing)} mm for a slow fill with the pump at rest: what stays "
        "then is the most that can; how far flowing coolant carries it away is in the table of moving air. Bubbles "
        "that cling to walls are not counted.",
    ]
    untold = tell_untold(filling.left)
    if untold:
        said.append(make_sentence(untold))
    if panel.channel.layers == 2:
        said.append("Channels in the front face lie over those in the back face, whose shore is dashed.")
    if filling.sequence is not None and filling.sequence.unknown:
        names = ", ".join(filling.sequence.unknown)
        said.append(f"The file gives no volume of {names}: nothing is reckoned for it.")
    return " ".join(said)
