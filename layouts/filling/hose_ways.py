"""What is not certain of a fill because the file does not tell which way hoses leave their ports.

How much goes in before a step is done differs widely: coolant does not pass hoses that rise until the pump pushes it,
and takes those that fall at once. So each figure is told as a range over all of them rising, all falling, and the
straight way from mouth to mouth.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Literal

from layouts.filling.sequence_values import FillSequence, FillStep
from layouts.filling.values import Opening

HoseWay = Literal["rises", "falls"]

DIFFERS_SHARE = 0.1
"""Values that differ by a smaller share of the larger one are told as one, [-]; common practice, no source."""

DIFFERS_ML = 1.0
"""Volumes that differ by less are, [mL]; common practice, no source."""


def has_untold(openings: Sequence[Opening]) -> bool:
    """Return whether the file leaves the way of a part's hose open."""
    return any(opening.kind == "part" and opening.hose is None for opening in openings)


def tell_hoses(openings: Sequence[Opening], way: HoseWay) -> tuple[Opening, ...]:
    """Return the openings with all hoses of parts that are not told leaving so.

    Parameters
    ----------
    openings : sequence of Opening
    way : {"rises", "falls"}
    """
    return tuple(
        replace(opening, hose=way) if opening.kind == "part" and opening.hose is None else opening
        for opening in openings
    )


def add_ranges(sequence: FillSequence, others: Mapping[HoseWay, FillSequence]) -> FillSequence:
    """Return a sequence with the ranges of its figures over the ways of hoses.

    Parameters
    ----------
    sequence : FillSequence
        With untold hoses running straight.
    others : mapping of {"rises", "falls"} to FillSequence
        With all of them leaving so.
    """
    alike = [one for one in others.values() if (one.dry is None) == (sequence.dry is None)]
    tops = [one.tops for one in (sequence, *alike)]
    times = (min(tops), max(tops)) if max(tops) - min(tops) > DIFFERS_SHARE * max(tops) else None
    dry = next(((way, one.dry) for way, one in others.items() if one.dry is not None), None)
    told = replace(
        sequence,
        steps=tuple(_widen(step, alike, times) for step in sequence.steps),
        covered_range_ml=find_range(sequence.inlet_covered_ml, (one.inlet_covered_ml for one in alike)),
        may_run_range_ml=find_range(sequence.may_run_ml, (one.may_run_ml for one in alike)),
        level_range_ml=find_range(_level_ml(sequence), map(_level_ml, alike)),
        push_range_ml=find_range(sequence.push_ml, (one.push_ml for one in alike)),
        tops_range=times,
    )
    if dry is None or sequence.dry is not None:
        return told
    return replace(told, dry_hoses=dry[0], dry_untold=dry[1])


def find_range(value: float | None, others: Iterable[float | None]) -> tuple[float, float] | None:
    """Return the least and the most of a volume and its others, [mL]; None where they hardly differ.

    Parameters
    ----------
    value : float or None
        [mL]; None: there is no such volume, and so no range.
    others : iterable of float or None
        [mL]; those that are None do not count.
    """
    if value is None:
        return None
    known = [value, *(other for other in others if other is not None)]
    low, high = min(known), max(known)
    return (low, high) if high - low > max(DIFFERS_SHARE * high, DIFFERS_ML) else None


def tell_not_before(ends: tuple[float, float]) -> str:
    """Return until when the pump may not run, by the safe end: "before 473 mL is in, unless the tank reads its level".

    Parameters
    ----------
    ends : (float, float)
        Least and most that may have to be in for it, [mL].
    """
    return f"before {math.ceil(ends[1])} mL is in, unless the tank reads its level"


def show_ends(ends: tuple[float, float]) -> str:
    """Return a range as "27 to 452"; "up to 9" where it begins with nothing."""
    low, high = (f"{end:.0f}" for end in ends)
    return f"up to {high}" if low == "0" else f"{low} to {high}"


def _widen(step: FillStep, others: Sequence[FillSequence], times: tuple[int, int] | None) -> FillStep:
    same = [other for one in others for other in one.steps if other.kind == step.kind]
    poured = [other.poured_ml for other in same]
    if step.kind == "top up" and len(same) < len(others):
        # Where the loop fills at once nothing is left to be poured.
        poured.append(0.0)
    return replace(
        step,
        poured_range_ml=find_range(step.poured_ml, poured),
        total_range_ml=find_range(step.total_ml, (other.total_ml for other in same)),
        times_range=times if step.kind in ("run", "top up") else None,
    )


def _level_ml(sequence: FillSequence) -> float | None:
    return next((step.total_ml for step in sequence.steps if step.kind == "level reached"), None)
