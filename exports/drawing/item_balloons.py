"""Item numbers at ports and pump on the assembly, and which items are not drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from exports.drawing.annotations import on_paper
from exports.drawing.placing import Tag
from exports.drawing.values import PlacedView
from exports.tables.parts_list import COVER_SCREW, COVER_WASHER, INSERT, PartRow, is_pump, name_closure
from geom.frame import EDGES
from geom.words import join_names
from layouts.milling.frame import SetUpPlane
from layouts.plan import PlacedPort, Plan

ITEM = 3.5
"""Capitals of item numbers, [mm]."""

SCREWED = (COVER_SCREW, COVER_WASHER, INSERT)
"""Items at each cover screw."""


def port_tags(
    plan: Plan, plane: SetUpPlane, edges: bool, placed: PlacedView, parts: Mapping[int, PartRow]
) -> list[Tag]:
    """Return the numbers of the fittings and plugs at the ports that are seen in a view, and of the pump.

    Parameters
    ----------
    plan : Plan
    plane : SetUpPlane
        Of the view.
    edges : bool
        Whether ports in the edges are named in it.
    placed : PlacedView
    parts : mapping of int to PartRow
        The parts list by its numbers.
    """
    out = []
    for port in plan.routed.ports:
        if port.on != plane.face and not (edges and port.on in EDGES):
            continue
        number = _find_closure(port, parts)
        at = on_paper(placed, plane.to_plane(port.at)[:2])
        out.append(Tag((str(number),), at, 0.0, ITEM, led=True))
    pump = next((number for number, row in parts.items() if is_pump(row)), None)
    if plan.panel.pump.on == plane.face and pump is not None:
        at = on_paper(placed, plane.to_plane((*plan.routed.pump.inlet, 0.0))[:2])
        out.append(Tag((str(pump),), at, plan.panel.pump.seat_diameter / 2 * placed.scale, ITEM, led=True))
    return out


def _find_closure(port: PlacedPort, parts: Mapping[int, PartRow]) -> int:
    name = name_closure(port)
    return next(
        number for number, row in parts.items() if row.item == name and row.size.split(",")[0] == port.thread
    )


def tell_not_drawn(parts: Mapping[int, PartRow], blanks: Sequence[str]) -> str:
    """Return which items of the parts list are not drawn: "items 12 to 29 are not drawn"; empty where all are.

    Parameters
    ----------
    parts : mapping of int to PartRow
        What the list on the drawing has, by its numbers.
    blanks : sequence of str
        Names of the parts that are made.
    """
    drawn = {*blanks, *SCREWED}
    left = [
        number
        for number, row in parts.items()
        if row.item not in drawn and not row.item.startswith("cord") and "of the split" not in row.item
    ]
    runs: list[list[int]] = []
    for number in left:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    if not runs:
        return ""
    said = join_names(
        tuple(
            piece
            for run in runs
            for piece in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run])
        )
    )
    return f"item {said} is not drawn" if len(left) == 1 else f"items {said} are not drawn"
