"""Which bores of a printed panel's meshes are made wider, which get a thread, and how each part is laid down."""

from __future__ import annotations

import shapely

from geom.features import Blank, Cylinder, Detail, Feature
from geom.outline import region_polygon
from geom.printing.fitted import PrintFit, ThreadCut, Vec, WideBore
from geom.standards import tables
from layouts.faces import cover_name, joints_of
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.printed import Printed
from layouts.printing.process import PrintProcess, process_of
from layouts.rules.port_rules import thread_room

WIDENED = ("port", "pump bore", "screw hole", "clearance hole", "pin hole")
"""Kinds of bores into which something fits."""

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
    printable = tables.material(panel.make.cover_row).least_wall_printed is not None
    cover_too = printable or panel.make.cover_row == panel.make.material
    fits = []
    for blank in detail.blanks:
        if blank.name in covers and not cover_too:
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
                up=_lay_cover(blank) if blank.name in covers else printed.pose.up,
            )
        )
    return tuple(fits)


def _list_threads(
    panel: Panel, routed: Routed, detail: Detail, process: PrintProcess
) -> tuple[ThreadCut, ...]:
    """Return the threads of the ports where they are printed: the full thread, or what the bore holds of it."""
    if panel.printing.port_threads != "printed":
        return ()
    bores = {f.name: f for f in detail.features if f.kind == "port"}
    cuts = []
    for port in routed.ports:
        thread = tables.thread(port.thread)
        bore = _bore_of(bores, f"port {port.name} {thread.name}")
        whole, _ = thread_room(panel, routed, port)
        cuts.append(
            ThreadCut(
                name=f"port {port.name} {thread.name}",
                mouth=bore.mouth,
                direction=bore.direction,
                length=min(thread.full_thread, whole),
                pitch=thread.pitch,
                major=thread.major,
                clearance=process.thread_clearance,
            )
        )
    return tuple(cuts)


def _bore_of(bores: dict[str, Feature], name: str) -> Cylinder:
    shape = bores[name].shape
    assert isinstance(shape, Cylinder)
    return shape


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


def _lay_cover(blank: Blank) -> Vec:
    """Return which way a cover's layers grow: it lies on its joint face, which so comes out smoothest."""
    return (0.0, 0.0, 1.0) if blank.z0 > 0 else (0.0, 0.0, -1.0)
