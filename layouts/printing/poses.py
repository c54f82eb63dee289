"""How a printed panel may lie, what each pose asks of the printer by the plan alone, and the choice between them.

What is counted here is measured again on the solids (`geom.printing.overhangs`), in the same order of weight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from geom.frame import INTO, Face, Vec
from geom.outline import Point
from geom.printing.measured import is_wide
from layouts.clearance import tank_z
from layouts.faces import layer_z, layers_of
from layouts.panel import Panel
from layouts.plan import Channel, Layer, Routed
from layouts.printing.printed import ChannelRoof, Pose, Split
from layouts.printing.printer_room import find_scale, fits_room, lie_box
from layouts.printing.process import PrintProcess, process_of
from layouts.printing.roof_shapes import find_roof_place, lies_flat, shape_roofs
from layouts.printing.tried import weigh_pose

ON_FACE: dict[Face, str] = {
    "back": "on its back",
    "front": "on its front",
    "bottom": "on its bottom edge",
    "top": "on its top edge",
    "left": "on its left edge",
    "right": "on its right edge",
}
"""What a pose is called; in the order in which equals are preferred."""

AT_LIMIT = 1e-6
"""A surface at the very limit of the lean is no overhang, [-]."""


@dataclass(frozen=True, slots=True)
class PlannedRoof:
    """A roof inside that has to be bridged: over what, where, how wide, [mm]."""

    name: str
    at: Vec
    span: float


@dataclass(frozen=True, slots=True)
class PlannedPose:
    """What a pose asks of the printer, by the plan alone.

    Parameters
    ----------
    pose : Pose
    fits : bool
        Whether the body so laid fits the printer, turned on the bed by quarter turns.
    roofs : tuple of PlannedRoof
        Those inside that are wider than a bridge, widest first.
    stands : bool
        Whether it stands by itself: a tilted one does not.
    support_mm2 : float
        Area outside that needs support, roughly, [mm2].
    height : float
        [mm]
    """

    pose: Pose
    fits: bool
    roofs: tuple[PlannedRoof, ...]
    stands: bool
    support_mm2: float
    height: float

    @property
    def rank(self) -> tuple[float, ...]:
        """What poses are compared by, the weightiest first; less is better."""
        spans = tuple(roof.span for roof in self.roofs)
        return weigh_pose(self.fits, spans, self.stands, self.support_mm2, self.height)


def list_poses(panel: Panel, lies_on: Face | None = None) -> tuple[Pose, ...]:
    """Return the poses that a panel is tried in: on its six faces, and tilted.

    Parameters
    ----------
    panel : Panel
    lies_on : Face or None
        The one face that it lies on, tilted or not; None: any.

    Returns
    -------
    tuple of Pose
        For each tilt of the file each face is tilted about both edges of the bed, in both senses; two that come to the
        same are one. Names are unique.
    """
    # Half right one pose lies on either of two faces: what is asked for is chosen before equals are made one.
    laid = {face: name for face, name in ON_FACE.items() if lies_on in (None, face)}
    poses = [Pose(name, face, INTO[face]) for face, name in laid.items()]
    for tilt in panel.printing.tilts:
        turn = math.radians(tilt)
        for face, name in laid.items():
            for lower, edge in ON_FACE.items():
                up, over = INTO[face], INTO[lower]
                if abs(_dot(up, over)) > 0.5:
                    continue
                x, y, z = (math.cos(turn) * a + math.sin(turn) * b for a, b in zip(up, over, strict=True))
                called = f"{name}, tilted {tilt:g} deg onto {edge.removeprefix('on ')}"
                poses.append(Pose(called, face, (x, y, z), tilt))
    seen: dict[tuple[float, ...], Pose] = {}
    for pose in poses:
        seen.setdefault(tuple(round(part, 6) + 0.0 for part in pose.up), pose)
    return tuple(seen.values())


def choose_pose(panel: Panel, routed: Routed, split: Split | None = None) -> Pose:
    """Return how a panel is best printed, by its plan alone.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    split : Split or None
        Where it is split to fit the printer.

    Returns
    -------
    Pose
        The best by `weigh_pose`, on the face that the file names: as a tilted one does not stand by itself, only where
        that fits the printer or leaves fewer or narrower roofs inside.
    """
    poses = list_poses(panel, panel.printing.lies_on)
    return min((plan_pose(panel, routed, pose, split) for pose in poses), key=lambda one: one.rank).pose


def plan_pose(panel: Panel, routed: Routed, pose: Pose, split: Split | None = None) -> PlannedPose:
    """Return what a pose asks of the printer, by the plan alone.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    pose : Pose
    split : Split or None

    Returns
    -------
    PlannedPose
    """
    process = process_of(panel)
    height, footprint = _lie(panel, pose, split)
    wide = [
        roof for roof in _roofs_inside(panel, routed, pose, process) if is_wide(roof.span, process.bridge)
    ]
    return PlannedPose(
        pose,
        fits_room(footprint, height, panel.make.room),
        tuple(sorted(wide, key=lambda roof: (-round(roof.span, 3), roof.at))),
        pose.tilt_deg == 0.0,
        _support_outside(panel, routed, pose, process),
        height,
    )


def _lie(panel: Panel, pose: Pose, split: Split | None) -> tuple[float, tuple[float, float]]:
    """Return height and footprint, long side first, of the body as it is printed, [mm]; split, of its larger piece."""
    sides = [panel.width, panel.height, panel.make.body]
    if split is not None:
        k = 0 if split.axis == "x" else 1
        sides[k] = max(split.at, sides[k] - split.at)
    x, y, z = (find_scale(panel) * side for side in sides)
    return lie_box((x, y, z), pose.up)


def _roofs_inside(panel: Panel, routed: Routed, pose: Pose, process: PrintProcess) -> Iterator[PlannedRoof]:
    """Yield the roofs of what is closed all round: channels and tank of a panel in one piece.

    Under a cover channels lie open at the joint, and bores are open at their mouths: support comes out of those.
    """
    if panel.make.closing != "one-piece":
        return
    roofs = {roof.channel: roof for roof in shape_roofs(panel, routed, pose)}
    for channel in routed.channels:
        roof = _channel_roof(panel, channel, roofs[channel.name], pose, process)
        if roof is not None:
            yield roof
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        z0, z1 = tank_z(panel)
        middle = ((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2)
        yield from _box_roofs("tank", middle, (x1 - x0, y1 - y0, z1 - z0), pose, process)


def _channel_roof(
    panel: Panel, channel: Channel, roof: ChannelRoof, pose: Pose, process: PrintProcess
) -> PlannedRoof | None:
    """Return the widest roof over a channel; None where all of it carries itself."""
    low, high = layer_z(panel, channel.runs[0].layer)
    name = f"channel {channel.name}"
    if lies_flat(pose):
        return PlannedRoof(name, find_roof_place(panel, channel, roof, pose), roof.left)
    found = [
        PlannedRoof(name, at, span)
        for run in channel.runs
        for a, b in pairwise(run.points)
        for at, span in _leg_roofs(a, b, channel.width, (low, high), pose, process)
    ]
    return max(found, key=lambda one: (round(one.span, 6), one.at), default=None)


def _leg_roofs(
    a: Point, b: Point, width: float, z: tuple[float, float], pose: Pose, process: PrintProcess
) -> Iterator[tuple[Vec, float]]:
    """Yield place and span of the roofs over a straight piece of a channel that does not lie level."""
    length, depth = math.dist(a, b), z[1] - z[0]
    along = ((b[0] - a[0]) / length, (b[1] - a[1]) / length, 0.0)
    across = (-along[1], along[0], 0.0)
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, sum(z) / 2)
    for normal, off, span in ((across, width / 2, depth), ((0.0, 0.0, 1.0), depth / 2, width)):
        if _is_flat(abs(_dot(normal, pose.up)), process):
            side = math.copysign(off, _dot(normal, pose.up))
            x, y, h = (m + side * n for m, n in zip(middle, normal, strict=True))
            yield (x, y, h), min(span, length + width)
    # The upper end is half a cylinder about z.
    rise = _dot(along, pose.up)
    half = _flat_half(math.hypot(pose.up[0], pose.up[1]), width / 2, process)
    if half > 0.0 and abs(rise) > AT_LIMIT:
        end = b if rise > 0 else a
        reach = math.copysign(width / 2, rise)
        at = (end[0] + along[0] * reach, end[1] + along[1] * reach, middle[2])
        yield at, min(2 * half, depth)


def _box_roofs(
    name: str, middle: Vec, sides: Vec, pose: Pose, process: PrintProcess
) -> Iterator[PlannedRoof]:
    """Yield the roofs of a pocket: a flat one is bridged across its shorter side."""
    for k in range(3):
        if _is_flat(abs(pose.up[k]), process):
            at = [*middle]
            at[k] += math.copysign(sides[k] / 2, pose.up[k])
            yield PlannedRoof(name, (at[0], at[1], at[2]), min(sides[j] for j in range(3) if j != k))


def _support_outside(panel: Panel, routed: Routed, pose: Pose, process: PrintProcess) -> float:
    """Return the area outside that needs support, roughly, [mm2].

    These are faces that lean out, the pump's seat where it looks down on the bed, and what a body under a cover has
    open at a joint: channels and tank, whose support comes out again. Spot faces and bores are bridged.
    """
    width, height, body = panel.width, panel.height, panel.make.body
    faces: dict[Face, float] = {
        "back": width * height,
        "front": width * height,
        "top": width * body,
        "bottom": width * body,
        "left": height * body,
        "right": height * body,
    }
    area = 0.0
    for face, size in faces.items():
        lean = _dot(INTO[face], pose.up)
        if not _is_flat(lean, process):
            continue
        # What lies on the bed needs none, but what is cut into it hangs.
        area += size if lean < 1.0 - AT_LIMIT else 0.0
        seat = panel.pump.seat_diameter
        if face == panel.pump.on and panel.pump.seat_depth > 0.0 and is_wide(seat, process.bridge):
            area += math.pi / 4 * seat**2 if lean > 1.0 - AT_LIMIT else 0.0
        if (
            panel.make.closing != "one-piece"
            and routed.tank.box is not None
            and face not in ("front", "back")
        ):
            area += _tank_roof(panel, routed, face, process)
        for layer in layers_of(panel):
            if panel.make.closing != "one-piece" and face == layer and lean > 1.0 - AT_LIMIT:
                area += _open_roofs(panel, routed, layer, process)
    return area


def _tank_roof(panel: Panel, routed: Routed, face: Face, process: PrintProcess) -> float:
    """Return the area of a tank's wall that hangs too wide where its body stands on an edge, [mm2]."""
    assert routed.tank.box is not None
    x0, y0, x1, y1 = routed.tank.box
    along, depth = (x1 - x0 if face in ("top", "bottom") else y1 - y0), panel.tank.depth
    return along * depth if is_wide(min(along, depth), process.bridge) else 0.0


