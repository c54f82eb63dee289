"""How a milled panel is cut: its set-ups, the cutters for each pocket, the cutter list with its time."""

from __future__ import annotations

from geom.features import Detail
from layouts.milling.cutter_list import list_jobs
from layouts.milling.cutters import choose_cutters
from layouts.milling.frame import plane_of
from layouts.milling.pockets import OpenSpace
from layouts.milling.setups import list_setups
from layouts.milling.work import Cutting, Milled, Rest
from layouts.panel import Panel


def plan_milling(panel: Panel, detail: Detail) -> Milled | None:
    """Return how a milled panel is cut; None for a printed one.

    Parameters
    ----------
    panel : Panel
    detail : Detail

    Returns
    -------
    Milled or None
    """
    if panel.make.method != "milled":
        return None
    setups = list_setups(panel, detail)
    blanks = {blank.name: blank for blank in detail.blanks}
    cuttings: list[Cutting] = []
    rests: list[Rest] = []
    for setup in setups:
        if not setup.pockets:
            continue
        space = OpenSpace(setup, plane_of(blanks[setup.part], setup.face))
        for pocket in setup.pockets:
            choice = choose_cutters(panel, space, pocket)
            cuttings.append(choice.cutting)
            known = {rest.at for rest in rests}
            rests += [rest for rest in choice.rests if rest.at not in known]
    listed = list_jobs(panel, setups, tuple(cuttings))
    return Milled(
        setups,
        tuple(cuttings),
        tuple(rests),
        listed.jobs,
        listed.removed_mm3,
        listed.minutes,
        listed.assumptions,
        listed.outline_mm3,
    )
