"""Design rules of the printing process: walls that hold coolant, threads, and what wider bores leave of walls."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geom.features import Detail
from geom.findings import Finding, KeyChange
from geom.frame import SAME_MM, WALL_MM
from geom.measured import Wall
from geom.printing.mesh_fits import PrintFit
from geom.standards import tables
from geom.words import count_of, join_names
from layouts.faces import cover_name, joints_of
from layouts.file.offers import keep_readable
from layouts.file_changes import set_key, set_length
from layouts.panel import Panel
from layouts.plan import Layer, PlacedPort, Routed
from layouts.printing.plan_fits import thread_length
from layouts.printing.process import PrintProcess, is_printed, process_of
from layouts.rules.findings import make_finding
from layouts.strength.screw_hole import find_insert

WEAK_SHARE, LEAST_SHARE = 0.5, 0.25
"""Of a thread's height, what must be left to meet a fitting's thread: under the first it is weak (common practice:
tapping drills leave half of a thread at least), under the second it holds nothing (common practice, no source)."""


def tight_wall(panel: Panel, layer: Layer | None = None) -> float:
    """Return the thinnest printed wall that holds coolant, [mm]: by the process, and by the part's own material.

    Parameters
    ----------
    panel : Panel
    layer : {"back", "front"} or None
        The joint whose cover it is in; None: the body.
    """
    material = tables.material(_material_in(panel, layer))
    return max(process_of(panel).tight_wall, material.least_wall_printed or 0.0)


def widest_tight_wall(panel: Panel) -> float:
    """Return the wall that holds coolant in each printed part of a panel, [mm]."""
    return max(tight_wall(panel, layer) for layer in _printed_layers(panel))


def _printed_layers(panel: Panel) -> tuple[Layer | None, ...]:
    """Return the joints whose covers are printed, the body first."""
    return (None, *(layer for layer in joints_of(panel) if is_printed(panel, cover_name(layer))))


def _material_in(panel: Panel, layer: Layer | None) -> str:
    return panel.make.material if layer is None else panel.make.cover_row


def _layer_at(panel: Panel, z: float) -> Layer | None:
    """Return the joint whose cover lies at a height; None in the body."""
    return "back" if z < 0.0 else "front" if z > panel.make.body else None


def _lies_in_print(panel: Panel, z: float) -> bool:
    """Return whether the part at a height is printed: a cover need not be."""
    layer = _layer_at(panel, z)
    return layer is None or is_printed(panel, cover_name(layer))


def check_print_walls(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the least wall asked for holds coolant as it is printed (`print.wall`)."""
    if panel.make.method != "printed":
        return ()
    least = widest_tight_wall(panel)
    if panel.rules.least_wall >= least - SAME_MM:
        return ()
    thickest = next(layer for layer in _printed_layers(panel) if tight_wall(panel, layer) == least)
    return (
        make_finding(
            "print.wall",
            "caution",
            f"the file asks for walls of {panel.rules.least_wall:g} mm beside coolant; "
            f"{_material_in(panel, thickest)} printed {_how(panel)} holds it from {least:g} mm on",
            f'set least_wall = "{least:g} mm" in [rules]',
            panel.rules.least_wall,
            least,
            "mm",
            changes=keep_readable(panel, set_length(least, "rules", "least_wall")),
        ),
    )


def check_measured_walls(panel: Panel, walls: Sequence[Wall]) -> tuple[Finding, ...]:
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
    for wet in (True, False):
        thin = [
            wall
            for wall in walls
            if wall.wet == wet and wall.limit - WALL_MM <= wall.thickness < _least_of(panel, wall) - WALL_MM
            if _lies_in_print(panel, wall.middle[2])
        ]
        if not thin:
            continue
        wall = min(thin, key=lambda each: (each.thickness - _least_of(panel, each), each.between))
        least, layer = _least_of(panel, wall), _layer_at(panel, wall.middle[2])
        what = (
            f"{_material_in(panel, layer)} printed {_how(panel)} holds coolant"
            if wet
            else f"walls print {_how(panel)}"
        )
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
                wall.middle,
                tuple(name for name in wall.between if not name.startswith("outer ")),
                keep_readable(panel, set_length(least, "rules", "least_wall"))
                if wet and least > panel.rules.least_wall
                else (),
            )
        )
    return tuple(found)


def _least_of(panel: Panel, wall: Wall) -> float:
    """Return how thick a printed wall must be, [mm]: tight beside coolant, else such that it prints."""
    if wall.wet:
        return tight_wall(panel, _layer_at(panel, wall.middle[2]))
    return process_of(panel).least_wall


