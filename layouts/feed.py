"""Whether the pump's inlet stays in coolant: depth, tilt, head, growth.

A separate tank is a vessel whose shape and height are not known: of it only volumes are told, and the head at
the pump's inlet as if its coolant stood no higher than its port.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from geom.frame import Vec
from layouts.advice import Feeding
from layouts.basin import Basin, Side, find_surface, tilt_until_bare
from layouts.clearance import tank_z
from layouts.faces import layer_z
from layouts.hydraulics.coolant import PRESSURE_PA, Coolant, coolant_properties
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.installed import find_feed, lies_flat, place_at, rise_along
from layouts.panel import Panel
from layouts.plan import Flowing, PlacedPort, Routed
from layouts.tank import pocket_area
from layouts.wet_volume import MM3_PER_ML, channel_volume_ml

HOT_C = 60.0
"""Coolant above it harms pumps, tubes and acrylic; common practice, no source."""

FILL_C = 20.0
"""Temperature of the coolant when it is filled in, [°C]."""

HOSES = "hoses"
"""What stands for all hoses among the parts whose volume is not known."""

LEAST_WATER_C = 1.0
"""Vapour pressure below it is taken at it: still an upper bound, and next to nothing, [°C]."""

BARE_SHARE = 0.5
"""Least depth over the tank's outlet in its diameters: a lower surface lies below a side outlet's rim."""


def find_fill_coolant(panel: Panel) -> Coolant:
    """Return the panel's coolant as cold as it is filled in and bled.

    Parameters
    ----------
    panel : Panel

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    choice = panel.coolant
    return coolant_properties(choice.fluid, choice.mass_fraction, FILL_C)


