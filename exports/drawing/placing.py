"""Finds places for labels: what is drawn is ink on a raster, and a label goes where there is none.

A tag stands at its feature where there is room; else on a ring round it, with a leader, the nearest that is free. The
tags with the fewest free places come first; one that finds none takes the place of one tag that has another. What
then has no place is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from exports.drawing.annotations import GAP, SPACING
from exports.drawing.overlaps import DESCENT, HANGING, label_box
from exports.drawing.paper import Box
from exports.drawing.values import Item, Label, Leader
from exports.lettering import text_width
from geom.outline import Point

CELL = 0.25
"""Of the raster, [mm]."""

CLEAR = 0.45
"""Kept free round a label, [mm]."""

APART = 0.5
"""Two labels side by side stand so much further apart, [mm]: they are not read as one."""

NEAR = (0.7, 1.3, 2.0)
"""How far a label without a leader stands off its feature, [mm]."""

FAR = (3.5, 5.0, 7.0, 9.5, 12.5, 16.0, 20.0, 25.0, 31.0, 38.0, 46.0)
"""How far off its feature a leader's text begins, [mm]."""

PLAIN = 0.8
"""By how much a label without a leader stands nearer to its own feature than to the next, [mm]."""

NEAR_WAYS, FAR_WAYS = 24, 32

LEAN = 2.5
"""A box leans out by its whole half in all directions but those nearly square to it: over the cosine, [-]."""


@dataclass(frozen=True, slots=True)
class Tag:
    """A label to be placed.

    Parameters
    ----------
    text : tuple of str
        Its lines.
    at : (float, float)
        What it names: the middle of a round thing, or a point, on the paper, [mm].
    radius : float
        Of the round thing, on the paper, [mm]; 0 for a point.
    height : float
        Of its capitals, [mm].
    led : bool
        Whether it has a leader wherever it stands.
    dot : bool
        Whether its leader ends in a dot in the middle of what it names, else at its rim.
    inside : bool
        Whether it may stand on what it names: its box around `at`.
    more : tuple of (float, float)
        Other points on which it may stand, or to which its leader may run where it has one everywhere, [mm].
    upright : tuple of (float, float)
        Points on which it may stand turned by a right angle, [mm]: on what runs up the sheet.
    beside : Box or None
        Beside which its text stands where it can, [mm]: the view that it is about.
    """

    text: tuple[str, ...]
    at: Point
    radius: float
    height: float = 2.5
    led: bool = False
    dot: bool = False
    inside: bool = False
    more: tuple[Point, ...] = ()
    upright: tuple[Point, ...] = ()
    beside: Box | None = None


