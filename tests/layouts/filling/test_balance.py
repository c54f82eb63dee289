"""Air left, coolant and nothing else make the wet volume: in any attitude of a shipped panel."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_demos import plan_demo

from geom.wet.raster import raster_wet
from layouts.filling.left import find_left
from layouts.filling.openings import find_openings
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Tilt


@settings(max_examples=12, deadline=None)
@given(right=st.floats(-180.0, 180.0), front=st.floats(-180.0, 180.0))
def test_air_left_and_coolant_are_the_wet_volume(right: float, front: float) -> None:
    """Coolant takes the place of all air that leaves, through some opening; nothing is lost, none is told twice."""
    plan = plan_demo("laser-driver")
    voxels = raster_wet(plan.detail.features, 1.0)
    openings = find_openings(plan.panel, plan.routed, plan.detail.features, voxels)
    tank = np.array([name == "tank" for name in voxels.names])[voxels.owner]
    up = tilted_up(plan.panel.up, Tilt(right, front))
    assert math.hypot(*up) == pytest.approx(1.0)
    left = find_left(voxels, openings, up, tank)
    coolant = math.fsum(volume for _, volume in left.leaves)
    assert left.air_mm3 + left.tank_air_mm3 + coolant == pytest.approx(left.wet_mm3, rel=1e-12)
    assert left.wet_mm3 == voxels.count
    assert sum(pocket.volume_mm3 for pocket in left.air) == pytest.approx(left.air_mm3, rel=1e-12)
    assert sum(pocket.volume_mm3 for pocket in left.coolant) == pytest.approx(left.coolant_mm3, rel=1e-12)
    assert 0.0 <= left.coolant_mm3 <= left.wet_mm3