def _open_roofs(panel: Panel, routed: Routed, layer: Layer, process: PrintProcess) -> float:
    """Return the area of floors in a layer that hang too wide where its joint lies on the bed, [mm2]."""
    area = math.fsum(
        channel.width * math.dist(a, b)
        for channel in routed.channels
        if is_wide(channel.width, process.bridge)
        for run in channel.runs
        if run.layer == layer
        for a, b in pairwise(run.points)
    )
    if routed.tank.box is not None and layer == "back":
        x0, y0, x1, y1 = routed.tank.box
        if is_wide(min(x1 - x0, y1 - y0), process.bridge):
            area += (x1 - x0) * (y1 - y0)
    return area


def _is_flat(lean: float, process: PrintProcess) -> bool:
    """Return whether a surface whose normal has this share along the growth is too flat to carry itself."""
    return lean > math.sin(math.radians(process.overhang_deg)) + AT_LIMIT


def _flat_half(share: float, radius: float, process: PrintProcess) -> float:
    """Return half of the width over which a round roof is too flat, [mm]; `share`: of its steepest normal upward."""
    limit = math.sin(math.radians(process.overhang_deg))
    return radius * math.sqrt(1.0 - (limit / share) ** 2) if share > limit + AT_LIMIT else 0.0


def _dot(a: Vec, b: Vec) -> float:
    return math.fsum(x * y for x, y in zip(a, b, strict=True))
