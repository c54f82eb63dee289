"""How a panel may lie, and the plan's choice: unit vectors, names, what each pose asks by closed forms."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.frame import INTO
from layouts.panel import Panel
from layouts.printing.poses import ON_FACE, choose_pose, list_poses, plan_pose
from tests.layouts.printing.test_roof_shapes import BACK, one_piece, widened
from tests.layouts.sample_routed import sample_panel, sample_routed

ROOM = (400.0, 300.0, 300.0)


def with_room(panel: Panel, *room: float, **printing: Any) -> Panel:
    made = replace(panel, make=replace(panel.make, room=room or ROOM))
    return replace(made, printing=replace(made.printing, **printing))


@given(tilt=st.floats(1.0, 89.0))
@settings(max_examples=20, deadline=None)
def test_tilted_poses_are_all_ways_onto_an_edge(tilt: float) -> None:
    poses = list_poses(one_piece(tilts=(tilt,)))
    ups = np.array([pose.up for pose in poses])
    assert np.linalg.norm(ups, axis=1) == pytest.approx(np.ones(len(poses)))
    assert len({pose.name for pose in poses}) == len(poses)
    # Six faces, each tilted four ways; at 45 degrees two of these come to the same.
    assert len(poses) == 6 + (12 if math.isclose(tilt, 45.0, abs_tol=1e-4) else 24)
    for pose in poses[6:]:
        assert math.degrees(math.acos(np.dot(pose.up, INTO[pose.lies_on]))) == pytest.approx(tilt)
        assert np.count_nonzero(np.abs(pose.up) > 1e-12) == 2


def test_half_right_tilts_come_twice_and_are_told_once() -> None:
    poses = list_poses(one_piece(tilts=(45.0,)))
    assert len(poses) == 18
    assert len({tuple(np.round(pose.up, 6)) for pose in poses}) == 18


def test_each_face_has_all_of_its_tilts_when_it_is_asked_for() -> None:
    """Half right a tilted pose lies on either of two faces: on each it counts."""
    panel = one_piece(tilts=(45.0,))
    for face in ON_FACE:
        poses = list_poses(panel, face)
        assert len(poses) == 5
        assert {pose.lies_on for pose in poses} == {face}
    routed = widened(14.0)
    asked = with_room(one_piece(roofs="flat"), 400.0, 300.0, 300.0, lies_on="right", tilts=(45.0,))
    assert {pose.lies_on for pose in list_poses(asked, "right")} == {"right"}
    # Standing, 30 mm of body and 200 mm of width are too high for this printer; half right they fit.
    low = replace(asked, make=replace(asked.make, room=(400.0, 300.0, 190.0)))
    assert choose_pose(low, routed).tilt_deg == 45.0


def test_height_and_fit_of_a_tilted_box() -> None:
    """200 x 140 x 30 mm tilted by 30 degrees about its lower edge."""
    panel = with_room(one_piece(30.0, tilts=(30.0,)), 250.0, 250.0, 100.0)
    pose = next(p for p in list_poses(panel) if p.name == "on its back, tilted 30 deg onto its bottom edge")
    planned = plan_pose(panel, widened(9.0), pose)
    assert planned.height == pytest.approx(140.0 * 0.5 + 30.0 * math.sqrt(0.75))
    assert planned.fits
    tight = replace(panel, make=replace(panel.make, room=(250.0, 250.0, 95.0)))
    assert not plan_pose(tight, widened(9.0), pose).fits


def test_lying_is_chosen_while_roofs_can_be_shaped_and_standing_where_they_may_not() -> None:
    routed = widened(14.0)
    assert choose_pose(with_room(one_piece()), routed) == BACK
    assert choose_pose(with_room(one_piece(roofs="flat")), routed).lies_on in (
        "top",
        "bottom",
        "left",
        "right",
    )
    # Too low a printer: it lies, and the roofs are told.
    low = choose_pose(with_room(one_piece(roofs="flat"), 400.0, 300.0, 80.0), routed)
    assert low == BACK


def test_named_face_is_kept_and_tilted_only_where_that_cures_roofs() -> None:
    routed = widened(14.0)
    tilts = (45.0,)
    assert choose_pose(with_room(one_piece(), lies_on="front", tilts=tilts), routed).name == "on its front"
    flat = choose_pose(with_room(one_piece(roofs="flat"), lies_on="front", tilts=tilts), routed)
    assert (flat.lies_on, flat.tilt_deg) == ("front", 45.0)
    assert choose_pose(with_room(one_piece(roofs="flat"), lies_on="left"), routed).name == "on its left edge"


def test_tank_hangs_over_its_shorter_side_in_each_pose() -> None:
    """A pocket 70 x 35 x 13 mm."""
    panel, routed = with_room(one_piece()), sample_routed("one-piece")
    spans = {
        pose.name: [roof.span for roof in plan_pose(panel, routed, pose).roofs if roof.name == "tank"]
        for pose in list_poses(panel)
    }
    assert spans["on its back"] == [35.0]
    assert spans["on its bottom edge"] == spans["on its left edge"] == [13.0]


def test_seat_on_the_bed_and_open_pockets_of_a_body_need_support() -> None:
    panel = replace(sample_panel("cord"), printing=one_piece().printing)
    routed = sample_routed()
    planned = {pose.lies_on: plan_pose(panel, routed, pose) for pose in list_poses(panel)}
    assert planned["front"].support_mm2 == pytest.approx(math.pi / 4 * panel.pump.seat_diameter**2)
    assert planned["back"].support_mm2 == pytest.approx(70.0 * 35.0)
    assert planned["bottom"].support_mm2 == pytest.approx(70.0 * 13.0)
    assert all(one.roofs == () for one in planned.values())
