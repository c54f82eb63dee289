"""Where the fill port of a pocket tank may stand: wherever its bore meets the tank."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geom.frame import EDGES
from layouts.ground import survey_panel
from layouts.panel import Panel, Port
from layouts.place import Placement
from layouts.replan.pinned import find_pinned
from layouts.tank import find_fill


def list_fill_mouths(panel: Panel, placement: Placement, port: Port) -> np.ndarray:
    """Return where the fill port may stand with the tank where it is.

    Parameters
    ----------
    panel : Panel
    placement : Placement
        Of tank and pump now.
    port : Port
        The panel's fill port.

    Returns
    -------
    (n, 2) float
        Where its axis leaves the panel, [mm].
    """
    ground = survey_panel(panel)
    x, y = ground.grid.xy()
    if port.on in EDGES:
        count = ground.grid.columns if port.on in ("top", "bottom") else ground.grid.rows
        along = np.arange(count) * ground.grid.pitch
        places = [(float(at), float(at)) for at in along]
    else:
        places = list(zip(x.tolist(), y.tolist(), strict=True))
    found = []
    assert placement.box is not None
    for at in places:
        fixed = replace(port, at=at, within=None, between=None)
        changed = replace(panel, tank=replace(panel.tank, fill=fixed))
        bore = find_fill(changed, placement.box)
        if bore is not None and find_pinned(replace(ground, panel=changed)).off_fill(placement.box):
            found.append(bore.mouth)
    return np.array(found).reshape(-1, 2)
