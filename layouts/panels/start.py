"""A starting panel file from a short form: where things stand is told in `start_places.py`."""

from __future__ import annotations

import math

from geom.errors import EditRefused
from layouts.file.toml_text import write_value
from layouts.panel import Box
from layouts.panels.start_form import (
    AIR_C,
    StartForm,
    StartPart,
    check_form,
    check_heat,
    follow_coolant,
    show,
)
from layouts.panels.start_places import (
    LARGE,
    PITCH,
    Sizes,
    branches,
    choose_sizes,
    place_ports,
    place_pump,
)

CARRIED_M_S = 1.2
"""Velocity up to which a starting file's channels are filled: under the 1.5 m/s that is the limit."""

STILL = 1.4
"""Head of a starting file's pump when nothing flows, in heads at the flow that is wanted."""

EDGE_THREAD = "G1/8"
"""Of ports in an edge: a larger one would have less than its full thread before the coolant."""

STAGE_KPA = 2.0
GROUP_KPA = 5.0
CHANNEL_KPA = 2.5
"""Drops in a starting file, [kPa]: in a part alone, in each of several side by side (so that they share the flow
whatever the ways to them), and in a channel that carries all it is asked to."""

SPARE_M = 0.5
"""Height of coolant over the panel that a starting file's test pressure allows for, [m]."""

