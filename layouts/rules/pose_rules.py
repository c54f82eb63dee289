"""Design rules of printing in a pose, from what was measured on the solids: roofs, supports, islands, the pose."""

from __future__ import annotations

from geom.findings import Finding
from geom.printing.measured import Roof
from geom.units import show_number
from geom.words import count_of, join_names
from layouts.panel import Panel
from layouts.printing.process import process_of
from layouts.printing.roof_shapes import MEETING
from layouts.printing.tried import ROUND_MM, PartPoses, TriedPose, pose_rank, wide_roofs
from layouts.rules.findings import make_finding

LEAST_SAVED_MM2 = 500.0
"""Support that another pose must save before it is told."""

MOST_NAMES = 4


def check_poses(panel: Panel, parts: tuple[PartPoses, ...]) -> tuple[Finding, ...]:
    """Return what is found in the pose that each part is made for.

    Parameters
    ----------
    panel : Panel
    parts : tuple of PartPoses

    Returns
    -------
    tuple of Finding
    """
    found: list[Finding] = []
    for part in parts:
        found += check_roofs(panel, part)
        found += check_overhangs(panel, part)
        found += check_islands(part)
        found += check_pose(panel, part)
    return tuple(found)


def check_roofs(panel: Panel, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether every roof inside prints without support (`print.roof`).

    Parameters
    ----------
    panel : Panel
    part : PartPoses
    """
    bridge = process_of(panel).bridge
    found = []
    for roof in wide_roofs(part.made.measure, bridge):
        names = part.features_at(roof.at)
        over = f"the roof over {names[0]}" if names else f"a roof inside the {part.part}"
        meets = roof.span <= MEETING * bridge + ROUND_MM
        found.append(
            make_finding(
                "print.roof",
                "caution" if meets else "fault",
                f"printed {part.made.pose.name}, {over} spans "
                f"{roof.span:.3g} mm, more than {bridge:g} mm, and no support can be taken out from under it",
                _roof_remedy(panel, part, roof),
                roof.span,
                bridge,
                "mm",
                roof.at,
                names,
            )
        )
    return tuple(found)


def _roof_remedy(panel: Panel, part: PartPoses, roof: Roof) -> str:
    bridge = process_of(panel).bridge
    ways = []
    best = part.tried[0]
    if len(wide_roofs(best.measure, bridge)) < len(wide_roofs(part.made.measure, bridge)):
        ways.append(f"print it {best.pose.name}{_how_to_lay(best)}")
    if panel.printing.roofs == "flat":
        ways.append('set roofs = "auto" in [printing]')
    names = part.features_at(roof.at)
    if any(name.startswith("channel") for name in names):
        ways.append(f'set width = "{bridge:g} mm" or less in [channel]')
    if panel.make.closing == "one-piece":
        ways.append("close the panel with a cover")
    return ", or ".join(ways) or "make it narrower"


def check_overhangs(panel: Panel, part: PartPoses) -> tuple[Finding, ...]:
    """Ask what needs support outside (`print.overhang`).

    Parameters
    ----------
    panel : Panel
    part : PartPoses
    """
    process = process_of(panel)
    hanging = [roof for roof in part.made.measure.roofs if roof.needs_support(process.bridge)]
    if not hanging:
        return ()
    largest = max(hanging, key=lambda roof: (round(roof.area, 3), roof.at))
    names = tuple(dict.fromkeys(name for roof in hanging for name in part.features_at(roof.at)))
    over = f": {_join(names)}" if names else ""
    return (
        make_finding(
            "print.overhang",
            "note",
            f"printed {part.made.pose.name}, the {part.part} needs support under "
            f"{show_number(part.made.measure.support_mm2 / 100, 2)} cm2 outside{over}",
            "let the slicer put support there, on the bed only; a seat or spot face is dressed flat afterwards",
            part.made.measure.support_mm2 / 100,
            0.0,
            "cm2",
            largest.at,
            names,
        ),
    )


def check_islands(part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether every layer begins on the one below (`print.island`).

    Parameters
    ----------
    part : PartPoses
    """
    found = []
    for at in part.made.measure.islands:
        names = part.features_at(at)
        near = f" over {names[0]}" if names else ""
        found.append(
            make_finding(
                "print.island",
                "caution",
                f"printed {part.made.pose.name}, a layer of the {part.part} starts in the air{near}",
                "lay it otherwise, or let the slicer put support there",
                at_mm=at,
                features=names,
            )
        )
    return tuple(found)


def check_pose(panel: Panel, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether another pose is better than the one that a part is made for (`print.pose`).

    Parameters
    ----------
    panel : Panel
    part : PartPoses
    """
    bridge = process_of(panel).bridge
    best, made = part.tried[0], part.made
    told = _saved(best, made, bridge)
    if best is made or not told:
        return ()
    weighty = pose_rank(best, bridge)[:2] < pose_rank(made, bridge)[:2]
    return (
        make_finding(
            "print.pose",
            "caution" if weighty else "note",
            f"the {part.part} is made to be printed {made.pose.name}; {best.pose.name} it {join_names(told)}",
            f"print it {best.pose.name}{_how_to_lay(best)}",
            features=(part.part,),
        ),
    )


def _saved(best: TriedPose, made: TriedPose, bridge: float) -> list[str]:
    """Return what the best pose saves, in words; empty where that is not worth telling."""
    told = []
    if best.fits and not made.fits:
        told.append("fits the printer")
    fewer = len(wide_roofs(made.measure, bridge)) - len(wide_roofs(best.measure, bridge))
    if fewer > 0:
        told.append(f"has {count_of(fewer, 'roof')} fewer over {bridge:g} mm inside")
    starts = len(made.measure.islands) - len(best.measure.islands)
    if starts > 0:
        told.append(f"starts {count_of(starts, 'layer')} fewer in the air")
    if best.measure.stands and not made.measure.stands:
        told.append("stands by itself")
    saved = made.measure.support_mm2 - best.measure.support_mm2
    if saved >= LEAST_SAVED_MM2:
        told.append(f"needs {show_number(saved / 100, 2)} cm2 less support")
    return told


def _how_to_lay(best: TriedPose) -> str:
    return f' (lies_on = "{best.pose.lies_on}" in [printing])' if best.pose.tilt_deg == 0 else ""


def _join(names: tuple[str, ...]) -> str:
    if len(names) <= MOST_NAMES:
        return join_names(names)
    return f"{', '.join(names[:MOST_NAMES])} and {len(names) - MOST_NAMES} more"