def examine_feed(panel: Panel, routed: Routed, flowing: Flowing) -> Feeding:
    """Return what keeps the pump's inlet in coolant, in numbers.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    Feeding
        The tilts are counted from how the panel is installed. Parts and hoses whose volume the file does not give
        count as nothing.

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    whole = tank_volume_ml(panel, routed) or 0.0
    held = whole * panel.tank.level
    loop = loop_volume_ml(panel, routed)
    known = held > 0
    basin = find_basin(panel, routed)
    tilts = _measure_tilts(panel, basin)
    feed = next((channel for channel in flowing.channels if channel.channel == _feed_name(routed)), None)
    drop_pa = 0.0 if feed is None else feed.drop_pa
    used = next((choice for choice in panel.pump.choices if choice.name == panel.pump.used), None)
    return Feeding(
        cover_mm=_measure_cover(panel, basin),
        needs_mm=None if basin is None else _find_need(routed, flowing.flow_m3_s),
        tilt_left_deg=tilts.get("left"),
        tilt_right_deg=tilts.get("right"),
        tilt_front_deg=tilts.get("front"),
        tilt_back_deg=tilts.get("back"),
        available_head_m=available_inlet_head_m(panel, routed, flowing.flow_m3_s, drop_pa),
        least_head_m=None if used is None else used.least_inlet_head_m,
        growth_ml=(held + loop) * growth_share(panel) if known else None,
        room_ml=whole - held if known else None,
        tank_ml=held,
        loop_ml=loop,
        unknown_parts=(
            *(part.name for part in panel.parts if part.volume_ml is None),
            *((HOSES,) if panel.hose_volume_ml is None else ()),
        ),
    )


def available_inlet_head_m(
    panel: Panel, routed: Routed, flow_m3_s: float, feed_drop_pa: float
) -> float | None:
    """Return the head at the pump's inlet over the coolant's vapour pressure.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flow_m3_s : float
        Towards the pump, [m3/s].
    feed_drop_pa : float
        Loss of total pressure from the tank to the pump's inlet at that flow, [Pa].

    Returns
    -------
    float or None
        [m], velocity head included; None at reverse flow, where this is not the inlet, and for a pocket tank
        without a feed. Where the panel lies flat, tank and inlet are taken to stand equally high.

    Raises
    ------
    OutOfRange
        A coolant outside its table.

    Notes
    -----
    The tank is open to the air, by its vented plug, at one standard atmosphere: 1 km higher up there is some 1.2 m
    less.
    """
    height = _stand_over_inlet(panel, routed)
    if height is None or flow_m3_s < 0:
        return None
    choice = panel.coolant
    coolant = coolant_properties(choice.fluid, choice.mass_fraction, choice.temperature_c)
    vapour = coolant.vapour_pressure_pa
    if vapour is None:
        # Raoult: a solute lowers the vapour pressure, so that of water alone is an upper bound.
        vapour = coolant_properties("water", 0.0, max(LEAST_WATER_C, choice.temperature_c)).vapour_pressure_pa
    return inlet_head_m(PRESSURE_PA, height / 1e3, feed_drop_pa, vapour or 0.0, coolant.density_kg_m3)


def inlet_head_m(
    surface_pa: float, height_m: float, drop_pa: float, vapour_pa: float, density_kg_m3: float
) -> float:
    """Return the net positive suction head that a tank gives at a pump's inlet.

    Parameters
    ----------
    surface_pa : float
        Pressure of the air on the surface, absolute, [Pa].
    height_m : float
        Surface over the inlet, [m]; negative where the pump stands higher.
    drop_pa : float
        Losses on the way, [Pa].
    vapour_pa : float
        Vapour pressure of the coolant, [Pa].
    density_kg_m3 : float
        [kg/m3]

    Returns
    -------
    float
        [m]

    Source
    ------
    Definition of the available net positive suction head, ISO 17769-1 (recalled, not verified): atmospheric
    head and static head less losses and vapour pressure head.
    """
    return height_m + (surface_pa - drop_pa - vapour_pa) / (density_kg_m3 * GRAVITY_M_S2)


def least_submergence(bore_m: float, flow_m3_s: float) -> float:
    """Return how high the surface must stand over an outlet so that no vortex draws air.

    Parameters
    ----------
    bore_m : float
        Diameter of the outlet, [m].
    flow_m3_s : float
        [m3/s]

    Returns
    -------
    float
        [m]; made for sumps, an upper bound at the size of a panel.

    Source
    ------
    ANSI/HI 9.8-1998, Pump Intake Design, section 9.8.7: S = D (1 + 2.3 Fr).
    """
    velocity = flow_m3_s / (math.pi / 4 * bore_m**2)
    return bore_m * (1 + 2.3 * velocity / math.sqrt(GRAVITY_M_S2 * bore_m))


def growth_share(panel: Panel, warm_c: float | None = None) -> float:
    """Return by which share of its cold volume the coolant grows from filling to hot, [-].

    Parameters
    ----------
    panel : Panel
    warm_c : float, optional
        60 °C, or the file's temperature where that is higher, without it, [°C].

    Returns
    -------
    float
        From 20 °C on.

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    choice = panel.coolant
    cold, hot = (
        coolant_properties(choice.fluid, choice.mass_fraction, celsius).density_kg_m3
        for celsius in (FILL_C, hot_c(panel) if warm_c is None else warm_c)
    )
    return cold / hot - 1.0


def hot_c(panel: Panel) -> float:
    """Return the temperature up to which the tank must take the coolant's growth, [°C]."""
    return max(HOT_C, panel.coolant.temperature_c)


def tank_volume_ml(panel: Panel, routed: Routed) -> float | None:
    """Return what the tank holds when full: the pocket, or the separate tank as far as the file gives it, [mL]."""
    if routed.tank.box is None:
        return panel.tank.volume_ml
    return pocket_area(routed.tank) * panel.tank.depth / MM3_PER_ML


def outside_volume_ml(panel: Panel) -> float:
    """Return the volume of parts and hoses as far as the file gives it, [mL]."""
    return sum(part.volume_ml or 0.0 for part in panel.parts) + (panel.hose_volume_ml or 0.0)


def loop_volume_ml(panel: Panel, routed: Routed) -> float:
    """Return the volume of channels with their bores, and of parts and hoses as far as it is given, [mL]."""
    return channel_volume_ml(panel, routed) + outside_volume_ml(panel)


def outlet_bore(routed: Routed) -> float | None:
    """Return the diameter of a round outlet as large as the feed's section, [mm]; None without a feed."""
    feed = find_feed(routed)
    return None if feed is None else math.sqrt(4 / math.pi * feed.width * feed.depth)


