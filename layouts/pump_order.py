"""Which of two pumps is the better one for a loop, and why: the order of the report, said in one sentence.

A pump that fits stands before one that does not, whatever it reaches; one that is only short of the wanted flow,
beyond its band, before one that has no room, cannot run or is too loud. Then come, each only where all before are
equal: the flow reached at its most speed, or at the most speed within the noise that the file allows, which
counts up to the wanted flow and no further; the head margin at the wanted flow, at that speed, where there is one
(what is lacking counts as none: the flow has told it); less electric power, at the speed for the wanted flow where
the pump can be slowed to it (a pump that does not give its power comes after one that does); less hydraulic power;
the order of the file. Flows are equal within the band of the larger, head margins within twice that band of the
head, because head goes with the square of the flow; powers are equal only where they are the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from geom.units import l_min, show_number
from layouts.advice import PumpRating
from layouts.panel import PumpChoice
from layouts.pump_fit import FILE_DIGITS, show_apart

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


def compare_shapes(ordered: tuple[PumpRating, ...], choices: tuple[PumpChoice, ...]) -> dict[str, str]:
    """Return for each pump after the first what its curve's shape, against the first's, does on this loop.

    Parameters
    ----------
    ordered : tuple of PumpRating
        The best first; at least one.
    choices : tuple of PumpChoice
        The same pumps, in any order.

    Returns
    -------
    dict of str to str
        Clauses for `explain_first`, by the pump's name; none where the shape decides nothing.
    """
    first = ordered[0]
    mine = next(choice for choice in choices if choice.name == first.name).curve
    told = {}
    for other in ordered[1:]:
        its = next(choice for choice in choices if choice.name == other.name).curve
        compact = mine[0][1] > its[0][1] and mine[-1][0] < its[-1][0]
        wide = mine[0][1] < its[0][1] and mine[-1][0] > its[-1][0]
        more = first.flow_m3_s - other.flow_m3_s > first.band * first.flow_m3_s
        if not more or not (compact or wide) or is_slowed(first) or is_slowed(other):
            continue
        asks = f"this loop asks for {show_number(first.head_m, 2)} m at {show_number(l_min(first.flow_m3_s), 2)} L/min"
        told[other.name] = (
            f"; {asks}: it is restrictive, and the more head of the compact curve counts for more than flow"
            if compact
            else f"; {asks}: it is open, and the more flow of the wide curve counts for more than head"
        )
    return told


def judge_fit(rating: PumpRating) -> Literal["yes", "just", "no"]:
    """Return whether a pump fits; "just" where the wanted flow lies only within the band of what it reaches."""
    if rating.obstacles:
        return "no"
    return "yes" if rating.shortfall is None else "just"


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
        Aim(lambda r: -float(len(list_hard(r)) > 0), lambda r: 0.0, _explain_fit),
        Aim(lambda r: float(not r.obstacles), lambda r: 0.0, _explain_fit, of_curve=True),
        Aim(
            lambda r: min(find_counted_flow(r), most),
            lambda r: find_counted_band(r) * min(find_counted_flow(r), most),
            _explain_flow,
            of_curve=True,
        ),
        Aim(lambda r: max(_count_margin(r), 0.0), _find_head_error, _explain_margin),
        Aim(
            lambda r: -math.inf if (power := _count_power(r)) is None else -power,
            lambda r: SAME_SHARE * (_count_power(r) or 0.0),
            lambda better, other: _explain_electric(better, other, most),
        ),
        Aim(
            lambda r: -r.hydraulic_w,
            lambda r: SAME_SHARE * r.hydraulic_w,
            lambda better, other: _explain_hydraulic(better, other, most),
        ),
    )


def find_counted_flow(rating: PumpRating) -> float:
    """Return the flow that a pump reaches within the noise that the file allows, [m3/s]."""
    return rating.flow_m3_s if rating.flow_for_noise_m3_s is None else rating.flow_for_noise_m3_s


def find_counted_band(rating: PumpRating) -> float:
    """Return the relative band of the flow that a pump reaches within the noise that the file allows, [-]."""
    return rating.band if rating.band_for_noise is None else rating.band_for_noise


def is_slowed(rating: PumpRating) -> bool:
    """Return whether a pump keeps within the noise only at less than its most speed."""
    return find_counted_flow(rating) < rating.flow_m3_s


def list_hard(rating: PumpRating) -> tuple[str, ...]:
    """Return the obstacles of a pump besides a flow that is too small."""
    return tuple(obstacle for obstacle in rating.obstacles if obstacle != rating.shortfall)


def _count_margin(rating: PumpRating) -> float:
    """Return the head margin within the noise, [m]."""
    margin = rating.head_margin_m if rating.margin_for_noise_m is None else rating.margin_for_noise_m
    return margin or 0.0


def _count_head(rating: PumpRating) -> float:
    """Return the head where the pump meets the loop within the noise, [m]: by the affinity laws."""
    if not is_slowed(rating):
        return rating.head_m
    return rating.head_m * (find_counted_flow(rating) / rating.flow_m3_s) ** 2


def _find_head_error(rating: PumpRating) -> float:
    """Return by how much head margins must differ to count as different, [m]."""
    return 2.0 * find_counted_band(rating) * _count_head(rating)


def _count_power(rating: PumpRating) -> float | None:
    """Return the electric power at the speed for the wanted flow, or at the most where that is the speed, [W]."""
    return rating.electric_w if rating.power_at_flow_w is None else rating.power_at_flow_w


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
    against = (list_hard(other) or other.obstacles)[0]
    if better.obstacles:
        return f'it is only short of the wanted flow; "{other.name}" does not fit: {against}'
    fits = "it fits" if judge_fit(better) == "yes" else "it just fits"
    return f'{fits}; "{other.name}" does not: {against}'


def _explain_flow(better: PumpRating, other: PumpRating) -> str:
    high, low = show_apart(l_min(find_counted_flow(better)), l_min(find_counted_flow(other)))
    within = "within the allowed noise " if is_slowed(better) or is_slowed(other) else ""
    return f'{within}"{better.name}" reaches {high} L/min on this loop, "{other.name}" {low} L/min'


def _explain_margin(better: PumpRating, other: PumpRating) -> str:
    high, low = _count_margin(better), _count_margin(other)
    shown, its = show_apart(high, abs(low))
    within = "within the allowed noise, " if is_slowed(better) or is_slowed(other) else ""
    told = f'{within}at the wanted flow "{better.name}" has {shown} m of head to spare'
    if abs(low) <= _find_head_error(other):
        return f'{told}, "{other.name}" next to none'
    return f'{told}, "{other.name}" ' + (f"{its} m" if low >= 0 else f"lacks {its} m")


def _explain_electric(better: PumpRating, other: PumpRating, most_m3_s: float) -> str:
    same = _tell_equal(better, other, most_m3_s)
    its = _count_power(other)
    if its is None:
        return f'{same}, and the file does not say what power "{other.name}" takes'
    low, high = show_apart(_count_power(better) or 0.0, its)
    one, two = (
        ""
        if most_m3_s == math.inf
        else " at its most speed"
        if r.power_at_flow_w is None
        else " slowed to the wanted flow"
        for r in (better, other)
    )
    return f'{same}, and "{better.name}" takes {low} W{one}, "{other.name}" {high} W{two}'


def _explain_hydraulic(better: PumpRating, other: PumpRating, most_m3_s: float) -> str:
    low, high = show_apart(better.hydraulic_w, other.hydraulic_w)
    return (
        f'{_tell_equal(better, other, most_m3_s)}, and "{better.name}" puts {low} W into the coolant, '
        f'"{other.name}" {high} W'
    )


def _tell_equal(better: PumpRating, other: PumpRating, most_m3_s: float) -> str:
    if min(find_counted_flow(better), find_counted_flow(other)) >= most_m3_s:
        return f"both reach the wanted {show_number(l_min(most_m3_s), FILE_DIGITS)} L/min"
    one, two = (f"{l_min(find_counted_flow(rating)):.2g}" for rating in (better, other))
    flows = f"{one} L/min of both" if one == two else f"{one} and {two} L/min"
    return f"{flows} count as equal within the bands"
