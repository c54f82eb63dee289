"""The walls between what is cut: exact between named features, and by rays as a second opinion.

Every feature stays a solid of its own, and so does the space outside each outer face. A wall is the least
distance between two of them that are not meant to meet. What two of them open into on purpose holds coolant, not
material: inside it there is no wall between them. The joint face between two blanks is not an outer face. Rays
shot into the finished parts find what names cannot: a channel too close to itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import cadquery as cq
import manifold3d
import numpy as np
import trimesh

from geom.build import Solids, make_solid, merge_blanks
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Vault
from geom.findings import Finding
from geom.frame import EDGES, INTO, SAME_MM, WALL_MM, Vec
from geom.kernel import cut_shape, find_box, make_compound, measure_distance
from geom.measured import NO_REACH, Wall, WallReach
from geom.outline import Arc, Line, Loop, Segment, outline_rectangle, reverse_segment
from geom.owners import ON_FEATURE_MM, find_owners
from geom.rays import ThinSpot, ray_walls
from geom.rebuild import Models, rebuild_features
from geom.tessellate import mesh_solid, to_manifold

OUTSIDE_MM = 3.0
"""Thickness of the solids that stand for the space outside."""

MESH_MM = 0.1
"""A distance between meshes is at most this far from the true one: two sagittas and a reserve."""

REACH = 3.0
"""Features further apart than this many limits are not looked at."""

NO_FEATURE = "an outer or joint face"
"""Name of what a ray's end lies on where that is no feature."""

WALL_REMEDY = "Move one of them away, or make the plate thicker there."
GROOVE_REMEDY = "Use a thinner cord, whose groove is narrower and shallower, or move one of them away."


@dataclass(frozen=True, slots=True)
class _Item:
    """A solid with a name; `section` is its plan at z = 0 where its walls are upright all the way.

    `mesh` is the solid once more, `box` (2, 3) what bounds it.
    """

    name: str
    solid: cq.Shape
    feature: Feature | None
    section: cq.Shape | None
    mesh: manifold3d.Manifold
    box: np.ndarray


def measure_walls(
    detail: Detail,
    solids: Solids,
    limit: float,
    dry_limit: float,
    models: Models | None = None,
    asked: WallReach = NO_REACH,
) -> tuple[Wall, ...]:
    """Return the walls near or under their limit, and the thinnest wet one in any case, thinnest first.

    Parameters
    ----------
    detail : Detail
    solids : Solids
    limit : float
        Least wall beside coolant, [mm].
    dry_limit : float
        Least wall between two dry features, or a dry one and the outside, [mm].
    models : mapping or None
        From `rebuild_features`; made here where None.
    asked : WallReach
        Up to which thickness walls are measured in any case.

    Returns
    -------
    tuple of Wall
        Exact to `WALL_MM`. Pairs that name each other in `joins`, and a feature and a face that it `opens`,
        are no walls. Of two that both join a wet feature, what lies inside that feature is not counted.
    """
    models = rebuild_features(solids) if models is None else models
    items = [
        _make_item(feature.name, tool, feature, manifold3d.Manifold.compose(list(models[feature.name])))
        for feature, tool in solids.tools
    ]
    items += [
        _make_item(name, slab, None, to_manifold(mesh_solid(slab)))
        for name, slab in make_outside(detail.blanks)
    ]
    by_name = {item.name: item for item in items}
    joined = _list_joined(detail)
    walls: list[Wall] = []
    spare: tuple[float, _Item, _Item] | None = None
    reach = max(REACH * max(limit, dry_limit), asked.most)
    for i, j in _near_pairs(np.array([item.box for item in items]), reach):
        a: _Item | None = items[i]
        b: _Item | None = items[j]
        if not _is_wall(items[i], items[j]):
            continue
        for name in sorted(joined.get(items[i].name, set()) & joined.get(items[j].name, set())):
            a, b = (None if item is None else _leave_out(item, by_name[name]) for item in (a, b))
        if a is None or b is None:
            continue
        wet = any(item.feature is not None and item.feature.medium == "wet" for item in (a, b))
        least = limit if wet else dry_limit
        looked_to = max(least, asked.between(a.name, b.name)) + MESH_MM
        gap = _mesh_gap(a, b, max(REACH * least, looked_to))
        if gap < looked_to:
            walls.append(_measure(a, b, gap, least, wet))
        elif wet and gap < REACH * least and (spare is None or gap < spare[0]):
            spare = (gap, a, b)
    if spare is not None and not any(wall.wet and wall.thickness <= spare[0] for wall in walls):
        gap, a, b = spare
        walls.append(_measure(a, b, gap, limit, True))
    return tuple(sorted(walls, key=lambda wall: (wall.thickness, wall.between)))


