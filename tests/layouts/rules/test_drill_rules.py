"""Drilling: each fault planted, found and located; none on what is sound."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from printed import assert_as_printed
from sample_demos import plan_demo

from geom.features import Cylinder, Feature, Prism
from geom.findings import Finding
from geom.outline import outline_rectangle
from layouts.milling.drilling import tip_height
from layouts.rules.drill_rules import (
    DEPTH_GOOD,
    DEPTH_MOST,
    LEAST_SHARE,
    check_drill_depth,
    check_drill_points,
    check_grazes,
    check_slopes,
)
from tests.layouts.rules.sample_bores import BORED, Bored, bore

CHECKS = (check_drill_depth, check_drill_points, check_slopes, check_grazes)
DOWN, RIGHT, UPWARD = (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
MILLED_DEMOS = ("workshop-render", "laser-driver", "new", "cell-tester")


def bare(*features: Feature) -> Bored:
    return BORED.plant(*features, alone=True)


def near(finding: Finding, x: float, y: float, z: float) -> bool:
    assert finding.at_mm is not None
    return math.dist(finding.at_mm, (x, y, z)) < 0.1


@pytest.mark.parametrize("check", CHECKS)
def test_the_sample_is_clean(check) -> None:
    assert check(BORED.panel, BORED.detail) == ()


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("name", MILLED_DEMOS)
def test_the_demos_are_clean(name: str, check) -> None:
    plan = plan_demo(name)
    assert check(plan.panel, plan.detail) == ()


@pytest.mark.parametrize("check", CHECKS)
def test_nothing_is_asked_of_a_print(check) -> None:
    panel = replace(BORED.panel, make=replace(BORED.panel.make, method="printed"))
    slant = bore("port a", (60.0, 60.0, 20.0), (0.6, 0.0, -0.8), 24.9, 0.5)
    assert check(panel, bare(slant).detail) == ()


@pytest.mark.published(
    source="https://neptunelabs.us/cnc-machined-parts, table of design features: hole diameter to depth 1:4 optimal, "
    "less than 1:10"
)
def test_limits_of_depth() -> None:
    assert_as_printed(DEPTH_GOOD, "4")
    assert_as_printed(DEPTH_MOST, "10")


@pytest.mark.parametrize(("depth", "severity"), [(8.0, None), (8.1, "caution"), (19.9, "caution")])
def test_a_deep_bore(depth: float, severity: str | None) -> None:
    """A 2 mm drill: 4 diameters are 8 mm."""
    bored = bare(
        bore("pump screw 1", (60.0, 60.0, 20.0), DOWN, depth, 1.0, "screw hole"),
        bore("pump screw 2", (80.0, 60.0, 20.0), DOWN, 8.0, 1.0, "screw hole"),
    )
    found = check_drill_depth(bored.panel, bored.detail)
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert finding.code == "make.drill"
        assert finding.value == pytest.approx(depth / 2)
        assert finding.features == ("pump screw 1",)
        assert near(finding, 60.0, 60.0, 20.0 - depth)


def test_a_bore_too_deep_for_any_drill() -> None:
    bored = bare(*(bore(f"port {y:g}", (0.0, y, 10.0), RIGHT, y, 2.5) for y in (49.0, 51.0)))
    (finding,) = check_drill_depth(bored.panel, bored.detail)
    assert (finding.severity, finding.limit) == ("fault", 10.0)
    assert finding.text.startswith("Port 51, as 1 other, is 51 mm deep, 10.2 diameters of its 5 mm drill")
    assert finding.features == ("port 49", "port 51")
    assert near(finding, 51.0, 51.0, 10.0)


@pytest.mark.published(source="118 degree point of an 11.8 mm drill: 3.545 mm")
def test_a_point_that_breaks_through_the_back() -> None:
    """It ends 3.5 mm over the joint face, outside of any channel."""
    bored = bare(bore("port a", (60.0, 60.0, 20.0), DOWN, 16.5, 5.9))
    (finding,) = check_drill_points(bored.panel, bored.detail)
    assert (finding.code, finding.severity, finding.value) == ("make.tip", "caution", 0.0)
    assert "3.55 mm deeper than the bore and breaks into the back face of the body" in finding.text
    assert "flat-bottomed 11.8 mm end mill" in finding.remedy
    assert near(finding, 60.0, 60.0, 3.5 - 3.545)


@pytest.mark.parametrize("extra", [-0.01, 0.01])
def test_the_wall_behind_a_point_to_a_hundredth(extra: float) -> None:
    """The least wall is 2 mm: a bore that ends 2 mm and its point's height over the back is just deep enough."""
    length = 20.0 - 2.0 - tip_height(4.0) + extra
    bored = bare(bore("port a", (60.0, 60.0, 20.0), DOWN, length, 2.0))
    found = check_drill_points(bored.panel, bored.detail)
    assert len(found) == (extra > 0)
    for finding in found:
        assert finding.value == pytest.approx(1.99)
        assert near(finding, 60.0, 60.0, 1.99)


