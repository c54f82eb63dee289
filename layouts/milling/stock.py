"""The sheets that a milled panel is cut from, and what each way of lying asks of the machine's travel."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geom.features import Detail
from geom.frame import EDGES, Face
from geom.outline import loop_polygon
from layouts.milling.drilling import Drilling, list_drillings, tip_height
from layouts.panel import Panel

MARGIN_MM = 3.0
"""Stock round the panel on every side where the file gives no sheet, [mm]; common practice, no source."""

LIFT_MM = 2.0
"""How far a tool is lifted over the part to move, [mm]; common practice, no source."""

CHUCK_MM = 40.0
"""What a drill chuck takes below the spindle's nose, [mm]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Stock:
    """The sheet that one part is cut from.

    Parameters
    ----------
    part : str
        "body", "cover", "front cover".
    width, height, thickness : float
        [mm]; the thickness is the part's own: its faces are those of the sheet.
    """

    part: str
    width: float
    height: float
    thickness: float

    @property
    def volume_mm3(self) -> float:
        """Volume of the sheet, [mm3]."""
        return self.width * self.height * self.thickness


@dataclass(frozen=True, slots=True)
class Upright:
    """What standing on the opposite edge asks of the machine, for the bores of one edge.

    Parameters
    ----------
    face : Face
        The edge that looks up.
    standing : float
        How high the panel then stands, [mm].
    drill : float
        How far the longest drill stands out of its chuck, [mm]: its bore, its point, and the lift over the part.
    chuck : float
        [mm]
    bore : Drilling
        The one that asks for it.
    names : tuple of str
        Of all bores of the edge.
    """

    face: Face
    standing: float
    drill: float
    chuck: float
    bore: Drilling
    names: tuple[str, ...]

    @property
    def needed(self) -> float:
        """Height between table and spindle, [mm]."""
        return self.standing + self.drill + self.chuck


def list_stock(panel: Panel, detail: Detail) -> tuple[Stock, ...]:
    """Return the sheet of every part: that of the file, or the part and a margin all round.

    Parameters
    ----------
    panel : Panel
    detail : Detail

    Returns
    -------
    tuple of Stock
        In the order of the blanks.
    """
    sheets = []
    for blank in detail.blanks:
        x0, y0, x1, y1 = loop_polygon(blank.loop).bounds
        width, height = panel.milling.stock or (x1 - x0 + 2 * MARGIN_MM, y1 - y0 + 2 * MARGIN_MM)
        sheets.append(Stock(blank.name, width, height, blank.z1 - blank.z0))
    return tuple(sheets)


def stick_out(bore: Drilling) -> float:
    """Return how far a drill stands out of what holds it, to make a bore and to be lifted over the part, [mm]."""
    return bore.length + tip_height(bore.diameter) + LIFT_MM


def list_upright(panel: Panel, detail: Detail) -> tuple[Upright, ...]:
    """Return what each edge with bores asks of the machine when the panel stands under the spindle.

    Parameters
    ----------
    panel : Panel
    detail : Detail

    Returns
    -------
    tuple of Upright
        Edge by edge; empty where no bore opens an edge.
    """
    found = []
    bores = list_drillings(detail)
    for face in EDGES:
        on = [bore for bore in bores if bore.face == face]
        if not on:
            continue
        # A slanting bore stands in a tilted panel: no less than the upright one asks for.
        longest = max(on, key=stick_out)
        standing = panel.height if face in ("top", "bottom") else panel.width
        found.append(
            Upright(face, standing, stick_out(longest), CHUCK_MM, longest, tuple(bore.name for bore in on))
        )
    return tuple(found)


def lying_height(detail: Detail, part: str) -> tuple[float, Drilling | None]:
    """Return the height that a part lying on the table asks for with its longest drill above it, and that drill.

    Parameters
    ----------
    detail : Detail
    part : str

    Returns
    -------
    (float, Drilling or None)
        [mm]; the drill as short as its bore allows, its holder not counted. None: nothing is drilled.
    """
    blank = next(blank for blank in detail.blanks if blank.name == part)
    bores = [bore for bore in list_drillings(detail) if bore.part == part and bore.face not in EDGES]
    if not bores:
        return blank.z1 - blank.z0, None
    longest = max(bores, key=stick_out)
    return math.fsum((blank.z1 - blank.z0, stick_out(longest))), longest
