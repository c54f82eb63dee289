"""STL, 3MF and GLB, each read back by a reader of its own."""

from __future__ import annotations

import json
import struct
import zipfile
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import trimesh
from printed import assert_as_printed

from exports.check_solids import Checked
from exports.formats.glb import write_glb
from exports.formats.stl import write_stl
from exports.formats.threemf import write_threemf
from exports.pictures.colours import linear_colour, part_colour
from geom.errors import GeometryError

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"


def glb_chunks(data: bytes) -> dict[bytes, bytes]:
    chunks, at = {}, 12
    while at < len(data):
        length, kind = struct.unpack("<I4s", data[at : at + 8])
        chunks[kind] = data[at + 8 : at + 8 + length]
        at += 8 + length
    return chunks


@pytest.mark.published(
    source="common practice, no source: binary STL is 80 bytes, a count, 50 bytes a triangle"
)
def test_stl_has_the_layout_of_binary_stl(checked: Checked, tmp_path: Path):
    mesh = checked.meshes["body"]
    write_stl(tmp_path / "body.stl", "body", mesh)
    data = (tmp_path / "body.stl").read_bytes()
    (count,) = struct.unpack("<I", data[80:84])
    assert count == len(mesh.faces)
    assert len(data) == 84 + 50 * count
    assert not data.startswith(b"solid")
    first = struct.unpack("<12fH", data[84:134])
    assert np.allclose(np.reshape(first[3:12], (3, 3)), mesh.vertices[mesh.faces[0]], atol=1e-4)
    assert np.allclose(first[:3], mesh.face_normals[0], atol=1e-5)


def test_stl_reads_back_closed_and_whole(checked: Checked, tmp_path: Path):
    for name, mesh in checked.meshes.items():
        write_stl(tmp_path / "part.stl", name, mesh)
        again = trimesh.load(tmp_path / "part.stl")
        assert again.is_watertight
        assert again.is_winding_consistent
        assert again.volume == pytest.approx(mesh.volume, rel=1e-5)
        assert np.allclose(again.bounds, mesh.bounds, atol=1e-4)


@pytest.mark.published(
    source="3MF Consortium, 3MF Core Specification 1.3, sections 2.1, 3.2, 4.1 (mesh rules)"
)
def test_threemf_is_one_closed_object_in_millimetres(checked: Checked, tmp_path: Path):
    mesh = checked.meshes["body"]
    write_threemf(tmp_path / "body.3mf", "body", "Küche & <co>", mesh)
    with zipfile.ZipFile(tmp_path / "body.3mf") as package:
        assert package.testzip() is None
        assert set(package.namelist()) == {"[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"}
        relations = ElementTree.fromstring(package.read("_rels/.rels"))
        model = ElementTree.fromstring(package.read("3D/3dmodel.model"))
    assert relations[0].get("Target") == "/3D/3dmodel.model"
    assert model.get("unit") == "millimeter"
    (thing,) = model.iter(f"{CORE}object")
    (item,) = model.iter(f"{CORE}item")
    assert item.get("objectid") == thing.get("id")
    assert next(model.iter(f"{CORE}metadata")).text == "Küche & <co>"
    points = np.array([[float(v.get(axis)) for axis in "xyz"] for v in model.iter(f"{CORE}vertex")])
    faces = np.array([[int(t.get(f"v{k}")) for k in (1, 2, 3)] for t in model.iter(f"{CORE}triangle")])
    assert len(np.unique(points, axis=0)) == len(points), "vertices are merged"
    edges = Counter(
        tuple(edge) for f in faces.tolist() for edge in ((f[0], f[1]), (f[1], f[2]), (f[2], f[0]))
    )
    assert set(edges.values()) == {1}
    assert all((b, a) in edges for a, b in edges), (
        "every edge lies between two triangles, both turned outward"
    )
    a, b, c = (points[faces[:, k]] for k in range(3))
    assert np.einsum("ij,ij->", a, np.cross(b, c)) / 6 == pytest.approx(mesh.volume, rel=1e-6)
    assert points.min(axis=0) == pytest.approx([0, 0, 0])
    assert np.ptp(points, axis=0) == pytest.approx([160.0, 120.0, 20.0])


def test_threemf_reads_back_with_another_reader(checked: Checked, tmp_path: Path):
    write_threemf(tmp_path / "cover.3mf", "cover", "t", checked.meshes["cover"])
    again = trimesh.load(tmp_path / "cover.3mf", force="mesh")
    assert again.is_watertight
    assert again.volume == pytest.approx(checked.meshes["cover"].volume, rel=1e-6)


@pytest.mark.published(
    source="IEC 61966-2-1 sRGB: mid grey 0.5 is 0.2140 in linear light (recalled, not verified)"
)
def test_linear_light_of_mid_grey():
    linear = linear_colour((0.5, 0.0, 1.0, 0.3))
    assert_as_printed(linear[0], "0.2140")
    assert linear[1:] == (0.0, 1.0, 0.3)


def test_threemf_refuses_an_open_mesh(tmp_path: Path):
    box = trimesh.creation.box()
    opened = trimesh.Trimesh(box.vertices, box.faces[1:], process=False)
    with pytest.raises(GeometryError, match='mesh of "lid" is open'):
        write_threemf(tmp_path / "lid.3mf", "lid", "t", opened)


@pytest.mark.published(
    source="Khronos Group, glTF 2.0 Specification, section 4.4 (GLB header, chunks), 3.4 (metres)"
)
def test_glb_has_header_names_colours_and_metres(checked: Checked, tmp_path: Path):
    parts = tuple((name, checked.meshes[name], part_colour(name)) for name in ("body", "cover"))
    write_glb(tmp_path / "a.glb", (*parts, ("coolant", checked.wet_mesh, part_colour("coolant"))))
    data = (tmp_path / "a.glb").read_bytes()
    magic, version, length = struct.unpack("<4sII", data[:12])
    assert (magic, version, length) == (b"glTF", 2, len(data))
    scene = json.loads(glb_chunks(data)[b"JSON"])
    assert {node["name"] for node in scene["nodes"] if "mesh" in node} == {"body", "cover", "coolant"}
    materials = {m["name"]: m for m in scene["materials"]}
    assert materials["body"]["alphaMode"] == "OPAQUE"
    assert materials["cover"]["alphaMode"] == "BLEND"
    assert materials["cover"]["pbrMetallicRoughness"]["baseColorFactor"] == pytest.approx(
        linear_colour(part_colour("cover")), abs=1 / 255
    )
    again = trimesh.load(tmp_path / "a.glb")
    for name, mesh, _ in parts:
        assert again.geometry[name].volume == pytest.approx(mesh.volume * 1e-9, rel=1e-4)
        assert np.allclose(again.geometry[name].bounds, mesh.bounds / 1000, atol=1e-6)
