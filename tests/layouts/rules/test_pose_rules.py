"""Findings from what was measured in a pose: planted ones are found in place, sound ones are not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from geom.printing.hollows import Cup
from geom.printing.measured import PoseMeasure, Roof
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.poses import choose_pose, list_poses
from layouts.printing.printed import Printed, Split
from layouts.printing.printer_room import fits_room
from layouts.printing.roof_shapes import MEETING
from layouts.printing.tried import PartPoses, RoofPlace, TriedPose, rank_poses, wide_roofs
from layouts.rules.cup_rules import check_cups
from layouts.rules.laying import Laying
from layouts.rules.pose_rules import (
    check_fit,
    check_islands,
    check_overhangs,
    check_pose,
    check_poses,
    check_roofs,
    check_stand,
)
from layouts.rules.roof_rules import check_bridges
from tests.layouts.printing.test_poses import with_room
from tests.layouts.printing.test_roof_shapes import one_piece, widened
from tests.layouts.sample_routed import sample_panel, sample_routed

AT = (40.0, 30.0, 15.0)


def printed_panel(**printing: object) -> Panel:
    panel = sample_panel()
    made = replace(panel.make, method="printed", closing="one-piece", material="PETG")
    return replace(panel, make=made, printing=replace(panel.printing, **printing))


def laying(**printing: object) -> Laying:
    pose = list_poses(printed_panel())[0]
    return Laying(printed_panel(**printing), sample_routed("one-piece"), Printed(pose))


def deepened(routed: Routed, width: float, depth: float) -> Routed:
    return replace(routed, channels=tuple(replace(one, width=width, depth=depth) for one in routed.channels))


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
    assert (
        check_poses(
            laying().panel, laying().routed, laying().printed, (part_in(tried("on its back", roofs=roofs)),)
        )
        == ()
    )


@pytest.mark.parametrize(
    ("span", "severity"), [(10.2, "caution"), (12.5, "caution"), (12.6, "fault"), (20.0, "fault")]
)
def test_roof_too_wide_is_told_where_it_is(span: float, severity: str):
    part = part_in(
        tried("on its back", roofs=(inside(span),)), names=("channel blocks - radiator", "port fill G1/4")
    )
    base = laying(roofs="flat")
    (finding,) = check_roofs(replace(base, routed=deepened(base.routed, 14.0, 9.0)), part)
    assert (finding.code, finding.severity) == ("print.roof", severity)
    assert finding.at_mm == AT
    assert finding.features == ("channel blocks - radiator", "port fill G1/4")
    assert (finding.value, finding.limit) == (span, 10.0)
    assert "the roof over channel blocks - radiator spans" in finding.text
    assert 'roofs = "auto"' in finding.remedy
    assert '"10 mm" or less' in finding.remedy


def test_roof_names_the_pose_without_it():
    made = tried("on its back", roofs=(inside(20.0),))
    better = tried("on its left edge", height=200.0)
    (finding,) = check_roofs(laying(), part_in(made, better))
    assert 'Print it on its left edge: set lies_on = "left" in [printing]' in finding.remedy
    (pose,) = check_pose(laying(), part_in(made, better))
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
    (finding,) = check_pose(laying(), part_in(made, tried("on its back")))
    assert finding.severity == "note"
    assert "on its back it needs 22 cm2 less support" in finding.text
    assert 'lies_on = "back"' in finding.remedy


def test_pose_is_silent_where_nothing_much_is_saved():
    made = tried("on its left edge", height=200.0, support_mm2=210.0)
    assert check_pose(laying(), part_in(made, tried("on its back"))) == ()


def test_part_that_does_not_fit_as_it_is_made_is_a_fault():
    made = tried("on its left edge", fits=False, height=300.0)
    room = Laying(with_room(printed_panel(), 250.0, 200.0, 200.0), laying().routed, laying().printed)
    part = part_in(made, tried("on its back", support_mm2=900.0))
    (finding,) = check_fit(room, part)
    assert (finding.code, finding.severity, finding.features) == ("print.room", "fault", ("panel",))
    assert (finding.value, finding.limit) == (300.0, 200.0)
    assert 'lies_on = "back"' in finding.remedy
    assert check_pose(room, part) == ()
    (none,) = check_fit(room, part_in(made, tried("on its back", fits=False, height=400.0)))
    assert "larger printer" in none.remedy
    assert check_fit(room, part_in(tried("on its back"))) == ()
    assert check_poses(room.panel, room.routed, room.printed, (part,))[0] == finding


def test_remedy_for_a_standing_panel_is_its_depth():
    """On an edge a channel's roof is as wide as the channel is deep: a narrower one changes nothing."""
    part = part_in(tried("on its left edge", roofs=(inside(20.0),)), names=("channel feed",))
    deep = replace(laying(), routed=deepened(laying().routed, 9.0, 12.0))
    (standing,) = check_roofs(deep, part)
    assert 'Set depth = "10 mm" or less in [channel]' in standing.remedy
    assert "width" not in standing.remedy
    (shallow,) = check_roofs(laying(), part)
    assert "depth" not in shallow.remedy


