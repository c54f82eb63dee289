"""The scene of the report's 3D view, read back by a reader of its own."""

from __future__ import annotations

import base64
import gzip
import json
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from sample_demos import plan_demo
from sample_plan import sample_plan

from exports.check_solids import Built, Checked
from exports.page.documents.plan_document import plan_document
from exports.report.html.scene import pack_scene
from exports.report.html.scene_flow import trace_flow
from exports.report.html.scene_meshes import MOST, QUANTUM_MM, Grid, lay_grid, pack_mesh
from exports.report.html.scene_numbers import lay_scales, tell_lines
from exports.report.html.scene_places import list_pockets, list_walls
from exports.wording.flow_scales import lay_flow_scales
from geom.measured import Wall
from geom.outline import path_length, round_corners
from geom.walls import check_walls
from layouts.case import Tubing
from layouts.plan import Plan
from layouts.rules.tolerance_rules import check_tolerance_walls
from layouts.tolerances.walls import WorstWall
from layouts.tubes.values import TubeRun


def read_planes(data: bytes, count: int, numbers: int) -> list[int]:
    return [sum(data[k + plane * numbers] << 8 * plane for plane in range(count)) for k in range(numbers)]


def read_mesh(data: bytes, vertices: int, triangles: int, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """Return vertices [mm] and triangles of a packed mesh, number by number as its description says."""
    axes = []
    for axis in range(3):
        place, run = 0, []
        for signed in read_planes(data[2 * axis * vertices :], 2, vertices):
            step = signed // 2 if signed % 2 == 0 else -(signed + 1) // 2
            place = (place + step) % 2**16
            run.append(place * grid.quantum + grid.origin[axis])
        axes.append(run)
    met, corners = 0, []
    for back in read_planes(data[6 * vertices :], 3, 3 * triangles):
        corners.append(met - back)
        met += back == 0
    assert met == vertices
    return np.array(axes).T, np.array(corners).reshape(-1, 3)


def read_scene(text: str) -> tuple[dict, dict[str, tuple[np.ndarray, np.ndarray]]]:
    whole = gzip.decompress(base64.b64decode(json.loads(text)["packed"]))
    length = int.from_bytes(whole[:4], "little")
    scene = json.loads(whole[4 : 4 + length])
    grid = Grid(tuple(scene["origin"]), scene["quantum"])
    meshes, at = {}, 4 + length
    for part in scene["parts"]:
        size = 6 * part["vertices"] + 9 * part["triangles"]
        meshes[part["name"]] = read_mesh(whole[at : at + size], part["vertices"], part["triangles"], grid)
        at += size
    assert at == len(whole)
    return scene, meshes


@pytest.fixture(scope="module")
def text(plan: Plan, checked: Checked) -> str:
    return pack_scene(plan, checked, (*plan.findings, *checked.findings), {0: "A"})


@pytest.fixture(scope="module")
def read(text: str) -> tuple[dict, dict[str, tuple[np.ndarray, np.ndarray]]]:
    return read_scene(text)


def test_every_triangle_stands_where_it_stood(checked: Checked, read):
    _, meshes = read
    shown = {**checked.meshes, "coolant": checked.wet_mesh}
    assert list(meshes) == list(shown)
    for name, mesh in shown.items():
        vertices, triangles = meshes[name]
        assert triangles.shape == mesh.faces.shape
        off = np.abs(vertices[triangles] - mesh.vertices[mesh.faces])
        assert off.max() <= QUANTUM_MM / 2 + 1e-9


def test_parts_keep_their_volume_and_stay_closed(checked: Checked, read):
    _, meshes = read
    for name, mesh in {**checked.meshes, "coolant": checked.wet_mesh}.items():
        back = trimesh.Trimesh(*meshes[name], process=False)
        assert back.is_watertight
        assert back.volume == pytest.approx(mesh.volume, rel=1e-3)


@given(
    places=arrays.arrays(
        float, st.tuples(st.integers(3, 30), st.just(3)), elements=st.floats(-2000, 2000, width=32)
    ),
    data=st.data(),
)
def test_any_mesh_comes_back(places: np.ndarray, data: st.DataObject):
    count = data.draw(st.integers(1, 40))
    faces = data.draw(arrays.arrays(np.int64, (count, 3), elements=st.integers(0, len(places) - 1)))
    mesh = trimesh.Trimesh(places, faces, process=False, validate=False)
    grid = lay_grid([trimesh.Trimesh(places, [[k, k, k] for k in range(len(places))], process=False)])
    packed = pack_mesh(mesh, grid)
    vertices, triangles = read_mesh(packed.data, packed.vertices, packed.triangles, grid)
    assert packed.vertices == len(np.unique(faces))
    assert np.abs(vertices[triangles] - places[faces]).max() <= grid.quantum * 0.501 + 1e-6


def test_a_panel_too_long_for_the_quantum_takes_a_larger_one():
    grid = lay_grid([trimesh.creation.box((900.0, 20.0, 5.0))])
    assert grid.quantum == pytest.approx(900.0 / MOST, rel=1e-3)


def test_same_scene_same_text_that_may_stand_in_a_script(plan: Plan, checked: Checked, text: str):
    findings = (*plan.findings, *checked.findings)
    assert pack_scene(plan, checked, findings, {0: "A"}) == text
    assert "<" not in text


@pytest.mark.published(
    source="RFC 1952, GZIP file format 4.3, section 2.3.1: MTIME 0 says that there is no time stamp"
)
def test_no_time_stands_in_the_text(text: str):
    assert base64.b64decode(json.loads(text)["packed"])[:8] == b"\x1f\x8b\x08\x00\x00\x00\x00\x00"


def test_flow_is_that_of_the_plan(plan: Plan, read):
    scene, _ = read
    flows = [leg for channel in plan.flowing.channels for leg in channel.legs]
    assert len(scene["flow"]) == len(flows)
    for line, leg in zip(scene["flow"], flows, strict=True):
        assert line["flows"] == (leg.flow_m3_s != 0.0)
        assert line["velocity"] == pytest.approx(abs(leg.velocity_m_s), rel=plan.flowing.band)
        assert line["flow_l_min"] == pytest.approx(abs(leg.flow_m3_s) * 6e4, rel=plan.flowing.band)


def test_pressures_are_those_of_the_loop(plan: Plan):
    at = {
        node: p
        for step in plan.flowing.steps
        for node, p in ((step.start, step.start_pa), (step.end, step.end_pa))
    }
    at |= {"tank outlet": 0.0, "tank return": 0.0}
    drops = {leg.leg: leg.drop_pa for channel in plan.flowing.channels for leg in channel.legs}
    legs = [leg for channel in plan.routed.channels for leg in channel.legs]
    for line, leg in zip(trace_flow(plan), legs, strict=True):
        if line.start_pa is None:
            assert drops[leg.name] == 0.0
            continue
        assert line.start_pa - line.end_pa == pytest.approx(drops[leg.name])
        for end, pressure in ((line.start, line.start_pa), (line.end, line.end_pa)):
            assert pressure == pytest.approx(at.get(end, pressure))


def test_flow_against_the_leg_turns_its_line(plan: Plan):
    first = plan.flowing.channels[0]
    turned = replace(first, legs=(replace(first.legs[0], flow_m3_s=-first.legs[0].flow_m3_s),))
    flowing = replace(plan.flowing, channels=(turned, *plan.flowing.channels[1:]))
    line, against = (trace_flow(each)[0] for each in (plan, replace(plan, flowing=flowing)))
    assert against.points == line.points[::-1]
    assert (against.start, against.end) == (line.end, line.start)
    assert (against.start_pa, against.end_pa) == (line.end_pa, line.start_pa)
    assert against.velocity_m_s == line.velocity_m_s > 0.0


def test_lines_run_from_mouth_to_mouth_along_the_rounded_channel(plan: Plan):
    mouths = {port.name: port for port in plan.routed.ports}
    legs = [(channel, leg) for channel in plan.routed.channels for leg in channel.legs]
    for line, (channel, leg) in zip(trace_flow(plan), legs, strict=True):
        flat = path_length(round_corners(leg.points, channel.bend_radius))
        length = math.fsum(math.dist(a, b) for a, b in pairwise(line.points))
        assert length >= 0.99 * flat
        for end, at in ((line.start, line.points[0]), (line.end, line.points[-1])):
            if end in mouths:
                assert at == pytest.approx(mouths[end].at)


def test_pressure_is_coloured_from_its_least_to_its_most(plan: Plan):
    told = tell_lines(trace_flow(plan), plan.flowing)
    *_, scale = lay_scales(told, plan.flowing)
    values = [value for line in told if line["flows"] for value in line["pressure"]]
    assert (scale["key"], scale["banded"]) == ("pressure", False)
    assert (scale["ticks"][0], scale["ticks"][-1]) == (min(values), max(values))
    assert len(set(scale["texts"])) == len(scale["ticks"])
    off = max(0.1 * (max(values) - min(values)), 2.0 * plan.flowing.band * max(values))
    for tick, said in zip(scale["ticks"], scale["texts"], strict=True):
        assert float(said) == pytest.approx(tick, abs=off)


@pytest.mark.parametrize("name", ["sample", "laser-driver", "cell-tester"])
def test_velocity_and_drop_are_coloured_as_in_the_plan_of_the_page(plan: Plan, name: str):
    plan = plan if name == "sample" else plan_demo(name)
    drawn = plan_document(plan.panel, plan.routed, plan.flowing, plan.sealed)
    told = tell_lines(trace_flow(plan), plan.flowing)
    scales = {scale["key"]: scale for scale in lay_scales(told, plan.flowing)}
    legs = [leg for channel in drawn["channels"] for leg in channel["legs"]]
    for key, of_leg in (("velocity", "velocity_m_s"), ("drop", "drop_kpa")):
        own = drawn["scales"][key]
        assert scales[key]["banded"]
        assert (scales[key]["ticks"], scales[key]["texts"]) == (own["edges"], own["texts"])
        # Of a leg that changes faces the plan draws two pieces.
        assert {line[key] for line in told if line["flows"]} == {
            abs(leg[of_leg]) for leg in legs if leg["flow_l_min"]
        }


@pytest.mark.parametrize(
    ("most", "texts"),
    [
        (0.0, ["0.0000", "0.0002", "0.0004", "0.0006", "0.0008", "0.0010"]),
        (0.6, ["0.00", "0.12", "0.24", "0.36", "0.48", "0.60"]),
        (0.601, ["0.00", "0.15", "0.30", "0.45", "0.60", "0.75"]),
        (1.0, ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]),
        (5.0, ["0", "1", "2", "3", "4", "5"]),
        (41.0, ["0", "10", "20", "30", "40", "50"]),
        (60.0, ["0", "12", "24", "36", "48", "60"]),
    ],
)
def test_a_scale_has_round_numbers_from_nothing_to_over_the_most(plan: Plan, most: float, texts: list[str]):
    flows = [replace(leg, velocity_m_s=-most) for leg in plan.flowing.channels[0].legs]
    flowing = replace(plan.flowing, channels=(replace(plan.flowing.channels[0], legs=tuple(flows)),))
    scale = lay_flow_scales(flowing)["velocity"]
    assert scale["texts"] == texts
    assert scale["edges"] == [float(text) for text in texts]


