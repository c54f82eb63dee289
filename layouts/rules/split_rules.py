"""Design rules of a printed panel that may be larger than the printer: where it is split, and how the joint holds."""

from __future__ import annotations

from dataclasses import replace

from geom.findings import Finding
from geom.standards import tables
from geom.words import count_of, join_names, tell_torque, tell_within
from layouts.cures import Cure
from layouts.file.offers import offer_changes
from layouts.file_changes import set_key
from layouts.panel import Panel
from layouts.printing.printed import Printed, Split
from layouts.printing.printer_room import fits_whole
from layouts.printing.split_features import PIN_DIAMETER, PIN_LENGTH
from layouts.printing.split_ring import ring_cut_length
from layouts.rules.findings import make_finding
from layouts.strength.tightening_order import HOW


def check_printer_room(panel: Panel, printed: Printed | None) -> tuple[Finding, ...]:
    """Ask whether a printed panel fits the printer, whole or split (`print.room`).

    Parameters
    ----------
    panel : Panel
    printed : Printed or None
    """
    if printed is None or fits_whole(panel):
        return ()
    if printed.split is not None:
        return (_tell_split(panel, printed.split),)
    body = max(panel.make.body, panel.make.cover)
    sides = sorted((panel.width, panel.height, body))
    side, room = max(zip(sides, sorted(panel.make.room or ()), strict=False), key=lambda row: row[0] - row[1])
    covered = "" if panel.make.closing == "one-piece" else "print it in one piece, "
    laid = _lay_freely(panel)
    first = "" if laid is None else f"{laid.text}, or "
    return (
        make_finding(
            "print.room",
            "fault",
            f"a panel of {panel.width:g} x {panel.height:g} x {body:g} mm does not fit the printer's {_room(panel)}, "
            f"and it is not split: {printed.refused or 'no joint was looked for'}",
            f"{first}make the panel smaller, use a larger printer, {covered}or divide the loop "
            "over several panels"
            + (
                ""
                if covered
                else "; a thicker body and fewer channels across the middle leave more room for a joint"
            ),
            side,
            room,
            "mm",
            changes=() if laid is None else offer_changes(panel, laid),
        ),
    )


def check_split_joint(panel: Panel, printed: Printed | None) -> tuple[Finding, ...]:
    """Ask what pulls on the screws of a split's joint, and what they hold (`print.split`).

    Parameters
    ----------
    panel : Panel
    printed : Printed or None
    """
    split = None if printed is None else printed.split
    if split is None or split.screw is None or not split.crossings:
        return ()
    worst = max(range(len(split.loads_n)), key=lambda k: split.loads_n[k])
    load, screw = split.loads_n[worst], split.screw
    least, most = split.torque_nm
    return (
        make_finding(
            "print.split",
            "note",
            f"about {load:.0f} N pull on the most loaded screw of the split's joint at the test pressure, pressure and "
            f"cord together; tightened to {split.preload_n:.0f} N it keeps the joint closed, and its thread in "
            f"{panel.make.material} holds {screw.holds_n:.0f} N for years: an estimate, by levers and areas",
            f"tighten all {len(split.screws)} screws {HOW} to "
            f"{tell_torque(least, most)}, and carry the panel by both pieces",
            split.preload_n,
            screw.holds_n,
            "N",
            split.screws[worst],
            (f"joint screw {worst + 1} {screw.name}",),
        ),
    )


def _tell_split(panel: Panel, split: Split) -> Finding:
    across = count_of(len(split.crossings), "channel")
    laid = _lay_freely(panel)
    first = "" if laid is None else f"{laid.text}; split, "
    parts = []
    if split.crossings:
        parts.append(
            f"{count_of(len(split.crossings), 'ring')} of {split.cord:g} mm cord, each cut to "
            f"{tell_within(*ring_cut_length(split))}"
        )
    if split.screw is not None:
        screws = count_of(len(split.screws), f"{split.screw.name} x {split.screw.length:g} screw")
        washers = f" with washers of {split.screw.washer:g} mm" if split.screw.washer else ""
        parts.append(screws + washers)
    if split.pins:
        parts.append(f"{len(split.pins)} pins of {PIN_DIAMETER:g} x {PIN_LENGTH:g} mm")
    middle = (panel.width / 2, panel.height / 2, panel.make.body / 2)
    at = (split.at, middle[1], middle[2]) if split.axis == "x" else (middle[0], split.at, middle[2])
    through = f"across {across}" if split.crossings else "across no channel"
    return make_finding(
        "print.room",
        "note",
        f"the panel does not fit the printer's {_room(panel)}: it is split at {split.axis} = {split.at:g} mm, "
        f"{through}, and joined with {join_names(parts)}",
        f"{first}rub both joint faces flat{_until(split)}, "
        f"put the pieces together{' on the pins' if split.pins else ''}, "
        f"tighten the screws {HOW}, and test the whole at the test pressure again",
        max(panel.width, panel.height),
        max(panel.make.room or (0.0,)),
        "mm",
        split.crossings[0].at if split.crossings else at,
        tuple(f"ring groove {number}" for number in range(1, len(split.crossings) + 1)),
        () if laid is None else offer_changes(panel, laid),
    )


def _lay_freely(panel: Panel) -> Cure | None:
    """Return that the panel fits whole where the file names no face; None where it does not."""
    asked = panel.printing
    if asked.lies_on is None or not fits_whole(replace(panel, printing=replace(asked, lies_on=None))):
        return None
    return Cure(
        f'leave lies_on = "{asked.lies_on}" out of [printing], for laid otherwise it fits in one piece',
        (set_key(None, "printing", "lies_on"),),
    )


def _until(split: Split) -> str:
    """Return how deep the grooves must be in the end, and that the rings lie in them; empty without rings."""
    if not split.crossings:
        return ""
    cord = tables.cord(split.cord)
    low, high = cord.groove_depth, cord.groove_depth + cord.groove_depth_tolerance
    return f" until the grooves are {low:g} to {high:g} mm deep, lay the rings into them"


def _room(panel: Panel) -> str:
    return f"{' x '.join(f'{side:g}' for side in panel.make.room or ())} mm"
