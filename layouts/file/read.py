"""Reads a panel file. Every key there is, in one file::

[panel]
name = "two cold plates"
size = ["240 mm", "200 mm"]         # width, height, seen from the front
corner_radius = "6 mm"              # 0 mm unless given
pitch = "5 mm"                      # grid: nodes at whole multiples from the lower left corner
up = [0, 1, 0]                      # which way is up when installed; upright unless given

[make]
method = "milled"                   # or "printed"
closing = "cord"                    # "cord": needs cord, screw, cover; "bonded": needs cover;
                                    # "one-piece": printed, none of the three
material = "PMMA cast"              # a row of the materials table
body = "20 mm"
cover = "8 mm"
cord = "2 mm"                       # a row of the cord table
screw = "M4"                        # a row of the screw table
cutter = "6 mm"                     # milled only: smallest channel cutter
room = ["400 mm", "300 mm", "80 mm"]
cover_material = "aluminium 6082-T6"   # the body's unless given
inserts = false                     # false unless given; true: the cover's screws hold in threaded inserts
large_washers = false               # false unless given; true: large washers (ISO 7093-1) under the cover's screws
screw_spacing = "36 mm"             # most between these screws along a cord; what the cover stands unless given
screw_hole = "4.8 mm"               # hole of these screws in the cover; that of the screw table unless given
share_groove = false                # false unless given; true: two channels may share one groove where two do not fit
tolerance = "mK"                    # "m" unless given: class of ISO 2768-1 (f, m, c, v), and of 2768-2 (H, K, L)

[channel]
width = "8 mm"
depth = "9 mm"
bend_radius = "14 mm"               # of the centreline
layers = 1                          # 1 unless given; 2: channels in both faces, with a front cover too
widen_to = "11 mm"                  # each channel grows up to it where its walls allow; none unless given
own = { "pump - left plate + right plate" = "9 mm" }   # channels with a width of their own; none unless given

[coolant]
fluid = "propylene glycol"          # or "water", "ethylene glycol"
mass_fraction = "25 %"              # glycols only, at most 60 %
temperature = "35 °C"
inhibited = true                    # false unless given: inhibitors for every metal of the loop
ambient = "22 °C"                   # of the air around the radiators; none unless given

[tank]
kind = "pocket"                     # "separate" has outlet, inlet and volume instead
size = ["80 mm", "40 mm"]
depth = "14 mm"
within = ["110 mm", "140 mm", "225 mm", "185 mm"]  # x0, y0, x1, y1; or at = [x, y], its lower left
outlet_bore = "10 mm"               # the channel's width unless given
fill = { on = "top" }               # a place may be given, as for any port
level = "85 %"                      # 85 % unless given
posts = "none"                      # "none" unless given; "auto": posts with screws where its cover bows too far

[pump]
on = "front"
within = ["120 mm", "25 mm", "215 mm", "110 mm"]   # of its seat; or at = [x, y], of its inlet
inlet_bore = "10 mm"
outlet_bore = "10 mm"
outlet_offset = ["20 mm", "0 mm"]   # before turning
turns = ["0 deg", "180 deg"]        # 0 deg unless given
seat = { diameter = "60 mm", depth = "1.5 mm" }
screws = { size = "M4", circle = "70 mm", count = 4 }
name = "compact pump"               # "pump" unless given
curve = [["0 L/min", "3.9 m"], ["4 L/min", "3.3 m"], ["8 L/min", "2.3 m"]]   # at the most speed
speed = ["1500 rpm", "4500 rpm"]    # least, most; one speed unless given
power = "14 W"                      # electric, at the most speed
noise = "38 dB"                     # at the most speed
least_inlet_head = "0.2 m"          # over the coolant's vapour pressure
run_at = "4000 rpm"                 # the most speed unless given
most_noise = "36 dB"                # what the maker allows
use = "compact pump"                # the pump it is made for: [pump]'s own, else the first choice unless given

[[pump.choice]]                     # more pumps to choose from; bores and seat left out are as above
name = "quiet pump"
curve = [["0 L/min", "2.4 m"], ["6 L/min", "0.9 m"]]
inlet_bore = "9 mm"
outlet_bore = "9 mm"
seat = "56 mm"                      # diameter
speed = ["1200 rpm", "3000 rpm"]
least_inlet_head = "0.1 m"
power = "9 W"
noise = "30 dB"

[[part]]                            # whatever the loop passes outside the panel
name = "left plate"
heat = "120 W"                      # 0 W unless given
resistance = [["2 L/min", "5.5 kPa"], ["4 L/min", "20 kPa"]]
metal = "copper"                    # of its wetted faces; unknown unless given
restrictor = "5 mm"                 # bore of an orifice in its inlet fitting; none unless given
volume = "30 mL"                    # coolant that it holds
inlet = { on = "front", at = ["40 mm", "50 mm"] }                        # fixed, on the grid
outlet.on = "front"
outlet.within = ["30 mm", "80 mm", "60 mm", "110 mm"]                    # the solver's choice
outlet.meets = { at = ["85 mm", "120 mm", "170 mm"], faces = [0, 0, -1] }   # the part's own port, in the case's frame:
                                    # where its tube ends in it, and which way it faces; not known unless given

[[part]]
name = "right plate"
resistance = [["4 L/min", "6 kPa"]]
capacity = [["2 L/min", "12 W/K"], ["4 L/min", "15 W/K"]]   # of a radiator: heat per kelvin of coolant over air
inlet = { on = "left", between = ["120 mm", "150 mm"], thread = "G1/8" }  # G1/4 unless given
outlet = { on = "top", at = "60 mm", hose = "rises" }   # fixed along an edge; hose: which way it leaves the port as
                                                        # installed, "rises" or "falls"; not known unless given

[loop]
order = ["tank", "pump", ["left plate", "right plate"], "tank"]          # an inner list: in parallel; a
                                                                         # list in that: in series
flow = "4 L/min"                    # the flow that is wanted; none unless given
hose_volume = "120 mL"              # coolant that all hoses hold together

[drain]
port = { on = "bottom", between = ["100 mm", "220 mm"] }

[case]                              # how the panel stands in the case's frame; that is the panel's own unless given
origin = ["20 mm", "40 mm", "15 mm"]   # its lower left corner at the joint; 0 mm each unless given
right = [1, 0, 0]                   # its x; as here unless given
front = [0, 0, 1]                   # its z, out of its front; as here unless given

[tube]                              # of the tubes to parts' ports that have meets
outer = "10 mm"
bend_radius = "30 mm"               # of the centreline; tubes stay straight unless given
stop = "6 mm"                       # from a fitting's seat on the panel to where the tube ends in it
insertion = "12 mm"                 # length of tube inside each fitting

[service]                           # ports that serve only to fill, bleed and drain
bleed = "auto"                      # "none" unless given; "auto": where air would stay; or a list of channels
drain = ["left plate + right plate - tank"]   # beside the [drain]: "none" unless given, "auto", or such a list
thread = "G1/8"                     # of these ports; G1/8 unless given

[[keep_clear]]
name = "cable slot"
box = ["0 mm", "0 mm", "25 mm", "20 mm"]

[[keep_route]]                      # a channel whose route stays as written, whatever else is routed anew
channel = "pump - left plate + right plate"
back = [[["150 mm", "60 mm"], ["40 mm", "60 mm"]]]   # corners of each of its runs, on grid nodes, from end to end

[milling]                           # used where a part is cut: all of a milled panel, a printed one's sheet cover
cutters = [{ diameter = "2 mm" }, { diameter = "6 mm", reach = "24 mm", teeth = 2 }]   # end mills at hand; the common
                                    # sizes from 1 to 12 mm unless given; reach: before the holder touches
edges = "drill press"               # where edge bores are drilled: "machine" (standing on it) unless given
stock = ["250 mm", "210 mm"]        # width and height of the sheet; unless given the panel, the cutter round it, 3 mm
speed = "18000 rpm"                 # most turns of the spindle; 24000 rpm unless given

[printing]                          # used where method = "printed"
process = "filament"                # "filament" unless given; or "resin", hardened by light
line_width = "0.45 mm"              # filament only; 0.45 mm unless given
layer = "0.2 mm"                    # height of one layer; 0.2 mm for filament, 0.05 mm for resin unless given
lies_on = "bottom"                  # face that lies on the bed; chosen unless given
tilts = ["45 deg"]                  # tried beside the six faces; none unless given
roofs = "auto"                      # over channels that lie: "auto" unless given; or "flat", "pointed", "round"
port_threads = "printed"            # "tapped" unless given: threads in the STL and 3MF files
thread_clearance = "0.3 mm"         # what these are wider on the diameter; by the process unless given
bore_offset = "0.2 mm"              # what bores are made wider in STL and 3MF; by the process unless given
shrink = "0.4 %"                    # what the print shrinks, made up for in STL and 3MF; none unless given

[prices]                            # all in one currency; what is not given is left out of the sum
currency = "EUR"
material_per_kg = 12.5
cover_material_per_kg = 12.5        # material_per_kg unless given, where both are of one material
cord_per_m = 1.8
screw_each = 0.12
insert_each = 0.35
fitting_each = { "G1/4" = 4.2 }
coolant_per_l = 6.0
machine_per_h = 35.0                # of the mill or the printer

[drawing]                           # of the PDF and DXF drawings; the four values given here are those without it
projection = "first angle"          # or "third angle"
paper = "A3"                        # or "A4"
flatness = "0.1 mm"                 # of the joint faces
roughness = "1.6 um"                # Ra of the joint faces

[rules]
least_wall = "2 mm"                 # the four values given here are those without [rules]
most_velocity = "1.5 m/s"
test_pressure = "0.5 bar"
accept = { "make.reach" = "long-reach cutter in hand" }                  # none unless given
"""

