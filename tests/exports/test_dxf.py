"""The profiles for CAM, read back: layers, areas, arcs and centres are the model's."""

from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing
from ezdxf.entities import Circle, LWPolyline
from sample_demos import plan_demo
from sample_jobs import BACK, FRONT, PORT, SCREW

from exports.formats.dxf import bore_layer, dxf_name, outline_layer, pocket_layer, write_dxf
from geom.outline import loop_area
from layouts.milling.profiles import list_profiles
from layouts.milling.work import SetUp


def read_back(folder: Path, setup: SetUp, number: int = 1) -> Drawing:
    path = folder / dxf_name(setup)
    write_dxf(path, "Küche", number, setup)
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    return document


def outline_area(line: LWPolyline) -> float:
    """Return the area of a closed polyline with bulges, from its own points; positive counter-clockwise."""
    assert line.closed
    points, total = list(line.get_points("xyb")), 0.0
    for (ax, ay, bulge), (bx, by, _) in zip(points, [*points[1:], points[0]], strict=True):
        total += 0.5 * (ax * by - bx * ay)
        angle = 4 * math.atan(bulge)
        if bulge:
            radius = math.dist((ax, ay), (bx, by)) / 2 / abs(math.sin(angle / 2))
            total += radius**2 * (angle - math.sin(angle)) / 2
    return total


def areas_on(document: Drawing, layer: str) -> list[float]:
    """Return the areas of a layer's closed outlines, circles included, all positive."""
    out = []
    for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
        if isinstance(entity, Circle):
            out.append(math.pi * entity.dxf.radius**2)
        else:
            assert isinstance(entity, LWPolyline)
            out.append(abs(outline_area(entity)))
    return out


def test_layers_are_named_by_depth(tmp_path: Path):
    document = read_back(tmp_path, BACK)
    names = [layer.dxf.name for layer in document.layers]
    assert names[2:] == ["POCKET 2.20", "POCKET 9.00", "BORE 3.30 DEEP 10.00", "OUTLINE 20.00", "NOTES"]
    colours = [document.layers.get(name).color for name in names[2:6]]
    assert len(set(colours)) == 4


@pytest.mark.published(
    source="DXF reference, header variables: $INSUNITS 4 is millimetres, $MEASUREMENT 1 metric"
)
def test_units_are_millimetres(tmp_path: Path):
    document = read_back(tmp_path, BACK)
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1


def test_areas_are_the_models(tmp_path: Path):
    document = read_back(tmp_path, BACK)
    (outline,) = areas_on(document, "OUTLINE 20.00")
    assert outline == pytest.approx(100.0 * 60.0 - (4 - math.pi) * 25.0, rel=1e-12)
    slot, tank = 40.0 * 8.0 + 16.0 * math.pi, 600.0 - (4 - math.pi) * 16.0
    united, post = areas_on(document, "POCKET 9.00")
    assert united == pytest.approx(slot + tank - 40.0 - 8.0 * math.pi, rel=1e-12)
    assert post == pytest.approx(9.0 * math.pi, rel=1e-12)


@pytest.mark.published(
    source="DXF reference, LWPOLYLINE group 42: the bulge is the tangent of a quarter of the angle"
)
def test_arcs_stay_arcs(tmp_path: Path):
    document = read_back(tmp_path, BACK)
    (line,) = document.modelspace().query('LWPOLYLINE[layer=="OUTLINE 20.00"]')
    bulges = [bulge for _, _, bulge in line.get_points("xyb") if bulge]
    assert bulges == pytest.approx([math.tan(math.pi / 8)] * 4)


def test_bores_are_circles_at_their_centres_with_their_threads(tmp_path: Path):
    document = read_back(tmp_path, FRONT, 2)
    (circle,) = document.modelspace().query('CIRCLE[layer=="BORE 11.80 DEEP 15.50"]')
    assert tuple(circle.dxf.center)[:2] == PORT.at
    assert circle.dxf.radius == pytest.approx(5.9)
    said = [text.dxf.text for text in document.modelspace().query('TEXT[layer=="NOTES"]')]
    assert "G1/4 12.00 deep, chamfer 0.70" in said
    assert "u = x, v = y: as in the plan" in said
    assert any("Küche: body, set-up 2: front face up" in text for text in said)
    assert any("mm" in text for text in said)


