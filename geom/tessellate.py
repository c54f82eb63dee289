"""Solids to meshes that are one skin, and those to the mesh kernel that computes with them.

The geometry kernel meshes face by face and leaves each face's rim to itself. Vertices that lie within
`MERGE_MM` are made one here; without that a mesh is loose leaves, and the mesh kernel returns an empty solid
without a word.
"""

from __future__ import annotations

import struct
from io import BytesIO

import cadquery as cq
import manifold3d
import numpy as np
import trimesh
from OCP.BinTools import BinTools
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Pnt
from OCP.IMeshTools import IMeshTools_Parameters
from OCP.Poly import Poly_Triangulation
from OCP.TopAbs import TopAbs_REVERSED
from OCP.TopLoc import TopLoc_Location
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from geom.errors import GeometryError
from geom.frame import MERGE_MM
from geom.kernel import explain_failure, make_compound

LINEAR_MM = 0.02
"""Greatest distance of a mesh from its solid."""

THIN_LINEAR_MM = 0.005
"""The same for inserts: a cord round a single bore, a ring some 2 mm wide, was 1.1e-3 of its volume off at 0.02."""

ANGULAR_RAD = 0.2
"""Greatest turn from one triangle to the next on a curved face; it decides the size of the mesh."""

MESH_REL = 1e-3
"""A mesh and its solid may differ by this part of the volume: chords lie inside the arcs that they stand for."""

FINER = 3
"""A mesh that is further off its solid is made anew so often at most. Each time it loses a quarter of what it lost: a
round bore, of which most is lost, 6.7e-3 of its volume at first and 4.2e-4 after the second."""

RECORD = struct.Struct("<ii??d")
"""Head of one face's record in the kernel's binary stream."""


def mesh_solid(shape: cq.Shape, linear: float = LINEAR_MM, angular: float = ANGULAR_RAD) -> trimesh.Trimesh:
    """Return the mesh of a solid's skin, vertices merged, triangles turned outward.

    The same solid gives the same bytes.

    Parameters
    ----------
    shape : cadquery.Shape
        Solid, or compound of solids that do not touch.
    linear : float
        Greatest distance from the solid, [mm].
    angular : float
        Greatest turn between neighbouring triangles, [rad].

    Returns
    -------
    trimesh.Trimesh
        ``metadata["face_id"]``: (n,) int, the index of each triangle's face in ``shape.Faces()``.

    Raises
    ------
    GeometryError
        Where a face could not be meshed.
    """
    vertices, triangles, face_ids = _read_triangles(shape, linear, angular)
    merged, kept = _merge_vertices(vertices)
    triangles = merged[triangles]
    whole = (
        (triangles[:, 0] != triangles[:, 1])
        & (triangles[:, 1] != triangles[:, 2])
        & (triangles[:, 2] != triangles[:, 0])
    )
    return trimesh.Trimesh(
        vertices[kept],
        triangles[whole],
        process=False,
        validate=False,
        metadata={"face_id": face_ids[whole]},
    )


def mesh_closely(shape: cq.Shape, volume: float, linear: float = LINEAR_MM) -> trimesh.Trimesh:
    """Return the mesh of a solid's skin as `mesh_solid`, finer where it would hold too little or too much.

    Narrow channels between many bores are little else than arcs.

    Parameters
    ----------
    shape : cadquery.Shape
    volume : float
        The solid's, [mm3].
    linear : float
        Greatest distance from the solid to begin with, [mm].

    Returns
    -------
    trimesh.Trimesh
        Within `MESH_REL` of the volume, unless more than chords is amiss.
    """
    angular = ANGULAR_RAD
    mesh = mesh_solid(shape, linear, angular)
    for _ in range(FINER):
        if abs(mesh.volume - volume) <= MESH_REL * volume:
            break
        linear, angular = linear / 4, angular / 2
        mesh = mesh_solid(shape, linear, angular)
    return mesh


def to_manifold(mesh: trimesh.Trimesh) -> manifold3d.Manifold:
    """Return a mesh as a solid of the mesh kernel.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        Closed, turned outward.

    Returns
    -------
    manifold3d.Manifold

    Raises
    ------
    GeometryError
        Where the mesh is not a closed skin round a volume.
    """
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(
            np.asarray(mesh.vertices, dtype=np.float64), np.asarray(mesh.faces, dtype=np.uint64)
        )
    )
    if solid.status() != manifold3d.Error.NoError:
        raise GeometryError(
            f"a mesh of {len(mesh.faces)} triangles is no closed skin ({solid.status().name}): its solid has "
            f"a gap or two places that only touch"
        )
    if solid.is_empty() or solid.volume() <= 0:
        raise GeometryError(
            f"a mesh of {len(mesh.faces)} triangles encloses {solid.volume():.3g} mm3: its solid is inside out"
        )
    return solid


