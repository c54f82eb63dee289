"""Findings from what was measured in a pose: planted ones are found in place, sound ones are not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from geom.printing.measured import PoseMeasure, Roof
from layouts.panel import Panel
from layouts.printing.poses import list_poses
from layouts.printing.roof_shapes import MEETING
from layouts.printing.tried import PartPoses, RoofPlace, TriedPose, fits_room, rank_poses
from layouts.rules.pose_rules import (
    check_islands,
    check_overhangs,
    check_pose,
    check_poses,
    check_roofs,
)
from tests.layouts.sample_routed import sample_panel

AT = (40.0, 30.0, 15.0)


def printed_panel(**printing: object) -> Panel:
    panel = sample_panel()
    made = replace(panel.make, method="printed", closing="one-piece", material="PETG")
    return replace(panel, make=made, printing=replace(panel.printing, **printing))


def tried(name: str, fits: bool = True, **measured: object) -> TriedPose:
    pose = next(pose for pose in list_poses(printed_panel()) if pose.name == name)
    plain = PoseMeasure(pose.up, 25.0, (200.0, 160.0), 30000.0, (), (), 0.0)
    return TriedPose(pose, replace(plain, **measured), fits)


def part_in(made: TriedPose, *others: TriedPose, names: tuple[str, ...] = ()) -> PartPoses:
    named = tuple(RoofPlace(roof.at, names) for roof in made.measure.roofs)
    named += tuple(RoofPlace(at, names) for at in made.measure.islands)
    return PartPoses("panel", made, rank_poses((made, *others), 10.0), named)


def inside(span: float) -> Roof:
    return Roof(AT, span, span * span, inside=True)


def test_sound_part_has_no_findings():
    roofs = (inside(10.0), Roof(AT, 9.0, 200.0, inside=False))
    assert check_poses(printed_panel(), (part_in(tried("on its back", roofs=roofs)),)) == ()


@pytest.mark.parametrize(
    ("span", "severity"), [(10.2, "caution"), (12.5, "caution"), (12.6, "fault"), (20.0, "fault")]
)
def test_roof_too_wide_is_told_where_it_is(span: float, severity: str):
    part = part_in(tried("on its back", roofs=(inside(span),)), names=("channel feed", "port fill G1/4"))
    (finding,) = check_roofs(printed_panel(roofs="flat"), part)
    assert (finding.code, finding.severity) == ("print.roof", severity)
    assert finding.at_mm == AT
    assert finding.features == ("channel feed", "port fill G1/4")
    assert (finding.value, finding.limit) == (span, 10.0)
    assert "the roof over channel feed spans" in finding.text
    assert 'roofs = "auto"' in finding.remedy
    assert '"10 mm" or less' in finding.remedy


def test_roof_names_the_pose_without_it():
    made = tried("on its back", roofs=(inside(20.0),))
    better = tried("on its left edge", height=200.0)
    (finding,) = check_roofs(printed_panel(), part_in(made, better))
    assert 'Print it on its left edge (lies_on = "left" in [printing])' in finding.remedy
    (pose,) = check_pose(printed_panel(), part_in(made, better))
    assert (pose.code, pose.severity) == ("print.pose", "caution")
    assert "has 1 roof fewer over 10 mm inside" in pose.text


def test_support_outside_is_a_note_with_its_area():
    seat = Roof(AT, 50.0, 1900.0, inside=False)
    ledge = Roof((1.0, 2.0, 3.0), 5.0, 100.0, inside=False, carried=False)
    made = tried("on its front", roofs=(seat, ledge), support_mm2=2000.0)
    (finding,) = check_overhangs(printed_panel(), part_in(made, names=("pump seat",)))
    assert (finding.code, finding.severity) == ("print.overhang", "note")
    assert finding.at_mm == AT
    assert finding.value == pytest.approx(20.0)
    assert "20 cm2 outside: pump seat" in finding.text


def test_island_is_told_where_it_starts():
    made = tried("on its back", islands=(AT,))
    (finding,) = check_islands(part_in(made, names=("tank",)))
    assert (finding.code, finding.severity, finding.at_mm) == ("print.island", "caution", AT)
    assert finding.features == ("tank",)


def test_pose_tells_what_another_saves():
    made = tried("on its front", support_mm2=2157.0)
    (finding,) = check_pose(printed_panel(), part_in(made, tried("on its back")))
    assert finding.severity == "note"
    assert "on its back it needs 22 cm2 less support" in finding.text
    assert 'lies_on = "back"' in finding.remedy


def test_pose_is_silent_where_nothing_much_is_saved():
    made = tried("on its left edge", height=200.0, support_mm2=210.0)
    assert check_pose(printed_panel(), part_in(made, tried("on its back"))) == ()


def test_pose_that_does_not_fit_is_a_caution():
    made = tried("on its left edge", fits=False)
    (finding,) = check_pose(printed_panel(), part_in(made, tried("on its back", support_mm2=900.0)))
    assert finding.severity == "caution"
    assert "fits the printer" in finding.text


def test_poses_are_ranked_by_the_weightiest_first():
    worse = [
        tried("on its top edge", height=30.0),
        tried("on its bottom edge", support_mm2=500.0),
        tried("on its left edge", stands=False),
        tried("on its right edge", islands=(AT,)),
        tried("on its front", roofs=(inside(11.0),)),
        tried("on its front", roofs=(inside(20.0),)),
        tried("on its front", roofs=(inside(11.0), inside(10.5))),
        tried("on its front", fits=False),
    ]
    best = tried("on its back")
    assert rank_poses((*reversed(worse), best), 10.0) == (best, *worse)


@pytest.mark.parametrize(("height", "fits"), [(25.0, True), (80.0, True), (80.1, False)])
def test_part_fits_by_quarter_turns(height: float, fits: bool):
    assert fits_room((300.0, 200.0), height, (200.0, 300.0, 80.0)) is fits
    assert not fits_room((300.1, 200.0), height, (200.0, 300.0, 80.0))
    assert fits_room((1e4, 1e4), height, None)


@pytest.mark.published(source="geometry of a T of strips of one width: circle on one side and two corners")
def test_widest_circle_where_channels_join():
    # Touching the far side, and both corners half a width from the middle: r^2 = 1/4 + (1 - r)^2.
    r = 0.625
    assert r**2 == pytest.approx(0.25 + (1 - r) ** 2)
    assert pytest.approx(2 * r) == MEETING