KPA_PER_M = 9.81
"""Pressure under a column of water of 1 m, [kPa]."""


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
        A value out of the form's range, more ports or flow than a panel of this size takes, or more heat than flow and
        radiators do; the message names the value and the range.
    """
    check_form(form)
    sizes = choose_sizes(form)
    most = most_flow(sizes)
    if form.flow > most:
        raise EditRefused(
            f"flow: {show(form.flow)} L/min on a panel of {show(form.width)} x {show(form.height)} mm; its channels"
            f" carry 0.3 to {show(most)} L/min: ask for less flow"
            + ("" if sizes is LARGE else ", or for a panel of at least 240 x 160 mm")
        )
    check_heat(form, _pump_w(form), most)
    ports = place_ports(form, sizes)
    return "\n".join(
        (
            *_write_head(form),
            *_write_make(form, sizes),
            *_write_coolant(form),
            *_write_tank(form, sizes),
            *_write_pump(form, sizes),
            *_write_parts(form, sizes, ports),
            *_write_end(form, sizes),
            "",
        )
    )


def most_flow(sizes: Sizes) -> float:
    """Return the flow that channels of these sizes carry, [L/min]."""
    return math.floor(sizes.channel * sizes.depth * CARRIED_M_S * 0.06 * 10) / 10


def _write_head(form: StartForm) -> list[str]:
    return [
        "#:schema panel.schema.json",
        "# A starting file, made from a short form: change it line by line.",
        '# Lengths, flows and so on are texts with a unit: "8 mm", "0.5 in", "1.2 L/min", "35 °C".',
        "# Seen from the front: x to the right, y up, from the panel's lower left corner.",
        "# The resistances and the pump are invented: put in those of your parts and of your pump.",
        "",
        "[panel]",
        f"name = {write_value(form.name)}",
        f"size = {_mm(form.width, form.height)}",
        'corner_radius = "5 mm"',
        'pitch = "5 mm"                     # the grid that channels, fixed ports and the pump stand on',
        "",
    ]


def _write_make(form: StartForm, sizes: Sizes) -> list[str]:
    lines = ["[make]"]
    if form.closing == "one-piece":
        lines += ['method = "printed"', 'closing = "one-piece"', 'material = "PETG"']
        lines += [f'body = "{34 if sizes is LARGE else 25} mm"']
    else:
        lines += ['method = "milled"', f'closing = "{form.closing}"', 'material = "PMMA cast"']
        # A pump screw may stand over a channel: under a glued cover the body alone holds its thread.
        more = 4 if form.closing == "bonded" else 0
        lines += [f'body = "{show(sizes.body + more)} mm"', f'cover = "{show(sizes.cover + more)} mm"']
        cord = "2 mm" if sizes is LARGE else "1.5 mm"
        lines += [f'cord = "{cord}"', f'screw = "{sizes.screw}"'] if form.closing == "cord" else []
        lines += [
            f'cutter = "{show(sizes.channel - 1)} mm"                    # the smallest cutter for the channels'
        ]
    lines += ['# room = ["400 mm", "300 mm", "80 mm"]   # what your machine can reach', ""]
    if form.closing != "one-piece":
        lines += [
            "[milling]",
            'edges = "drill press"              # where the ports in the edges are drilled',
            "",
        ]
    lines += ["[channel]", f'width = "{show(sizes.channel)} mm"', f'depth = "{show(sizes.depth)} mm"']
    return [*lines, f'bend_radius = "{show(sizes.bend)} mm"', ""]


def _write_coolant(form: StartForm) -> list[str]:
    tank_c = follow_coolant(form, _pump_w(form))[0]
    # Coolant as warm as the air is refused: it could give no heat away.
    in_use = max(round(tank_c), math.floor(AIR_C) + 1)
    return [
        "[coolant]",
        'fluid = "water"',
        f'temperature = "{in_use} °C"              # in use: what radiators and heat below lead to',
        f'ambient = "{show(AIR_C)} °C"                  # of the room',
        "",
    ]


def _write_tank(form: StartForm, sizes: Sizes) -> list[str]:
    width, height, depth = sizes.tank
    x0, x1 = form.width - sizes.right, form.width - sizes.rim
    if form.closing == "one-piece":
        return [
            "[tank]                             # a vessel above the panel: the pump always stands in coolant",
            'kind = "separate"',
            'volume = "250 mL"',
            f'outlet_bore = "{show(sizes.channel)} mm"',
            f'outlet = {{ on = "top", between = {_mm(x0 + 20, x1)}, thread = "{EDGE_THREAD}" }}',
            f'inlet = {{ on = "top", between = {_mm(x0 - 25, x0 + 5)}, thread = "{EDGE_THREAD}" }}',
            "",
        ]
    top = form.height - sizes.rim
    return [
        "[tank]                             # stands above the pump, so that the pump always stands in coolant",
        'kind = "pocket"',
        f"size = {_mm(width, height)}",
        f'depth = "{show(depth)} mm"',
        f"within = {_mm(x0, top - height - PITCH - 1, x1, top)}   # x0, y0, x1, y1 that it must stay inside",
        f'outlet_bore = "{show(sizes.channel)} mm"',
        f'fill = {{ on = "top", thread = "{sizes.thread}" }}',
        "",
    ]


def _write_pump(form: StartForm, sizes: Sizes) -> list[str]:
    head = _head_m(form)
    points = ((0.0, STILL * head), (form.flow, head), (1.6 * form.flow, 0.6 * head), (2.2 * form.flow, 0.0))
    turns = '"180 deg"' if branches(form) else '"0 deg", "90 deg", "180 deg"'
    curve = ", ".join(f'["{show(flow)} L/min", "{show(rise)} m"]' for flow, rise in points)
    screw = sizes.screw if form.closing == "cord" else "M3"
    return [
        "[pump]                             # an invented one: put in the sizes and the curve of yours",
        'on = "front"',
        f"within = {_mm(*place_pump(form, sizes))}   # where its seat may be: low, so that the panel drains",
        f'inlet_bore = "{show(sizes.bore)} mm"',
        f'outlet_bore = "{show(sizes.bore)} mm"',
        f"outlet_offset = {_mm(sizes.outlet, 0)}  # from the inlet to the outlet, before turning",
        f"turns = [{turns}]   # with its outlet below its inlet coolant would stay there",
        f'seat = {{ diameter = "{show(sizes.seat)} mm", depth = "1 mm" }}',
        f'screws = {{ size = "{screw}", circle = "{show(sizes.circle)} mm", count = 4 }}',
        f"curve = [{curve}]",
        "",
    ]


def _head_m(form: StartForm) -> float:
    """Return the head of the pump at the flow that is wanted, [m]: for each stage and channel, and some more."""
    stages = form.stages()
    parts = math.fsum(STAGE_KPA if len(stage) == 1 else GROUP_KPA for stage in stages)
    channels = CHANNEL_KPA * (form.flow / most_flow(choose_sizes(form))) ** 2 * (len(stages) + 1)
    return (parts + channels + 1.0) * 1.2 / KPA_PER_M


def _pump_w(form: StartForm) -> float:
    """Return the heat that the pump's work becomes in the coolant, [W]."""
    return _head_m(form) * KPA_PER_M * form.flow / 60