def thinnest(walls: Sequence[Wall]) -> Wall | None:
    """Return the thinnest wall beside coolant; None where every one is far over its limit."""
    return min((wall for wall in walls if wall.wet), key=lambda wall: wall.thickness, default=None)


def make_outside(blanks: tuple[Blank, ...]) -> tuple[tuple[str, cq.Shape], ...]:
    """Return the space outside the panel as named solids.

    Parameters
    ----------
    blanks : tuple of Blank
        Taken together: front is the highest face, back the lowest; the edges follow each outline.

    Returns
    -------
    tuple of (str, cadquery.Shape)
        "outer front", "outer left", ...; "outer corner" at a rounded corner.
    """
    boxes = np.array([find_box(make_solid(b.name, Prism((b.loop,), b.z0, b.z1))) for b in blanks])
    (x0, y0, z0), (x1, y1, z1) = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    sheet = (outline_rectangle(float(x0), float(y0), float(x1), float(y1), 0.0),)
    out = [
        ("outer front", make_solid("outer front", Prism(sheet, float(z1), float(z1) + OUTSIDE_MM))),
        ("outer back", make_solid("outer back", Prism(sheet, float(z0) - OUTSIDE_MM, float(z0)))),
    ]
    for slab in merge_blanks(blanks):
        for segment in slab.loop:
            name, loop = _outside_segment(segment)
            out.append((name, make_solid(name, Prism((loop,), slab.z0, slab.z1))))
    return tuple(out)


def explain_spots(
    solids: Solids,
    spots: Sequence[ThinSpot],
    walls: Sequence[Wall],
    limit: float,
    dry_limit: float,
    models: Models | None = None,
) -> tuple[ThinSpot, ...]:
    """Return the thin spots that no measured wall explains, with the names of what they lie between.

    Parameters
    ----------
    solids : Solids
    spots : sequence of ThinSpot
        From `ray_walls` at the larger of both limits.
    walls : sequence of Wall
        From `measure_walls`.
    limit, dry_limit : float
        As for `measure_walls`, [mm].
    models : mapping or None
        As for `measure_walls`.

    Returns
    -------
    tuple of ThinSpot
        Those under their limit whose pair of names is not among the walls.
    """
    known = {
        frozenset(NO_FEATURE if name.startswith("outer ") else name for name in wall.between)
        for wall in walls
    }
    if not spots:
        return ()
    models = rebuild_features(solids) if models is None else models
    filled = {feature.name for feature, _ in solids.tools if feature.medium == "wet"}
    left = []
    for spot in spots:
        named = [find_owners(models, point, ON_FEATURE_MM) or (NO_FEATURE,) for point in spot.points]
        if any(frozenset((a, b)) in known for a in named[0] for b in named[1]):
            continue
        wet = any(name in filled for names in named for name in names)
        if spot.thickness < (limit if wet else dry_limit) - MESH_MM:
            names = tuple(min(name) for name in named)
            left.append(ThinSpot(spot.thickness, spot.points, spot.rays, (names[0], names[1])))
    return tuple(left)


def find_thin_spots(
    solids: Solids,
    meshes: Mapping[str, trimesh.Trimesh],
    walls: Sequence[Wall],
    limit: float,
    dry_limit: float,
    models: Models | None = None,
    seed: int = 0,
) -> tuple[ThinSpot, ...]:
    """Return what rays find thin in any part and `walls` do not explain.

    Parameters
    ----------
    solids : Solids
    meshes : mapping of str to trimesh.Trimesh
        Part name to its mesh, from `mesh_solid`; inserts are passed over, they have no walls.
    walls : sequence of Wall
        From `measure_walls`.
    limit, dry_limit : float
        [mm].
    models : mapping or None
        As for `measure_walls`.
    seed : int

    Returns
    -------
    tuple of ThinSpot
    """
    cut = [mesh for name, mesh in meshes.items() if f"part {name}" in solids.volumes]
    # A wall of just its limit is none to explain: rays measure no finer than the mesh.
    thin = max(limit, dry_limit) - MESH_MM
    spots = [spot for mesh in cut for spot in ray_walls(mesh, thin, seed)]
    return explain_spots(solids, spots, walls, limit, dry_limit, models)