def _read_triangles(
    shape: cq.Shape, linear: float, angular: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return (n, 3) vertices [mm], (m, 3) triangles and (m,) face numbers, each face with its own rim."""
    # The mesher reuses what an earlier call left on the shape, however coarse.
    BRepTools.Clean_s(shape.wrapped)
    faces = shape.Faces()
    if not faces:
        raise GeometryError("there is no solid to mesh: it has no faces")
    with explain_failure("the kernel could not mesh a solid"):
        # Only curved faces need vertices inside; looking for them in plane ones takes half of the time. What
        # the first call leaves on a face or an edge the second one keeps.
        curved = make_compound(face for face in faces if face.geomType() != "PLANE")
        for stage, inside in ((curved, True), (shape, False)):
            BRepMesh_IncrementalMesh(stage.wrapped, _mesher_settings(linear, angular, inside))
    meshes = [_face_mesh(face) for face in faces]
    arrays = _read_stream(shape, meshes) or [_read_mesh(mesh) for mesh, _ in meshes]
    vertices: list[np.ndarray] = []
    triangles: list[np.ndarray] = []
    offset = 0
    for (nodes, corners), (_, location), face in zip(arrays, meshes, faces, strict=True):
        if not location.IsIdentity():
            turn = location.Transformation()
            nodes = np.array([gp_Pnt(*node).Transformed(turn).Coord() for node in nodes])
        if face.wrapped.Orientation() == TopAbs_REVERSED:
            corners = corners[:, ::-1]
        vertices.append(nodes)
        triangles.append(corners + offset)
        offset += len(nodes)
    numbers = np.repeat(np.arange(len(faces)), [len(corners) for corners in triangles])
    return np.vstack(vertices), np.vstack(triangles), numbers


def _mesher_settings(linear: float, angular: float, inside: bool) -> IMeshTools_Parameters:
    settings = IMeshTools_Parameters()
    settings.Deflection, settings.Angle = linear, angular
    settings.InternalVerticesMode = inside
    # Each face is meshed by itself: the order in which that is done changes nothing.
    settings.InParallel = True
    return settings


def _face_mesh(face: cq.Face) -> tuple[Poly_Triangulation, TopLoc_Location]:
    location = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face.wrapped, location)
    if mesh is None:
        centre = face.Center().toTuple()
        raise GeometryError(
            f"the kernel could not mesh the face at ({centre[0]:.2f}, {centre[1]:.2f}, {centre[2]:.2f}) "
            f"mm: move the feature there by 0.01 mm"
        )
    return mesh, location


def _read_mesh(mesh: Poly_Triangulation) -> tuple[np.ndarray, np.ndarray]:
    """Return a face's nodes (n, 3), [mm], and triangles (m, 3), one call a node."""
    nodes = np.array([mesh.Node(k).Coord() for k in range(1, mesh.NbNodes() + 1)])
    corners = np.array([mesh.Triangle(k).Get() for k in range(1, mesh.NbTriangles() + 1)]) - 1
    return nodes, corners


def _read_stream(
    shape: cq.Shape, meshes: list[tuple[Poly_Triangulation, TopLoc_Location]]
) -> list[tuple[np.ndarray, np.ndarray]] | None:
    """Return every face's nodes and triangles from the kernel's binary stream, None where it is not as known.

    One call a node takes 1.4 s on a panel's body; the stream takes 0.03 s. Its section of triangulations
    lists, for each face in order: numbers of nodes and triangles (int32), two flags, the deflection (float64),
    nodes (3 float64 each), parameters on the surface where the first flag says so (2 float64 each), triangles
    (3 int32 each, from 1).
    """
    stream = BytesIO()
    BinTools.Write_s(shape.wrapped, stream)
    data = stream.getvalue()
    head = b"Triangulations %d\n" % len(meshes)
    at = data.rfind(head)
    if at < 0 or data[at - 2 : at] == b"On":
        return None
    at += len(head)
    out = []
    for mesh, _ in meshes:
        if at + RECORD.size > len(data):
            return None
        node_count, triangle_count, on_surface, normals, _ = RECORD.unpack_from(data, at)
        if (node_count, triangle_count) != (mesh.NbNodes(), mesh.NbTriangles()) or normals:
            return None
        at += RECORD.size
        nodes = np.frombuffer(data, "<f8", 3 * node_count, at).reshape(-1, 3)
        at += 8 * node_count * (5 if on_surface else 3)
        corners = np.frombuffer(data, "<i4", 3 * triangle_count, at).reshape(-1, 3) - 1
        at += 12 * triangle_count
        if tuple(nodes[-1]) != mesh.Node(node_count).Coord():
            return None
        out.append((nodes, corners.astype(np.int64)))
    return out


def _merge_vertices(vertices: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return each vertex's new number, (n,) int, and the old number of each new vertex, (k,) int.

    Neighbours are found by distance, not by rounding: two vertices a hair apart may round to two cells.
    """
    count = len(vertices)
    pairs = KDTree(vertices).query_pairs(MERGE_MM, output_type="ndarray")
    links = coo_array((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    _, groups = connected_components(links, directed=False)
    _, kept, merged = np.unique(groups, return_index=True, return_inverse=True)
    # Groups are renumbered by their first vertex, so that the order does not hang on the search tree.
    order = np.argsort(kept, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return rank[merged.reshape(-1)], kept[order]
