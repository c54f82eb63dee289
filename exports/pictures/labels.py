"""Where labels go: each takes the free place nearest to what it names.

*Anchor*: the point that is named. *Box*: (x0, y0, x1, y1) in picture units, y down. Boxes already taken cost
much, drawn lines a little, distance least; labels are placed in the order given, so the result is always the
same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geom.outline import Point

Rect = tuple[float, float, float, float]

TAKEN_COST = 120.0
OUTSIDE_COST = 60.0
LINE_COST = 6.0
TOUCH_COST = 30.0
"""For any drawn point at all: a free place somewhat farther off is better."""
LEADER_COST = 0.3
"""For each drawn point that a leader line passes."""
CROSS_COST = 8.0
"""For each step of a leader line over a box that is taken."""
LEADER_STEP = 4.0
APART = (7.0, 2.0)
"""Between two labels, across and down: closer ones read as one."""
DISTANCE_COST = 0.35


@dataclass(frozen=True, slots=True)
class LabelRequest:
    """A label to be placed.

    Parameters
    ----------
    anchor : Point
    size : (float, float)
        Width and height.
    gap : float
        Least distance from the anchor to the box.
    outward : (float, float) or None
        Unit vector that leads out of the panel for a port on an edge: its label stays outside. None: the
        label may stand all round.
    home : Rect or None
        A label that must stay inside this box, such as the tank's; drawn lines do not keep it out.
    """

    anchor: Point
    size: tuple[float, float]
    gap: float
    outward: Point | None = None
    home: Rect | None = None


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """A label's box, and whether it stands so far off that it needs a leader line."""

    box: Rect
    led: bool


def place_labels(
    requests: tuple[LabelRequest, ...], taken: tuple[Rect, ...], lines: tuple[Point, ...], within: Rect
) -> tuple[PlacedLabel, ...]:
    """Return a box for each label.

    Parameters
    ----------
    requests : tuple of LabelRequest
    taken : tuple of Rect
        Boxes that no label should cover.
    lines : tuple of Point
        Points along drawn lines, which labels had better not cover.
    within : Rect
        The panel: labels of inner anchors stay inside.

    Returns
    -------
    tuple of PlacedLabel
        In the order of `requests`.
    """
    drawn = np.array(lines, dtype=float).reshape(-1, 2)
    boxes = list(taken)
    placed = []
    for request in requests:
        offers = _round(request) if request.outward is None else _outside(request, request.outward)
        best: tuple[float, Rect, float] | None = None
        for box, far in offers:
            # Cost only adds to the distance: what stands too far off already need not be looked at.
            if best is not None and far * DISTANCE_COST >= best[0]:
                continue
            cost = _cost(box, request, boxes, drawn, within) + far * DISTANCE_COST
            if best is None or cost < best[0]:
                best = (cost, box, far)
        if best is None:
            raise ValueError("a label has at least one place to be tried")
        _, box, far = best
        x0, y0, x1, y1 = box
        boxes.append((x0 - APART[0], y0 - APART[1], x1 + APART[0], y1 + APART[1]))
        led = request.home is None and (far > request.gap + 8.0 or _sideways(box, request))
        if led:
            drawn = np.vstack((drawn, np.array(_leader(box, request)).reshape(-1, 2)))
        placed.append(PlacedLabel(box, led))
    return tuple(placed)


def meet(a: Rect, b: Rect) -> float:
    """Return the area that two boxes share."""
    return max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))


