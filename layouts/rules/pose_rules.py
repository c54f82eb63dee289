"""Design rules of printing in a pose, from what was measured on the solids: roofs, supports, islands, the pose."""

from __future__ import annotations

from geom.findings import Finding, KeyChange
from geom.frame import SAME_MM, Vec
from geom.printing.measured import Roof, is_wide
from geom.units import show_number
from geom.words import count_of, join_names
from layouts.cures import Cure, join_cures
from layouts.file.offers import offer_changes
from layouts.file_changes import set_length
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.printed import Printed
from layouts.printing.process import process_of
from layouts.printing.roof_shapes import MEETING, lies_flat
from layouts.printing.tried import WEIGHTY, PartPoses, TriedPose, pose_rank, wide_roofs
from layouts.rules.cup_rules import check_cups
from layouts.rules.findings import make_finding
from layouts.rules.laying import Laying
from layouts.rules.roof_rules import SHAPE_ROOFS, cure_roofs, narrow_channel

LEAST_SAVED_MM2 = 500.0
"""Support that another pose must save before it is told."""

MOST_NAMES = 4


def check_poses(
    panel: Panel, routed: Routed, printed: Printed | None, parts: tuple[PartPoses, ...]
) -> tuple[Finding, ...]:
    """Return what is found in the pose that each part is made for.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    printed : Printed or None
    parts : tuple of PartPoses

    Returns
    -------
    tuple of Finding
    """
    if printed is None:
        return ()
    laying = Laying(panel, routed, printed, parts)
    found: list[Finding] = []
    for part in parts:
        found += check_fit(laying, part)
        found += check_stand(laying, part)
        found += check_roofs(laying, part)
        found += check_overhangs(panel, part)
        found += check_islands(part)
        found += check_cups(laying, part)
        found += check_pose(laying, part)
    return tuple(found)


