"""What the terminal says of how many cover screws there are, and how few there could be."""

from __future__ import annotations

from exports.figures import wrap_words
from exports.text_tables import LINE
from layouts.plan import Coverage, Plan

LIMIT_WORDS = {
    "stiffness": "the cover's stiffness",
    "diameters": "screw diameters",
    "thicknesses": "the thickness of a plastic cover",
}


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
    return [line for one in plan.sealed.coverage for line in wrap_words(_tell(plan, one), LINE)]


def _tell(plan: Plan, one: Coverage) -> str:
    front = one.layer == "front"
    count = len(plan.sealed.front_screws if front else plan.sealed.screws)
    if count == 0:
        return f"no {'front ' if front else ''}cover screw has room"
    few = "as few as can be" if count <= one.least else f"at least {one.least} are needed"
    held = f"a cord no farther than {one.reach:.3g} mm from one"
    return (
        f"{count} {'front ' if front else ''}cover screws, {few} among the places tried (proven): {held}, "
        f"{one.spacing / 2:.3g} mm allowed by {LIMIT_WORDS[one.limit]}"
    )
