"""In which order a panel is bled: plain steps for the bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from geom.standards import tables
from geom.units import l_min, ml, show_ml, show_number
from geom.words import join_names
from layouts.filling.bench_words import name_places, name_ports
from layouts.filling.bleed_pockets import Cleared, clear_pockets
from layouts.filling.moving_air import full_speed_rpm
from layouts.filling.pocket_limits import AIR_TOLD_MM3
from layouts.filling.sequence_values import FillSequence
from layouts.filling.values import BenchStep, Carry, Left, LockedBore, Opening, TiltMap
from layouts.hydraulics.bubbles import self_venting_flow_m3_s
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed

BURSTS, BURST_S, REST_S = 5, 10, 20
"""How often the pump runs at full speed, how long, and how long bubbles then get to rise, [s]; common practice, no
source."""

QUIET_MIN = 10
"""A loop counts as bled when no bubbles come back for so long, [min]; common practice, no source."""

FULL = 1.0 - 1e-6
"""Share of the loop from which on it is full, [-]."""

LEAST_TOLD_ML = ml(AIR_TOLD_MM3)
"""Less air is not worth a step, [mL]: what the rules do not tell of either."""


def order_bleeding(
    panel: Panel,
    routed: Routed,
    carries: Sequence[Carry],
    left: Left,
    locked: Sequence[LockedBore] = (),
    tilts: TiltMap | None = None,
    sequence: FillSequence | None = None,
    openings: Sequence[Opening] = (),
) -> tuple[BenchStep, ...]:
    """Return how a panel is bled, step by step.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    carries : sequence of Carry
        Of this layout.
    left : Left
        What stays as installed, with what clears it.
    locked : sequence of LockedBore
    tilts : TiltMap or None
        What stays over all tilts; None: not looked at.
    sequence : FillSequence or None
        How it fills; None: not known.
    openings : sequence of Opening
        Of the voxels of the sequence.

    Returns
    -------
    tuple of BenchStep
        The pump is at rest at first; ports are opened from the lowest to the highest, of two as high the one first
        that the pump's coolant comes to first. Those to which no coolant comes by itself are opened with the pump
        running, after its first runs. Where the pump may not run, one step says so.

    Source
    ------
    Common practice, no source; how fast a tank is filled: `self_venting_flow_m3_s`.
    """
    if sequence is not None and sequence.may_run_ml is None:
        return (_refuse(sequence),)
    bleeds = _order_bleeds(panel, routed)
    dry = _find_dry(bleeds, sequence, openings)
    wet = tuple(port for port in bleeds if port not in dry)
    cleared = clear_pockets(panel, routed, carries, left, tilts, _slowly(panel))
    return (
        BenchStep(
            "Switch off and unplug everything near the panel; only the pump gets power, from a supply of its own, and "
            "never before its inlet stands in coolant. Lay cloths under all joints."
        ),
        _fill(panel, sequence),
        *(_open(port) for port in wet),
        *_start(panel, sequence),
        *(_open_running(panel, port) for port in dry),
        *_vent_parts(panel, routed, left),
        *cleared.steps,
        _burst(panel, carries),
        *_tap(locked),
        *_open_again(panel, wet, dry),
        _finish(panel, sequence, cleared),
    )


def _refuse(sequence: FillSequence) -> BenchStep:
    """Return the only step where the pump may not run."""
    dry = sequence.dry
    if dry is not None and dry.cause == "shut":
        return BenchStep(f"This panel cannot be filled: {dry.why}, so cure {dry.code} first.")
    cure = "" if dry is None else f", so cure {dry.code} first"
    return BenchStep(
        f"Do not run the pump of this panel: its inlet can be dry when the tank reads full{cure}."
    )


def _order_bleeds(panel: Panel, routed: Routed) -> tuple[PlacedPort, ...]:
    return tuple(sorted((port for port in routed.ports if port.role == "bleed"), key=_rank(panel, routed)))


def _rank(panel: Panel, routed: Routed) -> Callable[[PlacedPort], tuple[float, int, str]]:
    """Return the key by which ports are bled: the height of their mouths, then the order of the flow."""
    places = {channel.name: k for k, channel in enumerate(routed.channels)}
    return lambda port: (
        round(rise_along(panel.up, port.at), 3),
        places.get(port.channel, len(places)),
        port.name,
    )


def _find_dry(
    bleeds: Sequence[PlacedPort], sequence: FillSequence | None, openings: Sequence[Opening]
) -> tuple[PlacedPort, ...]:
    """Return the ports whose mouths coolant does not cover when the tank reads its level with the pump at rest."""
    if sequence is None:
        return ()
    wet = next(step.wet for step in sequence.steps if step.kind == "level reached")
    covered = {
        opening.name for opening in openings if len(opening.voxels) and bool(wet[opening.voxels].all())
    }
    return tuple(port for port in bleeds if port.name not in covered)


def _fill(panel: Panel, sequence: FillSequence | None) -> BenchStep:
    level = _name_level(panel, sequence)
    if panel.tank.kind == "separate":
        return BenchStep(f"With the pump at rest, fill the tank's vessel to its level, {level}.")
    fill = panel.tank.fill
    if fill is None:
        return BenchStep(f"With the pump at rest, fill the tank to its level, {level}.")
    flow = l_min(self_venting_flow_m3_s(tables.thread(fill.thread).tap_drill * 1e-3))
    return BenchStep(
        f"With the pump at rest, fill the tank {_how_far(sequence)}, {level}, through its fill port, no faster than "
        f"{show_number(flow, 2)} L/min, so that air comes out past the coolant; leave the port open.",
        fill.name,
    )


def _name_level(panel: Panel, sequence: FillSequence | None) -> str:
    """Return the level to which the tank is filled: "80 %"."""
    steps = () if sequence is None else sequence.steps
    reached = next((step.level for step in steps if step.kind == "level reached"), None)
    return f"{100 * (panel.tank.level if reached is None else reached):.0f} %"


def _how_far(sequence: FillSequence | None) -> str:
    to_mouth = sequence is not None and any(step.to_mouth for step in sequence.steps)
    return "up to its fill port's mouth, which lies under its level" if to_mouth else "to its level"


def _open(port: PlacedPort) -> BenchStep:
    return BenchStep(
        f'With the pump at rest, open "{port.name}" of channel {port.channel} until coolant without bubbles comes, '
        "close it, and fill the tank up again.",
        port.name,
    )


def _open_running(panel: Panel, port: PlacedPort) -> BenchStep:
    return BenchStep(
        f'No coolant comes up to "{port.name}" of channel {port.channel} with the pump at rest: run the pump '
        f"{_slowly(panel)}, the tank's outlet always covered, then open the port until coolant without bubbles comes, "
        "and close it before the pump stops, or air comes in. Where it draws air in, close it and run the pump faster. "
        "Fill the tank up again.",
        port.name,
    )


def _slowly(panel: Panel) -> str:
    return _least_speed(panel) or "as slowly as it goes"


def _least_speed(panel: Panel) -> str:
    """Return "at its least speed, 1500 rpm"; empty where the pump runs at one only."""
    used = next((choice for choice in panel.pump.choices if choice.name == panel.pump.used), None)
    return "" if used is None or used.speed is None else f"at its least speed, {used.speed[0]:g} rpm"


def _start(panel: Panel, sequence: FillSequence | None) -> tuple[BenchStep, ...]:
    """Return the pump's first runs; none where the loop is full before it runs at all."""
    how = _least_speed(panel) or "in short bursts"
    if sequence is not None and any(
        step.kind == "level reached" and step.loop_share > FULL for step in sequence.steps
    ):
        if sequence.push_range_ml is None:
            return ()
        # Hoses that rise hold air that those taken here do not.
        return (
            BenchStep(f"Run the pump {how}; where the level falls, fill up to it and go on, until it stays."),
        )
    gone = None if sequence is None else sequence.run_ml
    bare = "" if gone is None else f", once {show_ml(gone)} mL has gone out of it"
    return (
        BenchStep(
            f"Run the pump {how}, pouring on as the level falls; stop it before the tank's outlet comes bare{bare}, "
            "fill up to the level and go on, until the level stays."
        ),
    )


