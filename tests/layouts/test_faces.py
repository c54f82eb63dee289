"""Two faces: heights of layers, joints, holes and bores; what the front layer keeps off in plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geom.errors import OutOfRange
from geom.frame import EDGES
from geom.standards.tables import thread
from layouts.clearance import (
    clearances_of,
    edge_axis_z,
    joint_half,
    off_tank,
    port_axis_z,
    port_bore_length,
    tank_z,
)
from layouts.detail import cover_screw_depth, screws_apart, thread_fits
from layouts.faces import (
    bore_layers,
    bore_z,
    comes_near,
    face_z,
    floor_thickness,
    front_face_z,
    hole_bore,
    hole_z,
    joint_z,
    joints_of,
    layer_z,
    layers_of,
    least_body,
    passes_joint,
    sheet_end,
)
from layouts.grid import grid_of
from layouts.layer_blocks import layer_blocks
from layouts.panel import Panel
from layouts.place import Placement
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import TANK_BOX, sample_panel

BODY, COVER, DEPTH = 24.0, 10.0, 9.0
PLACEMENT = Placement((145.0, 40.0), (125.0, 40.0), 180, (), TANK_BOX, (145.0, 85.0), 0.0)


def two_faces(**channel: float) -> Panel:
    """Return the sample panel with two layers."""
    panel, _ = sample_faces()
    return replace(panel, channel=replace(panel.channel, **channel))


def test_heights_from_back_to_front():
    panel = two_faces()
    assert layers_of(panel) == joints_of(panel) == ("back", "front")
    assert face_z(panel, "back") == -COVER
    assert (joint_z(panel, "back"), joint_z(panel, "front")) == (0.0, BODY)
    assert front_face_z(panel) == face_z(panel, "front") == BODY + COVER
    assert layer_z(panel, "back") == (0.0, DEPTH)
    assert layer_z(panel, "front") == (BODY - DEPTH, BODY)
    assert hole_z(panel) == (DEPTH / 2, BODY - DEPTH / 2)
    assert (sheet_end(panel, "back"), sheet_end(panel, "front")) == (0.0, BODY)
    assert floor_thickness(BODY, DEPTH) == 6.0
    assert least_body(DEPTH, 2.0) == 20.0


@pytest.mark.parametrize("closing", ["cord", "bonded", "one-piece"])
def test_one_layer_has_no_front_cover(closing):
    panel = sample_panel(closing)
    assert layers_of(panel) == ("back",)
    assert joints_of(panel) == (() if closing == "one-piece" else ("back",))
    assert front_face_z(panel) == panel.make.body
    assert bore_layers(panel, "front", "back", 5.0, 0.0) == ("back",)
    assert not passes_joint(panel, "front", "front")
    assert layer_blocks(panel, grid_of(panel), PLACEMENT, 8.0) == []


@given(st.floats(1.0, 40.0))
def test_a_hole_is_a_little_narrower_than_its_channel(width):
    assert 0.8 * width <= hole_bore(width) < width
    assert hole_bore(width) * 10 == pytest.approx(round(hole_bore(width) * 10))


@given(st.floats(16.0, 60.0), st.floats(4.0, 20.0), st.floats(0.5, 4.0), st.sampled_from(["cord", "bonded"]))
def test_an_edge_bore_keeps_its_walls_to_both_faces(body, depth, wall, closing):
    """In either layer it stands as in the other one mirrored, and overlaps its own channel."""
    row, groove = thread("G1/4"), 1.5 if closing == "cord" else 0.0
    try:
        axis = edge_axis_z(row, closing, body, groove, depth, wall, 2)
    except OutOfRange:
        return
    radius = row.tap_drill / 2
    for z in (axis, body - axis):
        assert groove + wall - 1e-9 <= z - radius
        assert z + radius <= body - groove - wall + 1e-9
    assert axis - radius <= depth * 2 / 3 + 1e-9


def test_edge_axis_is_mirrored():
    panel = two_faces()
    row = thread("G1/4")
    back, front = (port_axis_z(panel, row, "edge", layer) for layer in ("back", "front"))
    assert back + front == pytest.approx(BODY)
    assert back <= BODY / 2
    # With one cover the far face has no groove, so that the bore may stand nearer to it.
    thin = replace(panel, make=replace(panel.make, body=18.7))
    with pytest.raises(OutOfRange, match="at least"):
        edge_axis_z(row, "cord", 18.7, 1.5, DEPTH, 2.0, 2)
    assert edge_axis_z(row, "cord", 18.7, 1.5, DEPTH, 2.0, 1) > 0
    with pytest.raises(ValueError, match="edge ports"):
        port_axis_z(thin, row, "edge ports")


def test_bores_pass_the_layers_on_their_way():
    panel = two_faces()
    assert bore_z(panel, "front", "back") == (DEPTH / 2, BODY + COVER)
    assert bore_z(panel, "front", "front") == (BODY - DEPTH / 2, BODY + COVER)
    assert bore_z(panel, "back", "front") == (-COVER, BODY - DEPTH / 2)
    assert bore_layers(panel, "front", "back", 5.9, 0.0) == ("back", "front")
    assert bore_layers(panel, "front", "front", 5.9, 0.0) == ("front",)
    assert bore_layers(panel, "back", "back", 5.9, 0.0) == ("back",)
    assert bore_layers(panel, "back", "front", 5.9, 0.0) == ("back", "front")
    axis = port_axis_z(panel, thread("G1/4"), "edge")
    assert all(bore_layers(panel, on, "back", 5.9, axis) == ("back", "front") for on in EDGES)
    thick = replace(panel, make=replace(panel.make, body=50.0))
    low = port_axis_z(thick, thread("G1/4"), "edge")
    assert bore_layers(thick, "top", "back", 5.9, low) == ("back",)
    assert bore_layers(thick, "top", "front", 5.9, 50.0 - low) == ("front",)
    assert port_bore_length(panel, "front", 0.0, 8.0, "front") == COVER + DEPTH / 2
    assert port_bore_length(panel, "front", 0.0, 8.0, "back") == BODY + COVER - DEPTH / 2


def test_a_bore_takes_of_the_joint_that_it_passes():
    panel = two_faces()
    assert joint_half(panel, "front", 5.9, 8.0, "front") == 5.9
    assert joint_half(panel, "front", 5.9, 0.0, "front") == 5.9
    assert joint_half(panel, "front", 5.9, 8.0, "back") == 4.0
    assert joint_half(panel, "back", 5.9, 8.0, "back") == 5.9
    assert joint_half(panel, "top", 5.9, 8.0, "front") == 4.0


def test_a_port_opens_where_its_cover_holds_its_thread():
    panel = two_faces()
    port = panel.parts[0].inlet
    assert port.on == "front"
    thin = replace(panel, make=replace(panel.make, cover=8.0))
    assert thread_fits(panel, port, "front")
    assert not thread_fits(thin, port, "front")
    assert thread_fits(thin, port, "back")
    assert not thread_fits(thin, replace(port, on="back"), "back")
    assert thread_fits(replace(thin, channel=replace(thin.channel, layers=1)), port, "front")


def test_screws_of_both_covers_leave_a_wall_between_them():
    """Facing each other they do where the body is thick; else they stand side by side, or shorter."""
    panel = two_faces()
    for body in (12.0, 20.0, 21.9, 22.0, 30.0):
        made = replace(panel, make=replace(panel.make, body=body))
        depth = cover_screw_depth(made)
        assert depth + 1.5 + 2.0 <= body
        assert screws_apart(made) == (0.0 if 2 * depth + 2.0 <= body else 3.3 + 2.0)


@pytest.mark.parametrize(("tank_depth", "reach"), [(13.0, 0.0), (13.5, 2.0), (20.0, 2.0), (21.0, 6.8)])
def test_front_channels_pass_over_a_shallow_tank(tank_depth, reach):
    """Over 13 mm of tank 2 mm are left under a front channel; over 21 mm not even its groove keeps the wall."""
    panel = two_faces()
    panel = replace(panel, tank=replace(panel.tank, depth=tank_depth))
    assert comes_near(panel, tank_z(panel), "front") == (reach > 0)
    assert off_tank(panel) == pytest.approx(reach)


@pytest.mark.parametrize("pump_on", ["front", "back"])
@pytest.mark.parametrize("tank_depth", [13.0, 18.0])
def test_layer_blocks_are_the_distances_that_the_verifier_measures(pump_on, tank_depth):
    """Each mask against exact distances by shapely, node by node."""
    panel = two_faces()
    panel = replace(panel, pump=replace(panel.pump, on=pump_on), tank=replace(panel.tank, depth=tank_depth))
    grid, gaps, half = grid_of(panel), clearances_of(panel), 4.0
    blocks = {name: mask for layer, mask, name in layer_blocks(panel, grid, PLACEMENT, 8.0)}
    x, y = grid.xy()
    nodes = shapely.points(x, y)
    fill = shapely.LineString([(145.0, 140.0), (145.0, 113.1)])
    wanted = {
        'keep-clear region "cable slot"': (shapely.box(0.0, 5.0, 20.0, 30.0), max(gaps.seal_reach, 2.0)),
        "the fill port": (fill, 5.9 + 2.0),
    }
    if tank_depth > 13.0:
        wanted["the tank"] = (shapely.box(*TANK_BOX), 2.0)
    if pump_on == "front":
        wanted["the pump's inlet bore"] = (shapely.Point(145.0, 40.0), 5.0 + gaps.channel_gap)
    assert set(blocks) == {*wanted, "the panel's edge"}
    for name, (shape, least) in wanted.items():
        expected = shapely.distance(nodes, shape) < half + least - 1e-6
        assert (blocks[name] == expected).all(), name
        assert expected.any()
    assert blocks["the panel's edge"][0]
    assert not blocks["the panel's edge"][grid.cell_at((100.0, 70.0))]
    assert all(mask.dtype == np.bool_ and mask.shape == (grid.cells,) for mask in blocks.values())
