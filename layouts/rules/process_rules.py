"""Design rules of the printing process: walls that hold coolant, threads, and what wider bores leave of walls."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from geom.features import Detail
from geom.findings import Finding
from geom.frame import SAME_MM, WALL_MM
from geom.printing.fitted import PrintFit, Vec
from geom.standards import tables
from layouts.panel import Panel
from layouts.plan import Routed, Sealed
from layouts.printing.process import PrintProcess, process_of
from layouts.rules.findings import make_finding
from layouts.tolerances.walls import MeasuredWall


class LimitedWall(MeasuredWall, Protocol):
    """A wall with the limit that it was measured against, [mm]."""

    @property
    def limit(self) -> float:
        """The least thickness allowed there, [mm]."""


def tight_wall(panel: Panel) -> float:
    """Return the thinnest printed wall that holds coolant, [mm]: by the process, and by the material."""
    material = tables.material(panel.make.material)
    return max(process_of(panel).tight_wall, material.least_wall_printed or 0.0)


def check_print_walls(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the least wall asked for holds coolant as it is printed (`print.wall`)."""
    least = tight_wall(panel)
    if panel.make.method != "printed" or panel.rules.least_wall >= least - SAME_MM:
        return ()
    return (
        make_finding(
            "print.wall",
            "caution",
            f"the file asks for walls of {panel.rules.least_wall:g} mm beside coolant; {panel.make.material} printed "
            f"{_how(panel)} holds it from {least:g} mm on",
            f'set least_wall = "{least:g} mm" in [rules]',
            panel.rules.least_wall,
            least,
            "mm",
        ),
    )


def check_measured_walls(panel: Panel, walls: Sequence[LimitedWall]) -> tuple[Finding, ...]:
    """Ask whether the walls of the solids hold coolant, and print at all (`print.wall`): the thinnest of each kind.

    Parameters
    ----------
    panel : Panel
    walls : sequence of Wall
        Measured on the solids; those under their own limit are faults already.
    """
    if panel.make.method != "printed":
        return ()
    found = []
    for wet, least, what in (
        (True, tight_wall(panel), f"{panel.make.material} printed {_how(panel)} holds coolant"),
        (False, process_of(panel).least_wall, f"walls print {_how(panel)}"),
    ):
        thin = [
            wall
            for wall in walls
            if wall.wet == wet and wall.limit - WALL_MM <= wall.thickness < least - WALL_MM
        ]
        if not thin:
            continue
        wall = min(thin, key=lambda each: (each.thickness, each.between))
        a, b = wall.between
        many = f", and {len(thin) - 1} more like it" if len(thin) > 1 else ""
        found.append(
            make_finding(
                "print.wall",
                "caution",
                f"the wall between {a} and {b} is {wall.thickness:.3g} mm{many}; {what} from {least:g} mm on",
                "move one of them away, or make the body thicker there"
                + (f', and set least_wall = "{least:g} mm" in [rules]' if wet else ""),
                wall.thickness,
                least,
                "mm",
                _between(wall.points),
                tuple(name for name in wall.between if not name.startswith("outer ")),
            )
        )
    return tuple(found)


def check_print_threads(panel: Panel, routed: Routed, sealed: Sealed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether printed threads are coarse enough, and say which are not printed (`print.thread`)."""
    if panel.make.method != "printed":
        return ()
    process = process_of(panel)
    found = []
    if panel.printing.port_threads == "printed":
        for name in tables.thread_names():
            ports = [port for port in routed.ports if port.thread == name]
            pitch = tables.thread(name).pitch
            if not ports or pitch >= process.least_pitch - SAME_MM:
                continue
            found.append(
                make_finding(
                    "print.thread",
                    "caution",
                    f"the thread {name} has a pitch of {pitch:.3g} mm, {_lines(process)} print from "
                    f"{process.least_pitch:.3g} mm on",
                    'print thinner lines and layers, use a larger thread, or set port_threads = "tapped" in '
                    "[printing]",
                    pitch,
                    process.least_pitch,
                    "mm",
                    ports[0].at,
                    tuple(port.name for port in ports),
                )
            )
    return (*found, *_note_screws(panel, sealed, detail, process))


def _note_screws(panel: Panel, sealed: Sealed, detail: Detail, process: PrintProcess) -> tuple[Finding, ...]:
    """Tell which screws' threads are left to a tap."""
    tapped = []
    if panel.pump.screw_size is not None and any(f.name.startswith("pump screw ") for f in detail.features):
        tapped.append(("the pump's screws", tables.screw(panel.pump.screw_size)))
    if sealed.screws and not panel.make.inserts:
        tapped.append(("the cover's screws", tables.screw(panel.make.screw)))
    fine = [(what, screw) for what, screw in tapped if screw.pitch < process.least_pitch - SAME_MM]
    if not fine:
        return ()
    finest = min(screw.pitch for _, screw in fine)
    listed = " and ".join(f"{what} ({screw.name})" for what, screw in fine)
    return (
        make_finding(
            "print.thread",
            "note",
            f"the threads of {listed} are too fine to print: their holes are bores to be tapped",
            "tap them by hand, or melt in threaded inserts"
            + ("" if panel.make.closing != "cord" else "; for the cover: inserts = true in [make]"),
            finest,
            process.least_pitch,
            "mm",
        ),
    )


def check_fits(panel: Panel, fits: Sequence[PrintFit], walls: Sequence[LimitedWall]) -> tuple[Finding, ...]:
    """Ask what wider bores leave of the walls in the meshes that are printed (`print.fit`).

    Parameters
    ----------
    panel : Panel
    fits : sequence of PrintFit
    walls : sequence of Wall
        Measured on the solids; those under their own limit are faults already.
    """
    wider = {wide.name: fit.offset / 2 for fit in fits for wide in fit.bores}
    found = []
    for wall in walls:
        taken = sum(wider.get(name, 0.0) for name in wall.between)
        left = wall.thickness - taken
        if taken > 0 and wall.thickness >= wall.limit - WALL_MM and left < wall.limit - WALL_MM:
            found.append((left, wall))
    if not found:
        return ()
    left, wall = min(found, key=lambda row: (row[0], row[1].between))
    holds = tight_wall(panel) if wall.wet else process_of(panel).least_wall
    thin = left < min(holds, wall.limit) - WALL_MM
    a, b = wall.between
    return (
        make_finding(
            "print.fit",
            "fault" if left <= 0 else "caution" if thin else "note",
            f"bores {2 * max(wider.values()):g} mm wider leave {left:.3g} mm in STL and 3MF of the wall between {a} "
            f"and {b}, under {wall.limit:g} mm",
            "set a smaller bore_offset in [printing], or move one of them away"
            if thin
            else "measure a printed bore: where it comes out as wide as in the file, set a smaller bore_offset in "
            "[printing]",
            left,
            wall.limit,
            "mm",
            _between(wall.points),
            tuple(name for name in wall.between if not name.startswith("outer ")),
        ),
    )


def _how(panel: Panel) -> str:
    """Return the process in words."""
    process = process_of(panel)
    return f"in lines of {process.line_width:g} mm" if process.name == "filament" else "in resin"


def _lines(process: PrintProcess) -> str:
    if process.name == "filament":
        return f"lines of {process.line_width:g} mm in layers of {process.layer:g} mm"
    return f"layers of {process.layer:g} mm of resin"


def _between(points: tuple[Vec, Vec]) -> Vec:
    (x0, y0, z0), (x1, y1, z1) = points
    return (x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2