def _vent_parts(panel: Panel, routed: Routed, left: Left) -> tuple[BenchStep, ...]:
    """Return the step for the parts that take air out of the panel; for all of them, where that is not known."""
    how = (
        "open their bleed screws where they have some, or turn each so that the port through which coolant leaves it "
        "stands highest."
    )
    if not left.leaves:
        return (BenchStep(f"Let the air out of the parts, from the lowest to the highest: {how}"),)
    ports = {port.name: port for port in routed.ports}
    names = {part.name for part in panel.parts}
    volumes = dict(left.leaves)
    taking = [ports[name] for name in volumes if name in ports and ports[name].part in names]
    takes: dict[str, float] = {}
    for port in sorted(taking, key=_rank(panel, routed)):
        takes[port.part] = takes.get(port.part, 0.0) + ml(volumes[port.name])
    told = tuple(
        f'"{part}" ({show_ml(volume)} mL)' for part, volume in takes.items() if volume >= LEAST_TOLD_ML
    )
    if not told:
        return ()
    return (
        BenchStep(
            f"Let the air out of the parts to which it rises from the panel, {join_names(told)}: {how}"
        ),
    )


def _burst(panel: Panel, carries: Sequence[Carry]) -> BenchStep:
    most = full_speed_rpm(panel)
    speed = "" if most is None else f" at full speed, {most:g} rpm,"
    slow = tuple(
        dict.fromkeys(
            carry.channel for carry in carries if carry.verdict in ("carried at full speed", "may be carried")
        )
    )
    why = (
        f"; channel{'s' * (len(slow) > 1)} {join_names(slow)} need{'s' * (len(slow) == 1)} it" if slow else ""
    )
    return BenchStep(
        f"Run the pump{speed} for {BURST_S} s and stop it for {REST_S} s, {BURSTS} times, so that bubbles come loose "
        f"and rise{why}; watch the level."
    )


