"""What is told of filling, bleeding and draining: volumes, tilts, places, in tables and pictures."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from exports.wording.figures import show_degrees, show_place
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
    Left,
    Pocket,
    PortProposal,
    Relief,
    Tilt,
    TiltMap,
)
from layouts.installed import lies_flat
from layouts.panel import Panel

Kind = Literal["air", "coolant"]
"""What stays: air when filled, coolant when drained."""

SAME_DEG = 0.5
"""Angles that differ by less are told as the same, [deg]."""

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


def tell_untold(left: Left) -> str:
    """Return what would stay if hoses whose way the file does not tell went the other way; empty where no more."""
    told = [
        f"{show_mm3(volume)} of {what} stays where they all {way}"
        for volume, what, way in (
            (left.air_falling_mm3, "air", "fall"),
            (left.coolant_rising_mm3, "coolant", "rise"),
        )
        if volume is not None
    ]
    if not told:
        return ""
    return (
        "of hoses whose way the file does not tell, air is taken to rise in them and coolant to run straight through: "
        f"about {', about '.join(told)} from their ports"
    )


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
