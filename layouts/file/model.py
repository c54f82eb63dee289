"""The shape of a panel file: its tables, keys, types and single-value ranges.

`panel_schema` is the same shape as JSON Schema for editors. What one value says about another is the business
of `layouts.file.checks`.

Annotations are not postponed here: pydantic would evaluate each from its text, which costs start-up time.
"""

from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import Field, StrictBool

from geom.frame import Face
from layouts.file.drawing import DrawingTable
from layouts.file.making_tables import MillingTable, PricesTable, PrintingTable
from layouts.file.quantities import (
    Angle,
    Conductance,
    Corners,
    CutterSize,
    Drop,
    Entry,
    Flow,
    Head,
    LengthOrZero,
    Level,
    Name,
    Number,
    Pair,
    Place,
    Power,
    Pressure,
    Reason,
    ServicePorts,
    Share,
    Size,
    SizePair,
    SomeFlow,
    Sound,
    Speed,
    Step,
    Temperature,
    Tolerance,
    Velocity,
    Volume,
)
from layouts.file.tube_tables import CaseTable, MeetsEntry, TubeTable

PORT_EXAMPLE = {"on": "front", "at": ["40 mm", "40 mm"]}


class PortEntry(Entry):
    """A threaded opening: one of `at`, `within` (front and back) or `between` (an edge) says where."""

    on: Face = Field(description="face that it opens in", examples=["front"])
    thread: Name = Field(default="G1/4", description="a row of the thread table")
    at: Place | None = Field(
        default=None, description="fixed place: [x, y] on front and back, one length along an edge"
    )
    within: Corners | None = Field(default=None, description="x0, y0, x1, y1 that it must stay inside")
    between: Pair | None = Field(
        default=None, description="span along an edge, from the left or from the bottom"
    )
    hose: Literal["rises", "falls"] | None = Field(
        default=None,
        description="of a part's port: which way its hose leaves as the panel is installed; not known unless given",
        examples=["rises"],
    )
    meets: MeetsEntry | None = Field(
        default=None, description="of a part's port: the part's own port that a tube joins it to"
    )


class PanelTable(Entry):
    """The plate."""

    name: Name = Field(examples=["workshop render"])
    size: SizePair = Field(description="width, height, seen from the front", examples=[["340 mm", "180 mm"]])
    corner_radius: LengthOrZero = Field(default=0.0, examples=["6 mm"])
    pitch: Size = Field(description="grid: nodes at whole multiples from the lower left", examples=["5 mm"])
    up: Annotated[list[Number], Field(min_length=3, max_length=3)] = Field(
        default=[0.0, 1.0, 0.0], description="which way is up when installed", examples=[[0, 1, 0]]
    )


class MakeTable(Entry):
    """How the panel is made."""

    method: Literal["milled", "printed"] = Field(examples=["milled"])
    closing: Literal["cord", "bonded", "one-piece"] = Field(examples=["cord"])
    material: Name = Field(description="a row of the materials table", examples=["PMMA cast"])
    body: Size = Field(description="thickness of the body", examples=["20 mm"])
    cover: Size | None = Field(default=None, description="thickness of the cover", examples=["8 mm"])
    cord: Size | None = Field(
        default=None, description="cord diameter, a row of the cord table", examples=["2 mm"]
    )
    screw: Name | None = Field(
        default=None, description="cover screw, a row of the screw table", examples=["M4"]
    )
    cutter: CutterSize | None = Field(default=None, description="smallest channel cutter", examples=["6 mm"])
    cover_material: Name | None = Field(
        default=None,
        description="a row of the materials table; that of the body unless given",
        examples=["aluminium 6082-T6"],
    )
    share_groove: StrictBool = Field(
        default=False,
        description="whether two neighbouring channels may share one groove where two do not fit",
        examples=[True],
    )
    inserts: StrictBool = Field(
        default=False,
        description="whether the cover's screws hold in threaded inserts",
        examples=[True],
    )
    large_washers: StrictBool = Field(
        default=False,
        description="whether large washers (ISO 7093-1) lie under the heads of the cover's screws",
        examples=[True],
    )
    screw_spacing: Size | None = Field(
        default=None,
        description="most between neighbouring cover screws along a cord; what the cover stands unless given",
        examples=["30 mm"],
    )
    screw_hole: Size | None = Field(
        default=None,
        description="hole of the cover's screws in the cover; that of the screw table unless given",
        examples=["4.8 mm"],
    )
    room: Annotated[list[Size], Field(min_length=3, max_length=3)] | None = Field(
        default=None, description="travel of the machine or printer", examples=[["400 mm", "300 mm", "80 mm"]]
    )
    tolerance: Tolerance = Field(
        default="m",
        description="general tolerances: a class of ISO 2768-1 (f, m, c, v), with one of ISO 2768-2 (H, K, L) or not",
        examples=["mK"],
    )


