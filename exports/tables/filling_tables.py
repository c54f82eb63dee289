"""How a panel fills, bleeds and drains, in plain text: what matters for a plan, all of it for a made panel."""

from __future__ import annotations

from exports.tables.text_tables import LINE, NAME, align_rows, shorten_names
from exports.wording.figures import shorten_text, show_banded, show_mm, wrap_words
from exports.wording.fill_step_words import (
    list_steps,
    tell_level,
    tell_no_run,
    tell_ranges,
    tell_reached,
    tell_sequence,
)
from exports.wording.filling_words import (
    VERDICTS,
    Kind,
    list_left,
    show_ml_range,
    show_mm3,
    show_spot,
    split_small,
    tell_beyond,
    tell_clearing,
    tell_drained,
    tell_left,
    tell_pocket,
    tell_proposal,
    tell_relief,
    tell_small,
    tell_tilts,
    tell_untold,
)
from geom.words import count_of, join_names
from layouts.filling.pocket_limits import NOTHING_ML
from layouts.filling.pockets_told import name_holders
from layouts.filling.sequence_values import FillSequence
from layouts.filling.values import BenchStep, Carry, Filling, LockedBore, Pocket
from layouts.panel import Panel
from layouts.plan import Plan

SHORT = 26
"""Most characters of a channel's name in the table of moving air."""

BAD = ("may be carried", "rises back", "locks")
"""Verdicts on moving air that a plan tells."""


def describe_filling(plan: Plan) -> list[str]:
    """Return what matters of a plan's filling, in lines; none where it was not looked at.

    Parameters
    ----------
    plan : Plan
    """
    filling = plan.filling
    if filling is None:
        return []
    said: list[str] = []
    if filling.sequence is not None:
        why = tell_no_run(filling.sequence) if filling.sequence.steps else ""
        told = (_tell_fill(tell_sequence(filling.sequence)), why, tell_ranges(filling.sequence))
        said = [one for one in told if one]
    kinds: tuple[tuple[Kind, str], ...] = (
        ("air", "air stays when filled"),
        ("coolant", f"coolant stays when {tell_drained(filling.left)}"),
    )
    for kind, what in kinds:
        pockets, volume = list_left(filling, kind)
        if kind == "air" and not pockets and tell_beyond(filling):
            # It is told already that the pump may not run.
            continue
        if not pockets:
            said.append(f"no {what}")
            continue
        most = "" if len(pockets) == 1 else f" in {len(pockets)} places, the largest"
        said.append(f"{what}: {show_mm3(volume)}{most}: {tell_pocket(plan.panel, kind, pockets[0])}")
    untold = tell_untold(filling.left)
    if untold:
        said.append(untold)
    held = [carry for carry in filling.carries if carry.verdict in BAD]
    if held:
        names = join_names(tuple(dict.fromkeys(f'"{carry.channel}"' for carry in held)))
        said.append(
            f"air is not surely carried down {count_of(len(held), 'falling piece')} of {len(filling.carries)}: {names}"
        )
    lines = [line for one in said for line in wrap_words(one, LINE)]
    return ["", "filling", *lines]


def describe_filled(plan: Plan, filling: Filling) -> str:
    """Return how a made panel fills, bleeds and drains: the fill, what stays, moving air, ports, what to do.

    Parameters
    ----------
    plan : Plan
    filling : Filling

    Returns
    -------
    str
    """
    sections: list[list[str]] = []
    if filling.sequence is not None:
        sections.append(
            [
                *wrap_words(_tell_fill(tell_sequence(filling.sequence)), LINE),
                *(align_rows(step_rows(filling.sequence), left=2) if filling.sequence.steps else ()),
                *(line for one in tell_after_steps(filling.sequence) for line in wrap_words(one, LINE)),
            ]
        )
    sections += [_left_lines(plan.panel, "air", filling), _left_lines(plan.panel, "coolant", filling)]
    untold = tell_untold(filling.left)
    if untold:
        sections.append(wrap_words(untold, LINE))
    if filling.tilts is not None:
        sections.append(
            [
                line
                for one in tell_tilts(plan.panel, filling.tilts, filling.left)
                for line in wrap_words(one, LINE)
            ]
        )
    if filling.carries:
        band = plan.flowing.band
        sections.append(
            [
                "air that flowing coolant should carry down: velocity in use, at full speed, and that from which",
                "it is carried, in m/s",
                *align_rows(shorten_names(carry_rows(filling.carries, band), SHORT), left=2),
            ]
        )
    if filling.locked:
        sections.append(
            [
                "bores so narrow that a bubble stays in them",
                *align_rows(shorten_names(lock_rows(filling.locked))),
            ]
        )
    ports = [line for one in filling.proposals for line in wrap_words(tell_proposal(one), LINE)]
    sections.append(ports)
    sections.append(_bench_lines("to fill and bleed", filling.bleed_order))
    sections.append(_bench_lines("to drain", filling.drain_order))
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def step_rows(sequence: FillSequence) -> list[tuple[str, ...]]:
    """Return the rows of the fill, its headings first.

    Parameters
    ----------
    sequence : FillSequence
    """
    rows: list[tuple[str, ...]] = [("", "filling", "poured", "in all", "level", "tank", "rest of loop")]
    steps = list_steps(sequence)
    for number, step in enumerate(steps, 1):
        rows.append(
            (
                str(number),
                tell_reached(step, last=number == len(steps) and sequence.may_run_ml is not None),
                show_ml_range(step.poured_ml, step.poured_range_ml) if step.poured_ml > 0.0 else "-",
                show_ml_range(step.total_ml, step.total_range_ml),
                "-" if step.level_mm is None else f"{step.level_mm:.0f} mm",
                tell_level(step),
                f"{100.0 * step.loop_share:.0f} %",
            )
        )
    return rows