def test_flat_roofs_are_shaped_only_over_a_lying_panel():
    (lying,) = check_roofs(laying(roofs="flat"), part_in(tried("on its back", roofs=(inside(20.0),))))
    (standing,) = check_roofs(laying(roofs="flat"), part_in(tried("on its left edge", roofs=(inside(20.0),))))
    assert 'roofs = "auto"' in lying.remedy
    assert "roofs" not in standing.remedy


def test_a_channel_that_is_narrow_enough_is_not_to_be_narrower():
    part = part_in(tried("on its back", roofs=(inside(11.6),)), names=("channel blocks - radiator",))
    for width, told in ((10.0, False), (12.0, True)):
        base = laying(roofs="flat")
        (finding,) = check_roofs(replace(base, routed=deepened(base.routed, width, 9.0)), part)
        assert ("or less" in finding.remedy) is told


def test_a_pose_that_keeps_the_widest_roof_is_no_remedy():
    """One roof fewer of the same width, or another's: what was told is as wide there."""
    part = part_in(
        tried("on its back", roofs=(inside(20.0), inside(20.0))),
        tried("on its left edge", roofs=(inside(20.0),), height=200.0),
    )
    (finding,) = check_roofs(laying(), part)
    assert "lies_on" not in finding.remedy
    (pose,) = check_pose(laying(), part)
    assert "has 1 roof fewer" in pose.text


def test_the_plan_knows_the_pose_whose_roofs_are_shaped():
    """Channels 13 mm wide and deep with flat roofs, on an edge: on the back with shaped roofs none is too wide."""
    panel = with_room(one_piece(roofs="flat", body=36.0), lies_on="left")
    panel = replace(panel, channel=replace(panel.channel, depth=13.0))
    made = tried("on its left edge", roofs=(inside(13.0), inside(13.0)), height=200.0)
    part = part_in(made, tried("on its right edge", roofs=(inside(13.0),), height=200.0))
    base = Laying(panel, widened(13.0, 13.0), Printed(made.pose))
    (finding,) = check_roofs(base, part)
    assert finding.remedy.startswith(
        'Print it on its back: set lies_on = "back" and roofs = "auto" in [printing]'
    )
    assert check_pose(base, part) == ()
    cured = replace(panel, printing=replace(panel.printing, lies_on="back", roofs="auto"))
    assert check_bridges(cured, base.routed, Printed(choose_pose(cured, base.routed))) == ()


def test_roofs_alike_are_one_finding():
    made = tried("on its back", roofs=(inside(12.0), replace(inside(12.0), at=(1.0, 2.0, 3.0)), inside(11.0)))
    named = (
        RoofPlace(AT, ("channel feed",)),
        RoofPlace((1.0, 2.0, 3.0), ("channel drain", "port drain G1/4")),
    )
    alike, other = check_roofs(laying(), replace(part_in(made), named=named))
    assert "2 roofs over channel feed and channel drain span 12 mm" in alike.text
    assert alike.features == ("channel feed", "channel drain", "port drain G1/4")
    assert "the roof over channel feed spans 11 mm" in other.text
    wide = tried("on its back", roofs=(inside(13.0), replace(inside(13.0), at=(1.0, 2.0, 3.0))))
    assert [one.at_mm for one in check_roofs(laying(), part_in(wide))] == [AT, (1.0, 2.0, 3.0)]


