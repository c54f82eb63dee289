"""Which findings are minded on which sheet: those that ask something of whoever does the work there."""

from __future__ import annotations

from typing import Literal

from exports.sheets.values import Block, Caution, Matter
from geom.findings import Finding

Room = Literal["making", "assembly", "testing", "filling", "draining", "cautions"]

BY_START: dict[str, Room] = {
    "make": "making",
    "print": "making",
    "tolerance": "making",
    "wall": "making",
    "mesh": "making",
    "volume": "making",
    "material.coolant": "filling",
    "material.heat": "filling",
    "test": "testing",
    "seal": "assembly",
    "cover": "assembly",
    "screw": "assembly",
    "bond": "assembly",
    "port": "assembly",
    "thread": "assembly",
    "seat": "assembly",
    "tube": "assembly",
    "channel": "cautions",
    "floor": "cautions",
    "pump": "cautions",
    "pump.screws": "assembly",
    "part": "cautions",
    "flow": "cautions",
    "flow.fast": "filling",
    "heat": "filling",
    "service": "filling",
    "feed": "filling",
    "fill": "filling",
    "air": "filling",
    "drain": "draining",
    "tank": "filling",
}
"""By how a code starts; the longest that fits counts. What asks for nothing at the bench stands with the cautions."""

TOLD_ELSEWHERE = (
    "print.thread",
    "screw.insert",
    "screw.torque",
    "port.torque",
    "seal.bend",
    "bond.squeeze",
    "bond.clamp",
    "feed.depth",
    "fill.volume",
    "drain.left",
)
"""Notes that the steps themselves say, or that ask for nothing at the bench."""


def room_of(code: str) -> Room:
    """Return the sheet that a finding belongs to."""
    return BY_START[max((start for start in BY_START if begins(code, start)), key=len)]


def begins(code: str, start: str) -> bool:
    """Return whether a code begins with a start of `BY_START`: with whole words."""
    return code == start or code.startswith(f"{start}.")


def list_matters(findings: tuple[Finding, ...], room: Room) -> list[Block]:
    """Return what is minded on a sheet: cautions in boxes, then the notes that ask for something.

    Parameters
    ----------
    findings : tuple of Finding
        All of the run.
    room : {"making", "assembly", "testing", "filling", "draining", "cautions"}
    """
    here = [one for one in findings if room_of(one.code) == room]
    boxes: list[Block] = [Caution(tell_finding(one)) for one in here if one.severity == "caution"]
    notes: list[Block] = [
        Matter(one.code, tell_finding(one))
        for one in here
        if one.severity == "note" and one.accepted is None and one.code not in TOLD_ELSEWHERE
    ]
    return [*boxes, *notes]


def tell_finding(finding: Finding) -> str:
    """Return what a finding says and what it asks for, as sentences."""
    return f"{finding.text} {finding.remedy}"
