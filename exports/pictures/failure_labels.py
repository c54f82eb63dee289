"""Where the names stand in the picture of a panel without a layout, and the rooms that were asked for."""

from __future__ import annotations

import math
from itertools import pairwise

from exports.pictures.labels import LabelRequest, Rect, place_labels
from exports.pictures.plan_picture import draw_label, lines_size
from exports.pictures.plan_symbols import PAPER, SHEET, STILL
from exports.pictures.svg import View
from exports.wording.figures import show_mm
from geom.frame import EDGES
from geom.outline import Point
from geom.standards import tables
from layouts.explain import find_port_middle
from layouts.failure import LayoutFailure
from layouts.panel import Box, Panel, Port

LINE_STEP = 3.0
"""Between the points that stand for drawn lines where labels are placed, in picture units."""

Label = tuple[LabelRequest, tuple[str, ...], str]


def draw_failure_labels(failure: LayoutFailure, view: View) -> tuple[list[str], list[Rect]]:
    """Place and draw the names of the channels concerned, the gap, ports, tank, pump and keep-clear regions."""
    panel = failure.panel
    width, height = panel.width * view.scale, panel.height * view.scale
    wanted = _list_labels(failure, view)
    lines: list[Point] = []
    for link in failure.links:
        for other in link.ends[1:]:
            lines += _points_along(view.to(link.ends[0]), view.to(other))
    boxes = [port.within for port in asked_ports(panel)]
    taken: list[Rect] = [(-34.0, height, width, height + 27.0), (-34.0, 0.0, 0.0, height)]
    taken += [_square(view.to(end), 6.0) for link in failure.links for end in link.ends]
    if failure.placement is None:
        boxes += [pump_room(panel), tank_room(panel)]
    else:
        lines += _points_round(failure.placement.inlet, panel.pump.seat_diameter / 2, view)
        lines += _points_along(view.to(failure.placement.inlet), view.to(failure.placement.top))
        taken.append(_square(view.to(failure.placement.inlet), panel.pump.inlet_bore / 2 * view.scale + 1.0))
        taken.append(
            _square(view.to(failure.placement.outlet), panel.pump.outlet_bore / 2 * view.scale + 1.0)
        )
    for box in boxes:
        if box is not None:
            x0, y0, x1, y1 = box
            corners = [view.to(p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))]
            for a, b in pairwise(corners):
                lines += _points_along(a, b)
    for port in asked_ports(panel):
        if port.on not in EDGES and port.at is not None:
            taken.append(
                _square(view.to(port.at), tables.thread(port.thread).tap_drill / 2 * view.scale + 1.0)
            )
    if failure.gap is not None:
        (x0, y0), (x1, y1) = view.to(failure.gap.start), view.to(failure.gap.end)
        taken.append((min(x0, x1) - 9.0, min(y0, y1) - 9.0, max(x0, x1) + 9.0, max(y0, y1) + 9.0))
    placed = place_labels(
        tuple(label[0] for label in wanted), tuple(taken), tuple(lines), (2.0, 2.0, width - 2.0, height - 2.0)
    )
    out: list[str] = []
    for (request, said, ground), label in zip(wanted, placed, strict=True):
        out += draw_label(request, said, ground, label)
    return out, [label.box for label in placed]


