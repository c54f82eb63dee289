"""A split panel as solids: volumes, walls, meshes, what the rings are, and what the report tells."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from exports.pictures.plan_split import draw_split, explain_split
from exports.pictures.svg import View
from geom.blanks import merge_beside
from geom.build import Solids, build_solids, make_solid, merge_blanks
from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature
from geom.kernel import find_box, find_volume
from geom.outline import Arc, Line, loop_area, outline_rectangle
from geom.rebuild import rebuild_features
from geom.skins import check_meshes
from geom.tessellate import mesh_solid
from geom.volume import check_pieces, check_volumes, measure_volumes, plan_volume
from geom.walls import check_walls, find_thin_spots, make_outside, measure_walls
from layouts.clearance import clearances_of
from layouts.closing.wet_regions import group_wet
from layouts.detail import detail_panel
from layouts.plan import Sealed
from layouts.printing.printed import Pose, Printed, Split
from layouts.printing.split import SplitRefused, split_print
from layouts.rules.split_rules import check_printer_room, check_split_joint
from tests.layouts.printing.sample_split import BODY, STRAIGHT, WIDTH, split_panel, split_routed

POSE = Pose("on its back", "back", (0.0, 0.0, 1.0))
PANEL, ROUTED = split_panel(), split_routed(STRAIGHT)


@cache
def split_it() -> tuple[Split, Detail, Solids]:
    split = split_print(PANEL, ROUTED)
    assert isinstance(split, Split)
    detail = detail_panel(PANEL, ROUTED, Sealed((), ()), clearances_of(PANEL), Printed(POSE, split=split))
    return split, detail, build_solids(detail)


def test_all_checks_of_the_solids_are_green():
    _, detail, solids = split_it()
    meshes = {part.name: mesh_solid(part.solid) for part in solids.parts}
    wet_mesh = mesh_solid(solids.wet)
    models = rebuild_features(solids)
    walls = measure_walls(detail, solids, PANEL.rules.least_wall, 1.0, models)
    spots = find_thin_spots(solids, meshes, walls, PANEL.rules.least_wall, 1.0)
    volumes = measure_volumes(detail, solids, meshes, wet_mesh, models)
    shapes = {part.name: part.solid for part in solids.parts}
    assert check_walls(walls, spots) == ()
    assert check_volumes(volumes) == ()
    assert check_meshes({**meshes, "coolant": wet_mesh}, {**shapes, "coolant": solids.wet}) == ()
    assert check_pieces(solids, len(group_wet(PANEL, ROUTED))) == ()


def test_pieces_are_the_whole_panel_less_the_joint():
    """Both pieces, the coolant and what the joint takes fill the sheet; the joint by closed forms."""
    split, _, solids = split_it()
    sheet = loop_area(outline_rectangle(0.0, 0.0, WIDTH, PANEL.height, PANEL.corner_radius)) * BODY
    whole = detail_panel(PANEL, ROUTED, Sealed((), ()), clearances_of(PANEL))
    unsplit = build_solids(whole)
    pieces = math.fsum(solids.volumes[f"part {name}"] for name in split.pieces)
    assert solids.volumes["wet"] == pytest.approx(unsplit.volumes["wet"], rel=1e-6)
    assert math.fsum(solids.volumes[f"blank {name}"] for name in split.pieces) == pytest.approx(
        sheet, rel=1e-9
    )
    assert split.screw is not None
    grooves = 2 * math.pi / 4 * (split.ring_outer**2 - split.ring_inner**2) * split.ring_depth
    pins = len(split.pins) * 2 * math.pi / 4 * 4.0**2 * 8.5
    taps = {"M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0}
    clear = {"M3": 3.4, "M4": 4.5, "M5": 5.5, "M6": 6.6}
    name = split.screw.name
    hole = math.pi / 4 * (taps[name] ** 2 * split.screw.hole_depth + clear[name] ** 2 * split.screw.flange)
    well = 0.0
    for one in split.wells:
        x0, y0, x1, y1 = one.box
        corner = min(x1 - x0, y1 - y0) / 4
        well += ((x1 - x0) * (y1 - y0) - (4 - math.pi) * corner**2) * (one.z1 - one.z0)
    joint = grooves + pins + len(split.screws) * hole + well
    assert unsplit.volumes["part panel"] - pieces == pytest.approx(joint, rel=1e-6)


def test_each_piece_ends_at_the_plane_and_fits_the_printer():
    split, _, solids = split_it()
    left, right = (find_box(solids.part(name)) for name in split.pieces)
    assert left[1, 0] == pytest.approx(split.at, abs=1e-6)
    assert right[0, 0] == pytest.approx(split.at, abs=1e-6)
    assert PANEL.make.room is not None
    for box in (left, right):
        assert np.all(np.sort(box[1] - box[0]) <= np.sort(PANEL.make.room) + 1e-6)


def test_squeezed_ring_keeps_the_cords_volume():
    split, detail, solids = split_it()
    assert [insert.name for insert in detail.inserts] == ["cord ring 1", "cord ring 2"]
    shape = detail.inserts[0].shape
    assert isinstance(shape, Cylinder)
    area = (shape.radius - shape.core) * shape.length
    assert area == pytest.approx(math.pi / 4 * split.cord**2)
    assert solids.volumes["insert cord ring 1"] == pytest.approx(
        math.pi * (shape.radius**2 - shape.core**2) * shape.length, rel=1e-9
    )


def test_ring_groove_by_closed_form_and_by_mesh():
    ring = Cylinder((3.0, 4.0, 5.0), (1.0, 0.0, 0.0), 1.5, 10.0, core=7.0)
    exact = math.pi * (10.0**2 - 7.0**2) * 1.5
    assert find_volume(make_solid("ring", ring)) == pytest.approx(exact, rel=1e-9)
    feature = Feature("ring", "ring groove", "dry", ring)
    solid = make_solid("ring", ring)
    models = rebuild_features(Solids((), solid, ((feature, solid),), {}))  # type: ignore[arg-type]
    assert models["ring"][0].volume() == pytest.approx(exact, rel=1e-6)
    for bad in (replace(ring, core=10.0), replace(ring, chamfer=0.5)):
        with pytest.raises(GeometryError, match="ring of radius"):
            make_solid("ring", bad)
    wet = replace(feature, medium="wet")
    with pytest.raises(GeometryError, match="holds no coolant"):
        plan_volume(Detail((Blank("panel", outline_rectangle(0, 0, 50, 50, 0), 0, 20),), (wet,), ()))


def test_split_edge_is_no_outer_face():
    _, detail, _ = split_it()
    (merged,) = merge_blanks(detail.blanks)
    whole = outline_rectangle(0.0, 0.0, WIDTH, PANEL.height, PANEL.corner_radius)
    assert len(merged.loop) == len(whole)
    assert {type(segment) for segment in merged.loop} == {Line, Arc}
    assert loop_area(merged.loop) == pytest.approx(loop_area(whole), rel=1e-12)
    split, _, _ = split_it()
    plane = shapely.LineString([(split.at, 1.0), (split.at, PANEL.height - 1.0)])
    for name, solid in make_outside(detail.blanks):
        if name in ("outer left", "outer right"):
            low, high = find_box(solid)
            assert not plane.intersects(shapely.box(low[0], low[1], high[0], high[1]))


def test_blanks_apart_or_of_other_heights_stay_apart():
    left = Blank("a", outline_rectangle(0, 0, 10, 10, 0), 0.0, 5.0)
    right = Blank("b", outline_rectangle(10, 0, 20, 10, 0), 0.0, 5.0)
    (one,) = merge_beside((left, right))
    assert (one.name, len(one.loop)) == ("a and b", 4)
    assert loop_area(one.loop) == pytest.approx(200.0)
    assert len(merge_beside((left, replace(right, z1=6.0)))) == 2
    assert len(merge_beside((left, replace(right, loop=outline_rectangle(11, 0, 20, 10, 0))))) == 2


def test_split_is_told_where_it_is():
    split, _, _ = split_it()
    printed = Printed(POSE, split=split)
    (told,) = check_printer_room(PANEL, printed)
    assert (told.code, told.severity, told.at_mm) == ("print.room", "note", (120.0, 40.0, BODY / 2))
    assert "across 2 channels" in told.text
    assert "2 rings of" in told.text
    assert f"{len(split.screws)} {split.screw.name if split.screw else ''} x" in told.text
    (joint,) = check_split_joint(PANEL, printed)
    assert (joint.code, joint.severity) == ("print.split", "note")
    assert joint.at_mm in split.screws


def test_refusal_is_a_fault_with_reason_and_remedy():
    narrow = split_panel((100.0, 100.0, 100.0))
    refused = split_print(narrow, ROUTED)
    assert isinstance(refused, SplitRefused)
    (fault,) = check_printer_room(narrow, Printed(POSE, refused=refused.reason))
    assert (fault.code, fault.severity) == ("print.room", "fault")
    assert refused.reason in fault.text
    assert "larger printer" in fault.remedy
    assert check_printer_room(split_panel((WIDTH, 200.0, 100.0)), Printed(POSE)) == ()
    assert check_printer_room(PANEL, None) == ()
    assert check_split_joint(PANEL, Printed(POSE)) == ()


def test_face_that_causes_the_split_is_named():
    """240 x 150 mm fit a printer of 245 x 160 x 60 mm lying; on an edge they do not."""
    lying = split_panel((245.0, 160.0, 60.0))
    on_edge = replace(lying, printing=replace(lying.printing, lies_on="left"))
    split, _, _ = split_it()
    said = 'eave lies_on = "left" out of [printing], for laid otherwise it fits in one piece'
    (told,) = check_printer_room(on_edge, Printed(POSE, split=split))
    assert said in told.remedy
    (fault,) = check_printer_room(on_edge, Printed(POSE, refused="none"))
    assert said in fault.remedy
    small = replace(on_edge, make=replace(on_edge.make, room=(100.0, 100.0, 100.0)))
    assert said not in check_printer_room(small, Printed(POSE, refused="none"))[0].remedy


def test_plane_is_drawn():
    from types import SimpleNamespace

    split, detail, _ = split_it()
    plan = SimpleNamespace(panel=PANEL, printed=Printed(POSE, split=split), detail=detail)
    drawn = "\n".join(draw_split(plan, View(1.0, PANEL.height)))  # type: ignore[arg-type]
    assert f"M{split.at:.2f} " in drawn
    assert drawn.count("<path") == 1 + 2 + 3 * len(split.screws) + 2 * len(split.pins)
    said = [text for _, text in explain_split(plan)]  # type: ignore[arg-type]
    assert said[0] == "plane of the split"
    assert ("well of a joint screw" in said) == any(well.on == "front" for well in split.wells)
    assert ("well, on the back" in said) == any(well.on == "back" for well in split.wells)
    assert said[-1] == "joint inside: rings, screws, pins"
    unsplit = SimpleNamespace(panel=PANEL, printed=Printed(POSE), detail=detail)
    assert explain_split(unsplit) == []  # type: ignore[arg-type]
