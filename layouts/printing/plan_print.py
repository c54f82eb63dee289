"""How a printed panel is printed: pose, roofs, split."""

from __future__ import annotations

from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.printed import Pose, Printed


def plan_print(panel: Panel, routed: Routed) -> Printed | None:
    """Return how a printed panel is printed; None for a milled one.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    Printed or None
    """
    if panel.make.method != "printed":
        return None
    return Printed(Pose("on its back", "back", (0.0, 0.0, 1.0)))
