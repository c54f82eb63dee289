"""Which bores of a printed panel's meshes are made wider, which get a thread, and how each part is laid down."""

from __future__ import annotations

import shapely

from geom.features import Blank, Cylinder, Detail
from geom.frame import INTO, Vec
from geom.outline import region_polygon
from geom.printing.mesh_fits import PrintFit, ThreadCut, WideBore
from geom.standards import tables
from layouts.detail import name_port
from layouts.faces import cover_name, joints_of
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.port_threads import thread_room
from layouts.printing.printed import Printed
from layouts.printing.printer_room import find_scale, fits_room, lie_box
from layouts.printing.process import PrintProcess, is_printed, process_of

WIDENED = ("port", "pump bore", "seat", "screw hole", "clearance hole", "pin hole")
"""Kinds of bores into which something fits: a pump stands in its seat. Spot faces have room round a collar anyway."""

JUST_BEYOND = 1e-3
"""How far past a bore's end is looked whether it is through, [mm]."""


def plan_fits(panel: Panel, routed: Routed, detail: Detail, printed: Printed) -> tuple[PrintFit, ...]:
    """Return what each printed part's mesh gets; a cover of a material that is not printed gets none.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    detail : Detail
    printed : Printed

    Returns
    -------
    tuple of PrintFit
        In the order of the blanks.
    """
    process = process_of(panel)
    threads = _list_threads(panel, routed, detail, process)
    threaded = {cut.name for cut in threads}
    covers = {cover_name(layer) for layer in joints_of(panel)}
    fits = []
    for blank in detail.blanks:
        if not is_printed(panel, blank.name):
            continue
        mine = [f for f in detail.features if isinstance(f.shape, Cylinder) and _is_in(blank, f.shape)]
        names = {feature.name for feature in mine}
        fits.append(
            PrintFit(
                part=blank.name,
                bores=tuple(
                    WideBore(f.name, f.shape, _leaves(blank, f.shape))
                    for f in mine
                    if f.kind in WIDENED and f.name not in threaded and isinstance(f.shape, Cylinder)
                ),
                offset=process.bore_offset,
                threads=tuple(cut for cut in threads if cut.name in names),
                shrink=panel.printing.shrink,
                up=_lay_cover(panel, blank) if blank.name in covers else printed.pose.up,
            )
        )
    return tuple(fits)


def _list_threads(
    panel: Panel, routed: Routed, detail: Detail, process: PrintProcess
) -> tuple[ThreadCut, ...]:
    """Return the threads of the ports where they are printed: the full thread, or what the bore holds of it."""
    if panel.printing.port_threads != "printed":
        return ()
    ports = {name_port(port): port for port in routed.ports}
    cuts = []
    for feature in detail.features:
        bore = feature.shape
        if feature.name not in ports or not feature.thread or not isinstance(bore, Cylinder):
            continue
        thread, length = tables.thread(feature.thread), thread_length(panel, routed, ports[feature.name])
        if length <= thread.height or process.thread_clearance >= 2 * thread.height:
            # `print.thread` is a fault there; where that is accepted, the bore stays plain.
            continue
        cuts.append(
            ThreadCut(
                name=feature.name,
                mouth=bore.mouth,
                direction=bore.direction,
                length=length,
                pitch=thread.pitch,
                major=thread.major,
                clearance=process.thread_clearance,
            )
        )
    return tuple(cuts)


def thread_length(panel: Panel, routed: Routed, port: PlacedPort) -> float:
    """Return how long the thread of a port is printed, [mm]: the full thread and its fading crests, or its bore."""
    row = tables.thread(port.thread)
    return min(row.full_thread + row.height, thread_room(panel, routed, port)[0])


def _is_in(blank: Blank, bore: Cylinder) -> bool:
    """Return whether a bore is one of a blank: its middle lies in it."""
    return _holds(blank, _along(bore, bore.length / 2))


def _leaves(blank: Blank, bore: Cylinder) -> bool:
    """Return whether a bore leaves a blank at its end."""
    return not _holds(blank, _along(bore, bore.length + JUST_BEYOND))


def _along(bore: Cylinder, by: float) -> Vec:
    x, y, z = (m + by * d for m, d in zip(bore.mouth, bore.direction, strict=True))
    return x, y, z


def _holds(blank: Blank, point: Vec) -> bool:
    x, y, z = point
    return blank.z0 <= z <= blank.z1 and bool(region_polygon((blank.loop,)).covers(shapely.Point(x, y)))


def _lay_cover(panel: Panel, blank: Blank) -> Vec:
    """Return which way a cover's layers grow: it lies on its joint face, which so comes out smoothest.

    It stands on an edge where the printer is too small for it lying.
    """
    lying = (0.0, 0.0, 1.0) if blank.z0 > 0 else (0.0, 0.0, -1.0)
    scale = find_scale(panel)
    sides = (scale * panel.width, scale * panel.height, scale * (blank.z1 - blank.z0))
    for up in (lying, INTO["bottom"], INTO["left"]):
        height, footprint = lie_box(sides, up)
        if fits_room(footprint, height, panel.make.room):
            return up
    return lying
