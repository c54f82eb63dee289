"""Volumes three ways (plan, solid, mesh), and an independent rebuild.

The plan's volume needs no kernel: over the height, the area of the union of all wet sections is integrated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import manifold3d
import numpy as np
import shapely
import trimesh

from geom.build import Solids
from geom.errors import GeometryError
from geom.features import Cylinder, Detail, Feature, Prism, Track, Vault
from geom.findings import Finding
from geom.frame import FUZZY_MM, SAME_MM
from geom.kernel import find_volume
from geom.outline import loop_polygon, outline_circle, region_polygon, track_polygon
from geom.rebuild import Models, rebuild_features
from geom.tessellate import MESH_REL
from geom.vault import section_at, spring_z

PLAN_SAG_MM = 1e-4
"""Sagitta of the plan's polygons. Arcs keep their area; where two lie on one another the plan is 2e-7 over."""

PLAN_REL = 1e-6
"""Plan and solid may differ by this part where all wet features are prisms or upright bores."""

BORES_REL = 1e-5
"""The same where bores lie flat or have lead chamfers: their sections are integrated, not multiplied."""

REBUILT_REL = 1e-4
"""A body rebuilt from meshed features and the kernel's body may differ by this part."""

ROOF_SAG_MM = 1e-3
"""The same of roofs over printed channels, which are outlined anew at each height."""

STEP_REL = 1e-7
"""The integral over height stops when halving a step changes the whole by less than this part."""

CHAMFER_POINTS = 160
"""Points along one side of a lead chamfer's section: with 48 the plan was off by 2.5e-6 of a small bore."""


@dataclass(frozen=True, slots=True)
class PartVolume:
    """One part's volume by the kernel, by its mesh and (None for an insert) rebuilt, [mm3]."""

    name: str
    solid: float
    mesh: float
    rebuilt: float | None


@dataclass(frozen=True, slots=True)
class Volumes:
    """The coolant's volume three ways, [mm3], whether its plan is of prisms alone, and the parts'."""

    wet_plan: float
    wet_solid: float
    wet_mesh: float
    prismatic: bool
    parts: tuple[PartVolume, ...]

    @property
    def by_part(self) -> dict[str, float]:
        """Volume of each part's solid, [mm3]."""
        return {part.name: part.solid for part in self.parts}


def plan_volume(detail: Detail, sag: float = PLAN_SAG_MM) -> float:
    """Return the wet volume from plan geometry alone.

    Parameters
    ----------
    detail : Detail
    sag : float
        Greatest sagitta of the polygons that stand for arcs, [mm].

    Returns
    -------
    float
        [mm3]; overlaps counted once, what lies outside the blanks not at all.

    Raises
    ------
    GeometryError
        Where a wet feature has no simple level section: a bore neither upright nor level, a rounded ring.
    """
    sections = [s for f in detail.features if f.medium == "wet" for s in _make_sections(f, sag)]
    blanks = [(loop_polygon(blank.loop, sag), blank.z0, blank.z1) for blank in detail.blanks]
    levels = sorted({z for s in sections for z in s.levels} | {z for _, a, b in blanks for z in (a, b)})
    total = 0.0
    for low, high in pairwise(levels):
        middle = (low + high) / 2
        active = [s for s in sections if s.levels[0] < middle < s.levels[-1]]
        sheet = shapely.union_all([polygon for polygon, a, b in blanks if a < middle < b])
        if high - low < SAME_MM or not active or sheet.is_empty:
            continue
        fixed = shapely.union_all([s.fixed for s in active if s.fixed is not None])
        fixed = shapely.intersection(fixed, sheet)
        total += (high - low) * shapely.area(fixed)
        moving = [s.at for s in active if s.fixed is None]
        if moving:
            total += _integrate_beyond(fixed, sheet, moving, low, high)
    return float(total)


