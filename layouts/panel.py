"""The panel file as data: frozen values in mm and SI, checked by `layouts.file.read`."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from geom.frame import Face
from geom.outline import Point
from layouts.case import Case, MeetingPort, Tubing
from layouts.drawing_choice import DrawingChoice

Box = tuple[float, float, float, float]
"""(x0, y0, x1, y1), [mm]."""

Method = Literal["milled", "printed"]
Closing = Literal["cord", "bonded", "one-piece"]
ProcessName = Literal["filament", "resin"]
RoofChoice = Literal["auto", "flat", "pointed", "round"]


@dataclass(frozen=True, slots=True)
class Port:
    """A threaded opening that the file asks for.

    Exactly one of `at`, `within`, `between` is set; a fill port may leave all three open.

    Parameters
    ----------
    name : str
        "processor block inlet", "fill", "drain", "tank return" ...: unique in the panel.
    part : str
        The part it belongs to, or "tank" or "drain".
    role : str
        "inlet" and "outlet" are the part's own: coolant leaves the panel through a part's inlet.
    on : Face
    thread : str
        A row of the thread table.
    at : (float, float) or None
        Fixed place, [mm]; on front and back (x, y), on an edge the place along it is `between`.
    within : Box or None
        Front or back: where the solver may put it, [mm].
    between : (float, float) or None
        An edge: span along it, [mm], from the left or from the bottom.
    key : str
        Dotted key in the file, for messages.
    line : int
        Line in the file.
    hose : {"rises", "falls"} or None
        Which way its hose leaves it as the panel is installed; None: not given.
    meets : MeetingPort or None
        The part's own port that a tube joins it to; None: not given.
    """

    name: str
    part: str
    role: str
    on: Face
    thread: str
    at: tuple[float, float] | None
    within: Box | None
    between: tuple[float, float] | None
    key: str
    line: int
    hose: Literal["rises", "falls"] | None = None
    meets: MeetingPort | None = None


@dataclass(frozen=True, slots=True)
class Make:
    """How it is made; lengths in mm. `cord`, `cutter` are 0 where they do not apply; `room` may be None.

    `cover_material` is the material of the covers, `inserts` whether their screws hold in threaded inserts,
    `share_groove` whether two neighbouring channels may share one groove where two do not fit. `large_washers` puts
    large washers under the heads of the cover screws; `screw_spacing` is the
    most that the file allows between them along a cord; `screw_hole` is their hole in the cover, the table's where
    it is 0. `tolerance` is the class of general tolerances, ISO 2768: "m", or "mK" with one of form too.
    """

    method: Method
    closing: Closing
    material: str
    body: float
    cover: float
    cord: float
    screw: str
    cutter: float
    room: tuple[float, float, float] | None
    cover_material: str = ""
    share_groove: bool = False
    inserts: bool = False
    large_washers: bool = False
    screw_hole: float = 0.0
    screw_spacing: float | None = None
    tolerance: str = "m"

    @property
    def cover_row(self) -> str:
        """Name of the cover's row in the materials table: the body's unless the file gives one."""
        return self.cover_material or self.material


@dataclass(frozen=True, slots=True)
class EndMill:
    """An end mill at hand: diameter, [mm]; `reach` is how deep it cuts before its holder touches, [mm]."""

    diameter: float
    reach: float | None = None
    teeth: int = 2


@dataclass(frozen=True, slots=True)
class Milling:
    """What milled parts are cut with.

    Parameters
    ----------
    cutters : tuple of EndMill
        At hand, small to large; empty: the common sizes (`layouts.milling.cutters`).
    edges : {"machine", "drill press"}
        Where edge bores are drilled: standing on the machine, or on a drill press.
    stock : (float, float) or None
        Width and height of the sheet, [mm].
    speed_rpm : float or None
        Most turns of the spindle, [1/min].
    """

    cutters: tuple[EndMill, ...] = ()
    edges: Literal["machine", "drill press"] = "machine"
    stock: tuple[float, float] | None = None
    speed_rpm: float | None = None


@dataclass(frozen=True, slots=True)
class Printing:
    """How a printed panel is printed; None where the process's own value holds (`layouts.printing.process`).

    Parameters
    ----------
    process : {"filament", "resin"}
    line_width, layer : float or None
        Width of one line and height of one layer, [mm].
    lies_on : Face or None
        The face that lies on the bed; None: chosen.
    tilts : tuple of float
        Tilts that are tried beside the six faces, [deg].
    roofs : {"auto", "flat", "pointed", "round"}
        Shape of the roofs over channels that lie in the print.
    port_threads : {"tapped", "printed"}
    thread_clearance : float or None
        What printed threads are wider on the diameter, [mm].
    bore_offset : float or None
        What bores are made wider on the diameter, [mm].
    shrink : float
        What the print shrinks, made up for, [-].
    """

    process: ProcessName = "filament"
    line_width: float | None = None
    layer: float | None = None
    lies_on: Face | None = None
    tilts: tuple[float, ...] = ()
    roofs: RoofChoice = "auto"
    port_threads: Literal["tapped", "printed"] = "tapped"
    thread_clearance: float | None = None
    bore_offset: float | None = None
    shrink: float = 0.0


@dataclass(frozen=True, slots=True)
class Service:
    """Ports that serve only to fill, bleed and drain.

    `bleed` and `drain` are "none", "auto" (where they clear most), or names of the channels that get one; "tank" for
    a drain of the pocket. `thread` is that of all of them.
    """

    bleed: Literal["none", "auto"] | tuple[str, ...] = "none"
    drain: Literal["none", "auto"] | tuple[str, ...] = "none"
    thread: str = "G1/8"


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices in one currency; None where the file gives none. `fitting_each` by thread."""

    currency: str
    material_per_kg: float | None = None
    cover_material_per_kg: float | None = None
    cord_per_m: float | None = None
    screw_each: float | None = None
    insert_each: float | None = None
    fitting_each: tuple[tuple[str, float], ...] = ()
    coolant_per_l: float | None = None
    machine_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class ChannelSection:
    """Section of the channels, [mm].

    Parameters
    ----------
    width, depth, bend_radius : float
    layers : int
        Faces of the body that hold channels.
    widen_to : float or None
        The width up to which each may grow where its walls allow.
    own : tuple of (str, float)
        Channels with a width of their own, by name.
    """

    width: float
    depth: float
    bend_radius: float
    layers: int
    widen_to: float | None = None
    own: tuple[tuple[str, float], ...] = ()

    def width_of(self, channel: str) -> float:
        """Return the width that the file asks for, [mm]: the channel's own, or that of all."""
        return dict(self.own).get(channel, self.width)

    @property
    def widths(self) -> tuple[float, ...]:
        """All widths that the file asks for, that of all channels first, [mm]."""
        return tuple(dict.fromkeys((self.width, *(width for _, width in self.own))))


