"""Drilling: each fault planted, found and located; none on what is sound."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo

from geom.errors import GeometryError
from geom.features import Cylinder, Feature, Prism
from geom.findings import Finding
from geom.outline import outline_rectangle
from layouts.milling.drilling import tip_height
from layouts.rules.drill_rules import (
    check_drill_depth,
    check_drill_points,
    check_grazes,
    check_slopes,
)
from tests.layouts.rules.sample_bores import BORED, Bored, bore

CHECKS = (
    lambda bored: check_drill_depth(bored.milled),
    lambda bored: check_drill_points(bored.panel, bored.detail, bored.milled),
    lambda bored: check_slopes(bored.panel, bored.milled),
    lambda bored: check_grazes(bored.milled),
)
DOWN, RIGHT, UPWARD = (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
MILLED_DEMOS = ("workshop-render", "laser-driver", "new", "cell-tester")


def bare(*features: Feature) -> Bored:
    return BORED.plant(*features, alone=True)


def near(finding: Finding, x: float, y: float, z: float) -> bool:
    assert finding.at_mm is not None
    return math.dist(finding.at_mm, (x, y, z)) < 0.1


@pytest.mark.parametrize("check", CHECKS)
def test_the_sample_is_clean(check) -> None:
    assert check(BORED) == ()


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("name", MILLED_DEMOS)
def test_the_demos_are_clean(name: str, check) -> None:
    assert check(plan_demo(name)) == ()


@pytest.mark.parametrize("check", CHECKS)
def test_nothing_is_asked_of_a_print(check) -> None:
    panel = replace(BORED.panel, make=replace(BORED.panel.make, method="printed"))
    deep = bore("port a", (60.0, 60.0, 20.0), DOWN, 24.9, 0.5)
    assert check(replace(bare(deep), panel=panel)) == ()


DEPTHS = (
    "https://neptunelabs.us/cnc-machined-parts, table of design features: hole diameter to depth 1:4 optimal, less "
    "than 1:10"
)


@pytest.mark.published(source=DEPTHS)
@pytest.mark.parametrize(("depth", "severity"), [(8.0, None), (8.01, "caution"), (19.9, "caution")])
def test_a_deep_bore(depth: float, severity: str | None) -> None:
    """A 2 mm drill: 4 diameters are 8 mm."""
    bored = bare(
        bore("pump screw 1", (60.0, 60.0, 20.0), DOWN, depth, 1.0, "screw hole"),
        bore("pump screw 2", (80.0, 60.0, 20.0), DOWN, 8.0, 1.0, "screw hole"),
    )
    found = check_drill_depth(bored.milled)
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert finding.code == "make.drill"
        assert finding.value == pytest.approx(depth / 2)
        assert finding.features == ("pump screw 1",)
        assert near(finding, 60.0, 60.0, 20.0 - depth)


@pytest.mark.published(source=DEPTHS)
@pytest.mark.parametrize(("depth", "severity"), [(50.0, "caution"), (50.01, "fault")])
def test_a_bore_too_deep_for_any_drill(depth: float, severity: str) -> None:
    bored = bare(*(bore(f"port {y:g}", (0.0, y, 10.0), RIGHT, y, 2.5) for y in (49.0, depth)))
    (finding,) = check_drill_depth(bored.milled)
    assert (finding.severity, finding.limit) == (severity, 4.0 if severity == "caution" else 10.0)
    assert finding.text.startswith(
        f"Port {depth:g}, as 1 other, is 50 mm deep, 10.0 diameters of its 5 mm drill"
    )
    assert finding.features == ("port 49", f"port {depth:g}")
    assert near(finding, depth, depth, 10.0)


def test_a_bore_over_20_mm_is_milled_and_not_asked_about() -> None:
    """Drilled it would be 4.5 diameters deep, its point would break through the back of a body of 100 mm."""
    for radius, told in ((10.0, True), (10.1, False)):
        bored = bare(bore("pump inlet bore", (60.0, 60.0, 100.0), DOWN, 95.0, radius, "pump bore"))
        body = replace(bored.detail.blanks[0], z1=100.0)
        bored = replace(bored, detail=replace(bored.detail, blanks=(body,)))
        assert bool(check_drill_depth(bored.milled)) == told
        assert bool(check_drill_points(bored.panel, bored.detail, bored.milled)) == told


@pytest.mark.published(source="118 degree point of an 11.8 mm drill: 3.545 mm")
def test_a_point_that_breaks_through_the_back() -> None:
    """It ends 3.5 mm over the joint face, outside of any channel."""
    bored = bare(bore("port a", (60.0, 60.0, 20.0), DOWN, 16.5, 5.9))
    (finding,) = check_drill_points(bored.panel, bored.detail, bored.milled)
    assert (finding.code, finding.severity, finding.value) == ("make.tip", "caution", 0.0)
    assert "3.55 mm deeper than the bore and breaks into the back face of the body" in finding.text
    assert "flat-bottomed 11.8 mm end mill" in finding.remedy
    assert near(finding, 60.0, 60.0, 3.5 - 3.545)


@pytest.mark.parametrize("extra", [-0.01, 0.01])
def test_the_wall_behind_a_point_to_a_hundredth(extra: float) -> None:
    """The least wall is 2 mm: a bore that ends 2 mm and its point's height over the back is just deep enough."""
    length = 20.0 - 2.0 - tip_height(4.0) + extra
    bored = bare(bore("port a", (60.0, 60.0, 20.0), DOWN, length, 2.0))
    found = check_drill_points(bored.panel, bored.detail, bored.milled)
    assert len(found) == (extra > 0)
    for finding in found:
        assert finding.value == pytest.approx(1.99)
        assert near(finding, 60.0, 60.0, 1.99)


