"""Design rule of feather edges on the real solid: too sharp to be cut clean."""

from __future__ import annotations

from collections.abc import Sequence

from geom.findings import Finding
from geom.measured import Feather
from geom.words import count_of, join_names
from layouts.panel import Panel
from layouts.printing.process import is_printed
from layouts.rules.findings import make_finding

FEATHER_DEG = 30.0
"""Material with a smaller angle along an edge is a feather edge, [deg]; common practice, no source."""


def check_feathers(panel: Panel, part: str, feathers: Sequence[Feather]) -> tuple[Finding, ...]:
    """Ask whether a milled part has feather edges (`make.feather`): one finding for those between the same features.

    Parameters
    ----------
    panel : Panel
    part : str
        "body", "cover".
    feathers : sequence of Feather
        From `geom.feather`, at `FEATHER_DEG`, with their names.
    """
    if is_printed(panel, part):
        return ()
    groups: dict[tuple[str, ...], list[Feather]] = {}
    for feather in feathers:
        groups.setdefault(feather.between, []).append(feather)
    found = []
    for names, group in groups.items():
        worst = min(group, key=lambda feather: feather.angle)
        x, y, z = worst.at
        where = (
            f"where {join_names(names)} meet" if len(names) > 1 else f"at {''.join(names) or 'its outside'}"
        )
        more = f", {count_of(len(group), 'edge')} in all" if len(group) > 1 else ""
        found.append(
            make_finding(
                "make.feather",
                "caution",
                f"the {part} has a feather edge of about {worst.angle:.0f} degrees, {worst.length:.2g} mm long, "
                f"{where} ({x:.2f}, {y:.2f}, {z:.2f}) mm{more}; under {FEATHER_DEG:g} degrees it breaks out or "
                "burrs over",
                "move one of them so that they meet squarely or not at all; else break the edge by hand, and look for "
                "burrs before the loop is filled",
                worst.angle,
                FEATHER_DEG,
                "deg",
                worst.at,
                names,
            )
        )
    return tuple(found)
