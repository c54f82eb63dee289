"""Roofs over the channels of a lying panel: section kept, bridged width, room in the body, and what they cost."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.outline import loop_area
from layouts.panel import Panel, RoofChoice
from layouts.plan import Routed
from layouts.printing.plan_print import plan_print
from layouts.printing.poses import list_poses
from layouts.printing.printed import ChannelRoof, Pose, Printed
from layouts.printing.process import process_of
from layouts.printing.roof_shapes import (
    MEETING,
    NARROWER_MM,
    find_widest_roof,
    has_meeting,
    outline_section,
    shape_roofs,
)
from layouts.rules.roof_rules import check_bridges, note_roofs
from tests.layouts.sample_routed import sample_panel, sample_routed

BACK = Pose("on its back", "back", (0.0, 0.0, 1.0))
FRONT = Pose("on its front", "front", (0.0, 0.0, -1.0))
ALONE = "blocks - radiator"


def one_piece(body: float = 30.0, roofs: RoofChoice = "auto", **printing: Any) -> Panel:
    panel = sample_panel("one-piece")
    return replace(
        panel,
        make=replace(panel.make, body=body),
        printing=replace(panel.printing, roofs=roofs, **printing),
    )


def widened(width: float, depth: float = 9.0) -> Routed:
    """Return the sample without its tank and its Ts, all channels of one width."""
    routed = sample_routed("one-piece")
    return replace(
        routed,
        channels=tuple(
            replace(channel, width=width, depth=depth, junctions=(), ends=(f"a {k}", f"b {k}"))
            for k, channel in enumerate(routed.channels)
        ),
        tank=replace(routed.tank, box=None),
    )


def roof_of(panel: Panel, width: float, depth: float = 9.0, pose: Pose = BACK) -> ChannelRoof:
    deep = replace(panel, channel=replace(panel.channel, width=width, depth=depth))
    routed = widened(width, depth)
    return shape_roofs(deep, replace(routed, channels=routed.channels[:1]), pose)[0]


def test_narrow_roofs_stay_flat_and_covered_bodies_have_none() -> None:
    assert roof_of(one_piece(), 10.0).kind == "flat"
    assert roof_of(one_piece(roofs="flat"), 14.0) == ChannelRoof("feed", "flat", 14.0, 14.0, 0.0, 0.0)
    assert shape_roofs(sample_panel("cord"), sample_routed(), BACK) == ()


@given(width=st.floats(10.1, 18.0), depth=st.floats(9.0, 16.0), kind=st.sampled_from(("pointed", "round")))
@settings(max_examples=15, deadline=None)
def test_section_is_kept_and_what_is_left_is_bridged(width: float, depth: float, kind: RoofChoice) -> None:
    """The area by Green's theorem, the width that is too flat from the slope of the outline."""
    panel = one_piece(40.0, kind)
    roof = roof_of(panel, width, depth)
    section = outline_section(width, depth, roof)
    assert loop_area(section) == pytest.approx(width * depth, rel=1e-9)
    assert max(y for piece in section for _, y in (piece.start, piece.end)) == pytest.approx(
        depth + roof.higher
    )
    assert roof.left <= process_of(panel).bridge - NARROWER_MM + 1e-9
    assert roof.rise <= depth / 2 + roof.higher
    steep = roof.inset * (1.0 if roof.kind == "pointed" else 1.0 - math.sqrt(0.5))
    assert roof.left == pytest.approx(width - 2 * steep)


def test_pointed_roof_of_a_14_mm_channel_by_hand() -> None:
    """2.075 mm off each edge at 45 degrees: 2.075^2 mm2 of section, over 14 mm."""
    roof = roof_of(one_piece(), 14.0)
    assert (roof.kind, roof.left) == ("pointed", pytest.approx(9.85))
    assert (roof.inset, roof.rise) == (pytest.approx(2.075), pytest.approx(2.075))
    assert_as_printed(roof.higher, "0.308")


