"""What the worst case of the general tolerances leaves: in the report and for the terminal."""

from __future__ import annotations

from typing import Any

from exports.tables.text_tables import align_rows, shorten_names
from exports.wording.figures import round_plain, show_place
from layouts.panel import Panel
from layouts.plan import Plan
from layouts.tolerances.fittings import worst_rooms
from layouts.tolerances.screws import worst_screw
from layouts.tolerances.seal import worst_seals
from layouts.tolerances.walls import WorstWall

SHOWN = 5
"""Walls that the terminal shows."""

MODEL = (
    "what is cut in one set-up stands to each other within the tolerance of the dimension between them, the wall "
    "itself being one",
    "what is cut in different set-ups is located on its own, from the lower left corner: both places add up, and half "
    "of what both widths are off",
    "depths count from the face that they are cut from, edge bores stand above the back of the body; the sheets "
    "between are off by the class too: a raw sheet varies more, so face or measure it",
    "holes in a cover are held over the body by their screws, and move by what these may move in them",
)
"""What the worst case stands on, told in the report."""

PRINTED = (
    "the class stands for what the printer holds; all of one part is made in one set-up",
    MODEL[3],
)


def tolerances_section(plan: Plan, walls: tuple[WorstWall, ...]) -> dict[str, Any]:
    """Return class, walls, squeeze, room and screws at their worst, ready for JSON.

    Parameters
    ----------
    plan : Plan
    walls : tuple of WorstWall
        Empty where no solids were built.
    """
    panel = plan.panel
    screw = worst_screw(panel, plan.sealed)
    return {
        "class": panel.make.tolerance,
        "model": list(tell_model(panel)),
        "walls": [
            {
                "between": list(wall.between),
                "at_mm": _mm(wall.at),
                "nominal_mm": round_plain(wall.nominal, 4),
                "worst_mm": round_plain(wall.worst, 4),
                "needed_mm": round_plain(wall.needed, 4) if wall.wet else None,
                "wet": wall.wet,
                "one_setup": wall.one_setup,
            }
            for wall in walls
        ],
        "squeeze": [
            {
                "layer": seal.layer,
                "by_class": [round_plain(share, 4) for share in seal.by_class],
                "fill_by_class": round_plain(seal.fill_by_class, 4),
                "least": round_plain(seal.squeeze[0], 4),
                "greatest": round_plain(seal.squeeze[1], 4),
                "fill": round_plain(seal.fill, 4),
                "call_out_groove": seal.called_out,
                "span_mm": round_plain(seal.span, 2),
                "off_flat_mm": round_plain(seal.off_flat, 3),
                "most_off_flat_mm": round_plain(seal.most_off, 3),
            }
            for seal in worst_seals(panel, plan.sealed)
        ],
        "spanner": [
            {
                "port": room.port,
                "beside": room.beside.strip('"'),
                "for": room.for_what,
                "nominal_mm": round_plain(room.nominal, 3),
                "worst_mm": round_plain(room.worst, 3),
                "needed_mm": round_plain(room.needed, 3),
            }
            for room in sorted(
                worst_rooms(panel, plan.routed, plan.milled),
                key=lambda room: (room.worst - room.needed, room.port),
            )
        ],
        "screws": None
        if screw is None
        else {
            "screw": screw.name,
            "at_mm": _mm(screw.at),
            "apart_mm": round_plain(screw.apart, 3),
            "play_mm": round_plain(screw.play, 3),
            "zone_mm": round_plain(screw.zone, 3),
        },
    }


def tell_model(panel: Panel) -> tuple[str, ...]:
    """Return what the worst case of a panel stands on."""
    return PRINTED if panel.make.method == "printed" else MODEL


def describe_worst(plan: Plan, walls: tuple[WorstWall, ...]) -> str:
    """Return the walls that are thinnest at their worst as a table; empty where none is near.

    Parameters
    ----------
    plan : Plan
    walls : tuple of WorstWall
        The thinnest first.
    """
    rows = worst_rows(plan, walls)
    return "\n".join(align_rows(shorten_names(rows), left=2)) if rows else ""


def worst_rows(plan: Plan, walls: tuple[WorstWall, ...]) -> list[tuple[str, ...]]:
    """Return the walls that are thinnest at their worst, headings first; empty where none is near.

    Parameters
    ----------
    plan : Plan
    walls : tuple of WorstWall
        The thinnest first.
    """
    if not walls:
        return []
    rows: list[tuple[str, ...]] = [
        (f"walls at worst, class {plan.panel.make.tolerance}", "at", "drawn", "worst", "one set-up")
    ]
    rows += [
        (
            " / ".join(wall.between),
            show_place(wall.at),
            f"{wall.nominal:.2f} mm",
            f"{wall.worst:.2f} mm",
            "yes" if wall.one_setup else "no",
        )
        for wall in walls[:SHOWN]
    ]
    return rows


def _mm(values: tuple[float, ...]) -> list[float | None]:
    return [round_plain(value, 4) for value in values]
