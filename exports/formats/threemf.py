"""A mesh as 3MF: one object, merged vertices, in mm, the same bytes every time."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

import numpy as np

from geom.errors import GeometryError

if TYPE_CHECKING:
    import trimesh

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_MODEL_TYPE = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Default Extension="model" ContentType="{_MODEL_TYPE}"/>'
    "</Types>\n"
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
    "</Relationships>\n"
)


def write_threemf(path: Path, name: str, title: str, mesh: trimesh.Trimesh) -> None:
    """Write a closed mesh as one 3MF object on the build plate.

    Parameters
    ----------
    path : Path
    name : str
        Object name.
    title : str
        The panel's name, kept as the file's title.
    mesh : trimesh.Trimesh
        [mm], vertices merged, outward winding.

    Raises
    ------
    GeometryError
        Where the mesh is not closed: the format demands it.

    Source
    ------
    3MF Consortium, 3MF Core Specification 1.3, sections 2 and 4.
    """
    if not mesh.is_watertight:
        raise GeometryError(f'the mesh of "{name}" is open and cannot be a 3MF object')
    # 3MF puts parts in the positive octant.
    vertices = np.asarray(mesh.vertices) - np.asarray(mesh.vertices).min(axis=0)
    rows = [f'<vertex x="{_short(x)}" y="{_short(y)}" z="{_short(z)}"/>' for x, y, z in vertices.tolist()]
    faces = [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in np.asarray(mesh.faces).tolist()]
    model = "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}">',
            f"<metadata name={quoteattr('Title')}>{_text(title)}</metadata>",
            '<metadata name="Application">rillplate</metadata>',
            "<resources>",
            f'<object id="1" type="model" name={quoteattr(name)}>',
            "<mesh>",
            "<vertices>",
            *rows,
            "</vertices>",
            "<triangles>",
            *faces,
            "</triangles>",
            "</mesh>",
            "</object>",
            "</resources>",
            '<build><item objectid="1"/></build>',
            "</model>",
            "",
        )
    )
    with zipfile.ZipFile(path, "w") as package:
        for inside, text in (
            ("[Content_Types].xml", _TYPES),
            ("_rels/.rels", _RELATIONS),
            ("3D/3dmodel.model", model),
        ):
            # The zip format's first day, and a fixed system: no clock, no platform in the bytes.
            entry = zipfile.ZipInfo(inside, date_time=(1980, 1, 1, 0, 0, 0))
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text.encode("utf-8"), compresslevel=6)


def _short(value: float) -> str:
    """Return a coordinate to 1e-6 mm: well below the merge distance, so no two vertices fall together."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _text(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
