"""Printed demos, sliced by a general-purpose slicer: what it says of them against what is measured here."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from sample_demos import plan_demo
from sliced import BRIDGE, LAYER, SUPPORT, Pieces, slice_mesh, take, tell_about, within

from exports.check_solids import Checked, check_solids
from exports.formats.stl import write_stl
from exports.formats.threemf import write_threemf
from geom.printing.lay_down import find_laying, lay_down
from geom.printing.measured import PoseMeasure
from geom.printing.overhangs import measure_pose
from geom.printing.part_skin import survey_skin

pytestmark = pytest.mark.needs("prusa-slicer")

UP = (0.0, 0.0, 1.0)
BELOW = 1.5 * LAYER
"""From the top of a line to the middle of the layer under it, [mm]."""
IN_LAYER = 0.5 * LAYER


@dataclass(frozen=True)
class Laid:
    """A part as it lies, the coolant in it, and its measure."""

    part: trimesh.Trimesh
    wet: trimesh.Trimesh
    measure: PoseMeasure


@cache
def checked_demo(name: str) -> Checked:
    return check_solids(plan_demo(name))


def lay(part: trimesh.Trimesh, wet: trimesh.Trimesh, up: tuple[float, float, float]) -> Laid:
    turn, shift = find_laying(part, up)
    laid = lay_down(part, up)
    coolant = trimesh.Trimesh(np.asarray(wet.vertices) @ turn + shift, wet.faces, process=False)
    measure = measure_pose(survey_skin(laid, coolant), UP, 45.0, 10.0, 0.45, LAYER)
    return Laid(laid, coolant, measure)


@pytest.fixture(scope="module")
def on_back(tmp_path_factory: pytest.TempPathFactory) -> tuple[Laid, dict[str, Pieces]]:
    """The panel that is printed in one piece, in the pose that it is made for, sliced."""
    checked = checked_demo("cupboard-server")
    assert checked.poses[0].made.pose.name == "on its back"
    laid = lay(checked.meshes["panel"], checked.wet_mesh, checked.poses[0].made.pose.up)
    return laid, slice_mesh(laid.part, tmp_path_factory.mktemp("on its back"))


@pytest.mark.parametrize(
    ("demo", "part"),
    [("cupboard-server", "panel"), ("synthesizer-rack", "body"), ("synthesizer-rack", "cover")],
)
def test_written_meshes_are_one_sound_part(demo: str, part: str, tmp_path: Path):
    made = next(one for one in checked_demo(demo).prints if one.fit.part == part)
    write_stl(tmp_path / "part.stl", part, made.mesh)
    write_threemf(tmp_path / "part.3mf", part, demo, made.mesh)
    pose = next(one for one in checked_demo(demo).poses if one.part == part).made
    for name in ("part.stl", "part.3mf"):
        told = tell_about(tmp_path / name)
        assert told["manifold"] == "yes"
        assert told["number_of_parts"] == "1"
        assert float(told["volume"]) == pytest.approx(made.mesh.volume, rel=1e-4)
        # It lies as it is printed.
        assert float(told["min_z"]) == pytest.approx(0.0, abs=1e-5)
        assert float(told["size_z"]) == pytest.approx(pose.measure.height, abs=1e-3)


def test_slicer_bridges_inside_what_is_measured_to_hang(on_back: tuple[Laid, dict[str, Pieces]]):
    laid, sliced = on_back
    roofs = [roof for roof in laid.measure.roofs if roof.inside]
    hanging = sum(roof.area for roof in roofs)
    assert max(roof.span for roof in roofs) <= 10.0
    bridged = within(take(sliced, BRIDGE, BELOW), laid.wet, laid.part)
    assert bridged.area() == pytest.approx(hanging, rel=0.25)
    # All of it lies right under a roof that was measured.
    heights = {round(roof.at[2], 3) for roof in roofs}
    assert all(min(abs(z + IN_LAYER - h) for h in heights) <= LAYER for z in bridged.at[:, 2])
    # One direction of lines does for a whole roof: where a channel bends they run along it, and the slicer would hold
    # that little from below.
    held = within(take(sliced, SUPPORT, IN_LAYER), laid.wet, laid.part)
    assert held.plan() < 0.2 * hanging


def test_covered_body_has_nothing_to_hold_inside(tmp_path: Path):
    checked = checked_demo("synthesizer-rack")
    body = checked.poses[0]
    laid = lay(checked.meshes["body"], checked.wet_mesh, body.made.pose.up)
    assert [roof for roof in laid.measure.roofs if roof.inside] == []
    sliced = slice_mesh(laid.part, tmp_path)
    # Under its cover the channels are open: what the coolant's mesh has above the joint is not the body's.
    for kinds, below in ((SUPPORT, IN_LAYER), (BRIDGE, BELOW)):
        assert within(take(sliced, kinds, below), laid.wet, laid.part).plan() < 1.0


def test_seat_on_the_bed_is_held_and_on_top_is_not(on_back: tuple[Laid, dict[str, Pieces]], tmp_path: Path):
    """Lying on the pump's seat is a bad pose: slicer and measure both tell."""
    checked = checked_demo("cupboard-server")
    laid = lay(checked.meshes["panel"], checked.wet_mesh, (0.0, 0.0, -1.0))
    assert on_back[0].measure.support_mm2 == 0.0
    assert held_at_bed(*on_back) == 0.0
    assert laid.measure.support_mm2 > 1500.0
    # Support is hatched, its lines 2.5 mm apart and more.
    assert held_at_bed(laid, slice_mesh(laid.part, tmp_path)) > 0.1 * laid.measure.support_mm2


def held_at_bed(laid: Laid, sliced: dict[str, Pieces]) -> float:
    """Return the plan of what is held under seat and spot faces: dry, inside the outline, a millimetre over the bed."""
    support = take(sliced, SUPPORT, IN_LAYER)
    low, high = laid.part.bounds + np.array(((12, 12, 0), (-12, -12, 0)))
    inner = support.where(np.all((support.at > low) & (support.at < high), axis=1) & (support.at[:, 2] < 1.0))
    return inner.plan() - within(inner, laid.wet).plan()


@pytest.mark.parametrize(("lean", "hangs"), [(35.0, False), (60.0, True)])
def test_slanted_roof_inside_is_held_past_45_degrees(lean: float, hangs: bool, tmp_path: Path):
    """A hollow whose roof rises to a ridge: past the limit it cannot be bridged, and the slicer holds it."""
    half, length, low = 12.0, 40.0, 46.0
    rise = half / np.tan(np.radians(lean))
    corners = [(x, y, z) for x in (-half, half) for y in (-length / 2, length / 2) for z in (low - 8, low)]
    ridge = [(0.0, y, low + rise) for y in (-length / 2, length / 2)]
    wet = trimesh.convex.convex_hull(np.array(corners + ridge))
    block = trimesh.creation.box(bounds=np.array(((-60, -60, 0), (60, 60, 90))))
    part = trimesh.boolean.difference([block, wet], engine="manifold")
    laid = lay(part, wet, UP)
    wide = [roof for roof in laid.measure.roofs if roof.inside and roof.span > 10.0]
    held = within(take(slice_mesh(laid.part, tmp_path), SUPPORT, IN_LAYER), laid.wet, laid.part)
    assert bool(wide) is hangs
    if hangs:
        assert held.plan() > 0.5 * 2 * half * length
        assert wide[0].span == pytest.approx(2 * half, abs=0.1)
    else:
        assert held.plan() == 0.0
