"""Whether a box fits the printer."""

from __future__ import annotations

from geom.frame import Face
from layouts.panel import Panel
from layouts.printing.printed import Vec
from layouts.printing.tried import fits_room


def fits_printer(sides: Vec, room: Vec, lies_on: Face | None) -> bool:
    """Return whether a box fits the printer in some pose, turned in plan by quarter turns.

    Parameters
    ----------
    sides : (float, float, float)
        Width, height and thickness as the panel stands, [mm].
    room : (float, float, float)
        The printer's travel, the last one upwards, [mm].
    lies_on : Face or None
        The face on the bed; None: any.
    """
    upward = {None: (0, 1, 2), "front": (2,), "back": (2,), "top": (1,), "bottom": (1,)}.get(lies_on, (0,))
    for axis in upward:
        short, long = sorted(side for k, side in enumerate(sides) if k != axis)
        if fits_room((long, short), sides[axis], room):
            return True
    return False


def fits_whole(panel: Panel) -> bool:
    """Return whether a printed panel fits the printer in one piece; so it does where the file names no room.

    Parameters
    ----------
    panel : Panel
    """
    if panel.make.room is None:
        return True
    sides = (panel.width, panel.height, max(panel.make.body, panel.make.cover))
    return fits_printer(sides, panel.make.room, panel.printing.lies_on)
