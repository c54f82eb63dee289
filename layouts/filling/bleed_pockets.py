"""What is done on the bench about air that stays when a panel is filled: for each pocket what helps most easily."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from layouts.filling.bench_words import name_places, show_left
from layouts.filling.carry_tilts import find_rising_tilt
from layouts.filling.carry_width import find_carrying_width
from layouts.filling.fall_pockets import find_head_pocket, is_carried_out
from layouts.filling.moving_air import full_speed_rpm
from layouts.filling.not_fed import find_pocket_levels
from layouts.filling.pocket_limits import TILT_GAIN_MM3
from layouts.filling.pockets_told import channels_of, list_told
from layouts.filling.tilt_words import say_tilt
from layouts.filling.values import BenchStep, Carry, Left, Pocket, Relief, TiltMap
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import Routed

STUCK = ("rises back", "locks")
"""Verdicts with which air stays at a fall's head however long the pump runs."""


@dataclass(frozen=True, slots=True)
class Cleared:
    """What is done about the pockets that are told of.

    Parameters
    ----------
    steps : tuple of BenchStep
    kept : tuple of Pocket
        Those that nothing done on the bench clears, for the flow is too slow.
    """

    steps: tuple[BenchStep, ...]
    kept: tuple[Pocket, ...]


def clear_pockets(
    panel: Panel, routed: Routed, carries: Sequence[Carry], left: Left, tilts: TiltMap | None, slowly: str
) -> Cleared:
    """Return what is done about the air that stays as installed, once the loop is full.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    carries : sequence of Carry
        Of this layout.
    left : Left
        With what clears its pockets.
    tilts : TiltMap or None
        What stays over all tilts; None: not looked at.
    slowly : str
        How the pump runs where a port is opened meanwhile.

    Returns
    -------
    Cleared
        Pockets with the same remedy are one step. A plug or a hose comes first, then the flow, where it carries air
        down; then tilts. Else only a change of the panel helps, which the step names.
    """
    told = [left.air[k] for k in list_told(panel, routed, left.air, air=True)]
    turned = next((one for pocket in told for one in pocket.reliefs if one.kind == "tilt"), None)
    grouped: dict[BenchStep, list[Pocket]] = {}
    kept = []
    for pocket in told:
        step, stays = _choose(panel, routed, carries, left, pocket, turned, tilts, slowly)
        grouped.setdefault(step, []).append(pocket)
        kept += [pocket] * stays
    steps = []
    for step, pockets in grouped.items():
        places = name_places(pockets)
        steps.append(
            BenchStep(
                f"{show_left(math.fsum(pocket.volume_mm3 for pocket in pockets))} of air stays"
                f"{f' in {places}' if places else ''} as it stands: {step.text}",
                step.opening,
            )
        )
    return Cleared(tuple(steps), tuple(kept))


def _choose(
    panel: Panel,
    routed: Routed,
    carries: Sequence[Carry],
    left: Left,
    pocket: Pocket,
    turned: Relief | None,
    tilts: TiltMap | None,
    slowly: str,
) -> tuple[BenchStep, bool]:
    """Return what is done about a pocket, and whether it stays all the same."""
    for relief in pocket.reliefs:
        if relief.kind in ("plug", "hose"):
            return _open(panel, routed, relief, slowly), False
    channels = channels_of(routed, pocket)
    falls = [carry for carry in carries if carry.channel in channels]
    if is_carried_out(carries, pocket, channels):
        return BenchStep("the running pump carries it out."), False
    if falls and all(carry.verdict in ("carried", "carried at full speed") for carry in falls):
        most = full_speed_rpm(panel)
        speed = "" if most is None else f", {most:g} rpm,"
        return BenchStep(f"only at full speed{speed} the pump carries it out."), False
    # Further pockets than the largest are not tried; what tilts all of them out does for these too.
    turns = next(
        (one for one in pocket.reliefs if one.tilt is not None), turned if not pocket.reliefs else None
    )
    if turns is not None and turns.tilt is not None:
        then = f"{show_left(turns.left_mm3)} stays{' in all' if turns.kind == 'tilt' else ''}"
        said = f"with the pump at rest {say_tilt(panel, turns.tilt)}, so that {then}, and back again."
        return BenchStep(said), False
    stuck = [
        carry
        for carry in falls
        if carry.verdict in (*STUCK, "may be carried") and find_head_pocket(panel, (pocket,), carry)
    ]
    if pocket.volume_mm3 > TILT_GAIN_MM3:
        for carry in stuck:
            tilt = find_rising_tilt(panel, routed, carry, tilts)
            if tilt is not None:
                rises = f'so that channel "{carry.channel}" rises along the flow, for a minute.'
                return BenchStep(f"{say_tilt(panel, tilt)} with the pump running, {rises}"), False
    held = [carry for carry in stuck if carry.verdict in STUCK]
    if held:
        return BenchStep(_tell_held(panel, routed, pocket, held)), True
    return BenchStep("no tilt clears it; what the flow does not take along stays."), False


def _open(panel: Panel, routed: Routed, relief: Relief, slowly: str) -> BenchStep:
    if relief.kind == "hose":
        return BenchStep(
            f'lead the hose at port "{relief.name}" upwards from its port, until no bubbles rise in it.'
        )
    levels = find_pocket_levels(panel, routed)
    port = next(port for port in routed.ports if port.name == relief.name)
    # Over the tank's coolant a port that is opened at rest lets air in.
    high = levels is not None and rise_along(panel.up, port.at) >= levels.surface
    how, then = (
        (f"running {slowly}", "tighten it before the pump stops")
        if high
        else ("at rest", "tighten it, and fill the tank up again")
    )
    return BenchStep(
        f'with the pump {how} loosen the plug of port "{port.name}" until coolant without bubbles comes, {then}.',
        port.name,
    )


def _tell_held(panel: Panel, routed: Routed, pocket: Pocket, held: Sequence[Carry]) -> str:
    """Return that running the pump does not clear a pocket, why, and which change of the panel does."""
    worst = min(held, key=lambda carry: max(carry.velocity_m_s, carry.full_velocity_m_s) / carry.surely_m_s)
    speed = max(worst.velocity_m_s, worst.full_velocity_m_s)
    if worst.verdict == "locks":
        why = f"bubbles lock there and are pushed on only from {worst.surely_m_s:.2f} m/s on"
    else:
        why = f"air goes back up there under {worst.clears_m_s[0]:.2f} m/s"
    changes = [
        f"a bleed port at ({relief.at[0]:.0f}, {relief.at[1]:.0f}) mm"
        for relief in pocket.reliefs
        if relief.kind == "bleed" and relief.at is not None
    ]
    for name in dict.fromkeys(carry.channel for carry in held):
        narrower = find_carrying_width(panel, routed, name)
        if narrower is not None:
            changes.append(f'channel "{name}" made {narrower[0]:g} mm wide')
    does = f"only a change of the panel does: {' or '.join(changes)}" if changes else "only more flow does"
    return f"running the pump does not clear it, for {why} and coolant runs at {speed:.2f} m/s; {does}."