def test_pockets_have_their_true_volume(checked: Checked, read):
    scene, _ = read
    left = checked.filling.left
    pockets = [*left.air, *left.coolant]
    assert pockets
    assert len(scene["pockets"]) == len(pockets)
    for shown, pocket in zip(scene["pockets"], pockets, strict=True):
        assert 4 / 3 * math.pi * shown["radius"] ** 3 == pytest.approx(pocket.volume_mm3, rel=2e-3)
        assert shown["at"] == pytest.approx(pocket.at, abs=1e-3)


def test_findings_and_walls_have_their_places(plan: Plan, checked: Checked, read):
    scene, _ = read
    findings = (*plan.findings, *checked.findings)
    assert [f["code"] for f in scene["findings"]] == [f.code for f in findings]
    assert [f["letter"] for f in scene["findings"]][:2] == ["A", ""]
    for shown, finding in zip(scene["findings"], findings, strict=True):
        assert (shown["at"] is None) == (finding.at_mm is None)
    thinnest = checked.thinnest
    (a, b) = scene["walls"][0]["ends"]
    assert math.dist(a, b) == pytest.approx(thinnest.thickness, abs=2e-3)


def test_a_solid_that_is_not_checked_yet_has_all_but_walls(plan: Plan, checked: Checked, read):
    built = Built(checked.solids, checked.meshes, checked.wet_mesh)
    scene, meshes = read_scene(pack_scene(plan, built, ()))
    whole, whole_meshes = read
    assert scene["walls"] == []
    assert scene["pockets"] == list_pockets(None if plan.filling is None else plan.filling.left)
    same = [key for key in whole if key not in ("walls", "pockets", "findings")]
    assert {key: scene[key] for key in same} == {key: whole[key] for key in same}
    assert list(meshes) == list(whole_meshes)


