"""How long a panel prints: an estimate from what the process lays down in a second."""

from __future__ import annotations

from dataclasses import dataclass

from layouts.panel import Panel
from layouts.printing.printed import Vec
from layouts.printing.process import process_of

LINE_MM_S = 60.0
"""Speed at which lines of filament are laid, travel and turning counted in, [mm/s]; common practice, no source."""

LAYER_S = 10.0
"""Time for one layer of resin, lifting counted in, [s]; common practice, no source."""

BAND = 0.5
"""The estimate may be off by this share to either side, [-]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class PrintTime:
    """An estimate, [h], its relative band, [-], and what it stands on, a sentence each."""

    hours: float
    band: float
    assumptions: tuple[str, ...]


def estimate_print(panel: Panel, volume_mm3: float, up: Vec) -> PrintTime:
    """Return how long a panel prints.

    Parameters
    ----------
    panel : Panel
    volume_mm3 : float
        Of all its parts, [mm3]: filament is laid solid, for the walls have to be tight.
    up : (float, float, float)
        Unit vector of the layers' growth, in the panel frame.

    Returns
    -------
    PrintTime
    """
    process = process_of(panel)
    within = f"the time is an estimate within {100 * BAND:.0f} %"
    if process.name == "resin":
        sizes = (panel.width, panel.height, panel.make.body + panel.make.cover)
        height = sum(abs(u) * size for u, size in zip(up, sizes, strict=True))
        return PrintTime(
            height / process.layer * LAYER_S / 3600,
            BAND,
            (
                f"resin: {LAYER_S:g} s for each layer of {process.layer:g} mm, {height:.0f} mm high; all parts at once",
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
