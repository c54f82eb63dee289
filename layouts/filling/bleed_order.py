"""In which order a panel is bled: plain steps for the bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from geom.standards import tables
from geom.units import l_min, ml, show_number
from geom.words import join_names
from layouts.filling.carry_tilts import find_rising_tilt, name_tilt
from layouts.filling.moving_air import full_speed_rpm
from layouts.filling.values import BleedStep, Carry, Left, LockedBore, Tilt, TiltMap
from layouts.hydraulics.bubbles import self_venting_flow_m3_s
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed

BURSTS, BURST_S, REST_S = 5, 10, 20
"""How often the pump runs at full speed, how long, and how long bubbles then get to rise, [s]; common practice, no
source."""

QUIET_MIN = 10
"""A loop counts as bled when no bubbles come back for so long, [min]; common practice, no source."""

LEAST_TOLD_ML = 0.1
"""Less air is not worth a step, [mL]; common practice, no source."""


def order_bleeding(
    panel: Panel,
    routed: Routed,
    carries: Sequence[Carry],
    left: Left,
    locked: Sequence[LockedBore] = (),
    tilts: TiltMap | None = None,
) -> tuple[BleedStep, ...]:
    """Return how a panel is bled, step by step.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    carries : sequence of Carry
        Of this layout.
    left : Left
        What stays as installed.
    locked : sequence of LockedBore
    tilts : TiltMap or None
        What stays over all tilts; None: not looked at.

    Returns
    -------
    tuple of BleedStep
        The pump is at rest at first; ports are opened from the lowest to the highest, of two as high the one first
        that the pump's coolant comes to first.

    Source
    ------
    Common practice, no source; how fast a tank is filled: `self_venting_flow_m3_s`.
    """
    bleeds = _order_bleeds(panel, routed)
    return (
        BleedStep(
            "Switch off and unplug everything near the panel; only the pump gets power, from a supply of its own, and "
            "never before its inlet stands in coolant. Lay cloths under all joints."
        ),
        _fill(panel),
        *(_open(port) for port in bleeds),
        _start(panel),
        *_vent_parts(panel, routed, left),
        *_tilt(panel, routed, carries, left, tilts),
        _burst(panel, carries),
        *_tap(locked),
        *_open_again(bleeds),
        _finish(panel),
    )


def _order_bleeds(panel: Panel, routed: Routed) -> tuple[PlacedPort, ...]:
    return tuple(sorted((port for port in routed.ports if port.part == "bleed"), key=_rank(panel, routed)))


def _rank(panel: Panel, routed: Routed) -> Callable[[PlacedPort], tuple[float, int, str]]:
    """Return the key by which ports are bled: the height of their mouths, then the order of the flow."""
    places = {channel.name: k for k, channel in enumerate(routed.channels)}
    return lambda port: (
        round(rise_along(panel.up, port.at), 3),
        places.get(port.channel, len(places)),
        port.name,
    )


def _fill(panel: Panel) -> BleedStep:
    level = f"{100 * panel.tank.level:.0f} %"
    if panel.tank.kind == "separate":
        return BleedStep(f"With the pump at rest, fill the tank's vessel to its level, {level}.")
    fill = panel.tank.fill
    if fill is None:
        return BleedStep(f"With the pump at rest, fill the tank to its level, {level}.")
    flow = l_min(self_venting_flow_m3_s(tables.thread(fill.thread).tap_drill * 1e-3))
    return BleedStep(
        f"With the pump at rest, fill the tank to its level, {level}, through its fill port, no faster than "
        f"{show_number(flow, 2)} L/min, so that air comes out past the coolant; leave the port open.",
        fill.name,
    )


def _open(port: PlacedPort) -> BleedStep:
    return BleedStep(
        f'With the pump at rest, open "{port.name}" of channel {port.channel} until coolant without bubbles comes, '
        "close it, and fill the tank up again.",
        port.name,
    )


def _start(panel: Panel) -> BleedStep:
    used = next((choice for choice in panel.pump.choices if choice.name == panel.pump.used), None)
    how = (
        "for a few seconds at a time"
        if used is None or used.speed is None
        else f"at its least speed, {used.speed[0]:g} rpm"
    )
    return BleedStep(
        f"Run the pump {how}; stop it before the tank's outlet comes bare, fill up to the level and go on, until the "
        "level stays."
    )


def _vent_parts(panel: Panel, routed: Routed, left: Left) -> tuple[BleedStep, ...]:
    """Return the step for the parts that take air out of the panel; for all of them, where that is not known."""
    how = (
        "open their bleed screws where they have some, or turn each so that the port through which coolant leaves it "
        "stands highest."
    )
    if not left.leaves:
        return (BleedStep(f"Let the air out of the parts, from the lowest to the highest: {how}"),)
    ports = {port.name: port for port in routed.ports}
    names = {part.name for part in panel.parts}
    volumes = dict(left.leaves)
    taking = [ports[name] for name in volumes if name in ports and ports[name].part in names]
    takes: dict[str, float] = {}
    for port in sorted(taking, key=_rank(panel, routed)):
        takes[port.part] = takes.get(port.part, 0.0) + ml(volumes[port.name])
    told = tuple(f'"{part}" ({volume:.1f} mL)' for part, volume in takes.items() if volume >= LEAST_TOLD_ML)
    if not told:
        return ()
    return (
        BleedStep(
            f"Let the air out of the parts to which it rises from the panel, {join_names(told)}: {how}"
        ),
    )


def _tilt(
    panel: Panel, routed: Routed, carries: Sequence[Carry], left: Left, tilts: TiltMap | None
) -> tuple[BleedStep, ...]:
    steps = []
    stays = ml(left.air_mm3)
    if stays >= LEAST_TOLD_ML:
        holders = join_names(
            tuple(dict.fromkeys(pocket.features[0] for pocket in left.air if pocket.features))
        )
        where = f" in {holders}" if holders else ""
        steps.append(BleedStep(f"{stays:.1f} mL of air stay{where} as it stands: {_name_best(left, tilts)}"))
    slow: dict[Tilt, list[str]] = {}
    for carry in carries:
        if carry.verdict in ("rises back", "locks", "may be carried"):
            tilt = find_rising_tilt(panel, routed, carry, tilts)
            if tilt is not None and carry.channel not in slow.setdefault(tilt, []):
                slow[tilt].append(carry.channel)
    steps += [
        BleedStep(
            f"Tilt the panel by {name_tilt(tilt)} with the pump running, so that channel{'s' * (len(names) > 1)} "
            f"{join_names(tuple(names))} rise{'s' * (len(names) == 1)} along the flow, for a minute."
        )
        for tilt, names in slow.items()
    ]
    return tuple(steps)


def _name_best(left: Left, tilts: TiltMap | None) -> str:
    """Return what to do about air that stays: the best tilt that is known, or all of them in turn."""
    if tilts is not None:
        best = tilts.fill_best
        row, column = tilts.degrees.index(best.front), tilts.degrees.index(best.right)
        stays = float(tilts.air_mm3[row, column])
        if ml(left.air_mm3 - stays) >= LEAST_TOLD_ML:
            return (
                f"with the pump at rest tilt the panel by {name_tilt(best)}, which leaves "
                f"{ml(stays):.1f} mL, and back again."
            )
        return "no tilt clears it; the flow must."
    return "tilt the panel slowly to all sides with the pump at rest, the tank's outlet always covered."


def _burst(panel: Panel, carries: Sequence[Carry]) -> BleedStep:
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
    return BleedStep(
        f"Run the pump{speed} for {BURST_S} s and stop it for {REST_S} s, {BURSTS} times, so that bubbles come loose "
        f"and rise{why}; watch the level."
    )


def _tap(locked: Sequence[LockedBore]) -> tuple[BleedStep, ...]:
    if not locked:
        return ()
    names = join_names(tuple(bore.feature for bore in locked))
    return (
        BleedStep(
            f"Bubbles do not rise by themselves in {names}: tap there with a finger while the pump runs at full speed."
        ),
    )


def _open_again(bleeds: Sequence[PlacedPort]) -> tuple[BleedStep, ...]:
    if not bleeds:
        return ()
    names = join_names(tuple(f'"{port.name}"' for port in bleeds))
    order = " in this order" if len(bleeds) > 1 else ""
    return (
        BleedStep(f"With the pump at rest, open {names} once more{order} until no bubbles come, and close."),
    )


def _finish(panel: Panel) -> BleedStep:
    speed = "" if panel.pump.run_at_rpm is None else f" at {panel.pump.run_at_rpm:g} rpm"
    return BleedStep(
        f"Run the pump{speed}: the loop is bled when for {QUIET_MIN} minutes no bubbles come back to the tank and its "
        f"level stays at {100 * panel.tank.level:.0f} %. Fill up, close the tank, and dry everything before anything "
        "else gets power."
    )
