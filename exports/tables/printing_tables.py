"""How parts are printed, in plain text: the settings, and a row for each pose that was tried, the best first."""

from __future__ import annotations

from exports.tables.text_tables import LINE, align_rows
from exports.wording.figures import show_mm, wrap_words
from exports.wording.print_words import shorten_pose, tell_settings
from layouts.panel import Panel
from layouts.printing.process import process_of
from layouts.printing.tried import LEAST_ROOF_MM, PartPoses, TriedPose, wide_roofs

MADE = "*"
"""Marks the pose that a part is made for."""

MOST_POSES = 8
"""More are in the report only."""


def describe_poses(panel: Panel, parts: tuple[PartPoses, ...]) -> str:
    """Return the settings of the print and the tables of the poses of all printed parts.

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
    lines = [line for said in tell_settings(panel) for line in wrap_words(said, LINE)]
    lines += wrap_words(
        f"poses in the printer by the face on the bed, the best first ({MADE} the one that it is made for): what leans "
        f"further than {process.overhang_deg:g} deg hangs, what is wider than {process.bridge:g} mm is too wide to "
        "bridge",
        LINE,
    )
    for part in parts:
        rows = pose_rows(panel, part)
        lines += align_rows([rows[0], *((shorten_pose(name), *rest) for name, *rest in rows[1:])])
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
            "bed",
            "roofs in",
            "too wide",
            "widest",
            "islands",
            "support",
        )
    ]
    process, shown = process_of(panel), list_shown(part)
    rows += [_row(one, one is part.made, process.bridge, panel.make.room is None) for one in shown]
    if process.name != "resin":
        return rows
    # Of hollows that are shut off while they grow only resin is sucked.
    shut = ("shut off", *(str(len(one.cups)) for one in shown))
    return [(*row[:-1], count, row[-1]) for row, count in zip(rows, shut, strict=True)]


def _row(one: TriedPose, made: bool, bridge: float, roomless: bool) -> tuple[str, ...]:
    measure = one.measure
    inside = [roof for roof in measure.roofs if roof.inside and roof.span >= LEAST_ROOF_MM]
    return (
        f"{one.pose.name}{f' {MADE}' if made else ''}",
        # A file that gives no room says nothing of the printer.
        "-" if roomless else "yes" if one.fits else "no",
        f"{show_mm(round(measure.height, 1))} mm",
        f"{measure.bed_mm2 / 100:.0f} cm2" if measure.stands else "an edge",
        str(len(inside)),
        str(len(wide_roofs(measure, bridge))),
        f"{inside[0].span:.1f} mm" if inside else "-",
        str(len(measure.islands)),
        f"{measure.support_mm2 / 100:.1f} cm2",
    )
