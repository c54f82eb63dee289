"""What is told of filling, bleeding and draining: volumes, tilts, steps, places, in tables and pictures."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from exports.wording.figures import show_place
from geom.frame import EDGES, Vec
from geom.units import ml
from geom.words import join_names
from layouts.filling.values import (
    Carry,
    CarryVerdict,
    FillSequence,
    FillStep,
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

LEAST_ML = 0.05
"""Less is told as nothing, [mL]: a few steps of the voxels."""

FINE_ML = 100.0
"""Up to here a tenth of a millilitre is told."""

STEPS: dict[StepKind, str] = {
    "pour": "pour until coolant stands at the pump's inlet",
    "inlet covered": "pour until the pump's inlet and the tank's outlet are covered",
    "level reached": "fill the tank to its level, the pump at rest",
    "run": "run the pump until the tank's outlet is nearly bare",
    "top up": "fill the tank to its level again",
    "end": "the loop is full",
}

REACHED: dict[StepKind, str] = {
    "pour": "coolant stands at the pump's inlet",
    "inlet covered": "the pump's inlet is covered",
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

MOST_FEATURES = 2
"""Features named of a pocket; more are counted."""


def show_ml(volume_ml: float) -> str:
    """Return a volume as "10.7 mL": a tenth of a millilitre below `FINE_ML`, whole ones from there on."""
    if volume_ml < LEAST_ML:
        return "0 mL"
    return f"{volume_ml:.1f} mL" if volume_ml < FINE_ML else f"{volume_ml:.0f} mL"


def show_mm3(volume_mm3: float) -> str:
    """Return a volume of voxels [mm3] as `show_ml` does."""
    return show_ml(ml(volume_mm3))


def show_degrees(degrees: float) -> str:
    """Return an angle without its sign: "7.5°"."""
    return f"{abs(degrees):g}°"


def tell_tilt(tilt: Tilt) -> str:
    """Return a tilt in words: "15° to the left and 7.5° forwards"; "as installed" for none."""
    said = []
    if tilt.right:
        said.append(f"{show_degrees(tilt.right)} to the {'right' if tilt.right > 0 else 'left'}")
    if tilt.front:
        said.append(f"{show_degrees(tilt.front)} {'forwards' if tilt.front > 0 else 'backwards'}")
    return " and ".join(said) or "as installed"


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


def tell_step(step: FillStep) -> str:
    """Return what is done in a step; of runs and top-ups that are done in turn, which of them is told."""
    return STEPS[step.kind] + _tell_turn(step)


def tell_reached(step: FillStep) -> str:
    """Return the same in few words."""
    return REACHED[step.kind] + _tell_turn(step)


def _tell_turn(step: FillStep) -> str:
    if step.times == 1:
        return ""
    return f" ({'first' if step.kind == 'run' else 'last'} of {step.times} times)"


def tell_level(step: FillStep) -> str:
    """Return how full the tank is after a step: "80 %"; "-" where that is not known."""
    return "-" if step.level is None else f"{100.0 * step.level:.0f} %"


def name_holders(features: tuple[str, ...]) -> str:
    """Return the names of what holds a pocket, most of it first: at most `MOST_FEATURES`, more are counted."""
    names = tuple(dict.fromkeys(name_holder(feature) for feature in features))
    kept, more = names[:MOST_FEATURES], len(names) - MOST_FEATURES
    return join_names((*kept, f"{more} more") if more > 0 else kept)


def name_holder(feature: str) -> str:
    """Return a wet feature's name as makers say it: channels by their name alone, ports without their thread."""
    if feature.startswith("channel "):
        return f'"{feature.removeprefix("channel ")}"'
    return feature.rsplit(" ", 1)[0] if feature.startswith("port ") else feature


def show_spot(at: Vec) -> str:
    """Return a place of the voxels seen from the front, to a whole millimetre: "(145, 65) mm"."""
    return f"({at[0]:.0f}, {at[1]:.0f}) mm"


