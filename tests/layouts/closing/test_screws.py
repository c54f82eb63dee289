"""Cover screws: how far apart they may be, where they stand, and that they hit nothing."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.outline import outline_circle, region_polygon
from geom.standards.tables import screw
from layouts.clearance import clearances_of
from layouts.closing.cords import seal_panel
from layouts.closing.screws import (
    GRID,
    RIM_SHARE,
    allowed_spacing,
    beam_spacing,
    cord_line_load,
    cord_reach,
    place_screws,
)
from layouts.detail import cast_shadow, cover_screw_depth, cut_openings, cut_pump_screws
from layouts.panel import Closing, KeepClear, Panel
from layouts.plan import CordLoop, Routed
from tests.layouts.sample_routed import sample_back, sample_panel, sample_routed


def place_sample(
    panel: Panel, routed: Routed
) -> tuple[tuple[CordLoop, ...], tuple[tuple[float, float], ...]]:
    """Return cord loops and screws of a panel."""
    gaps = clearances_of(panel)
    loops = seal_panel(panel, routed, gaps)
    return loops, place_screws(panel, routed, loops, gaps)


@pytest.mark.published(
    source="clamped beam, 12 mm strip, 0.05 mm: printed spacings in mm; their tolerance 2 %"
)
@pytest.mark.parametrize(
    ("young", "thickness", "load", "printed"),
    [
        (3200, 8, 2.0, "63"),
        (3200, 10, 2.0, "74"),
        (2300, 8, 2.0, "58"),
        (70000, 5, 2.0, "95"),
        (3200, 8, 3.15, "56"),
        (3200, 10, 3.15, "66"),
        (2300, 8, 3.15, "52"),
        (70000, 5, 3.15, "85"),
    ],
)
def test_beam_spacing(young: float, thickness: float, load: float, printed: str) -> None:
    assert_as_printed(beam_spacing(young, 12.0, thickness, load), printed, rel=0.02)


@pytest.mark.published(
    source="gasket cover, C = [480 (a/b) E t3 dH / (13 Pmin + 2 Pmax)]^1/4, engineersedge.com (constants recalled)"
)
@given(young=st.floats(1e3, 1e5), strip=st.floats(5, 30), thickness=st.floats(2, 15), load=st.floats(0.5, 6))
@settings(max_examples=30, deadline=None)
def test_beam_spacing_is_the_gasket_formula(
    young: float, strip: float, thickness: float, load: float
) -> None:
    # With Pmin = Pmax = load / b over a gasket b wide.
    b = 3.0
    expected = (480 * (strip / b) * young * thickness**3 * 0.05 / (15 * load / b)) ** 0.25
    assert beam_spacing(young, strip, thickness, load) == pytest.approx(expected, rel=1e-9)


@pytest.mark.published(source="Lindley, load of rubber O-rings of 70 Shore A (recalled, not verified), N/mm")
@pytest.mark.parametrize(
    ("section", "squeeze", "printed"),
    [
        (1.78, 0.20, "1.13"),
        (1.78, 0.25, "1.66"),
        (2.62, 0.20, "1.66"),
        (2.62, 0.25, "2.44"),
        (2.62, 0.30, "3.50"),
        (3.53, 0.20, "2.24"),
        (3.53, 0.25, "3.28"),
        (3.53, 0.30, "4.71"),
    ],
)
def test_cord_load(section: float, squeeze: float, printed: str) -> None:
    assert_as_printed(cord_line_load(section, squeeze), printed)


@pytest.mark.published(source="measured squeeze load of a 1.78 mm O-ring, 70 Shore A, 20 %: 5 to 18 lbf/in")
def test_cord_load_lies_in_the_measured_band() -> None:
    lbf_in = 4.4482216 / 25.4
    assert 5 * lbf_in <= cord_line_load(1.78, 0.20) <= 18 * lbf_in


@pytest.mark.published(
    source="6-10 screw diameters, at most 8 thicknesses in plastics: common practice, no source"
)
def test_spacing_is_capped_by_screw_and_cover() -> None:
    panel = sample_panel()
    assert allowed_spacing(panel) == pytest.approx(40.0)
    thin = replace(panel, make=replace(panel.make, cover=4.0))
    assert allowed_spacing(thin) < 32.0
    thick = replace(panel, make=replace(panel.make, cover=60.0, screw="M8"))
    assert allowed_spacing(thick) == pytest.approx(80.0)


def test_spacing_shrinks_with_pressure_and_span() -> None:
    panel = replace(sample_panel(), make=replace(sample_panel().make, screw="M8"))
    pressed = replace(panel, rules=replace(panel.rules, test_pressure_pa=2e5))
    narrow = replace(panel, tank=replace(panel.tank, size=None))
    assert allowed_spacing(pressed) < allowed_spacing(panel) < allowed_spacing(narrow)


@pytest.mark.parametrize("back", [False, True])
def test_every_cord_point_is_within_reach_of_a_screw(back: bool) -> None:
    panel, routed = sample_back() if back else (sample_panel(), sample_routed())
    loops, screws = place_sample(panel, routed)
    reach, at = cord_reach(loops, screws)
    assert reach <= allowed_spacing(panel) / 2
    # Measured again, on the grooves' walls: they lie half a groove off the middle.
    walls = [region_polygon(region).exterior for loop in loops for region in (loop.inner, loop.outer)]
    points = [wall.interpolate(s) for wall in walls for s in range(0, int(wall.length), 3)]
    farthest = max(min(p.distance(shapely.Point(s)) for s in screws) for p in points)
    assert farthest <= reach + clearances_of(panel).groove_width / 2 + 0.5
    assert min(math.dist(at, s) for s in screws) == pytest.approx(reach)


@pytest.mark.parametrize("back", [False, True])
def test_no_screw_hits_anything(back: bool) -> None:
    panel, routed = sample_back() if back else (sample_panel(), sample_routed())
    loops, screws = place_sample(panel, routed)
    row, wall = screw("M4"), panel.rules.least_wall
    depth = cover_screw_depth(panel)
    openings = cut_openings(panel, routed)
    shadows = [cast_shadow(f.shape) for f in (*openings, *cut_pump_screws(panel, routed, openings))]
    grooves = [region_polygon(loop.outer) for loop in loops]
    assert len(screws) > 12
    for k, at in enumerate(screws):
        point = shapely.Point(at)
        for shadow, z0, z1 in shadows:
            if z0 < depth + wall and z1 > 0:
                assert shadow.distance(point) >= row.tap_drill / 2 + wall
            if z0 < 0:
                assert shadow.distance(point) >= row.clearance / 2 + wall
        assert min(groove.distance(point) for groove in grooves) >= row.clearance / 2 + 1.0
        rim = min(at[0], at[1], panel.width - at[0], panel.height - at[1])
        assert rim >= row.clearance / 2 + wall
        corner = min(math.dist(at, c) for c in ((6, 6), (194, 6), (194, 134), (6, 134)))
        if not (6 <= at[0] <= 194 or 6 <= at[1] <= 134):
            assert 6 - corner >= row.clearance / 2 + wall - 0.05
        assert all(math.dist(at, other) > row.head_diameter for other in screws[:k])
        assert not any(shapely.box(*k.box).dwithin(point, row.head_diameter / 2) for k in panel.keep_clear)


def test_screws_stand_at_the_corners_and_all_along_the_rim() -> None:
    panel = replace(sample_panel(), keep_clear=())
    _, screws = place_sample(panel, sample_routed())
    assert all(
        min(math.dist(corner, s) for s in screws) < 8
        for corner in ((0, 0), (panel.width, 0), (panel.width, panel.height), (0, panel.height))
    )
    for rim in (
        [y for x, y in screws if x > panel.width - 6],
        [y for x, y in screws if x < 6],
        [x for x, y in screws if y > panel.height - 6],
        [x for x, y in screws if y < 6],
    ):
        assert max(b - a for a, b in pairwise(sorted(rim))) <= RIM_SHARE * allowed_spacing(panel) + 1.5


def test_a_rim_without_cords_is_screwed_evenly() -> None:
    panel = replace(sample_panel(), width=500.0, keep_clear=())
    _, screws = place_sample(panel, sample_routed())
    bottom = [x for x, y in screws if y < 6 and x > 250.0]
    gaps = [b - a for a, b in pairwise(sorted(bottom))]
    assert len(gaps) >= 3
    assert max(gaps) - min(gaps) <= GRID + 1e-6


def test_same_panel_same_screws() -> None:
    first = place_sample(sample_panel(), sample_routed())[1]
    place_sample(replace(sample_panel(), keep_clear=()), sample_routed())
    assert place_sample(sample_panel(), sample_routed())[1] == first


@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_nothing_is_screwed_without_a_cord(closing: Closing) -> None:
    assert place_sample(sample_panel(closing), sample_routed(closing)) == ((), ())


def test_no_free_place_leaves_the_cord_out_of_reach() -> None:
    panel = replace(sample_panel(), keep_clear=(KeepClear("all", (0.0, 0.0, 200.0, 140.0), 1),))
    loops, screws = place_sample(panel, sample_routed())
    assert screws == ()
    assert cord_reach(loops, screws)[0] == math.inf


@pytest.mark.published(source="closed form: the middle of a ring of radii 10 and 14 is 12 from its centre")
def test_reach_of_a_round_cord() -> None:
    inner, outer = ((outline_circle((50.0, 50.0), radius),) for radius in (10.0, 14.0))
    loop = CordLoop("groove 1", "round", inner, outer, inner, outer)
    assert cord_reach((loop,), ((50.0, 50.0),))[0] == pytest.approx(12.0, abs=0.02)
    reach, at = cord_reach((loop,), ((62.0, 50.0),))
    assert reach == pytest.approx(24.0, abs=0.05)
    assert at == pytest.approx((38.0, 50.0), abs=0.6)
    assert cord_reach((), ()) == (0.0, (0.0, 0.0))


@settings(max_examples=12, deadline=None)
@given(
    x=st.floats(0, 160), y=st.floats(0, 110), wide=st.floats(5, 40), high=st.floats(5, 30), fine=st.booleans()
)
def test_keep_clear_boxes_stay_clear(x: float, y: float, wide: float, high: float, fine: bool) -> None:
    box = KeepClear("box", (x, y, x + wide, y + high), 1)
    panel = replace(sample_panel(), keep_clear=(box,))
    panel = replace(panel, make=replace(panel.make, screw="M3" if fine else "M4"))
    loops, screws = place_sample(panel, sample_routed())
    head = screw(panel.make.screw).head_diameter / 2
    assert all(shapely.box(*box.box).distance(shapely.Point(s)) >= head for s in screws)
    reach, _ = cord_reach(loops, screws)
    assert 0 < reach < 150