def test_names_of_what_starts_below_the_face_or_goes_through():
    assert bore_layer(replace(SCREW, through=True)) == "BORE 3.30 THROUGH"
    assert bore_layer(replace(SCREW, top=1.5)) == "BORE 3.30 DEEP 11.50 FROM 1.50"
    deep = replace(BACK.pockets[0], top=2.0)
    assert pocket_layer(list_profiles(replace(BACK, pockets=(deep,)))[0]) == "POCKET 9.00 FROM 2.00"


def test_the_same_bytes_each_time_and_no_setting_left_behind(tmp_path: Path):
    before = ezdxf.options.write_fixed_meta_data_for_testing
    write_dxf(tmp_path / "a.dxf", "panel", 1, BACK)
    write_dxf(tmp_path / "b.dxf", "panel", 1, BACK)
    assert (tmp_path / "a.dxf").read_bytes() == (tmp_path / "b.dxf").read_bytes()
    assert ezdxf.options.write_fixed_meta_data_for_testing == before
    assert ezdxf.__version__.encode() not in (tmp_path / "a.dxf").read_bytes()


WRITTEN = """
import sys
from pathlib import Path
from sample_jobs import FRONT
from exports.formats.dxf import write_dxf
write_dxf(Path(sys.argv[1]), "panel", 2, FRONT)
"""


def test_the_same_bytes_whatever_the_order_of_sets(tmp_path: Path):
    made = set()
    for seed in range(5):
        path = tmp_path / f"{seed}.dxf"
        subprocess.run(
            [sys.executable, "-c", WRITTEN, str(path)],
            env={"PYTHONHASHSEED": str(seed), "PYTHONPATH": ":".join(sys.path)},
            check=True,
        )
        made.add(path.read_bytes())
    assert len(made) == 1


def test_a_face_that_is_not_cut_free_has_its_border_to_find_the_origin_by(tmp_path: Path):
    """The front has the outline that the back's set-up cuts, mirrored; an edge its rectangle."""
    path = tmp_path / "front.dxf"
    write_dxf(path, "panel", 2, FRONT, (BACK, FRONT))
    (area,) = areas_on(ezdxf.readfile(path), "FACE")
    assert area == pytest.approx(100.0 * 60.0 - (4 - math.pi) * 25.0, rel=1e-12)
    edge = replace(FRONT, face="top", size=(100.0, 20.0), height=60.0, pockets=(), holes=())
    write_dxf(path, "panel", 3, edge, (BACK, FRONT, edge))
    document = ezdxf.readfile(path)
    assert areas_on(document, "FACE") == pytest.approx([100.0 * 20.0])
    (border,) = document.modelspace().query('LWPOLYLINE[layer=="FACE"]')
    assert min(point[:2] for point in border.get_points("xy")) == (0.0, 0.0)
    assert "FACE" not in [layer.dxf.name for layer in read_back(tmp_path, BACK).layers]


@pytest.mark.parametrize("name", ["laser-driver", "observatory-camera"])
def test_examples_read_back(name: str, tmp_path: Path):
    milled = plan_demo(name).milled
    assert milled is not None
    assert len({dxf_name(setup) for setup in milled.setups}) == len(milled.setups)
    for number, setup in enumerate(milled.setups, 1):
        document = read_back(tmp_path, setup, number)
        for profile in list_profiles(setup):
            wanted = [abs(loop_area(loop)) for loop in profile.loops]
            found = areas_on(document, pocket_layer(profile))
            for area in wanted:
                assert any(area == pytest.approx(other, rel=1e-9) for other in found)
        circles = {
            (circle.dxf.layer, circle.dxf.center.x, circle.dxf.center.y)
            for circle in document.modelspace().query("CIRCLE")
        }
        for hole in setup.holes:
            assert (bore_layer(hole), *hole.at) in circles
        if setup.outline is not None:
            assert areas_on(document, outline_layer(setup)) == pytest.approx([loop_area(setup.outline)])
