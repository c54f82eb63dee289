"""What both orders for the bench share: to fill and bleed, and to drain."""

from __future__ import annotations

from collections.abc import Sequence

from geom.units import ml, show_ml
from geom.words import join_names
from layouts.filling.pocket_limits import NOTHING_ML
from layouts.filling.pockets_told import name_holders
from layouts.filling.values import Pocket


def name_places(pockets: Sequence[Pocket]) -> str:
    """Return what holds pockets, as findings name it; of several only that at each one's highest or lowest place."""
    if len(pockets) == 1:
        return name_holders(pockets[0].features)
    return name_holders([name for pocket in pockets for name in pocket.features[:1]])


def name_ports(names: Sequence[str]) -> str:
    """Return the names of ports in quotes: '"drain" and "drain 2"'."""
    return join_names(tuple(f'"{name}"' for name in names))


def show_left(volume_mm3: float) -> str:
    """Return what stays, or comes: "nothing", "5.9 mL"."""
    return "nothing" if ml(volume_mm3) < NOTHING_ML else f"{show_ml(ml(volume_mm3))} mL"
