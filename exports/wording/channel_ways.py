"""A channel's ways from end to end across both faces of the body.

A *piece* is a leg's way in one layer, from through hole to through hole.
"""

from __future__ import annotations

import math
from itertools import pairwise

from geom.frame import SAME_MM
from geom.outline import Point
from layouts.legs import split_at_holes
from layouts.plan import Channel, Layer, Leg, Run

OTHER: dict[Layer, Layer] = {"back": "front", "front": "back"}
"""Where a through hole leads from each layer."""


def cut_leg(leg: Leg) -> tuple[Run, ...]:
    """Return a leg's pieces in order; one where it passes through no hole."""
    layers = (leg.layer, OTHER[leg.layer])
    pieces = split_at_holes(leg.points, leg.holes)
    return tuple(Run(points, layers[k % 2]) for k, points in enumerate(pieces))


def main_way(channel: Channel) -> tuple[Point, ...]:
    """Return the corners of a channel's first way from end to end, [mm], across its through holes."""
    points = channel.runs[0].points
    for run in channel.runs[1 : 1 + _count_onward(channel)]:
        points = (*points, *run.points[1:])
    return points


def list_branches(channel: Channel) -> tuple[Run, ...]:
    """Return the runs that are no part of a channel's first way from end to end."""
    return channel.runs[1 + _count_onward(channel) :]


def _count_onward(channel: Channel) -> int:
    """Return how many runs behind the first one only carry it on, each from a through hole."""
    count = 0
    for before, run in pairwise(channel.runs):
        joined = math.dist(before.points[-1], run.points[0]) < SAME_MM and before.layer != run.layer
        if not joined or all(math.dist(run.points[0], hole) > SAME_MM for hole in channel.holes):
            break
        count += 1
    return count
