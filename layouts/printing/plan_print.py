"""How a printed panel is printed: pose, roofs, split."""

from __future__ import annotations

from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.poses import choose_pose
from layouts.printing.printed import Pose, Printed, Split
from layouts.printing.roof_shapes import shape_roofs
from layouts.printing.split import SplitRefused, split_print


def plan_print(panel: Panel, routed: Routed, warmest_c: float | None = None) -> Printed | None:
    """Return how a printed panel is printed; None for a milled one.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    warmest_c : float or None
        Warmest coolant that the plan knows of, [°C]; that of the file where None.

    Returns
    -------
    Printed or None
    """
    if panel.make.method != "printed":
        return None
    found = split_print(panel, routed, warmest_c)
    pose = _choose(panel, routed, found)
    tried = [pose]
    roofs = shape_roofs(panel, routed, pose)
    while found is not None and any(roof.kind != "flat" for roof in roofs):
        # Screws and rings keep off the channels with their roofs, which may move the joint, and with it the choice.
        found = split_print(panel, routed, warmest_c, Printed(pose, roofs))
        again = _choose(panel, routed, found)
        if again in tried:
            break
        pose = again
        tried.append(pose)
        roofs = shape_roofs(panel, routed, pose)
    refused = found.reason if isinstance(found, SplitRefused) else ""
    return Printed(pose, roofs, found if isinstance(found, Split) else None, refused)


def _choose(panel: Panel, routed: Routed, found: Split | SplitRefused | None) -> Pose:
    return choose_pose(panel, routed, found if isinstance(found, Split) else None)
