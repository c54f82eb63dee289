"""In which order a panel is drained: plain steps for the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from geom.frame import EDGES
from geom.units import ml, show_ml
from geom.words import capitalise, join_names
from layouts.feed import loop_volume_ml, outside_volume_ml, tank_volume_ml
from layouts.filling.bench_words import name_places, name_ports, show_left
from layouts.filling.not_fed import find_pocket_levels
from layouts.filling.pocket_limits import TILT_GAIN_MM3
from layouts.filling.pockets_told import list_told
from layouts.filling.tilt_words import say_tilt
from layouts.filling.values import BenchStep, Left, Pocket, PortProposal, Relief
from layouts.installed import rise_along
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed

MOST_NAMED = 3
"""So many places of what stays are named."""

OPENED = ("hose", "plug")
"""Remedies that open a port."""

BOWL_STEP_ML = 50.0
"""To which a bowl's size is rounded up, [mL]."""

CLOTH_MM3 = 2000.0
"""No more than this comes out of a bleed port over a cloth, else over a bowl, [mm3]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Hose:
    """A hose that is taken off at its port, with the pockets that it lets out and what stays of each."""

    port: PlacedPort
    lets_out: tuple[tuple[Pocket, Relief], ...]

    @property
    def freed_mm3(self) -> float:
        return math.fsum(pocket.volume_mm3 - relief.left_mm3 for pocket, relief in self.lets_out)


def order_draining(
    panel: Panel, routed: Routed, left: Left, proposals: Sequence[PortProposal] = ()
) -> tuple[BenchStep, ...]:
    """Return how a panel is drained, step by step.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    left : Left
        What stays as installed, with what clears it.
    proposals : sequence of PortProposal
        Of the built ones among them what comes out of bleed ports is known.

    Returns
    -------
    tuple of BenchStep
        Air comes in at the tank first. Then the drain of [drain] is opened, and the other drains, bleed ports, and
        ports in what stays, each kind from the highest to the lowest, so that what runs down inside comes out at the
        next one. A panel without a drain empties through its parts' ports, the lowest first. It is tilted last, and
        only for what is worth it.

    Source
    ------
    Common practice, no source.
    """
    drains = _order_drains(panel, routed)
    hoses = _list_hoses(panel, routed, left)
    tilt = _find_tilt(panel, routed, left, hoses)
    ports = drains or _lowest_first(panel, _part_ports(panel, routed))
    if not ports:
        return ()
    return (
        BenchStep(
            "Switch the pump off and unplug it and everything near the panel. Lay cloths under all joints and between "
            "the panel and electronics."
        ),
        _bowl(panel, routed, ports[0]),
        *_let_air_in(panel, routed),
        *([_take_out(port, k) for k, port in enumerate(drains)] if drains else [_open_parts(ports)]),
        *_open_bleeds(panel, routed, hoses, proposals),
        *(_take_off(hose) for hose in hoses),
        *_tilt(panel, tilt),
        _finish(panel, routed, left, hoses, tilt),
    )


def _order_drains(panel: Panel, routed: Routed) -> tuple[PlacedPort, ...]:
    """Return the drains: that of [drain] first, the others from the highest on."""
    own = "" if panel.drain is None else panel.drain.name
    drains = [port for port in routed.ports if port.role == "drain"]
    return tuple(
        sorted(
            drains,
            key=lambda port: (port.name != own, -round(rise_along(panel.up, port.at), 3), port.name),
        )
    )


def _part_ports(panel: Panel, routed: Routed) -> tuple[PlacedPort, ...]:
    names = {part.name for part in panel.parts}
    return tuple(port for port in routed.ports if port.part in names)


def _lowest_first(panel: Panel, ports: Sequence[PlacedPort]) -> tuple[PlacedPort, ...]:
    return tuple(sorted(ports, key=lambda port: (round(rise_along(panel.up, port.at), 3), port.name)))


def _list_hoses(panel: Panel, routed: Routed, left: Left) -> tuple[_Hose, ...]:
    """Return the hoses that let pockets out, that at the highest port first."""
    ports = {port.name: port for port in routed.ports}
    freed: dict[str, list[tuple[Pocket, Relief]]] = {}
    for pocket in left.coolant:
        relief = next((one for one in pocket.reliefs if one.kind in OPENED), None)
        if relief is not None:
            freed.setdefault(relief.name, []).append((pocket, relief))
    highest = _lowest_first(panel, [ports[name] for name in freed])[::-1]
    return tuple(_Hose(port, tuple(freed[port.name])) for port in highest)


def _find_tilt(
    panel: Panel,
    routed: Routed,
    left: Left,
    hoses: Sequence[_Hose],
) -> Relief | None:
    """Return the tilt that is worth it for what stays once all hoses are off."""
    told = [left.coolant[k] for k in list_told(panel, routed, left.coolant, air=False)]
    tilt = next((one for pocket in told for one in pocket.reliefs if one.kind == "tilt"), None)
    return tilt if tilt is not None and _stays(left, hoses, None) - tilt.left_mm3 > TILT_GAIN_MM3 else None


def _stays(left: Left, hoses: Sequence[_Hose], tilt: Relief | None) -> float:
    """Return what stays in the end, [mm3]: no more than after each alone."""
    freed = math.fsum(hose.freed_mm3 for hose in hoses)
    rest = max(0.0, left.coolant_mm3 - freed)
    return rest if tilt is None else min(rest, tilt.left_mm3)


def _bowl(panel: Panel, routed: Routed, first: PlacedPort) -> BenchStep:
    """Return the step for the bowl, which takes all that the loop holds."""
    outside = outside_volume_ml(panel)
    vessel = panel.tank.level * (panel.tank.volume_ml or 0.0) if routed.tank.box is None else 0.0
    holds = _panel_ml(panel, routed)
    size = math.ceil((holds + vessel + outside) / BOWL_STEP_ML - 1e-9) * BOWL_STEP_ML
    said = [f"the panel holds, filled to its level, {show_ml(holds)} mL"]
    if vessel:
        said.append(f"the tank's vessel {show_ml(vessel)} mL")
    if outside:
        said.append(
            f"parts and hoses {show_ml(outside)} mL, of which what stands higher than the port comes too"
        )
    unknown = [f'"{part.name}"' for part in panel.parts if part.volume_ml is None]
    if routed.tank.box is None and panel.tank.volume_ml is None:
        unknown.append("the tank's vessel")
    if unknown:
        said.append(
            f"what {join_names(tuple(unknown))} hold{'s' * (len(unknown) == 1)} the file does not give"
        )
    where = f"{first.on} {'edge' if first.on in EDGES else 'face'}"
    return BenchStep(
        f'Put a bowl of {size:.0f} mL or more under port "{first.name}" in the {where}: {"; ".join(said)}.'
    )


def _panel_ml(panel: Panel, routed: Routed) -> float:
    """Return what the panel itself holds when it is full, its tank to its level, [mL]."""
    pocket = 0.0 if routed.tank.box is None else panel.tank.level * (tank_volume_ml(panel, routed) or 0.0)
    return pocket + loop_volume_ml(panel, routed) - outside_volume_ml(panel)


def _let_air_in(panel: Panel, routed: Routed) -> tuple[BenchStep, ...]:
    """Return the step that lets air in, without which nothing runs out.

    Where the fill port's mouth lies under the coolant it spills, so it is the first drain itself; air then comes in at
    the highest drain or bleed, which the next steps open.
    """
    fill = next((port for port in routed.ports if port.role == "fill"), None)
    if panel.tank.kind == "separate":
        return (BenchStep("Open the tank's vessel, so that air comes in and coolant can run out."),)
    if fill is None:
        return (BenchStep("The tank has no fill port: air comes in only where hoses are taken off.", ""),)
    levels = find_pocket_levels(panel, routed)
    if levels is not None and levels.under > 0.0:
        return (
            BenchStep(
                f'Open "{fill.name}" over a bowl of its own: it lies under the coolant, which comes out there at once.',
                fill.name,
            ),
        )
    return (BenchStep(f'Open "{fill.name}", so that air comes in and coolant can run out.', fill.name),)


def _open_bleeds(
    panel: Panel, routed: Routed, hoses: Sequence[_Hose], proposals: Sequence[PortProposal]
) -> tuple[BenchStep, ...]:
    """Return the step for bleed ports, through which air comes to where it has no other way in.

    Under the tank's surface they would spill, so they are opened once it is empty. A low one drains too.
    """
    later = {hose.port.name for hose in hoses}
    bleeds = [port for port in routed.ports if port.role == "bleed" and port.name not in later]
    if not bleeds:
        return ()
    names = [port.name for port in _lowest_first(panel, bleeds)[::-1]]
    drain_too = [
        one.at for one in proposals if one.built and one.kind == "bleed" and one.also_mm3 > CLOTH_MM3
    ]
    low = {port.name for port in bleeds if port.at in drain_too}
    bowls = [name for name in names if name in low]
    cloths = [name for name in names if name not in low]
    if bowls and cloths:
        under = f"a cloth under {name_ports(cloths)}, a bowl under {name_ports(bowls)}, where coolant comes out too"
    elif bowls:
        under = f"a bowl under {'it' if len(names) == 1 else 'each'}, for coolant comes out too"
    else:
        under = f"a cloth under {'it' if len(names) == 1 else 'each'}"
    return (
        BenchStep(
            f"Open {name_ports(names)} too, {under}, so that air comes in there, and wait again.",
            names[0],
        ),
    )


def _take_out(port: PlacedPort, place: int) -> BenchStep:
    under = "" if place == 0 else "Put the bowl under it, then "
    said = f'take the plug out of "{port.name}" and wait until nothing more comes.'
    return BenchStep(capitalise(under + said), port.name)


def _open_parts(ports: Sequence[PlacedPort]) -> BenchStep:
    names = name_ports([port.name for port in ports])
    return BenchStep(
        f"The panel has no drain: take the hoses off at {names}, the bowl under each, in this order, and wait each "
        "time until nothing more comes.",
        ports[0].name,
    )


def _take_off(hose: _Hose) -> BenchStep:
    places = name_places([pocket for pocket, _ in hose.lets_out])
    how, more = (
        ("Take the plug out of", "")
        if hose.port.is_shut
        else ("Take the hose off at", ", and what the hose holds")
    )
    return BenchStep(
        f'{how} "{hose.port.name}", the bowl under it: {show_left(hose.freed_mm3)} more comes out of {places}{more}.',
        hose.port.name,
    )


def _tilt(panel: Panel, tilt: Relief | None) -> tuple[BenchStep, ...]:
    if tilt is None or tilt.tilt is None:
        return ()
    said = say_tilt(panel, tilt.tilt)
    return (
        BenchStep(
            f"{capitalise(said)}, all ports open, the bowl under the lowest: no more than "
            f"{show_left(tilt.left_mm3)} stays then."
        ),
    )


def _finish(
    panel: Panel,
    routed: Routed,
    left: Left,
    hoses: Sequence[_Hose],
    tilt: Relief | None,
) -> BenchStep:
    """Return how much comes out of the panel, what stays, and what is done about it."""
    stays = _stays(left, hoses, tilt)
    holds = _panel_ml(panel, routed)
    out = holds - ml(stays)
    freed = [pocket for hose in hoses for pocket, _ in hose.lets_out]
    kept = [pocket for pocket in left.coolant if pocket not in freed]
    places = f" in {name_places(kept[:MOST_NAMED])}" if kept and tilt is None else ""
    if show_left(stays) == "nothing":
        return BenchStep(
            f"All of the panel's {show_ml(holds)} mL has come out but for drops: let it dry before anything gets power."
        )
    return BenchStep(
        f"About {show_ml(out)} mL of the panel's {show_ml(holds)} mL has come out; {show_left(stays)} stays{places}: "
        "soak it up with a cloth or blow it out at the open ports, and let the panel dry before anything gets power."
    )
