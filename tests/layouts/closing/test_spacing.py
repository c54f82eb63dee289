"""How far apart cover screws may be: formulas against their sources, and what would let them stand farther apart."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.standards import tables
from layouts.closing.gland import cord_line_load
from layouts.closing.spacing import beam_spacing, cover_for_spacing, limit_spacing
from layouts.panel import Panel
from tests.layouts.sample_routed import sample_panel


def make_of(panel: Panel, **new: object) -> Panel:
    return replace(panel, make=replace(panel.make, **new))  # type: ignore[arg-type]


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


@pytest.mark.published(
    source="spira-emi.com, fastener spacing calculator: 80 % of the computed spacing is used"
)
def test_the_safety_share_is_the_published_one() -> None:
    stiff = make_of(sample_panel(), screw="M8", cover_material="aluminium 6082-T6", cover=3.0)
    spacing, limit = limit_spacing(stiff)
    assert limit == "stiffness"
    load = cord_line_load(2.08, 1 - 1.5 / 2.08) + 0.05 * 35 / 2
    # Both strips bow between the screws; what they bow adds up to the 0.05 mm.
    warm = stiff.coolant.temperature_c
    cover = tables.material("aluminium 6082-T6").young_at(warm, lasting=True)
    body = tables.material("PMMA cast").young_at(warm, lasting=True)
    clear = spacing / 0.80
    bows = [load * clear**4 / (32 * young * 8.8 * t**3) for young, t in ((cover, 3.0), (body, 20.0 - 1.5))]
    assert sum(bows) == pytest.approx(0.05, rel=1e-9)


@pytest.mark.published(
    source="Taylor Forge and TEMA, greatest bolt pitch 2 d + 6 t / (m + 0.5): M4, 8 mm, 56 mm (m 0.5); recalled, not "
    "verified"
)
def test_spacing_stays_under_that_of_gasketed_flanges() -> None:
    panel = sample_panel()
    assert (panel.make.screw, panel.make.cover) == ("M4", 8.0)
    assert limit_spacing(panel)[0] < 56


def test_spacing_is_capped_by_screw_and_cover() -> None:
    """6-10 screw diameters, at most 8 thicknesses in plastics: common practice, no source."""
    panel = sample_panel()
    assert limit_spacing(make_of(panel, cover=9.0)) == (pytest.approx(40.0), "diameters")
    assert 6 * 4.0 <= limit_spacing(panel)[0] <= 10 * 4.0
    thin = make_of(panel, cover=0.2)
    assert limit_spacing(thin) == (pytest.approx(1.6), "thicknesses")
    assert limit_spacing(make_of(panel, cover=4.0))[1] == "stiffness"
    assert limit_spacing(make_of(panel, screw_spacing=24.0)) == (24.0, "file")
    assert limit_spacing(make_of(panel, screw_spacing=300.0)) == limit_spacing(panel)
    thick = make_of(panel, cover=60.0, screw="M8")
    assert limit_spacing(thick)[0] == pytest.approx(80.0)


def test_spacing_shrinks_with_pressure_and_span() -> None:
    panel = make_of(sample_panel(), screw="M8")
    pressed = replace(panel, rules=replace(panel.rules, test_pressure_pa=2e5))
    narrow = replace(panel, tank=replace(panel.tank, size=None))
    assert limit_spacing(pressed)[0] < limit_spacing(panel)[0] < limit_spacing(narrow)[0]


def test_cover_and_body_count() -> None:
    panel = make_of(sample_panel(), screw="M8", cover=3.0)
    metal = make_of(panel, cover_material="aluminium 6082-T6")
    assert limit_spacing(metal)[0] > 1.5 * limit_spacing(panel)[0]
    # A stiff cover does not hold a body that bends.
    steel = make_of(panel, cover=6.0, cover_material="stainless steel 316", material="POM-C", body=14.0)
    assert limit_spacing(steel)[0] < 0.8 * limit_spacing(make_of(steel, material="aluminium 6082-T6"))[0]


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


@given(cover=st.floats(1.0, 8.0), wanted=st.floats(10.0, 90.0), metal=st.booleans())
@settings(max_examples=40, deadline=None)
def test_cover_for_a_spacing_is_the_thinnest_that_does(cover: float, wanted: float, metal: bool) -> None:
    panel = make_of(
        sample_panel(), screw="M8", cover=cover, cover_material="aluminium 6082-T6" if metal else ""
    )
    thickness = cover_for_spacing(panel, "back", wanted)
    if thickness is None:
        assert wanted > limit_spacing(make_of(panel, cover=40.0))[0]
        return
    assert limit_spacing(make_of(panel, cover=thickness))[0] >= wanted - 1e-6
    if thickness > cover:
        assert thickness * 2 == pytest.approx(round(thickness * 2))
        assert limit_spacing(make_of(panel, cover=max(cover, thickness - 0.5)))[0] < wanted


def test_no_cover_helps_beyond_the_screws_own_limit() -> None:
    assert cover_for_spacing(make_of(sample_panel(), cover=9.0), "back", 40.0) == 9.0
    assert cover_for_spacing(sample_panel(), "back", 40.1) is None
