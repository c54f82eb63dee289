"""Design rule of hollows that liquid resin is sucked in while a part grows."""

from __future__ import annotations

from geom.findings import Finding
from geom.standards.processes import find_process
from geom.units import show_number
from layouts.file.offers import offer_changes
from layouts.printing.process import process_of
from layouts.printing.tried import WEIGHTY, PartPoses, pose_rank
from layouts.rules.findings import make_finding
from layouts.rules.laying import Laying

CUP_AREA, CUP_DEPTH = 100.0, 3.0
"""Hollows narrower, [mm2], or shallower, [mm], than this suck too little to matter; common practice, no source."""


def check_cups(laying: Laying, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether liquid resin is sucked in a hollow at each peel (`print.drain`): the widest of a part.

    Parameters
    ----------
    laying : Laying
    part : PartPoses
    """
    if not part.made.cups:
        return ()
    bridge = process_of(laying.panel).bridge
    cup, now = part.made.cups[0], pose_rank(part.made, bridge)
    # The best that shuts off fewer, and neither leaves wider roofs inside nor outgrows the printer for it.
    better = (one for one in part.tried if len(one.cups) < len(part.made.cups))
    best = next((one for one in better if pose_rank(one, bridge)[:WEIGHTY] <= now[:WEIGHTY]), None)
    laid = None if best is None else laying.cure(part.part, best)
    more = f", and {len(part.made.cups) - 1} more" if len(part.made.cups) > 1 else ""
    vented = (
        f"add a hole of {find_process('resin').drain_bore:g} mm to it in the slicer where it is deepest, "
        "turn the part until the resin has run out, and plug the hole: no key of this file makes one"
    )
    return (
        make_finding(
            "print.drain",
            "caution",
            f"printed {part.made.pose.name}, a hollow of {show_number(cup.area, 3)} mm2 in the {part.part} is shut "
            f"off by {'the bed' if cup.on_bed else 'its own floor'} over {show_number(cup.depth, 3)} mm of "
            f"height{more}: each peel sucks at it",
            vented if laid is None else f"{laid.text}, or {vented}",
            cup.area,
            CUP_AREA,
            "mm2",
            cup.at,
            (part.part,),
            () if laid is None else offer_changes(laying.panel, laid),
        ),
    )