@dataclass(frozen=True, slots=True)
class CoolantChoice:
    """Fluid name, mass fraction of glycol [-], temperature in use and of the air around [°C].

    `inhibited`: it holds inhibitors for every metal of the loop.
    """

    fluid: str
    mass_fraction: float
    temperature_c: float
    ambient_c: float | None = None
    inhibited: bool = False


@dataclass(frozen=True, slots=True)
class Tank:
    """The feed tank.

    A "pocket" is cut into the body: `size`, `depth` and one of `within`, `at` (its lower left corner) are
    set. A "separate" tank is a vessel above: `outlet` and `inlet` are its ports on the panel (coolant comes
    into the panel through `outlet`), `volume_ml` its volume. `posts` "auto": where the cover over a pocket would
    bow too far, posts of the body are left standing in it, a cover screw in each.
    """

    kind: Literal["pocket", "separate"]
    size: tuple[float, float] | None
    depth: float
    within: Box | None
    at: tuple[float, float] | None
    outlet_bore: float
    fill: Port | None
    outlet: Port | None
    inlet: Port | None
    volume_ml: float | None
    level: float
    line: int
    posts: Literal["none", "auto"] = "none"


@dataclass(frozen=True, slots=True)
class PumpChoice:
    """One of the pumps to choose from: that of [pump] where it has a curve, then each [[pump.choice]].

    Parameters
    ----------
    name : str
    curve : tuple of (float, float)
        Flow [m3/s] and head [m], at the most speed.
    inlet_bore, outlet_bore, seat_diameter : float
        [mm]; what a choice leaves out is that of [pump].
    least_inlet_head_m : float or None
        Head that its inlet needs over the coolant's vapour pressure, [m].
    power_w : float or None
        Electric, at the most speed, [W].
    speed : (float, float) or None
        Least and most, [rpm]; None where it runs at one speed.
    noise_db : float or None
        Sound level at the most speed, [dB].
    line : int
        Line in the file.
    """

    name: str
    curve: tuple[tuple[float, float], ...]
    inlet_bore: float
    outlet_bore: float
    seat_diameter: float
    least_inlet_head_m: float | None
    power_w: float | None
    speed: tuple[float, float] | None
    noise_db: float | None
    line: int