@pytest.mark.published(
    source="Stanford lab64, FDM rules of thumb, Overhangs (https://lab64.stanford.edu/hiddenoutdated-items/"
    "fdm-rules-of-thumb): 45 degrees"
)
def test_edges_lean_as_far_as_overhangs_may() -> None:
    roof = roof_of(one_piece(), 16.0)
    assert_as_printed(math.degrees(math.atan2(roof.inset, roof.rise)), "45")


def test_round_roof_gives_way_to_a_pointed_one_where_two_quarters_do_not_fit() -> None:
    round_one, wide = roof_of(one_piece(roofs="round"), 12.0), roof_of(one_piece(roofs="round"), 16.0)
    assert (round_one.kind, wide.kind) == ("round", "pointed")
    pointed = roof_of(one_piece(), 12.0)
    assert round_one.higher > 3 * pointed.higher
    assert round_one.drop_share < pointed.drop_share < 1.0


def test_t_is_bridged_over_its_largest_circle() -> None:
    """It touches one side and two corners: centre a quarter of the half width off the middle."""
    routed = sample_routed("one-piece")
    routed = replace(routed, channels=tuple(replace(c, width=12.0) for c in routed.channels))
    roofs = {roof.channel: roof for roof in shape_roofs(one_piece(), routed, BACK)}
    assert roofs["pump - blocks"].span == pytest.approx(15.0)
    assert roofs["pump - blocks"].left == pytest.approx(
        12.0 * MEETING - 2 * MEETING * roofs["pump - blocks"].inset
    )
    assert roofs["pump - blocks"].left <= 10.0
    half, off = 1.0, 0.25
    assert half + off == pytest.approx(math.hypot(half, half - off)) == pytest.approx(MEETING * half)


def test_drain_in_line_with_the_feed_is_no_t_and_one_across_is() -> None:
    routed = sample_routed("one-piece")
    feed, drain = routed.channel("feed"), routed.channel("drain")
    assert not has_meeting(routed, feed)
    assert not has_meeting(routed, drain)
    (x, y), run = drain.runs[0].points[0], drain.runs[0]
    turned = replace(drain, runs=(replace(run, points=((x - 40.0, y), (x, y))),))
    assert has_meeting(replace(routed, channels=(feed, turned)), turned)
    assert has_meeting(replace(routed, channels=(feed, turned)), feed)


def test_body_without_room_keeps_a_part_and_tells_what_it_lacks() -> None:
    """Planted: 0.15 mm over a channel 9 mm deep whose roof wants more."""
    panel = one_piece(9.0 + 2 * (2.0 + 0.15))
    panel = replace(panel, pump=replace(panel.pump, seat_depth=0.0))
    routed = widened(14.0)
    routed = replace(routed, ports=())
    roof = shape_roofs(panel, routed, BACK)[0]
    assert roof.higher == pytest.approx(0.15)
    assert roof.inset**2 / 14.0 == pytest.approx(0.15)
    assert 10.0 < roof.left < 14.0
    assert roof.higher + roof.short == pytest.approx(2.075**2 / 14.0)
    found = check_bridges(panel, routed, Printed(BACK, shape_roofs(panel, routed, BACK)))
    assert {finding.features for finding in found} == {(f"channel {c.name}",) for c in routed.channels}
    for finding in found:
        (name,) = finding.features
        channel = routed.channel(name.removeprefix("channel "))
        assert finding.at_mm is not None
        assert finding.at_mm[2] == pytest.approx((panel.make.body + 9.0) / 2 + roof.higher, abs=0.1)
        # On the middle of a run of that channel.
        assert any(
            min(a[0], b[0]) <= finding.at_mm[0] <= max(a[0], b[0])
            and min(a[1], b[1]) <= finding.at_mm[1] <= max(a[1], b[1])
            for run in channel.runs
            for a, b in pairwise(run.points)
        )
        assert 'body = "14 mm"' in finding.remedy
    roomy = replace(panel, make=replace(panel.make, body=14.0))
    assert all(one.left <= 10.0 for one in shape_roofs(roomy, routed, BACK))