def test_a_point_over_other_coolant_and_beside_a_groove() -> None:
    """Over a channel 9 mm deep a screw's hole ends 2 mm off, its point 0.99 mm nearer."""
    screw = bore("pump screw 1 M4", (60.0, 60.0, 20.0), DOWN, 9.0, 1.65, "screw hole")
    channel = Prism((outline_rectangle(55.0, 20.0, 63.0, 100.0, 0.0),), 0.0, 9.0)
    bored = bare(screw, Feature("channel b", "channel", "wet", channel))
    (finding,) = check_drill_points(bored.panel, bored.detail)
    assert finding.value == pytest.approx(2.0 - 1.65 / math.tan(math.radians(59)))
    assert finding.features == ("pump screw 1 M4", "channel b")
    assert near(finding, 60.0, 60.0, 9.0 + finding.value)
    # The same hole into the channel on purpose, or with a channel a wall aside: nothing.
    joined = bare(replace(screw, joins=("channel b",)), bored.detail.features[1])
    assert check_drill_points(joined.panel, joined.detail) == ()
    aside = Prism((outline_rectangle(63.65, 20.0, 70.0, 100.0, 0.0),), 0.0, 9.0)
    apart = bare(screw, Feature("channel b", "channel", "wet", aside))
    assert check_drill_points(apart.panel, apart.detail) == ()


def test_an_edge_bores_point_before_an_upright_bore() -> None:
    """Axes at one height: the very tip stands 1.2 mm before the other bore's wall."""
    tip = tip_height(11.8)
    port = bore("port a", (0.0, 60.0, 10.0), RIGHT, 26.0, 5.9)
    other = bore("port b", (26.0 + tip + 1.2 + 3.0, 60.0, 20.0), DOWN, 15.0, 3.0)
    bored = bare(port, other)
    (finding,) = [
        f for f in check_drill_points(bored.panel, bored.detail) if f.features == ("port a", "port b")
    ]
    assert finding.value == pytest.approx(1.2)
    assert near(finding, 26.0 + tip, 60.0, 10.0)


def test_points_alike_are_told_once() -> None:
    holes = [
        bore(f"cover screw {n}", (20.0 * n, 60.0, 0.0), (0.0, 0.0, 1.0), 18.0, 1.65, "screw hole")
        for n in (1, 2)
    ]
    bored = bare(*holes)
    (finding,) = check_drill_points(bored.panel, bored.detail)
    assert finding.features == ("cover screw 1", "cover screw 2")
    assert "before the front face of the body; 2 mm are wanted; as with cover screw 2" in finding.text


def test_a_bore_whose_flat_end_is_too_near_is_another_rules() -> None:
    bored = bare(bore("port a", (60.0, 60.0, 20.0), DOWN, 18.5, 2.0))
    assert check_drill_points(bored.panel, bored.detail) == ()


@pytest.mark.parametrize(("tilt", "codes"), [(4.9, 0), (5.1, 1), (31.0, 2)])
def test_a_slanting_bore_through_the_cover(tilt: float, codes: int) -> None:
    """It starts on the cover's back at a slope from 5 degrees, and leaves by one from 30."""
    lean = math.radians(tilt)
    hole = bore(
        "cover clearance 1",
        (60.0, 60.0, -8.0),
        (math.sin(lean), 0.0, math.cos(lean)),
        12.0,
        2.25,
        "clearance hole",
    )
    bored = bare(replace(hole, opens=("back",)))
    found = [f for f in check_slopes(bored.panel, bored.detail) if "starts" in f.text or "leaves" in f.text]
    cover = [f for f in found if near(f, 60.0, 60.0, -8.0) or near(f, 60.0 + 8 * math.tan(lean), 60.0, 0.0)]
    assert sum(near(f, 60.0, 60.0, -8.0) for f in cover) == (codes >= 1)
    assert sum("leaves" in f.text for f in cover) == (codes >= 2)
    assert all(f.code == "make.exit" and f.value == pytest.approx(tilt) for f in found)


