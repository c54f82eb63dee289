"""Planted faults of milling: each found, at its place; and the guides' limits."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from geom.features import Detail, Feature, Prism, Track
from geom.findings import Finding
from geom.outline import outline_circle, outline_rectangle
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.detail import detail_panel
from layouts.milling.plan_milling import plan_milling
from layouts.panel import Panel
from layouts.rules.cutter_rules import (
    check_cutter,
    check_milled_floors,
    check_radius,
    check_reach,
)
from layouts.rules.findings import find_rule
from tests.layouts.milling.sample_sheet import THICK, body, bore, cut, pocket, polygon, sheet_panel, slot
from tests.layouts.sample_routed import sample_panel, sample_routed

GUIDE = "CNC machined parts, design guidelines, https://neptunelabs.us/cnc-machined-parts: "
BASICS = "DFM basics for CNC parts, rules of thumb, https://fenvaprecision.com/zh/post-cnc-dfm-basics: "
MILLING = "Basic design guide for CNC milling, https://www.zekes3d.com/basic-design-guide-for-cnc-milling/: "


def check(panel: Panel, *features: Feature, thick: float = THICK) -> tuple[Finding, ...]:
    """Return what all rules say of a body with these cuts."""
    return check_detail(panel, body(*features, thick=thick))


def check_detail(panel: Panel, detail: Detail) -> tuple[Finding, ...]:
    milled = plan_milling(panel, detail)
    return (
        *check_cutter(panel, milled),
        *check_radius(panel, milled),
        *check_reach(panel, milled),
        *check_milled_floors(panel, detail, milled),
    )


def only(found: tuple[Finding, ...], code: str, severity: str) -> Finding:
    assert [(f.code, f.severity) for f in found] == [(code, severity)]
    (finding,) = found
    assert finding.source == find_rule(code).source
    assert finding.text.endswith(".")
    assert finding.remedy.endswith(".")
    assert finding.at_mm is not None
    return finding


def tank(corner: float, depth: float = 12.0) -> Feature:
    return pocket("tank", (outline_rectangle(20, 20, 90, 60, corner),), depth)


def groove(width: float) -> Feature:
    return cut("groove 1", "groove", Track(outline_rectangle(20, 20, 90, 60, 9.0), True, width, 0.0, 1.5))


def test_the_sample_is_clean():
    panel, routed = sample_panel(), sample_routed()
    gaps = clearances_of(panel)
    detail = detail_panel(panel, routed, close_panel(panel, routed, gaps), gaps)
    assert check_detail(panel, detail) == ()


def test_a_printed_panel_is_not_asked():
    panel = sheet_panel()
    printed = replace(panel, make=replace(panel.make, method="printed"))
    assert check(printed, slot("channel a", ((20, 40), (90, 40)), 3)) == ()


def test_a_channel_narrower_than_the_cutter():
    finding = only(check(sheet_panel(), slot("channel a", ((20, 40), (90, 40)), 5.5)), "make.cutter", "fault")
    assert finding.features == ("channel a",)
    assert finding.value == pytest.approx(5.5, abs=0.02)
    assert finding.limit == 6.0
    assert 20 <= finding.at_mm[0] <= 90
    assert finding.at_mm[1:] == pytest.approx((40.0, 9.0), abs=0.1)
    assert "5.5 mm wide" in finding.text
    assert "cutter to one of 5.5 mm or less in [make]" in finding.remedy
    assert 'width = "6 mm"' in finding.remedy
    assert check(sheet_panel(5.0), slot("channel a", ((20, 40), (90, 40)), 5.5)) == ()


def test_alike_channels_are_one_finding():
    found = check(
        sheet_panel(),
        slot("channel a", ((20, 30), (90, 30)), 5.5),
        slot("channel b", ((20, 45), (90, 45)), 5.5),
        slot("channel c", ((20, 60), (90, 60)), 5.0),
    )
    assert [(f.code, f.features) for f in found] == [
        ("make.cutter", ("channel c",)),
        ("make.cutter", ("channel a", "channel b")),
    ]


def test_a_way_between_posts_that_the_cutter_does_not_pass():
    posts = (outline_circle((43.0, 40.0), 4.0), outline_circle((43.0 + 8 + 5.2, 40.0), 4.0))
    feature = pocket("tank", (outline_rectangle(20, 20, 90, 60, 6.0),), 12.0, posts)
    finding = only(check(sheet_panel(), feature), "make.cutter", "fault")
    assert finding.at_mm == pytest.approx((49.6, 40.0, 12.0), abs=0.1)
    assert finding.value == pytest.approx(5.2, abs=0.02)
    assert "[tank]" in finding.remedy


def test_a_groove_that_no_cutter_at_hand_goes_into():
    panel = sheet_panel(6.0, ((6.0, None), (3.0, None)))
    finding = only(check(panel, groove(2.8)), "make.cutter", "fault")
    assert (finding.features, finding.limit) == (("groove 1",), 3.0)
    assert "cutters in [milling]" in finding.remedy
    at = finding.at_mm
    # On its middle line.
    assert min(abs(at[0] - 20), abs(at[0] - 90), abs(at[1] - 20), abs(at[1] - 60)) < 0.1
    assert check(sheet_panel(6.0, ((6.0, None), (2.0, None))), groove(2.8)) == ()


def test_a_sharp_corner_is_a_fault_at_the_corner():
    feature = pocket("tank", (polygon((20, 20), (90, 20), (90, 60), (20, 60)),), 12.0)
    finding = only(check(sheet_panel(), feature), "make.radius", "fault")
    assert (finding.value, finding.limit) == (0.0, 3.0)
    assert any(math.dist(finding.at_mm, (x, y, 12.0)) < 0.1 for x in (20, 90) for y in (20, 60))
    assert "is sharp, and at 3 other places" in finding.text


def test_a_corner_under_the_cutters_radius_is_a_fault_and_under_a_third_more_a_caution():
    finding = only(check(sheet_panel(), tank(2.9)), "make.radius", "fault")
    assert (finding.value, finding.limit) == (2.9, 3.0)
    inset = 2.9 * (1 - math.sqrt(0.5))
    places = [(x, y, 12.0) for x in (20 + inset, 90 - inset) for y in (20 + inset, 60 - inset)]
    assert min(math.dist(finding.at_mm, place) for place in places) < 0.1
    finding = only(check(sheet_panel(), tank(3.89)), "make.radius", "caution")
    assert finding.limit == pytest.approx(3.9)
    assert check(sheet_panel(), tank(3.9)) == ()


def test_a_corner_that_is_tight_for_its_depth_is_a_note():
    finding = only(check(sheet_panel(4.0), tank(3.0, 13.0)), "make.radius", "note")
    assert (finding.value, finding.limit) == (3.0, 3.25)
    assert "a quarter of its depth of 13 mm" in finding.text
    assert check(sheet_panel(4.0), tank(3.0, 12.0)) == ()


def test_tight_bends_have_no_inner_corner():
    """The wall inside of a bend is an outer corner to the cutter: it goes round it at any radius."""
    panel, routed = sample_panel(), sample_routed()
    channels = tuple(replace(channel, bend_radius=4.5) for channel in routed.channels)
    gaps = clearances_of(panel)
    tight = detail_panel(panel, replace(routed, channels=channels), close_panel(panel, routed, gaps), gaps)
    assert check_detail(panel, tight) == ()


@pytest.mark.published(source=BASICS + "depth up to about 4 to 6 times the tool diameter")
@pytest.mark.parametrize(
    ("depth", "severity"),
    [(4 * 2.2, None), (4 * 2.2 + 0.01, "caution"), (6 * 2.2, "caution"), (6 * 2.2 + 0.01, "fault")],
)
def test_depth_in_diameters(depth, severity):
    found = check(sheet_panel(2.2), slot("channel a", ((20, 40), (90, 40)), 2.2, depth))
    if severity is None:
        assert found == ()
        return
    finding = only(found, "make.reach", severity)
    assert finding.value == pytest.approx(depth / 2.2)
    assert finding.limit == {"caution": 4.0, "fault": 6.0}[severity]
    # Somewhere on its floor.
    assert 20 <= finding.at_mm[0] <= 90
    assert abs(finding.at_mm[1] - 40.0) < 1.1
    assert finding.at_mm[2] == depth
    assert "depth in [channel]" in finding.remedy


@pytest.mark.published(source=GUIDE + "R edge = 1.3 R tool, R depth / R edge under 4")
@pytest.mark.parametrize(
    ("cutter", "corner", "depth", "severity"),
    [
        (6.0, 1.3 * 3.0, 12.0, None),
        (6.0, 1.3 * 3.0 - 0.01, 12.0, "caution"),
        (4.0, 3.0, 4 * 3.0, None),
        (4.0, 3.0, 4 * 3.0 + 0.01, "note"),
    ],
)
def test_corners_at_the_guides_limits(cutter, corner, depth, severity):
    found = check(sheet_panel(cutter), tank(corner, depth))
    assert [f.severity for f in found] == ([] if severity is None else [severity])


@pytest.mark.published(source=MILLING + "walls 1.5 mm (plastics), 0.8 mm (metals); feasible 1.0 and 0.5 mm")
@pytest.mark.parametrize(
    ("material", "floor", "severity"),
    [
        ("PMMA cast", 1.5, None),
        ("PMMA cast", 1.49, "caution"),
        ("PMMA cast", 1.0, "caution"),
        ("PMMA cast", 0.99, "fault"),
        ("aluminium 6082-T6", 0.8, None),
        ("aluminium 6082-T6", 0.79, "caution"),
        ("aluminium 6082-T6", 0.5, "caution"),
        ("aluminium 6082-T6", 0.49, "fault"),
    ],
)
def test_floors_at_the_guides_limits(material, floor, severity):
    panel = sheet_panel()
    panel = replace(panel, make=replace(panel.make, material=material))
    found = check(panel, tank(6.0, THICK - floor))
    assert [(f.code, f.severity) for f in found] == ([] if severity is None else [("make.floor", severity)])


def test_a_cutter_that_is_too_short_names_the_larger_one_that_reaches():
    panel = sheet_panel(6.0, ((6.0, 10.0), (8.0, 10.0), (10.0, 20.0)))
    finding = only(check(panel, tank(4.0, 12.0)), "make.reach", "fault")
    assert (finding.value, finding.limit, finding.unit) == (12.0, 10.0, "mm")
    assert "the 8 mm cutter reaches 10 mm" in finding.text or "the 6 mm cutter reaches 10 mm" in finding.text
    assert "the 10 mm cutter, which reaches it" in finding.remedy
    assert "corners of 5 mm or more" in finding.remedy
    # With these corners it is what cuts it.
    assert check(panel, tank(6.5, 12.0)) == ()


def test_a_thin_floor_under_a_pocket():
    finding = only(check(sheet_panel(), tank(6.0, 18.6)), "make.floor", "caution")
    assert (finding.value, finding.limit) == (pytest.approx(1.4), 1.5)
    assert finding.at_mm == pytest.approx((55.0, 40.0, 19.3), abs=0.1)
    assert check(sheet_panel(), tank(6.0, 18.5)) == ()
    assert only(check(sheet_panel(), tank(6.0, 19.1)), "make.floor", "fault").limit == 1.0


def test_a_thin_floor_between_pockets_of_two_faces():
    seat = bore("pump seat", "seat", "front", (90.0, 40.0, THICK), 7.0, 15.0)
    found = check(sheet_panel(), tank(6.0, 12.2), seat)
    finding = only(found, "make.floor", "fault")
    assert finding.features == ("pump seat", "tank")
    assert finding.value == pytest.approx(0.8)
    # In the middle of half a disc, between both floors.
    assert finding.at_mm == pytest.approx((90 - 4 * 15 / (3 * math.pi), 40.0, 12.6), abs=0.1)
    beside = bore("pump seat", "seat", "front", (105.1, 40.0, THICK), 7.0, 15.0)
    assert check(sheet_panel(), tank(6.0, 12.2), beside) == ()


def test_a_pocket_that_opens_the_far_side_has_no_floor():
    assert (
        check(sheet_panel(), cut("tank", "tank", Prism((outline_rectangle(20, 20, 90, 60, 6.0),), 0, THICK)))
        == ()
    )
