"""What keeps a bleed or drain port off: all that is cut, other fittings, the pump, edges, and the channel itself."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from geom.features import Cylinder, Feature, Shape
from geom.frame import EDGES, INTO, SAME_MM, Face
from geom.outline import region_polygon
from geom.standards import tables
from geom.standards.tables import Thread
from layouts.clearance import (
    clearances_of,
    edge_mouth,
    ports_apart,
    tank_z,
)
from layouts.closing.wet_regions import outline_channel
from layouts.detail import (
    SHADOW_SAG,
    cast_shadow,
    cut_openings,
    cut_pump_screws,
    name_channel,
)
from layouts.faces import bore_z, joint_z, layers_of, passes_joint
from layouts.milling.drilling import DEPTH_GOOD, tip_height
from layouts.outlines import sheet_outline
from layouts.panel import Panel
from layouts.place import pump_reach
from layouts.plan import Layer, Routed
from layouts.tolerances.classes import length_tolerance

TOO_NEAR, TOO_FAR = "an edge too near for the thread", "an edge too far off for a drill"
"""What keeps a port off an edge."""

SPANNER_OF = "the spanner at"
"""What comes before a port's name where its spanner needs the room."""


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A feature that is there already: its outline in plan, and the z between which it lies, [mm]."""

    feature: Feature
    shadow: shapely.Geometry
    z0: float
    z1: float


def list_cuts(panel: Panel, routed: Routed, openings: tuple[Feature, ...] | None = None) -> tuple[Cut, ...]:
    """Return all that a new port keeps off: channels, tank, bores, seats and pump screws, not what follows from it.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    openings : tuple of Feature or None
        What `cut_openings` returns of them, where it is known already.
    """
    openings = openings if openings is not None else cut_openings(panel, routed)
    features = (*openings, *cut_pump_screws(panel, routed, openings))
    return tuple(Cut(feature, *cast_shadow(_with_tip(panel, feature.shape))) for feature in features)


def list_blockers(
    panel: Panel,
    routed: Routed,
    cuts: tuple[Cut, ...],
    channel: str,
    layer: Layer,
    on: Face,
    thread: Thread,
    feet: np.ndarray,
    axis_z: float,
) -> tuple[tuple[str, np.ndarray], ...]:
    """Return what keeps a port off, with the places that it takes.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    cuts : tuple of Cut
        Of the same layout.
    channel : str
        "tank" for the pocket.
    layer : {"back", "front"}
    on : Face
    thread : Thread
    feet : numpy.ndarray
        (n, 2) float64: where its axis meets the centreline, [mm].
    axis_z : float
        z of its mouth, [mm].

    Returns
    -------
    tuple of (str, numpy.ndarray)
        Names in words; (n,) bool.
    """
    wall, radius = panel.rules.least_wall, thread.tap_drill / 2
    # A thread is cut wider than its bore, and wants a pitch beside it at least.
    round_it = _at_worst(panel, max(radius + wall, thread.major / 2 + max(wall, thread.pitch)) + SHADOW_SAG)
    mouths = np.array([edge_mouth(panel, on, (float(x), float(y))) for x, y in feet])
    axes = shapely.points(feet)
    if on in EDGES:
        tip = tip_height(thread.tap_drill) if panel.make.method == "milled" else 0.0
        axes = shapely.linestrings(np.stack([mouths, feet + tip * np.array(INTO[on][:2])], axis=1))
        low, high = axis_z - radius, axis_z + radius
    elif channel == "tank":
        low, high = sorted((axis_z, sum(tank_z(panel)) / 2))
    else:
        low, high = bore_z(panel, on, layer)
    own = name_channel(channel, layer)
    taken: dict[str, np.ndarray] = {}

    def take(name: str, blocked: np.ndarray) -> None:
        if blocked.any():
            taken[name] = taken[name] | blocked if name in taken else blocked

    for cut in cuts:
        if cut.feature.name != own and cut.z0 < high + wall and cut.z1 > low - wall:
            take(_name_cut(cut), shapely.dwithin(axes, cut.shadow, round_it))
    for port in routed.ports:
        if port.on == on:
            apart = _at_worst(panel, ports_apart(tables.thread(port.thread), thread))
            at = np.hypot(mouths[:, 0] - port.at[0], mouths[:, 1] - port.at[1])
            if on in EDGES:
                at = np.hypot(at, axis_z - port.at[2])
            take(f"{SPANNER_OF} port {port.name}", at < apart - SAME_MM)
    if on == panel.pump.on:
        off = _at_worst(panel, pump_reach(panel) + max(thread.spanner_radius, thread.spot_face / 2))
        at = np.hypot(*(mouths - np.array(routed.pump.inlet)).T)
        take("the pump", at < off - SAME_MM)
    for clear in panel.keep_clear:
        off = radius + wall if on in EDGES else max(radius + wall, thread.collar / 2)
        take(clear.name, shapely.dwithin(axes, shapely.box(*clear.box), off - SAME_MM))
    for post in routed.tank.posts if channel == "tank" else ():
        off = routed.tank.post_diameter / 2 + radius + wall
        take("a post in the tank", shapely.dwithin(axes, shapely.Point(post), off))
    take("the panel's edge", _off_sheet(panel, on, thread, mouths, axis_z))
    for other in layers_of(panel):
        if passes_joint(panel, on, other):
            for name, blocked in _block_joint(panel, cuts, own, other, axes, radius):
                take(name, blocked)
    if channel != "tank":
        take("the channel itself", _meets_again(routed, channel, layer, axes, round_it))
    if on in EDGES:
        inset = np.hypot(*(mouths - feet).T)
        least = routed.channel(channel).width / 2 + thread.short_thread + thread.pitch
        take(TOO_NEAR, inset < least - SAME_MM)
        take(TOO_FAR, inset > DEPTH_GOOD * thread.tap_drill)
    return tuple(taken.items())


def _at_worst(panel: Panel, least: float) -> float:
    """Return a least distance with what general tolerances may take of it, [mm]."""
    return least + length_tolerance(panel, least)


def _off_sheet(panel: Panel, on: Face, thread: Thread, mouths: np.ndarray, axis_z: float) -> np.ndarray:
    """Return at which places a fitting's seat would stand over the rim of its face."""
    if on in EDGES:
        along, side = (mouths[:, 0], panel.width) if on in ("top", "bottom") else (mouths[:, 1], panel.height)
        half = max(thread.collar / 2, thread.major / 2 + max(panel.rules.least_wall, thread.pitch))
        half += _lost_at_edge(panel)
        over = min(axis_z, panel.make.body - axis_z) < thread.collar / 2 - SAME_MM
        return (np.minimum(along, side - along) < panel.corner_radius + half - SAME_MM) | over
    half = max(
        thread.collar / 2, thread.spot_face / 2, thread.major / 2 + max(panel.rules.least_wall, thread.pitch)
    )
    inside = sheet_outline(panel, SHADOW_SAG).buffer(-half - _lost_at_edge(panel))
    return ~shapely.dwithin(shapely.points(mouths), inside, SAME_MM)