def test_a_bore_on_the_round_corner_of_an_edge() -> None:
    """3 mm from the end of an edge rounded by 6 mm: asin(0.5), 30 degrees; the drill starts 0.80 mm deeper."""
    bored = bare(bore("port a", (0.0, 3.0, 10.0), RIGHT, 15.0, 1.0))
    (finding,) = check_slopes(bored.panel, bored.detail)
    assert finding.value == pytest.approx(30.0)
    assert near(finding, 6.0 - 6.0 * math.cos(math.radians(30)), 3.0, 10.0)
    assert "Mill a flat" in finding.remedy


@pytest.mark.parametrize(("off", "told"), [(0.0, False), (2.9, False), (3.1, True), (5.9, True)])
def test_a_drill_that_breaks_into_an_edge_bore_at_a_slope(off: float, told: bool) -> None:
    """An edge bore of 6 mm radius comes first; from 3 mm off its axis the wall slopes by more than 30 degrees."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 60.0, 6.0)
    front = bore("port front", (30.0, 60.0 + off, 20.0), DOWN, 10.0, 2.0)
    for order in ((edge, front), (front, edge)):
        bored = bare(*order)
        found = check_slopes(bored.panel, bored.detail)
        assert len(found) == told
        for finding in found:
            assert finding.value == pytest.approx(math.degrees(math.asin(off / 6.0)))
            assert finding.features == ("port front", "port edge")
            assert near(finding, 30.0, 60.0 + off, 10.0 + math.sqrt(36.0 - off * off))
        assert check_grazes(bored.panel, bored.detail) == ()


@pytest.mark.parametrize(
    ("gap", "told"), [(-1.0, True), (-0.01, True), (0.0, True), (0.19, True), (0.21, False)]
)
def test_bores_that_pass_each_other(gap: float, told: bool) -> None:
    """Square to each other; the axis of the second stays outside the first."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 60.0, 4.0)
    front = bore("port front", (30.0, 60.0 + 4.0 + gap + 3.0, 20.0), DOWN, 14.0, 3.0)
    bored = bare(front, edge)
    found = check_grazes(bored.panel, bored.detail)
    assert len(found) == told
    for finding in found:
        assert (finding.code, finding.severity) == ("make.graze", "caution")
        assert finding.value == pytest.approx(max(gap, 0.0))
        assert finding.features == ("port edge", "port front")
        assert near(finding, 30.0, 64.0 + gap / 2, 10.0)
    assert check_slopes(bored.panel, bored.detail) == ()


@pytest.mark.published(
    source="A definitive guide to DFM success, drill rules, partial holes: 75 % in the material"
)
def test_parallel_bores_that_overlap() -> None:
    assert_as_printed(100 * LEAST_SHARE, "75")
    for apart, share in ((5.0, 92), (3.0, 61)):
        bored = bare(*(bore(f"port {n}", (60.0 + n * apart, 60.0, 20.0), DOWN, 10.0, 3.0) for n in (0, 1)))
        # Two equal circles: the lens is 2 r^2 acos(a / 2r) - a / 2 sqrt(4 r^2 - a^2).
        lens = 18.0 * math.acos(apart / 6.0) - apart / 2 * math.sqrt(36.0 - apart * apart)
        assert round(100 * (1 - lens / (9.0 * math.pi))) == share
        (finding,) = check_grazes(bored.panel, bored.detail)
        assert f"has {share} % of its circle in material beside port 0" in finding.text
        assert ("with an end mill" in finding.remedy) == (share > 75)
        assert near(finding, 60.0 + apart / 2, 60.0, 15.0)


def test_stepped_bores_and_bores_of_two_parts_are_quiet() -> None:
    step = bare(
        bore("port a", (60.0, 60.0, 20.0), DOWN, 10.0, 4.0),
        bore("port b", (60.0, 60.0, 20.0), DOWN, 15.0, 2.0),
    )
    assert check_grazes(step.panel, step.detail) == ()
    parts = bare(
        bore("cover clearance 1", (60.0, 60.0, -8.0), (0.0, 0.0, 1.0), 8.0, 2.25, "clearance hole"),
        bore("cover screw 1", (62.0, 60.0, 0.0), (0.0, 0.0, 1.0), 13.0, 1.65, "screw hole"),
    )
    assert check_grazes(parts.panel, parts.detail) == ()


def test_cylinders_end_flat() -> None:
    """A bore that ends before another grazes nothing: its flat end reaches no further than it is long."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 26.0, 5.9)
    beyond = bore("port front", (26.0 + 0.25 + 3.0, 60.0, 20.0), DOWN, 14.0, 3.0)
    assert isinstance(beyond.shape, Cylinder)
    bored = bare(edge, beyond)
    assert check_grazes(bored.panel, bored.detail) == ()
