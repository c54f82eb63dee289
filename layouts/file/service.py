"""What a panel file says of ports for filling, bleeding and draining: as data, and what is wrong with it."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Literal

from geom.errors import OutOfRange
from geom.standards.tables import thread
from layouts.file.model import PanelFile, ServiceTable
from layouts.file.positions import Problems
from layouts.file.quantities import ServicePorts, show_value
from layouts.nets import FEED, list_channel_names
from layouts.panel import Service


def build_service(table: ServiceTable | None) -> Service:
    """Return the [service] table as data; the defaults where there is none."""
    if table is None:
        return Service()
    return Service(_freeze(table.bleed), _freeze(table.drain), table.thread)


def check_service(file: PanelFile, problems: Problems) -> None:
    """Note a thread that is no row of the table, channels that the loop does not ask for, and the feed."""
    table = file.service
    if table is None:
        return
    try:
        thread(table.thread)
    except OutOfRange as error:
        problems.add(("service", "thread"), str(error))
    if any(path[0] == "loop" for path, _ in problems.found):
        return
    names = list_channel_names(file.loop.order, file.drain is not None)
    pocket = ("tank",) if file.tank.kind == "pocket" else ()
    for key, ports, known in (("bleed", table.bleed, names), ("drain", table.drain, (*names, *pocket))):
        for index, name in enumerate(() if isinstance(ports, str) else ports):
            if name == FEED:
                problems.add(
                    ("service", key, index),
                    f"{show_value(name)} gets no plug: the pump would draw air through it; a {key} port may go into "
                    f"{', '.join(show_value(other) for other in known)}",
                )
            elif name not in known:
                near = [show_value(other) for other in get_close_matches(name, known, n=1)]
                meant = f"; is {near[0]} meant?" if near else ""
                problems.add(
                    ("service", key, index),
                    f"{show_value(name)} is no channel of this panel{meant}; its channels are "
                    f"{', '.join(show_value(other) for other in known)}",
                )
            elif name in ports[:index]:
                problems.add(
                    ("service", key, index), f"{show_value(name)} stands twice; name each channel once"
                )


def _freeze(ports: ServicePorts) -> Literal["none", "auto"] | tuple[str, ...]:
    return ports if isinstance(ports, str) else tuple(ports)
