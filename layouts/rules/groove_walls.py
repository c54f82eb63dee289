"""Design rule of the walls between grooves and the bores that pass under or beside them.

The solids are measured exactly once they are built; what is plainly too thin is told before, on the plan.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from geom.features import Cylinder, Detail, Feature, Track
from geom.findings import Finding
from geom.frame import SAME_MM
from geom.outline import track_polygon
from geom.standards import tables
from geom.words import join_names
from layouts.closing.spacing import round_up
from layouts.cures import Cure, join_cures, use_cord
from layouts.faces import joint_z
from layouts.file.offers import offer_changes
from layouts.file_changes import set_length
from layouts.panel import Panel
from layouts.plan import CordLoop, Sealed
from layouts.rules.findings import make_finding

COARSE_MM = 0.02
"""What a wall may lack before it is told here, [mm]: outlines are coarse, and the exact check follows."""


@dataclass(frozen=True, slots=True)
class GrooveWall:
    """The wall between a groove and an upright bore: `beside` in plan, `under` in height, [mm]; 0 where they overlap.

    `at` is the bore's middle.
    """

    loop: CordLoop
    bore: Feature
    beside: float
    under: float
    at: tuple[float, float]

    @property
    def thickness(self) -> float:
        """The least distance of both, [mm]."""
        return math.hypot(self.beside, self.under)

    def lacks(self, limit: float) -> float:
        """Return by how much shallower a groove must be for a wall of `limit`, [mm]."""
        return math.sqrt(max(limit**2 - self.beside**2, 0.0)) - self.under


def check_groove_walls(panel: Panel, sealed: Sealed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether enough solid stands between grooves and upright bores (`seal.wall`)."""
    limit = panel.rules.least_wall
    thin = [wall for wall in list_groove_walls(sealed, detail) if wall.thickness < limit - COARSE_MM]
    # What meets, the rule of crossings tells.
    thin = sorted((wall for wall in thin if wall.thickness > SAME_MM), key=lambda wall: wall.thickness)
    if not thin:
        return ()
    worst = thin[0]
    others = list(dict.fromkeys(wall.bore.name for wall in thin if wall.bore is not worst.bore))
    named = join_names(others) if len(others) <= 2 else f"{others[0]} and {len(others) - 1} others"
    cures = _list_cures(panel, thin, limit)
    return (
        make_finding(
            "seal.wall",
            "fault",
            f"{worst.thickness:.3g} mm stand between {worst.loop.name} and {worst.bore.name}, {limit:g} mm are asked "
            f"for" + (f"; too little at {named} too" if others else ""),
            join_cures(cures),
            worst.thickness,
            limit,
            "mm",
            (*worst.at, joint_z(panel, worst.loop.layer)),
            tuple(dict.fromkeys(name for wall in thin for name in (wall.bore.name, wall.loop.name))),
            offer_changes(panel, *cures),
        ),
    )


def list_groove_walls(sealed: Sealed, detail: Detail) -> tuple[GrooveWall, ...]:
    """Return the walls between all grooves and the upright wet bores that are not meant to meet them."""
    loops = {loop.name: loop for loop in sealed.loops}
    bores = [
        (bore, bore.shape)
        for bore in detail.features
        if bore.medium == "wet" and isinstance(bore.shape, Cylinder) and bore.shape.direction[2] != 0
    ]
    walls = []
    for groove in detail.features:
        if groove.name not in loops or not isinstance(groove.shape, Track):
            continue
        outline = track_polygon(groove.shape.path, groove.shape.closed, groove.shape.width)
        shapely.prepare(outline)
        for bore, shape in bores:
            if bore.name in groove.joins or groove.name in bore.joins:
                continue
            x, y, mouth = shape.mouth
            end = mouth + shape.direction[2] * shape.length
            low, high = min(mouth, end), max(mouth, end)
            under = max(0.0, groove.shape.z0 - high, low - groove.shape.z1)
            beside = max(0.0, outline.distance(shapely.Point(x, y)) - shape.radius)
            walls.append(GrooveWall(loops[groove.name], bore, beside, under, (x, y)))
    return tuple(walls)


def _list_cures(panel: Panel, thin: list[GrooveWall], limit: float) -> list[Cure]:
    """Return the cord whose groove is shallow enough, and how deep the channels would have to be; else to move."""
    moved = "move them apart, or make the channels there wider, so that the groove runs farther off"
    if any(wall.under <= 0.0 for wall in thin):
        return [Cure(moved)]
    cord = tables.cord(panel.make.cord)
    lacks = max(wall.lacks(limit) for wall in thin)
    cures = []
    fitting = [
        section
        for section in tables.cord_sections()
        if section < cord.section and tables.cord(section).groove_depth <= cord.groove_depth - lacks + SAME_MM
    ]
    if fitting:
        cures.append(use_cord(fitting[-1]))
    # Bores end at half of the channel's depth.
    deep = round_up(panel.channel.depth + 2 * lacks)
    cures.append(
        Cure(
            f"make the channels {deep:g} mm deep (depth in [channel])",
            (set_length(deep, "channel", "depth"),),
        )
    )
    return cures