def test_part_on_an_edge_is_told_what_holds_it():
    edge = tried("on its left edge", stands=False, height=200.0)
    (finding,) = check_stand(laying(), part_in(edge, tried("on its back")))
    assert (finding.code, finding.severity, finding.features) == ("print.stand", "caution", ("panel",))
    assert "support along its whole lower face" in finding.remedy
    assert 'lies_on = "back"' in finding.remedy
    (alone,) = check_stand(laying(), part_in(edge, tried("on its back", roofs=(inside(20.0),))))
    assert "lies_on" not in alone.remedy
    assert check_stand(laying(), part_in(tried("on its back"))) == ()
    assert finding in check_poses(
        laying().panel, laying().routed, laying().printed, (part_in(edge, tried("on its back")),)
    )


def test_support_that_stands_on_the_part_is_told_so():
    low = Roof(AT, 50.0, 1900.0, inside=False, over_bed=False)
    bed = Roof((1.0, 2.0, 3.0), 50.0, 1900.0, inside=False)
    both = replace(
        part_in(tried("on its front", roofs=(low, bed))), named=(RoofPlace(AT, ("channel feed",)),)
    )
    (finding,) = check_overhangs(printed_panel(), both)
    assert "on the bed, and on the part itself under channel feed" in finding.remedy
    (alone,) = check_overhangs(printed_panel(), part_in(tried("on its front", roofs=(low,))))
    assert "on the bed only" not in alone.remedy
    (flat,) = check_overhangs(printed_panel(), part_in(tried("on its front", roofs=(bed,))))
    assert "on the bed only" in flat.remedy


def test_keys_that_worsen_the_other_piece_of_a_split_are_not_told():
    """Both pieces are laid alike by the keys: what saves one may cost the other, which the slicer's turn does not."""
    split = Split("x", 100.0, (), 0.0, 0.0, ())
    left = replace(
        part_in(tried("on its front", support_mm2=2157.0), tried("on its back")), part="panel left"
    )
    bad = tried("on its back", roofs=(inside(20.0),))
    worse = replace(part_in(tried("on its front"), bad), part="panel right")
    alike = replace(part_in(tried("on its front"), tried("on its back")), part="panel right")
    base = laying()
    told = []
    for mate in (worse, alike):
        both = replace(base, printed=replace(base.printed, split=split), parts=(left, mate))
        told.append(check_pose(both, left)[0].remedy)
    assert told[0] == "Turn its mesh in the slicer so that it lies on its back."
    assert 'lies_on = "back"' in told[1]


def test_one_roof_that_falls_in_is_worse_than_two_that_sag():
    """One of 32 mm on its back, two of 10.7 mm on an edge: the edge is told, with what it spans."""
    made = tried("on its back", roofs=(inside(32.0),))
    edge = tried("on its left edge", roofs=(inside(10.7), inside(10.7)), height=200.0)
    assert rank_poses((made, edge), 10.0)[0] is edge
    (finding,) = check_pose(laying(), part_in(made, edge))
    assert finding.severity == "caution"
    assert "it spans 10.7 mm inside at most, not 32 mm" in finding.text


def test_a_tilted_pose_is_named_by_both_keys_where_the_plan_follows_them():
    """Flat roofs of 14 mm: only a tilt does without them, so the plan takes it where the file allows it."""
    flat = Laying(with_room(one_piece(roofs="flat")), widened(14.0), laying().printed)
    keyed = with_room(one_piece(roofs="flat"), lies_on="front", tilts=(45.0,))
    pose = choose_pose(keyed, flat.routed)
    assert (pose.lies_on, pose.tilt_deg) == ("front", 45.0)
    best = replace(tried("on its front"), pose=pose)
    assert flat.cure("panel", best).text == (
        f'print it {pose.name}: set lies_on = "front" and tilts = ["45 deg"] in [printing]'
    )
    # Where nothing is gained by its estimate the plan would stay as it is, whatever the keys say.
    assert laying().cure("panel", best).text == f"turn its mesh in the slicer so that it lies {pose.name}"