class ChannelTable(Entry):
    """Section of the channels."""

    width: Size = Field(examples=["8 mm"])
    depth: Size = Field(examples=["9 mm"])
    bend_radius: Size = Field(description="centreline radius of bends", examples=["14 mm"])
    layers: Annotated[int, Field(strict=True, ge=1, le=2)] = Field(default=1, examples=[1])
    widen_to: Size | None = Field(
        default=None,
        description="width up to which each channel grows where its walls allow",
        examples=["12 mm"],
    )
    own: dict[str, Size] = Field(
        default={},
        description="channels with a width of their own, by the name that the plan gives them",
        examples=[{"pump - processor block": "10 mm"}],
    )


class CoolantTable(Entry):
    """The coolant."""

    fluid: Literal["water", "ethylene glycol", "propylene glycol"] = Field(examples=["water"])
    mass_fraction: Share | None = Field(
        default=None, description="glycol in water, by mass", examples=["30 %"]
    )
    temperature: Temperature = Field(examples=["35 °C"])
    inhibited: StrictBool = Field(
        default=False,
        description="whether it holds inhibitors for every metal of the loop",
        examples=[True],
    )
    ambient: Temperature | None = Field(
        default=None, description="of the air around the radiators", examples=["22 °C"]
    )


class TankTable(Entry):
    """The feed tank."""

    kind: Literal["pocket", "separate"] = Field(examples=["pocket"])
    size: SizePair | None = Field(default=None, examples=[["90 mm", "55 mm"]])
    depth: Size | None = Field(default=None, examples=["14 mm"])
    within: Corners | None = Field(
        default=None, description="x0, y0, x1, y1 that the pocket must stay inside"
    )
    at: Pair | None = Field(
        default=None, description="the pocket's lower left corner", examples=[["200 mm", "110 mm"]]
    )
    outlet_bore: Size | None = Field(default=None, description="the channel's width unless given")
    fill: PortEntry | None = Field(default=None, description="fill port of a pocket", examples=[PORT_EXAMPLE])
    outlet: PortEntry | None = Field(
        default=None, description="where a separate tank's coolant enters the panel", examples=[PORT_EXAMPLE]
    )
    inlet: PortEntry | None = Field(
        default=None,
        description="where coolant leaves the panel for a separate tank",
        examples=[PORT_EXAMPLE],
    )
    volume: Volume | None = Field(default=None, description="volume of a separate tank", examples=["250 mL"])
    level: Level = Field(default=0.85, description="cold fill level", examples=["85 %"])
    posts: Literal["none", "auto"] = Field(
        default="none",
        description="whether posts with screws are left standing in a pocket where its cover would bow too far",
        examples=["auto"],
    )


class SeatEntry(Entry):
    """A round recess for the pump's body."""

    diameter: Size = Field(examples=["66 mm"])
    depth: LengthOrZero = Field(default=0.0, examples=["1.5 mm"])


class ScrewsEntry(Entry):
    """The pump's screws on their circle."""

    size: Name = Field(description="a row of the screw table", examples=["M4"])
    circle: Size = Field(description="diameter of the screw circle", examples=["76 mm"])
    count: Annotated[int, Field(strict=True, ge=2, le=24)] = Field(examples=[4])


Curve = Annotated[list[tuple[Flow, Head]], Field(min_length=2)]
SpeedRange = Annotated[list[Speed], Field(min_length=2, max_length=2)]


