"""What bleed and drain ports that are there clear of what would stay without them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geom.wet.voxels import WetVoxels
from layouts.detail import name_port
from layouts.filling.left import Found
from layouts.filling.openings import open_drains
from layouts.filling.service.standing import PortKind, find_pockets
from layouts.filling.values import Opening
from layouts.panel import Panel
from layouts.plan import PlacedPort


def measure_built(
    panel: Panel,
    voxels: WetVoxels,
    openings: Sequence[Opening],
    port: PlacedPort,
    kind: PortKind,
    found: Found,
) -> float:
    """Return what a port that is there clears: what would stay besides if it were shut, but for its bore, [mm3].

    Were the only drain shut, all of it would stay: hoses are taken off only where there is none.

    Parameters
    ----------
    panel, voxels, openings, port
        As `propose_ports` of `layouts.filling.service.proposals`.
    kind : {"bleed", "drain"}
        What it clears: "bleed" air.
    found : Found
        The pockets of that kind.
    """
    others = [opening for opening in openings if opening.name != port.name]
    if port.role == "drain" and not any(opening.kind == "drain" for opening in others):
        stays = np.ones(voxels.count, bool)
    else:
        stays = find_pockets(panel, voxels, others, kind).number >= 0
    bore = voxels.owned_by((name_port(port),))
    more = np.count_nonzero(stays & ~bore) - np.count_nonzero(found.number >= 0)
    return max(0.0, float(more) * voxels.spacing**3)


def measure_opened(
    panel: Panel, voxels: WetVoxels, openings: Sequence[Opening], port: PlacedPort, air: Found
) -> float:
    """Return how much air a drain that is there lets out, once its plug is opened while the panel is filled, [mm3].

    Parameters
    ----------
    panel, voxels, openings, port
        As `propose_ports` of `layouts.filling.service.proposals`.
    air : Found
    """
    pairs = zip(open_drains(openings), openings, strict=True)
    opened = [new if old.name == port.name else old for new, old in pairs]
    if not any((air.number[one.voxels] >= 0).any() for one in openings if one.name == port.name):
        return 0.0
    then = find_pockets(panel, voxels, opened, "bleed")
    less = np.count_nonzero(air.number >= 0) - np.count_nonzero(then.number >= 0)
    return max(0.0, float(less) * voxels.spacing**3)