def rebuild_volumes(detail: Detail, solids: Solids, models: Models | None = None) -> dict[str, float]:
    """Return each blank's volume after cutting, rebuilt without the kernel's booleans.

    Every feature is a mesh on its own and is taken from the blank's mesh by the mesh kernel.

    Parameters
    ----------
    detail : Detail
    solids : Solids
        Its `tools` are used, not its parts.
    models : mapping or None
        From `rebuild_features`; made here where None.

    Returns
    -------
    dict of str to float
        Blank name to volume, [mm3].
    """
    models = rebuild_features(solids) if models is None else models
    rebuilt = {}
    for blank in detail.blanks:
        sheet = manifold3d.CrossSection([np.asarray(loop_polygon(blank.loop).exterior.coords)[:-1]])
        body = sheet.extrude(blank.z1 - blank.z0).translate((0.0, 0.0, blank.z0))
        low, high = np.array(body.bounding_box()).reshape(2, 3)
        near = []
        for piece in (piece for pieces in models.values() for piece in pieces):
            box = np.array(piece.bounding_box()).reshape(2, 3)
            if np.all(np.minimum(box[1], high) - np.maximum(box[0], low) > 2 * FUZZY_MM):
                near.append(piece)
        cut = manifold3d.Manifold.batch_boolean([body, *near], manifold3d.OpType.Subtract)
        if cut.status() != manifold3d.Error.NoError:
            raise GeometryError(f"{blank.name}: the mesh kernel could not rebuild it ({cut.status().name})")
        rebuilt[blank.name] = float(cut.volume())
    return rebuilt


def measure_volumes(
    detail: Detail,
    solids: Solids,
    meshes: Mapping[str, trimesh.Trimesh],
    wet_mesh: trimesh.Trimesh | None,
    models: Models | None = None,
) -> Volumes:
    """Return all volumes, each by every way there is.

    Parameters
    ----------
    detail : Detail
    solids : Solids
    meshes : mapping of str to trimesh.Trimesh
        Part name to mesh.
    wet_mesh : trimesh.Trimesh or None
        The coolant's mesh; None where nothing is wet.
    models : mapping or None
        From `rebuild_features`; made here where None.

    Returns
    -------
    Volumes
    """
    rebuilt = rebuild_volumes(detail, solids, models)
    parts = []
    for part in solids.parts:
        kind = "part" if part.name in rebuilt else "insert"
        parts.append(
            PartVolume(
                part.name,
                solids.volumes[f"{kind} {part.name}"],
                float(meshes[part.name].volume),
                rebuilt.get(part.name),
            )
        )
    return Volumes(
        plan_volume(detail),
        solids.volumes["wet"],
        float(wet_mesh.volume) if wet_mesh is not None else 0.0,
        all(_is_prismatic(f) for f in detail.features if f.medium == "wet"),
        tuple(parts),
    )


def check_volumes(volumes: Volumes) -> tuple[Finding, ...]:
    """Return ``volume.differs`` (fault) for every pair of volumes that should agree and does not.

    Parameters
    ----------
    volumes : Volumes

    Returns
    -------
    tuple of Finding
    """
    plan_rel = PLAN_REL if volumes.prismatic else BORES_REL
    findings = [
        _compare("coolant", "plan", volumes.wet_plan, volumes.wet_solid, plan_rel),
        _compare("coolant", "mesh", volumes.wet_mesh, volumes.wet_solid, MESH_REL),
    ]
    for part in volumes.parts:
        findings.append(_compare(part.name, "mesh", part.mesh, part.solid, MESH_REL))
        if part.rebuilt is not None:
            findings.append(_compare(part.name, "rebuild", part.rebuilt, part.solid, REBUILT_REL))
    return tuple(finding for finding in findings if finding is not None)