def split_small(pockets: tuple[Pocket, ...]) -> tuple[tuple[Pocket, ...], tuple[Pocket, ...]]:
    """Return the pockets that are told one by one, and those too small for it."""
    told = tuple(pocket for pocket in pockets if ml(pocket.volume_mm3) >= LEAST_ML)
    return told, tuple(pocket for pocket in pockets if ml(pocket.volume_mm3) < LEAST_ML)


def tell_small(pockets: tuple[Pocket, ...]) -> list[str]:
    """Return how many pockets are too small to be told; nothing where there are none."""
    return [f"and {len(pockets)} of less than {LEAST_ML:g} mL"] if pockets else []


def tell_pocket(kind: Kind, pocket: Pocket) -> str:
    """Return a pocket with volume, holder and place.

    Parameters
    ----------
    kind : {"air", "coolant"}
    pocket : Pocket
    """
    end, past = ("highest", "over") if kind == "air" else ("lowest", "under")
    relief = f"; {tell_relief(pocket.reliefs[0])}" if pocket.reliefs else ""
    said = (
        f"{show_mm3(pocket.volume_mm3)} in {name_holders(pocket.features)}, {end} at {show_spot(pocket.at)}"
    )
    if pocket.way_out is None:
        return f"{said}; no way leads out{relief}"
    return f"{said}, {pocket.depth:.0f} mm {past} its way out{relief}"


def tell_relief(relief: Relief) -> str:
    """Return what clears a pocket, and what stays then."""
    stays = f"{show_mm3(relief.left_mm3)} stay"
    if relief.kind == "tilt":
        return f"tilt {'' if relief.tilt is None else tell_tilt(relief.tilt)}: {stays} in all"
    where = "" if relief.at is None else f" at {show_spot(relief.at)}"
    if relief.kind == "hose":
        return f"take the hose off at {relief.name}: {stays}"
    if relief.kind == "move":
        return f"move {relief.name} to{where.removeprefix(' at')}: {stays} in all"
    return f"{relief.kind} port{where}: {stays}"


def tell_proposal(proposal: PortProposal) -> str:
    """Return a proposed or built port with its place, and what it clears."""
    what = "air" if proposal.kind == "bleed" else "coolant"
    where = f"{proposal.on} {'edge' if proposal.on in EDGES else 'face'}"
    into = "the tank" if proposal.channel == "tank" else f'"{proposal.channel}"'
    return (
        f"{'built' if proposal.built else 'proposed'}: {proposal.kind} port {proposal.thread} in the {where} at "
        f"{show_place(proposal.at)}, into {into}: {show_mm3(proposal.clears_mm3)} less {what}"
    )


def tell_sequence(sequence: FillSequence) -> str:
    """Return how much goes in and how often the tank is filled up again, in one sentence without its full stop."""
    said = [f"{show_ml(sequence.total_ml)} go in"]
    if sequence.inlet_covered_ml is not None:
        said.append(f"the pump's inlet is covered after {show_ml(sequence.inlet_covered_ml)}")
    if sequence.tops:
        said.append(
            "the tank is filled up again " + ("once" if sequence.tops == 1 else f"{sequence.tops} times")
        )
    return ", ".join(said)


def tell_tilts(tilts: TiltMap) -> tuple[str, str]:
    """Return how to tilt the panel to fill and to drain it, and what stays then, in a sentence each.

    Parameters
    ----------
    tilts : TiltMap
    """
    told = []
    for task, what, values, best in (
        ("fill", "air", tilts.air_mm3, tilts.fill_best),
        ("drain", "coolant", tilts.coolant_mm3, tilts.drain_best),
    ):
        now, then = (show_mm3(volume_at(tilts, values, tilt)) for tilt in (Tilt(0.0, 0.0), best))
        if best == Tilt(0.0, 0.0):
            told.append(
                f"To {task}, leave the panel as installed: {now} of {what} stay, and no tilt does better."
            )
        else:
            told.append(
                f"To {task}, tilt the panel {tell_tilt(best)}: {then} of {what} stay; as installed {now}."
            )
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