def _list_labels(failure: LayoutFailure, view: View) -> list[Label]:
    panel = failure.panel
    wanted: list[Label] = []

    def ask(at: Point, said: tuple[str, ...], gap: float, outward: Point | None = None) -> None:
        ground = SHEET if outward is None else PAPER
        wanted.append((LabelRequest(view.to(at), lines_size(said), gap, outward), said, ground))

    if failure.gap is not None:
        gap = failure.gap
        middle = ((gap.start[0] + gap.end[0]) / 2, (gap.start[1] + gap.end[1]) / 2)
        ask(middle, (f"gap {gap.width:.1f} mm wide", f"{gap.needed:.1f} mm needed"), 14.0)
    for port in asked_ports(panel):
        said = (port.name, f"{port.thread}{', back' if port.on == 'back' else ''}")
        middle = find_port_middle(panel, port)
        if port.on in EDGES:
            outward = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "top": (0.0, -1.0), "bottom": (0.0, 1.0)}[
                port.on
            ]
            ask(middle, said, 30.0 if port.on in ("bottom", "left") else 14.0, outward)
        elif port.within is not None:
            x0, y0, x1, y1 = port.within
            ask(middle, said, max(x1 - x0, y1 - y0) / 2 * view.scale * 0.7 + 3.0)
        else:
            ask(middle, said, tables.thread(port.thread).tap_drill / 2 * view.scale + 3.0)
    placement, box = failure.placement, tank_room(panel)
    tank: tuple[str, ...] = ("tank",)
    if placement is None:
        room = pump_room(panel)
        ask(middle_of(room), ("pump", f"seat {show_mm(panel.pump.seat_diameter)} mm"), 0.0)
        ask((middle_of(room)[0], room[1]), ("where the pump may stand",), 8.0)
        if box is not None:
            ask((middle_of(box)[0], box[3]), ("where the tank may stand",), 8.0)
    else:
        ask(
            placement.inlet,
            ("pump inlet", f"turned {placement.turn_deg}°"),
            panel.pump.inlet_bore / 2 * view.scale + 6.0,
        )
        ask(placement.outlet, ("pump outlet",), panel.pump.outlet_bore / 2 * view.scale + 6.0)
        box = placement.box
    if box is not None:
        x0, y0, x1, y1 = box
        home = (*view.to((x0, y1)), *view.to((x1, y0)))
        request = LabelRequest(view.to(middle_of(box)), lines_size(tank), 0.0, None, home)
        wanted.append((request, tank, STILL))
    for clear in panel.keep_clear:
        ask(((clear.box[0] + clear.box[2]) / 2, (clear.box[1] + clear.box[3]) / 2), (clear.name,), 0.0)
    # A channel's name may stand anywhere along it, so it gives way to those that name a spot.
    for link in failure.links:
        (x0, y0), (x1, y1) = link.ends[0], link.ends[-1]
        ask(((x0 + x1) / 2, (y0 + y1) / 2), (link.channel,), 6.0)
    return wanted


def _square(at: Point, half: float) -> Rect:
    return at[0] - half, at[1] - half, at[0] + half, at[1] + half


def _points_round(middle: Point, radius: float, view: View) -> list[Point]:
    """Return points along a circle, given in mm; none without a radius."""
    (x, y), drawn = view.to(middle), radius * view.scale
    count = int(math.tau * drawn / LINE_STEP)
    turns = [math.tau * k / count for k in range(count)]
    return [(x + drawn * math.cos(turn), y + drawn * math.sin(turn)) for turn in turns]


def _points_along(a: Point, b: Point) -> list[Point]:
    count = max(1, int(math.dist(a, b) / LINE_STEP))
    return [(a[0] + (b[0] - a[0]) * k / count, a[1] + (b[1] - a[1]) * k / count) for k in range(count + 1)]


def asked_ports(panel: Panel) -> tuple[Port, ...]:
    """Return all ports that the file asks for, the fill port left out."""
    return tuple(port for port in panel.ports if port != panel.tank.fill)


def pump_room(panel: Panel) -> Box:
    """Return the box that the pump's seat must stay in, [mm]: its own outline where it has no choice."""
    pump = panel.pump
    if pump.within is not None:
        return pump.within
    assert pump.at is not None
    (x, y), radius = pump.at, max(pump.seat_diameter, pump.inlet_bore) / 2
    return x - radius, y - radius, x + radius, y + radius


def tank_room(panel: Panel) -> Box | None:
    """Return the box that a pocket tank must stay in, [mm]; None for a separate tank."""
    tank = panel.tank
    if tank.size is None:
        return None
    if tank.within is not None:
        return tank.within
    assert tank.at is not None
    return (*tank.at, tank.at[0] + tank.size[0], tank.at[1] + tank.size[1])


def middle_of(box: Box) -> Point:
    """Return the middle of a box."""
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