def check_walls(walls: Sequence[Wall], spots: Sequence[ThinSpot] = ()) -> tuple[Finding, ...]:
    """Return the findings about walls.

    Parameters
    ----------
    walls : sequence of Wall
        From `measure_walls`.
    spots : sequence of ThinSpot
        From `find_thin_spots`.

    Returns
    -------
    tuple of Finding
        ``wall.breach`` and ``wall.thin`` (faults), ``wall.rays`` (cautions).
    """
    findings = []
    for wall in walls:
        if not wall.is_thin:
            continue
        a, b = wall.between
        at = wall.middle
        where = f"({at[0]:.2f}, {at[1]:.2f}, {at[2]:.2f}) mm"
        breach = wall.thickness <= 0
        meet = "cut into each other" if wall.overlap else "touch"
        findings.append(
            Finding(
                "wall.breach" if breach else "wall.thin",
                "fault",
                f"{a} and {b} {meet} at {where}."
                if breach
                else f"The wall between {a} and {b} is {wall.thickness:.3f} mm at {where}, "
                f"under {wall.limit:g} mm.",
                GROOVE_REMEDY if any(name.startswith("groove") for name in wall.between) else WALL_REMEDY,
                "rules.least_wall of the panel file"
                if wall.wet
                else "least wall between dry features, common practice, no source",
                wall.thickness,
                wall.limit,
                "mm",
                at,
                tuple(name for name in wall.between if not name.startswith("outer ")),
            )
        )
    for spot in spots:
        a, b = spot.between
        at = _middle(spot.points)
        findings.append(
            Finding(
                "wall.rays",
                "caution",
                f"Rays find about {spot.thickness:.2f} mm of material between {a} and {b} at "
                f"({at[0]:.2f}, {at[1]:.2f}, {at[2]:.2f}) mm.",
                "Look at the place; where it is a wall, move what stands on either side.",
                "second opinion on the mesh, about 0.1 mm",
                spot.thickness,
                None,
                "mm",
                at,
                tuple(dict.fromkeys(name for name in spot.between if name != NO_FEATURE)),
            )
        )
    return tuple(findings)


def _is_wall(a: _Item, b: _Item) -> bool:
    if a.feature is None and b.feature is None:
        return False
    if a.feature is not None and b.feature is not None:
        return b.name not in a.feature.joins and a.name not in b.feature.joins
    feature, outside = (a.feature, b.name) if a.feature is not None else (b.feature, a.name)
    assert feature is not None
    return outside not in {f"outer {face}" for face in feature.opens}


def _near_pairs(boxes: np.ndarray, reach: float) -> list[tuple[int, int]]:
    """Return the pairs (i < j) of (n, 2, 3) boxes closer than `reach`, [mm]."""
    low, high = boxes[:, 0], boxes[:, 1]
    apart = np.maximum(0.0, np.maximum(low[:, None] - high[None], low[None] - high[:, None]))
    first, second = np.nonzero(np.triu((apart**2).sum(axis=-1) < reach**2, 1))
    return list(zip(first.tolist(), second.tolist(), strict=True))


def _list_joined(detail: Detail) -> dict[str, set[str]]:
    """Return for each feature the wet ones that it is meant to meet, whichever side names the other."""
    wet = {feature.name for feature in detail.features if feature.medium == "wet"}
    joined: dict[str, set[str]] = {feature.name: set() for feature in detail.features}
    for feature in detail.features:
        for name in feature.joins:
            joined[feature.name] |= {name} & wet
            if name in joined:
                joined[name] |= {feature.name} & wet
    return joined


def _leave_out(item: _Item, other: _Item) -> _Item | None:
    """Return what of an item lies outside another; None where nothing does."""
    if (item.mesh ^ other.mesh).volume() <= 0:
        return item
    solid = cut_shape(item.solid, (other.solid,))
    if not solid.Solids():
        return None
    return replace(item, solid=solid, section=None, mesh=item.mesh - other.mesh, box=find_box(solid))


