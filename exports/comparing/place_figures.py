"""Where ports, pump, tank and tubes of one plan are."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from exports.comparing.values import Figure, NamedFigure
from exports.wording.figures import show_mm, show_place
from geom.standards import tables
from layouts.plan import Plan


def list_ports(plan: Plan) -> Iterator[NamedFigure]:
    """Yield how many ports there are by their threads, and how many of them are shut in use.

    Parameters
    ----------
    plan : Plan
    """
    ports = plan.routed.ports
    counted = Counter(port.thread for port in ports)
    for name in tables.thread_names():
        if counted[name]:
            yield NamedFigure(f"ports {name}", "", Figure(counted[name], 0.0, 0))
    yield NamedFigure("of them shut in use", "", Figure(sum(port.is_shut for port in ports), 0.0, 0))


def list_places(plan: Plan) -> Iterator[NamedFigure]:
    """Yield where pump, tank and each port stand.

    Parameters
    ----------
    plan : Plan
    """
    routed = plan.routed
    x, y = routed.pump.inlet
    yield NamedFigure("pump's inlet", "", Figure(f"({show_mm(x)}, {show_mm(y)}) mm"))
    yield NamedFigure("pump turned by", "deg", Figure(routed.pump.turn_deg, 0.0, 0))
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        yield NamedFigure("tank's lower left corner", "", Figure(f"({show_mm(x0)}, {show_mm(y0)}) mm"))
        yield NamedFigure("tank's size", "", Figure(f"{show_mm(x1 - x0)} x {show_mm(y1 - y0)} mm"))
    for port in routed.ports:
        yield NamedFigure(port.name, "", Figure(f"{port.on} {show_place(port.at)}"), single=True)


def list_tubes(plan: Plan) -> Iterator[NamedFigure]:
    """Yield the tubes between panel and parts; nothing where the file gives no place for the parts' own ports.

    Parameters
    ----------
    plan : Plan
    """
    if not plan.tubes:
        return
    yield NamedFigure("tubes", "", Figure(len(plan.tubes), 0.0, 0))
    straight = sum(1 for tube in plan.tubes if not tube.bends and not tube.why_none)
    yield NamedFigure("straight ones", "", Figure(straight, 0.0, 0))
    yield NamedFigure(
        "cut lengths in all", "mm", Figure(math.fsum(tube.length for tube in plan.tubes), 0.0, 0)
    )
    none = sum(1 for tube in plan.tubes if tube.why_none)
    if none:
        yield NamedFigure("without a way", "", Figure(none, 0.0, 0))
