"""The page on filling, bleeding and draining."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from exports.report.html.blocks import Block, Section, Steps, group_of, said_of, section_of, table_of
from exports.report.html.inline_svg import figure_of
from exports.tables.filling_tables import carry_rows, lock_rows, pocket_rows, step_rows, tell_after_steps
from exports.wording.figures import show_band
from exports.wording.fill_step_words import tell_sequence
from exports.wording.filling_words import (
    Kind,
    list_left,
    split_small,
    tell_beyond,
    tell_drained,
    tell_left,
    tell_proposal,
    tell_relief,
    tell_small,
    tell_tilts,
    tell_untold,
)
from geom.words import capitalise
from layouts.filling.values import BenchStep, Filling
from layouts.panel import Panel
from layouts.plan import Plan

if TYPE_CHECKING:
    from exports.check_solids import Checked


def filling_section(plan: Plan, checked: Checked | None, pictures: Mapping[str, str]) -> tuple[Section, ...]:
    """Return the section on filling, bleeding and draining; none where it was not looked at.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    pictures : mapping of str to str
    """
    filling = plan.filling if checked is None or checked.filling is None else checked.filling
    if filling is None:
        return ()
    sequence = filling.sequence
    return section_of(
        "filling",
        "Filling, bleeding, draining",
        group_of(
            "How it fills",
            figure_of(
                pictures,
                "filling.svg",
                "How the panel fills step by step, and the air and coolant that stay.",
            ),
            () if sequence is None else said_of((f"to fill: {tell_sequence(sequence)}",)),
            () if sequence is None else table_of(step_rows(sequence), "The fill, step by step", 2),
            () if sequence is None else said_of(tell_after_steps(sequence)),
        ),
        group_of(
            "What stays",
            _left(plan.panel, "air", filling),
            _left(plan.panel, "coolant", filling),
            said_of((tell_untold(filling.left),)),
        ),
        group_of(
            "When it is tilted",
            figure_of(
                pictures, "tilts.svg", "Air left when filled and coolant left when drained, over all tilts."
            ),
            () if filling.tilts is None else said_of(tell_tilts(plan.panel, filling.tilts, filling.left)),
        ),
        group_of("Air that flowing coolant should carry down", _carries(plan, filling)),
        group_of(
            "Ports for bleeding and draining", said_of([tell_proposal(one) for one in filling.proposals])
        ),
        group_of(
            "At the bench",
            _steps("To fill and bleed", filling.bleed_order),
            _steps("To drain", filling.drain_order),
        ),
    )


def _left(panel: Panel, kind: Kind, filling: Filling) -> tuple[Block, ...]:
    """Return what stays, with what clears each pocket in a column of its own."""
    pockets = list_left(filling, kind)[0]
    beyond = tell_beyond(filling) if kind == "air" else ""
    if not pockets:
        when = "filled" if kind == "air" else tell_drained(filling.left)
        return said_of((beyond or f"no {kind} stays when {when}",))
    told, small = split_small(pockets)
    rows = pocket_rows(kind, told)
    cleared = ["; ".join(tell_relief(panel, kind, one) for one in pocket.reliefs) or "-" for pocket in told]
    with_remedy = [(*row, last) for row, last in zip(rows, ("what clears it", *cleared), strict=True)]
    title = tell_left(filling, kind)
    table = table_of(with_remedy, capitalise(title), 3, last=True)
    return (*(table or said_of((title,))), *said_of((*tell_small(small), beyond)))


def _carries(plan: Plan, filling: Filling) -> tuple[Block, ...]:
    rows = carry_rows(filling.carries, plan.flowing.band)
    band = show_band(plan.flowing.band)
    caption = f"Velocities in m/s, in use and at full speed {band}; from which on air is carried ±20 %"
    locked = table_of(lock_rows(filling.locked), "Bores so narrow that a bubble stays in them")
    return (*table_of(rows, caption, 2, last=True), *locked)


def _steps(title: str, steps: tuple[BenchStep, ...]) -> tuple[Block, ...]:
    return (Steps(title, tuple(step.text for step in steps)),) if steps else ()
