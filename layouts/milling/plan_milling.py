"""How the milled parts of a panel are cut: set-ups, the cutters for each pocket, the cutter list with its time."""

from __future__ import annotations

from dataclasses import replace

from geom.features import Detail
from layouts.faces import material_of
from layouts.milling.cutter_list import list_jobs
from layouts.milling.cutters import choose_cutters
from layouts.milling.cutting_data import SPINDLE_RPM, cutting_data
from layouts.milling.frame import plane_of
from layouts.milling.pockets import open_pockets
from layouts.milling.roughing import drop_roughing
from layouts.milling.setups import list_setups
from layouts.milling.work import Cutting, Milled, Rest
from layouts.panel import Panel
from layouts.printing.process import is_printed


def plan_milling(panel: Panel, detail: Detail) -> Milled | None:
    """Return how the milled parts of a panel are cut: all of a milled one, a printed one's covers of sheet.

    Parameters
    ----------
    panel : Panel
    detail : Detail

    Returns
    -------
    Milled or None
        None where all parts are printed.
    """
    sheets = tuple(blank for blank in detail.blanks if not is_printed(panel, blank.name))
    if not sheets:
        return None
    setups = list_setups(panel, replace(detail, blanks=sheets))
    blanks = {blank.name: blank for blank in sheets}
    most = panel.milling.speed_rpm or SPINDLE_RPM
    cuttings: list[Cutting] = []
    rests: list[Rest] = []
    for setup in setups:
        if not setup.pockets:
            continue
        chosen = [
            choose_cutters(panel, space)
            for space in open_pockets(setup, plane_of(blanks[setup.part], setup.face), setups)
        ]
        data = cutting_data(material_of(panel, setup.part))
        cuttings += drop_roughing(setup, tuple(choice.cutting for choice in chosen), data, most)
        for choice in chosen:
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
        listed.stocks,
    )