from __future__ import annotations

import hashlib
import math
import os
import re
import stat
import sys
import tomllib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from geom.errors import EditRefused, PanelFileError
from geom.findings import KeyChange
from layouts.file.changes import apply_changes
from layouts.file.checks import check_values
from layouts.file.drawing import build_drawing
from layouts.file.keep_routes import build_keep_routes
from layouts.file.making import build_milling, build_prices, build_printing
from layouts.file.model import ChoiceEntry, PanelFile, PortEntry, PumpTable, TankTable, panel_schema
from layouts.file.places import NamedPort, fixed_place, list_ports, list_pumps
from layouts.file.positions import Path, find_lines, nearest_line, show_path
from layouts.file.quantities import MOST_LISTS
from layouts.file.service import build_service
from layouts.file.shape import check_shape
from layouts.file.tubes import build_case, build_meets, build_tubing
from layouts.hydraulics.pump import scale_affinity
from layouts.panel import (
    Box,
    ChannelSection,
    CoolantChoice,
    KeepClear,
    Limits,
    Make,
    Panel,
    Part,
    Port,
    Pump,
    PumpChoice,
    Step,
    Tank,
)

__all__ = ["MOST_BYTES", "panel_schema", "parse_panel", "read_bytes", "read_panel"]

MOST_BYTES = 1_000_000

