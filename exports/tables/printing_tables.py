"""How printed parts lie, in plain text: a row for each pose that was tried, the best first."""

from __future__ import annotations

from exports.tables.text_tables import align_rows
from exports.wording.figures import show_mm
from layouts.panel import Panel
from layouts.printing.process import process_of
from layouts.printing.tried import PartPoses, TriedPose, wide_roofs

MADE = "*"
"""Marks the pose that a part is made for."""

MOST_POSES = 12
"""More are in the report only."""


def describe_poses(panel: Panel, parts: tuple[PartPoses, ...]) -> str:
    """Return the tables of the poses of all printed parts.

    Parameters
    ----------
    panel : Panel
    parts : tuple of PartPoses
        At least one.

    Returns
    -------
    str
    """
    process = process_of(panel)
    lines = [
        f"poses in the printer, the best first ({MADE} the one that it is made for): what leans further than "
        f"{process.overhang_deg:g} deg",
        f"hangs, what is wider than {process.bridge:g} mm is too wide to bridge",
    ]
    for part in parts:
        lines += align_rows(pose_rows(panel, part))
        left = len(part.tried) - len(list_shown(part))
        lines += [f"and {left} more poses, in report.json"] if left else []
    return "\n".join(lines)


def list_shown(part: PartPoses) -> tuple[TriedPose, ...]:
    """Return the poses that a table shows: the best, and that which the part is made for.

    Parameters
    ----------
    part : PartPoses
    """
    return tuple(one for k, one in enumerate(part.tried) if k < MOST_POSES or one is part.made)


def pose_rows(panel: Panel, part: PartPoses) -> list[tuple[str, ...]]:
    """Return the rows of a part's table of poses, its headings first.

    Parameters
    ----------
    panel : Panel
    part : PartPoses
    """
    rows: list[tuple[str, ...]] = [
        (
            part.part,
            "fits",
            "height",
            "on the bed",
            "roofs inside",
            "too wide",
            "widest",
            "islands",
            "support",
        )
    ]
    bridge = process_of(panel).bridge
    rows += [_row(one, one is part.made, bridge) for one in list_shown(part)]
    return rows


def _row(one: TriedPose, made: bool, bridge: float) -> tuple[str, ...]:
    measure = one.measure
    inside = [roof for roof in measure.roofs if roof.inside]
    return (
        f"{one.pose.name}{f' {MADE}' if made else ''}",
        "yes" if one.fits else "no",
        f"{show_mm(round(measure.height, 1))} mm",
        f"{measure.bed_mm2 / 100:.0f} cm2" if measure.stands else "on an edge",
        str(len(inside)),
        str(len(wide_roofs(measure, bridge))),
        f"{inside[0].span:.1f} mm" if inside else "-",
        str(len(measure.islands)),
        f"{measure.support_mm2 / 100:.1f} cm2",
    )
