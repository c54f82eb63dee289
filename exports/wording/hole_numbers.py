"""Numbers of ports and screws as the drawing has them, for all other papers: P1, S1."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from exports.drawing.callouts import LETTERS, number_features
from layouts.plan import Layer, Plan

SCREWS: dict[Layer, str] = {"back": "cover screw", "front": "front cover screw"}
"""Sort of the holes at each joint."""


def hole_numbers(plan: Plan) -> dict[str, str]:
    """Return the drawing's number of each round feature, by its name."""
    return number_features(plan.detail.features)


def port_numbers(plan: Plan) -> tuple[str, ...]:
    """Return the drawing's numbers of all ports, in their order: "P1"."""
    numbers = hole_numbers(plan)
    return tuple(numbers[f"port {port.name} {port.thread}"] for port in plan.routed.ports)


def screw_numbers(plan: Plan, layer: Layer) -> tuple[str, ...]:
    """Return the drawing's numbers of a joint's screws, in their order: "S1", of the front cover "T1"."""
    letter = LETTERS[SCREWS[layer]][0]
    return tuple(f"{letter}{number}" for number in range(1, len(plan.sealed.screws_of(layer)) + 1))


def list_numbers_of(names: Iterable[str], numbers: Mapping[str, str]) -> str:
    """Return the numbers of some features, runs drawn together: "P1, P3, S1 to S24"; those without one are left out.

    Parameters
    ----------
    names : iterable of str
    numbers : mapping of str to str
        `hole_numbers`.
    """
    found = sorted({(numbers[name][0], int(numbers[name][1:])) for name in names if name in numbers})
    runs: list[list[tuple[str, int]]] = []
    for letter, number in found:
        if runs and runs[-1][-1] == (letter, number - 1):
            runs[-1].append((letter, number))
        else:
            runs.append([(letter, number)])
    said = []
    for run in runs:
        ends = [f"{letter}{number}" for letter, number in run]
        said += [f"{ends[0]} to {ends[-1]}"] if len(ends) > 2 else ends
    return ", ".join(said)
