"""What stands beside the lines of flow in numbers: each leg's, and the scales by which they are coloured."""

from __future__ import annotations

import math
from typing import Any

from exports.report.html.scene_flow import FlowLine
from exports.wording.channel_drops import drop_band
from exports.wording.figures import round_banded, show_band, show_banded
from exports.wording.places import round_place
from geom.units import kpa, l_min
from layouts.plan import Flowing

QUANTITIES = (
    ("velocity", "velocity in the channel", "m/s"),
    ("drop", "pressure drop of the piece", "kPa"),
    ("pressure", "pressure over that in the tank", "kPa"),
)
"""By what flow is coloured: key, words, unit."""

TICKS = 5


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
    """Return each quantity's scale: from its least to its most, with ticks and their words.

    Parameters
    ----------
    told : list of dict
        From `tell_lines`.
    flowing : Flowing
    """
    bands = {"velocity": flowing.band, "drop": 2.0 * flowing.band, "pressure": flowing.head_band}
    scales = []
    for key, words, unit in QUANTITIES:
        values = [value for line in told if line["flows"] for value in _values(line, key)] or [0.0]
        least, most = min(values), max(values)
        count = TICKS if most > least else 1
        ticks = [least + (most - least) * k / max(1, count - 1) for k in range(count)]
        error = bands[key] * max(abs(least), abs(most))
        decimals = max(0, min(6, -math.floor(math.log10(error)))) if error > 0.0 else 1
        texts = [f"{tick + 0.0:.{decimals}f}" for tick in ticks]
        if len(set(texts)) < len(texts):
            texts = [f"{tick + 0.0:.{decimals + 1}f}" for tick in ticks]
        scales.append({"key": key, "words": words, "unit": unit, "ticks": ticks, "texts": texts})
    return scales


def _values(line: dict[str, Any], key: str) -> list[float]:
    return list(line[key]) if key == "pressure" else [line[key]]


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
        "velocity": round_banded(line.velocity_m_s, band),
        "drop": round_banded(drop, lost),
        "pressure": [
            round_banded(kpa(pressure), flowing.head_band) for pressure in (line.start_pa, line.end_pa)
        ],
        "text": text,
    }
