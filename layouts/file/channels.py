"""Channels with a width of their own: that they exist, and that their width can be made."""

from __future__ import annotations

import math
from difflib import get_close_matches

from geom.frame import SAME_MM
from layouts.file.model import PanelFile
from layouts.file.positions import Path, Problems
from layouts.file.quantities import show_value
from layouts.nets import list_channel_names


def check_own_widths(file: PanelFile, problems: Problems) -> None:
    """Note every width for a channel that is none of the loop's, and every width that cannot be.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to. Names are not looked at while the loop's order stands wrong.
    """
    channel, make = file.channel, file.make
    names: tuple[str, ...] = ()
    if not any(path[0] == "loop" for path, _ in problems.found):
        names = list_channel_names(file.loop.order, file.drain is not None)
    for name, width in channel.own.items():
        where: Path = ("channel", "own", name)
        if names and name not in names:
            near = [show_value(other) for other in get_close_matches(name, names, n=1)]
            meant = f"; is {near[0]} meant?" if near else ""
            problems.add(
                where,
                f"{show_value(name)} is no channel of this panel{meant}; its channels are "
                f"{', '.join(show_value(other) for other in names)} (the feed takes its width from the pump's inlet)",
            )
        if make.cutter is not None and make.cutter > width + SAME_MM:
            problems.add(
                where,
                f"{width:g} mm is narrower than the cutter of {make.cutter:g} mm; at least {make.cutter:g} mm",
            )
        wider = (width - channel.width) / 2
        shorter = min(file.panel.size)
        if width > channel.bend_radius + SAME_MM:
            problems.add(
                where,
                f"{width:g} mm is wider than the bend radius of {channel.bend_radius:g} mm; at most that, or a "
                "greater channel.bend_radius",
            )
        elif wider > 0 and math.floor(shorter / width + SAME_MM) < 2:
            problems.add(where, f"{width:g} mm is more than half of the panel's shorter side, {shorter:g} mm")
