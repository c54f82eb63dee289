"""Where air and coolant leave the wet volume, and where the loop goes on outside it.

What lies outside is known only by name: a hose whose way the file does not tell (`hose`) is taken to rise from its port
when air is looked for, and to run straight from mouth to mouth when coolant is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from geom.features import Cylinder, Feature
from geom.wet.links import Links, join_links
from geom.wet.voxels import WetVoxels
from layouts.detail import name_port
from layouts.filling.values import Opening, OpeningKind
from layouts.nets import PUMP_INLET, PUMP_OUTLET
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed

ON_FACE = 0.01
"""A voxel's centre that lies no further out lies in the mouth, [mm]: where the face itself cuts it."""


def find_openings(
    panel: Panel, routed: Routed, features: Sequence[Feature], voxels: WetVoxels
) -> tuple[Opening, ...]:
    """Return the mouths of the wet volume, in the order of the panel's ports, the pump's bores last.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    features : sequence of Feature
        Of the same panel.
    voxels : WetVoxels
        Of these features.
    """
    shapes = {feature.name: feature.shape for feature in features if feature.medium == "wet"}
    hoses = {port.name: port.hose for part in panel.parts for port in (part.inlet, part.outlet)}
    openings = []
    for port in routed.ports:
        shape = shapes.get(name_port(port))
        if isinstance(shape, Cylinder):
            kind = _kind_of(port)
            part = port.part if kind == "part" else ""
            hose = hoses.get(port.name)
            openings.append(Opening(port.name, kind, part, shape.mouth, _mouth(voxels, shape), hose))
    for end in (PUMP_INLET, PUMP_OUTLET):
        shape = shapes.get(f"{end} bore")
        if isinstance(shape, Cylinder):
            openings.append(Opening(end, "pump", "", shape.mouth, _mouth(voxels, shape)))
    return tuple(openings)


def tank_voxels(voxels: WetVoxels) -> np.ndarray:
    """Return which voxels the pocket tank's own feature holds, (n,) bool; none where it is separate.

    Ends of channels and bores that reach into the pocket are not among them, so that air in them counts as left;
    `layouts.filling.held.find_tank` takes all that lies inside the pocket, since the coolant there is the tank's.
    """
    return voxels.owned_by(("tank",))


def vents_of(openings: Sequence[Opening]) -> tuple[Opening, ...]:
    """Return the openings through which air leaves while the panel is filled."""
    return tuple(
        opening
        for opening in openings
        if opening.kind in ("fill", "bleed", "tank") or (opening.kind == "part" and opening.hose != "falls")
    )


def exits_of(openings: Sequence[Opening]) -> tuple[Opening, ...]:
    """Return the openings through which coolant leaves while the panel is drained.

    The drains; where there is none the ports of parts, whose hoses are then taken off. Fill port and bleeds are open
    too, for air has to come in: one that stands low lets coolant out.
    """
    drains = any(opening.kind == "drain" for opening in openings)
    return tuple(o for o in openings if o.kind in ("drain" if drains else "part", "bleed", "fill"))


def open_drains(openings: Sequence[Opening]) -> tuple[Opening, ...]:
    """Return the openings with the drains' plugs opened as bleeds while the panel is filled, until coolant comes.

    A drain under a pocket clears none of it: air leaves only where it stands highest.
    """
    return tuple(replace(o, kind="bleed") if o.kind == "drain" else o for o in openings)


def lead_untold(openings: Sequence[Opening], hose: Literal["rises", "falls"]) -> tuple[Opening, ...]:
    """Return the openings with all hoses led one way whose way the file does not tell."""
    return tuple(replace(o, hose=hose) if o.kind == "part" and o.hose is None else o for o in openings)


def air_links(openings: Sequence[Opening], heights: np.ndarray) -> Links:
    """Return the ways of air outside the panel: through the pump alone, since hoses are vents or closed by coolant.

    Parameters
    ----------
    openings : sequence of Opening
    heights : numpy.ndarray
        (n,) float32: of the voxels, along up; turned round (with the sign changed), as `climb` wants them, [mm].
    """
    return _join(openings, heights, [_pump(openings)])


def coolant_links(openings: Sequence[Opening], heights: np.ndarray) -> Links:
    """Return the ways of coolant outside the panel: through the pump, and through parts whose hoses do not rise.

    Parameters
    ----------
    openings : sequence of Opening
    heights : numpy.ndarray
        (n,) float32, along up, [mm].
    """
    parts: dict[str, list[Opening]] = {}
    for opening in openings:
        if opening.kind == "part" and opening.hose != "rises":
            parts.setdefault(opening.part, []).append(opening)
    return _join(openings, heights, [_pump(openings), *(tuple(pair) for pair in parts.values())])


def _pump(openings: Sequence[Opening]) -> tuple[Opening, ...]:
    return tuple(opening for opening in openings if opening.kind == "pump")


def _join(openings: Sequence[Opening], heights: np.ndarray, groups: Sequence[tuple[Opening, ...]]) -> Links:
    """Return links through the mouths of each group; the way passes none higher than the mouths' lowest rims."""
    groups = [group for group in groups if len(group) == 2 and all(len(o.voxels) for o in group)]
    passed = [max(float(heights[opening.voxels].min()) for opening in group) for group in groups]
    members = [np.concatenate([opening.voxels for opening in group]) for group in groups]
    return join_links(len(heights), members, passed)


def _kind_of(port: PlacedPort) -> OpeningKind:
    # By its role: a part of the file may be called "drain".
    match port.role:
        case "fill" | "bleed" | "drain":
            return port.role
    return "tank" if port.part == "tank" else "part"


def _mouth(voxels: WetVoxels, bore: Cylinder) -> np.ndarray:
    """Return the voxels at a bore's mouth: one layer, across the whole of it.

    Where the bore is so narrow that none lies in its mouth, the nearest within a voxel of it; empty where none does.
    """
    wide = bore.radius + bore.chamfer + voxels.spacing
    at = (np.asarray(bore.mouth) - voxels.origin) / voxels.spacing - 0.5
    # Along its own axis a bore's mouth is looked for within two voxels.
    room = 2.0 + wide / voxels.spacing * (1.0 - np.abs(bore.direction))
    low, high = np.floor(at - room).astype(np.int32), np.ceil(at + room).astype(np.int32)
    # Voxels stand by x first.
    first, last = np.searchsorted(voxels.cells[:, 0], [low[0], high[0] + 1])
    cells = voxels.cells[first:last]
    near = ((cells >= low) & (cells <= high)).all(axis=1)
    chosen = first + np.flatnonzero(near)
    away = np.asarray(voxels.origin) + (voxels.cells[chosen] + 0.5) * voxels.spacing - np.asarray(bore.mouth)
    along = away @ np.asarray(bore.direction)
    across = np.linalg.norm(away - along[:, None] * np.asarray(bore.direction), axis=1)
    within = (along > -ON_FACE) & (along <= voxels.spacing) & (across <= bore.radius + bore.chamfer)
    if within.any():
        within &= along < along[within].min() + voxels.spacing / 2
        return chosen[within].astype(np.int32)
    if not len(chosen):
        return np.empty(0, np.int32)
    off = np.hypot(along, np.maximum(across - bore.radius, 0.0))
    nearest = int(np.argmin(off))
    return (
        chosen[nearest : nearest + 1].astype(np.int32)
        if off[nearest] <= voxels.spacing
        else np.empty(0, np.int32)
    )
