"""What a panel's cords are called in pictures: by the number of the groove, and by what they go round."""

from __future__ import annotations

from geom.outline import loop_area
from layouts.plan import CordLoop, Sealed

POST = "groove of "
"""How the names of the grooves on posts begin; the others are "groove 1" and so on."""


def cord_tag(loop: CordLoop) -> str:
    """Return the short name on a cord's badge: "1" for groove 1, "P1" for the groove of post 1."""
    if loop.name.startswith(POST):
        return f"P{loop.name.rsplit(' ', 1)[1]}"
    return loop.name.rsplit(" ", 1)[-1]


def name_rounds(sealed: Sealed) -> dict[str, str]:
    """Return what each cord goes round, by its groove's name: no two are called the same.

    Parameters
    ----------
    sealed : Sealed

    Returns
    -------
    dict
        "post 1"; the wet region, with its face where it has cords in both, with "island" where the cord goes round
        one in it, and with a count where that is not enough.
    """
    loops = sealed.loops
    layers: dict[str, set[str]] = {}
    for loop in loops:
        layers.setdefault(loop.region, set()).add(loop.layer)
    said = {}
    for loop in loops:
        if loop.name.startswith(POST):
            said[loop.name] = loop.name.removeprefix(POST)
            continue
        face = f", {loop.layer}" if len(layers[loop.region]) > 1 else ""
        # What is wet lies on a loop's left: one that runs clockwise has it outside.
        island = ", island" if loop.closed and loop_area(loop.path) < 0 else ""
        said[loop.name] = f"{loop.region}{face}{island}"
    same: dict[str, list[str]] = {}
    for name, text in said.items():
        same.setdefault(text, []).append(name)
    for text, names in same.items():
        if len(names) > 1:
            said |= {name: f"{text}, {k} of {len(names)}" for k, name in enumerate(names, 1)}
    return said
