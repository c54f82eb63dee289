"""The sheets that milled parts are cut from and what cuts them free, and what lying and standing ask of the machine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import shapely

from geom.frame import EDGES, ROUNDING, SAME_MM, Face
from geom.outline import Line, Loop, Segment, path_length, region_polygon
from layouts.milling.cutters import REACH_GOOD, cutters_at_hand, reach_ratio, usable_reach
from layouts.milling.drilling import list_drilled, tip_height
from layouts.milling.pockets import FINE_SAG
from layouts.milling.work import Cutting, Hole, Milled, SetUp, Stock
from layouts.panel import EndMill, Panel

RIM_MM = 3.0
"""What stays of the sheet outside the cut round a part, on every side, [mm]; common practice, no source."""

LIFT_MM = 2.0
"""How far a tool is lifted over the part to move, [mm]; common practice, no source."""

CHUCK_MM = 40.0
"""What a drill chuck takes below the spindle's nose, [mm]; common practice, no source."""

OUTLINE = "outline"
"""Name of the cut that frees a part from its sheet."""

OUTLINE_MILL = EndMill(6.0)
"""Cuts the outlines where no pocket is cut, unless the file names end mills; common practice, no source."""

ROUND_SEGMENTS = 64
"""Chords to a quarter of the way round a corner: what is cut round a part is then right to 1e-5."""


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
    hole : Hole
        The one that asks for it.
    names : tuple of str
        Of all bores of the edge.
    """

    face: Face
    standing: float
    drill: float
    chuck: float
    hole: Hole
    names: tuple[str, ...]

    @property
    def needed(self) -> float:
        """Height between table and spindle, [mm]."""
        return self.standing + self.drill + self.chuck


def choose_outline_mill(panel: Panel, setup: SetUp, cuttings: tuple[Cutting, ...]) -> EndMill:
    """Return the end mill that cuts a part free.

    The largest that reaches through the part and goes round it within the machine's travel: of those that cut
    pockets, or else of those at hand. One that reaches within few diameters comes before one that is long for the
    sheet. Where none goes round, the largest that reaches; where none reaches, the one that reaches deepest.

    Parameters
    ----------
    panel : Panel
    setup : SetUp
        In which the outline is cut.
    cuttings : tuple of Cutting
    """
    used = {mill for c in cuttings for mill in (c.rough, c.finish) if mill is not None}
    most = _widest_round(panel, setup)
    at_hand = cutters_at_hand(panel)
    first = tuple(used) or panel.milling.cutters or (OUTLINE_MILL,)
    for widest, longest, mills in product((most, math.inf), (REACH_GOOD, math.inf), (first, at_hand)):
        reaching = [
            mill
            for mill in mills
            if usable_reach(mill) >= setup.height - SAME_MM
            and reach_ratio(mill, setup.height) <= longest + ROUNDING
            and mill.diameter <= widest + SAME_MM
        ]
        if reaching:
            return max(reaching, key=lambda mill: (mill.diameter, usable_reach(mill), mill.teeth))
    return max(at_hand, key=lambda mill: (usable_reach(mill), mill.diameter, mill.teeth))


def _widest_round(panel: Panel, setup: SetUp) -> float:
    """Return the diameter of the widest cutter that goes round a part within the machine's travel, [mm]."""
    if panel.make.method != "milled" or panel.make.room is None:
        return math.inf
    sides = zip(sorted(setup.size), sorted(panel.make.room[:2]), strict=True)
    return min(travel - side for side, travel in sides)


def sheet_margin(mill: EndMill) -> float:
    """Return the stock round a part on every side, [mm]: the cutter's way, and a rim by which the sheet is held.

    Parameters
    ----------
    mill : EndMill
        That cuts the outline.
    """
    return mill.diameter + RIM_MM


def choose_stock(panel: Panel, setup: SetUp, mill: EndMill) -> Stock:
    """Return the sheet of a part: that of the file, or the part and a margin all round.

    Parameters
    ----------
    panel : Panel
    setup : SetUp
        In which the part's outline is cut.
    mill : EndMill
        That cuts it.
    """
    margin = 2 * sheet_margin(mill)
    width, height = panel.milling.stock or (setup.size[0] + margin, setup.size[1] + margin)
    return Stock(setup.part, width, height, setup.height)