def _cost(box: Rect, request: LabelRequest, boxes: list[Rect], drawn: np.ndarray, within: Rect) -> float:
    area = request.size[0] * request.size[1]
    grown = (box[0] - 2, box[1] - 1, box[2] + 2, box[3] + 1)
    # Any touch costs at once, a full cover costs more.
    cost = sum(TAKEN_COST * (0.5 + shared / area) for other in boxes if (shared := meet(grown, other)) > 0)
    inside = (drawn >= grown[:2]) & (drawn <= grown[2:])
    touched = 0 if request.home is not None else int(np.count_nonzero(inside[:, 0] & inside[:, 1]))
    if touched:
        cost += TOUCH_COST + LINE_COST * touched
    within = within if request.home is None else request.home
    if request.outward is None:
        cost += LEADER_COST * _passed(box, request, drawn)
        way = _leader(box, request)
        cost += CROSS_COST * sum(1 for x, y in way for b in boxes if b[0] < x < b[2] and b[1] < y < b[3])
        cost += OUTSIDE_COST * (1.0 - meet(box, within) / area)
    return cost


def _passed(box: Rect, request: LabelRequest, drawn: np.ndarray) -> int:
    """Return how many drawn points lie under the straight line from the anchor's gap to the box."""
    (x, y), (x0, y0, x1, y1) = request.anchor, box
    dx, dy = min(max(x, x0), x1) - x, min(max(y, y0), y1) - y
    length = math.hypot(dx, dy)
    if length <= request.gap or not len(drawn):
        return 0
    ux, uy = dx / length, dy / length
    along = (drawn[:, 0] - x) * ux + (drawn[:, 1] - y) * uy
    beside = np.abs((drawn[:, 1] - y) * ux - (drawn[:, 0] - x) * uy)
    return int(np.count_nonzero((along > request.gap) & (along < length) & (beside < 3.0)))


def _leader(box: Rect, request: LabelRequest) -> list[Point]:
    """Return points along the straight line from the anchor's gap to the box."""
    (x, y), (x0, y0, x1, y1) = request.anchor, box
    dx, dy = min(max(x, x0), x1) - x, min(max(y, y0), y1) - y
    length = math.hypot(dx, dy)
    steps = range(1, int((length - request.gap) / LEADER_STEP))
    shares = [(request.gap + k * LEADER_STEP) / length for k in steps]
    return [(x + dx * share, y + dy * share) for share in shares]


def _round(request: LabelRequest) -> list[tuple[Rect, float]]:
    offers = []
    w, h = request.size
    if request.gap == 0.0:
        x, y = request.anchor
        offers.append(((x - w / 2, y - h / 2, x + w / 2, y + h / 2), 0.0))
    for step in (0.0, 6.0, 14.0, 26.0, 42.0, 64.0, 90.0, 120.0, 150.0):
        for k in range(24):
            angle = k * math.pi / 12
            dx, dy = math.cos(angle), -math.sin(angle)
            # The box's nearest point to the anchor lies at this distance in this direction, about.
            reach = request.gap + step
            x = request.anchor[0] + dx * (reach + w / 2 * abs(dx))
            y = request.anchor[1] + dy * (reach + h / 2 * abs(dy))
            if abs(dx) > 0.5:
                x = request.anchor[0] + dx * reach + math.copysign(w / 2, dx)
            if abs(dy) > 0.5:
                y = request.anchor[1] + dy * reach + math.copysign(h / 2, dy)
            offers.append(((x - w / 2, y - h / 2, x + w / 2, y + h / 2), reach))
    return offers


def _outside(request: LabelRequest, outward: Point) -> list[tuple[Rect, float]]:
    offers = []
    w, h = request.size
    across = (abs(outward[1]), abs(outward[0]))
    step = h + 5.0 if outward[1] else w + 8.0
    for row in range(4):
        for slide in (0.0, 12.0, -12.0, 24.0, -24.0, 40.0, -40.0, 60.0, -60.0):
            off = request.gap + row * step
            x = request.anchor[0] + outward[0] * (off + w / 2) + across[0] * slide
            y = request.anchor[1] + outward[1] * (off + h / 2) + across[1] * slide
            offers.append(((x - w / 2, y - h / 2, x + w / 2, y + h / 2), off + 0.6 * abs(slide)))
    return offers


def _sideways(box: Rect, request: LabelRequest) -> bool:
    if request.outward is None:
        return False
    x, y = request.anchor
    return not (box[0] <= x <= box[2] or box[1] <= y <= box[3])
