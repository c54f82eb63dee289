"""What is told of filling, bleeding and draining: volumes, tilts, steps, places, in tables and pictures."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from exports.wording.figures import show_place
from geom import units
from geom.frame import EDGES, Vec
from geom.units import ml
from layouts.filling.hose_ways import show_ends
from layouts.filling.pocket_limits import NOTHING_ML
from layouts.filling.pockets_told import name_holders
from layouts.filling.tilt_words import name_tilt, say_tilt
from layouts.filling.tilts import SAME_MM3
from layouts.filling.values import (
    Carry,
    CarryVerdict,
    Filling,
    FillSequence,
    FillStep,
    Left,
    Pocket,
    PortProposal,
    Relief,
    StepKind,
    Tilt,
    TiltMap,
)
from layouts.installed import lies_flat
from layouts.panel import Panel

Kind = Literal["air", "coolant"]
"""What stays: air when filled, coolant when drained."""

SAME_DEG = 0.5
"""Angles that differ by less are told as the same, [deg]."""

STEPS: dict[StepKind, str] = {
    "inlet covered": "pour until the pump's inlet is covered",
    "may run": "pour until the pump may run: the tank's outlet is covered too",
    "level reached": "fill the tank to its level, the pump at rest",
    "run": "run the pump until the tank's outlet is nearly bare",
    "top up": "fill the tank to its level again",
    "end": "the loop is full",
}

LAST_RUN = "run the pump until the loop is full"
"""Where the tank holds enough for it."""

FULL = 1.0 - 1e-6
"""Share of the loop from which on it is full."""

TO_MOUTH: dict[StepKind, str] = {
    "level reached": "fill the tank to its fill port's mouth, the pump at rest",
    "top up": "fill the tank to its fill port's mouth again",
}
"""Where that lies under its level."""

REACHED: dict[StepKind, str] = {
    "inlet covered": "the pump's inlet is covered",
    "may run": "the pump may run",
    "level reached": "the tank is filled to its level",
    "run": "the pump runs",
    "top up": "the tank is filled up again",
    "end": "the loop is full",
}
"""The same in few words."""

VERDICTS: dict[CarryVerdict, str] = {
    "carried": "carried down",
    "carried at full speed": "at full speed only",
    "may be carried": "may be carried",
    "rises back": "rises back",
    "locks": "locks",
}


def show_ml(volume_ml: float) -> str:
    """Return a volume as "10.7 mL"."""
    return f"{units.show_ml(volume_ml)} mL"


def show_ml_range(volume_ml: float, ends: tuple[float, float] | None) -> str:
    """Return a volume as `show_ml` does, or "27 to 452 mL" where it is not certain, [mL]."""
    return show_ml(volume_ml) if ends is None else f"{show_ends(ends)} mL"


def show_mm3(volume_mm3: float) -> str:
    """Return a volume of voxels [mm3] as `show_ml` does."""
    return show_ml(ml(volume_mm3))


def show_degrees(degrees: float) -> str:
    """Return an angle without its sign: "7.5°"."""
    return f"{abs(degrees):g}°"


def tell_attitude(panel: Panel) -> str:
    """Return how a panel is installed: "stands upright", "stands on its left edge and leans back 10°"."""
    x, y, z = panel.up
    if lies_flat(panel):
        return f"lies flat, its {'front' if z > 0 else 'back'} face up"
    turned = math.degrees(math.atan2(x, y))
    edges = {0: "upright", 90: "on its left edge", -90: "on its right edge", 180: "on its upper edge"}
    nearest = 90 * round(turned / 90)
    if abs(turned - nearest) < SAME_DEG:
        said = f"stands {edges[180 if nearest == -180 else nearest]}"
    else:
        said = f"stands turned {show_degrees(round(turned))} {'counter-' if turned > 0 else ''}clockwise"
    leans = math.degrees(math.asin(max(-1.0, min(1.0, z))))
    if abs(leans) < SAME_DEG:
        return said
    return f"{said} and leans {'back' if leans > 0 else 'forwards'} {show_degrees(round(leans))}"


def list_steps(sequence: FillSequence) -> tuple[FillStep, ...]:
    """Return the steps that are told one by one: without the end, where the last step before it fills the loop."""
    if not sequence.steps:
        return ()
    *steps, last = sequence.steps
    if last.kind == "end" and steps and last.poured_ml <= 0.0 and np.array_equal(last.wet, steps[-1].wet):
        return tuple(steps)
    return sequence.steps


def tell_step(step: FillStep, last: bool = False) -> str:
    """Return what is done in a step; of runs and top-ups that are done in turn, which of them is told.

    Parameters
    ----------
    step : FillStep
    last : bool
        Whether no other follows: then whether the loop is full is told too.
    """
    full = step.kind == "run" and step.loop_share > FULL
    done = LAST_RUN if full else (TO_MOUTH if step.to_mouth else STEPS)[step.kind]
    return done + _tell_turn(step) + _tell_end(step, last)


def tell_reached(step: FillStep, last: bool = False) -> str:
    """Return the same in few words."""
    if last and step.kind == "top up" and step.loop_share > FULL:
        return REACHED["end"] + _tell_turn(step)
    first = step.to_mouth and step.kind == "level reached"
    reached = "the tank is filled to its fill port" if first else REACHED[step.kind]
    return reached + _tell_turn(step) + _tell_end(step, last)


def _tell_end(step: FillStep, last: bool) -> str:
    return ": the loop is full" if last and step.kind != "end" and step.loop_share > FULL else ""


def _tell_turn(step: FillStep) -> str:
    if step.times == 1 and step.times_range is None:
        return ""
    times = f"{step.times}" if step.times_range is None else show_ends(step.times_range)
    return f" ({'first' if step.kind == 'run' else 'last'} of {times} times)"


def tell_level(step: FillStep) -> str:
    """Return how full the tank is after a step: "80 %"; "-" where that is not known."""
    return "-" if step.level is None else f"{100.0 * step.level:.0f} %"


def show_spot(at: Vec) -> str:
    """Return a place of the voxels seen from the front, to a whole millimetre: "(145, 65) mm"."""
    return f"({at[0]:.0f}, {at[1]:.0f}) mm"


def list_left(filling: Filling, kind: Kind) -> tuple[tuple[Pocket, ...], float]:
    """Return the pockets that stay as far as the panel can be filled, and their volume, [mm3].

    Parameters
    ----------
    filling : Filling
    kind : {"air", "coolant"}
    """
    left = filling.left
    if kind == "coolant":
        return left.coolant, left.coolant_mm3
    shut = tuple(pocket for pocket in left.air if pocket.shut)
    return shut, left.air_mm3 if len(shut) == len(left.air) else math.fsum(one.volume_mm3 for one in shut)


def tell_left(filling: Filling, kind: Kind) -> str:
    """Return what a list of pockets is headed: "air that stays when filled: 10.7 mL"."""
    sequence = filling.sequence
    volume = show_mm3(list_left(filling, kind)[1])
    if kind == "coolant":
        return f"coolant that stays when {tell_drained(filling.left)}: {volume}"
    if sequence is None or sequence.may_run_ml is not None:
        return f"air that stays when filled: {volume}"
    return f"air that stays when filled to the tank's level: {volume if sequence.steps else 'not known'}"


def tell_drained(left: Left) -> str:
    """Return how a panel is emptied: "drained"; without a drain "drained through the hose mouths"."""
    return "drained through the hose mouths" if left.through_hoses else "drained"


def tell_beyond(filling: Filling) -> str:
    """Return which air is not told, for the pump may not run; empty where it may."""
    if filling.sequence is None or filling.sequence.may_run_ml is not None:
        return ""
    if not filling.sequence.steps:
        return "The panel cannot be filled: what air would stay is not told."
    return (
        "The pump may not run, so coolant goes no further than when the tank reads its level: "
        "air beyond it is not told."
    )


def split_small(pockets: tuple[Pocket, ...]) -> tuple[tuple[Pocket, ...], tuple[Pocket, ...]]:
    """Return the pockets that are told one by one, and those too small for it."""
    told = tuple(pocket for pocket in pockets if ml(pocket.volume_mm3) >= NOTHING_ML)
    return told, tuple(pocket for pocket in pockets if ml(pocket.volume_mm3) < NOTHING_ML)


def tell_small(pockets: tuple[Pocket, ...]) -> list[str]:
    """Return how many pockets are too small to be told; nothing where there are none."""
    return [f"and {len(pockets)} of less than {NOTHING_ML:g} mL"] if pockets else []


def tell_pocket(panel: Panel, kind: Kind, pocket: Pocket) -> str:
    """Return a pocket with volume, holder and place.

    Parameters
    ----------
    panel : Panel
    kind : {"air", "coolant"}
    pocket : Pocket
    """
    end, past = ("highest", "above") if kind == "air" else ("lowest", "below")
    relief = f"; {tell_relief(panel, kind, pocket.reliefs[0])}" if pocket.reliefs else ""
    said = (
        f"{show_mm3(pocket.volume_mm3)} in {name_holders(pocket.features)}, {end} at {show_spot(pocket.at)}"
    )
    if pocket.way_out is None:
        return f"{said}; no way leads out{relief}"
    return f"{said}, {pocket.depth:.0f} mm {past} where it could leave{relief}"


def tell_relief(panel: Panel, kind: Kind, relief: Relief) -> str:
    """Return what clears a pocket of air or coolant, and what stays then."""
    stays = f"{show_mm3(relief.left_mm3)} stays"
    if relief.kind == "tilt":
        return f"{'tilt' if relief.tilt is None else say_tilt(panel, relief.tilt)}: {stays} in all"
    where = "" if relief.at is None else f" at {show_spot(relief.at)}"
    if relief.kind == "slope":
        return (
            f"install with a slope, {'' if relief.tilt is None else name_tilt(panel, relief.tilt)}: {stays}"
        )
    if relief.kind == "plug":
        return f'loosen the plug of "{relief.name}" while filling: {stays}'
    if relief.kind == "hose" and kind == "air":
        return f'lead the hose at "{relief.name}" upwards: {stays}'
    if relief.kind == "hose":
        return f'take the hose off at "{relief.name}": {stays}'
    if relief.kind == "move":
        return f'move "{relief.name}" to{where.removeprefix(" at")}: {stays} in all'
    return f"{relief.kind} port{where}: {stays}"


def tell_proposal(proposal: PortProposal) -> str:
    """Return a proposed or built port with its place, and what it clears."""
    what = "air" if proposal.kind == "bleed" else "coolant"
    also = ""
    if ml(proposal.also_mm3) >= NOTHING_ML:
        less = show_mm3(proposal.also_mm3)
        also = (
            f", and {less} less coolant, for it drains too"
            if proposal.kind == "bleed"
            else f", and {less} less air once its plug is opened while filling"
        )
    where = f"{proposal.on} {'edge' if proposal.on in EDGES else 'face'}"
    into = "the tank" if proposal.channel == "tank" else f'"{proposal.channel}"'
    return (
        f"{'built' if proposal.built else 'proposed'}: {proposal.kind} port {proposal.thread} in the {where} at "
        f"{show_place(proposal.at)}, into {into}: {show_mm3(proposal.clears_mm3)} less {what}{also}"
    )


def tell_sequence(sequence: FillSequence) -> str:
    """Return how much goes in, with what air holds back, from when on the pump may run, and how often it is topped up.

    One sentence without its full stop. Where the pump may not run no more goes in than fills the tank to its level.
    """
    covered, runs, tops = sequence.inlet_covered_ml, sequence.may_run_ml, sequence.tops_range
    if not sequence.steps:
        return "the panel cannot be filled" + ("" if sequence.dry is None else f": {sequence.dry.why}")
    if runs is None:
        end = "fill port's mouth" if sequence.steps[-1].to_mouth else "tank's level"
        poured = show_ml_range(sequence.total_ml, sequence.level_range_ml)
        return f"{poured} goes in up to the {end}; the pump may not run then"
    inlet = "" if covered is None else show_ml_range(covered, sequence.covered_range_ml)
    said = [f"the pump's inlet is covered after {inlet}"] if inlet else []
    now, whole = show_ml(sequence.total_ml), show_ml(sequence.whole_ml)
    later = f" ({whole} with no air left)" if whole != now and sequence.whole_ml else ""
    first = show_ml_range(runs, sequence.may_run_range_ml)
    said = [f"{now} goes in{later}", *said, f"the pump may run from {first} on"]
    if tops is not None:
        said.append(f"the tank is topped up {show_ends(tops)} times")
    elif sequence.tops:
        said.append("the tank is topped up " + ("once" if sequence.tops == 1 else f"{sequence.tops} times"))
    if any(step.to_mouth for step in sequence.steps):
        said.append("the tank takes coolant only up to its fill port's mouth")
    return ", ".join(said)


def tell_ranges(sequence: FillSequence) -> str:
    """Return how to pour where what goes in depends on hoses whose way the file does not tell; empty where not."""
    if sequence.may_run_ml is None or not (sequence.may_run_range_ml or sequence.level_range_ml):
        return ""
    return (
        "how much goes in depends on which way hoses leave, which the file does not tell: pour only until the tank "
        'reads its level; hose = "rises" or "falls" at the ports of parts narrows it'
    )


def tell_no_run(sequence: FillSequence) -> str:
    """Return why the pump may not run once the tank reads its level; empty where it may."""
    dry = sequence.dry
    if dry is None:
        return ""
    if dry.cause == "shut":
        return f"the panel cannot be filled: {dry.why}"
    if dry.code != "feed.first":
        return f"the pump may not run: {dry.why}"
    return f"the pump's inlet may be dry when the tank reads full: {dry.why}"


def tell_tilts(panel: Panel, tilts: TiltMap, left: Left | None = None) -> tuple[str, str]:
    """Return how to tilt the panel to fill and to drain it, and what stays then, in a sentence each.

    Parameters
    ----------
    panel : Panel
    tilts : TiltMap
    left : Left or None
        What stays as installed, where it is known from finer voxels than the map's: one figure for it everywhere.
    """
    told = []
    for task, what, values, best, fine in (
        ("fill", "air", tilts.air_mm3, tilts.fill_best, None if left is None else left.air_mm3),
        ("drain", "coolant", tilts.coolant_mm3, tilts.drain_best, None if left is None else left.coolant_mm3),
    ):
        installed = Tilt(0.0, 0.0)
        now = show_mm3(volume_at(tilts, values, installed) if fine is None else fine)
        least = volume_at(tilts, values, best)
        then = f"{'about ' if ml(least) >= NOTHING_ML else ''}{show_mm3(least)}"
        if task == "fill" and not tilts.tank_stays.any():
            told.append(
                f"To {task}, no tilt keeps the tank's outlet in coolant and its fill port over it: as installed {now} "
                f"of {what} stays."
            )
        elif best == installed:
            # A tilt that clears too little to be worth it is none.
            less = volume_at(tilts, values, installed) - float(values.min()) > SAME_MM3
            told.append(
                f"To {task}, leave the panel as installed: {now} of {what} stays, and no tilt does "
                f"{'much ' if less else ''}better."
            )
        else:
            told.append(f"To {task}, {say_tilt(panel, best)}: {then} of {what} stays; as installed {now}.")
    return told[0], told[1]


def volume_at(tilts: TiltMap, values: np.ndarray, tilt: Tilt) -> float:
    """Return what stays in a tilt of the map, [mm3].

    Parameters
    ----------
    tilts : TiltMap
    values : numpy.ndarray
        One of its maps.
    tilt : Tilt
    """
    return float(values[tilts.degrees.index(tilt.front), tilts.degrees.index(tilt.right)])


def tell_clearing(carry: Carry) -> str:
    """Return the velocities that carry a pocket down a leg, in m/s: "0.24-0.34"."""
    low, high = carry.clears_m_s
    return f"{low:.2f}-{high:.2f}"