@dataclass(frozen=True, slots=True)
class Pump:
    """The pump: bolted to face `on`, its seat and screw circle centred on its inlet.

    `curve` is ((flow m3/s, head m), ...). The seat must stay inside `within`, or the inlet stands at `at`.
    `outlet_offset` [mm] goes from inlet to outlet before turning; `turns` are counter-clockwise degrees as
    seen from the front, multiples of 90. `choices` are all pumps of the file; curve, bores and seat are those
    of the one called `used`, its curve at `run_at_rpm` where that is given. `most_noise_db` is the noise that
    the maker allows.
    """

    on: Face
    within: Box | None
    at: tuple[float, float] | None
    inlet_bore: float
    outlet_bore: float
    outlet_offset: tuple[float, float]
    turns: tuple[int, ...]
    seat_diameter: float
    seat_depth: float
    screw_size: str | None
    screw_circle: float
    screw_count: int
    curve: tuple[tuple[float, float], ...]
    choices: tuple[PumpChoice, ...]
    line: int
    used: str = ""
    run_at_rpm: float | None = None
    most_noise_db: float | None = None

    def choice(self, name: str) -> PumpChoice:
        """Return the choice called `name`; KeyError where there is none."""
        for choice in self.choices:
            if choice.name == name:
                return choice
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Part:
    """Whatever the loop passes outside the panel.

    Parameters
    ----------
    name : str
    heat_w : float
        Heat that it gives to the coolant, [W].
    resistance : tuple of (float, float)
        Flow [m3/s] and drop [Pa].
    inlet, outlet : Port
    line : int
        Line in the file.
    capacity : tuple of (float, float)
        Of a radiator: flow [m3/s], and heat given to the air per kelvin between the coolant that enters it
        and the air around [W/K]; empty for other parts.
    restrictor : float or None
        Bore of an orifice in its inlet fitting, [mm].
    volume_ml : float or None
        Coolant that it holds, [mL].
    metal : str or None
        Of its wetted faces: "aluminium", "copper", "brass", "stainless steel" or "nickel".
    """

    name: str
    heat_w: float
    resistance: tuple[tuple[float, float], ...]
    inlet: Port
    outlet: Port
    line: int
    capacity: tuple[tuple[float, float], ...] = ()
    restrictor: float | None = None
    volume_ml: float | None = None
    metal: str | None = None


@dataclass(frozen=True, slots=True)
class KeepClear:
    """A region that nothing wet, no screw and no port may enter."""

    name: str
    box: Box
    line: int


@dataclass(frozen=True, slots=True)
class KeepRoute:
    """A route that the maker keeps: the channel stands as written, whatever else is routed anew.

    Parameters
    ----------
    channel : str
    back, front : tuple of polylines
        Corners of its runs in each layer, [mm], grid nodes from end to end or T; as in `layouts.plan.Leg.points`.
    line : int
        Line in the file.
    """

    channel: str
    back: tuple[tuple[Point, ...], ...]
    front: tuple[tuple[Point, ...], ...]
    line: int


@dataclass(frozen=True, slots=True)
class Limits:
    """The `[rules]` of the file, with defaults filled in."""

    least_wall: float
    most_velocity_m_s: float
    test_pressure_pa: float
    accept: dict[str, str]


Step = str | tuple["Step", ...]
"""A part, or a tuple: a group in parallel where it stands in a chain, a chain in series where in a group."""


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel file, validated.

    `loop` holds part names in order from "tank" to "tank", a chain; a tuple in it flows in parallel, a tuple
    in that is a chain in series, and so on by turns.
    `wanted_flow_m3_s` is the flow the maker asks for, `hose_volume_ml` what all hoses together hold.
    `up` is a unit vector. `lines` maps a dotted key ("channel.width") to its line; `document` is the file as TOML
    parses it, for what would change it: what is derived from this panel keeps that of the file.
    """

    name: str
    width: float
    height: float
    corner_radius: float
    pitch: float
    up: tuple[float, float, float]
    make: Make
    channel: ChannelSection
    coolant: CoolantChoice
    tank: Tank
    pump: Pump
    parts: tuple[Part, ...]
    loop: tuple[Step, ...]
    drain: Port | None
    keep_clear: tuple[KeepClear, ...]
    rules: Limits
    path: str
    sha256: str
    wanted_flow_m3_s: float | None = None
    hose_volume_ml: float | None = None
    milling: Milling = Milling()
    printing: Printing = Printing()
    service: Service = Service()
    prices: Prices | None = None
    case: Case = field(default_factory=Case)
    tubing: Tubing | None = None
    drawing: DrawingChoice = field(default_factory=DrawingChoice)
    lines: dict[str, int] = field(default_factory=dict)
    keep_routes: tuple[KeepRoute, ...] = ()
    document: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def part(self, name: str) -> Part:
        """Return the part called `name`; KeyError where there is none."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)

    @property
    def ports(self) -> tuple[Port, ...]:
        """Every port that the file asks for: those of parts, of the tank, and the drain."""
        listed = [port for part in self.parts for port in (part.inlet, part.outlet)]
        others = (self.tank.fill, self.tank.outlet, self.tank.inlet, self.drain)
        return (*listed, *(port for port in others if port is not None))

    def port(self, name: str) -> Port | None:
        """Return the port of the file called `name`; None for one that the plan adds, or where there is none."""
        return next((port for port in self.ports if port.name == name), None)

    def at_line(self, key: str) -> str:
        """Return "file:line: key" for messages; the nearest known parent's line where the key has none."""
        probe = key
        while probe and probe not in self.lines:
            probe = probe.rpartition(".")[0]
        line = self.lines.get(probe)
        return f"{self.path}:{line}: {key}" if line else f"{self.path}: {key}"
