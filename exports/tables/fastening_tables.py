"""The cover screws for the terminal."""

from __future__ import annotations

from exports.tables.text_tables import LINE, align_rows
from exports.wording.closing_work import BY_HAND, is_by_hand
from exports.wording.figures import show_mm, wrap_words
from geom.words import tell_torque
from layouts.faces import cover_name
from layouts.plan import Plan
from layouts.strength.fastening import fasten_plan
from layouts.strength.results import Fastening

ESTIMATED = (
    "how far the cover bows, its stress, and what that adds to the pull on single screws is calculated by "
    "rillplate make; it may find what these estimates do not"
)
"""What `plan` says of all that it only estimates."""


def describe_fastening(plan: Plan) -> list[str]:
    """Return the cover screws as lines: how many, how loaded, how tight; a blank line before the heading.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of str
        Empty where nothing is screwed.
    """
    fastened = fasten_plan(plan)
    if not fastened:
        return []
    by = "" if fastened[0].calculated else ", by their shares of the load"
    title = f"cover screws, at the test pressure{by}; torque by an estimate of friction"
    extras = [line for one in tell_extras(fastened[0]) for line in wrap_words(one, LINE)]
    open_still = [] if fastened[0].calculated else wrap_words(ESTIMATED, LINE)
    return ["", title, *align_rows(screw_rows(fastened), left=2), *extras, *open_still]


def screw_rows(fastened: tuple[Fastening, ...]) -> list[tuple[str, ...]]:
    """Return the screws of each cover with their loads, headings first.

    Parameters
    ----------
    fastened : tuple of Fastening
        At least one.
    """
    most = "most loaded" if fastened[0].calculated else "greatest share"
    rows: list[tuple[str, ...]] = [
        ("cover", "screws", most, "thread", "thread holds", "head holds", "tighten to", "torque")
    ]
    return rows + [_row(one) for one in fastened]


def _row(one: Fastening) -> tuple[str, ...]:
    size = one.screw if one.length is None else f"{one.screw} x {one.length:g}"
    return (
        cover_name(one.layer),
        f"{len(one.loads_n)} {size}",
        f"{max(one.loads_n):.0f} N",
        f"{show_mm(one.engagement)} mm",
        f"{one.holds_n:.0f} N",
        f"{one.head_holds_n:.0f} N",
        f"{one.preload_n:.0f} N",
        tell_torque(*one.torque_nm),
    )


def tell_extras(one: Fastening) -> list[str]:
    """Return what goes under and behind the screws of all covers, and how they are tightened by hand."""
    said = []
    if one.washer:
        said.append(f"a washer of {one.washer:g} mm ({one.washer_standard}) under each head")
    if one.insert is not None:
        said.append(f"inserts {one.insert} in the body")
    lines = ["; ".join(said)] if said else []
    return [*lines, BY_HAND] if is_by_hand(one) else lines