def _test_bar(form: StartForm) -> float:
    """Return a test pressure over all that the panel sees in use, in steps of 0.1 bar, 0.5 bar at least."""
    column = form.height / 1e3 + SPARE_M
    return max(0.5, math.ceil((STILL * _head_m(form) + column) * KPA_PER_M / 100 * 10) / 10)


def _write_parts(form: StartForm, sizes: Sizes, ports: list[tuple[Box, Box]]) -> list[str]:
    lines: list[str] = []
    shares = [form.flow / len(stage) for stage in form.stages() for _ in stage]
    for part, share, (inlet, outlet) in zip(form.parts, shares, ports, strict=True):
        lines += ["[[part]]", f"name = {write_value(part.name)}", *_write_rating(part, share)]
        drop = STAGE_KPA if share == form.flow else GROUP_KPA
        lines += [
            f'resistance = [["{show(share)} L/min", "{show(drop)} kPa"]]   # invented: from its data sheet'
        ]
        for role, box in (("inlet", inlet), ("outlet", outlet)):
            lines += [f'{role} = {{ on = "front", within = {_mm(*box)}, thread = "{sizes.thread}" }}']
        lines += [""]
    return lines


def _write_rating(part: StartPart, share: float) -> list[str]:
    """Return the line on what a part does with heat, for its share of the flow, [L/min]."""
    if part.kind == "cooled":
        return [f'heat = "{show(part.rating)} W"']
    # From less to more flow than the pump can bring about, so that the capacity is known at any.
    points = ((0.3, 0.9), (1.0, 1.0), (2.5, 1.1))
    told = ", ".join(f'["{show(of * share)} L/min", "{show(by * part.rating)} W/K"]' for of, by in points)
    return [f"capacity = [{told}]   # heat per kelvin of coolant over air: from its data sheet"]


def _write_end(form: StartForm, sizes: Sizes) -> list[str]:
    order = ", ".join(('"tank", "pump"', *(_write_stage(stage) for stage in form.stages()), '"tank"'))
    x0, x1 = form.width - sizes.right, form.width - sizes.rim
    return [
        "[loop]",
        f"order = [{order}]   # an inner list flows in parallel",
        f'flow = "{show(form.flow)} L/min"                   # the flow that you want at least',
        "",
        "[drain]",
        f'port = {{ on = "bottom", between = {_mm(x0, x1)}, thread = "{EDGE_THREAD}" }}',
        "",
        "[service]                          # ports that serve only to bleed and drain",
        'drain = "auto"',
        'bleed = "auto"',
        f'thread = "{EDGE_THREAD}"',
        "",
        "[rules]",
        f'test_pressure = "{show(_test_bar(form))} bar"            # above what the pump makes when nothing flows',
    ]


def _write_stage(stage: tuple[StartPart, ...]) -> str:
    names = ", ".join(write_value(part.name) for part in stage)
    return names if len(stage) == 1 else f"[{names}]"


def _mm(*values: float) -> str:
    return "[" + ", ".join(f'"{show(value)} mm"' for value in values) + "]"