def _tap(locked: Sequence[LockedBore]) -> tuple[BenchStep, ...]:
    if not locked:
        return ()
    names = join_names(tuple(bore.feature for bore in locked))
    return (
        BenchStep(
            f"Bubbles do not rise by themselves in {names}: tap there with a finger while the pump runs at full speed."
        ),
    )


def _open_again(panel: Panel, wet: Sequence[PlacedPort], dry: Sequence[PlacedPort]) -> tuple[BenchStep, ...]:
    steps = []
    if wet:
        steps.append(
            BenchStep(f"With the pump at rest, open {_name_again(wet)} until no bubbles come, and close.")
        )
    if dry:
        steps.append(
            BenchStep(
                f"With the pump running {_slowly(panel)}, open {_name_again(dry)} until no bubbles come, and close "
                "before the pump stops."
            )
        )
    return tuple(steps)


def _name_again(ports: Sequence[PlacedPort]) -> str:
    names = name_ports([port.name for port in ports])
    return f"{names} once more{' in this order' if len(ports) > 1 else ''}"


def _finish(panel: Panel, sequence: FillSequence | None, cleared: Cleared) -> BenchStep:
    kept = cleared.kept
    # No bubbles come of air that nothing moves.
    stays = f"; the air in {name_places(kept)} stays all the same, and sends none" if kept else ""
    speed = "" if panel.pump.run_at_rpm is None else f" at {panel.pump.run_at_rpm:g} rpm"
    return BenchStep(
        f"Run the pump{speed}: the loop is bled when for {QUIET_MIN} minutes no bubbles come back to the tank and its "
        f"level stays at {_name_level(panel, sequence)}{stays}. Fill up, {_close(panel)}, and dry everything "
        "before anything else gets power."
    )


def _close(panel: Panel) -> str:
    """Return how the tank is closed: open to the air, or what grows in it bursts the panel."""
    if panel.tank.kind == "separate":
        return "close the tank's vessel with a vented cap, never with a tight one"
    if panel.tank.fill is None:
        return "never shut the tank tight: it has no fill port to be vented, so cure tank.fill first"
    return "close the tank with its vented plug, never with a tight one"