MOST_PROBLEMS = 50
"""Problems of one file that are told; more would only push the first off the screen."""

_TOML_PLACE = re.compile(
    r"(?P<reason>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", re.DOTALL
)
_TABLE_TWICE = re.compile(r"Cannot declare \((?P<parts>.*?),?\) twice")
_KEY_TEXT = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_KEY_LINE = re.compile(rf"^[ \t]*(?P<key>{_KEY_TEXT}(?:[ \t]*\.[ \t]*{_KEY_TEXT})*)[ \t]*=", re.MULTILINE)
_LONG_NUMBER = re.compile(rf"[0-9][0-9_]{{{sys.get_int_max_str_digits()},}}")

Lines = dict[Path, int]


def read_panel(path: str | os.PathLike[str]) -> Panel:
    """Return the panel that a file describes.

    Parameters
    ----------
    path : str or path
        Messages name the file as given here.

    Returns
    -------
    Panel
        Lengths in [mm], hydraulics in SI.

    Raises
    ------
    PanelFileError
        The file cannot be read, is not TOML, or contradicts itself; every problem at once.
    """
    return parse_panel(read_bytes(path), os.fspath(path))


def read_bytes(path: str | os.PathLike[str], regular: bool = False) -> bytes:
    """Return what a panel file holds.

    Parameters
    ----------
    path : str or path
    regular : bool
        Refuse a pipe or a device, without waiting for what it gives.

    Returns
    -------
    bytes

    Raises
    ------
    PanelFileError
        It cannot be read, or is far too long.
    """
    shown = os.fspath(path)
    try:
        with open(shown, "rb", opener=_open_regular if regular else None) as handle:
            data = handle.read(MOST_BYTES + 1)
            size = max(os.fstat(handle.fileno()).st_size, len(data))
    except FileNotFoundError:
        raise PanelFileError(
            (f"{shown}: no such file; `rillplate new FILE` writes a starting file",)
        ) from None
    except IsADirectoryError:
        raise PanelFileError((f"{shown}: is a directory; name a panel file in it",)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise PanelFileError((f"{shown}: cannot be read: {reason}; name a readable panel file",)) from None
    if len(data) > MOST_BYTES:
        raise PanelFileError(
            (f"{shown}: {size} bytes; a panel file has at most {MOST_BYTES} bytes: is this the right file?",)
        )
    return data


def _open_regular(path: str, flags: int) -> int:
    """Return the descriptor of a file that is no pipe and no device; opening a pipe could wait for good."""
    descriptor = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    mode = os.fstat(descriptor).st_mode
    if not stat.S_ISREG(mode):
        os.close(descriptor)
        if stat.S_ISDIR(mode):
            raise IsADirectoryError(path)
        raise OSError("it is a pipe or a device")
    return descriptor


def parse_panel(data: bytes, path: str) -> Panel:
    """Return the panel that the bytes of a file describe.

    Parameters
    ----------
    data : bytes
        UTF-8 TOML.
    path : str
        The file's name, for messages.

    Returns
    -------
    Panel

    Raises
    ------
    PanelFileError
        As `read_panel`.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise PanelFileError(
            (f"{path}:{line}: byte 0x{data[error.start]:02x} is not UTF-8 text; save the file as UTF-8",)
        ) from None
    try:
        document = tomllib.loads(text)
    except RecursionError:
        raise PanelFileError(
            (f"{path}: lists or tables nested too deeply to read; a panel file nests {MOST_LISTS} deep",)
        ) from None
    except ValueError as error:
        raise PanelFileError((_describe_toml_error(path, text, str(error)),)) from None
    if not document:
        raise PanelFileError((f"{path}:1: the file is empty; `rillplate new FILE` writes a starting file",))
    lines = find_lines(text)
    file, problems = check_shape(document)
    if file is not None:
        problems += check_values(file)
    if file is None or problems:
        raise PanelFileError(_order_problems(problems, lines, path))
    return replace(_build_panel(file, lines, path, hashlib.sha256(data).hexdigest()), document=document)


def build_changed(panel: Panel, changes: Sequence[KeyChange]) -> Panel | None:
    """Return the panel of a file with changes made, without lines; None where it could not be read.

    Parameters
    ----------
    panel : Panel
        Of the file as it is; one that comes from no file has none that could be changed: None.
    changes : sequence of KeyChange
    """
    if not panel.document:
        return None
    try:
        document = apply_changes(panel.document, changes)
    except EditRefused:
        return None
    file, problems = check_shape(document)
    if file is None or problems or check_values(file):
        return None
    return replace(_build_panel(file, defaultdict(int), panel.path, panel.sha256), document=document)


def _describe_toml_error(path: str, text: str, message: str) -> str:
    match = _TOML_PLACE.fullmatch(message)
    last = text.count("\n") + 1
    remedy = 'write key = "value" under a [table], texts in quotes, lists in brackets'
    if match is None:
        number = _LONG_NUMBER.search(text)
        if number is None:
            return f"{path}: not TOML: {message}; {remedy}"
        line = text.count("\n", 0, number.start()) + 1
        return f"{path}:{line}: a whole number of {len(number[0])} digits; write a number of a few digits"
    if match["line"] is None:
        return f"{path}:{last}: not TOML: {match['reason']} at the end of the file; {remedy}"
    line, reason = int(match["line"]), match["reason"]
    if reason.startswith("Cannot overwrite a value"):
        found = _find_second_key(text, line)
        if found is not None:
            return f"{path}:{found}"
    twice = _TABLE_TWICE.fullmatch(reason)
    if twice is not None:
        table = ".".join(part.strip().strip("'\"") for part in twice["parts"].split(","))
        return f"{path}:{line}: the table [{table}] stands twice; put its keys under one header"
    return f"{path}:{line}: column {match['column']}: not TOML: {reason}; {remedy}"


def _find_second_key(text: str, line: int) -> str | None:
    """Return "line: what to do" for the key whose value, given again, ends on a line; None where unclear."""
    until = "\n".join(text.split("\n")[:line])
    table = until[until.rfind("\n[") + 1 :]
    before = until.count("\n", 0, len(until) - len(table))
    keys = [
        (m["key"].strip("'\""), before + table.count("\n", 0, m.start("key")) + 1)
        for m in _KEY_LINE.finditer(table)
    ]
    if not keys:
        return None
    key, second = keys[-1]
    first = next(place for name, place in keys if name == key)
    if first == second:
        return f"{second}: not TOML: '{key}' gives a key that already has a value; keep one of them"
    return (
        f"{second}: not TOML: key '{key}' stands twice in its table, first on line {first}; keep one of them"
    )


def _order_problems(problems: list[tuple[Path, str]], lines: Lines, path: str) -> tuple[str, ...]:
    """Return the problems as messages, in the order of the file's lines; the same message once.

    Of more than `MOST_PROBLEMS` the last are only counted.
    """
    placed = [(nearest_line(lines, where) or 1, where, text) for where, text in problems]
    placed.sort(key=lambda problem: problem[0])
    told = {f"{path}:{line}: {show_path(where)}: {text}": line for line, where, text in placed}
    messages = tuple(told)
    if len(messages) <= MOST_PROBLEMS:
        return messages
    line = told[messages[MOST_PROBLEMS]]
    more = f"{path}:{line}: and {len(messages) - MOST_PROBLEMS} more from here on; correct those above first"
    return (*messages[:MOST_PROBLEMS], more)


def _build_panel(file: PanelFile, lines: Lines, path: str, sha256: str) -> Panel:
    panel, make, channel = file.panel, file.make, file.channel
    ports = {port.path: _build_port(file, port, lines) for port in list_ports(file)}
    length = math.hypot(*panel.up)
    return Panel(
        name=panel.name,
        width=panel.size[0],
        height=panel.size[1],
        corner_radius=panel.corner_radius,
        pitch=panel.pitch,
        up=(panel.up[0] / length, panel.up[1] / length, panel.up[2] / length),
        make=Make(
            method=make.method,
            closing=make.closing,
            material=make.material,
            body=make.body,
            cover=make.cover or 0.0,
            cord=make.cord or 0.0,
            screw=make.screw or "",
            cutter=make.cutter or 0.0,
            room=(make.room[0], make.room[1], make.room[2]) if make.room is not None else None,
            cover_material=make.cover_material or "",
            share_groove=make.share_groove,
            inserts=make.inserts,
            large_washers=make.large_washers,
            screw_hole=make.screw_hole or 0.0,
            screw_spacing=make.screw_spacing,
            tolerance=make.tolerance,
        ),
        milling=build_milling(file.milling),
        printing=build_printing(file.printing),
        prices=build_prices(file.prices),
        drawing=build_drawing(file.drawing),
        case=build_case(file.case),
        tubing=build_tubing(file.tube),
        channel=ChannelSection(
            channel.width,
            channel.depth,
            channel.bend_radius,
            channel.layers,
            channel.widen_to,
            tuple(channel.own.items()),
        ),
        coolant=CoolantChoice(
            fluid=file.coolant.fluid,
            mass_fraction=file.coolant.mass_fraction or 0.0,
            temperature_c=file.coolant.temperature,
            ambient_c=file.coolant.ambient,
            inhibited=file.coolant.inhibited,
        ),
        tank=_build_tank(file.tank, channel.width, ports, lines),
        pump=_build_pump(file.pump, lines),
        parts=tuple(
            Part(
                name=part.name,
                heat_w=part.heat,
                resistance=tuple(part.resistance),
                inlet=ports["part", index, "inlet"],
                outlet=ports["part", index, "outlet"],
                line=lines["part", index],
                capacity=tuple(part.capacity or ()),
                restrictor=part.restrictor,
                volume_ml=part.volume,
                metal=part.metal,
            )
            for index, part in enumerate(file.part)
        ),
        loop=tuple(_freeze_step(step) for step in file.loop.order),
        drain=ports.get(("drain", "port")),
        service=build_service(file.service),
        keep_clear=tuple(
            KeepClear(region.name, _box(region.box), lines["keep_clear", index])
            for index, region in enumerate(file.keep_clear)
        ),
        keep_routes=build_keep_routes(file, lines),
        rules=Limits(
            least_wall=file.rules.least_wall,
            most_velocity_m_s=file.rules.most_velocity,
            test_pressure_pa=file.rules.test_pressure,
            accept=dict(file.rules.accept),
        ),
        path=path,
        sha256=sha256,
        wanted_flow_m3_s=file.loop.flow,
        hose_volume_ml=file.loop.hose_volume,
        lines={show_path(where): line for where, line in lines.items()},
    )


def _freeze_step(step: str | Sequence[Any]) -> Step:
    return step if isinstance(step, str) else tuple(_freeze_step(inner) for inner in step)


def _build_port(file: PanelFile, port: NamedPort, lines: Lines) -> Port:
    entry: PortEntry = port.entry
    return Port(
        name=port.name,
        part=port.part,
        role=port.role,
        on=entry.on,
        thread=entry.thread,
        at=fixed_place(file, entry),
        within=_box(entry.within) if entry.within is not None else None,
        between=(entry.between[0], entry.between[1]) if entry.between is not None else None,
        key=show_path(port.path),
        line=lines[port.path],
        hose=entry.hose,
        meets=build_meets(entry.meets),
    )


def _build_tank(tank: TankTable, channel_width: float, ports: dict[Path, Port], lines: Lines) -> Tank:
    return Tank(
        kind=tank.kind,
        size=(tank.size[0], tank.size[1]) if tank.size is not None else None,
        depth=tank.depth or 0.0,
        within=_box(tank.within) if tank.within is not None else None,
        at=(tank.at[0], tank.at[1]) if tank.at is not None else None,
        outlet_bore=tank.outlet_bore or channel_width,
        fill=ports.get(("tank", "fill")),
        outlet=ports.get(("tank", "outlet")),
        inlet=ports.get(("tank", "inlet")),
        volume_ml=tank.volume,
        level=tank.level,
        posts=tank.posts,
        line=lines["tank",],
    )


def _build_pump(pump: PumpTable, lines: Lines) -> Pump:
    choices = _build_choices(pump, lines)
    used = next((choice for choice in choices if choice.name == pump.use), choices[0])
    most = used.speed[1] if used.speed is not None else None
    slower = 1.0 if pump.run_at is None or most is None else pump.run_at / most
    return Pump(
        on=pump.on,
        within=_box(pump.within) if pump.within is not None else None,
        at=(pump.at[0], pump.at[1]) if pump.at is not None else None,
        inlet_bore=used.inlet_bore,
        outlet_bore=used.outlet_bore,
        outlet_offset=(pump.outlet_offset[0], pump.outlet_offset[1]),
        turns=tuple(round(turn / 90) % 4 * 90 for turn in pump.turns),
        seat_diameter=used.seat_diameter,
        seat_depth=pump.seat.depth if pump.seat is not None else 0.0,
        screw_size=pump.screws.size if pump.screws is not None else None,
        screw_circle=pump.screws.circle if pump.screws is not None else 0.0,
        screw_count=pump.screws.count if pump.screws is not None else 0,
        curve=used.curve if slower == 1.0 else scale_affinity(used.curve, slower),
        choices=choices,
        line=lines["pump",],
        used=used.name,
        run_at_rpm=pump.run_at,
        most_noise_db=pump.most_noise,
    )


def _build_choices(pump: PumpTable, lines: Lines) -> tuple[PumpChoice, ...]:
    """Return the pump of [pump] where it has a curve, then the others; each with bores and seat."""
    seat = pump.seat.diameter if pump.seat is not None else 0.0
    return tuple(
        PumpChoice(
            name=name,
            curve=tuple(entry.curve or ()),
            inlet_bore=entry.inlet_bore or pump.inlet_bore,
            outlet_bore=entry.outlet_bore or pump.outlet_bore,
            seat_diameter=entry.seat or seat if isinstance(entry, ChoiceEntry) else seat,
            least_inlet_head_m=entry.least_inlet_head,
            power_w=entry.power,
            speed=(entry.speed[0], entry.speed[1]) if entry.speed is not None else None,
            noise_db=entry.noise,
            line=lines[path],
        )
        for name, path, entry in list_pumps(pump)
    )


def _box(box: list[float]) -> Box:
    return box[0], box[1], box[2], box[3]
