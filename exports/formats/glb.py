"""All parts as one binary glTF for viewers: named nodes, colours, metres."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from exports.pictures.colours import Colour, linear_colour

if TYPE_CHECKING:
    import trimesh

METRES_PER_MM = 0.001


def write_glb(path: Path, parts: tuple[tuple[str, trimesh.Trimesh, Colour], ...]) -> None:
    """Write meshes as one GLB scene.

    glTF's axes are the panel frame's: x right, y up, z to the viewer; its unit is the metre.

    Parameters
    ----------
    path : Path
    parts : tuple of (name, mesh in mm, colour)
        Each becomes a node with that name.

    Source
    ------
    Khronos Group, glTF 2.0 Specification, sections 3.4 (coordinate system and units), 3.9.2 (linear colours).
    """
    import trimesh
    from trimesh.visual.material import PBRMaterial

    scene = trimesh.Scene(base_frame="panel")
    for name, mesh, colour in parts:
        shown = trimesh.Trimesh(mesh.vertices * METRES_PER_MM, mesh.faces, process=False)
        shown.visual = trimesh.visual.TextureVisuals(
            material=PBRMaterial(
                name=name,
                baseColorFactor=[round(255 * c) for c in linear_colour(colour)],
                alphaMode="OPAQUE" if colour[3] >= 1.0 else "BLEND",
                metallicFactor=0.0,
                roughnessFactor=0.6,
                doubleSided=colour[3] < 1.0,
            )
        )
        scene.add_geometry(shown, node_name=name, geom_name=name)
    path.write_bytes(scene.export(file_type="glb"))
