"""Design rule of the first fill (`feed.first`): the pump's inlet when the tank reads full, and what goes in then."""

from __future__ import annotations

import math

from geom.findings import Finding
from layouts.basin import volume_under
from layouts.cures import Cure, join_cures
from layouts.feed import bare_surface, pocket_basin
from layouts.file.offers import offer_changes
from layouts.file_changes import UPRIGHT, set_key, set_length, set_port_key
from layouts.filling.hose_ways import show_ends, tell_not_before
from layouts.filling.not_fed import can_fill_to, find_pocket_levels
from layouts.filling.sequence_values import DryInlet, FillSequence, FillStep
from layouts.filling.values import Filling
from layouts.installed import TURN_UPRIGHT, place_at, tilt_degrees
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.feed_rules import UPRIGHT_DEG
from layouts.rules.fill_rules import FILL_ON_TOP, MOST_LEVEL, TO_FILL, fill_on_top
from layouts.rules.findings import make_finding
from layouts.wet_volume import MM3_PER_ML

MOST_TOPS = 20
"""More top-ups than that nobody does by hand; common practice, no source."""


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
        # Else another rule tells it, as the reason that it is.
        told = sequence.dry.code == "feed.first"
        return (_tell_dry(panel, routed, sequence.dry),) if told else ()
    return (*_tell_untold(panel, routed, sequence), *_tell_runs(panel, routed, sequence))


def _tell_dry(panel: Panel, routed: Routed, dry: DryInlet) -> Finding:
    cure = _cure_dry(panel, routed, dry)
    return make_finding(
        "feed.first",
        "fault",
        f"the pump's inlet can be dry when the tank reads full: {dry.why}",
        cure.text,
        dry.value,
        dry.limit,
        dry.unit,
        dry.at,
        dry.features,
        offer_changes(panel, cure),
    )


def _tell_untold(panel: Panel, routed: Routed, sequence: FillSequence) -> tuple[Finding, ...]:
    """Tell that the inlet is dry if the hoses whose way the file does not tell leave so."""
    dry, way = sequence.dry_untold, sequence.dry_hoses
    if dry is None or way is None:
        return ()
    other = "falls" if way == "rises" else "rises"
    cure = _cure_dry(panel, routed, dry)
    told = Cure(
        f'lead the hoses otherwise and tell it, hose = "{other}" at the ports of parts; or {cure.text}',
        tuple(
            set_port_key(port, "hose", other)
            for part in panel.parts
            for port in (part.inlet, part.outlet)
            if port.hose is None
        ),
    )
    return (
        make_finding(
            "feed.first",
            "caution",
            f"where the hoses whose way the file does not tell {way.removesuffix('s')} from their ports, the pump's "
            f"inlet can be dry when the tank reads full: {dry.why}",
            told.text,
            dry.value,
            dry.limit,
            dry.unit,
            dry.at,
            dry.features,
            offer_changes(panel, told, cure),
        ),
    )


def _cure_dry(panel: Panel, routed: Routed, dry: DryInlet) -> Cure:
    if dry.cause == "lock":
        return _widen(panel, dry.limit)
    leans = tilt_degrees(panel) > UPRIGHT_DEG
    upright = Cure(TURN_UPRIGHT, UPRIGHT)
    if dry.cause == "air":
        shut = panel.tank.kind == "pocket" and panel.tank.fill is None
        vented = Cure(f"{TO_FILL}, through which air leaves", fill_on_top(panel))
        # Upright and with a port over it the drop lets all air up.
        if leans and shut:
            return Cure(f"{TURN_UPRIGHT}, and {vented.text}", (*UPRIGHT, *vented.changes))
        return vented if shut else upright
    level = _level_over(panel, routed, dry.value)
    if level is not None:
        higher = f'set level = "{level} %" or more in [tank]'
        raised = (set_key(f"{level} %", "tank", "level"),)
        return Cure(f"{TURN_UPRIGHT}, or {higher}", UPRIGHT) if leans else Cure(higher, raised)
    if leans:
        return upright
    if dry.cause == "bare":
        return Cure(FILL_ON_TOP, fill_on_top(panel))
    return Cure("place the pump lower under the tank")


def _widen(panel: Panel, least: float) -> Cure:
    """Return what makes the drop from the tank so wide that no bubble locks in it."""
    wide = math.ceil(10 * least) / 10
    size = f"{wide:g} mm"
    asked: list[Cure] = []
    outlet = panel.tank.outlet
    if panel.channel.depth < least:
        asked.append(Cure(f'depth = "{size}" or more in [channel]', (set_length(wide, "channel", "depth"),)))
    if max(panel.channel.width, panel.tank.outlet_bore, panel.pump.inlet_bore) < least:
        bore = (set_length(wide, "tank", "outlet_bore"),)
        asked.append(Cure(f'outlet_bore = "{size}" or more in [tank]', bore))
    if not asked and outlet is not None:
        return Cure(f'give outlet in [tank] a larger thread than "{outlet.thread}"')
    if not asked:
        return Cure("use a pump whose bores leave room for a wider drop")
    return Cure(f"set {join_cures(asked, ' and ')}", tuple(change for one in asked for change in one.changes))