def check_fit(laying: Laying, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether a part fits the printer as it is made (`print.room`).

    Parameters
    ----------
    laying : Laying
    part : PartPoses
    """
    room, made, best = laying.panel.make.room, part.made, part.tried[0]
    if made.fits or room is None:
        return ()
    long, short = made.measure.footprint
    laid = laying.cure(part.part, best) if best.fits else None
    sides = ((made.measure.height, room[2]), (long, max(room[:2])), (short, min(room[:2])))
    side, most = max(sides, key=lambda row: row[0] - row[1])
    return (
        make_finding(
            "print.room",
            "fault",
            f"printed {made.pose.name}, the {part.part} is {long:.4g} x {short:.4g} mm on the bed and "
            f"{made.measure.height:.4g} mm tall: more than the printer's {' x '.join(f'{s:g}' for s in room)} mm",
            "make the panel smaller, use a larger printer, or divide the loop over several panels"
            if laid is None
            else laid.text,
            side,
            most,
            "mm",
            features=(part.part,),
            changes=() if laid is None else offer_changes(laying.panel, laid),
        ),
    )


def check_stand(laying: Laying, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether a part stands by itself as it is made (`print.stand`).

    Parameters
    ----------
    laying : Laying
    part : PartPoses
    """
    bridge, made = process_of(laying.panel).bridge, part.made
    if made.measure.stands:
        return ()
    now = pose_rank(made, bridge)[:WEIGHTY]
    stands = (one for one in part.tried if one.measure.stands and pose_rank(one, bridge)[:WEIGHTY] <= now)
    best = next(stands, None)
    laid = None if best is None else laying.cure(part.part, best)
    held = (
        "let the slicer put support along its whole lower face, whatever its overhang, or add a foot there "
        "that is cut off afterwards"
    )
    return (
        make_finding(
            "print.stand",
            "caution",
            f"printed {made.pose.name}, the {part.part} does not stand by itself: its centre of mass does not lie over "
            "what lies on the bed",
            held if laid is None else f"{held}, or {laid.text}",
            features=(part.part,),
            changes=() if laid is None else offer_changes(laying.panel, laid),
        ),
    )


def check_roofs(laying: Laying, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether every roof inside prints without support (`print.roof`).

    Cautions that are alike are one finding; each fault is told in its place.

    Parameters
    ----------
    laying : Laying
    part : PartPoses
    """
    bridge = process_of(laying.panel).bridge
    cures = _list_cures(laying, part)
    alike: dict[tuple[str, str, Vec | None], list[Roof]] = {}
    offered: dict[str, tuple[KeyChange, ...]] = {}
    for roof in wide_roofs(part.made.measure, bridge):
        ways = _list_ways(laying, part, roof, cures) or [Cure("make it narrower")]
        remedy = join_cures(ways)
        meets = not is_wide(roof.span, MEETING * bridge)
        alike.setdefault((f"{roof.span:.3g}", remedy, None if meets else roof.at), []).append(roof)
        offered[remedy] = offer_changes(laying.panel, *ways)
    found = []
    for (span, remedy, fault_at), roofs in alike.items():
        names = tuple(dict.fromkeys(name for roof in roofs for name in part.features_at(roof.at)))
        first = tuple(dict.fromkeys(name for roof in roofs for name in part.features_at(roof.at)[:1]))
        inside = f"over {_join(first)}" if first else f"inside the {part.part}"
        if len(roofs) == 1:
            told, them = f"{'the' if first else 'a'} roof {inside} spans {span} mm", "it"
        else:
            told, them = f"{count_of(len(roofs), 'roof')} {inside} span {span} mm", "them"
        found.append(
            make_finding(
                "print.roof",
                "caution" if fault_at is None else "fault",
                f"printed {part.made.pose.name}, {told}, more than {bridge:g} mm, and no support can be taken out "
                f"from under {them}",
                remedy,
                roofs[0].span,
                bridge,
                "mm",
                roofs[0].at,
                names,
                offered[remedy],
            )
        )
    return tuple(found)


def _list_cures(laying: Laying, part: PartPoses) -> list[Cure]:
    """Return what rids a part of its widest roofs by its pose: as measured, else by the plan.

    What is measured are solids whose roofs are shaped for the pose they are made for; the plan shapes them for each.
    """
    bridge = process_of(laying.panel).bridge
    best, made = part.tried[0], part.made
    left = wide_roofs(best.measure, bridge)
    better = pose_rank(best, bridge)[:WEIGHTY] < pose_rank(made, bridge)[:WEIGHTY]
    if better and not left:
        return [laying.cure(part.part, best)]
    cure = cure_roofs(laying.panel, laying.routed, laying.printed)
    if cure is not None:
        return [cure]
    # Fewer roofs of the same width are no cure of any one of them.
    wide = wide_roofs(made.measure, bridge)
    if better and wide and round(left[0].span) < round(wide[0].span):
        return [laying.cure(part.part, best)]
    return []


def _list_ways(laying: Laying, part: PartPoses, roof: Roof, cures: list[Cure]) -> list[Cure]:
    """Return what would make one roof print, the pose first."""
    panel, flat = laying.panel, lies_flat(part.made.pose)
    bridge = process_of(panel).bridge
    ways = [*cures]
    # Roofs are shaped over channels that run level; standing, none are.
    if panel.printing.roofs == "flat" and flat and not any('roofs = "auto"' in way.text for way in ways):
        ways.append(SHAPE_ROOFS)
    names = part.features_at(roof.at)
    channel = next((one for one in laying.routed.channels if f"channel {one.name}" in names), None)
    if channel is not None and flat:
        narrower = narrow_channel(panel, laying.routed, channel)
        ways += [] if narrower is None else [narrower]
    elif channel is not None and channel.depth > bridge + SAME_MM:
        # Standing, a channel's roof is as wide as the channel is deep.
        ways.append(
            Cure(
                f'set depth = "{bridge:g} mm" or less in [channel]', (set_length(bridge, "channel", "depth"),)
            )
        )
    if panel.make.closing == "one-piece":
        ways.append(Cure("close the panel with a cover"))
    return ways


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
            f"let the slicer put support there, {_tell_ground(part, hanging)}; a seat or spot face is dressed flat "
            "afterwards",
            part.made.measure.support_mm2 / 100,
            0.0,
            "cm2",
            largest.at,
            names,
        ),
    )


def _tell_ground(part: PartPoses, hanging: list[Roof]) -> str:
    """Return where support may stand: what hangs over the part itself is not reached from the bed."""
    over = [roof for roof in hanging if not roof.over_bed]
    if not over:
        return "on the bed only"
    if len(over) == len(hanging):
        return "on the part itself, for the bed is not under it"
    names = tuple(dict.fromkeys(name for roof in over for name in part.features_at(roof.at)))
    return f"on the bed, and on the part itself under {_join(names) or 'what hangs over it'}"


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


def check_pose(laying: Laying, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether another pose is better than the one that a part is made for (`print.pose`).

    Parameters
    ----------
    laying : Laying
    part : PartPoses
    """
    bridge = process_of(laying.panel).bridge
    best, made = part.tried[0], part.made
    told = _saved(best, made, bridge)
    # A part that does not fit as it is made is a fault by itself.
    if best is made or not told or not made.fits:
        return ()
    # Where the plan knows a way without any roof too wide, `print.roof` tells it: a pose that keeps some is no advice.
    if (
        wide_roofs(best.measure, bridge)
        and cure_roofs(laying.panel, laying.routed, laying.printed) is not None
    ):
        return ()
    weighty = pose_rank(best, bridge)[:WEIGHTY] < pose_rank(made, bridge)[:WEIGHTY]
    laid = laying.cure(part.part, best)
    return (
        make_finding(
            "print.pose",
            "caution" if weighty else "note",
            f"the {part.part} is made to be printed {made.pose.name}; {best.pose.name} it {join_names(told)}",
            laid.text,
            features=(part.part,),
            changes=offer_changes(laying.panel, laid),
        ),
    )


def _saved(best: TriedPose, made: TriedPose, bridge: float) -> list[str]:
    """Return what the best pose saves, in words; empty where that is not worth telling."""
    told = []
    wide, left = wide_roofs(made.measure, bridge), wide_roofs(best.measure, bridge)
    if wide and left and round(left[0].span) < round(wide[0].span):
        told.append(f"spans {left[0].span:.3g} mm inside at most, not {wide[0].span:.3g} mm")
    fewer = len(wide) - len(left)
    if fewer > 0:
        told.append(f"has {count_of(fewer, 'roof')} fewer over {bridge:g} mm inside")
    starts = len(made.measure.islands) - len(best.measure.islands)
    if starts > 0:
        told.append(f"starts {count_of(starts, 'layer')} fewer in the air")
    cups = len(made.cups) - len(best.cups)
    if cups > 0:
        told.append(f"shuts off {count_of(cups, 'hollow')} fewer while it grows")
    if best.measure.stands and not made.measure.stands:
        told.append("stands by itself")
    saved = made.measure.support_mm2 - best.measure.support_mm2
    if saved >= LEAST_SAVED_MM2:
        told.append(f"needs {show_number(saved / 100, 2)} cm2 less support")
    return told


def _join(names: tuple[str, ...]) -> str:
    if len(names) <= MOST_NAMES:
        return join_names(names)
    return f"{', '.join(names[:MOST_NAMES])} and {len(names) - MOST_NAMES} more"
