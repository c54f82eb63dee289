"""Named features to solids: the parts after cutting, the wet solid, and proof that both agree.

The kernel can be silently wrong where surfaces only touch. So the coolant's solid is made by two cuts (blank
less the blank that is left without the wet features), never by a fuse; and the volumes of four separate cuts
must agree before anything is handed on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cadquery as cq
import numpy as np
import shapely

from geom.blanks import merge_beside
from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Insert, Prism, Shape, Track, Vault
from geom.frame import FUZZY_MM, SAME_MM
from geom.kernel import (
    cut_shape,
    drop_slits,
    explain_failure,
    extrude_face,
    find_box,
    find_volume,
    is_valid,
    make_compound,
    make_face,
    measure_distance,
    revolve_profile,
    subtract_faces,
    unite_faces,
)
from geom.outline import Region, path_length, region_polygon, track_loops
from geom.vault_solid import make_vault

IDENTITY = 1e-6
"""What was cut away and what it consists of may differ by this part of it."""

FACE_AREA = 1e-4
"""A face and the polygon of the same outline may differ by this part of its area: polygons are not exact."""


@dataclass(frozen=True, slots=True)
class SolidPart:
    """A part as made: a blank after cutting, or an insert."""

    name: str
    solid: cq.Shape


@dataclass(frozen=True, slots=True)
class Solids:
    """What was built.

    Parameters
    ----------
    parts : tuple of SolidPart
        Blanks after cutting, in the order of the detail, then the inserts.
    wet : cadquery.Compound
        The coolant: one solid for each separate wet space.
    tools : tuple of (Feature, cadquery.Shape)
        Every feature as a solid of its own, in the order of the detail; a compound where it has two pieces.
    volumes : dict of str to float
        By the kernel, [mm3]: "blank NAME" and "part NAME" for every blank, "insert NAME", "wet" and, for
        every blank, "wet NAME"; "dry" is what dry features took and coolant does not fill.
    """

    parts: tuple[SolidPart, ...]
    wet: cq.Compound
    tools: tuple[tuple[Feature, cq.Shape], ...]
    volumes: dict[str, float]

    def part(self, name: str) -> cq.Shape:
        """Return the solid of the part called `name`; KeyError where there is none."""
        for part in self.parts:
            if part.name == name:
                return part.solid
        raise KeyError(name)


def build_solids(detail: Detail, progress: Callable[[str], None] | None = None) -> Solids:
    """Return the solids of a panel.

    Parameters
    ----------
    detail : Detail
    progress : callable, optional
        Called with one short sentence before each step.

    Returns
    -------
    Solids

    Raises
    ------
    GeometryError
        Where a feature cuts nothing, a part falls to pieces, or the volumes do not agree.
    """
    tell = progress or (lambda text: None)
    _refuse_doubles(detail)
    tell(f"solids of {len(detail.features)} features")
    tools = tuple((feature, make_solid(feature.name, feature.shape)) for feature in detail.features)
    boxes = [find_box(tool) for _, tool in tools]
    blanks = [(blank, make_solid(blank.name, _blank_shape(blank))) for blank in detail.blanks]
    used: set[str] = set()
    parts: list[SolidPart] = []
    wet_pieces: list[cq.Shape] = []
    volumes: dict[str, float] = {}
    dry_total = 0.0
    for blank, sheet in blanks:
        tell(f"cutting the {blank.name}")
        reach = find_box(sheet)
        near = [tool for tool, box in zip(tools, boxes, strict=True) if _boxes_meet(reach, box)]
        used.update(feature.name for feature, _ in near)
        cut = _cut_blank(sheet, near)
        _require_one_solid(blank.name, sheet, cut.part, near)
        parts.append(SolidPart(blank.name, drop_slits(cut.part.Solids()[0])))
        wet_pieces.extend(cut.wet.Solids())
        volumes[f"blank {blank.name}"] = find_volume(sheet)
        volumes[f"part {blank.name}"] = find_volume(cut.part)
        volumes[f"wet {blank.name}"] = find_volume(cut.wet)
        dry_total += cut.dry_volume
        _require_identity(blank.name, volumes, cut.dry_volume)
    _require_used(detail, used)
    for insert in detail.inserts:
        tell(f"making the {insert.name}")
        solid = make_solid(insert.name, insert.shape)
        parts.append(SolidPart(insert.name, solid))
        volumes[f"insert {insert.name}"] = find_volume(solid)
    volumes["dry"] = dry_total
    wet = _join_wet(wet_pieces, blanks, [tool for tool in tools if tool[0].medium == "wet"], volumes, tell)
    volumes["wet"] = find_volume(wet)
    return Solids(tuple(parts), wet, tools, volumes)


def make_solid(name: str, shape: Shape) -> cq.Shape:
    """Return one feature's shape as a solid.

    Parameters
    ----------
    name : str
        For the message, should it fail.
    shape : Prism, Track, Cylinder or Vault

    Returns
    -------
    cadquery.Solid or cadquery.Compound
        A compound where the shape has two pieces or more.

    Raises
    ------
    GeometryError
        Where the shape has no size or the kernel's solid is not what the shape says.
    """
    with explain_failure(f"{name}: its shape cannot be made"):
        if isinstance(shape, Vault):
            return make_vault(name, shape)
        solid = _make_cylinder(name, shape) if isinstance(shape, Cylinder) else _make_prism(name, shape)
    # A turned profile is sound by construction, and the parts are checked whole after the cut.
    if not isinstance(shape, Cylinder) and find_volume(solid) <= 0:
        raise GeometryError(
            f"{name}: the kernel made no sound solid of it; change its size or place by 0.01 mm"
        )
    return solid


def unite_region(name: str, region: Region, z: float, islands: Region = ()) -> tuple[cq.Face, ...]:
    """Return the union of a region's loops, less its islands, as planar faces at `z`, checked against polygons.

    Parameters
    ----------
    name : str
        Of the feature, for the message.
    region : tuple of Loop
    z : float
        [mm].
    islands : tuple of Loop

    Returns
    -------
    tuple of cadquery.Face

    Raises
    ------
    GeometryError
        Where the faces' area is not that of the loops' union, less that of the islands.
    """
    faces = unite_faces([make_face(loop, z) for loop in region])
    if islands:
        faces = subtract_faces(faces, [make_face(loop, z) for loop in islands])
    area = math.fsum(face.Area() for face in faces)
    expected = shapely.area(region_polygon(region, islands=islands))
    if abs(area - expected) > FACE_AREA * expected:
        raise GeometryError(
            f"{name}: the kernel's face has {area:.3f} mm2, its outline {expected:.3f} mm2; "
            f"move one of its {len(region) + len(islands)} pieces by 0.01 mm"
        )
    return faces


def make_track(name: str, track: Track) -> tuple[cq.Face, ...]:
    """Return a groove's faces: of one width along its path.

    Parameters
    ----------
    name : str
        Of the feature, for the message.
    track : Track

    Returns
    -------
    tuple of cadquery.Face

    Raises
    ------
    GeometryError
        Where the path turns tighter than half of the width, or meets itself.
    """
    try:
        outer, inner = track_loops(track.path, track.closed, track.width)
    except GeometryError as error:
        raise GeometryError(f"{name}: {error}: raise the radius") from None
    faces: tuple[cq.Face, ...] = (make_face(outer, track.z0),)
    if inner is not None:
        faces = subtract_faces(faces, [make_face(inner, track.z0)])
    area = math.fsum(face.Area() for face in faces)
    # Guldin: a strip of one width has its middle's length times it, to whatever side it turns.
    expected = path_length(track.path) * track.width + (0.0 if track.closed else math.pi / 4 * track.width**2)
    # Where it meets itself the kernel counts what lies twice as two, as the path does.
    if abs(area - expected) > IDENTITY * expected or not all(is_valid(face) for face in faces):
        raise GeometryError(
            f"{name}: its face has {area:.3f} mm2, its path {expected:.3f} mm2: it meets itself; give it room"
        )
    return faces


@dataclass(frozen=True, slots=True)
class _Cut:
    part: cq.Shape
    wet: cq.Compound
    dry_volume: float


def _cut_blank(sheet: cq.Shape, near: Sequence[tuple[Feature, cq.Shape]]) -> _Cut:
    """Cut a blank, and on their own its wet and its dry features."""
    every = [piece for _, tool in near for piece in tool.Solids()]
    wet_tools = [piece for f, tool in near if f.medium == "wet" for piece in tool.Solids()]
    dry_tools = [piece for f, tool in near if f.medium == "dry" for piece in tool.Solids()]
    part = cut_shape(sheet, every)
    if not wet_tools:
        return _Cut(part, make_compound([]), find_volume(sheet) - find_volume(part))
    without_wet = part if not dry_tools else cut_shape(sheet, wet_tools)
    wet = make_compound(cut_shape(sheet, without_wet.Solids()).Solids())
    if not dry_tools:
        return _Cut(part, wet, 0.0)
    # By inclusion and exclusion: what dry features took, less what of it coolant fills.
    dry = find_volume(sheet) - find_volume(cut_shape(sheet, dry_tools))
    reaches = [find_box(tool) for tool in wet_tools]
    dry_boxes = [(tool, find_box(tool)) for tool in dry_tools]
    crossing = [tool for tool, box in dry_boxes if any(_boxes_meet(reach, box) for reach in reaches)]
    shared = find_volume(wet) - find_volume(cut_shape(wet, crossing)) if crossing else 0.0
    return _Cut(part, wet, dry - shared)


def _join_wet(
    pieces: Sequence[cq.Shape],
    blanks: Sequence[tuple[Blank, cq.Shape]],
    wet_tools: Sequence[tuple[Feature, cq.Shape]],
    volumes: dict[str, float],
    tell: Callable[[str], None],
) -> cq.Compound:
    """Return the coolant of all blanks; where it passes from blank to blank, as one solid across the joint."""
    wet_blanks = [(blank, sheet) for blank, sheet in blanks if volumes[f"wet {blank.name}"] > 0]
    slabs = merge_blanks(tuple(blank for blank, _ in wet_blanks))
    if len(slabs) == len(wet_blanks):
        return _check_wet(make_compound([drop_slits(piece) for piece in pieces]))
    tell("joining the coolant of the blanks")
    solids: list[cq.Shape] = []
    for slab in slabs:
        sheet = make_solid(slab.name, _blank_shape(slab))
        tools = [piece for _, tool in wet_tools for piece in tool.Solids()]
        solids.extend(cut_shape(sheet, cut_shape(sheet, tools).Solids()).Solids())
    wet = _check_wet(make_compound([drop_slits(solid) for solid in solids]))
    expected = math.fsum(volumes[f"wet {blank.name}"] for blank, _ in wet_blanks)
    if abs(find_volume(wet) - expected) > IDENTITY * expected:
        raise GeometryError(
            f"the coolant of all blanks together is {find_volume(wet):.3f} mm3, blank by blank "
            f"{expected:.3f} mm3: two wet features touch without crossing; move one by 0.01 mm"
        )
    return wet


def _check_wet(wet: cq.Compound) -> cq.Compound:
    for solid in wet.Solids():
        if not is_valid(solid):
            x, y, z = solid.Center().toTuple()
            raise GeometryError(
                f"the kernel made no sound solid of the coolant round ({x:.1f}, {y:.1f}, {z:.1f}) mm: two wet "
                f"features there touch without crossing; move one of them by 0.01 mm"
            )
    return wet


def merge_blanks(blanks: tuple[Blank, ...]) -> tuple[Blank, ...]:
    """Return the blanks with those of one outline that lie on one another made one, from the lowest up.

    Pieces of one sheet that meet at a straight cut are made one before.
    """
    merged: list[Blank] = []
    for blank in sorted(merge_beside(blanks), key=lambda b: b.z0):
        below = next(
            (m for m in merged if m.loop == blank.loop and abs(m.z1 - blank.z0) < SAME_MM),
            None,
        )
        if below is None:
            merged.append(blank)
        else:
            merged[merged.index(below)] = Blank(
                f"{below.name} and {blank.name}", below.loop, below.z0, blank.z1
            )
    return tuple(merged)


def _make_prism(name: str, shape: Prism | Track) -> cq.Shape:
    if shape.z1 - shape.z0 < SAME_MM:
        raise GeometryError(
            f"{name}: its top at z = {shape.z1:g} mm is not above its floor at z = {shape.z0:g} mm"
        )
    faces = (
        unite_region(name, shape.region, shape.z0, shape.islands)
        if isinstance(shape, Prism)
        else make_track(name, shape)
    )
    prisms = [extrude_face(face, shape.z1 - shape.z0) for face in faces]
    return prisms[0] if len(prisms) == 1 else make_compound(prisms)


def _make_cylinder(name: str, bore: Cylinder) -> cq.Solid:
    size = math.hypot(*bore.direction)
    if abs(size - 1) > 1e-9:
        raise GeometryError(f"{name}: its direction {bore.direction} has length {size:g}, not 1")
    if bore.core > 0:
        return _make_ring(name, bore)
    if min(bore.radius, bore.length) < SAME_MM or not 0 <= bore.chamfer < bore.length:
        raise GeometryError(
            f"{name}: a bore of radius {bore.radius:g} mm, length {bore.length:g} mm and chamfer "
            f"{bore.chamfer:g} mm cannot be made; the chamfer must be shorter than the bore"
        )
    profile = [(0.0, 0.0), (bore.radius + bore.chamfer, 0.0)]
    if bore.chamfer > 0:
        profile.append((bore.radius, bore.chamfer))
    profile += [(bore.radius, bore.length), (0.0, bore.length)]
    return revolve_profile(profile, bore.mouth, bore.direction)


def _make_ring(name: str, ring: Cylinder) -> cq.Solid:
    if ring.radius - ring.core < SAME_MM or ring.length < SAME_MM or ring.chamfer != 0:
        raise GeometryError(
            f"{name}: a ring of radius {ring.core:g} to {ring.radius:g} mm, length {ring.length:g} mm and chamfer "
            f"{ring.chamfer:g} mm cannot be made; it must be wider outside than inside, without a chamfer"
        )
    inner, outer, length = ring.core, ring.radius, ring.length
    profile = [(inner, 0.0), (outer, 0.0), (outer, length), (inner, length)]
    return revolve_profile(profile, ring.mouth, ring.direction)


def _blank_shape(blank: Blank) -> Prism:
    return Prism((blank.loop,), blank.z0, blank.z1)


def _boxes_meet(a: np.ndarray, b: np.ndarray) -> bool:
    return bool(np.all(np.minimum(a[1], b[1]) - np.maximum(a[0], b[0]) > 2 * FUZZY_MM))


def _refuse_doubles(detail: Detail) -> None:
    named: list[Blank | Feature | Insert] = [*detail.blanks, *detail.features, *detail.inserts]
    names = [item.name for item in named]
    doubles = sorted({name for name in names if names.count(name) > 1})
    if doubles:
        raise GeometryError(f"{doubles[0]}: two of the panel's features have this name; names must differ")


def _require_used(detail: Detail, used: set[str]) -> None:
    idle = [feature.name for feature in detail.features if feature.name not in used]
    if idle:
        raise GeometryError(f"{idle[0]}: it lies outside the panel and cuts nothing; move it into the panel")


def _require_one_solid(
    name: str, sheet: cq.Shape, part: cq.Shape, near: Sequence[tuple[Feature, cq.Shape]]
) -> None:
    solids = part.Solids()
    if not solids:
        raise GeometryError(f"{name}: its features cut all of it away")
    if len(solids) == 1:
        if not is_valid(solids[0]):
            raise GeometryError(f"{name}: the kernel made no sound solid; move a feature by 0.01 mm")
        return
    smallest = min(solids, key=find_volume)
    touching = [
        (feature, tool) for feature, tool in near if measure_distance(tool, smallest)[0] <= 10 * FUZZY_MM
    ]
    guilty = []
    for feature, _ in touching:
        others = [piece for f, tool in near if f is not feature for piece in tool.Solids()]
        if len(cut_shape(sheet, others).Solids()) < len(solids):
            guilty.append(feature.name)
    blamed = guilty or [feature.name for feature, _ in touching]
    x, y, z = smallest.Center().toTuple()
    raise GeometryError(
        f"{name}: falls into {len(solids)} pieces, the smallest of {find_volume(smallest):.3f} mm3 at "
        f"({x:.2f}, {y:.2f}, {z:.2f}) mm, cut off by {', '.join(blamed) or 'its features'}; "
        f"move or shorten {'it' if len(blamed) == 1 else 'one of them'}"
    )


def _require_identity(name: str, volumes: dict[str, float], dry_volume: float) -> None:
    gone = volumes[f"blank {name}"] - volumes[f"part {name}"]
    made = volumes[f"wet {name}"] + dry_volume
    if abs(gone - made) > IDENTITY * max(gone, 1.0):
        raise GeometryError(
            f"{name}: {gone:.4f} mm3 were cut away, its features hold {made:.4f} mm3: the kernel erred where "
            f"two features touch without crossing; move one of them by 0.01 mm"
        )