def find_basin(panel: Panel, routed: Routed) -> Basin | None:
    """Return the pocket tank as a box with the feed's opening in its wall, where heights in the panel's plane count.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    Basin or None
        As `pocket_basin`; None too where the panel lies flat.
    """
    return None if lies_flat(panel) else pocket_basin(panel, routed)


def pocket_basin(panel: Panel, routed: Routed) -> Basin | None:
    """Return the pocket tank as a box with the feed's opening in its wall.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    Basin or None
        Its rounded corners are left out: they hold less than a hundredth of a usual pocket. None for a
        separate tank and without a feed.
    """
    feed, box = find_feed(routed), routed.tank.box
    if feed is None or box is None:
        return None
    (x0, y0, x1, y1), (low, high) = box, tank_z(panel)
    foot, roof = layer_z(panel, "back")
    x, y = routed.tank.outlet
    rim = tuple(
        (x + side * feed.width / 2, y, z) for side in (-1, 1) for z in (max(low, foot), min(high, roof))
    )
    tank = routed.tank
    return Basin((x0, y0, low), (x1 - x0, y1 - y0, high - low), rim, tank.posts, tank.post_diameter / 2)


def find_fill_port(panel: Panel, routed: Routed) -> PlacedPort | None:
    """Return the tank's fill port; None where there is none."""
    if panel.tank.fill is None:
        return None
    return next((port for port in routed.ports if port.name == panel.tank.fill.name), None)


def bare_surface(panel: Panel, routed: Routed, basin: Basin) -> float:
    """Return the height along `up` at which the coolant in the tank is about to bare its outlet.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    basin : Basin
        The panel's own.

    Returns
    -------
    float
        [mm]; where the panel lies flat, that of the outlet's upper rim.
    """
    bore = outlet_bore(routed)
    if bore is None or lies_flat(panel):
        return max(rise_along(panel.up, corner) for corner in basin.rim)
    return rise_along(panel.up, _middle_of(basin)) + BARE_SHARE * bore


def cold_surface(panel: Panel, routed: Routed) -> float | None:
    """Return the height along `up` at which the cold coolant stands in the tank, [mm]; None as `find_basin`."""
    basin = find_basin(panel, routed)
    return None if basin is None else find_surface(basin, panel.up, panel.tank.level * basin.volume)


def _feed_name(routed: Routed) -> str | None:
    feed = find_feed(routed)
    return None if feed is None else feed.name


def _middle_of(basin: Basin) -> Vec:
    """Return the middle of the basin's opening, [mm]."""
    across = tuple(sum(corner[k] for corner in basin.rim) / len(basin.rim) for k in range(3))
    return across[0], across[1], across[2]


def _measure_cover(panel: Panel, basin: Basin | None) -> float | None:
    """Return what stands over the outlet's middle at the cold level, [mm]."""
    if basin is None:
        return None
    surface = find_surface(basin, panel.up, panel.tank.level * basin.volume)
    return max(0.0, surface - rise_along(panel.up, _middle_of(basin)))


def _measure_tilts(panel: Panel, basin: Basin | None) -> Mapping[Side, float]:
    if basin is None:
        return {}
    held = panel.tank.level * basin.volume
    sides: tuple[Side, ...] = ("left", "right", "front", "back")
    return {side: tilt_until_bare(basin, panel.up, held, side) for side in sides}


def _find_need(routed: Routed, flow_m3_s: float) -> float | None:
    bore = outlet_bore(routed)
    return None if bore is None else least_submergence(bore / 1e3, flow_m3_s) * 1e3


def _stand_over_inlet(panel: Panel, routed: Routed) -> float | None:
    """Return how high the cold coolant stands over the pump's inlet, [mm]; None where that is not known."""
    if lies_flat(panel):
        return 0.0
    inlet = rise_along(panel.up, place_at(panel, routed.pump.inlet))
    if routed.tank.box is not None:
        surface = cold_surface(panel, routed)
        return None if surface is None else surface - inlet
    outlet = panel.tank.outlet
    port = next((port for port in routed.ports if outlet is not None and port.name == outlet.name), None)
    return None if port is None else rise_along(panel.up, port.at) - inlet
