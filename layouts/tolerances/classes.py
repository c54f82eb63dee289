"""The file's class of general tolerances, and what it lets a dimension be off.

For printed panels the class stands for what the printer holds.
"""

from __future__ import annotations

from geom.standards import tolerances
from layouts.panel import Panel

LEAST_LENGTH = 0.5
"""The standard's table starts here, [mm]; below it the dimension wants a tolerance of its own. Taken as this."""

LEAST_COARSE = 3.0
"""Class v has no value up to here, [mm]: a shorter length is taken as the next range."""

MOST_FINE = 2000.0
"""Class f ends here, [mm]: a longer one is taken as this."""

JUST_OVER = 1e-6
"""[mm]"""


def linear_class(panel: Panel) -> str:
    """Return the panel's class of ISO 2768-1: "m"."""
    return panel.make.tolerance[0]


def form_class(panel: Panel) -> str | None:
    """Return the panel's class of ISO 2768-2, "K"; None where the file gives none."""
    return panel.make.tolerance[1:] or None


def length_tolerance(panel: Panel, nominal: float) -> float:
    """Return what a length may be off to either side, [mm]; one beside the class's table as its nearest range.

    Parameters
    ----------
    panel : Panel
    nominal : float
        [mm]
    """
    grade = linear_class(panel)
    low = LEAST_COARSE + JUST_OVER if grade == "v" else LEAST_LENGTH
    high = MOST_FINE if grade == "f" else 2 * MOST_FINE
    return tolerances.linear_tolerance(grade, min(max(nominal, low), high))


def corner_tolerance(panel: Panel, radius: float) -> float:
    """Return what an outer radius may be off to either side, [mm]; 0 where the corner is sharp.

    Parameters
    ----------
    panel : Panel
    radius : float
        [mm]
    """
    return tolerances.radius_tolerance(linear_class(panel), max(radius, LEAST_LENGTH)) if radius > 0 else 0.0


def flatness_over(panel: Panel, length: float) -> float:
    """Return how far a face may be off flat over a length, [mm]; 0 where the file gives no class for it.

    The standard goes by the longer side of the face. Screws pull the sheets together, so that only what lies between
    two of them opens the joint: the class is taken over the distance between screws.

    Parameters
    ----------
    panel : Panel
    length : float
        [mm]
    """
    grade = form_class(panel)
    return 0.0 if grade is None else tolerances.flatness(grade, length)
