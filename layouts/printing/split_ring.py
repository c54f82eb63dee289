"""The ring of cord round each channel that passes a split: a face seal in a groove of the joint."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.standards import tables
from layouts.closing.gland import closed_cut_length, greatest_line_load
from layouts.panel import Panel
from layouts.printing.printed import ChannelRoof, Crossing, Split

THICKEST_CORD = 2.5
"""Thickest cord that is taken, [mm]: a thicker one only pushes the joint further apart."""


@dataclass(frozen=True, slots=True)
class Ring:
    """Cord section, inner and outer radius and depth of the groove, [mm]."""

    cord: float
    inner: float
    outer: float
    depth: float


def deepest_groove() -> float:
    """Return the depth of the groove of the thickest cord that is taken, [mm]."""
    return max(tables.cord(section).groove_depth for section in _sections())


def _sections() -> tuple[float, ...]:
    return tuple(section for section in tables.cord_sections() if section <= THICKEST_CORD + SAME_MM)


def find_ring(
    panel: Panel, crossings: tuple[Crossing, ...], roofs: tuple[ChannelRoof, ...] = ()
) -> Ring | str:
    """Return the ring that goes round every crossing, of the thickest cord for which the body has room.

    A land as wide as the least wall stays between the corners of the widest channel and the groove, and the least
    wall outside it: the pressure presses the cord against that side.

    Parameters
    ----------
    panel : Panel
    crossings : tuple of Crossing
    roofs : tuple of ChannelRoof

    Returns
    -------
    Ring or str
        Or what the body lacks.
    """
    wall, half = panel.rules.least_wall, panel.make.body / 2
    higher = {roof.channel: roof.higher for roof in roofs}
    corners = [
        max(math.hypot(one.width / 2, one.depth / 2), one.depth / 2 + higher.get(one.channel, 0.0))
        for one in crossings
    ]
    reach = max(corners)
    rows = [tables.cord(section) for section in _sections()]
    for row in reversed(rows):
        inner = _up(reach + wall)
        outer = inner + row.groove_width
        if outer + wall <= half + SAME_MM:
            return Ring(row.section, inner, outer, row.groove_depth)
    widest = crossings[corners.index(reach)]
    least = 2 * (reach + 2 * wall + rows[0].groove_width)
    return (
        f"a ring of {rows[0].section:g} mm cord round channel {widest.channel} needs a body of {_up(least):g} mm, "
        f"the body is {panel.make.body:g} mm"
    )


def _up(length: float) -> float:
    return math.ceil(10 * length - SAME_MM) / 10


def ring_load(pressure_mpa: float, ring: Ring) -> tuple[float, float]:
    """Return what pushes the pieces apart at one ring, pressure and cord, [N].

    Parameters
    ----------
    pressure_mpa : float
        [MPa]; it acts on all inside the groove's outer side.
    ring : Ring

    Source
    ------
    Hydrostatics: pressure times area; the cord: `greatest_line_load` times the length of the groove's middle.
    """
    pushed = pressure_mpa * math.pi * ring.outer**2
    return pushed, greatest_line_load(tables.cord(ring.cord)) * 2 * math.pi * (ring.inner + ring.outer) / 2


def ring_cut_length(split: Split) -> tuple[float, float]:
    """Return the least and greatest length to which each ring's cord is cut, for a square butt joint, [mm].

    Parameters
    ----------
    split : Split
    """
    middle = math.pi * (split.ring_inner + split.ring_outer) / 2
    return closed_cut_length(middle, tables.cord(split.cord))
