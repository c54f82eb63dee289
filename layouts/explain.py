"""Why no routing was found: which channel, and what stands in its way."""

from __future__ import annotations

import numpy as np

from layouts.panel import Panel
from layouts.routing.instance import CHANNEL, Instance
from layouts.routing.negotiate import Routing
from layouts.terrain import Terrain


def explain_failure(panel: Panel, terrain: Terrain, routing: Routing) -> str:
    """Return one paragraph that names the channel, what blocks it and what to try.

    Parameters
    ----------
    panel : Panel
    terrain : Terrain
    routing : Routing
        Without traces.

    Returns
    -------
    str
        "cannot be reached" is proven for this placement of tank and pump; "not found" is not.
    """
    instance = terrain.instance
    place = terrain.placement
    where = f"pump inlet at ({place.inlet[0]:g}, {place.inlet[1]:g}) mm, turn {place.turn_deg} deg"
    if routing.unreachable:
        return f"{panel.path}: {_unreachable(terrain, routing.unreachable[0])} (closest try: {where})"
    names = ", ".join(f'"{name}"' for name in routing.conflicting)
    half = min(instance.columns, instance.rows)
    return (
        f"{panel.path}: no routing was found in {routing.rounds} rounds ({where}): channels {names} stay in each "
        f"other's way on the {instance.columns} x {instance.rows} grid; move one of their ports to the other side, "
        "give ports a box or a span instead of a fixed place, make channels narrower, or the panel larger"
        if half > 3
        else f"{panel.path}: a grid of {instance.columns} x {instance.rows} nodes holds no channels; use a finer pitch"
    )


def _unreachable(terrain: Terrain, net_index: int) -> str:
    """Return what keeps one net from being routed even alone."""
    instance, grid = terrain.instance, terrain.grid
    net = instance.nets[net_index]
    need = terrain.needs[net_index]
    for end, terminals in zip(need.ends, net.ends, strict=True):
        if not terminals:
            return (
                f'channel "{net.name}": its end "{end.name}" has no place left where a channel and a fitting with its '
                "spanner have room beside the edge, the tank, the pump, the drop and keep-clear regions; widen its "
                "box or span, or move what stands there"
            )
    for end, terminals in zip(need.ends, net.ends, strict=True):
        inside = [t.cell for t in terminals if instance.blocked[CHANNEL, t.cell]]
        if len(inside) == len(terminals):
            x, y = grid.point_of(inside[0])
            label = -1 if instance.labels is None else int(instance.labels[inside[0]])
            holder = instance.label_names[label] if label >= 0 else "what stands beside it"
            return (
                f'channel "{net.name}": its end "{end.name}" at ({x:g}, {y:g}) mm lies within the room that {holder} '
                "takes with its walls and grooves; move one of them, or make the channels narrower"
            )
    reached = _flood(instance, [t.cell for t in net.ends[0]])
    for end, terminals in zip(need.ends[1:], net.ends[1:], strict=True):
        cells = [t.cell for t in terminals]
        if not reached[cells].any():
            blocking = _border(instance, reached)
            x, y = grid.point_of(cells[0])
            other = need.ends[0].name
            return (
                f'channel "{net.name}" cannot reach "{end.name}" near ({x:g}, {y:g}) mm from "{other}": '
                f"{blocking} stands between them; move one of these, or leave a gap wide enough for a channel with "
                "its walls"
            )
    return (
        f'channel "{net.name}" cannot be joined: there is a way, but none with room for its bends of '
        f"{instance.bend_cells} cells before and after each corner, or for another channel's only port beside it; "
        "use a smaller bend radius or move a port"
    )


def _flood(instance: Instance, cells: list[int]) -> np.ndarray:
    """Return the free cells joined to `cells` by straight steps, (cells,) bool."""
    free = ~instance.blocked[CHANNEL].reshape(instance.rows, instance.columns)
    reached = np.zeros_like(free)
    reached.reshape(-1)[cells] = True
    while True:
        grown = reached.copy()
        grown[1:] |= reached[:-1]
        grown[:-1] |= reached[1:]
        grown[:, 1:] |= reached[:, :-1]
        grown[:, :-1] |= reached[:, 1:]
        grown &= free | reached
        if (grown == reached).all():
            return reached.reshape(-1)
        reached = grown


def _border(instance: Instance, reached: np.ndarray) -> str:
    """Return the names of what borders a region, the longest border first, the panel's edge left out."""
    if instance.labels is None:
        return "a wall of blocked cells"
    inside = reached.reshape(instance.rows, instance.columns)
    near = np.zeros_like(inside)
    near[1:] |= inside[:-1]
    near[:-1] |= inside[1:]
    near[:, 1:] |= inside[:, :-1]
    near[:, :-1] |= inside[:, 1:]
    labels = instance.labels[(near & ~inside).reshape(-1)]
    counts = np.bincount(labels[labels >= 0], minlength=len(instance.label_names))
    order = [int(k) for k in np.argsort(-counts, kind="stable") if counts[k]]
    named = [instance.label_names[k] for k in order if instance.label_names[k] != "the panel's edge"]
    return " and ".join(named[:3]) if named else "the panel's edge"
