"""What the plan's stages hand on: frozen values, in mm and SI.

*Node*: a whole multiple of the pitch (column, row). *Channel*: one connected run of coolant in the plate
between two or more ends. *Run*: one polyline of a channel with rounded corners; a channel with three or more
ends has several runs that meet at T-junctions. *Leg*: a piece of a channel between two ends or junctions,
with one flow.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.features import Detail
from geom.findings import Finding
from geom.frame import Face
from geom.outline import Point, Segment, path_length
from layouts.advice import Advised
from layouts.filling.values import Filling
from layouts.milling.work import Milled
from layouts.panel import Box, Panel
from layouts.printing.printed import Printed
from layouts.tubes.values import TubeRun

SHUT_ROLES = ("fill", "bleed", "drain")
"""Roles of ports that a plug closes while the pump runs."""

Layer = Literal["back", "front"]
"""Face of the body that a channel is cut into."""

SpacingLimit = Literal["stiffness", "diameters", "thicknesses", "file"]
"""What sets the spacing of a cover's screws: its stiffness, screw diameters, or thicknesses of a plastic cover."""


@dataclass(frozen=True, slots=True)
class PlacedPort:
    """A port with its place.

    Parameters
    ----------
    name, part, role, thread : str
        As in `layouts.panel.Port`.
    on : Face
    at : (float, float, float)
        Centre of its mouth on the outer face, [mm].
    foot : (float, float)
        Where its axis meets the channel's end in plan, [mm]: a grid node (for the fill port: a point in the
        tank; for a bleed or drain of its own: anywhere on the centreline, or in the tank).
    channel : str
        The channel it opens into; "tank" for the fill port and a drain of the pocket.
    depth : float
        Length of the bore from the mouth, [mm].
    layer : {"back", "front"}
        That of the channel's end which it opens into.
    """

    name: str
    part: str
    role: str
    thread: str
    on: Face
    at: tuple[float, float, float]
    foot: Point
    channel: str
    depth: float
    layer: Layer = "back"

    @property
    def is_shut(self) -> bool:
        """Whether a plug closes it while the pump runs: it serves only to fill, bleed or drain."""
        return self.role in SHUT_ROLES


@dataclass(frozen=True, slots=True)
class PlacedTank:
    """The pocket's box and its outlet (where the drop leaves its lower wall), [mm]. Box None: separate.

    `posts` are the centres of the posts of the body left standing in it, `post_diameter` theirs.
    """

    box: Box | None
    outlet: Point
    corner_radius: float
    posts: tuple[Point, ...] = ()
    post_diameter: float = 0.0


@dataclass(frozen=True, slots=True)
class PlacedPump:
    """Inlet and outlet nodes, screws, in plan, [mm]; turn in degrees counter-clockwise.

    `outlet_layer` is that of the channel's end which the outlet bore opens into; the inlet's is "back".
    """

    inlet: Point
    outlet: Point
    turn_deg: int
    screws: tuple[Point, ...]
    outlet_layer: Layer = "back"


@dataclass(frozen=True, slots=True)
class Run:
    """Corners of one polyline in one layer, [mm], from end to end or through hole to the next.

    A run that ends at a T stops inside the other run.
    """

    points: tuple[Point, ...]
    layer: Layer = "back"