class ChoiceEntry(Entry):
    """One of several pumps to choose from; what it leaves out is as in [pump]."""

    name: Name = Field(examples=["small pump"])
    curve: Curve = Field(
        description="[flow, head] points", examples=[[["0 L/min", "3.9 m"], ["8 L/min", "2 m"]]]
    )
    inlet_bore: Size | None = Field(default=None, examples=["10 mm"])
    outlet_bore: Size | None = Field(default=None, examples=["10 mm"])
    seat: Size | None = Field(default=None, description="diameter of its seat", examples=["60 mm"])
    least_inlet_head: Head | None = Field(
        default=None, description="head its inlet needs", examples=["0.1 m"]
    )
    power: Power | None = Field(default=None, description="electric, at the most speed", examples=["10 W"])
    speed: SpeedRange | None = Field(
        default=None,
        description="least, most; the curve is that of the most speed",
        examples=[["1200 rpm", "4800 rpm"]],
    )
    noise: Sound | None = Field(default=None, description="sound level at the most speed", examples=["36 dB"])


class PumpTable(Entry):
    """The pump: bolted to a face, seat and screw circle centred on its inlet."""

    on: Literal["front", "back"] = Field(description="face it is bolted to", examples=["front"])
    within: Corners | None = Field(default=None, description="x0, y0, x1, y1 that the seat must stay inside")
    at: Pair | None = Field(default=None, description="place of the inlet", examples=[["260 mm", "60 mm"]])
    inlet_bore: Size = Field(examples=["10 mm"])
    outlet_bore: Size = Field(examples=["10 mm"])
    outlet_offset: Pair = Field(
        description="from the inlet to the outlet, before turning", examples=[["20 mm", "0 mm"]]
    )
    turns: Annotated[list[Angle], Field(min_length=1)] = Field(
        default=[0.0],
        description="turns allowed, counter-clockwise from the front",
        examples=[["0 deg", "90 deg"]],
    )
    seat: SeatEntry | None = None
    screws: ScrewsEntry | None = None
    curve: Curve | None = Field(
        default=None,
        description="[flow, head] points; the first choice's unless given",
        examples=[[["0 L/min", "3.9 m"], ["8 L/min", "2 m"]]],
    )
    name: Name | None = Field(default=None, description="of the pump whose curve this is", examples=["pump"])
    power: Power | None = Field(default=None, description="electric, at the most speed", examples=["10 W"])
    speed: SpeedRange | None = Field(
        default=None,
        description="least, most; the curve is that of the most speed",
        examples=[["1200 rpm", "4800 rpm"]],
    )
    least_inlet_head: Head | None = Field(
        default=None, description="head its inlet needs", examples=["0.1 m"]
    )
    noise: Sound | None = Field(default=None, description="sound level at the most speed", examples=["36 dB"])
    run_at: Speed | None = Field(
        default=None, description="speed at which it runs; the most unless given", examples=["3000 rpm"]
    )
    most_noise: Sound | None = Field(
        default=None, description="noise that the pump may make", examples=["30 dB"]
    )
    use: Name | None = Field(
        default=None,
        description="the choice that the panel is made for; [pump]'s own curve, else the first, unless given",
        examples=["small pump"],
    )
    choice: list[ChoiceEntry] = Field(default=[], description="pumps to choose from")


class PartTable(Entry):
    """Whatever the loop passes outside the panel."""

    name: Name = Field(examples=["processor block"])
    heat: Power = Field(default=0.0, examples=["140 W"])
    resistance: Annotated[list[tuple[SomeFlow, Drop]], Field(min_length=1)] = Field(
        description="[flow, pressure drop] points", examples=[[["2 L/min", "5.5 kPa"], ["4 L/min", "20 kPa"]]]
    )
    capacity: Annotated[list[tuple[SomeFlow, Conductance]], Field(min_length=1)] | None = Field(
        default=None,
        description="of a radiator: [flow, heat per kelvin between the coolant entering and the air] points",
        examples=[[["2 L/min", "16 W/K"], ["4 L/min", "20 W/K"]]],
    )
    restrictor: Size | None = Field(
        default=None, description="bore of an orifice in its inlet fitting", examples=["4 mm"]
    )
    volume: Volume | None = Field(default=None, description="coolant that it holds", examples=["60 mL"])
    metal: Literal["aluminium", "copper", "brass", "stainless steel", "nickel"] | None = Field(
        default=None, description="of its wetted faces", examples=["copper"]
    )
    inlet: PortEntry = Field(
        description="where coolant leaves the panel for the part", examples=[PORT_EXAMPLE]
    )
    outlet: PortEntry = Field(description="where coolant comes back into the panel", examples=[PORT_EXAMPLE])


