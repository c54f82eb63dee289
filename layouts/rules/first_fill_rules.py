"""Design rule of the first fill (`feed.first`): the pump's inlet when the tank reads full, and what goes in then."""

from __future__ import annotations

import math

from geom.findings import Finding
from layouts.basin import find_surface, volume_under
from layouts.feed import bare_surface, pocket_basin
from layouts.filling.values import DryInlet, Filling, FillSequence
from layouts.installed import TURN_UPRIGHT, place_at, tilt_degrees
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.feed_rules import UPRIGHT_DEG
from layouts.rules.fill_rules import MOST_LEVEL, TO_FILL
from layouts.rules.findings import make_finding


def check_first_fill(panel: Panel, routed: Routed, filling: Filling) -> tuple[Finding, ...]:
    """Ask whether the pump's inlet stands in coolant once the tank reads full, and tell of what it then pushes on
    (`feed.first`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling
    """
    sequence = filling.sequence
    if sequence is None:
        return ()
    if sequence.dry is not None:
        return (_tell_dry(panel, routed, sequence.dry),)
    return _note_runs(panel, routed, sequence)


def _tell_dry(panel: Panel, routed: Routed, dry: DryInlet) -> Finding:
    return make_finding(
        "feed.first",
        "fault",
        f"the pump's inlet can be dry when the tank reads full: {dry.why}",
        _name_remedy(panel, routed, dry),
        dry.value,
        dry.limit,
        dry.unit,
        dry.at,
        dry.features,
    )


def _name_remedy(panel: Panel, routed: Routed, dry: DryInlet) -> str:
    if dry.cause == "lock":
        return _widen(panel, dry.limit)
    leans = tilt_degrees(panel) > UPRIGHT_DEG
    if dry.cause == "air":
        shut = panel.tank.kind == "pocket" and panel.tank.fill is None
        vented = f"{TO_FILL}, through which air leaves"
        # Upright and with a port over it the drop lets all air up.
        return f"{TURN_UPRIGHT}, and {vented}" if leans and shut else vented if shut else TURN_UPRIGHT
    level = _level_over(panel, routed, dry.value)
    if level is not None:
        higher = f'set level = "{level} %" or more in [tank]'
        return f"{TURN_UPRIGHT}, or {higher}" if leans else higher
    return TURN_UPRIGHT if leans else "place the pump lower under the tank"


def _widen(panel: Panel, least: float) -> str:
    """Return what makes the drop from the tank so wide that no bubble locks in it."""
    size = f"{math.ceil(10 * least) / 10:g} mm"
    asked = []
    outlet = panel.tank.outlet
    if panel.channel.depth < least:
        asked.append(f'depth = "{size}" or more in [channel]')
    if max(panel.channel.width, panel.tank.outlet_bore, panel.pump.inlet_bore) < least:
        asked.append(f'outlet_bore = "{size}" or more in [tank]')
    if not asked and outlet is not None:
        return f'give outlet in [tank] a larger thread than "{outlet.thread}"'
    return f"set {' and '.join(asked)}" if asked else "use a pump whose bores leave room for a wider drop"


def _level_over(panel: Panel, routed: Routed, rise: float) -> int | None:
    """Return the tank's level at which its coolant stands higher by so much and covers its outlet, [%].

    None where it is too full then, and for a separate tank.
    """
    basin = pocket_basin(panel, routed)
    if basin is None:
        return None
    surface = find_surface(basin, panel.up, panel.tank.level * basin.volume)
    needs = max(surface + rise, bare_surface(panel, routed, basin))
    level = math.ceil(100 * volume_under(basin, panel.up, needs) / basin.volume)
    return level if level <= MOST_LEVEL else None


def _note_runs(panel: Panel, routed: Routed, sequence: FillSequence) -> tuple[Finding, ...]:
    """Tell how the rest of the loop fills where one run of the pump would bare the tank's outlet."""
    run, first = sequence.run_ml, sequence.inlet_covered_ml
    if run is None or first is None or sequence.tops < 2:
        return ()
    at_level = next(step for step in sequence.steps if step.kind == "level reached")
    more = " or more" if sequence.unknown else ""
    return (
        make_finding(
            "feed.first",
            # A step of every filling, not a fault of the panel: a small tank always runs empty once.
            "note",
            f"the tank reads its level once {at_level.total_ml:.0f} mL are in, and the pump may run from "
            f"{first:.0f} mL on; it then pushes {sequence.push_ml:.0f} mL{more} on into channels, parts and hoses, "
            f"but the tank bares its outlet after {run:.3g} mL",
            f"run the pump in short bursts and fill the tank to its level after each, {sequence.tops} times{more}; "
            "or make the tank larger",
            sequence.push_ml,
            run,
            "mL",
            place_at(panel, routed.tank.outlet),
            ("tank",),
        ),
    )
