"""What the terminal says of how many cover screws there are, and how few there could be."""

from __future__ import annotations

from exports.tables.text_tables import LINE
from exports.wording.figures import wrap_words
from geom.words import count_of
from layouts.closing.spacing import LIMIT_WORDS
from layouts.faces import cover_name
from layouts.plan import Coverage, Plan


def describe_screws(plan: Plan) -> list[str]:
    """Return a sentence for each cover that is screwed onto a cord.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of str
        Lines; empty where nothing is screwed.
    """
    return [line for one in plan.sealed.coverage for line in wrap_words(tell_coverage(plan, one), LINE)]


def tell_coverage(plan: Plan, one: Coverage) -> str:
    """Return how many screws a cover has, how few would do, and what limits how far apart they stand."""
    name, count = f"{cover_name(one.layer)} screw", len(plan.sealed.screws_of(one.layer))
    if count == 0:
        return f"no {name} has room"
    few = "as few as can be" if count <= one.least else f"at least {one.least} are needed"
    closer = (
        "" if one.crowded is None else f", {one.crowded / 2:.3g} mm where a screw would be loaded too much"
    )
    return (
        f"{count_of(count, name)}, {few} among the places tried (proven): the cord's farthest place is "
        f"{one.reach:.3g} mm from a screw, {one.spacing / 2:.3g} mm are allowed by {LIMIT_WORDS[one.limit]}{closer}"
    )
