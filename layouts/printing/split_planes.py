"""Planes at which a panel may be split: both pieces fit the printer, and channels pass straight through.

*Axis*: the plane's normal, x or y. *Along*: the other one of the two. A *stretch* is what something takes of the axis.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import Literal

import shapely

from geom.features import Feature
from geom.frame import EDGES, SAME_MM
from geom.outline import Line, Point, Segment, path_points, round_corners
from geom.standards import tables
from geom.words import join_names
from layouts.detail import cast_shadow, cut_openings, cut_pump_screws
from layouts.faces import layer_z
from layouts.panel import Panel
from layouts.plan import Channel, Routed
from layouts.printing.printed import Crossing
from layouts.printing.printer_room import fits_panel

Axis = Literal["x", "y"]

STEP = 1.0
"""Between the planes that are tried, [mm]."""

ARC_STEP = 0.2
"""Between the points that stand for a bend, [mm]."""

MOST_NAMED = 3
"""How many of the things in the way are named."""


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane at which nothing but straight channels, at right angles, is cut: `at` on its axis, [mm]."""

    axis: Axis
    at: float
    crossings: tuple[Crossing, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """What something takes of the axis, from `low` to `high`, [mm]."""

    name: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class _Straight:
    """A straight piece of a channel along the axis: its two ends, and where it lies along the plane, [mm]."""

    channel: Channel
    low: float
    high: float
    along: float


def find_planes(panel: Panel, routed: Routed, apart: float) -> tuple[Plane, ...] | str:
    """Return the planes that may split a panel, the best first, or what is in the way of all.

    Fewest crossings come first, then the nearest to the middle.

    Parameters
    ----------
    panel : Panel
        With a printer's room.
    routed : Routed
    apart : float
        How far all that is cut, but for the channels that pass straight through, stays off the plane, [mm].

    Returns
    -------
    tuple of Plane or str
        At least one plane, or a clause: "in no two pieces does it fit ...".
    """
    openings = cut_openings(panel, routed)
    cut = (*openings, *cut_pump_screws(panel, routed, openings))
    found: list[tuple[int, float, Axis, float, Plane]] = []
    in_way: Counter[str] = Counter()
    axes: tuple[Axis, Axis] = ("x", "y")
    for axis in axes:
        places = list_places(panel, axis)
        if not places:
            continue
        straights, blocked = _read_channels(routed, axis, apart)
        blocked = (*blocked, *_block(panel, routed, cut, axis, apart))
        middle = _length(panel, axis) / 2
        for at in places:
            ways = sorted({one.name for one in blocked if one.low < at < one.high})
            in_way.update(ways)
            if not ways:
                plane = Plane(axis, at, _cross(panel, straights, axis, at))
                found.append((len(plane.crossings), abs(at - middle), axis, at, plane))
    if found:
        return tuple(plane for *_, plane in sorted(found, key=lambda row: row[:4]))
    if not in_way:
        return "it does not fit in two pieces either"
    ranked = [name for name, _ in sorted(in_way.items(), key=lambda row: (-row[1], row[0]))]
    named = ranked if len(ranked) <= MOST_NAMED else [*ranked[:MOST_NAMED], "others"]
    return (
        f"every plane that makes two pieces small enough passes through, or within {apart:g} mm of, "
        f"{join_names(named)}, other than straight across a channel"
    )


def list_places(panel: Panel, axis: Axis) -> tuple[float, ...]:
    """Return where planes across an axis make two pieces that both fit the printer, [mm].

    Parameters
    ----------
    panel : Panel
    axis : {"x", "y"}
    """
    if panel.make.room is None:
        return ()
    long, places = _length(panel, axis), []
    for k in range(1, math.ceil(long / STEP)):
        at = k * STEP
        pieces = [(part, panel.height) if axis == "x" else (panel.width, part) for part in (at, long - at)]
        if panel.corner_radius < at < long - panel.corner_radius and all(
            fits_panel(panel, (*piece, panel.make.body)) for piece in pieces
        ):
            places.append(at)
    return tuple(places)


def along_of(axis: Axis, point: Point) -> tuple[float, float]:
    """Return a point's place on the axis and along the plane, [mm]; the same turns them back."""
    return point if axis == "x" else (point[1], point[0])


def _length(panel: Panel, axis: Axis) -> float:
    return panel.width if axis == "x" else panel.height


def _cross(panel: Panel, straights: tuple[_Straight, ...], axis: Axis, at: float) -> tuple[Crossing, ...]:
    middle = sum(layer_z(panel, "back")) / 2
    met = {(s.along, s.channel.name): s.channel for s in straights if s.low < at < s.high}
    return tuple(
        Crossing(name, (*along_of(axis, (at, along)), middle), channel.width, channel.depth)
        for (along, name), channel in sorted(met.items(), key=lambda row: row[0])
    )


def _read_channels(
    routed: Routed, axis: Axis, apart: float
) -> tuple[tuple[_Straight, ...], tuple[Stretch, ...]]:
    """Return the straight pieces along the axis, and what all other pieces and all ends keep off the plane."""
    straights: list[_Straight] = []
    blocked: list[Stretch] = []
    for channel in routed.channels:
        name, half = f"channel {channel.name}", channel.width / 2
        for run in channel.runs:
            segments = round_corners(run.points, channel.bend_radius)
            for end in (run.points[0], run.points[-1]):
                here = along_of(axis, end)[0]
                blocked.append(Stretch(name, here - half - apart, here + half + apart))
            for segment in segments:
                low, high, along = _place(segment, axis)
                if along is not None:
                    straights.append(_Straight(channel, low, high, along))
                    continue
                x0, y0, x1, y1 = _cover(segment, half)
                low, high = (x0, x1) if axis == "x" else (y0, y1)
                blocked.append(Stretch(name, low - apart, high + apart))
    return tuple(straights), tuple(blocked)


def _place(segment: Segment, axis: Axis) -> tuple[float, float, float | None]:
    """Return a piece's ends on the axis, and where it lies along the plane; None where it is not along the axis."""
    (a, b), (c, d) = along_of(axis, segment.start), along_of(axis, segment.end)
    straight = isinstance(segment, Line) and abs(b - d) < SAME_MM
    return min(a, c), max(a, c), b if straight else None


def _cover(segment: Segment, half: float) -> tuple[float, float, float, float]:
    """Return the bounds of a piece at its width, [mm]."""
    points = [*path_points((segment,), ARC_STEP).tolist(), segment.end]
    return shapely.LineString(points).buffer(half, cap_style="flat").bounds


def _block(
    panel: Panel, routed: Routed, cut: tuple[Feature, ...], axis: Axis, apart: float
) -> tuple[Stretch, ...]:
    """Return what tank, ports with their fittings, pump, and regions to keep clear keep off the plane."""
    blocked: list[Stretch] = []
    pump: list[Stretch] = []
    for feature in cut:
        if feature.kind == "channel":
            continue
        x0, y0, x1, y1 = cast_shadow(feature.shape)[0].bounds
        low, high = (x0, x1) if axis == "x" else (y0, y1)
        stretch = Stretch(feature.name, low - apart, high + apart)
        (pump if feature.name.startswith("pump ") else blocked).append(stretch)
    if pump:
        # The pump stands over all that lies between its screws and its bores.
        blocked.append(Stretch("the pump", min(s.low for s in pump), max(s.high for s in pump)))
    for port in routed.ports:
        if port.on in EDGES:
            half = tables.thread(port.thread).collar / 2
            at = along_of(axis, (port.at[0], port.at[1]))[0]
            blocked.append(Stretch(f"port {port.name}", at - half - apart, at + half + apart))
    for clear in panel.keep_clear:
        (low, _), (high, _) = along_of(axis, clear.box[:2]), along_of(axis, clear.box[2:])
        blocked.append(Stretch(clear.name, low, high))
    return tuple(blocked)