def outline_chips(setup: SetUp, mill: EndMill, stock: Stock) -> float:
    """Return the chips of the cut round a part, [mm3]: a band as wide as the cutter, as far as there is sheet.

    Parameters
    ----------
    setup : SetUp
        In which the part's outline is cut.
    mill : EndMill
    stock : Stock
        The part lies in its middle.
    """
    if setup.outline is None:
        return 0.0
    plan = region_polygon((setup.outline,), FINE_SAG)
    across, along = (stock.width - setup.size[0]) / 2, (stock.height - setup.size[1]) / 2
    sheet = shapely.box(-across, -along, setup.size[0] + across, setup.size[1] + along)
    band = shapely.intersection(shapely.buffer(plan, mill.diameter, quad_segs=ROUND_SEGMENTS), sheet)
    return max(0.0, float(band.area - plan.area)) * setup.height


def outline_way(outline: Loop, size: tuple[float, float], sheet: tuple[float, float]) -> float:
    """Return how much of a part's outline a sheet leaves to be cut, [mm]: all but what is the sheet's own edges.

    Parameters
    ----------
    outline : Loop
        In the plane of a set-up, whose origin is its lower left corner.
    size, sheet : (float, float)
        Width and height of part and sheet, [mm].
    """

    def is_edge(piece: Segment) -> bool:
        return any(
            sheet[k] - size[k] < SAME_MM
            and any(abs(piece.start[k] - at) + abs(piece.end[k] - at) < SAME_MM for at in (0.0, size[k]))
            for k in (0, 1)
        )

    return path_length(tuple(piece for piece in outline if not (isinstance(piece, Line) and is_edge(piece))))


def only_corners(setup: SetUp, stock: Stock) -> bool:
    """Return whether the sheet of a part is no larger: its corners alone are then cut round."""
    return max(stock.width - setup.size[0], stock.height - setup.size[1]) < SAME_MM


def outline_mill_of(milled: Milled) -> float | None:
    """Return the diameter of the widest end mill that cuts a part free, [mm]; None where sheets come to size."""
    return max((job.diameter for job in milled.jobs if job.cuts == (OUTLINE,)), default=None)


def stick_out(hole: Hole) -> float:
    """Return how far a drill stands out of what holds it, to make a bore and to be lifted over the part, [mm]."""
    return hole.depth + tip_height(hole.diameter) + LIFT_MM


def list_upright(panel: Panel, milled: Milled) -> tuple[Upright, ...]:
    """Return what each edge with bores asks of the machine when the panel stands under the spindle.

    Parameters
    ----------
    panel : Panel
    milled : Milled

    Returns
    -------
    tuple of Upright
        Edge by edge; empty where no bore opens an edge.
    """
    found = []
    holes = list_drilled(milled)
    for face in EDGES:
        on = [hole for hole in holes if hole.face == face]
        if not on:
            continue
        longest = max(on, key=stick_out)
        standing = panel.height if face in ("top", "bottom") else panel.width
        found.append(
            Upright(face, standing, stick_out(longest), CHUCK_MM, longest, tuple(hole.name for hole in on))
        )
    return tuple(found)


def lying_height(milled: Milled, stock: Stock) -> tuple[float, Hole | None]:
    """Return the height that a part lying on the table asks for with its longest drill above it, and that drill.

    Parameters
    ----------
    milled : Milled
    stock : Stock
        The part's.

    Returns
    -------
    (float, Hole or None)
        [mm]; the drill as short as its bore allows, its holder not counted. None: nothing is drilled.
    """
    holes = [hole for hole in list_drilled(milled) if hole.part == stock.part and hole.face not in EDGES]
    if not holes:
        return stock.thickness, None
    longest = max(holes, key=stick_out)
    return math.fsum((stock.thickness, stick_out(longest))), longest
