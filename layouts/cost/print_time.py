"""How long a panel prints: an estimate from what the process lays down in a second."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from geom.features import Blank
from geom.frame import Vec
from geom.outline import loop_polygon
from layouts.faces import COVERS
from layouts.panel import Panel
from layouts.printing.process import process_of

LINE_MM_S = 60.0
"""Speed at which lines of filament are laid, travel and turning counted in, [mm/s]; common practice, no source."""

LAYER_S = 10.0
"""Time for one layer of resin, lifting counted in, [s]; common practice, no source."""

FLAT: Vec = (0.0, 0.0, 1.0)
"""How covers lie in the print."""

BAND = 0.5
"""The estimate may be off by this share to either side, [-]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class PrintTime:
    """An estimate, [h], its relative band, [-], and what it stands on, a sentence each."""

    hours: float
    band: float
    assumptions: tuple[str, ...]


def estimate_print(panel: Panel, parts: Sequence[Blank], volume_mm3: float, up: Vec) -> PrintTime:
    """Return how long a panel prints.

    Parameters
    ----------
    panel : Panel
    parts : sequence of Blank
        Those that are printed, [mm].
    volume_mm3 : float
        Of all of them, [mm3]: filament is laid solid, for the walls have to be tight.
    up : (float, float, float)
        Unit vector of the layers' growth, in the panel frame; covers lie on their joint face.

    Returns
    -------
    PrintTime
    """
    process = process_of(panel)
    within = f"the time of printing is an estimate within {100 * BAND:.0f} %"
    if process.name == "resin":
        heights = [_stand(part, FLAT if part.name in COVERS else up) for part in parts]
        split = any(part.name.startswith("panel ") for part in parts)
        # The pieces of a split panel do not fit into the printer together.
        height = sum(heights) if split else max(heights, default=0.0)
        how = "each piece by itself" if split else "all parts at once"
        return PrintTime(
            height / process.layer * LAYER_S / 3600,
            BAND,
            (
                f"resin: {LAYER_S:g} s for each layer of {process.layer:g} mm, {height:.0f} mm high; {how}",
                within,
            ),
        )
    rate = process.line_width * process.layer * LINE_MM_S
    return PrintTime(
        volume_mm3 / rate / 3600,
        BAND,
        (
            f"filament: lines of {process.line_width:g} x {process.layer:g} mm at {LINE_MM_S:g} mm/s lay {rate:.2g} "
            "mm3/s; printed solid, without support",
            within,
        ),
    )


def _stand(part: Blank, up: Vec) -> float:
    """Return how high the box round a part stands, [mm]."""
    x0, y0, x1, y1 = loop_polygon(part.loop).bounds
    sizes = (x1 - x0, y1 - y0, part.z1 - part.z0)
    return float(sum(abs(u) * size for u, size in zip(up, sizes, strict=True)))