def test_a_point_over_other_coolant_and_beside_a_groove() -> None:
    """Over a channel 9 mm deep a screw's hole ends 2 mm off, its point 0.99 mm nearer."""
    screw = bore("pump screw 1 M4", (60.0, 60.0, 20.0), DOWN, 9.0, 1.65, "screw hole")
    channel = Prism((outline_rectangle(55.0, 20.0, 63.0, 100.0, 0.0),), 0.0, 9.0)
    bored = bare(screw, Feature("channel b", "channel", "wet", channel))
    (finding,) = check_drill_points(bored.panel, bored.detail, bored.milled)
    assert finding.value == pytest.approx(2.0 - 1.65 / math.tan(math.radians(59)))
    assert finding.features == ("pump screw 1 M4", "channel b")
    assert near(finding, 60.0, 60.0, 9.0 + finding.value)
    # The same hole into the channel on purpose, or with a channel a wall aside: nothing.
    joined = bare(replace(screw, joins=("channel b",)), bored.detail.features[1])
    assert check_drill_points(joined.panel, joined.detail, joined.milled) == ()
    aside = Prism((outline_rectangle(63.65, 20.0, 70.0, 100.0, 0.0),), 0.0, 9.0)
    apart = bare(screw, Feature("channel b", "channel", "wet", aside))
    assert check_drill_points(apart.panel, apart.detail, apart.milled) == ()


def test_an_edge_bores_point_before_an_upright_bore() -> None:
    """Axes at one height: the very tip stands 1.2 mm before the other bore's wall."""
    tip = tip_height(11.8)
    port = bore("port a", (0.0, 60.0, 10.0), RIGHT, 26.0, 5.9)
    other = bore("port b", (26.0 + tip + 1.2 + 3.0, 60.0, 20.0), DOWN, 15.0, 3.0)
    bored = bare(port, other)
    (finding,) = [
        f
        for f in check_drill_points(bored.panel, bored.detail, bored.milled)
        if f.features == ("port a", "port b")
    ]
    assert finding.value == pytest.approx(1.2)
    assert near(finding, 26.0 + tip, 60.0, 10.0)


