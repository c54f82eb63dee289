"""The table of channels: section, bends, and the corners of each centreline, to check a programme against."""

from __future__ import annotations

from exports.drawing.face_tags import layer_of, number_channels
from exports.drawing.needed_views import channel_z, whole_box
from exports.drawing.sheet_tables import Table, wrap_text
from exports.wording.figures import show_mm
from geom.features import Blank
from geom.frame import Face
from geom.outline import Point
from layouts.detail import name_channel
from layouts.milling.frame import SetUpPlane, plane_of
from layouts.plan import Layer, Plan

WIDE, NARROW = (46.0, 96.0), (34.0, 44.0)
"""Widths at which names and corners are broken into lines, [mm]."""

HARD = "\u00a0"
"""A space at which no line is broken."""


def tabulate_channels(
    plan: Plan, blank: Blank, face: Face, rooms: tuple[float, float] = WIDE
) -> tuple[Table, ...]:
    """Return the table of the channels that are cut into a face; none where there are none.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    face : Face
    rooms : (float, float)
        `WIDE` or `NARROW`.
    """
    layer = layer_of(plan, blank, face)
    if layer is None:
        return ()
    return _tabulate(plan, layer, plane_of(blank, face), f"in the {face} view", rooms)


def tabulate_inner_channels(plan: Plan, rooms: tuple[float, float] = WIDE) -> tuple[Table, ...]:
    """Return the table of the channels inside a panel in one piece, split or not, counted from its lower left corner.

    Parameters
    ----------
    plan : Plan
    rooms : (float, float)
        `WIDE` or `NARROW`.
    """
    plane = SetUpPlane("front", *whole_box(plan.detail))
    return _tabulate(plan, None, plane, "counted from the whole panel's corner", rooms)


def _tabulate(
    plan: Plan, layer: Layer | None, plane: SetUpPlane, where: str, rooms: tuple[float, float]
) -> tuple[Table, ...]:
    numbers, printed = number_channels(plan), plan.printed
    shaped = printed is not None and any(roof.kind != "flat" for roof in printed.roofs)
    rows = []
    for channel in plan.routed.channels:
        runs = [run for run in channel.runs if layer is None or run.layer == layer]
        if not runs:
            continue
        low, high = channel_z(plan.detail, name_channel(channel.name, layer or "back"))
        deep = high - low
        for k, run in enumerate(runs):
            corners = [plane.to_plane((*point, 0.0))[:2] for point in run.points]
            # A place is not broken across lines.
            said = " ".join(_show(point).replace(" ", HARD) for point in corners)
            first = k == 0
            rows.append(
                (
                    (numbers[channel.name],),
                    wrap_text(channel.name, rooms[0]) if first else ("",),
                    (show_mm(channel.width) if first else "",),
                    (show_mm(deep) if first else "",),
                    *(((_tell_roof(plan, channel.name) if first else ""),) for _ in range(shaped)),
                    (f"R{show_mm(channel.bend_radius)}" if first else "",),
                    tuple(line.replace(HARD, " ") for line in wrap_text(said, rooms[1])),
                )
            )
    if not rows:
        return ()
    roof = ("roof",) if shaped else ()
    head = ("No.", "channel", "width", "depth", *roof, "bends", "centreline: ends and corners (x, y)")
    heading = [f"Channels, {where}", "bends: radius of the centreline; ends full round"]
    if shaped:
        heading.append("depth with its roof")
    return (Table(tuple(heading), head, tuple(rows)),)


def _tell_roof(plan: Plan, name: str) -> str:
    """Return the shape of the roof over a channel that is closed in the print, its lengths in mm."""
    roof = None if plan.printed is None else plan.printed.roof_of(name)
    if roof is None or roof.kind == "flat":
        return "flat"
    if roof.kind == "round":
        return f"round, R{show_mm(roof.rise)}"
    return f"pointed, rise {show_mm(roof.rise)}, inset {show_mm(roof.inset)}"


def _show(point: Point) -> str:
    return f"({show_mm(point[0])}, {show_mm(point[1])})"
