"""What stands beside the lines of flow in numbers: each leg's, and the scales by which they are coloured."""

from __future__ import annotations

import math
from typing import Any

from exports.report.html.scene_flow import FlowLine
from exports.wording.channel_drops import drop_band
from exports.wording.figures import round_banded, show_band, show_banded
from exports.wording.flow_scales import lay_flow_scales
from exports.wording.places import round_number, round_place
from geom.units import kpa, l_min
from layouts.plan import Flowing

WORDS = {
    "velocity": "velocity in the channel",
    "drop": "pressure drop of the piece",
    "pressure": "pressure over that in the tank",
}
"""By what flow is coloured."""

TICKS = 5
"""Of the scale of pressure."""


def tell_lines(lines: tuple[FlowLine, ...], flowing: Flowing) -> list[dict[str, Any]]:
    """Return the legs with their places and numbers.

    Parameters
    ----------
    lines : tuple of FlowLine
    flowing : Flowing

    Returns
    -------
    list of dict
        ``flow_l_min`` [L/min], ``velocity`` [m/s], ``drop`` [kPa], ``pressure`` at both ends [kPa], ``text`` with
        all of them in the digits of their bands.
    """
    return [_tell_line(line, flowing) for line in lines]


def lay_scales(told: list[dict[str, Any]], flowing: Flowing) -> list[dict[str, Any]]:
    """Return what flow is coloured by, each with its scale.

    Velocity and drop, of which each leg has one, are coloured in the bands of the plan's own scales; the pressure,
    which falls along a leg, from its least to its most without steps.

    Parameters
    ----------
    told : list of dict
        From `tell_lines`.
    flowing : Flowing

    Returns
    -------
    list of dict
        ``key``, ``words``, ``unit``, ``ticks`` with how they are written, ``texts``; ``banded``: whether between two
        ticks there is one colour.
    """
    scales = [
        {
            "key": key,
            "words": WORDS[key],
            "unit": scale["unit"],
            "ticks": scale["edges"],
            "texts": scale["texts"],
            "banded": True,
        }
        for key, scale in lay_flow_scales(flowing).items()
    ]
    return [*scales, _lay_pressure(told, flowing)]


def _lay_pressure(told: list[dict[str, Any]], flowing: Flowing) -> dict[str, Any]:
    values = [value for line in told if line["flows"] for value in line["pressure"]] or [0.0]
    least, most = min(values), max(values)
    count = TICKS if most > least else 1
    ticks = [least + (most - least) * k / max(1, count - 1) for k in range(count)]
    error = flowing.head_band * max(abs(least), abs(most))
    decimals = max(0, min(6, -math.floor(math.log10(error)))) if error > 0.0 else 1
    texts = [f"{tick + 0.0:.{decimals}f}" for tick in ticks]
    if len(set(texts)) < len(texts):
        texts = [f"{tick + 0.0:.{decimals + 1}f}" for tick in ticks]
    named = {"key": "pressure", "words": WORDS["pressure"], "unit": "kPa"}
    return named | {"ticks": ticks, "texts": texts, "banded": False}


def _tell_line(line: FlowLine, flowing: Flowing) -> dict[str, Any]:
    told: dict[str, Any] = {
        "channel": line.channel,
        "start": line.start,
        "end": line.end,
        "points": [round_place(point) for point in line.points],
        "width": line.width,
        "flows": False,
        "flow_l_min": 0.0,
        "velocity": 0.0,
        "drop": 0.0,
        "pressure": [0.0, 0.0],
        "text": "nothing flows",
    }
    if line.start_pa is None or line.end_pa is None:
        return told
    band, lost = flowing.band, drop_band(flowing, line.band)
    flow, drop = l_min(line.flow_m3_s), kpa(line.start_pa - line.end_pa)
    text = (
        f"{show_banded(flow, band)} L/min, {show_banded(line.velocity_m_s, band)} m/s, "
        f"drop {show_banded(drop, lost)} kPa {show_band(lost)}"
    )
    return told | {
        "flows": True,
        "flow_l_min": round_banded(flow, band),
        # As the plan of the local page has them: at the edge of a band both shall take the same colour.
        "velocity": round_number(line.velocity_m_s),
        "drop": round_number(drop),
        "pressure": [
            round_banded(kpa(pressure), flowing.head_band) for pressure in (line.start_pa, line.end_pa)
        ],
        "text": text,
    }
