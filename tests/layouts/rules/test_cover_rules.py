"""Covers on cords: how far they may lift, what they may carry, and what cures it."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from printed import assert_as_printed

from geom.errors import GeometryError
from geom.standards import tables
from layouts.closing.spacing import COVER_SAG, limit_spacing
from layouts.rules.cover_rules import check_bending, tell_unbent
from layouts.strength.cover import CORD_STEP, cut_pieces
from layouts.strength.cover_limits import BOW_SHARE, LEAST_LEFT, bow_limits, squeeze_margin
from layouts.strength.peaks import cord_lifts, find_stress
from tests.layouts.sample_posts import sample_large_tank
from tests.layouts.strength.sample_cover import cord_plan, made_up, whole_plan

PLAN = cord_plan()
QUARTER, MOST = bow_limits(tables.cord(2.0))


@pytest.mark.published(
    source="face seal housing table, orings.co.uk, with cords +-0.08 mm: least squeeze in whole percent"
)
@pytest.mark.parametrize(("section", "least"), [(1.78, "18"), (2.0, "17"), (2.5, "17"), (2.62, "17")])
def test_squeeze_margin_is_the_least_squeeze_of_the_table(section, least):
    cord = tables.cord(section)
    assert_as_printed(100 * squeeze_margin(cord) / (section - cord.tolerance), least)


@pytest.mark.published(
    source="fastener spacing of gasketed covers: 0.05 mm of lift, a quarter of the squeeze margin or less; published "
    "compression guide, oringsupplyco.com: under 10 % a cord may leak at low pressure"
)
@pytest.mark.parametrize("section", tables.cord_sections())
def test_limits_of_every_cord(section):
    cord = tables.cord(section)
    quarter, most = bow_limits(cord)
    assert COVER_SAG <= quarter < most
    thin, deep = section - cord.tolerance, cord.groove_depth + cord.groove_depth_tolerance
    assert 1 - (deep + most) / thin == pytest.approx(LEAST_LEFT)
    assert quarter == pytest.approx(BOW_SHARE * (thin - deep))


@pytest.mark.parametrize(
    ("working", "test", "found"),
    [
        (0.9 * QUARTER, 0.5 * QUARTER, []),
        (1.01 * QUARTER, 0.5 * QUARTER, [("caution", "In use (40 kPa, 37 °C)")]),
        (0.5 * QUARTER, 0.99 * MOST, [("caution", "At the test pressure (50 kPa, 37 °C)")]),
        (1.01 * MOST, 0.5 * QUARTER, [("fault", "In use")]),
        (0.2, 0.5, [("fault", "At the test pressure")]),
    ],
)
def test_lift_off_a_cord(working, test, found):
    told = check_bending(PLAN, (made_up(PLAN, (working, 1.0), (test, 1.0)),))
    assert [(f.severity, f.code) for f in told] == [(severity, "cover.bow") for severity, _ in found]
    for finding, (severity, start) in zip(told, found, strict=True):
        assert finding.text.startswith(start)
        assert finding.value == pytest.approx(max(working, test))
        assert finding.limit == (MOST if severity == "fault" else QUARTER)
        assert finding.features == ("groove 1",)
        assert finding.at_mm[2] == 0.0


def test_lift_tells_cord_place_and_what_is_left():
    (finding,) = check_bending(PLAN, (made_up(PLAN, (0.2, 1.0), (0.1, 1.0)),))
    # 1.92 mm of cord in 1.6 mm of groove under 0.2 mm of lift: 0.12 / 1.92.
    assert "6 % of squeeze is left at the worst tolerances" in finding.text
    assert "lifts by 0.2 mm off the cord of groove 1 at (" in finding.text
    (loose,) = check_bending(PLAN, (made_up(PLAN, (0.4, 1.0), (0.1, 1.0)),))
    assert "loose" in loose.text


def test_thickness_of_the_remedy_is_between_what_bending_and_what_shear_ask_for():
    lift = 3.1 * QUARTER
    (finding,) = check_bending(PLAN, (made_up(PLAN, (lift, 1.0), (0.0, 1.0)),))
    thick = float(re.search(r"about ([\d.]+) mm thick", finding.remedy)[1])
    assert 8.0 * 3.1 ** (1 / 3) < thick < 8.0 * 3.1
    assert thick % 0.5 == 0.0


def test_remedy_names_metal_and_posts_only_where_they_help():
    (finding,) = check_bending(PLAN, (made_up(PLAN, (1.5 * QUARTER, 1.0), (0.0, 1.0)),))
    assert 'cover_material = "aluminium 6082-T6"' in finding.remedy
    assert "leave room for a screw about" in finding.remedy
    assert "posts" not in finding.remedy
    metal = cord_plan(cover_material="aluminium 6082-T6")
    (finding,) = check_bending(metal, (made_up(metal, (1.5 * QUARTER, 1.0), (0.0, 1.0)),))
    assert "cover_material" not in finding.remedy


def test_the_bodys_bow_counts_and_is_cured_at_the_body():
    bending = made_up(PLAN, (0.2 * QUARTER, 1.0), (0.0, 1.0), bodys=1.1 * QUARTER)
    assert [lift.lift for lift in cord_lifts(PLAN.sealed, bending)] == pytest.approx(
        [1.3 * QUARTER, 1.1 * QUARTER]
    )
    (finding,) = check_bending(PLAN, (bending,))
    assert finding.value == pytest.approx(1.3 * QUARTER)
    assert "mm of it by the body's bow" in finding.text
    assert "ake the body about" in finding.remedy
    assert 'make the body of metal (material = "aluminium 6082-T6")' in finding.remedy
    # No cover, however stiff, makes up for it.
    assert "ake the cover" not in finding.remedy


def test_posts_are_offered_for_a_large_tank():
    panel, routed = sample_large_tank(5.0)
    plan = whole_plan(replace(panel, tank=replace(panel.tank, posts="none")), routed)
    loops = sorted(plan.sealed.loops, key=lambda loop: loop.region != "tank")
    plan = replace(plan, sealed=replace(plan.sealed, loops=tuple(loops)))
    (finding,) = check_bending(plan, (made_up(plan, (0.2, 1.0), (0.0, 1.0)),))
    assert 'posts = "auto" in [tank]' in finding.remedy


@pytest.mark.parametrize(
    ("working", "test", "found"),
    [
        (4.2, 16.9, None),
        (4.3, 10.0, ("caution", "half of what PMMA cast stands for years", 4.25)),
        (8.6, 10.0, ("fault", "8.5 MPa that PMMA cast stands for years", 8.5)),
        (5.0, 17.1, ("fault", "17 MPa that PMMA cast stands for the time of a test", 17.0)),
    ],
)
def test_stress(working, test, found):
    told = check_bending(PLAN, (made_up(PLAN, (0.01, working), (0.01, test)),))
    if found is None:
        assert told == ()
        return
    (finding,) = told
    severity, words, limit = found
    assert (finding.code, finding.severity, finding.unit) == ("cover.stress", severity, "MPa")
    assert words in finding.text
    assert finding.limit == pytest.approx(limit)
    thick = float(re.search(r'cover = "([\d.]+) mm"', finding.remedy)[1])
    # Stress goes with the inverse square of the thickness; what is cured is the lasting limit too.
    assert finding.value * (8.0 / thick) ** 2 <= finding.limit
    # A thicker cover is given fewer screws: with the spacing that is told, as many as now.
    spacing = float(re.search(r'screw_spacing = "(\d+) mm"', finding.remedy)[1])
    make = replace(PLAN.panel.make, cover=thick, screw_spacing=spacing)
    assert limit_spacing(replace(PLAN.panel, make=make))[0] <= limit_spacing(PLAN.panel)[0]
    assert limit_spacing(replace(PLAN.panel, make=replace(make, screw_spacing=None)))[0] > spacing


def test_glycol_is_named_where_it_attacks():
    def tell(plan, stress):
        return check_bending(plan, (made_up(plan, (0.01, stress), (0.01, 1.0)),))[0].text

    assert "near screws and with glycol or alcohol" in tell(PLAN, 4.3)
    plan = cord_plan(cover_material="PC")
    assert "near screws." in tell(plan, 4.3)


def test_metal_may_carry_all_that_it_is_allowed():
    metal = cord_plan(cover_material="aluminium 6082-T6")
    assert check_bending(metal, (made_up(metal, (0.01, 8.4), (0.01, 16.9)),)) == ()
    (finding,) = check_bending(metal, (made_up(metal, (0.01, 8.6), (0.01, 16.9)),))
    assert finding.severity == "fault"


def test_places_are_those_of_the_values():
    bending = made_up(PLAN, (0.05, 3.0), (0.04, 2.0))
    for lift in cord_lifts(PLAN.sealed, bending):
        loop = PLAN.sealed.loops[0]
        assert lift.loop == loop.name
        points = cut_pieces(loop.path, CORD_STEP)[0]
        assert lift.at == tuple(points[len(points) // 2])
        stress, at = find_stress(lift.case)
        points = lift.case.bent.points
        assert at == tuple(points[len(points) // 3])
        assert math.isfinite(stress)


def test_a_cover_that_lies_still_has_no_lift():
    bending = made_up(PLAN, (-0.01, 1.0), (-0.01, 1.0))
    assert [lift.lift for lift in cord_lifts(PLAN.sealed, bending)] == [0.0, 0.0]
    assert check_bending(PLAN, (bending,)) == ()


def test_a_cover_that_could_not_be_calculated_is_told():
    finding = tell_unbent(GeometryError("no screw holds the plate"))
    assert (finding.code, finding.severity) == ("cover.bow", "caution")
    assert "no screw holds the plate" in finding.text