@dataclass(slots=True)
class Field:
    """A sheet's ink: where lines and letters are already.

    Parameters
    ----------
    box : Box
        What of the paper is looked at, [mm].
    """

    box: Box
    ink: np.ndarray = field(init=False)
    letters: np.ndarray = field(init=False)
    _sums: np.ndarray | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        shape = (math.ceil(self.box.height / CELL) + 1, math.ceil(self.box.width / CELL) + 1)
        self.ink = np.zeros(shape, dtype=bool)
        self.letters = np.zeros(shape, dtype=bool)

    def draw_lines(self, lines: Iterable[np.ndarray]) -> None:
        """Ink polylines, each (n, 2) float, [mm]."""
        starts, ends = [], []
        for xy in lines:
            starts.append(xy[:-1])
            ends.append(xy[1:])
        if not starts:
            return
        a, b = np.concatenate(starts), np.concatenate(ends)
        steps = np.ceil(np.hypot(*(b - a).T) / (CELL / 2)).astype(int) + 1
        index = np.repeat(np.arange(len(a)), steps)
        first = np.cumsum(steps) - steps
        share = (np.arange(len(index)) - first[index]) / np.maximum(steps[index] - 1, 1)
        self._mark(a[index] + (b - a)[index] * share[:, None])

    def fill_box(self, corners: np.ndarray) -> None:
        """Ink a rectangle along the axes that holds (n, 2) corners, [mm]."""
        (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
        i0, i1 = (round((x - self.box.x0) / CELL) for x in (x0, x1))
        j0, j1 = (round((y - self.box.y0) / CELL) for y in (y0, y1))
        taken = np.s_[max(j0, 0) : max(j1 + 1, 0), max(i0, 0) : max(i1 + 1, 0)]
        self.ink[taken] = self.letters[taken] = True
        self._sums = None

    def cross_letters(self, lines: np.ndarray) -> np.ndarray:
        """Return which lines, (n, 4) float from end to end, [mm], pass through letters: (n,) bool; nan never does."""
        out = np.zeros(len(lines), dtype=bool)
        led = np.flatnonzero(~np.isnan(lines[:, 0]))
        if not len(led):
            return out
        a, b = lines[led, :2], lines[led, 2:]
        steps = np.ceil(np.hypot(*(b - a).T) / (2 * CELL)).astype(int) + 1
        index = np.repeat(np.arange(len(led)), steps)
        share = (np.arange(len(index)) - (np.cumsum(steps) - steps)[index]) / steps[index]
        points = a[index] + (b - a)[index] * share[:, None]
        i = np.floor((points[:, 0] - self.box.x0) / CELL + 0.5).astype(int).clip(0, self.ink.shape[1] - 1)
        j = np.floor((points[:, 1] - self.box.y0) / CELL + 0.5).astype(int).clip(0, self.ink.shape[0] - 1)
        out[led[index[self.letters[j, i]]]] = True
        return out

    def is_free(self, boxes: np.ndarray) -> np.ndarray:
        """Return which boxes, (n, 4) float, x0, y0, x1, y1, [mm], lie inside the field and hold no ink: (n,) bool."""
        if self._sums is None:
            sums = np.zeros((self.ink.shape[0] + 1, self.ink.shape[1] + 1), dtype=np.int32)
            np.cumsum(np.cumsum(self.ink, axis=0, dtype=np.int32), axis=1, out=sums[1:, 1:])
            self._sums = sums
        x0, y0, x1, y1 = np.asarray(boxes, dtype=float).T
        inside = (x0 >= self.box.x0) & (y0 >= self.box.y0) & (x1 <= self.box.x1) & (y1 <= self.box.y1)
        rows, columns = self.ink.shape
        i0 = np.clip(np.floor((x0 - self.box.x0) / CELL + 0.5).astype(int), 0, columns)
        i1 = np.clip(np.floor((x1 - self.box.x0) / CELL + 0.5).astype(int) + 1, 0, columns)
        j0 = np.clip(np.floor((y0 - self.box.y0) / CELL + 0.5).astype(int), 0, rows)
        j1 = np.clip(np.floor((y1 - self.box.y0) / CELL + 0.5).astype(int) + 1, 0, rows)
        s = self._sums
        return inside & (s[j1, i1] - s[j0, i1] - s[j1, i0] + s[j0, i0] == 0)

    def draw_points(self, points: np.ndarray) -> None:
        """Ink points, (n, 2) float, [mm]."""
        self._mark(points)

    def _mark(self, points: np.ndarray) -> None:
        i = np.floor((points[:, 0] - self.box.x0) / CELL + 0.5).astype(int)
        j = np.floor((points[:, 1] - self.box.y0) / CELL + 0.5).astype(int)
        good = (i >= 0) & (j >= 0) & (i < self.ink.shape[1]) & (j < self.ink.shape[0])
        self.ink[j[good], i[good]] = True
        self._sums = None


@dataclass(frozen=True, slots=True)
class _Places:
    """Places of one tag that hold no ink, the best first.

    Boxes (n, 4), leaders (n, 4) with nan for none, [mm]; how the text is turned, (n,) [deg].
    """

    tag: Tag
    boxes: np.ndarray
    leaders: np.ndarray
    turned: np.ndarray


def place_tags(tags: Sequence[Tag], ink: Field) -> tuple[tuple[Item, ...], tuple[Tag, ...]]:
    """Return labels and leaders that overlap nothing, and the tags for which there is no room.

    Parameters
    ----------
    tags : sequence of Tag
    ink : Field
        What is placed is inked in it.

    Returns
    -------
    (tuple of Item, tuple of Tag)
        The items in the order of the tags.
    """
    rounds = np.array([(*tag.at, tag.radius) for tag in tags if tag.radius > 0]).reshape(-1, 3)
    places = [_list_places(tag, ink, rounds) for tag in tags]
    chosen: dict[int, int] = {}
    order = sorted(range(len(tags)), key=lambda k: (_near_count(places[k]), k))
    left = [tags[k] for k in order if not _take(k, places, chosen) and not _push(k, places, chosen)]
    items = []
    for k in sorted(chosen):
        place = places[k]
        items.append(_make_item(place, chosen[k]))
        box = place.boxes[chosen[k]]
        ink.fill_box(np.array([box[:2] + CLEAR, box[2:] - CLEAR]))
        leader = place.leaders[chosen[k]]
        if not np.isnan(leader[0]):
            ink.draw_lines([leader.reshape(2, 2)])
    return tuple(items), tuple(left)


def _near_count(place: _Places) -> tuple[int, int]:
    return int(np.isnan(place.leaders[:, 0]).sum()), len(place.boxes)


def _take(k: int, places: Sequence[_Places], chosen: dict[int, int]) -> bool:
    """Give a tag its best place that is free of those chosen; False where there is none."""
    free = ~_clashes(places[k], places, chosen).any(axis=0) if chosen else np.ones(len(places[k].boxes), bool)
    if not free.any():
        return False
    chosen[k] = int(np.argmax(free))
    return True


def _push(k: int, places: Sequence[_Places], chosen: dict[int, int]) -> bool:
    """Give a tag a place that one other has, where that one has another; False where there is none."""
    others = list(chosen)
    clashes = _clashes(places[k], places, chosen)
    for place in np.argsort(clashes.sum(axis=0), kind="stable"):
        standing = np.flatnonzero(clashes[:, place])
        if len(standing) != 1:
            continue
        other = others[standing[0]]
        held = chosen.pop(other)
        chosen[k] = int(place)
        if _take(other, places, chosen):
            return True
        del chosen[k]
        chosen[other] = held
    return False


def _clashes(place: _Places, places: Sequence[_Places], chosen: dict[int, int]) -> np.ndarray:
    """Return which chosen places each place of a tag overlaps: (chosen, places) bool."""
    boxes = np.array([places[j].boxes[c] for j, c in chosen.items()]).reshape(-1, 4)
    leaders = np.array([places[j].leaders[c] for j, c in chosen.items()]).reshape(-1, 4)
    mine = place.boxes
    over = (
        (boxes[:, None, 0] < mine[None, :, 2] + APART)
        & (boxes[:, None, 2] > mine[None, :, 0] - APART)
        & (boxes[:, None, 1] < mine[None, :, 3])
        & (boxes[:, None, 3] > mine[None, :, 1])
    )
    over |= _cross(leaders[:, None, :], mine[None, :, :])
    over |= _cross(place.leaders[None, :, :], boxes[:, None, :])
    return over


def _cross(lines: np.ndarray, boxes: np.ndarray) -> np.ndarray:
    """Return which lines, (..., 4), pass through which boxes, (..., 4), by the separating axes; nan never does."""
    ax, ay, bx, by = np.moveaxis(np.broadcast_arrays(lines, boxes)[0], -1, 0)
    x0, y0, x1, y1 = np.moveaxis(np.broadcast_arrays(lines, boxes)[1], -1, 0)
    with np.errstate(invalid="ignore"):
        apart = (np.maximum(ax, bx) < x0) | (np.minimum(ax, bx) > x1)
        apart |= (np.maximum(ay, by) < y0) | (np.minimum(ay, by) > y1)
        dx, dy = bx - ax, by - ay
        off = dx * ((y0 + y1) / 2 - ay) - dy * ((x0 + x1) / 2 - ax)
        reach = np.abs(dx) * (y1 - y0) / 2 + np.abs(dy) * (x1 - x0) / 2
        return ~apart & (np.abs(off) <= reach)


def _list_places(tag: Tag, ink: Field, rounds: np.ndarray) -> _Places:
    """Return the places of a tag that hold no ink: without a leader first, then by the leader's length."""
    near = _near_places(tag) if len(tag.text) == 1 and not tag.led else np.empty((0, 3))
    far = _far_places(tag)
    boxes = np.concatenate([_near_boxes(tag, near), _far_boxes(tag, far)])
    leaders = np.concatenate([np.full((len(near), 4), np.nan), far])
    free = ink.is_free(boxes)
    if tag.radius > 0:
        free &= ~np.isnan(leaders[:, 0]) | _is_nearest(boxes, tag, rounds)
    keep = np.flatnonzero(free)
    keep = keep[~ink.cross_letters(leaders[keep])]
    if tag.beside is not None:
        b = tag.beside
        x0, y0, x1, y1 = boxes[keep].T
        over = (x0 < b.x1) & (x1 > b.x0) & (y0 < b.y1) & (y1 > b.y0)
        keep = keep[np.argsort(over, kind="stable")]
    turned = np.concatenate([near[:, 2], np.zeros(len(far))])
    return _Places(tag, boxes[keep], leaders[keep], turned[keep])


def _is_nearest(boxes: np.ndarray, tag: Tag, rounds: np.ndarray) -> np.ndarray:
    """Return which boxes, (n, 4), stand nearer to their own round thing than to any other, (m, 3) x, y, radius."""

    def off(x: np.ndarray, y: np.ndarray, radius: np.ndarray) -> np.ndarray:
        dx = np.maximum(np.maximum(boxes[:, None, 0] - x, x - boxes[:, None, 2]), 0.0)
        dy = np.maximum(np.maximum(boxes[:, None, 1] - y, y - boxes[:, None, 3]), 0.0)
        return np.hypot(dx, dy) - radius

    others = rounds[np.hypot(rounds[:, 0] - tag.at[0], rounds[:, 1] - tag.at[1]) > CELL]
    if not len(others):
        return np.ones(len(boxes), dtype=bool)
    own = off(np.array([tag.at[0]]), np.array([tag.at[1]]), np.array([tag.radius]))[:, 0]
    return own + PLAIN < off(*others.T).min(axis=1)


def _near_places(tag: Tag) -> np.ndarray:
    """Return middles of boxes without a leader, and how they are turned, (n, 3) [mm], [mm], [deg].

    On what the tag names where it may stand there, else round it, upper right first.
    """
    if tag.inside and tag.radius == 0.0:
        flat = [(x, y, 0.0) for x, y in (tag.at, *tag.more)]
        return np.array([*flat, *((x, y, 90.0) for x, y in tag.upright)])
    half, tall = _half_size(tag)
    reach = tag.radius + np.repeat(NEAR, NEAR_WAYS)
    c, s = np.tile(_directions(NEAR_WAYS), len(NEAR))
    # The box's middle stands so far out that the box clears the circle in that direction.
    x = tag.at[0] + c * reach + half * np.clip(LEAN * c, -1.0, 1.0)
    y = tag.at[1] + s * reach + tall * np.clip(LEAN * s, -1.0, 1.0)
    return np.column_stack([x, y, np.zeros(len(x))])


def _directions(ways: int) -> np.ndarray:
    """Return cosines and sines of directions all round, those nearest to the upper right first: (2, ways) float."""
    turns = np.array([(k + 1) // 2 * (1 if k % 2 else -1) for k in range(ways)])
    angles = math.pi / 4 + 2 * math.pi * turns / ways
    return np.stack([np.cos(angles), np.sin(angles)]).round(12)


def _half_size(tag: Tag) -> tuple[float, float]:
    """Return half the width and half the height of a tag's one line, [mm]."""
    low = tag.height * DESCENT if HANGING & set(tag.text[0]) else 0.0
    return text_width(tag.text[0], tag.height) / 2, (tag.height + low) / 2


def _near_boxes(tag: Tag, places: np.ndarray) -> np.ndarray:
    half, tall = _half_size(tag)
    upright = places[:, 2] == 90.0
    w, h = np.where(upright, tall, half) + CLEAR, np.where(upright, half, tall) + CLEAR
    x, y = places[:, 0], places[:, 1]
    return np.column_stack([x - w, y - h, x + w, y + h])


def _far_places(tag: Tag) -> np.ndarray:
    """Return leaders from what a tag names to where its text begins, (n, 4) [mm]; the first point's come first."""
    points = (tag.at, *tag.more) if tag.led else (tag.at,)
    return np.concatenate([_leaders_from(tag, point) for point in points])


def _leaders_from(tag: Tag, point: Point) -> np.ndarray:
    far = tag.radius + np.repeat(FAR, FAR_WAYS)
    c, s = np.tile(_directions(FAR_WAYS), len(FAR))
    start = 0.0 if tag.dot else tag.radius
    x, y = point
    return np.column_stack([x + c * start, y + s * start, x + c * far, y + s * far])


def _far_boxes(tag: Tag, leaders: np.ndarray) -> np.ndarray:
    wide = max(text_width(line, tag.height) for line in tag.text)
    low = tag.height * DESCENT if HANGING & set(tag.text[-1]) else 0.0
    half = (SPACING * (len(tag.text) - 1) + 1) * tag.height / 2
    x, y = leaders[:, 2], leaders[:, 3]
    right = x >= leaders[:, 0]
    x0, x1 = np.where(right, x + GAP, x - GAP - wide), np.where(right, x + GAP + wide, x - GAP)
    return np.column_stack([x0 - CLEAR, y - half - low - CLEAR, x1 + CLEAR, y + half + CLEAR])


def _make_item(places: _Places, k: int) -> Item:
    """Return the label or the leader of one place."""
    tag = places.tag
    ax, ay, bx, by = (float(x) for x in places.leaders[k])
    if not math.isnan(ax):
        return Leader(((ax, ay), (bx, by)), tag.text, tag.height, tag.dot)
    x0, y0, x1, y1 = (float(x) for x in places.boxes[k])
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    low = tag.height * DESCENT if HANGING & set(tag.text[0]) else 0.0
    off = (tag.height - low) / 2
    if places.turned[k]:
        return Label(tag.text[0], (x + off, y), tag.height, "middle", 90.0)
    return Label(tag.text[0], (x, y - off), tag.height, "middle")


def ink_labels(ink: Field, labels: Iterable[Label]) -> None:
    """Ink the boxes of labels that are placed already.

    Parameters
    ----------
    ink : Field
    labels : iterable of Label
    """
    for label in labels:
        ink.fill_box(label_box(label))
