"""A starting panel file from a short form.

The plan of every starting file is one: the tank at the upper right over the pump at the lower right, and left of them
the parts' ports in rows. Of one part's outlet and the next one's inlet, which a channel joins, both stand side by
side, so that no channel is in another's way whatever the number of parts; the first inlet stands low, by the pump, and
the last outlet high, by the tank.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, get_args

from geom.errors import EditRefused
from layouts.file.loop import RESERVED
from layouts.file.quantities import NAME_LENGTH
from layouts.grid import snap
from layouts.panel import Closing

WIDTHS = (150.0, 600.0)
HEIGHTS = (120.0, 400.0)
FLOWS = (0.3, 5.0)
MOST_HEAT_W = 1000.0
MOST_PARTS = 6
"""What the form takes: [mm], [L/min], [W]."""


@dataclass(frozen=True, slots=True)
class StartForm:
    """What a starting file is made from.

    Parameters
    ----------
    name : str
    width, height : float
        Of the panel, [mm].
    closing : {"cord", "bonded", "one-piece"}
    flow : float
        That is wanted, [L/min].
    parts : tuple of (str, float)
        In the order of flow: name, heat [W].
    """

    name: str
    width: float
    height: float
    closing: Closing
    flow: float
    parts: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class _Sizes:
    """Sizes that go together, [mm]: of a small plate or a small flow, and of larger ones.

    `cell` is the least distance of two ports, `right` what tank and pump take of the width, `rim` from the edge.
    """

    thread: str
    channel: float
    depth: float
    bend: float
    bore: float
    outlet: float
    seat: float
    screw: str
    circle: float
    body: float
    cover: float
    tank: tuple[float, float, float]
    cell: float
    right: float
    rim: float


SMALL = _Sizes("G1/8", 6, 6, 10, 8, 15, 40, "M3", 46, 18, 6, (50, 28, 12), 25, 76, 12)
SMALL_CORD = replace(SMALL, depth=8, bend=12, body=20, cover=8, outlet=20, seat=50, circle=58, right=90, rim=15)
"""The cord in its groove keeps what is wet farther from the edge, and the pump's bores farther from each other."""

LARGE = _Sizes("G1/4", 8, 9, 15, 10, 25, 60, "M4", 70, 22, 8, (80, 36, 14), 30, 120, 15)


PITCH = 5.0
PLAY = 10.0
"""How much wider the boxes of tank and pump are than they must be, [mm]."""

Place = tuple[float, float]


def read_form(data: Mapping[str, Any]) -> StartForm:
    """Return the form of a message from the page (`StartForm` in messages.ts).

    Parameters
    ----------
    data : mapping
        Anything may be in it.

    Returns
    -------
    StartForm

    Raises
    ------
    EditRefused
        A key is missing, unknown or of the wrong kind; ranges are checked by `write_start`.
    """
    keys = ("name", "width", "height", "closing", "flow", "parts")
    if not isinstance(data, Mapping) or set(data) != set(keys):
        raise EditRefused(f"the form of a new panel has {', '.join(keys)}")
    if not isinstance(data["parts"], list | tuple):
        raise EditRefused("parts: expected a list of parts, each with name and heat")
    parts = []
    for part in data["parts"]:
        if not isinstance(part, Mapping) or set(part) != {"name", "heat"}:
            raise EditRefused("parts: expected name and heat of each part")
        parts.append((_check_text(part["name"], "a part's name"), _check_number(part["heat"], "heat")))
    return StartForm(
        name=_check_text(data["name"], "name"),
        width=_check_number(data["width"], "width"),
        height=_check_number(data["height"], "height"),
        closing=data["closing"],
        flow=_check_number(data["flow"], "flow"),
        parts=tuple(parts),
    )


