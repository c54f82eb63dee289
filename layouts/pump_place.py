"""Whether a pump's seat has room: where the pump stands, and anywhere the file lets it stand."""

from __future__ import annotations

import math

from geom.frame import EDGES, SAME_MM
from geom.outline import Point
from layouts.clearance import feed_width
from layouts.grid import grid_of
from layouts.panel import Box, Panel, Port, PumpChoice
from layouts.plan import Routed
from layouts.tank import tank_corner_radius


def find_seat_obstacle(panel: Panel, routed: Routed, choice: PumpChoice) -> str | None:
    """Return why a pump's seat has no room; None where it has, or may have once the pump is placed anew.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    choice : PumpChoice

    Returns
    -------
    str or None
        That some place is free of everything known before routing does not promise that the panel routes with
        the pump there.
    """
    here = find_seat_trouble(panel, routed.pump.inlet, choice.seat_diameter)
    if here is None or panel.pump.within is None:
        return here
    x0, y0, x1, y1 = panel.pump.within
    seat = choice.seat_diameter
    if seat > min(x1 - x0, y1 - y0) + SAME_MM:
        return f"its seat of {seat:g} mm is larger than the box that [pump] within allows, {x1 - x0:g} x {y1 - y0:g} mm"
    if _has_place(panel, seat):
        return None
    return (
        f"its seat of {seat:g} mm has no place in the box that [pump] within allows, under the tank and clear of "
        "what is kept clear"
    )


def find_move(panel: Panel, routed: Routed, choice: PumpChoice) -> str | None:
    """Return why a pump would be placed anew; None where its seat fits as the pump stands, or nowhere.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    choice : PumpChoice

    Returns
    -------
    str or None
    """
    here = find_seat_trouble(panel, routed.pump.inlet, choice.seat_diameter)
    if here is None or find_seat_obstacle(panel, routed, choice) is not None:
        return None
    return f"its seat of {choice.seat_diameter:g} mm does not fit where the pump stands now"


def find_seat_trouble(panel: Panel, inlet: Point, seat_diameter: float) -> str | None:
    """Return why a pump's seat has no room about one place of its inlet; None where it has.

    Parameters
    ----------
    panel : Panel
    inlet : (float, float)
        [mm]
    seat_diameter : float
        [mm]

    Returns
    -------
    str or None
    """
    box, name = (0.0, 0.0, panel.width, panel.height), "the panel"
    if panel.pump.within is not None:
        box, name = panel.pump.within, "the box that [pump] within allows"
    x0, y0, x1, y1 = box
    if seat_diameter > min(x1 - x0, y1 - y0) + SAME_MM:
        return f"its seat of {seat_diameter:g} mm is larger than {name}, {x1 - x0:g} x {y1 - y0:g} mm"
    x, y = inlet
    about = f"its seat of {seat_diameter:g} mm about ({x:g}, {y:g}) mm"
    past = seat_diameter / 2 - min(x - x0, x1 - x, y - y0, y1 - y)
    if past > SAME_MM:
        return f"{about} reaches {past:.3g} mm out of {name}"
    for clear in panel.keep_clear:
        over = seat_diameter / 2 - _measure_to_box(inlet, clear.box)
        if over > SAME_MM:
            return f'{about} reaches {over:.3g} mm over "{clear.name}", which is kept clear'
    return None


def _has_place(panel: Panel, seat_diameter: float) -> bool:
    """Return whether any node of the grid takes the pump's inlet, with its seat, in the tank's column."""
    assert panel.pump.within is not None, "only a pump that may be moved has more than one place"
    x0, y0, x1, y1 = panel.pump.within
    low, high, top = _reach_column(panel)
    radius, grid = seat_diameter / 2, grid_of(panel)
    columns = grid.span(max(x0 + radius, low), min(x1 - radius, high))
    rows = grid.span(y0 + radius, min(y1 - radius, top))
    return any(
        find_seat_trouble(panel, (column * grid.pitch, row * grid.pitch), seat_diameter) is None
        for row in rows
        for column in columns
    )


def _reach_column(panel: Panel) -> tuple[float, float, float]:
    """Return the least and the most x, and the most y, of a pump's inlet with the tank's outlet above it, [mm]."""
    tank, feed = panel.tank, feed_width(panel)
    if tank.kind == "separate":
        assert tank.outlet is not None
        x0, _, x1, y1 = _find_port_box(panel, tank.outlet)
        return x0, x1, y1
    assert tank.size is not None
    width, height = tank.size
    side = tank_corner_radius(panel) + feed / 2
    if tank.at is not None:
        x0, y0, x1 = tank.at[0], tank.at[1], tank.at[0] + width
    else:
        assert tank.within is not None
        x0, x1, y0 = tank.within[0], tank.within[2], tank.within[3] - height
    return x0 + side, x1 - side, y0 - feed


def _find_port_box(panel: Panel, port: Port) -> Box:
    """Return where the foot of a port may lie, [mm]; at an edge anywhere across the panel."""
    if port.on not in EDGES:
        if port.at is not None:
            return (*port.at, *port.at)
        assert port.within is not None
        return port.within
    upright = port.on in ("top", "bottom")
    if port.between is not None:
        low, high = port.between
    else:
        assert port.at is not None
        low = high = port.at[0] if upright else port.at[1]
    return (low, 0.0, high, panel.height) if upright else (0.0, low, panel.width, high)


def _measure_to_box(point: Point, box: Box) -> float:
    dx = max(box[0] - point[0], point[0] - box[2], 0.0)
    dy = max(box[1] - point[1], point[1] - box[3], 0.0)
    return math.hypot(dx, dy)