def check_pieces(solids: Solids, expected: int) -> tuple[Finding, ...]:
    """Return ``volume.split`` (fault) where the coolant does not fall into as many spaces as it should.

    Parameters
    ----------
    solids : Solids
    expected : int
        Wet regions of the plan: one for each group of channels and tank that touch.

    Returns
    -------
    tuple of Finding
    """
    pieces = solids.wet.Solids()
    if len(pieces) == expected:
        return ()
    smallest = min(pieces, key=find_volume, default=None)
    return (
        Finding(
            "volume.split",
            "fault",
            f"The coolant falls into {len(pieces)} separate spaces, the plan has {expected}: a port misses its "
            "channel or the tank, or two channels run together.",
            "Move the port or channel at this place until it opens into what it belongs to, or keeps off it.",
            "the plan's own wet regions",
            float(len(pieces)),
            float(expected),
            "",
            None if smallest is None else smallest.Center().toTuple(),
        ),
    )


@dataclass(frozen=True, slots=True)
class _Section:
    """A wet feature's level section: `fixed` over all its height, or else by `at(z)`; break levels, [mm]."""

    levels: tuple[float, ...]
    fixed: shapely.Geometry | None
    at: Callable[[float], shapely.Geometry]


def _make_sections(feature: Feature, sag: float) -> tuple[_Section, ...]:
    shape = feature.shape
    if isinstance(shape, Prism):
        plan = region_polygon(shape.region, sag, shape.islands)
        return (_Section((shape.z0, shape.z1), plan, lambda z: plan),)
    if isinstance(shape, Track):
        slot = track_polygon(shape.path, shape.closed, shape.width, sag)
        return (_Section((shape.z0, shape.z1), slot, lambda z: slot),)
    if isinstance(shape, Vault):
        return _make_vaulted(shape, sag)
    if shape.core > 0:
        raise GeometryError(f"{feature.name}: a ring is cut for a cord and holds no coolant; make it dry")
    rise = shape.direction[2]
    if abs(rise) > 1 - 1e-12:
        return _make_upright(shape, sag)
    if abs(rise) < 1e-12:
        return (_make_level(shape),)
    raise GeometryError(
        f"{feature.name}: a bore along {shape.direction} is neither upright nor level; plan volumes need one"
    )


def _make_vaulted(vault: Vault, sag: float) -> tuple[_Section, ...]:
    spring = spring_z(vault)
    under = section_at(vault, spring, sag)
    upright = (vault.z0, spring) if vault.up else (spring, vault.z1)
    roof = (spring, vault.z1) if vault.up else (vault.z0, spring)
    return (
        _Section(upright, under, lambda z: under),
        _Section(roof, None, lambda z: section_at(vault, z, ROOF_SAG_MM)),
    )


def _make_upright(bore: Cylinder, sag: float) -> tuple[_Section, ...]:
    x, y, mouth = bore.mouth
    neck, end = (mouth + bore.direction[2] * reach for reach in (bore.chamfer, bore.length))
    circle = shapely.get_coordinates(loop_polygon(outline_circle((0.0, 0.0), bore.radius), sag))

    def at(z: float) -> shapely.Geometry:
        radius = bore.radius + max(0.0, bore.chamfer - abs(z - mouth))
        return shapely.Polygon(circle * (radius / bore.radius) + (x, y))

    shank = _Section((min(neck, end), max(neck, end)), at(end), at)
    if bore.chamfer == 0:
        return (shank,)
    return (_Section((min(mouth, neck), max(mouth, neck)), None, at), shank)


