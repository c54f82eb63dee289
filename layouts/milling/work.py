"""What milling hands on: set-ups with their pockets and holes, what cuts them, what is left standing.

*Set-up*: one way in which a part lies in the machine; named after the face that looks up, "front", "back" or an edge.
Its plane is the part's face as the one who stands before it sees it: u to the right, v up, origin at the face's lower
left corner, depth from the face down, [mm]. `layouts.milling.frame` turns it into the panel frame and back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geom.features import Cylinder
from geom.frame import Face, Vec
from geom.outline import Loop, Point, Region
from layouts.panel import EndMill

ToolKind = Literal["end mill", "drill", "chamfer cutter", "tap"]


@dataclass(frozen=True, slots=True)
class Pocket:
    """What an end mill cuts: a region of the set-up's plane, from `top` to `floor`.

    Parameters
    ----------
    name : str
        The feature's.
    kind : str
        The feature's.
    region, islands : tuple of Loop
        In the set-up's plane, exact lines and arcs, [mm]; the islands are left standing.
    top, floor : float
        Depths under the set-up's face, [mm].
    volume_mm3 : float
        Of the feature's own shape, [mm3]; what it shares with another is counted with both.
    """

    name: str
    kind: str
    region: Region
    islands: Region
    top: float
    floor: float
    volume_mm3: float

    @property
    def depth(self) -> float:
        """From top to floor, [mm]."""
        return self.floor - self.top


@dataclass(frozen=True, slots=True)
class Hole:
    """What of a round feature lies in one part: a port through a cover into the body is two.

    Parameters
    ----------
    name, kind : str
        The feature's.
    part : str
    face : Face
        Those of its set-up: it is made from this face.
    bore : Cylinder
        What of the feature lies in the part, from its own mouth, in the panel frame, [mm].
    at : (float, float)
        In the set-up's plane, [mm].
    top : float
        How deep its mouth lies under the set-up's face, [mm].
    starts, through : bool
        Whether it opens the part's near side, and its far side.
    thread : str
        What is tapped into it: "G1/4", "M4"; empty where nothing is.
    thread_depth : float
        Length of the thread, [mm].
    volume_mm3 : float
        [mm3]
    """

    name: str
    kind: str
    part: str
    face: Face
    bore: Cylinder
    at: Point
    top: float
    starts: bool
    through: bool
    thread: str
    thread_depth: float
    volume_mm3: float

    @property
    def diameter(self) -> float:
        """[mm]"""
        return 2 * self.bore.radius

    @property
    def depth(self) -> float:
        """From its mouth to where it has its whole width, [mm]."""
        return self.bore.length

    @property
    def chamfer(self) -> float:
        """Of its mouth, on the radius, [mm]."""
        return self.bore.chamfer

    @property
    def end(self) -> Vec:
        """The middle of its end, in the panel frame, [mm]."""
        return walk(self.bore, self.bore.length)


def walk(bore: Cylinder, by: float) -> Vec:
    """Return the point of a bore's axis that lies `by` from its mouth, [mm]."""
    (x, y, z), (dx, dy, dz) = bore.mouth, bore.direction
    return x + dx * by, y + dy * by, z + dz * by


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
class SetUp:
    """One way in which a part lies in the machine, and what is cut in it.

    Parameters
    ----------
    part : str
        "body", "cover", "front cover".
    face : Face
        The face that looks up.
    size : (float, float)
        Of the part's face, u and v, [mm].
    height : float
        How high the part stands on the table, [mm].
    outline : Loop or None
        The part's outline in the set-up's plane where it is cut in this set-up; in none where the sheet is the part.
    pockets : tuple of Pocket
    holes : tuple of Hole
        In the order in which they are made: the narrow ones first.
    on : {"machine", "drill press"}
        Where it is done.
    """

    part: str
    face: Face
    size: tuple[float, float]
    height: float
    outline: Loop | None
    pockets: tuple[Pocket, ...]
    holes: tuple[Hole, ...]
    on: Literal["machine", "drill press"] = "machine"


@dataclass(frozen=True, slots=True)
class Cutting:
    """Which end mills cut one pocket: `rough` takes most of it, `finish` the rest; the same where one does both.

    Both None where none at hand goes in. `tightest` is the radius of its tightest inner corner, 0 where that is sharp
    and endless where it has none, [mm], and `tightest_at` its place at the floor, in the panel frame; round ends of
    slots are no corners. `at` is a place on the pocket's floor, [mm].
    """

    part: str
    face: Face
    pocket: str
    rough: EndMill | None
    finish: EndMill | None
    tightest: float = math.inf
    tightest_at: tuple[float, float, float] | None = None
    at: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Rest:
    """What the cutters leave standing in a pocket.

    Parameters
    ----------
    pocket : str
    at : (float, float, float)
        The corner itself, or the middle of the narrowest way; at the floor, in the panel frame, [mm].
    radius : float
        Of the tightest inner corner there, [mm]; 0 where it is sharp, half of the way where that is narrower.
    width : float
        Of the narrowest way there, [mm]; the cutter's diameter where it passes and only a corner is left.
    cutter : float
        Diameter of the cutter that leaves it, the best there is, [mm].
    area : float
        In plan, [mm2].
    """

    pocket: str
    at: tuple[float, float, float]
    radius: float
    width: float
    cutter: float
    area: float


@dataclass(frozen=True, slots=True)
class Job:
    """A line of the cutter list: one tool in one set-up.

    Parameters
    ----------
    part : str
    face : Face
    tool : ToolKind
    size : str
        "6 mm", "G1/4".
    diameter : float
        [mm]
    cuts : tuple of str
        Names of what it cuts, in order.
    volume_mm3 : float
        That it takes, each part once, [mm3].
    deepest : float
        How far it reaches into the part, [mm].
    minutes : float
        Cutting and moving, without set-up and tool change.
    speed_rpm, feed_mm_min : float
    """

    part: str
    face: Face
    tool: ToolKind
    size: str
    diameter: float
    cuts: tuple[str, ...]
    volume_mm3: float
    deepest: float
    minutes: float
    speed_rpm: float
    feed_mm_min: float


@dataclass(frozen=True, slots=True)
class Milled:
    """How the parts that are milled are cut.

    Parameters
    ----------
    setups : tuple of SetUp
        In the order in which they are done.
    cuttings : tuple of Cutting
        One for each pocket.
    rests : tuple of Rest
    jobs : tuple of Job
        In the order in which they are done.
    removed_mm3 : float
        Cut out of the blanks of all parts, [mm3]: what the jobs take, the outlines aside.
    minutes : float
        All of it: jobs, tool changes, set-ups.
    assumptions : tuple of str
        What the time stands on, a sentence each.
    outline_mm3 : float
        Chips of the cuts that free the parts from their sheets, [mm3].
    stocks : tuple of Stock
        The sheet of each part, in the order of the parts.
    """

    setups: tuple[SetUp, ...]
    cuttings: tuple[Cutting, ...] = ()
    rests: tuple[Rest, ...] = ()
    jobs: tuple[Job, ...] = ()
    removed_mm3: float = 0.0
    minutes: float = 0.0
    assumptions: tuple[str, ...] = ()
    outline_mm3: float = 0.0
    stocks: tuple[Stock, ...] = ()

    def cutting_of(self, part: str, face: Face, pocket: str) -> Cutting:
        """Return what cuts a pocket; KeyError where there is no such pocket."""
        for cutting in self.cuttings:
            if (cutting.part, cutting.face, cutting.pocket) == (part, face, pocket):
                return cutting
        raise KeyError(pocket)