def test_walls_are_thin_where_the_rules_say_so_and_nowhere_else():
    """What a float lacks is no lack, and a dry wall need only not be used up."""

    def wall(worst: float, needed: float, wet: bool) -> WorstWall:
        return WorstWall(3.0, worst, needed, ("groove 1", "cover clearance 1"), (0.0, 0.0, 0.0), wet, True)

    panel = sample_plan().panel
    whole = Wall(1.9999999999999563, 2.0, ("a", "b"), ((0.0, 0.0, 0.0), (2.0, 0.0, 0.0)), True)
    for thickness, thin in ((whole.thickness, False), (1.9, True)):
        measured = replace(whole, thickness=thickness)
        assert list_walls(measured, ())[0]["thin"] == bool(check_walls([measured])) == thin
    worst = [
        wall(0.69, 1.5, False),
        wall(0.69, 1.5, True),
        wall(1.5 - 1e-9, 1.5, True),
        wall(0.0, 1.5, False),
    ]
    for each in worst:
        (listed,) = list_walls(None, (each,))
        assert listed["thin"] == bool(check_tolerance_walls(panel, (each,)))
        assert ("needed" in listed["text"]) == each.wet
    assert [list_walls(None, (each,))[0]["thin"] for each in worst] == [False, True, False, True]