def _make_level(bore: Cylinder) -> _Section:
    x, y, axis = bore.mouth
    ux, uy, _ = bore.direction
    wide = bore.radius + bore.chamfer

    def at(z: float) -> shapely.Geometry:
        rise = abs(z - axis)
        if rise >= wide:
            return shapely.Polygon()
        half = math.sqrt(max(0.0, bore.radius**2 - rise**2))
        along, across = np.array([]), np.array([])
        if bore.chamfer > 0:
            # Along the cone's section the distance from the mouth is smooth in the distance from the axis.
            across = np.linspace(math.sqrt(wide**2 - rise**2), half, CHAMFER_POINTS)
            along = wide - np.hypot(across, rise)
        if half > 0:
            start = 0.0 if bore.chamfer == 0 else bore.chamfer
            along = np.concatenate((along, (start, bore.length)))
            across = np.concatenate((across, (half, half)))
        t = np.concatenate((along, along[::-1]))
        s = np.concatenate((across, -across[::-1]))
        return shapely.Polygon(np.column_stack((x + ux * t - uy * s, y + uy * t + ux * s)))

    inner = (axis - bore.radius, axis, axis + bore.radius)
    levels = sorted({*inner, axis - wide, axis + wide})
    return _Section(tuple(levels), None, at)


def _integrate_beyond(
    fixed: shapely.Geometry,
    sheet: shapely.Geometry,
    moving: list[Callable[[float], shapely.Geometry]],
    low: float,
    high: float,
) -> float:
    """Return the volume of sections that change with height, less what `fixed` holds already, [mm3].

    With z = middle + half * sin(angle) a round section's steep ends are smooth in the angle.
    """
    middle, half = (low + high) / 2, (high - low) / 2
    widest = shapely.union_all([at(z) for at in moving for z in (low, middle, high)])
    window = shapely.box(*widest.buffer(1.0).bounds)
    near = shapely.intersection(fixed, window)
    plate = shapely.intersection(sheet, window)

    def area_at(angle: float) -> float:
        z = middle + half * math.sin(angle)
        section = shapely.intersection(shapely.union_all([at(z) for at in moving]), plate)
        return float(shapely.area(shapely.difference(section, near))) * half * math.cos(angle)

    scale = max(shapely.area(widest) * (high - low), 1.0)
    nodes, weights = np.polynomial.legendre.leggauss(6)

    def gauss(a: float, b: float) -> float:
        return (
            (b - a)
            / 2
            * math.fsum(
                w * area_at((a + b) / 2 + (b - a) / 2 * x) for x, w in zip(nodes, weights, strict=True)
            )
        )

    def refine(a: float, b: float, whole: float, depth: int) -> float:
        m = (a + b) / 2
        left, right = gauss(a, m), gauss(m, b)
        if abs(left + right - whole) < STEP_REL * scale or depth == 0:
            return left + right
        return refine(a, m, left, depth - 1) + refine(m, b, right, depth - 1)

    return refine(-math.pi / 2, math.pi / 2, gauss(-math.pi / 2, math.pi / 2), 10)


def _is_prismatic(feature: Feature) -> bool:
    shape = feature.shape
    if isinstance(shape, Vault):
        return False
    return not isinstance(shape, Cylinder) or (abs(shape.direction[2]) > 1 - 1e-12 and shape.chamfer == 0)


def _compare(name: str, way: str, other: float, solid: float, allowed: float) -> Finding | None:
    whole = max(solid, 1.0)
    difference = abs(other - solid) / whole
    if difference <= allowed:
        return None
    apart, most = _show_apart(difference * whole, allowed * whole)
    return Finding(
        "volume.differs",
        "fault",
        f"The {name} holds {solid:.2f} mm3 as a solid and {other:.2f} mm3 by {way}: "
        f"{apart} mm3 apart, {most} mm3 allowed.",
        "Two cuts touch along a line, which the kernel gets wrong: change a size of the panel file by 0.1 mm, such as "
        "the width or depth of the channels or a bore of the pump, until this is gone; report a panel where it stays.",
        "accuracy of both ways, measured",
        difference,
        allowed,
        "",
        None,
        (name,),
    )


def _show_apart(apart: float, allowed: float) -> tuple[str, str]:
    """Return two unlike volumes with as many digits as tell them apart, [mm3]."""
    for digits in range(2, 9):
        shown = f"{apart:.{digits}f}", f"{allowed:.{digits}f}"
        if shown[0] != shown[1] and float(shown[1]) > 0:
            break
    return shown