def test_seat_and_spot_faces_take_their_depth_from_the_room() -> None:
    panel, routed = one_piece(15.0), sample_routed("one-piece")
    routed = replace(routed, channels=tuple(replace(c, width=14.0) for c in routed.channels))
    seated = replace(panel, pump=replace(panel.pump, seat_depth=0.9))
    low = shape_roofs(seated, routed, BACK)[0]
    high = shape_roofs(seated, routed, FRONT)[0]
    assert routed.channels[0].name == "feed"
    assert low.short == pytest.approx(high.higher - low.higher, abs=1e-6)
    assert low.higher <= (15.0 - 9.0) / 2 - 2.0 - 0.9 + 1e-9
    assert high.short == 0.0


def test_widest_roof_prints_and_the_next_does_not() -> None:
    panel = one_piece(20.0)
    widest = find_widest_roof(panel)
    assert 15.0 < widest < 30.0
    routed = sample_routed("one-piece")

    def short(width: float) -> bool:
        wide = replace(routed, channels=tuple(replace(c, width=width) for c in routed.channels))
        return any(roof.left > 10.0 for roof in shape_roofs(panel, wide, BACK))

    assert not short(widest)
    # What is drawn narrower than the bridge is used up first.
    assert short(widest + 0.5)
    assert find_widest_roof(one_piece(roofs="flat")) == 10.0
    assert find_widest_roof(one_piece(lies_on="bottom")) == math.inf
    assert find_widest_roof(sample_panel("cord")) == math.inf


def test_standing_a_roof_is_as_wide_as_the_channel_is_deep_and_tilted_there_is_none() -> None:
    panel = one_piece(tilts=(45.0,))
    poses = {pose.name: pose for pose in list_poses(panel)}
    standing = shape_roofs(panel, widened(14.0), poses["on its bottom edge"])
    assert {(roof.kind, roof.span) for roof in standing} == {("flat", 9.0)}
    tilted = shape_roofs(panel, widened(14.0), poses["on its back, tilted 45 deg onto its bottom edge"])
    assert {roof.span for roof in tilted} == {0.0}


def test_note_tells_height_and_friction() -> None:
    panel, routed = one_piece(), widened(14.0)
    roofs = shape_roofs(panel, routed, BACK)
    (note,) = note_roofs(panel, routed, Printed(BACK, roofs))
    share = (1.0 - roofs[0].drop_share) * 100
    assert f"{share:.1f} % less" in note.text
    assert "0.31 mm higher" in note.text
    assert note.severity == "note"
    assert note_roofs(panel, routed, Printed(BACK, ())) == ()
    # Roofs that are as good as flat are not worth a note.
    flat = tuple(replace(roof, higher=0.0015, drop_share=0.9995) for roof in roofs)
    assert note_roofs(panel, routed, Printed(BACK, flat)) == ()


def test_round_roofs_that_become_pointed_are_told() -> None:
    panel, routed = one_piece(roofs="round"), widened(16.0)
    roofs = shape_roofs(panel, routed, BACK)
    assert {roof.kind for roof in roofs} == {"pointed"}
    told, shape = note_roofs(panel, routed, Printed(BACK, roofs))
    assert (told.code, told.severity) == ("print.shape", "note")
    assert "have a pointed roof where roofs are to be round" in told.text
    assert told.features == tuple(f"channel {roof.channel}" for roof in roofs)
    assert "stand up to" in shape.text
    # Where they may be round, or were asked to be pointed, nothing is told of it.
    assert len(note_roofs(one_piece(), routed, Printed(BACK, roofs))) == 1
    narrow = widened(12.0)
    assert len(note_roofs(panel, narrow, Printed(BACK, shape_roofs(panel, narrow, BACK)))) == 1


def test_milled_panel_is_not_printed() -> None:
    assert plan_print(sample_panel("cord"), sample_routed()) is None
