"""Everything between body and covers: cords and their grooves, and the screws that hold them down."""

from __future__ import annotations

from layouts.clearance import Clearances
from layouts.closing.bond import bond_lands
from layouts.closing.cords import seal_panel
from layouts.closing.post_cords import post_loops
from layouts.closing.screws import place_screws
from layouts.panel import Panel
from layouts.plan import Routed, Sealed


def close_panel(panel: Panel, routed: Routed, clearances: Clearances) -> Sealed:
    """Return the cords round all that is wet and the screws of each cover, or the lands of a bonded one.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances

    Returns
    -------
    Sealed
    """
    if panel.make.closing == "bonded":
        return Sealed((), (), lands=bond_lands(panel, routed))
    loops = (*seal_panel(panel, routed, clearances), *post_loops(panel, routed, clearances))
    back = place_screws(panel, routed, loops, clearances, fixed=routed.tank.posts)
    covers = [back]
    if panel.channel.layers == 2:
        covers.append(place_screws(panel, routed, loops, clearances, "front", back.screws))
    front = covers[1].screws if len(covers) == 2 else ()
    coverage = tuple(cover.coverage for cover in covers if cover.coverage is not None)
    return Sealed(loops, back.screws, front, coverage)
