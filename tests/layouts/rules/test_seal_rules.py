"""Rules of the cord and its groove: places, names, what is let pass."""

from __future__ import annotations

from dataclasses import replace

import pytest

from geom.features import Cylinder, Detail, Feature
from geom.outline import Line, outline_circle, reverse_path, round_corners
from layouts.clearance import clearances_of
from layouts.closing.cords import seal_panel
from layouts.detail import detail_panel
from layouts.plan import CordLoop, Routed, Sealed
from layouts.rules.seal_rules import (
    check_groove_bends,
    check_groove_crossings,
    check_shared_grooves,
)
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL = sample_panel()


def seal(routed: Routed) -> Sealed:
    return Sealed(seal_panel(PANEL, routed, clearances_of(PANEL)), ())


def make_loop(number: int, path, **more) -> CordLoop:
    return CordLoop(f"groove {number}", f"region {number}", path, 2.8, 2.1, **more)


def cross(*loops: CordLoop, others: tuple[Feature, ...] = ()):
    sealed = Sealed(loops, ())
    detail = detail_panel(PANEL, sample_routed(), sealed, clearances_of(PANEL))
    grooves = tuple(feature for feature in detail.features if feature.kind == "groove")
    return check_groove_crossings(PANEL, sealed, Detail(detail.blanks, (*grooves, *others), ()))


@pytest.mark.published(
    source="cord groove guides, https://barnwell.co.uk: inner radius of 3 sections at least, 6 ideally"
)
@pytest.mark.parametrize(
    ("inner", "severity"),
    [(12.0, None), (11.99, "note"), (6.0, "note"), (5.99, "caution"), (2.0, "caution"), (1.99, "fault")],
)
@pytest.mark.parametrize("turned", [False, True])
def test_tightest_turn(inner, severity, turned):
    path = outline_circle((60.0, 60.0), inner + 1.4)
    loops = (
        make_loop(1, reverse_path(path) if turned else path),
        make_loop(2, outline_circle((100, 60), 40.0)),
    )
    found = check_groove_bends(PANEL, Sealed(loops, ()))
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    for finding in found:
        assert finding.value == pytest.approx(inner)
        assert finding.limit == (12.0 if severity == "note" else 6.0)
        assert finding.features == ("groove 1",)
        assert finding.at_mm == pytest.approx((60.0 - (inner + 1.4), 60.0, 0.0))
        assert ("larger bend radius" in finding.remedy) == turned
        cord = {11.99: "1.78", 6.0: None, 5.99: "1.78"}.get(inner)
        assert (f"Use a cord of {cord} mm" in finding.remedy) == (cord is not None)
        assert ("mm wider" in finding.remedy) == (cord is None and not turned)


def test_straight_cords_turn_nowhere():
    assert check_groove_bends(PANEL, Sealed((), ())) == ()
    line = make_loop(1, (Line((0, 0), (50, 0)),), closed=False, meets=("groove 2",))
    assert check_groove_bends(PANEL, Sealed((line,), ())) == ()


def test_sharp_tank_corner_is_told_where_it_is():
    routed = sample_routed()
    (finding,) = check_groove_bends(
        PANEL, seal(replace(routed, tank=replace(routed.tank, corner_radius=3.0)))
    )
    assert finding.severity == "caution"
    assert 'groove 1, round "tank", turns at' in finding.text
    assert "inner radius of 5 mm, 2.5 cord sections, under 3 (6 mm)" in finding.text


def test_two_grooves_that_cross_are_told_once_with_both_names():
    one, two = (make_loop(k, outline_circle((40.0 + 30.0 * k, 60.0), 20.0)) for k in (1, 2))
    (finding,) = cross(one, two)
    assert (finding.code, finding.severity) == ("seal.cross", "fault")
    assert finding.features == ("groove 2", "groove 1")
    assert finding.text.startswith('Groove 2, round "region 2", runs into groove 1 at (85, ')
    apart = make_loop(2, outline_circle((112.8 + 0.5, 60.0), 20.0))
    assert cross(one, apart) == ()


def test_grooves_that_are_meant_to_meet_may():
    one = make_loop(1, outline_circle((70.0, 60.0), 20.0))
    stub = make_loop(
        2,
        round_corners(((90.0, 60.0), (110.0, 60.0), (110.0, 100.0)), 8.0),
        closed=False,
        meets=("groove 1",),
    )
    assert cross(one, stub) == ()
    assert len(cross(one, replace(stub, meets=()))) == 1


def test_regions_that_share_a_groove_are_told_with_their_open_cords():
    one, two, three = (make_loop(k, outline_circle((70.0 * k, 60.0), 20.0)) for k in (1, 2, 3))
    open_two = replace(
        two, path=(Line((90.0, 60.0), (190.0, 60.0)),), closed=False, meets=("groove 1", "groove 3")
    )
    assert check_shared_grooves(PANEL, Sealed((one, two, three), ())) == ()
    (finding,) = check_shared_grooves(PANEL, Sealed((one, open_two, three), ()))
    assert (finding.code, finding.severity) == ("seal.shared", "note")
    assert '"region 1" and "region 2"; "region 3" and "region 2"' in finding.text
    assert "leaks from one into the other" in finding.text
    assert finding.remedy.startswith("Butt the cord in groove 2 square")
    assert finding.features == ("groove 2",)
    assert finding.at_mm == pytest.approx((190.0, 60.0, 0.0))
    alike = tuple(replace(loop, region="region 1") for loop in (one, open_two, three))
    (own,) = check_shared_grooves(PANEL, Sealed(alike, ()))
    assert 'between parts of "region 1": one seals both' in own.text


def test_grooves_that_cross_a_hole_are_told_and_those_over_one_are_not():
    ring = make_loop(1, outline_circle((70.0, 60.0), 20.0))

    def hole(z: float) -> Feature:
        return Feature(
            "pump screw 1 M4", "screw hole", "dry", Cylinder((91.0, 60.0, 20.0), (0, 0, -1), 20.0 - z, 1.65)
        )

    (finding,) = cross(ring, others=(hole(0.5),))
    assert finding.features == ("groove 1", "pump screw 1 M4")
    assert finding.at_mm is not None
    assert finding.at_mm[:2] == pytest.approx((90.5, 60.0), abs=1.5)
    assert cross(ring, others=(hole(1.5),)) == ()


def test_groove_that_meets_itself_is_told():
    path = round_corners(((30, 30), (60, 30), (60, 40), (35, 40), (35, 31)), 3.0)
    (finding,) = cross(make_loop(1, path, closed=False))
    assert finding.features == ("groove 1",)
    assert "meets itself at (34, 31)" in finding.text
