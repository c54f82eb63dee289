"""Where things stand in a starting file, and the sizes that go together.

The tank stands at the upper right over the pump at the lower right. Left of them stand the parts' ports, in rows that
are followed to and fro like a furrow: the first row leftwards, the next one back, the first inlet low by the pump and
the last outlet high by the tank. What one channel joins stands side by side in this order, so that no channel is in
another's way; and no port stands under one before it, so that all coolant runs back to the pump and its drain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from geom.errors import EditRefused
from layouts.grid import snap
from layouts.panel import Box
from layouts.panels.start_form import StartForm, show


@dataclass(frozen=True, slots=True)
class Sizes:
    """Sizes that go together, [mm]: of a small plate or a small flow, and of larger ones.

    `cell` is the least distance of two ports, `right` what tank and pump take of the width, `rim` from the edge.
    """

    thread: str
    channel: float
    depth: float
    bend: float
    bore: float
    outlet: float
    seat: float
    screw: str
    circle: float
    body: float
    cover: float
    tank: tuple[float, float, float]
    cell: float
    right: float
    rim: float


SMALL = Sizes("G1/8", 7, 6, 10, 8, 15, 40, "M3", 46, 18, 6, (50, 28, 12), 25, 76, 12)
SMALL_CORD = replace(
    SMALL, channel=6, depth=8, bend=12, body=20, cover=8, outlet=20, seat=50, circle=58, right=90, rim=15
)
"""The cord in its groove keeps what is wet farther from the edge, and the pump's bores farther from each other."""

LARGE = Sizes("G1/4", 8, 9, 15, 10, 25, 60, "M4", 70, 22, 8, (80, 36, 14), 30, 120, 15)

PITCH = 5.0
LEVEL = 1.0
"""How far from its height the box of a port goes that stays at it, [mm]."""

NARROWER = (8.0, 5.0)
"""How much less room the pump has at each side where many branches make each of its places slow to route, [mm]."""

PLAY = 10.0
"""How much wider the boxes of tank and pump are than they must be, [mm]."""

CORD_RIM = 20.0
"""How far ports stand from the edge where a cord and screws go between, [mm]."""

CORD_MORE = 5.0
"""How much more room a channel takes beside a row where a cord goes round it, [mm]; with branches three times that."""

RETURN_ROOM = 15.0
"""How much lower ports stand under a separate tank's return, so that a wall is left between the threads, [mm]."""

WIDEST = 60.0
"""Ports of one row stand no farther apart, [mm]."""

Place = tuple[float, float]


def choose_sizes(form: StartForm) -> Sizes:
    """Return the sizes for a panel of this width and height."""
    if form.width >= 240 and form.height >= 160:
        return LARGE
    return SMALL_CORD if form.closing == "cord" else SMALL


def place_pump(form: StartForm, sizes: Sizes) -> Box:
    """Return the box that the pump's seat stays inside, [mm]: low, with little play, so that it drains the ports."""
    x0, x1 = form.width - sizes.right, form.width - sizes.rim
    # Under a cord's groove the thread of the drain is long enough; elsewhere the pump stands higher for it.
    bottom = sizes.rim + (-4 if form.closing == "cord" else 1)
    top = bottom + sizes.circle + PLAY
    if branches(form):
        return x0 + NARROWER[0], bottom + NARROWER[1], x1 - NARROWER[0], top - NARROWER[1]
    return x0, bottom, x1, top


def branches(form: StartForm) -> bool:
    """Return whether three or more parts share the flow anywhere."""
    return any(len(stage) > 2 for stage in form.stages())


def place_ports(form: StartForm, sizes: Sizes) -> list[tuple[Box, Box]]:
    """Return the boxes in which each part's inlet and outlet stand, [mm].

    Parameters
    ----------
    form : StartForm
    sizes : Sizes

    Returns
    -------
    list of (Box, Box)
        In the order of the form's parts.

    Raises
    ------
    EditRefused
        There is no room for so many ports; the message names how many of the parts the panel takes.
    """
    pairs = _fit_ports(form, sizes)
    if pairs is not None:
        return pairs
    count = len(form.parts)
    fewer = (
        n
        for n in range(count - 1, 0, -1)
        if _fit_ports(replace(form, parts=form.parts[:n]), sizes) is not None
    )
    beside = ", for none side by side" if any(part.beside for part in form.parts) else ""
    raise EditRefused(
        f"parts: {count} parts on a panel of {show(form.width)} x {show(form.height)} mm; in this order it has room for"
        f" the ports of the first {next(fewer, 0)}: ask for fewer parts{beside} or for a larger panel"
    )


