"""Design rules of printing in a pose, from what was measured on the solids: roofs, supports, islands, the pose."""

from __future__ import annotations

from dataclasses import dataclass, replace

from geom.findings import Finding
from geom.printing.measured import Roof, is_wide
from geom.standards.processes import find_process
from geom.units import show_number
from geom.words import count_of, join_names
from layouts.faces import cover_name, joints_of
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.poses import choose_pose
from layouts.printing.printed import Printed
from layouts.printing.process import process_of
from layouts.printing.roof_shapes import MEETING, lies_flat
from layouts.printing.tried import WEIGHTY, PartPoses, TriedPose, pose_rank, wide_roofs
from layouts.rules.findings import make_finding

LEAST_SAVED_MM2 = 500.0
"""Support that another pose must save before it is told."""

MOST_NAMES = 4

CUP_AREA, CUP_DEPTH = 100.0, 3.0
"""Hollows narrower, [mm2], or shallower, [mm], than this suck too little to matter; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Laying:
    """What decides how a part is laid: the file's keys, and the plan's choice by them; `parts`: all that are laid."""

    panel: Panel
    routed: Routed
    printed: Printed
    parts: tuple[PartPoses, ...] = ()

    def tell(self, part: str, best: TriedPose) -> str:
        """Return in words how a part is brought into a pose: by keys that the plan follows, or by hand.

        Parameters
        ----------
        part : str
            The blank's name.
        best : TriedPose
        """
        covers = {cover_name(layer) for layer in joints_of(self.panel)}
        asked, pose = self.panel.printing, best.pose
        if part not in covers and not self._worsens_mate(part, best):
            tilts = (pose.tilt_deg,) if pose.tilt_deg else asked.tilts
            keyed = replace(self.panel, printing=replace(asked, lies_on=pose.lies_on, tilts=tilts))
            if choose_pose(keyed, self.routed, self.printed.split).up == pose.up:
                tilted = f' and tilts = ["{pose.tilt_deg:g} deg"]' if pose.tilt_deg else ""
                return f'print it {pose.name}: set lies_on = "{pose.lies_on}"{tilted} in [printing]'
        return f"turn its mesh in the slicer so that it lies {pose.name}"

    def _worsens_mate(self, part: str, best: TriedPose) -> bool:
        """Return whether the other piece of a split, which the keys lay alike, is worse in a pose than as it lies."""
        pieces = () if self.printed.split is None else self.printed.split.pieces
        bridge = process_of(self.panel).bridge
        for mate in self.parts:
            if part in pieces and mate.part in pieces and mate.part != part:
                alike = next((one for one in mate.tried if one.pose.up == best.pose.up), None)
                if alike is None or pose_rank(alike, bridge) > pose_rank(mate.made, bridge):
                    return True
        return False


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
    sides = ((made.measure.height, room[2]), (long, max(room[:2])), (short, min(room[:2])))
    side, most = max(sides, key=lambda row: row[0] - row[1])
    return (
        make_finding(
            "print.room",
            "fault",
            f"printed {made.pose.name}, the {part.part} is {long:.4g} x {short:.4g} mm on the bed and "
            f"{made.measure.height:.4g} mm tall: more than the printer's {' x '.join(f'{s:g}' for s in room)} mm",
            laying.tell(part.part, best)
            if best.fits
            else "make the panel smaller, use a larger printer, or divide the loop over several panels",
            side,
            most,
            "mm",
            features=(part.part,),
        ),
    )


def check_roofs(laying: Laying, part: PartPoses) -> tuple[Finding, ...]:
    """Ask whether every roof inside prints without support (`print.roof`).

    Parameters
    ----------
    laying : Laying
    part : PartPoses
    """
    panel = laying.panel
    bridge = process_of(panel).bridge
    found = []
    for roof in wide_roofs(part.made.measure, bridge):
        names = part.features_at(roof.at)
        over = f"the roof over {names[0]}" if names else f"a roof inside the {part.part}"
        meets = not is_wide(roof.span, MEETING * bridge)
        found.append(
            make_finding(
                "print.roof",
                "caution" if meets else "fault",
                f"printed {part.made.pose.name}, {over} spans "
                f"{roof.span:.3g} mm, more than {bridge:g} mm, and no support can be taken out from under it",
                _roof_remedy(laying, part, roof),
                roof.span,
                bridge,
                "mm",
                roof.at,
                names,
            )
        )
    return tuple(found)


def _roof_remedy(laying: Laying, part: PartPoses, roof: Roof) -> str:
    panel = laying.panel
    bridge = process_of(panel).bridge
    ways = []
    best = part.tried[0]
    if pose_rank(best, bridge)[:WEIGHTY] < pose_rank(part.made, bridge)[:WEIGHTY]:
        ways.append(laying.tell(part.part, best))
    if panel.printing.roofs == "flat":
        ways.append('set roofs = "auto" in [printing]')
    names = part.features_at(roof.at)
    if any(name.startswith("channel") for name in names):
        # Standing, a channel's roof is as wide as the channel is deep.
        side = "width" if lies_flat(part.made.pose) else "depth"
        ways.append(f'set {side} = "{bridge:g} mm" or less in [channel]')
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
            vented if best is None else f"{laying.tell(part.part, best)}, or {vented}",
            cup.area,
            CUP_AREA,
            "mm2",
            cup.at,
            (part.part,),
        ),
    )


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
    weighty = pose_rank(best, bridge)[:WEIGHTY] < pose_rank(made, bridge)[:WEIGHTY]
    return (
        make_finding(
            "print.pose",
            "caution" if weighty else "note",
            f"the {part.part} is made to be printed {made.pose.name}; {best.pose.name} it {join_names(told)}",
            laying.tell(part.part, best),
            features=(part.part,),
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
