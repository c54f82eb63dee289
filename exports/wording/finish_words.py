"""How joint faces and edges are to be finished: flat over all and, for the cord, between screws; edges broken."""

from __future__ import annotations

from collections.abc import Sequence

from exports.wording.figures import show_mm
from geom.frame import SAME_MM
from layouts.drawing_choice import EDGES_BROKEN
from layouts.plan import Layer, Plan
from layouts.tolerances.seal import worst_seals


def show_edges() -> str:
    """Return between which sizes edges are broken, [mm]: "0.2 to 0.5"."""
    return " to ".join(show_mm(size) for size in EDGES_BROKEN)


def tell_flatness(plan: Plan, layers: Sequence[Layer]) -> str:
    """Return how flat the faces of joints are to be: "within 0.1 mm over all and 0.02 mm between neighbouring screws".

    Parameters
    ----------
    plan : Plan
    layers : sequence of {"back", "front"}
        The joints; of several the number that suits all.
    """
    over_all = plan.panel.drawing.flatness
    said = f"within {show_mm(over_all)} mm"
    local = [seal.flat_limit for seal in worst_seals(plan.panel, plan.sealed) if seal.layer in layers]
    least = min(local, default=0.0)
    if least <= 0.0 or least > over_all - SAME_MM:
        return said
    return f"{said} over all and {least:g} mm between neighbouring screws"