def _fit_ports(form: StartForm, sizes: Sizes) -> list[tuple[Box, Box]] | None:
    """Return the boxes of inlet and outlet of each part, None where there is too little room."""
    rim = CORD_RIM if form.closing == "cord" else sizes.rim
    # The separate tank's return comes in from the upper edge, beside the last outlet.
    above = rim + (RETURN_ROOM if form.closing == "one-piece" else 0.0)
    low, high = snap(rim, PITCH), snap(form.height - above, PITCH)
    left, right = snap(rim, PITCH), snap(form.width - sizes.right - sizes.rim / 2, PITCH)
    columns = int((right - left) // sizes.cell) + 1
    beside = sizes.cell / 2 + (CORD_MORE if form.closing == "cord" else 0.0)
    # Between rows that a channel with branches joins it passes itself.
    branched = any(part.beside for part in form.parts)
    screws = 2 * CORD_MORE if form.closing == "cord" else 0.0
    apart = sizes.cell + (beside + screws if branched else 0.0)
    # At the height of the pump's inlet and over it everything drains; where that is too little room, from the edge.
    drained = snap(place_pump(form, sizes)[3] - sizes.seat / 2, PITCH)
    under = snap(drained + beside, PITCH) if len(form.stages()[0]) > 1 else drained
    parted = [_part_rows(form, length) for length in range(columns, 0, -1)]
    for lowest in (under, drained, low):
        for odd in (0, 1):
            # To and fro an even number of rows ends at the right, by the tank. Of an odd number the last runs to the
            # right as the one before it, with a channel between both.
            back = odd * (0.0 if branched else beside)
            most = int((high - lowest - back) // apart) + 1
            fitting = [lengths for lengths in parted if 2 <= len(lengths) <= most and len(lengths) % 2 == odd]
            if fitting:
                lengths = min(fitting, key=len)
                ys = _space_rows(len(lengths), (lowest, high), back)
                places = _fill_rows(lengths, ys, (left, right), sizes.cell)
                # Of a row at one height nothing stays in its channels; nearer to the edge routing needs all its room.
                return _pair_ports(form, places, PITCH if lowest == low else LEVEL)
    return None


def _part_rows(form: StartForm, most: int) -> list[int]:
    """Return how many ports stand in each row, `most` in one; the inlets behind a branched channel begin another.

    Such a channel passes over the outlets and under the inlets that it joins, so that no coolant stays in any of them.
    """
    lengths = [0]
    before = 0
    for stage in form.stages():
        fresh = before > 0 and before + len(stage) > 2
        for k in range(2 * len(stage)):
            if lengths[-1] == most or (fresh and k == 0):
                lengths.append(0)
            lengths[-1] += 1
        before = len(stage)
    return lengths


def _space_rows(count: int, between: Place, back: float) -> list[float]:
    """Return the heights of rows, `back` more between the last two, [mm]."""
    low, high = between
    step = (high - low - back) / (count - 1)
    return [snap(low + k * step, PITCH) for k in range(count - 1)] + [high]


def _fill_rows(lengths: list[int], ys: list[float], xs: Place, cell: float) -> list[Place]:
    """Return places in rows, to and fro from the lower right, the last one to the right, [mm]."""
    gap = max(cell, min(WIDEST, (xs[1] - xs[0]) / max(max(lengths) - 1, 1)))
    places: list[Place] = []
    for k, (length, y) in enumerate(zip(lengths, ys, strict=True)):
        row = [(snap(xs[1] - column * gap, PITCH), y) for column in range(length)]
        places += row if k % 2 == 0 and k < len(lengths) - 1 else row[::-1]
    return places


def _pair_ports(form: StartForm, places: list[Place], play: float) -> list[tuple[Box, Box]]:
    """Return the boxes of inlet and outlet of each part from places in the order of flow."""
    boxes = [(x - PITCH, y - play, x + PITCH, y + play) for x, y in places]
    pairs: list[tuple[Box, Box]] = []
    at = 0
    for stage in form.stages():
        size = len(stage)
        pairs += list(zip(boxes[at : at + size], boxes[at + size : at + 2 * size], strict=True))
        at += 2 * size
    return pairs
