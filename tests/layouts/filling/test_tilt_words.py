"""Tilts in words: of a panel that stands by where it leans, of one that lies flat by the edge that is lifted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layouts.filling.tilt_words import name_side, name_tilt, say_tilt
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Tilt
from tests.layouts.sample_routed import sample_panel

PANEL = sample_panel()
FACE_UP, FACE_DOWN = (replace(PANEL, up=(0.0, 0.0, z)) for z in (1.0, -1.0))
EDGES = {"left": (-1, 0), "right": (1, 0), "lower": (0, -1), "upper": (0, 1)}


def test_a_panel_that_stands():
    assert name_tilt(PANEL, Tilt(15.0, -7.5)) == "15° to the right and 7.5° backwards"
    assert name_tilt(PANEL, Tilt(-15.0, 0.0)) == "15° to the left"
    assert name_tilt(PANEL, Tilt(0.0, 0.0)) == "as installed"
    assert say_tilt(PANEL, Tilt(0.0, 30.0)) == "tilt the panel by 30° forwards"


def test_a_panel_that_lies_flat():
    """Backwards is where its upper edge lies when it lies on its back, and its lower edge when on its front."""
    assert say_tilt(FACE_UP, Tilt(0.0, 30.0)) == "lift the panel's upper edge by 30°"
    assert say_tilt(FACE_DOWN, Tilt(0.0, -30.0)) == "lift the panel's upper edge by 30°"
    assert say_tilt(FACE_UP, Tilt(15.0, -7.5)) == "lift the panel's left edge by 15° and lower edge by 7.5°"
    assert name_tilt(FACE_UP, Tilt(-2.0, 0.0)) == "right edge lifted by 2°"
    assert say_tilt(FACE_DOWN, Tilt(0.0, 90.0)) == "stand the panel on its upper edge"
    assert name_tilt(FACE_DOWN, Tilt(0.0, 90.0)) == "on its upper edge"


@pytest.mark.parametrize("panel", [FACE_UP, FACE_DOWN])
@pytest.mark.parametrize("tilt", [Tilt(9.0, 0.0), Tilt(-9.0, 0.0), Tilt(0.0, 9.0), Tilt(0.0, -9.0)])
def test_the_edge_that_is_lifted_stands_highest(panel, tilt):
    """By hand: heights of the middles of the edges of a square along what is up once it is tilted."""
    x, y, _ = tilted_up(panel.up, tilt)
    highest = max(EDGES, key=lambda edge: x * EDGES[edge][0] + y * EDGES[edge][1])
    assert say_tilt(panel, tilt) == f"lift the panel's {highest} edge by 9°"
    assert name_side(panel, tilt) == f"{highest} edge up"
