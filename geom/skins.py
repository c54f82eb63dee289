"""Whether a mesh is the closed skin of its solid."""

from __future__ import annotations

from collections.abc import Mapping

import cadquery as cq
import numpy as np
import trimesh

from geom.findings import Finding
from geom.frame import Vec


def find_euler(shape: cq.Shape) -> int:
    """Return the Euler number of a solid's skin, from the kernel's own vertices, edges, faces and wires.

    Parameters
    ----------
    shape : cadquery.Shape

    Returns
    -------
    int
        2 for each separate skin, less 2 for each hole through it.

    Source
    ------
    Common practice, no source: Euler and Poincare's formula with a disc less its holes for every face.
    """
    faces = shape.Faces()
    rims = sum(_count_rims(face) for face in faces)
    return len(shape.Vertices()) - len(shape.Edges()) + 2 * len(faces) - rims


def check_meshes(
    meshes: Mapping[str, trimesh.Trimesh], shapes: Mapping[str, cq.Shape]
) -> tuple[Finding, ...]:
    """Return ``mesh.open`` (fault) for every mesh that is not the closed, outward skin of its solid.

    Parameters
    ----------
    meshes : mapping of str to trimesh.Trimesh
        Name to mesh.
    shapes : mapping of str to cadquery.Shape
        The same names to the solids they come from.

    Returns
    -------
    tuple of Finding
    """
    findings = []
    for name, mesh in meshes.items():
        fault, at = _find_mesh_fault(mesh, find_euler(shapes[name]))
        if fault:
            where = "" if at is None else f", near ({at[0]:.2f}, {at[1]:.2f}, {at[2]:.2f}) mm"
            findings.append(
                Finding(
                    "mesh.open",
                    "fault",
                    f"The mesh of the {name} {fault}{where}.",
                    "Two cuts that only touch leave such a mesh: change the width of a channel or the bore there by "
                    "0.1 mm, or move it by one pitch; report a panel where it stays.",
                    "a printable or millable mesh is one closed skin; common practice, no source",
                    at_mm=at,
                    features=(name,),
                )
            )
    return tuple(findings)


def _count_rims(face: cq.Face) -> int:
    """Return the number of separate rims of a face; wires that share a vertex are one rim."""
    rims: list[set[int]] = []
    for wire in face.Wires():
        rim = {vertex.hashCode() for vertex in wire.Vertices()}
        rim = rim.union(*(other for other in rims if other & rim))
        rims = [*(other for other in rims if not other & rim), rim]
    return len(rims)


def _find_mesh_fault(mesh: trimesh.Trimesh, euler: int) -> tuple[str, Vec | None]:
    """Return what is wrong with a mesh, empty where nothing is, and where if that is known."""
    if not mesh.is_watertight:
        edges, triangles = np.unique(mesh.edges_sorted, axis=0, return_counts=True)
        gaps, lines = edges[triangles < 2], edges[triangles > 2]
        x, y, z = mesh.vertices[(gaps if len(gaps) else lines)[0]].mean(axis=0).tolist()
        if len(gaps):
            return "has gaps", (x, y, z)
        return f"touches itself along a line ({len(lines)} edges with over two triangles)", (x, y, z)
    if not mesh.is_winding_consistent:
        return "has triangles turned against their neighbours", None
    if mesh.volume <= 0:
        return "is inside out", None
    if mesh.euler_number != euler:
        return (
            f"has Euler number {mesh.euler_number}, its solid {euler}: a hole is closed or a skin is torn",
            None,
        )
    return "", None
