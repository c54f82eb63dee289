"""Which of two pumps is the better one for a loop, and why: the order of the report, said in one sentence.

A pump that fits stands before one that does not, whatever it reaches. Then come, each only where all before
are equal: the flow reached at its most speed, or at the most speed within the noise that the file allows, which
counts up to the wanted flow and no further; the head margin at the wanted flow; less electric power (a pump that
does not give it comes after one that does); less hydraulic power; the order of the file. Flows are equal within
the band of the larger, head margins within twice that band of the head, because head goes with the square of the
flow; powers are equal only where they are the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from geom.units import l_min
from layouts.advice import PumpRating
from layouts.pump_fit import show_apart

SAME_SHARE = 1e-6
"""Powers that differ by less are the same; flows are solved to 1e-9."""


@dataclass(frozen=True, slots=True)
class Aim:
    """One thing to compare pumps by.

    Parameters
    ----------
    value : callable
        Of a rating: the more, the better.
    within : callable
        Of the better rating: what counts as equal, in the unit of `value`.
    explain : callable
        Clause that says, for the better and the other, how they differ.
    of_curve : bool
        Whether the shape of the curves has to do with it.
    """

    value: Callable[[PumpRating], float]
    within: Callable[[PumpRating], float]
    explain: Callable[[PumpRating, PumpRating], str]
    of_curve: bool = False


def order_pumps(ratings: tuple[PumpRating, ...], wanted_m3_s: float | None) -> tuple[PumpRating, ...]:
    """Return the pumps, the best first.

    Parameters
    ----------
    ratings : tuple of PumpRating
        In the order of the file.
    wanted_m3_s : float or None
        Flow that the file asks for, [m3/s].

    Returns
    -------
    tuple of PumpRating
        As this module's head says. "Equal" is measured from the best of those still to be told apart.
    """
    return tuple(_sort(list(ratings), list_aims(wanted_m3_s)))


def explain_order(better: PumpRating, other: PumpRating, wanted_m3_s: float | None) -> str:
    """Return the clause that says why one pump stands before another.

    Parameters
    ----------
    better, other : PumpRating
    wanted_m3_s : float or None
        [m3/s]

    Returns
    -------
    str
        '"small" reaches 3.4 L/min, "large" 2.8 L/min'.
    """
    aim = _find_deciding(better, other, wanted_m3_s)
    if aim is None:
        return (
            f'"{better.name}" and "{other.name}" are equal within the bands, and it stands first in the file'
        )
    return aim.explain(better, other)


def explain_first(ordered: tuple[PumpRating, ...], wanted_m3_s: float | None, shapes: dict[str, str]) -> str:
    """Return the sentence that says why the first pump stands first.

    Parameters
    ----------
    ordered : tuple of PumpRating
        The best first; at least one.
    wanted_m3_s : float or None
        [m3/s]
    shapes : dict of str to str
        What to add about the curves where they decide against a pump, by its name.

    Returns
    -------
    str
        Without a full stop.
    """
    first = ordered[0]
    if len(ordered) == 1:
        only = f'"{first.name}" is the only pump of the file'
        return f"{only}; {first.obstacles[0]}" if first.obstacles else only
    second = ordered[1]
    told = explain_order(first, second, wanted_m3_s)
    aim = _find_deciding(first, second, wanted_m3_s)
    shape = shapes.get(second.name, "") if aim is not None and aim.of_curve else ""
    bad = f"; no pump of the file fits: {first.obstacles[0]}" if first.obstacles else ""
    return f'"{first.name}" stands first: {told}{shape}{bad}'


def list_aims(wanted_m3_s: float | None) -> tuple[Aim, ...]:
    """Return what pumps are compared by, the weightiest first.

    Parameters
    ----------
    wanted_m3_s : float or None
        [m3/s]

    Returns
    -------
    tuple of Aim
    """
    most = math.inf if wanted_m3_s is None else wanted_m3_s
    return (
        Aim(lambda r: float(not r.obstacles), lambda r: 0.0, _explain_fit, of_curve=True),
        Aim(
            lambda r: min(find_counted_flow(r), most),
            lambda r: r.band * find_counted_flow(r),
            _explain_flow,
            of_curve=True,
        ),
        Aim(lambda r: r.head_margin_m or 0.0, lambda r: 2 * r.band * r.head_m, _explain_margin),
        Aim(
            lambda r: -math.inf if r.electric_w is None else -r.electric_w,
            lambda r: SAME_SHARE * (r.electric_w or 0.0),
            _explain_electric,
        ),
        Aim(lambda r: -r.hydraulic_w, lambda r: SAME_SHARE * r.hydraulic_w, _explain_hydraulic),
    )


def find_counted_flow(rating: PumpRating) -> float:
    """Return the flow that a pump reaches within the noise that the file allows, [m3/s]."""
    return rating.flow_m3_s if rating.flow_for_noise_m3_s is None else rating.flow_for_noise_m3_s


def _find_deciding(better: PumpRating, other: PumpRating, wanted_m3_s: float | None) -> Aim | None:
    return next((aim for aim in list_aims(wanted_m3_s) if not _are_equal(aim, better, other)), None)


def _sort(ratings: list[PumpRating], aims: tuple[Aim, ...]) -> list[PumpRating]:
    if len(ratings) < 2 or not aims:
        return ratings
    aim, ordered = aims[0], []
    left = sorted(ratings, key=aim.value, reverse=True)
    while left:
        best = left[0]
        equal = [rating for rating in left if _are_equal(aim, best, rating)]
        # Equal pumps go on in the order of the file, whatever this aim's small differences are.
        ordered += _sort([rating for rating in ratings if any(rating is one for one in equal)], aims[1:])
        left = left[len(equal) :]
    return ordered


def _are_equal(aim: Aim, better: PumpRating, other: PumpRating) -> bool:
    high, low = aim.value(better), aim.value(other)
    return high == low or high - low <= aim.within(better)


def _explain_fit(better: PumpRating, other: PumpRating) -> str:
    return f'it fits; "{other.name}" does not: {other.obstacles[0]}'


def _explain_flow(better: PumpRating, other: PumpRating) -> str:
    high, low = show_apart(l_min(find_counted_flow(better)), l_min(find_counted_flow(other)))
    slowed = any(find_counted_flow(rating) < rating.flow_m3_s for rating in (better, other))
    within = "within the allowed noise " if slowed else ""
    return f'{within}"{better.name}" reaches {high} L/min on this loop, "{other.name}" {low} L/min'


def _explain_margin(better: PumpRating, other: PumpRating) -> str:
    high, low = show_apart(better.head_margin_m or 0.0, other.head_margin_m or 0.0)
    return f'at the wanted flow "{better.name}" has {high} m of head to spare, "{other.name}" {low} m'


def _explain_electric(better: PumpRating, other: PumpRating) -> str:
    same = _tell_equal(better, other)
    if other.electric_w is None:
        return f'{same}, and the file does not say what power "{other.name}" takes'
    low, high = show_apart(better.electric_w or 0.0, other.electric_w)
    return f'{same}, and "{better.name}" takes {low} W, "{other.name}" {high} W'


def _explain_hydraulic(better: PumpRating, other: PumpRating) -> str:
    low, high = show_apart(better.hydraulic_w, other.hydraulic_w)
    return (
        f'{_tell_equal(better, other)}, and "{better.name}" puts {low} W into the coolant, '
        f'"{other.name}" {high} W'
    )


def _tell_equal(better: PumpRating, other: PumpRating) -> str:
    one, two = (f"{l_min(find_counted_flow(rating)):.2g}" for rating in (better, other))
    flows = f"{one} L/min of both" if one == two else f"{one} and {two} L/min"
    return f"{flows} count as equal within the bands"
