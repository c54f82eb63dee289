"""Ordinate dimensions round a view: one for each coordinate, their texts kept apart by kinks in their leaders."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from exports.drawing.annotations import GAP, LEG, TEXT, on_paper
from exports.drawing.values import Ordinate, PlacedView
from exports.lettering import text_width
from exports.wording.figures import show_mm
from geom.outline import Point

PITCH = 1.5 * TEXT
"""Least distance of the middle lines of neighbouring texts, [mm]."""

CLEAR = 2.5
"""From a view's edge to where the leaders begin to slant, [mm]."""

STAND_OFF = CLEAR + 2 * LEG
"""From a view's edge to the texts, [mm]."""

SAME = 5e-3
"""Coordinates that differ by less are one: they are written alike, [mm]."""

Axis = Literal["u", "v"]


def ordinate_room(values: Iterable[float]) -> float:
    """Return the room that ordinates take beside a view, [mm] on the paper.

    Parameters
    ----------
    values : iterable of float
        What they say, [mm].
    """
    return STAND_OFF + GAP + max(text_width(show_mm(value), TEXT) for value in values) + 1.0


def draw_ordinates(
    number: int,
    placed: PlacedView,
    points: Sequence[Point],
    axis: Axis,
    before: bool = True,
    edge: float | None = None,
) -> tuple[Ordinate, ...]:
    """Return the ordinates of points along one axis, each coordinate once.

    Parameters
    ----------
    number : int
        Of the view on its sheet.
    placed : PlacedView
    points : sequence of (float, float)
        [mm] in the view's plane. Of points with one coordinate the one nearest to the texts is measured.
    axis : {"u", "v"}
        What is measured.
    before : bool
        Whether the texts stand below the view (axis u) or at its left (axis v); else above, or at its right.
    edge : float or None
        How far from the view's edge the texts begin, [mm] on the paper; `STAND_OFF` where None.
    """
    k = 0 if axis == "u" else 1
    nearest: dict[int, Point] = {}
    for point in points:
        key = round(point[k] / SAME)
        best = nearest.get(key, nearest.get(key - 1, nearest.get(key + 1)))
        if best is None:
            nearest[key] = point
            continue
        if (point[1 - k] < best[1 - k]) == before and point[1 - k] != best[1 - k]:
            nearest[next(one for one, held in nearest.items() if held == best)] = point
    kept = sorted(nearest.values(), key=lambda point: point[k])
    middles = spread([on_paper(placed, point)[k] for point in kept], PITCH)
    off = STAND_OFF if edge is None else edge
    size = placed.view.size[1 - k] * placed.scale
    line = placed.corner[1 - k] - off if before else placed.corner[1 - k] + size + off
    return tuple(
        Ordinate(number, axis, point, (middle, line) if axis == "u" else (line, middle))
        for point, middle in zip(kept, middles, strict=True)
    )


def spread(wanted: Sequence[float], pitch: float) -> list[float]:
    """Return places at least `pitch` apart, in the order of those wanted and as near to them as can be.

    Least squares: neighbours that are too near are pooled about their mean.

    Parameters
    ----------
    wanted : sequence of float
        Rising, [mm].
    pitch : float
        [mm].
    """
    pools: list[tuple[float, int]] = []
    for k, at in enumerate(wanted):
        mean, count = at - k * pitch, 1
        while pools and pools[-1][0] > mean:
            before, n = pools.pop()
            mean, count = (before * n + mean * count) / (n + count), n + count
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    return [mean + k * pitch for k, mean in enumerate(flat)]