def test_points_alike_are_told_once() -> None:
    holes = [
        bore(f"cover screw {n}", (20.0 * n, 60.0, 0.0), (0.0, 0.0, 1.0), 18.0, 1.65, "screw hole")
        for n in (1, 2)
    ]
    bored = bare(*holes)
    (finding,) = check_drill_points(bored.panel, bored.detail, bored.milled)
    assert finding.features == ("cover screw 1", "cover screw 2")
    assert "before the front face of the body; 2 mm are wanted; as with cover screw 2" in finding.text


def test_a_bore_whose_flat_end_is_too_near_is_another_rules() -> None:
    bored = bare(bore("port a", (60.0, 60.0, 20.0), DOWN, 18.5, 2.0))
    assert check_drill_points(bored.panel, bored.detail, bored.milled) == ()


def test_bores_that_slant_are_refused() -> None:
    lean = math.radians(4.9)
    hole = bore("port a", (60.0, 60.0, 20.0), (math.sin(lean), 0.0, -math.cos(lean)), 12.0, 2.25)
    with pytest.raises(GeometryError, match=r"from \(60, 60, 20\) mm slants"):
        assert bare(hole).milled


def test_a_bore_on_the_round_corner_of_an_edge() -> None:
    """3 mm from the end of an edge rounded by 6 mm: asin(0.5), 30 degrees; the drill starts 0.80 mm deeper."""
    bored = bare(bore("port a", (0.0, 3.0, 10.0), RIGHT, 15.0, 1.0))
    (finding,) = check_slopes(bored.panel, bored.milled)
    assert finding.value == pytest.approx(30.0)
    assert near(finding, 6.0 - 6.0 * math.cos(math.radians(30)), 3.0, 10.0)
    assert "Mill a flat" in finding.remedy


FRONT_LAST = (
    Feature(
        "channel z",
        "channel",
        "wet",
        Prism((outline_rectangle(100.0, 100.0, 110.0, 110.0, 0.0),), 18.0, 20.0),
    ),
    bore("pump screw 9", (150.0, 20.0, 0.0), (0.0, 0.0, 1.0), 4.0, 2.0, "screw hole"),
)
"""A pocket in the front, none in the back: the back is cut first, then the edges, then the front."""


@pytest.mark.parametrize(("off", "told"), [(0.0, False), (2.9, False), (3.1, True), (5.9, True)])
def test_a_drill_that_breaks_into_an_edge_bore_at_a_slope(off: float, told: bool) -> None:
    """An edge bore of 6 mm radius comes first; from 3 mm off its axis the wall slopes by more than 30 degrees."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 60.0, 6.0)
    front = bore("port front", (30.0, 60.0 + off, 20.0), DOWN, 10.0, 2.0)
    for order in ((edge, front), (front, edge)):
        bored = bare(*FRONT_LAST, *order)
        found = check_slopes(bored.panel, bored.milled)
        assert len(found) == told
        for finding in found:
            assert finding.value == pytest.approx(math.degrees(math.asin(off / 6.0)))
            assert finding.features == ("port front", "port edge")
            assert near(finding, 30.0, 60.0 + off, 10.0 + math.sqrt(36.0 - off * off))
        assert check_grazes(bored.milled) == ()


@pytest.mark.parametrize(("off", "told"), [(0.9, False), (1.1, True)])
def test_the_edges_drill_breaks_into_what_was_drilled_from_the_front_first(off: float, told: bool) -> None:
    """Nothing is milled in the front, so that it comes first: 1 mm off the axis of a 4 mm bore is 30 degrees."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 60.0, 6.0)
    front = bore("port front", (30.0, 60.0 + off, 20.0), DOWN, 14.0, 2.0)
    bored = bare(edge, front)
    assert [(s.face, [h.name for h in s.holes]) for s in bored.milled.setups if s.part == "body"] == [
        ("front", ["port front"]),
        ("left", ["port edge"]),
    ]
    found = check_slopes(bored.panel, bored.milled)
    assert len(found) == told
    for finding in found:
        assert (finding.code, finding.severity) == ("make.exit", "caution")
        assert finding.text.startswith("The drill of port edge breaks into port front at a slope of")
        assert finding.value == pytest.approx(math.degrees(math.asin(off / 2.0)))
        assert near(finding, 30.0 - math.sqrt(4.0 - off * off), 60.0, 10.0)


