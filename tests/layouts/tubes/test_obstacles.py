"""Distances of tubes from the panel, its fittings, the pump and other tubes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layouts.case import Tubing
from layouts.tubes.gaps import lack_from_box, lack_from_rods
from layouts.tubes.obstacles import Obstacles, is_in_panel, list_rods, panel_box, tube_rods
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL = replace(sample_panel(), tubing=Tubing(10.0, 30.0, 6.0, 12.0))
ROUTED = sample_routed()
POINT = st.tuples(*(st.floats(-80.0, 80.0) for _ in range(3)))


def around(*rods) -> Obstacles:
    low, high = panel_box(PANEL)
    return Obstacles(np.array(low), np.array(high), 5.0, rods, 30.0)


@given(st.tuples(POINT, POINT), st.tuples(POINT, POINT))
def test_pieces_are_as_far_apart_as_points_along_them_tell(one, other):
    p, q = (np.array(end) for end in one)
    r, s = (np.array(end) for end in other)
    shares = np.linspace(0.0, 1.0, 81)[:, None]
    between = np.linalg.norm((p + shares * (q - p))[:, None] - (r + shares * (s - r))[None], axis=2).min()
    needs = 400.0
    lack = lack_from_rods(np.array([[p, q]]), np.array([[r, s]]), np.array([needs]), np.inf)[0]
    step = (np.linalg.norm(q - p) + np.linalg.norm(s - r)) / 80
    assert between - step - 1e-5 <= needs - lack <= between + 1e-5


@given(st.tuples(POINT, POINT))
def test_a_piece_is_as_far_from_a_box_as_points_along_it_tell(one):
    p, q = (np.array(end) for end in one)
    low, high = np.array([-20.0, -10.0, -5.0]), np.array([20.0, 10.0, 5.0])
    along = p + np.linspace(0.0, 1.0, 401)[:, None] * (q - p)
    off = np.linalg.norm(np.maximum(np.maximum(low - along, along - high), 0.0), axis=1).min()
    needs = 300.0
    # The first piece of a chain is not counted.
    lack = lack_from_box(np.array([[[0.0, 0.0, 0.0], p, q]]), low, high, needs)[0]
    assert off - np.linalg.norm(q - p) / 400 - 1e-4 <= needs - lack <= off + 1e-4


def test_the_panel_is_its_covers_too():
    assert panel_box(PANEL) == ((0.0, 0.0, -8.0), (200.0, 140.0, 20.0))
    assert is_in_panel(PANEL, (10.0, 10.0, -8.0))
    assert not is_in_panel(PANEL, (10.0, 10.0, 20.1))


def test_a_tube_that_crosses_another_is_told_of_it_where_it_does():
    line = np.array([[60.0, 40.0, 26.0], [60.0, 40.0, 200.0]])
    other = tube_rods("tube 1", np.array([[0.0, 46.0, 100.0], [150.0, 46.0, 100.0]]), 0.0, 10.0)
    obstacles = around(other)
    assert obstacles.lack(line[None])[0] == pytest.approx(4.0)
    (near,) = obstacles.list_near(line)
    assert (near.what, near.apart, near.needs) == ("tube 1", pytest.approx(6.0), 10.0)
    beside = line + np.array([0.0, -4.1, 0.0])
    assert obstacles.list_near(beside) == ()


def test_a_tube_through_the_panel_is_told_but_not_in_its_own_fitting():
    leaves = np.array([[60.0, 40.0, 20.0], [60.0, 40.0, 120.0], [240.0, 40.0, 120.0], [240.0, 40.0, 20.0]])
    assert around().list_near(leaves) == ()
    through = np.array([[60.0, 40.0, 20.0], [60.0, 40.0, 120.0], [-60.0, 40.0, 120.0], [260.0, 40.0, -60.0]])
    assert [near.what for near in around().list_near(through)] == ["the panel"]
    assert around().lack(through[None])[0] == pytest.approx(5.0)


def test_fittings_and_the_pump_stand_in_the_way():
    rods = dict(list_rods(PANEL, ROUTED))
    assert rods[""].what == "the pump"
    # A G1/4 collar of 18 mm, and half a tube.
    assert rods["block b inlet"].needs == 9.0 + 5.0
    # Stop and insertion, 18 mm, less the rod's round end.
    assert rods["block b inlet"].ends.tolist() == [[[90.0, 20.0, 20.0], [90.0, 20.0, 29.0]]]
    assert rods["drain"].ends[0, 1].tolist() == pytest.approx([145.0, -9.0, rods["drain"].ends[0, 0, 2]])
    passes = np.array([[0.0, 30.0, 40.0], [200.0, 30.0, 40.0]])
    near = {one.what: one for one in around(*rods.values()).list_near(passes)}
    assert near["the pump"].apart == pytest.approx(10.0)
    # Its screw circle's radius, half a screw head of 7.22 mm, and half a tube.
    assert near["the pump"].needs == pytest.approx(38.0 + 3.61 + 5.0)
    # 10 mm beside the fitting of block b's inlet and 11 mm over its rod's end: 14.9 mm, and it needs 14 mm.
    assert set(near) == {"the pump"}
