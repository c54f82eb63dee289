"""How far apart the screws of a cover may be, and which cover would let them stand farther apart."""

from __future__ import annotations

import math
from dataclasses import replace

from geom.frame import ROUNDING, SAME_MM
from geom.standards import tables
from layouts.clearance import widest_section
from layouts.closing.gland import greatest_line_load
from layouts.faces import groove_depth
from layouts.panel import Panel
from layouts.plan import Layer, SpacingLimit

COVER_SAG = 0.05
"""How far the cover may lift between two screws, [mm]: a quarter of the squeeze margin or less."""

SHARE = 0.8
"""Share of the computed spacing that is used; common practice, no source."""

MOST_DIAMETERS, MOST_THICKNESSES = 10, 8
"""Greatest spacing in screw diameters, and in thicknesses of a plastic cover."""

LEAST_DIAMETERS = 4
"""The closest spacing that is asked for, in screw diameters: 2.5 are the least of all, and closer rows of holes weaken
a cover; common practice, no source."""

LIMIT_WORDS: dict[SpacingLimit, str] = {
    "stiffness": "the stiffness of cover and body",
    "diameters": f"{MOST_DIAMETERS} screw diameters between two screws",
    "thicknesses": f"{MOST_THICKNESSES} cover thicknesses between two screws",
    "file": "screw_spacing in [make]",
}
"""What sets the spacing, as it is told everywhere: "... mm are allowed by"."""

COVER_STEP, THICKEST = 0.5, 40.0
"""Step and end of the cover thicknesses that are tried, [mm]; what is advised is a whole multiple of the step."""

METAL_COVER = "aluminium 6082-T6"
"""The metal that is proposed for a plastic cover that bends too far."""


def round_up(thickness: float) -> float:
    """Return a thickness rounded up to one that is advised, [mm]."""
    return COVER_STEP * math.ceil(thickness / COVER_STEP - ROUNDING)


def beam_spacing(
    young_mpa: float, strip: float, thickness: float, load_n_mm: float, sag: float = COVER_SAG
) -> float:
    """Return the screw spacing at which a strip of cover lifts by `sag` between two screws, [mm].

    Parameters
    ----------
    young_mpa : float
        [MPa].
    strip, thickness : float
        Width of the strip that bends, its thickness, [mm].
    load_n_mm : float
        Line load, [N/mm].
    sag : float
        [mm].

    Source
    ------
    Beam clamped at both ends: sag = q C^4 / (384 E I) with I = a t^3 / 12.
    """
    return float((32 * young_mpa * strip * thickness**3 * sag / load_n_mm) ** 0.25)


def limit_spacing(panel: Panel, layer: Layer = "back") -> tuple[float, SpacingLimit]:
    """Return the greatest distance between neighbouring cover screws along a cord, and what sets it.

    The strip that bends is the groove's width and one cover thickness to each side. It carries the cord at
    its largest squeeze and half of the test pressure on the widest wet span. Under it a strip of the body, as thick
    as the groove leaves it, bends the other way; both with the modulus that years at the file's temperature leave.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.
    layer : {"back", "front"}
        Whose joint the cover closes; the tank opens into the back one only.

    Returns
    -------
    spacing : float
        [mm]
    limit : {"stiffness", "diameters", "thicknesses", "file"}
        The stiffness of cover and body, 10 screw diameters, 8 thicknesses of a plastic cover, or what the file asks
        for.

    Source
    ------
    Clamped beam C = (32 E a t3 delta/q)^(1/4), as in fastener spacing for gasketed covers, times 0.8; at most 10
    screw diameters, and 8 cover thicknesses in plastics: common practice, no source.
    """
    cord = tables.cord(panel.make.cord)
    screw = tables.screw(panel.make.screw)
    plate = tables.material(panel.make.cover_row)
    thickness = panel.make.cover
    pocket = min(panel.tank.size) if panel.tank.size is not None and layer == "back" else 0.0
    span = max(widest_section(panel), pocket)
    pressure_mpa = panel.rules.test_pressure_pa * 1e-6
    load = greatest_line_load(cord) + pressure_mpa * span / 2
    strip = cord.groove_width + 2 * thickness
    young_mpa = _join_stiffness(panel) / thickness**3
    limits: list[tuple[float, SpacingLimit]] = [
        (SHARE * beam_spacing(young_mpa, strip, thickness, load), "stiffness"),
        (MOST_DIAMETERS * screw.diameter, "diameters"),
    ]
    if plate.kind == "plastic":
        limits.append((MOST_THICKNESSES * thickness, "thicknesses"))
    if panel.make.screw_spacing is not None:
        limits.append((panel.make.screw_spacing, "file"))
    return min(limits, key=lambda row: row[0])


def _join_stiffness(panel: Panel) -> float:
    """Return E t^3 of cover and body in a row, [N mm]: what each bows adds up."""
    make, warm = panel.make, panel.coolant.temperature_c
    left = make.body - groove_depth(make.closing, make.cord)
    sheets = ((make.cover_row, make.cover), (make.material, left))
    soft = (1 / (tables.material(row).young_at(warm, lasting=True) * thick**3) for row, thick in sheets)
    return 1 / sum(soft)


def cover_for_spacing(panel: Panel, layer: Layer, spacing: float) -> float | None:
    """Return the least cover thickness at which screws may be `spacing` apart along a cord, [mm].

    Parameters
    ----------
    panel : Panel
    layer : {"back", "front"}
    spacing : float
        [mm]

    Returns
    -------
    float or None
        The panel's own, or a whole multiple of 0.5 mm over it; None where no cover of up to 40 mm is enough,
        as where screw diameters set the limit.
    """
    if spacing > MOST_DIAMETERS * tables.screw(panel.make.screw).diameter + SAME_MM:
        return None
    first = math.floor(panel.make.cover / COVER_STEP + ROUNDING) + 1
    steps = (COVER_STEP * k for k in range(first, int(THICKEST / COVER_STEP) + 1))
    for thickness in (panel.make.cover, *steps):
        thicker = replace(panel, make=replace(panel.make, cover=thickness))
        if limit_spacing(thicker, layer)[0] >= spacing - SAME_MM:
            return thickness
    return None
