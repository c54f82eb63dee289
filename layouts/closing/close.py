"""Everything between body and covers: cords and their grooves, and the screws that hold them down."""

from __future__ import annotations

from layouts.clearance import Clearances
from layouts.closing.cords import seal_panel
from layouts.closing.screws import place_screws
from layouts.panel import Panel
from layouts.plan import Routed, Sealed


def close_panel(panel: Panel, routed: Routed, clearances: Clearances) -> Sealed:
    """Return the cords round all that is wet, and the screws of each cover.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances

    Returns
    -------
    Sealed
    """
    loops = seal_panel(panel, routed, clearances)
    screws = place_screws(panel, routed, loops, clearances)
    if panel.channel.layers == 1:
        return Sealed(loops, screws)
    return Sealed(loops, screws, place_screws(panel, routed, loops, clearances, "front", screws))