def write_start(form: StartForm) -> str:
    """Return the text of a commented starting file.

    Parameters
    ----------
    form : StartForm

    Returns
    -------
    str
        It can be read and laid out, and its plan has no fault.

    Raises
    ------
    EditRefused
        A value out of the form's range, or more ports or flow than a panel of this size takes; the message names the
        value and the range.
    """
    _check_form(form)
    small = form.width < 240 or form.height < 160
    sizes = (SMALL_CORD if form.closing == "cord" else SMALL) if small else LARGE
    most = _show(math.floor(sizes.channel * sizes.depth * CARRIED_M_S * 0.06 * 10) / 10)
    if form.flow > float(most):
        raise EditRefused(
            f"flow: {_show(form.flow)} L/min on a panel of {_size(form)}; its channels carry 0.3 to {most} L/min:"
            " ask for less flow" + (", or for a panel of at least 240 x 160 mm" if small else "")
        )
    heat = sum(heat for _, heat in form.parts)
    least = heat / (WARMED_W_PER_L_MIN_K * MOST_RISE_K)
    if form.flow < least:
        flow = f"at least {_show(math.ceil(least * 100) / 100)} L/min or " if least <= float(most) else ""
        raise EditRefused(
            f"flow: {_show(form.flow)} L/min warms by more than {MOST_RISE_K:g} K with {_show(heat)} W from all parts:"
            f" ask for {flow}for less heat"
        )
    ports = _place_ports(form, sizes)
    return "\n".join(
        (
            *_write_head(form),
            *_write_make(form, sizes),
            *_write_tank(form, sizes),
            *_write_pump(form, sizes),
            *_write_parts(form, sizes, ports),
            *_write_end(form, sizes),
            "",
        )
    )


WARMED_W_PER_L_MIN_K = 69.4
"""Heat that warms a flow of water of 1 L/min by 1 K, [W]: 4.18 kJ/(kg K) and 0.996 kg/L at 30 °C."""

MOST_RISE_K = 20.0
"""How much the coolant may warm in a starting file, [K]: from 30 °C it stays under what PETG stands for years."""

CORD_RIM = 20.0
"""How far ports stand from the edge where a cord and screws go between, [mm]."""

CARRIED_M_S = 1.2
"""Velocity up to which a starting file's channels are filled: under the 1.5 m/s that is the limit."""


RETURN_ROOM = 10.0
"""How much lower ports stand under a separate tank's return, so that a wall is left between the threads, [mm]."""

STILL = 1.4
"""Head of a starting file's pump when nothing flows, in heads at the flow that is wanted."""

SPARE_M = 0.5
"""Height of coolant over the panel that a starting file's test pressure allows for, [m]."""


