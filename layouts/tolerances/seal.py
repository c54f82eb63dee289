"""The cord in its groove at its worst: by the class alone, by the groove's own tolerances, and over uneven faces."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.frame import SAME_MM
from geom.standards import tables
from geom.standards.tables import Cord
from layouts.closing.gland import LEAST_SQUEEZE, MOST_FILL, MOST_SQUEEZE
from layouts.panel import Panel
from layouts.plan import Layer, Sealed
from layouts.tolerances.classes import flatness_over, form_class, length_tolerance

ROUNDED = 0.005
"""Squeezes are judged in whole percents, as everywhere."""


@dataclass(frozen=True, slots=True)
class WorstSeal:
    """The cord of one joint at its worst; squeezes and fills over 1, [-].

    Parameters
    ----------
    layer : {"back", "front"}
    by_class : (float, float)
        Least and greatest squeeze with groove depth under the class alone, faces flat.
    fill_by_class : float
        Greatest fill with groove depth and width under the class alone.
    squeeze : (float, float)
        With the groove's own tolerances and the faces off flat as the file's class of form lets them.
    fill : float
        With the groove's own tolerances.
    called_out : bool
        Whether the groove's own tolerances must stand in the drawing, for the class alone does not do.
    span : float
        Over which the faces are looked at: the distance between screws, [mm].
    off_flat : float
        What each face may be off flat over it, [mm]; 0 without a class of form.
    most_off : float
        What each may be off flat at most for the least squeeze, [mm]; 0 where there is nothing left for it.
    """

    layer: Layer
    by_class: tuple[float, float]
    fill_by_class: float
    squeeze: tuple[float, float]
    fill: float
    called_out: bool
    span: float
    off_flat: float
    most_off: float

    @property
    def flat_limit(self) -> float:
        """What a drawing lets each face be off flat between screws, [mm]: thousandths, never more than it may be."""
        return math.floor(self.most_off * 1000 + SAME_MM) / 1000


def call_out_groove(cord: Cord) -> str:
    """Return what a drawing says of a cord's groove: "1.5 mm deep (+0.1/0) and 2.8 mm wide (+0.2/0)"."""
    depth, width = cord.groove_depth, cord.groove_width
    deeper, wider = cord.groove_depth_tolerance, cord.groove_width_tolerance
    return f"{depth:g} mm deep (+{deeper:g}/0) and {width:g} mm wide (+{wider:g}/0)"


def squeeze_between(cord: Cord, shallow: float, deep: float, gap: float = 0.0) -> tuple[float, float]:
    """Return the least and greatest compression of a cord over its diameter, [-].

    Parameters
    ----------
    cord : Cord
        With its tolerance.
    shallow, deep : float
        Depths between which its groove lies, [mm].
    gap : float
        Between both faces of the joint beside the deep groove, [mm].
    """
    thin, thick = cord.section - cord.tolerance, cord.section + cord.tolerance
    return 1 - (deep + gap) / thin, 1 - shallow / thick


def fill_of(cord: Cord, depth: float, width: float) -> float:
    """Return the area of the thickest cord over that of a groove of that depth and width, [-]."""
    return math.pi / 4 * (cord.section + cord.tolerance) ** 2 / (depth * width)


def worst_seals(panel: Panel, sealed: Sealed) -> tuple[WorstSeal, ...]:
    """Return the cord of each joint at its worst, [mm]; empty without a cord.

    Parameters
    ----------
    panel : Panel
    sealed : Sealed
    """
    if panel.make.closing != "cord":
        return ()
    cord = tables.cord(panel.make.cord)
    depth, width = cord.groove_depth, cord.groove_width
    off, wide = length_tolerance(panel, depth), length_tolerance(panel, width)
    by_class = squeeze_between(cord, depth - off, depth + off)
    fill_by_class = fill_of(cord, depth - off, width - wide)
    deep = depth + cord.groove_depth_tolerance
    own = squeeze_between(cord, depth, deep)
    # A cord whose groove's own tolerances do not do is told by its own rule: here they are what there is.
    called_out = not is_squeezed(by_class) or fill_by_class > MOST_FILL
    thin = cord.section - cord.tolerance
    most_off = max(0.0, (thin * (1 - min(LEAST_SQUEEZE - ROUNDED, own[0])) - deep) / 2)
    found = []
    for coverage in sealed.coverage:
        flat = flatness_over(panel, coverage.spacing) if form_class(panel) else 0.0
        found.append(
            WorstSeal(
                coverage.layer,
                by_class,
                fill_by_class,
                squeeze_between(cord, depth, deep, 2 * flat),
                fill_of(cord, depth, width),
                called_out,
                coverage.spacing,
                flat,
                most_off,
            )
        )
    return tuple(found)


def is_squeezed(squeeze: tuple[float, float]) -> bool:
    """Return whether a least and a greatest squeeze, [-], lie within the limits, in whole percents."""
    return round(squeeze[0], 2) >= LEAST_SQUEEZE and round(squeeze[1], 2) <= MOST_SQUEEZE