@pytest.mark.parametrize(
    ("gap", "told"), [(-1.0, True), (-0.01, True), (0.0, True), (0.19, True), (0.21, False)]
)
@pytest.mark.parametrize("last", [FRONT_LAST, ()])
def test_bores_that_pass_each_other(gap: float, told: bool, last: tuple[Feature, ...]) -> None:
    """Square to each other; the axis of the second stays outside the first, whichever that is."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 60.0, 4.0)
    front = bore("port front", (30.0, 60.0 + 4.0 + gap + 3.0, 20.0), DOWN, 14.0, 3.0)
    bored = bare(front, edge, *last)
    found = check_grazes(bored.milled)
    assert len(found) == told
    for finding in found:
        assert (finding.code, finding.severity) == ("make.graze", "caution")
        assert finding.value == pytest.approx(max(gap, 0.0))
        assert finding.features == (("port edge", "port front") if last else ("port front", "port edge"))
        assert near(finding, 30.0, 64.0 + gap / 2, 10.0)
    assert check_slopes(bored.panel, bored.milled) == ()


@pytest.mark.published(
    source="A definitive guide to DFM success, drill rules, partial holes: 75 % in the material"
)
@pytest.mark.parametrize(("apart", "share"), [(5.0, 92), (3.9, 76), (3.7, 73), (3.0, 61)])
def test_parallel_bores_that_overlap(apart: float, share: int) -> None:
    bored = bare(*(bore(f"port {n}", (60.0 + n * apart, 60.0, 20.0), DOWN, 10.0, 3.0) for n in (0, 1)))
    # Two equal circles: the lens is 2 r^2 acos(a / 2r) - a / 2 sqrt(4 r^2 - a^2).
    lens = 18.0 * math.acos(apart / 6.0) - apart / 2 * math.sqrt(36.0 - apart * apart)
    assert round(100 * (1 - lens / (9.0 * math.pi))) == share
    (finding,) = check_grazes(bored.milled)
    assert f"has {share} % of its circle in material beside port 0" in finding.text
    assert ("with an end mill" in finding.remedy) == (share > 75)
    assert near(finding, 60.0 + apart / 2, 60.0, 15.0)


def test_stepped_bores_and_bores_of_two_parts_are_quiet() -> None:
    step = bare(
        bore("port a", (60.0, 60.0, 20.0), DOWN, 10.0, 4.0),
        bore("port b", (60.0, 60.0, 20.0), DOWN, 15.0, 2.0),
    )
    assert check_grazes(step.milled) == ()
    parts = bare(
        bore("cover clearance 1", (60.0, 60.0, -8.0), (0.0, 0.0, 1.0), 8.0, 2.25, "clearance hole"),
        bore("cover screw 1", (62.0, 60.0, 0.0), (0.0, 0.0, 1.0), 13.0, 1.65, "screw hole"),
    )
    assert check_grazes(parts.milled) == ()


def test_cylinders_end_flat() -> None:
    """A bore that ends before another grazes nothing: its flat end reaches no further than it is long."""
    edge = bore("port edge", (0.0, 60.0, 10.0), RIGHT, 26.0, 5.9)
    beyond = bore("port front", (26.0 + 0.25 + 3.0, 60.0, 20.0), DOWN, 14.0, 3.0)
    assert isinstance(beyond.shape, Cylinder)
    bored = bare(edge, beyond)
    assert check_grazes(bored.milled) == ()