def test_every_feature_has_a_place_within_the_panel(plan: Plan, checked: Checked, read):
    scene, _ = read
    assert [f["name"] for f in scene["features"]] == [f.name for f in plan.detail.features]
    bounds = np.array([mesh.bounds for mesh in checked.meshes.values()])
    low, high = bounds[:, 0].min(axis=0) - 1e-3, bounds[:, 1].max(axis=0) + 1e-3
    for feature in scene["features"]:
        assert np.all(np.array(feature["at"]) >= low)
        assert np.all(np.array(feature["at"]) <= high)


def test_a_tube_outside_is_as_long_as_it_is_cut(plan: Plan, checked: Checked):
    points = ((0.0, 0.0, 20.0), (0.0, 0.0, 120.0), (90.0, 0.0, 120.0))
    length = 100.0 + 90.0 - 2 * 30.0 + 15.0 * math.pi
    tube = TubeRun("tube 1", "block inlet", "block", points, (90.0,), 30.0, length)
    tubing = Tubing(12.7, 30.0, 6.0, 8.0)
    piped = replace(plan, panel=replace(plan.panel, tubing=tubing), tubes=(tube, replace(tube, points=())))
    (shown,) = read_scene(pack_scene(piped, checked, ()))[0]["tubes"]
    assert math.fsum(math.dist(a, b) for a, b in pairwise(shown["points"])) == pytest.approx(length, rel=2e-3)
    assert (shown["points"][0], shown["points"][-1]) == (list(points[0]), list(points[-1]))
    assert (shown["outer"], shown["part"]) == (12.7, "block")


def test_a_large_panel_is_shown_by_coarser_meshes(plan: Plan, checked: Checked, monkeypatch, read):
    _, fine = read
    most = sum(len(triangles) for _, triangles in fine.values())
    monkeypatch.setattr("exports.report.html.scene.MOST_TRIANGLES", most - 1)
    text = pack_scene(plan, checked, ())
    assert text == pack_scene(plan, checked, ())
    _, meshes = read_scene(text)
    assert list(meshes) == list(fine)
    assert sum(len(triangles) for _, triangles in meshes.values()) < 0.7 * most
    for name, mesh in {**checked.meshes, "coolant": checked.wet_mesh}.items():
        back = trimesh.Trimesh(*meshes[name], process=False)
        assert back.is_watertight
        assert back.volume == pytest.approx(mesh.volume, rel=2e-2)
    monkeypatch.setattr("exports.report.html.scene.MOST_TRIANGLES", most)
    assert read_scene(pack_scene(plan, checked, ()))[0]["parts"] == read[0]["parts"]