def _mesh_gap(a: _Item, b: _Item, reach: float) -> float:
    """Return the gap between two items' meshes, [mm]; 0 where one lies inside the other."""
    gap = float(a.mesh.min_gap(b.mesh, reach))
    for outer, inner in ((a.box, b.box), (b.box, a.box)):
        inside = np.all(outer[0] <= inner[0]) and np.all(outer[1] >= inner[1])
        if gap > 0 and inside and (a.mesh ^ b.mesh).volume() > 0:
            return 0.0
    return gap


def _make_item(name: str, solid: cq.Shape, feature: Feature | None, mesh: manifold3d.Manifold) -> _Item:
    box = find_box(solid)
    z0 = float(box[0, 2])
    upright = feature is None or not isinstance(feature.shape, Cylinder | Vault)
    if feature is not None and isinstance(feature.shape, Cylinder):
        upright = abs(feature.shape.direction[2]) > 1 - 1e-12 and feature.shape.chamfer == 0
    section = None
    if upright:
        floors = [face for face in solid.Faces() if find_box(face)[1, 2] - z0 < SAME_MM]
        section = make_compound(floors).moved(cq.Location(0.0, 0.0, -z0))
    return _Item(name, solid, feature, section, mesh, box)


def _measure(a: _Item, b: _Item, gap: float, limit: float, wet: bool) -> Wall:
    if gap > 0 and a.section is not None and b.section is not None:
        distance, p, q = _measure_upright(a, b)
    else:
        distance, p, q = measure_distance(a.solid, b.solid)
    meets = distance < WALL_MM / 10
    overlap = meets and (a.mesh ^ b.mesh).volume() > 0
    return Wall(0.0 if meets else distance, limit, (a.name, b.name), (p, q), wet, overlap)


def _measure_upright(a: _Item, b: _Item) -> tuple[float, Vec, Vec]:
    """Return the distance and its ends for two solids with upright walls that do not overlap.

    It is found in plan, some hundred times faster than between the solids.
    """
    assert a.section is not None
    assert b.section is not None
    (a0, a1), (b0, b1) = a.box[:, 2].tolist(), b.box[:, 2].tolist()
    rise = max(a0 - b1, b0 - a1)
    if rise >= -SAME_MM:
        flat, p, q = measure_distance(a.section, b.section)
        ends = (a0, b1) if a0 - b1 >= b0 - a1 else (a1, b0)
    else:
        # At one height and apart: only the rims can be nearest, never the inside of a section.
        flat, p, q = measure_distance(make_compound(a.section.Wires()), make_compound(b.section.Wires()))
        ends = (max(a0, b0), max(a0, b0))
    return math.hypot(flat, max(rise, 0.0)), (p[0], p[1], ends[0]), (q[0], q[1], ends[1])


def _outside_segment(segment: Segment) -> tuple[str, Loop]:
    """Return the name and the plan of the space outside one piece of a counter-clockwise outline."""
    if isinstance(segment, Line):
        (ax, ay), (bx, by) = segment.start, segment.end
        nx, ny = (by - ay) / segment.length, (ax - bx) / segment.length
        corners = (
            (ax, ay),
            (ax + nx * OUTSIDE_MM, ay + ny * OUTSIDE_MM),
            (bx + nx * OUTSIDE_MM, by + ny * OUTSIDE_MM),
            (bx, by),
        )
        return _face_name(nx, ny), tuple(Line(corners[k], corners[(k + 1) % 4]) for k in range(4))
    inward = math.copysign(1.0, segment.sweep)
    radius = segment.radius + inward * OUTSIDE_MM
    middle = segment.first + segment.sweep / 2
    name = _face_name(math.cos(middle) * inward, math.sin(middle) * inward)
    if radius <= 0:
        spokes = (Line(segment.end, segment.centre), Line(segment.centre, segment.start))
        return name, tuple(reverse_segment(s) for s in reversed((segment, *spokes)))
    far = Arc(segment.centre, radius, segment.first, segment.sweep)
    near = reverse_segment(segment)
    return name, (far, Line(far.end, near.start), near, Line(near.end, far.start))


def _face_name(nx: float, ny: float) -> str:
    for face in EDGES:
        ix, iy, _ = INTO[face]
        if nx * ix + ny * iy < -0.9:
            return f"outer {face}"
    return "outer corner"


def _middle(points: tuple[Vec, Vec]) -> Vec:
    (ax, ay, az), (bx, by, bz) = points
    return (ax + bx) / 2, (ay + by) / 2, (az + bz) / 2