@dataclass(frozen=True, slots=True)
class Leg:
    """A piece with one flow.

    `start` and `end` name ends ("pump outlet", "tank outlet", "tank return", a port's name) or junctions
    ("CHANNEL junction 1"). `points` are its corners on the true centreline, [mm]. Corner points on which the
    centreline bends by 90 degrees are bends; others are straight. At the points with the numbers `holes` it
    passes through to the other layer (a change of direction there is no bend: a through hole has its own loss);
    `layer` is that of its first point.
    """

    name: str
    start: str
    end: str
    points: tuple[Point, ...]
    layer: Layer = "back"
    holes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Junction:
    """A T: the two legs in line and the leg that branches off, by leg name."""

    name: str
    at: Point
    in_line: tuple[str, str]
    branch: str


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the plate. `ends` in flow order: where coolant comes from first; [mm].

    `holes` are the centres of its through holes.
    """

    name: str
    ends: tuple[str, ...]
    runs: tuple[Run, ...]
    legs: tuple[Leg, ...]
    junctions: tuple[Junction, ...]
    width: float
    depth: float
    bend_radius: float
    holes: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Routed:
    """Everything placed and routed, verified on exact outlines.

    `cost` and `bound` are pressures, [Pa]: what the channels, bends and through holes lose at the flow that the
    search reckons with, each channel's weighed by its share of the loop's flow (that is the part of the pump's
    head which they take). `gap` is (cost - bound) / cost, None without a bound; `status` is "optimal (proven)",
    "within g % (proven)" or "found (no bound)". Channels stand in flow order from the tank; the drain comes
    last. `channels_pa` is `cost` without the drain, which carries nothing and costs only so that it is short;
    `design_flow_m3_s` is the loop's flow for which all this holds.
    """

    ports: tuple[PlacedPort, ...]
    tank: PlacedTank
    pump: PlacedPump
    channels: tuple[Channel, ...]
    cost: float
    bound: float | None
    gap: float | None
    status: str
    channels_pa: float = 0.0
    design_flow_m3_s: float = 0.0

    def channel(self, name: str) -> Channel:
        """Return the channel called `name`; KeyError where there is none."""
        for channel in self.channels:
            if channel.name == name:
                return channel
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class CordLoop:
    """One cord in its groove, round a wet region at a joint face.

    Parameters
    ----------
    name, region : str
        "groove 1" ...; the wet region's name.
    path : tuple of Line or Arc
        Middle of groove and cord, [mm], tangent-continuous; what is wet lies on its left.
    groove_width, cord_width : float
        Of the groove, and of the squeezed cord, [mm].
    layer : {"back", "front"}
        The joint it lies in: of the body with its back cover, or with its front cover.
    closed : bool
        False where it ends in the grooves named in `meets`, at both ends: two regions share those.
    meets : tuple of str
        Names of the grooves in which an open one starts and ends.
    """

    name: str
    region: str
    path: tuple[Segment, ...]
    groove_width: float
    cord_width: float
    layer: Layer = "back"
    closed: bool = True
    meets: tuple[str, ...] = ()

    @property
    def length(self) -> float:
        """Length along the middle of the groove, [mm]."""
        return path_length(self.path)


@dataclass(frozen=True, slots=True)
class OpenStretch:
    """A stretch of cord that no screw reaches: its middle and length, [mm], and what keeps screws away there."""

    loop: str
    at: Point
    length: float
    blockers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Coverage:
    """How well a cover's screws hold its cords down.

    Parameters
    ----------
    layer : {"back", "front"}
        Whose joint the cover closes.
    spacing : float
        Greatest distance allowed between neighbouring screws along a cord, [mm].
    limit : {"stiffness", "diameters", "thicknesses", "file"}
        What sets it.
    reach : float
        Greatest distance from a place of a cord to its nearest screw, [mm].
    least : int
        Proven: fewer screws, at the places that were tried, leave some place of a cord or of the rim farther from
        one than there is room for.
    stretches : tuple of OpenStretch
        The longest first; empty where all cords are held.
    crowded : float or None
        The closest spacing that what thread and head may carry asks for at some place, [mm]; None where what sets
        the spacing everywhere is enough for them.
    """

    layer: Layer
    spacing: float
    limit: SpacingLimit
    reach: float
    least: int
    stretches: tuple[OpenStretch, ...] = ()
    crowded: float | None = None


@dataclass(frozen=True, slots=True)
class BondedLands:
    """The lands of a bonded joint and how its cover is pressed on while the bond sets.

    Parameters
    ----------
    layer : {"back", "front"}
        The joint.
    area_mm2, wet_mm2 : float
        Of all lands, and of what the coolant presses on, [mm2].
    rim : float
        Length of all wet edges of the lands, [mm].
    least_width : float
        Of the narrowest land, [mm].
    least_ends : (Point, Point)
        Its two ends, [mm], on what `between` names, in that order.
    between : (str, str)
        What it lies between.
    pulled : str
        The wet thing whose rim the cover pulls on most.
    span, beside : float
        Its width, and that of the narrowest land beside it, [mm].
    pulled_at : (float, float)
        The middle of that land, [mm].
    reach : float
        How far from a clamp's or a weight's middle the land is pressed, [mm].
    clamps, weights : tuple of (float, float)
        Where clamps stand, counter-clockwise along the edge, and weights where no clamp reaches in, [mm].
    pressed_mm2 : tuple of float
        Land that each presses, the clamps' first, [mm2]; all together `area_mm2`.
    unpressed_mm2 : float
        Land that is further than `reach` from all of them, [mm2].
    unpressed_at : (float, float) or None
        A place of it, [mm]; None where there is none.
    """

    layer: Layer
    area_mm2: float
    wet_mm2: float
    rim: float
    least_width: float
    least_ends: tuple[Point, Point]
    between: tuple[str, str]
    pulled: str
    span: float
    beside: float
    pulled_at: Point
    reach: float
    clamps: tuple[Point, ...]
    weights: tuple[Point, ...]
    pressed_mm2: tuple[float, ...]
    unpressed_mm2: float = 0.0
    unpressed_at: Point | None = None


@dataclass(frozen=True, slots=True)
class Sealed:
    """Cord loops (empty for bonded and one-piece) and cover screws in plan, [mm].

    `front_screws` are those of the front cover, where there is one; `coverage` has an entry for each cover that
    is screwed; `lands` one for each cover that is bonded. `pulls_n` is what finite elements say of the pull on each
    screw at the test pressure, in the screws' order, [N]: an entry for each cover that was calculated, none in a plan.
    """

    loops: tuple[CordLoop, ...]
    screws: tuple[Point, ...]
    front_screws: tuple[Point, ...] = ()
    coverage: tuple[Coverage, ...] = ()
    lands: tuple[BondedLands, ...] = ()
    pulls_n: tuple[tuple[Layer, tuple[float, ...]], ...] = ()

    def screws_of(self, layer: Layer) -> tuple[Point, ...]:
        """Return the screws of the cover that closes the joint of `layer`, [mm]."""
        return self.front_screws if layer == "front" else self.screws

    def loops_of(self, layer: Layer) -> tuple[CordLoop, ...]:
        """Return the cord loops in the joint of `layer`."""
        return tuple(loop for loop in self.loops if loop.layer == layer)

    def coverage_of(self, layer: Layer) -> Coverage | None:
        """Return the coverage of the joint of `layer`; None where its cover is not screwed."""
        return next((one for one in self.coverage if one.layer == layer), None)

    def pulls_of(self, layer: Layer) -> tuple[float, ...]:
        """Return the calculated pull on each screw of the cover over `layer`, [N]; empty where it was not."""
        return next((pulls for one, pulls in self.pulls_n if one == layer), ())

    def lands_of(self, layer: Layer) -> BondedLands | None:
        """Return the lands of the joint of `layer`; None where its cover is not bonded."""
        return next((one for one in self.lands if one.layer == layer), None)


@dataclass(frozen=True, slots=True)
class LegFlow:
    """Flow of one leg; velocity and Reynolds number in the channel's section.

    `band` is the relative band of its drop at this flow, from the formulas' stated errors, [-].
    """

    leg: str
    flow_m3_s: float
    velocity_m_s: float
    reynolds: float
    drop_pa: float
    straight_pa: float
    bends_pa: float
    turns_pa: float
    band: float = 0.0


@dataclass(frozen=True, slots=True)
class ChannelFlow:
    """Flow of one channel: that of its busiest leg; `drop_pa` from its first end to its furthest.

    `band` is the relative band of that drop at this flow, [-].
    """

    channel: str
    flow_m3_s: float
    velocity_m_s: float
    reynolds: float
    drop_pa: float
    length: float
    bends: int
    legs: tuple[LegFlow, ...]
    band: float = 0.0


@dataclass(frozen=True, slots=True)
class LoopStep:
    """One piece of the loop and the total pressures at its ends.

    Parameters
    ----------
    name : str
        "pump", a part's name, or a channel's name.
    kind : {"pump", "part", "channel"}
    start, end : str
        Nodes that it runs between, along its flow; "tank" is where the loop starts and ends.
    start_pa, end_pa : float
        Total pressure over that in the tank, tees of the piece included, [Pa]; height plays no part.
    flow_m3_s : float
        Greater than 0, [m3/s].
    band : float
        Relative band of the drop at this flow, [-]; 0 for the pump.
    """

    name: str
    kind: Literal["pump", "part", "channel"]
    start: str
    end: str
    start_pa: float
    end_pa: float
    flow_m3_s: float
    band: float


@dataclass(frozen=True, slots=True)
class PartFlow:
    """Flow through a part outside the panel, its restrictor included in the drop; `band` as in `LegFlow`."""

    part: str
    flow_m3_s: float
    drop_pa: float
    rise_k: float
    band: float = 0.0


@dataclass(frozen=True, slots=True)
class Flowing:
    """The loop at its operating point. `band` is the relative band of the flow from the formulas' errors.

    `head_band` is that of the pump's head; `steps` stand in flow order, starting at the tank.
    """

    channels: tuple[ChannelFlow, ...]
    parts: tuple[PartFlow, ...]
    flow_m3_s: float
    head_m: float
    loop_drop_pa: float
    band: float
    density_kg_m3: float
    viscosity_pa_s: float
    head_band: float = 0.0
    steps: tuple[LoopStep, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """All that is known before any solid. `printed` is there for a printed panel,
    `milled` where a part is milled: all of a milled panel, a printed one's covers of sheet; `filling` is how it fills
    and drains on coarse voxels, as installed; `tubes` lead from its ports to the parts', where the file says where
    these stand.
    """

    panel: Panel
    routed: Routed
    sealed: Sealed
    flowing: Flowing
    advised: Advised
    detail: Detail
    findings: tuple[Finding, ...]
    milled: Milled | None = None
    printed: Printed | None = None
    filling: Filling | None = None
    tubes: tuple[TubeRun, ...] = ()
