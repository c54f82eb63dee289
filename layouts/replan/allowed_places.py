"""Where a thing may stand beside all that has one place, with tank and pump where they now stand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from geom.errors import OutOfRange
from geom.outline import Point
from geom.words import join_names
from layouts.file.gestures import PUMP_ENDS, TANK_ENDS
from layouts.ground import survey_panel
from layouts.laid_out import LaidOut
from layouts.nets import channels_needed
from layouts.panel import Panel
from layouts.replan.clear_places import list_clear_corners
from layouts.replan.port_places import list_port_nodes
from layouts.replan.tank_places import list_corners, list_inlets, list_outlet_mouths

PORT, CLEAR = "port:", "clear:"
"""How ids of ports and keep-clear regions begin: a port's name follows, or a region's number in the file, from 0."""


@dataclass(frozen=True, slots=True)
class AllowedPlaces:
    """Where a thing may stand.

    Parameters
    ----------
    thing : str
    nodes : tuple of (float, float)
        On the grid, [mm], sorted: of a port where its axis meets the face, or the edge; of the pump its inlet; of the
        tank and of a keep-clear region the lower left corner, that of the present place even off the grid.
    why : str
        What the nodes keep off, and what makes way, in one sentence.
    """

    thing: str
    nodes: tuple[Point, ...]
    why: str


def find_allowed(panel: Panel, laid: LaidOut, thing: str) -> AllowedPlaces:
    """Return where a thing may be put: the file then says that it stands there, whatever box it has now.

    Channels and free ports make way, and are not looked at: at an allowed node the channels may still find no way.

    Parameters
    ----------
    panel : Panel
    laid : LaidOut
        Of this panel.
    thing : str
        "port:NAME", "tank", "pump", "clear:NUMBER".

    Returns
    -------
    AllowedPlaces

    Raises
    ------
    OutOfRange
        A thing that the panel lacks, or that is not placed.
    """
    if thing == "pump":
        free, gone = _let_go(panel, PUMP_ENDS)
        return _as_places(thing, list_inlets(survey_panel(free), laid.placement), _PUMP, gone)
    if thing == "tank" and panel.tank.kind == "pocket":
        free, gone = _let_go(panel, TANK_ENDS)
        return _as_places(thing, list_corners(survey_panel(free), laid.placement), _TANK, gone)
    if thing.startswith(CLEAR) and thing.removeprefix(CLEAR).isdecimal():
        number = int(thing.removeprefix(CLEAR))
        if number < len(panel.keep_clear):
            corners = list_clear_corners(survey_panel(panel), laid, number)
            return _as_places(thing, corners, _CLEAR)
    if thing.startswith(PORT):
        port = panel.port(thing.removeprefix(PORT))
        if port is not None and port == panel.tank.outlet:
            return _as_places(thing, list_outlet_mouths(survey_panel(panel), laid.placement), _OUTLET)
        if port is not None:
            free, gone = _let_go(panel, frozenset((port.name,)))
            return _as_places(thing, list_port_nodes(free, laid, port), _PORT, gone)
    raise OutOfRange(
        f'"{thing}" has no place of its own: name a port, the tank, the pump or a keep-clear region'
    )


_OFF = "the panel's edge, keep-clear regions, ports that have one place and kept routes"
_PORT = f"The port keeps off {_OFF}, and off tank and pump where they now stand; other channels and free ports yield"
_PUMP = f"The pump, turned as now, keeps off {_OFF}, with a place for the tank above; channels and free ports yield"
_TANK = f"The tank keeps off {_OFF}, with a place for the pump below; channels and free ports yield"
_OUTLET = "The tank's outlet stands straight above a place of the pump; channels and free ports yield"
_CLEAR = (
    "The region covers no port that has one place, no kept route, and neither tank nor pump where they now stand, "
    "and leaves each free port a place; channels yield"
)


def _let_go(panel: Panel, ends: frozenset[str]) -> tuple[Panel, str]:
    """Return the panel as it is once one of these ends was moved: without the routes kept to it; and what is let go."""
    names = {need.name for need in channels_needed(panel) if any(end.name in ends for end in need.ends)}
    gone = tuple(f'"{route.channel}"' for route in panel.keep_routes if route.channel in names)
    if not gone:
        return panel, ""
    left = tuple(route for route in panel.keep_routes if route.channel not in names)
    routes = "route" if len(gone) == 1 else "routes"
    return replace(panel, keep_routes=left), f"; the {routes} kept for {join_names(gone)} will be let go"


def _as_places(thing: str, nodes: np.ndarray, why: str, gone: str = "") -> AllowedPlaces:
    """Return nodes, (n, 2) [mm], in order; `gone` is what a move lets go of."""
    found = sorted((round(float(x), 6), round(float(y), 6)) for x, y in nodes)
    return AllowedPlaces(thing, tuple(found), f"{why}{gone}.")
