"""How far a cover may lift off its cord, and what share of its plastic's strength is left."""

from __future__ import annotations

from geom.standards.tables import Cord, Material
from layouts.strength.results import CoverCase

BOW_SHARE = 0.25
"""Share of the cord's squeeze margin that a bowing cover may take: a quarter, as in fastener spacing for gasketed
covers. For every cord of the table it is at least the 0.05 mm that the screws' spacing reckons with."""

LEAST_LEFT = 0.10
"""Squeeze under which a cord weeps at low pressure, over its section, [-]: published compression guide of an O-ring
supplier, https://oringsupplyco.com/blog/o-ring-compression-rate-guide/. New grooves are held to 15 % and more."""


CRAZING = 0.5
"""Share of a plastic's lasting allowable stress that is left near screws, or with a coolant that attacks it: design
stress tables for acrylic sheet; for other plastics common practice, no source."""


def crazes(material: Material, fluid: str) -> bool:
    """Return whether a coolant's glycol attacks a material under stress."""
    return "glycol" in fluid and "glycol" in material.attacked_by


def squeeze_margin(cord: Cord) -> float:
    """Return by how much the thinnest cord is squeezed in the deepest groove, [mm]."""
    return cord.section - cord.tolerance - (cord.groove_depth + cord.groove_depth_tolerance)


def bow_limits(cord: Cord) -> tuple[float, float]:
    """Return how far a cover may lift off a cord before it is a caution, and before it is a fault, [mm].

    Parameters
    ----------
    cord : Cord

    Returns
    -------
    (float, float)
        A quarter of the squeeze margin, and what leaves the thinnest cord in the deepest groove no more than the
        squeeze that still seals. Both limits count the worst tolerances, so that the lift is the only thing left
        that takes squeeze away.
    """
    margin = squeeze_margin(cord)
    thin = cord.section - cord.tolerance
    return BOW_SHARE * margin, margin - LEAST_LEFT * thin


def stress_limits(cover: Material, case: CoverCase) -> tuple[float, float]:
    """Return the stress of a cover before it is a caution, and before it is a fault, [MPa]; both one in a test.

    Parameters
    ----------
    cover : Material
        That of the cover.
    case : CoverCase
    """
    lasting = cover.kind == "plastic" and case.name == "working"
    return case.allowable_mpa * (CRAZING if lasting else 1.0), case.allowable_mpa
