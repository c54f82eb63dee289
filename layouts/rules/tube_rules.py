"""Design rules of the tubes between panel and parts."""

from __future__ import annotations

import math

from geom.findings import Finding, KeyChange
from geom.frame import SAME_MM, Vec
from geom.outline import Point
from geom.words import count_of
from layouts.file.offers import keep_readable
from layouts.file_changes import set_port_key, set_port_place
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.rules.findings import make_finding
from layouts.rules.pocket_words import name_key, write_place
from layouts.tubes.straight_moves import MOST_MOVE
from layouts.tubes.values import TubeRun


def check_tube_ways(panel: Panel, routed: Routed, tubes: tuple[TubeRun, ...]) -> tuple[Finding, ...]:
    """Ask whether there is a way for each tube (`tube.none`)."""
    found = []
    for tube in tubes:
        if tube.points:
            continue
        port = _port_of(routed, tube)
        found.append(
            make_finding(
                "tube.none",
                "caution",
                f"{name_run(tube)}: no tube joins them: {tube.why_none}",
                f"{tube.cure_none}; or join them with a hose and take meets out of {name_key(panel, port)}",
                at_mm=port.at,
                features=(tube.port,),
                changes=_join_by_hose(panel, tube),
            )
        )
    return tuple(found)


def _join_by_hose(panel: Panel, tube: TubeRun) -> tuple[KeyChange, ...]:
    """Return the changes by which a hose takes a tube's place; none where the file then says too little of tubes."""
    port = panel.port(tube.port)
    return () if port is None else keep_readable(panel, set_port_key(port, "meets", None))


def check_tube_room(tubes: tuple[TubeRun, ...]) -> tuple[Finding, ...]:
    """Ask whether each tube keeps clear of all that is known to stand round it (`tube.close`)."""
    return tuple(
        make_finding(
            "tube.close",
            "caution",
            f"{name_run(tube)}: comes within {near.apart:.3g} mm of {near.what}, measured from its centreline, and "
            f"needs {near.needs:.3g} mm; no way with up to three bends is clear of all",
            "move the port or turn the part's port, or join them with a hose",
            near.apart,
            near.needs,
            "mm",
            near.at,
            (tube.port,),
        )
        for tube in tubes
        for near in tube.near
    )


def check_tube_moves(panel: Panel, routed: Routed, tubes: tuple[TubeRun, ...]) -> tuple[Finding, ...]:
    """Ask whether a small move of a free port would make its tube straight (`tube.bend`)."""
    found = []
    for tube in tubes:
        if tube.straight_by is None:
            continue
        port, by = _port_of(routed, tube), tube.straight_by
        has = f"has {count_of(len(tube.bends), 'bend')}" if tube.points else "does not fit"
        x, y, z = (a + b for a, b in zip(port.at, by, strict=True))
        range_key = "within" if port.on in ("front", "back") else "between"
        found.append(
            make_finding(
                "tube.bend",
                "caution",
                f'{name_run(tube)}: {has}, and would be straight with port "{tube.port}" {say_move(by)} of where it '
                "stands",
                f'move port "{tube.port}" {say_move(by)}: write {write_place(port.on, (x, y, z))} in place of '
                f"{range_key} in {name_key(panel, port)}",
                math.hypot(*by),
                MOST_MOVE,
                "mm",
                port.at,
                (tube.port,),
                _fix_port(panel, tube, (x, y)),
            )
        )
    return tuple(found)


def _fix_port(panel: Panel, tube: TubeRun, at: Point) -> tuple[KeyChange, ...]:
    """Return the changes that fix a tube's port where it would be straight."""
    port = panel.port(tube.port)
    return () if port is None else keep_readable(panel, *set_port_place(port, at))


def name_run(tube: TubeRun) -> str:
    """Return which tube it is in a sentence: 'tube 2, from port "pump inlet" to part "radiator"'."""
    return f'{tube.name}, from port "{tube.port}" to "{tube.part}"'


def say_move(by: Vec) -> str:
    """Return a move of a port in words, as seen from the panel's front: "10 mm right and 5 mm up"."""
    ways = ((by[0], "right", "left"), (by[1], "up", "down"))
    return " and ".join(
        f"{abs(far):.4g} mm {more if far > 0 else less}" for far, more, less in ways if abs(far) > SAME_MM
    )


def _port_of(routed: Routed, tube: TubeRun) -> PlacedPort:
    return next(port for port in routed.ports if port.name == tube.port)
