"""What a panel file says of cutters, printer and prices: as data, and what is wrong with it."""

from __future__ import annotations

from geom.errors import OutOfRange
from geom.frame import SAME_MM
from geom.standards.processes import find_process
from geom.standards.tables import thread
from layouts.file.making_tables import MillingTable, PricesTable, PrintingTable
from layouts.file.model import PanelFile
from layouts.file.positions import Problems
from layouts.panel import EndMill, Milling, Prices, Printing

MOST_TILT = 60.0
"""Steepest tilt of a print that is tried, [deg]: one of 90 lies on another face."""

MOST_SHRINK = 0.05
"""Above this a shrinkage is a slip, [-]."""


def build_milling(table: MillingTable | None) -> Milling:
    """Return the [milling] table as data; the defaults where there is none."""
    if table is None:
        return Milling()
    cutters = (EndMill(entry.diameter, entry.reach, entry.teeth) for entry in table.cutters or ())
    return Milling(
        cutters=tuple(sorted(cutters, key=lambda cutter: cutter.diameter)),
        edges=table.edges,
        stock=None if table.stock is None else (table.stock[0], table.stock[1]),
        speed_rpm=table.speed,
    )


def build_printing(table: PrintingTable | None) -> Printing:
    """Return the [printing] table as data; the defaults where there is none."""
    if table is None:
        return Printing()
    return Printing(
        process=table.process,
        line_width=table.line_width,
        layer=table.layer,
        lies_on=table.lies_on,
        tilts=tuple(table.tilts),
        roofs=table.roofs,
        port_threads=table.port_threads,
        thread_clearance=table.thread_clearance,
        bore_offset=table.bore_offset,
        shrink=table.shrink,
    )


def build_prices(table: PricesTable | None) -> Prices | None:
    """Return the [prices] table as data; None where there is none."""
    if table is None:
        return None
    return Prices(
        currency=table.currency,
        material_per_kg=table.material_per_kg,
        cover_material_per_kg=table.cover_material_per_kg,
        cord_per_m=table.cord_per_m,
        screw_each=table.screw_each,
        insert_each=table.insert_each,
        fitting_each=tuple(table.fitting_each.items()),
        coolant_per_l=table.coolant_per_l,
        machine_per_h=table.machine_per_h,
    )


def check_making(file: PanelFile, problems: Problems) -> None:
    """Check the tables [milling], [printing] and [prices] against the rest of the file."""
    if file.milling is not None:
        _check_milling(file, file.milling, problems)
    if file.printing is not None:
        _check_printing(file.printing, problems)
    if file.prices is not None:
        for name in file.prices.fitting_each:
            try:
                thread(name)
            except OutOfRange as error:
                problems.add(("prices", "fitting_each", name), str(error))


def _check_milling(file: PanelFile, table: MillingTable, problems: Problems) -> None:
    sizes = [cutter.diameter for cutter in table.cutters or ()]
    for index, size in enumerate(sizes):
        if size in sizes[:index]:
            problems.add(
                ("milling", "cutters", index), f"{size:g} mm stands twice in the list; keep one of them"
            )
    cutter = file.make.cutter
    if sizes and cutter is not None and not any(abs(size - cutter) < SAME_MM for size in sizes):
        listed = ", ".join(f"{size:g} mm" for size in sorted(sizes))
        narrow = min((file.channel.width, *file.channel.own.values()))
        # Only one that goes into the narrowest channel can be the cutter.
        fitting = ", ".join(f"{size:g} mm" for size in sorted(sizes) if size <= narrow + SAME_MM)
        remedy = (
            f"add it, or set cutter to one that goes into the channels: {fitting}"
            if fitting
            else f"add it: none of them goes into a channel of {narrow:g} mm"
        )
        problems.add(
            ("milling", "cutters"),
            f"cutter = {cutter:g} mm in [make] is not among them ({listed}); {remedy}",
        )
    if table.stock is not None:
        for side, stock, panel in zip(("width", "height"), table.stock, file.panel.size, strict=True):
            if stock < panel - SAME_MM:
                problems.add(
                    ("milling", "stock"),
                    f"a {side} of {stock:g} mm is less than the panel's {panel:g} mm; use a larger sheet",
                )


def _check_printing(table: PrintingTable, problems: Problems) -> None:
    for index, tilt in enumerate(table.tilts):
        if not 0 < tilt <= MOST_TILT:
            problems.add(
                ("printing", "tilts", index),
                f"read {tilt:g} deg; write a tilt above 0 and up to {MOST_TILT:g} deg",
            )
    if table.shrink > MOST_SHRINK:
        problems.add(
            ("printing", "shrink"),
            f"{100 * table.shrink:g} % is more than any print shrinks; at most {100 * MOST_SHRINK:g} %",
        )
    if table.process == "resin" and table.line_width is not None:
        problems.add(
            ("printing", "line_width"), 'process = "resin" lays no lines of filament: remove the key'
        )
    _check_layer(table, problems)
    if table.port_threads == "tapped" and table.thread_clearance is not None:
        problems.add(
            ("printing", "thread_clearance"),
            'port_threads = "tapped" has no printed threads: remove the key, or set port_threads = "printed"',
        )


def _check_layer(table: PrintingTable, problems: Problems) -> None:
    """Check that a layer of filament is no higher than its line is wide."""
    usual = find_process(table.process)
    line = usual.line_width if table.line_width is None else table.line_width
    layer = usual.layer if table.layer is None else table.layer
    if table.process != "filament" or layer <= line + SAME_MM:
        return
    key = "layer" if table.layer is not None else "line_width"
    problems.add(
        ("printing", key),
        f"layers of {layer:g} mm in lines {line:g} mm wide do not hold together: a layer is at most as high as its "
        "line is wide; write a lower layer, or a wider line_width",
    )