def check_print_threads(panel: Panel, routed: Routed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether printed threads are coarse and tight enough, and say which are not printed (`print.thread`)."""
    if panel.make.method != "printed":
        return ()
    process = process_of(panel)
    found = []
    if panel.printing.port_threads == "printed":
        printed = [port for port in routed.ports if _lies_in_print(panel, port.at[2])]
        found += _find_short(panel, routed, printed)
        found += _find_loose(panel, process, printed)
        for name in tables.thread_names():
            ports = [port for port in printed if port.thread == name]
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
                    _tap_ports(panel),
                )
            )
    return (*found, *_note_screws(panel, detail, process))


def _tap_ports(panel: Panel) -> tuple[KeyChange, ...]:
    """Return the changes by which no port's thread is printed, and what only printed ones take goes."""
    given = panel.printing.thread_clearance is not None
    gone = (set_key(None, "printing", "thread_clearance"),) if given else ()
    return keep_readable(panel, set_key("tapped", "printing", "port_threads"), *gone)


def _find_short(panel: Panel, routed: Routed, ports: Sequence[PlacedPort]) -> list[Finding]:
    """Tell the ports whose bores hold no turn of a thread."""
    found = []
    for port in ports:
        height, length = tables.thread(port.thread).height, thread_length(panel, routed, port)
        if length > height:
            continue
        found.append(
            make_finding(
                "print.thread",
                "fault",
                f'the bore of "{port.name}" holds {max(length, 0.0):.3g} mm of thread before the coolant, less than '
                f"the {height:.3g} mm of the height of a {port.thread} thread, and none can be printed",
                'make the wall there thicker, use a smaller thread, or set port_threads = "tapped" in [printing]',
                max(length, 0.0),
                height,
                "mm",
                port.at,
                (port.name,),
                _tap_ports(panel),
            )
        )
    return found


def _find_loose(panel: Panel, process: PrintProcess, ports: Sequence[PlacedPort]) -> list[Finding]:
    """Tell the threads of which the clearance leaves too little: a fitting's crests hardly meet them."""
    found = []
    for name in tables.thread_names():
        mine = [port for port in ports if port.thread == name]
        height = tables.thread(name).height
        left = height - process.thread_clearance / 2
        if not mine or left >= WEAK_SHARE * height - SAME_MM:
            continue
        most = math.floor(10 * 2 * (1 - WEAK_SHARE) * height) / 10
        holds = (
            f"{left:.2g} mm of the {height:.3g} mm of its height meet" if left > 0 else "no part of it meets"
        )
        found.append(
            make_finding(
                "print.thread",
                "fault" if left < LEAST_SHARE * height else "caution",
                f"the thread {name} is printed {process.thread_clearance:g} mm wider on the diameter: {holds} the "
                "thread of a fitting",
                f'set thread_clearance = "{most:g} mm" or less in [printing]',
                process.thread_clearance,
                2 * (1 - WEAK_SHARE) * height,
                "mm",
                mine[0].at,
                tuple(port.name for port in mine),
                keep_readable(panel, set_length(most, "printing", "thread_clearance")),
            )
        )
    return found


def _note_screws(panel: Panel, detail: Detail, process: PrintProcess) -> tuple[Finding, ...]:
    """Tell which screws' threads are left to a tap."""
    holes = [feature for feature in detail.features if feature.kind == "screw hole" and feature.thread]
    pitch_of = {name: tables.screw(name).pitch for name in dict.fromkeys(hole.thread for hole in holes)}
    fine = [hole for hole in holes if pitch_of[hole.thread] < process.least_pitch - SAME_MM]
    if not fine:
        return ()
    threads = list(dict.fromkeys(hole.thread for hole in fine))
    more = f" and {count_of(len(fine) - 1, 'more screw hole')}" if len(fine) > 1 else ""
    return (
        make_finding(
            "print.thread",
            "note",
            f"the {'thread' if len(threads) == 1 else 'threads'} {join_names(threads)} of {fine[0].name}{more} "
            f"{'is' if len(threads) == 1 else 'are'} too fine to print: the "
            f"{'hole is a bore' if len(fine) == 1 else 'holes are bores'} to be tapped",
            "tap them by hand, or melt in threaded inserts"
            + ("" if panel.make.closing != "cord" else "; for the cover: inserts = true in [make]"),
            min(pitch_of[name] for name in threads),
            process.least_pitch,
            "mm",
            features=tuple(hole.name for hole in fine),
            changes=keep_readable(panel, set_key(True, "make", "inserts"))
            if panel.make.closing == "cord" and find_insert(panel) is not None
            else (),
        ),
    )


def check_fits(panel: Panel, fits: Sequence[PrintFit], walls: Sequence[Wall]) -> tuple[Finding, ...]:
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
    holds = _least_of(panel, wall)
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
            wall.middle,
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
