"""The cord in its groove: squeeze, fill, the load that presses it, and how long it is cut."""

from __future__ import annotations

import math

from geom.outline import Arc
from geom.standards.tables import Cord
from layouts.closing.turn_in import LEAST_MEET
from layouts.plan import CordLoop

LEAST_SQUEEZE, MOST_SQUEEZE = 0.15, 0.30
"""Of a cord in a static face seal, [-]; face seal housing tables. Whole percents in all, and compared as such."""

MOST_FILL = 0.85
"""Area of a cord over that of its groove, [-]; face seal housing tables."""

MOST_STRETCH = 0.03
"""How much longer its groove may be than a cord as cut, [-]; face seal housing tables."""

RUBBER_MPA = 5.52
"""Young's modulus of rubber of 70 Shore A, [MPa]: 0.0981 (56 + 7.62336 S) / (0.137505 (254 - 2.54 S)), Gent 1958."""


def squeeze_range(cord: Cord, stretch: float = 0.0) -> tuple[float, float]:
    """Return the least and greatest compression of a cord over its diameter, at the worst tolerances, [-].

    A stretched cord keeps its volume: its section shrinks with the root of its length.

    Parameters
    ----------
    cord : Cord
    stretch : float
        Length in the groove over length as cut, less 1, [-]; the thickest cord is taken unstretched.
    """
    thin = (cord.section - cord.tolerance) / math.sqrt(1 + stretch)
    thick = cord.section + cord.tolerance
    deep = cord.groove_depth + cord.groove_depth_tolerance
    return 1 - deep / thin, 1 - cord.groove_depth / thick


def greatest_fill(cord: Cord) -> float:
    """Return the area of the thickest cord over that of the smallest groove, [-]."""
    thick = cord.section + cord.tolerance
    return math.pi / 4 * thick**2 / (cord.groove_depth * cord.groove_width)


def squeezed_width(cord: Cord) -> float:
    """Return how wide a cord lies in its groove, [mm]: as deep as that, and of the area of its section."""
    return math.pi * cord.section**2 / (4 * cord.groove_depth)


def cord_line_load(section: float, squeeze: float) -> float:
    """Return the load that presses a unit length of round rubber cord, 70 Shore A, [N/mm].

    Parameters
    ----------
    section : float
        Diameter, [mm].
    squeeze : float
        Compression over diameter, [-].

    Source
    ------
    Lindley, load-compression of rubber O-rings: F/L = d E (1.25 C^1.5 + 50 C^6), recalled, not verified;
    within the published band of 0.88-3.15 N/mm for 1.78 mm, 70 Shore A, 20 %.
    """
    return section * RUBBER_MPA * (1.25 * squeeze**1.5 + 50 * squeeze**6)


def greatest_line_load(cord: Cord) -> float:
    """Return the load that presses a unit length of the thickest cord in the shallowest groove, [N/mm]."""
    return cord_line_load(cord.section + cord.tolerance, squeeze_range(cord)[1])


def most_stretch(cord: Cord) -> float:
    """Return how far a cord may be stretched into its groove, [-].

    The thinnest cord keeps the least squeeze, told in whole percents, in the deepest groove.

    Parameters
    ----------
    cord : Cord

    Returns
    -------
    float
        0 to `MOST_STRETCH`.
    """
    deep, thin = cord.groove_depth + cord.groove_depth_tolerance, cord.section - cord.tolerance
    least = LEAST_SQUEEZE - 0.005
    return min(max((thin * (1 - least) / deep) ** 2 - 1, 0.0), MOST_STRETCH)


def cut_length(loop: CordLoop, cord: Cord) -> tuple[float, float]:
    """Return the least and greatest length to which a loop's cord is cut, for a square butt joint, [mm].

    It is cut to the middle line of its groove, or shorter by what it may be stretched; a longer one buckles. One in
    an open groove is not stretched, for that would pull its joints open: it ends at the sides of the cords that it
    is butted against, which it meets at `LEAST_MEET` to a right angle.

    Parameters
    ----------
    loop : CordLoop
    cord : Cord
    """
    if not loop.closed:
        return loop.length - cord.section / math.sin(LEAST_MEET), loop.length - cord.section
    return closed_cut_length(loop.length, cord)


def closed_cut_length(length: float, cord: Cord) -> tuple[float, float]:
    """Return the least and greatest length to which a closed cord is cut, for a square butt joint, [mm].

    Parameters
    ----------
    length : float
        Of the middle line of its groove, [mm].
    cord : Cord
    """
    return length / (1 + most_stretch(cord)), length


def scarf_allowance(cord: Cord) -> float:
    """Return what a splice cut at 45 degrees takes more than a square one, [mm]: the cord's section."""
    return cord.section


def tightest_turn(loop: CordLoop) -> tuple[float, Arc] | None:
    """Return the least inner radius of a groove's turns, that of its tighter wall, and the turn of the path, [mm].

    None where it does not turn at all.
    """
    turns = [(s.radius - loop.groove_width / 2, s) for s in loop.path if isinstance(s, Arc)]
    return min(turns, key=lambda turn: turn[0], default=None)
