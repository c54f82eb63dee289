"""Why the pump may not run although no air stays at its inlet: a bare outlet, no height over it, no fill port."""

from __future__ import annotations

from geom.frame import SAME_MM
from layouts.basin import Basin, find_surface, volume_under, volume_under_rim
from layouts.feed import bare_surface, cold_surface, find_fill_port, pocket_basin
from layouts.filling.fill_course import TankLevels
from layouts.filling.sequence_values import DryInlet
from layouts.installed import drop_to_inlet, lies_flat, place_at, pump_lies_under, rise_along
from layouts.panel import Panel
from layouts.plan import Routed


def find_pocket_levels(panel: Panel, routed: Routed) -> TankLevels | None:
    """Return how full a pocket tank is, as shares of the whole; None for a separate one and without a feed.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    TankLevels or None
        Coolant stands no higher than the fill port's mouth: it would run out there.
    """
    basin = pocket_basin(panel, routed)
    if basin is None:
        return None
    level = panel.tank.level
    told = surface = find_surface(basin, panel.up, level * basin.volume)
    fill = find_fill_port(panel, routed)
    if fill is not None and rise_along(panel.up, fill.at) < surface - SAME_MM:
        surface = rise_along(panel.up, fill.at)
        level = volume_under(basin, panel.up, surface) / basin.volume
    bare = volume_under(basin, panel.up, bare_surface(panel, routed, basin)) / basin.volume
    stuck = min(level, volume_under_rim(basin, panel.up) / basin.volume)
    return TankLevels(level, bare, stuck, surface, told - surface)


def find_unfed(panel: Panel, routed: Routed, levels: TankLevels) -> DryInlet | None:
    """Return why the pump may not run although coolant stands at its inlet; None where it may.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    levels : TankLevels

    Returns
    -------
    DryInlet or None
        The first of: no fill port, an outlet that is bare when the tank reads full, an inlet that does not stand under
        the outlet. `code` is that of the rule that tells it, with the same limits.
    """
    at = place_at(panel, routed.tank.outlet)
    if is_shut(panel):
        return DryInlet("shut", "the tank has no fill port", at, 0.0, 0.0, "", ("tank",), "tank.fill")
    return _find_bare(panel, routed, levels) or _find_low(panel, routed)


def can_fill_to(panel: Panel, routed: Routed, basin: Basin, level: float) -> bool:
    """Return whether coolant stands no higher than the fill port's mouth at a level.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    basin : Basin
        The panel's own.
    level : float
        Share of the tank, [-].
    """
    fill = find_fill_port(panel, routed)
    surface = find_surface(basin, panel.up, level * basin.volume)
    return fill is not None and rise_along(panel.up, fill.at) >= surface - SAME_MM


def is_shut(panel: Panel) -> bool:
    """Return whether nothing can be poured into the tank."""
    return panel.tank.kind == "pocket" and panel.tank.fill is None


def _find_bare(panel: Panel, routed: Routed, levels: TankLevels) -> DryInlet | None:
    basin = pocket_basin(panel, routed)
    if basin is None or levels.level > levels.bare:
        return None
    needs = bare_surface(panel, routed, basin)
    cold = cold_surface(panel, routed)
    lacks = max(0.0, needs - levels.surface)
    where = "at the height of the fill port's mouth" if levels.under else "at the level"
    return DryInlet(
        "bare",
        f"the tank's outlet is bare {where}: {lacks:.2g} mm of coolant are lacking over it",
        place_at(panel, routed.tank.outlet),
        lacks,
        0.0,
        "mm",
        ("tank", "pump inlet"),
        "feed.first" if cold is None or cold > needs else "feed.depth",
    )


def _find_low(panel: Panel, routed: Routed) -> DryInlet | None:
    drop = 0.0
    if lies_flat(panel):
        if routed.tank.box is None or pump_lies_under(panel):
            return None
        why = "the panel lies flat and the tank does not stand over the inlet of the pump on top of it"
    else:
        drop = drop_to_inlet(panel, routed)
        if drop > SAME_MM:
            return None
        stands = f"{-drop:.3g} mm above" if drop < -SAME_MM else "as high as"
        why = f"as installed the pump's inlet stands {stands} the tank's outlet"
    return DryInlet(
        "low",
        f"{why}, so it is not fed",
        place_at(panel, routed.pump.inlet),
        drop,
        0.0,
        "mm",
        ("pump inlet", "tank"),
        "feed.low",
    )
