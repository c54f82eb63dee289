"""What stands fast on a panel before anything is placed: classes of ports, how near is too near, blocked nodes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.frame import EDGES, SAME_MM, Face
from geom.standards import tables
from layouts.clearance import PAST_FOOT, Clearances, joint_half, ports_apart
from layouts.costs import Costs
from layouts.faces import layers_of
from layouts.grid import Grid
from layouts.nets import PUMP_OUTLET, ChannelNeed
from layouts.panel import Panel, Port


@dataclass(frozen=True, slots=True)
class PortClass:
    """Ports that keep the same distances, or the pump's outlet bore (thread empty).

    Parameters
    ----------
    on : Face
    thread : str
    radius : float
        Of the bore, [mm].
    width : float
        Of the channel that it opens into, [mm].
    """

    on: Face
    thread: str
    radius: float
    width: float


def class_of(port: Port, width: float) -> PortClass:
    """Return the class of a port that opens into a channel of a width, [mm]."""
    return PortClass(port.on, port.thread, tables.thread(port.thread).tap_drill / 2, width)


def list_port_classes(panel: Panel, needs: tuple[ChannelNeed, ...], costs: Costs) -> tuple[PortClass, ...]:
    """Return the classes of the pump's outlet and of all ports at channels, the outlet's first.

    Parameters
    ----------
    panel : Panel
    needs : tuple of ChannelNeed
    costs : Costs
        With the channels' widths.

    Returns
    -------
    tuple of PortClass
        Each once.
    """
    found: list[PortClass] = []
    for need in needs:
        width = costs.channels[need.name].width
        for end in need.ends:
            if end.name == PUMP_OUTLET:
                # The pump's outlet stands first: it always is there.
                found.insert(0, PortClass(panel.pump.on, "", panel.pump.outlet_bore / 2, width))
            elif end.port is not None:
                found.append(class_of(end.port, width))
    return tuple(dict.fromkeys(found))


def least_distances(
    panel: Panel,
    gaps: Clearances,
    widths: tuple[float, ...],
    beside_tank: tuple[bool, ...],
    ports: tuple[PortClass, ...],
) -> tuple[tuple[float, ...], ...]:
    """Return least distances between axes and centrelines of all classes, channels' first.

    A class keeps the distance within a wet region to itself, as those in the tank's region do to one another.

    Parameters
    ----------
    panel : Panel
    gaps : Clearances
    widths : tuple of float
        Of each channel class, [mm].
    beside_tank : tuple of bool
        Whether each is of the tank's wet region.
    ports : tuple of PortClass

    Returns
    -------
    tuple of tuple of float
        [mm]
    """
    first = len(widths)
    table = np.zeros((first + len(ports), first + len(ports)))
    one_region = np.logical_and.outer(beside_tank, beside_tank) | np.eye(first, dtype=bool)
    apart = np.where(one_region, gaps.own_gap, gaps.channel_gap)
    table[:first, :first] = np.add.outer(widths, widths) / 2 + apart
    halves = [
        max(joint_half(panel, a.on, a.radius, a.width, layer) for layer in layers_of(panel)) for a in ports
    ]
    for k, (a, half) in enumerate(zip(ports, halves, strict=True), start=first):
        reach = max(a.radius, PAST_FOOT * a.width) if a.on in EDGES else a.radius
        for c, width in enumerate(widths):
            table[c, k] = table[k, c] = width / 2 + max(half + gaps.channel_gap, reach + gaps.solid_gap)
        for m, (b, beside) in enumerate(zip(ports, halves, strict=True), start=first):
            other = max(b.radius, PAST_FOOT * b.width) if b.on in EDGES else b.radius
            between = max(half + gaps.own_gap + beside, reach + gaps.solid_gap + other)
            if a.on == b.on and a.thread and b.thread:
                between = max(between, ports_apart(tables.thread(a.thread), tables.thread(b.thread)))
            table[k, m] = between
    return tuple(tuple(float(d) for d in row) for row in table)


def block_fixed(
    panel: Panel, grid: Grid, gaps: Clearances, widths: tuple[float, ...], ports: tuple[PortClass, ...]
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    """Return what edge and keep-clear regions block, and for class 0 which of them, with their names.

    Parameters
    ----------
    panel : Panel
    grid : Grid
    gaps : Clearances
    widths : tuple of float
        Of each channel class, [mm].
    ports : tuple of PortClass

    Returns
    -------
    (classes, cells) bool, (cells,) int, tuple of str
        What is blocked; the number of the name of what blocks class 0, -1 where nothing does; the names.
    """
    blocked = np.zeros((len(widths) + len(ports), grid.cells), dtype=bool)
    labels = np.full(grid.cells, -1, np.int64)
    names = ["the panel's edge", *(f'keep-clear region "{clear.name}"' for clear in panel.keep_clear)]
    from_edge = grid.distance_to_edge(panel)
    from_clear = [grid.distance_to_box(clear.box) for clear in panel.keep_clear]
    for c, width in enumerate(widths):
        masks = [from_edge < gaps.edge_gap + width / 2 - SAME_MM]
        reach = width / 2 + max(gaps.seal_reach, gaps.solid_gap)
        masks += [near < reach - SAME_MM for near in from_clear]
        for number, mask in enumerate(masks):
            blocked[c] |= mask
            if c == 0:
                labels[mask & (labels < 0)] = number
    for k, port in enumerate(ports, start=len(widths)):
        if not port.thread:
            continue
        collar = tables.thread(port.thread).collar / 2
        for near in from_clear:
            blocked[k] |= near < max(port.radius + panel.rules.least_wall, collar) - SAME_MM
        if port.on not in EDGES:
            half = joint_half(panel, port.on, port.radius, port.width)
            blocked[k] |= from_edge < max(gaps.edge_gap + half, collar) - SAME_MM
    return blocked, labels, tuple(names)