def test_a_cover_is_turned_by_hand():
    panel = replace(sample_panel(), make=replace(sample_panel().make, method="printed", material="PETG"))
    covered = Laying(panel, sample_routed(), Printed(list_poses(panel)[0]))
    made = tried("on its front", roofs=(inside(20.0),), support_mm2=2157.0)
    part = replace(part_in(made, tried("on its back")), part="cover")
    for finding in (*check_roofs(covered, part), *check_pose(covered, part)):
        assert "urn its mesh in the slicer so that it lies on its back" in finding.remedy
        assert "lies_on" not in finding.remedy


def test_hollow_that_sucks_is_told_with_the_pose_that_opens_it():
    cups = (Cup((4.0, 5.0, 6.0), 300.0, 12.0, True), Cup((1.0, 1.0, 1.0), 200.0, 9.0, False))
    made = replace(tried("on its back"), cups=cups)
    part = part_in(made, replace(tried("on its front"), cups=cups), tried("on its left edge"))
    (finding,) = check_cups(laying(), part)
    assert (finding.code, finding.severity, finding.at_mm) == ("print.drain", "caution", (4.0, 5.0, 6.0))
    assert "shut off by the bed over 12 mm of height, and 1 more" in finding.text
    assert 'set lies_on = "left"' in finding.remedy
    assert part.tried[0].pose.name == "on its left edge"
    (pose,) = check_pose(laying(), part)
    assert "shuts off 2 hollows fewer" in pose.text
    assert check_cups(laying(), part_in(tried("on its back"))) == ()


def test_hollow_that_sucks_is_not_cured_by_a_roof_that_falls():
    made = replace(tried("on its back"), cups=(Cup((4.0, 5.0, 6.0), 300.0, 12.0, False),))
    part = part_in(
        made, tried("on its left edge", roofs=(inside(20.0),)), tried("on its top edge", fits=False)
    )
    (finding,) = check_cups(laying(), part)
    assert finding.remedy.startswith("Add a hole of 3.5 mm to it in the slicer where it is deepest")
    assert "plug the hole" in finding.remedy


def test_hollow_that_sucks_is_told_without_exponents():
    made = replace(tried("on its back"), cups=(Cup((4.0, 5.0, 6.0), 12345.6, 1234.0, False),))
    (finding,) = check_cups(laying(), part_in(made))
    assert "a hollow of 12300 mm2" in finding.text
    assert "over 1230 mm of height" in finding.text


@pytest.mark.parametrize(("over", "wide"), [(0.049, False), (0.051, True)])
def test_one_limit_inside_and_outside(over: float, wide: bool):
    measure = tried("on its back", roofs=(inside(10.0 + over),)).measure
    assert bool(wide_roofs(measure, 10.0)) is wide
    assert Roof(AT, 10.0 + over, 100.0, inside=False).needs_support(10.0) is wide


def test_poses_are_ranked_by_the_weightiest_first():
    worse = [
        tried("on its top edge", height=30.0),
        tried("on its bottom edge", support_mm2=500.0),
        tried("on its left edge", stands=False),
        replace(tried("on its right edge"), cups=(Cup(AT, 300.0, 12.0, True),)),
        replace(tried("on its right edge", islands=(AT,)), cups=(Cup(AT, 300.0, 12.0, True),)),
        tried("on its front", roofs=(inside(11.0),)),
        tried("on its front", roofs=(Roof(AT, 11.2, 100.0, inside=True), Roof(AT, 10.8, 21.0, inside=True))),
        tried("on its front", roofs=(inside(11.0), inside(10.8))),
        tried("on its front", roofs=(inside(20.0),)),
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