def _level_over(panel: Panel, routed: Routed, rise: float) -> int | None:
    """Return the tank's level at which its coolant stands higher by so much and covers its outlet, [%].

    None where it is too full then or its fill port's mouth too low, and for a separate tank.
    """
    basin, levels = pocket_basin(panel, routed), find_pocket_levels(panel, routed)
    if basin is None or levels is None or levels.under > 0:
        return None
    needs = max(levels.surface + rise, bare_surface(panel, routed, basin))
    # Over it, not just up to it.
    level = math.floor(100 * volume_under(basin, panel.up, needs) / basin.volume) + 1
    return level if level <= MOST_LEVEL and can_fill_to(panel, routed, basin, level / 100) else None


def _tell_runs(panel: Panel, routed: Routed, sequence: FillSequence) -> tuple[Finding, ...]:
    """Tell how the rest of the loop fills where one run of the pump would bare the tank's outlet, and how much goes in
    before where hoses leave that open."""
    run, first = sequence.run_ml, sequence.may_run_ml
    most = sequence.tops if sequence.tops_range is None else sequence.tops_range[1]
    ranges = sequence.may_run_range_ml or sequence.level_range_ml
    if first is None or (not ranges and (run is None or most < 2)):
        return ()
    at_level = next(step for step in sequence.steps if step.kind == "level reached")
    more = " (and what the file does not give)" if sequence.unknown else ""
    many = sequence.tops > MOST_TOPS
    larger = _larger(panel, routed, sequence)
    ends = sequence.may_run_range_ml
    when = f"run from {first:.0f} mL on" if ends is None else f"not run {tell_not_before(ends)}"
    text = (
        f"the tank {_reads(at_level)} once {_between(at_level.total_ml, sequence.level_range_ml)} mL is in, and the "
        f"pump may {when}"
    )
    remedy = f"pour only until the tank {_reads(at_level)}"
    if run is not None and most >= 2:
        text += (
            f"; it then pushes {_between(sequence.push_ml, sequence.push_range_ml)} mL{more} on into channels, parts "
            f"and hoses, but the tank bares its outlet after {run:.3g} mL"
        )
        times = f"{sequence.tops}" if sequence.tops_range is None else show_ends(sequence.tops_range)
        often = f"{times} times" + (
            " or more" if sequence.unknown and not times.startswith("up to") else more
        )
        remedy = (
            f"{f'{remedy}; ' if ranges else ''}run the pump in short bursts and fill the tank to its level after each, "
            f"{often}; or {larger.text}"
        )
    if ranges:
        text += "; which way hoses leave, the file does not tell"
        remedy += '; hose = "rises" or "falls" at the ports of parts narrows this'
    return (
        make_finding(
            "feed.first",
            # A step of every filling, not a fault of the panel: a small tank always runs empty once.
            "caution" if many else "note",
            text,
            larger.text if many else remedy,
            sequence.push_ml,
            run,
            "mL",
            place_at(panel, routed.tank.outlet),
            ("tank",),
            offer_changes(panel, larger) if many else (),
        ),
    )


def _between(value: float, ends: tuple[float, float] | None) -> str:
    return f"{value:.0f}" if ends is None else show_ends(ends)


def _reads(at_level: FillStep) -> str:
    return "stands at its fill port's mouth" if at_level.to_mouth else "reads its level"


def _larger(panel: Panel, routed: Routed, sequence: FillSequence) -> Cure:
    """Return what lets the pump take more out of the tank in one run: a level that brings the top-ups down to
    `MOST_TOPS` where one does."""
    larger = "make the tank larger"
    basin, levels = pocket_basin(panel, routed), find_pocket_levels(panel, routed)
    if sequence.tops <= MOST_TOPS or basin is None or levels is None:
        return Cure(larger)
    leans = tilt_degrees(panel) > UPRIGHT_DEG
    upright = Cure(f"{TURN_UPRIGHT}, or {larger}", UPRIGHT) if leans else Cure(larger)
    share = levels.bare + MM3_PER_ML * sequence.push_ml / MOST_TOPS / basin.volume
    # One to round up, one because what the tank bares in a run is rounded to whole voxels.
    level = math.floor(100 * share) + 2
    if level > MOST_LEVEL or not can_fill_to(panel, routed, basin, level / 100):
        return upright
    return Cure(
        f'set level = "{level} %" or more in [tank], or {upright.text}',
        (set_key(f"{level} %", "tank", "level"),),
    )
