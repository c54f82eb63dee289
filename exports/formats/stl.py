"""A mesh as binary STL, in mm."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import trimesh

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def write_stl(path: Path, name: str, mesh: trimesh.Trimesh) -> None:
    """Write a closed mesh as binary STL.

    Parameters
    ----------
    path : Path
    name : str
        Part name; goes into the 80-byte header with the unit, which the format itself does not carry.
    mesh : trimesh.Trimesh
        [mm].

    Source
    ------
    Layout of the records: common practice (80 bytes, count, 50 bytes a triangle, little-endian).
    """
    corners = np.asarray(mesh.vertices)[np.asarray(mesh.faces)]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    records = np.zeros(len(corners), dtype=_RECORD)
    records["normal"] = normals / np.where(lengths > 0.0, lengths, 1.0)
    records["corners"] = corners
    # A header that starts with "solid" would be taken for the text form.
    header = f"rillplate {name} unit=mm".encode("ascii", "replace")[:80].ljust(80, b" ")
    with path.open("wb") as file:
        file.write(header)
        file.write(np.uint32(len(records)).tobytes())
        file.write(records.tobytes())