def pocket_rows(kind: Kind, pockets: tuple[Pocket, ...]) -> list[tuple[str, ...]]:
    """Return the rows of what stays, its headings first.

    Parameters
    ----------
    kind : {"air", "coolant"}
    pockets : tuple of Pocket
    """
    end = "highest at" if kind == "air" else "lowest at"
    rows: list[tuple[str, ...]] = [("", kind, "in", end, "depth")]
    rows += [
        (
            str(number),
            show_mm3(pocket.volume_mm3),
            _name_briefly(pocket.features),
            show_spot(pocket.at),
            "shut in" if pocket.way_out is None else f"{pocket.depth:.0f} mm",
        )
        for number, pocket in enumerate(pockets, 1)
    ]
    return rows


def carry_rows(carries: tuple[Carry, ...], band: float) -> list[tuple[str, ...]]:
    """Return the rows of moving air, its headings first.

    Parameters
    ----------
    carries : tuple of Carry
    band : float
        Relative band of the flow, [-].
    """
    rows: list[tuple[str, ...]] = [
        ("channel", "from", "falls", "slope", "in use", "full speed", "carried from", "air is")
    ]
    rows += [
        (
            carry.channel,
            f"({carry.top[0]:.0f}, {carry.top[1]:.0f})",
            f"{carry.falls:.0f} mm",
            f"{carry.slope_deg:.0f}°",
            show_banded(carry.velocity_m_s, band),
            show_banded(carry.full_velocity_m_s, band),
            tell_clearing(carry),
            VERDICTS[carry.verdict],
        )
        for carry in carries
    ]
    return rows


def lock_rows(locked: tuple[LockedBore, ...]) -> list[tuple[str, ...]]:
    """Return the rows of bores that hold bubbles, its headings first.

    Parameters
    ----------
    locked : tuple of LockedBore
    """
    rows: list[tuple[str, ...]] = [("where", "at", "bore", "rises from")]
    rows += [
        (
            one.feature,
            show_spot(one.at),
            f"{show_mm(one.bore)} mm",
            f"{one.least:.1f} mm",
        )
        for one in locked
    ]
    return rows


def tell_after_steps(sequence: FillSequence) -> list[str]:
    """Return what is said under the steps of the fill, a clause each."""
    said = []
    if sequence.level_falls_mm is not None:
        said.append(
            "were the loop filled from one filling of the tank, its level would fall "
            f"{sequence.level_falls_mm:.0f} mm, at most to the outlet"
        )
    # A panel that cannot be filled has been told of as such.
    said += [why for why in (tell_no_run(sequence) if sequence.steps else "", tell_ranges(sequence)) if why]
    if sequence.unknown:
        said.append(f"no volume is known of {join_names(sequence.unknown)}: nothing is reckoned for it")
    return said


def _name_briefly(features: tuple[str, ...]) -> str:
    """Return what holds a pocket; by the first name and a number where all do not fit."""
    said = name_holders(features)
    if len(said) <= NAME or len(features) < 2:
        return shorten_text(said, NAME)
    return f"{name_holders(features[:1])} and {len(features) - 1} more"


def _left_lines(panel: Panel, kind: Kind, filling: Filling) -> list[str]:
    pockets, title = list_left(filling, kind)[0], tell_left(filling, kind)
    beyond = wrap_words(tell_beyond(filling), LINE) if kind == "air" else []
    if not pockets:
        when = "filled" if kind == "air" else tell_drained(filling.left)
        return beyond or [f"no {kind} stays when {when}"]
    told, small = split_small(pockets)
    if not told:
        return [f"{title}, nowhere as much as {NOTHING_ML:g} mL", *beyond]
    head, *rows = align_rows(pocket_rows(kind, told), left=4)
    lines = [title, head]
    for pocket, row in zip(told, rows, strict=True):
        lines.append(row)
        lines += [f"   remedy: {tell_relief(panel, kind, relief)}" for relief in pocket.reliefs]
    return [*lines, *tell_small(small), *beyond]


def _bench_lines(title: str, steps: tuple[BenchStep, ...]) -> list[str]:
    if not steps:
        return []
    lines = [title]
    for number, step in enumerate(steps, 1):
        first, *rest = wrap_words(step.text, LINE - 4)
        lines += [f"{number:2}  {first}", *(f"    {line}" for line in rest)]
    return lines


def _tell_fill(said: str) -> str:
    return f"to fill: {said}"
