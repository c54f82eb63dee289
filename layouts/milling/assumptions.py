"""What the time of the cutter list stands on, in sentences."""

from __future__ import annotations

from geom.units import show_number
from geom.words import join_names
from layouts.faces import material_of
from layouts.milling import cut_times
from layouts.milling.cutting_data import PRESS_RPM, SPINDLE_RPM, TAP_RPM, cutting_data
from layouts.milling.drilling import is_drilled
from layouts.milling.work import Cutting, SetUp
from layouts.panel import Panel

MM3_PER_CM3 = 1e3


def list_assumptions(
    panel: Panel, setups: tuple[SetUp, ...], cuttings: tuple[Cutting, ...], outline_mm3: float
) -> tuple[str, ...]:
    """Return what the time stands on, a sentence each; empty where nothing is cut.

    Parameters
    ----------
    panel : Panel
    setups : tuple of SetUp
    cuttings : tuple of Cutting
    outline_mm3 : float
        Chips of the cuts round the parts, [mm3].
    """
    if not setups:
        return ()
    most = panel.milling.speed_rpm or SPINDLE_RPM
    families = dict.fromkeys(cutting_data(material_of(panel, setup.part)) for setup in setups)
    out = [
        f"The whole may take {100 * cut_times.TIME_BAND:.0f} % more or less: it is reckoned from volumes, lengths and "
        "depths, not from tool paths.",
        f"Speeds and feeds are the middle of published ranges for {join_names(tuple(d.family for d in families))}, "
        f"with at most {most:g} turns a minute; what a stiff machine allows.",
    ]
    out += [
        f"Roughing cuts in {data.family} go {data.depth_share:g} cutter diameters deep and {data.width_share:g} wide, "
        "or as wide as a slot; walls get a finishing pass for each diameter of depth."
        for data in families
    ]
    on = {setup.on for setup in setups}
    if "machine" in on:
        out.append(
            f"On the machine each set-up takes {cut_times.SETUP_MIN:g} min and each change of a tool "
            f"{cut_times.CHANGE_MIN:g} min, by hand; moves between cuts run at "
            f"{cut_times.RAPID_MM_MIN / 1e3:g} m/min."
        )
    if any(is_drilled(hole.kind, hole.diameter) for setup in setups for hole in setup.holes):
        out.append(
            f"Drills are lifted after {cut_times.FIRST_PECK:g} diameters and then after each further one."
        )
    if any(hole.thread for setup in setups if setup.on == "machine" for hole in setup.holes):
        out.append(
            f"Threads are tapped on the machine, at most {TAP_RPM} turns a minute; by hand each takes about "
            f"{cut_times.HAND_TAP_MIN:g} min."
        )
    if "drill press" in on:
        out.append(
            f"On the drill press, at most {PRESS_RPM} turns a minute, each edge takes {cut_times.PRESS_SETUP_MIN:g} "
            f"min to make ready, each hole {cut_times.PRESS_HOLE_MIN:g} min to mark and clamp, and each thread "
            f"{cut_times.HAND_TAP_MIN:g} min by hand."
        )
    out.append(
        "Sheets come at their thickness, so no face is milled; the cuts that free the parts from their sheets make "
        f"{show_number(outline_mm3 / MM3_PER_CM3, 2)} cm³ of chips beside what is cut out of the parts."
    )
    none = tuple(dict.fromkeys(c.pocket for c in cuttings if c.rough is None and c.finish is None))
    if none:
        out.append(f"Left out, as no end mill at hand goes in: {join_names(none)}.")
    return tuple(out)