class LoopTable(Entry):
    """The order of flow."""

    order: list[Step] = Field(
        description="from tank to tank; an inner list flows in parallel, a list in that in series, and so on",
        examples=[["tank", "pump", "processor block", "tank"]],
    )
    flow: SomeFlow | None = Field(default=None, description="flow that is wanted", examples=["4 L/min"])
    hose_volume: Volume | None = Field(
        default=None, description="coolant that all hoses hold together", examples=["120 mL"]
    )


class DrainTable(Entry):
    """Where the panel is emptied."""

    port: PortEntry = Field(examples=[PORT_EXAMPLE])


class ServiceTable(Entry):
    """Ports that serve only to fill, bleed and drain."""

    bleed: ServicePorts = Field(
        default="none",
        description='"auto": where air would stay; or names of the channels that get one',
        examples=["auto"],
    )
    drain: ServicePorts = Field(
        default="none",
        description='beside the [drain]; "auto": where coolant would stay; or names of channels, "tank" among them',
        examples=["auto"],
    )
    thread: Name = Field(default="G1/8", description="of these ports: a row of the thread table")


class KeepClearTable(Entry):
    """A region that nothing wet, no screw and no port may enter."""

    name: Name = Field(examples=["cable slot"])
    box: Corners = Field(description="x0, y0, x1, y1", examples=[["150 mm", "0 mm", "170 mm", "30 mm"]])


MOST_CORNERS = 1000
"""Corners of one run of a kept route, and runs of one layer: no channel comes near."""

KeptRun = Annotated[list[Pair], Field(min_length=2, max_length=MOST_CORNERS)]
"""Corners from end to end, through hole or T."""
KeptRuns = Annotated[list[KeptRun], Field(max_length=MOST_CORNERS)]


class KeepRouteTable(Entry):
    """A channel whose route stays as written, whatever else is routed anew."""

    channel: str = Field(
        description="by the name that the plan gives it", examples=["pump - processor block"]
    )
    back: KeptRuns = Field(
        default=[],
        description="corners of each of its runs in the back layer, on grid nodes",
        examples=[[[["305 mm", "60 mm"], ["240 mm", "60 mm"]]]],
    )
    front: KeptRuns = Field(
        default=[],
        description="the same in the front layer, where there are two",
        examples=[[[["305 mm", "60 mm"], ["240 mm", "60 mm"]]]],
    )


class RulesTable(Entry):
    """Limits of the checks, and findings accepted."""

    least_wall: Size = Field(default=2.0, examples=["2 mm"])
    most_velocity: Velocity = Field(default=1.5, examples=["1.5 m/s"])
    test_pressure: Pressure = Field(default=5e4, examples=["0.5 bar"])
    accept: dict[str, Reason] = Field(default={}, description="finding code to the reason for accepting it")


class PanelFile(Entry):
    """A panel file."""

    panel: PanelTable
    make: MakeTable
    channel: ChannelTable
    coolant: CoolantTable
    tank: TankTable
    pump: PumpTable
    part: list[PartTable] = Field(min_length=1)
    loop: LoopTable
    drain: DrainTable | None = None
    service: ServiceTable | None = None
    keep_clear: list[KeepClearTable] = Field(default=[])
    keep_route: list[KeepRouteTable] = Field(default=[])
    milling: MillingTable | None = None
    printing: PrintingTable | None = None
    prices: PricesTable | None = None
    case: CaseTable | None = None
    tube: TubeTable | None = None
    drawing: DrawingTable | None = None
    rules: RulesTable = Field(default_factory=RulesTable)


@lru_cache(maxsize=1)
def panel_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a panel file."""
    schema = PanelFile.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Panel file",
        "description": "A liquid-cooling distribution panel: the plate, what it joins, and how it is made.",
    }