def _place_ports(form: StartForm, sizes: _Sizes) -> list[Place]:
    """Return where ports stand in the order of flow: first inlet, first outlet, second inlet ... [mm]."""
    rim = CORD_RIM if form.closing == "cord" else sizes.rim
    # The separate tank's return comes in from the upper edge, beside the last outlet.
    above = rim + (RETURN_ROOM if form.closing == "one-piece" else 0.0)
    low, high = snap(rim, PITCH), snap(form.height - above, PITCH)
    left, right = snap(rim, PITCH), snap(form.width - sizes.right - sizes.rim / 2, PITCH)
    rows = int((high - low) // sizes.cell) + 1
    columns = int((right - left) // sizes.cell) + 1
    joints = len(form.parts) - 1
    # The rightmost column starts with the first inlet and ends with the last outlet; between them joints stand only
    # where the other columns are full: channels to pump and tank pass there.
    inner, each = max(rows - 2, 0) // 2, rows // 2
    most = inner + (columns - 1) * each + 1
    if rows < 2 or len(form.parts) > most:
        raise EditRefused(
            f"parts: {len(form.parts)} parts on a panel of {_size(form)}; it has room for the ports of 1 to {most}:"
            " ask for fewer parts or a larger panel"
        )
    others = min(columns - 1, math.ceil(joints / each))
    ys = [snap(low + k * (high - low) / (rows - 1), PITCH) for k in range(rows)]
    gap = max(sizes.cell, min(60.0, (right - left) / max(others, 1)))
    xs = [snap(right - k * gap, PITCH) for k in range(others + 1)]
    pairs = [((x, ys[2 * k]), (x, ys[2 * k + 1])) for x in xs[1:] for k in range(each)]
    pairs += [((xs[0], ys[1 + 2 * k]), (xs[0], ys[2 + 2 * k])) for k in range(inner)]
    places: list[Place] = [(xs[0], ys[0])]
    for pair in pairs[:joints]:
        places += pair
    return [*places, (xs[0], ys[-1])]


def _write_head(form: StartForm) -> list[str]:
    return [
        "#:schema panel.schema.json",
        "# A starting file, made from a short form: change it line by line.",
        '# Lengths, flows and so on are texts with a unit: "8 mm", "0.5 in", "1.2 L/min", "35 °C".',
        "# Seen from the front: x to the right, y up, from the panel's lower left corner.",
        "# The resistances and the pump are invented: put in those of your parts and of your pump.",
        "",
        "[panel]",
        f"name = {_text(form.name)}",
        f"size = {_mm(form.width, form.height)}",
        'corner_radius = "5 mm"',
        'pitch = "5 mm"                     # the grid that channels, fixed ports and the pump stand on',
        "",
    ]


def _write_make(form: StartForm, sizes: _Sizes) -> list[str]:
    lines = ["[make]"]
    if form.closing == "one-piece":
        lines += ['method = "printed"', 'closing = "one-piece"', 'material = "PETG"']
        lines += [f'body = "{32 if sizes is LARGE else 25} mm"']
    else:
        lines += ['method = "milled"', f'closing = "{form.closing}"', 'material = "PMMA cast"']
        # A pump screw may stand over a channel: under a glued cover the body alone holds its thread.
        body = sizes.body + (4 if form.closing == "bonded" else 0)
        lines += [f'body = "{_show(body)} mm"', f'cover = "{_show(sizes.cover)} mm"']
        lines += [f'cord = "2 mm"\nscrew = "{sizes.screw}"'] if form.closing == "cord" else []
        lines += [f'cutter = "{_show(sizes.channel - 1)} mm"                    # the smallest cutter for the channels']
    lines += ["# room = [\"400 mm\", \"300 mm\", \"80 mm\"]   # what your machine can reach", ""]
    if form.closing != "one-piece":
        lines += ["[milling]", 'edges = "drill press"              # where the ports in the edges are drilled', ""]
    lines += ["[channel]", f'width = "{_show(sizes.channel)} mm"', f'depth = "{_show(sizes.depth)} mm"']
    lines += [f'bend_radius = "{_show(sizes.bend)} mm"', "", "[coolant]", 'fluid = "water"']
    return [*lines, 'temperature = "30 °C"              # in use', 'ambient = "22 °C"', ""]


def _write_tank(form: StartForm, sizes: _Sizes) -> list[str]:
    width, height, depth = sizes.tank
    x0, x1 = form.width - sizes.right, form.width - sizes.rim
    if form.closing == "one-piece":
        return [
            "[tank]                             # a vessel above the panel: the pump always stands in coolant",
            'kind = "separate"',
            'volume = "250 mL"',
            f'outlet_bore = "{_show(sizes.channel)} mm"',
            f'outlet = {{ on = "top", between = {_mm(x0 + 20, x1)}, thread = "{sizes.thread}" }}',
            f'inlet = {{ on = "top", between = {_mm(x0 - 25, x0 + 5)}, thread = "{sizes.thread}" }}',
            "",
        ]
    top = form.height - sizes.rim
    return [
        "[tank]                             # stands above the pump, so that the pump always stands in coolant",
        'kind = "pocket"',
        f"size = {_mm(width, height)}",
        f'depth = "{_show(depth)} mm"',
        f"within = {_mm(x0, top - height - PITCH - 1, x1, top)}   # x0, y0, x1, y1 that it must stay inside",
        f'outlet_bore = "{_show(sizes.channel)} mm"',
        f'fill = {{ on = "top", thread = "{sizes.thread}" }}',
        "",
    ]


def _write_pump(form: StartForm, sizes: _Sizes) -> list[str]:
    x0, x1 = form.width - sizes.right, form.width - sizes.rim
    top = form.height - sizes.rim - (sizes.tank[1] + PLAY if form.closing != "one-piece" else PLAY)
    bottom = sizes.rim - 4
    top = min(top, bottom + sizes.circle + 4 * PLAY)
    head = _head_m(form)
    points = ((0.0, STILL * head), (form.flow, head), (1.6 * form.flow, 0.6 * head), (2.2 * form.flow, 0.0))
    curve = ", ".join(f'["{_show(flow)} L/min", "{_show(rise)} m"]' for flow, rise in points)
    screw = sizes.screw if form.closing == "cord" else "M3"
    return [
        "[pump]                             # an invented one: put in the sizes and the curve of yours",
        'on = "front"',
        f"within = {_mm(x0, bottom, x1, top)}   # where its seat may be",
        f'inlet_bore = "{_show(sizes.bore)} mm"',
        f'outlet_bore = "{_show(sizes.bore)} mm"',
        f"outlet_offset = {_mm(sizes.outlet, 0)}  # from the inlet to the outlet, before turning",
        'turns = ["0 deg", "90 deg", "180 deg", "270 deg"]',
        f'seat = {{ diameter = "{_show(sizes.seat)} mm", depth = "1 mm" }}',
        f'screws = {{ size = "{screw}", circle = "{_show(sizes.circle)} mm", count = 4 }}',
        f"curve = [{curve}]",
        "",
    ]


def _head_m(form: StartForm) -> float:
    """Return the head of the pump at the flow that is wanted, [m]: 2 kPa for each part and channel, and some more."""
    return (2.0 * len(form.parts) + 2.0 * (len(form.parts) + 1) + 3.0) * 1.35 / 9.81


def _test_bar(form: StartForm) -> float:
    """Return a test pressure over all that the panel sees in use, in steps of 0.1 bar, 0.5 bar at least."""
    column = form.height / 1e3 + SPARE_M
    return max(0.5, math.ceil((STILL * _head_m(form) + column) * 0.0981 * 10) / 10)


def _write_parts(form: StartForm, sizes: _Sizes, ports: list[Place]) -> list[str]:
    lines: list[str] = []
    for k, (name, heat) in enumerate(form.parts):
        lines += ["[[part]]", f"name = {_text(name)}"]
        lines += [f'heat = "{_show(heat)} W"'] if heat > 0 else []
        lines += [f'resistance = [["{_show(form.flow)} L/min", "2 kPa"]]   # invented: from its data sheet']
        for role, place in (("inlet", ports[2 * k]), ("outlet", ports[2 * k + 1])):
            x, y = place
            box = _mm(x - PITCH, y - PITCH, x + PITCH, y + PITCH)
            lines += [f'{role} = {{ on = "front", within = {box}, thread = "{sizes.thread}" }}']
        lines += [""]
    return lines


def _write_end(form: StartForm, sizes: _Sizes) -> list[str]:
    order = ", ".join(_text(name) for name in ("tank", "pump", *(name for name, _ in form.parts), "tank"))
    x0, x1 = form.width - sizes.right, form.width - sizes.rim
    return [
        "[loop]",
        f"order = [{order}]   # an inner list flows in parallel",
        f'flow = "{_show(form.flow)} L/min"                 # the flow that you want at least',
        "",
        "[drain]",
        f'port = {{ on = "bottom", between = {_mm(x0, x1)}, thread = "{sizes.thread}" }}',
        "",
        "[service]                          # ports that serve only to bleed and drain",
        'drain = "auto"',
        f'thread = "{sizes.thread}"',
        "",
        "[rules]",
        f'test_pressure = "{_show(_test_bar(form))} bar"            # above what the pump makes when nothing flows',
    ]


def _check_form(form: StartForm) -> None:
    _check_name(form.name, "name")
    for key, value, (least, most), unit in (
        ("width", form.width, WIDTHS, "mm"),
        ("height", form.height, HEIGHTS, "mm"),
        ("flow", form.flow, FLOWS, "L/min"),
    ):
        if not least <= value <= most:
            raise EditRefused(f"{key}: {_show(value)} {unit}; give {_show(least)} to {_show(most)} {unit}")
    if form.closing not in get_args(Closing):
        known = ", ".join(get_args(Closing))
        raise EditRefused(f"closing: read {str(form.closing)[:NAME_LENGTH]}; give one of {known}")
    if not 1 <= len(form.parts) <= MOST_PARTS:
        raise EditRefused(f"parts: {len(form.parts)}; give 1 to {MOST_PARTS}")
    names = set(RESERVED)
    for name, heat in form.parts:
        _check_name(name, "a part's name")
        if name in names:
            why = "a piece of the panel bears it" if name in RESERVED else "it stands twice"
            raise EditRefused(f'a part\'s name: "{name}": {why}; give each part its own name')
        names.add(name)
        if not 0 <= heat <= MOST_HEAT_W:
            raise EditRefused(f'heat of "{name}": {_show(heat)} W; give 0 to {_show(MOST_HEAT_W)} W')


def _check_name(name: str, what: str) -> None:
    if not 1 <= len(name) <= NAME_LENGTH or name != name.strip() or not name.isprintable():
        raise EditRefused(
            f"{what}: {json.dumps(name[:NAME_LENGTH])}; give 1 to {NAME_LENGTH} printable characters, no spaces at the"
            " ends"
        )


def _check_text(value: Any, what: str) -> str:
    if not isinstance(value, str):
        raise EditRefused(f"{what}: expected text")
    return value


def _check_number(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        raise EditRefused(f"{what}: expected a number")
    return float(value)


def _size(form: StartForm) -> str:
    return f"{_show(form.width)} x {_show(form.height)} mm"


def _show(value: float) -> str:
    return f"{round(value, 2):.10g}"


def _mm(*values: float) -> str:
    return "[" + ", ".join(f'"{_show(value)} mm"' for value in values) + "]"


def _text(text: str) -> str:
    from layouts.file.toml_text import write_value

    return write_value(text)
