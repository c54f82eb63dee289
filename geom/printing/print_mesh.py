"""The mesh that is printed: bores wider, threads cut, shrinkage made up for.

Only meshes differ in this from the solids: STEP keeps the nominal sizes.
"""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import trimesh

from geom.errors import GeometryError
from geom.printing.mesh_fits import PrintFit, WideBore
from geom.printing.threads import BEYOND_MM, make_threads
from geom.rebuild import turn_bore
from geom.tessellate import to_manifold

SIMPLE_MM = 1e-4
"""Slivers thinner than this that cutting leaves are taken away: the format's single precision is no finer."""

DEEPER_MM = 0.01
"""How much deeper a wider bore is: two floors in one plane would leave slivers."""


def fit_mesh(mesh: trimesh.Trimesh, fit: PrintFit) -> trimesh.Trimesh:
    """Return a part's mesh as it is printed, in the panel's frame.

    Parameters
    ----------
    mesh : trimesh.Trimesh
        From `mesh_solid`, [mm].
    fit : PrintFit

    Returns
    -------
    trimesh.Trimesh
        One closed skin, [mm]; the mesh itself where there is nothing to do.

    Raises
    ------
    GeometryError
        Where the mesh is not closed, or would not be after cutting.
    """
    cutters = [widen_bore(wide, fit.offset) for wide in fit.bores if fit.offset > 0]
    cutters += make_threads(fit.threads)
    if not cutters and fit.shrink == 0:
        return mesh
    solid = to_manifold(mesh)
    if cutters:
        solid = manifold3d.Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract)
        solid = solid.simplify(SIMPLE_MM)
    return _as_mesh(solid.scale((fit.scale,) * 3), fit.part)


def widen_bore(wide: WideBore, offset: float) -> manifold3d.Manifold:
    """Return the solid that makes a bore wider.

    Parameters
    ----------
    wide : WideBore
    offset : float
        On the diameter, [mm].

    Returns
    -------
    manifold3d.Manifold
        As deep as the bore and `DEEPER_MM`, with its chamfer; it stands out of the part where the bore opens.
    """
    bore = wide.bore
    out = np.asarray(bore.mouth) - BEYOND_MM * np.asarray(bore.direction)
    past = BEYOND_MM if wide.through else DEEPER_MM
    return turn_bore(
        replace(
            bore,
            mouth=(float(out[0]), float(out[1]), float(out[2])),
            length=bore.length + BEYOND_MM + past,
            radius=bore.radius + offset / 2,
            # The lead goes on to where the cutter starts.
            chamfer=bore.chamfer + BEYOND_MM if bore.chamfer > 0 else 0.0,
        )
    )


def _as_mesh(solid: manifold3d.Manifold, part: str) -> trimesh.Trimesh:
    """Return a solid of the mesh kernel as a mesh, looked at before anyone writes it."""
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise GeometryError(
            f"the mesh of the {part} could not be made ready to print ({solid.status().name}): set "
            'bore_offset = "0 mm" and port_threads = "tapped" in [printing], and report this panel'
        )
    data = solid.to_mesh64()
    # Copies: the kernel's own arrays may not be written, which its constructor asks for.
    vertices = np.array(data.vert_properties)[:, :3].copy()
    faces = np.array(data.tri_verts, dtype=np.int64)
    mesh = trimesh.Trimesh(vertices, faces, process=False, validate=False)
    if not (mesh.is_watertight and mesh.is_winding_consistent):
        raise GeometryError(
            f"the mesh of the {part} is open once bores and threads are cut: set bore_offset = "
            '"0 mm" and port_threads = "tapped" in [printing], and report this panel'
        )
    return mesh