def _lost_at_edge(panel: Panel) -> float:
    """Return what general tolerances may take of a distance to the edge, [mm]: the place's and the sheet's own."""
    return 2 * length_tolerance(panel, max(panel.width, panel.height))


def _block_joint(
    panel: Panel, cuts: tuple[Cut, ...], own: str, joint: Layer, axes: np.ndarray, radius: float
) -> list[tuple[str, np.ndarray]]:
    """Return what keeps a bore off that passes a joint: what is wet there has a groove or a land of its own."""
    gaps, level = clearances_of(panel), joint_z(panel, joint)
    off = radius + max(gaps.channel_gap, gaps.own_gap) + SHADOW_SAG
    out = [
        (_name_cut(cut), shapely.dwithin(axes, cut.shadow, off))
        for cut in cuts
        if cut.feature.medium == "wet"
        and cut.feature.name != own
        and cut.z0 <= level + SAME_MM
        and cut.z1 >= level - SAME_MM
    ]
    rim = sheet_outline(panel, SHADOW_SAG).exterior
    out.append(("the panel's edge", shapely.dwithin(axes, rim, radius + gaps.edge_gap + SHADOW_SAG)))
    off = radius + max(gaps.seal_reach, gaps.solid_gap)
    out += [(clear.name, shapely.dwithin(axes, shapely.box(*clear.box), off)) for clear in panel.keep_clear]
    return out


def _meets_again(routed: Routed, channel: str, layer: Layer, axes: np.ndarray, off: float) -> np.ndarray:
    """Return at which places another piece of the same channel comes too near."""
    own = routed.channel(channel)
    whole = region_polygon(outline_channel(own, 0.0, layer), SHADOW_SAG)
    rooms = shapely.intersection(shapely.buffer(axes, off), whole)
    met = shapely.get_num_geometries(rooms) > 1
    for k in np.flatnonzero(met):
        met[k] = sum(part.area > SAME_MM for part in shapely.get_parts(rooms[k])) > 1
    return np.asarray(met)


def _name_cut(cut: Cut) -> str:
    """Return what a feature is called in a sentence."""
    name = cut.feature.name
    return name if cut.feature.kind != "tank" else "the tank"


def _with_tip(panel: Panel, shape: Shape) -> Shape:
    """Return a shape as the drill leaves it: a bore with the point of the drill before its end."""
    if panel.make.method != "milled" or not isinstance(shape, Cylinder):
        return shape
    return replace(shape, length=shape.length + tip_height(2 * shape.radius))
