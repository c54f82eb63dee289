"""What is measured of a part in one pose: plain values."""

from __future__ import annotations

from dataclasses import dataclass

from geom.frame import Vec

ROUND_MM = 0.05
"""A roof as wide as the limit is no wider: what its largest circle is off."""


@dataclass(frozen=True, slots=True)
class Roof:
    """A patch of surface that hangs too flat over nothing.

    Parameters
    ----------
    at : (float, float, float)
        Its middle, on the surface, in the part's own frame, [mm].
    span : float
        What has to be bridged: twice the radius of the largest circle that its plan holds, [mm].
    area : float
        [mm2]
    inside : bool
        Whether it closes a wet space, from which no support can be taken out.
    carried : bool
        Whether lines along its free rims end on walls at both ends within a bridge: else its rim hangs.
    over_bed : bool
        Whether support under its middle stands on the bed; else on the part itself. Told where it needs support.
    """

    at: Vec
    span: float
    area: float
    inside: bool
    carried: bool = True
    over_bed: bool = True

    def needs_support(self, bridge: float) -> bool:
        """Return whether it lies outside and is wider than `bridge`, [mm], or hangs at a free rim."""
        return not self.inside and (is_wide(self.span, bridge) or not self.carried)


@dataclass(frozen=True, slots=True)
class PoseMeasure:
    """What one pose asks of the printer.

    Parameters
    ----------
    up : (float, float, float)
        Unit vector of the layers' growth in the part's frame.
    height : float
        [mm]; in the poses that are tried, as it is printed, before it shrinks.
    footprint : (float, float)
        Sides of the smallest upright box round it on the bed, long and short, [mm]; as the height.
    bed_mm2 : float
        Area that lies on the bed, [mm2].
    roofs : tuple of Roof
        Widest first; those that the bed carries are none.
    islands : tuple of (float, float, float)
        Places where a layer starts in the air, in the part's frame, [mm].
    support_mm2 : float
        Area outside of the wet space that needs support, [mm2].
    stands : bool
        Whether its centre of mass lies over what lies on the bed; else it tips without support.
    """

    up: Vec
    height: float
    footprint: tuple[float, float]
    bed_mm2: float
    roofs: tuple[Roof, ...]
    islands: tuple[Vec, ...]
    support_mm2: float
    stands: bool = True


def is_wide(span: float, bridge: float) -> bool:
    """Return whether a roof is wider than the widest that prints without support, both in [mm]."""
    return span > bridge + ROUND_MM
