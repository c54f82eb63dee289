"""Speeds and feeds against the tables that they are taken from."""

from __future__ import annotations

import math

import pytest
from printed import assert_as_printed

from geom.standards.tables import MM_PER_INCH, material_names
from layouts.milling.cutting_data import CuttingData, cutting_data, cutting_families, run_mill

M_PER_FOOT = 0.3048
INCHES = (1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2)


def hold_mill(data: CuttingData, feet: tuple[str, str], loads: tuple[str, ...]) -> None:
    """Hold speeds [ft/min] and chip loads [in] to their printed values."""
    for speed, printed in zip(data.speeds, feet, strict=True):
        assert_as_printed(speed / M_PER_FOOT, printed)
    for (size, load), inch, printed in zip(data.chip_loads, INCHES, loads, strict=True):
        assert size == pytest.approx(inch * MM_PER_INCH, rel=1e-12)
        assert_as_printed(load / MM_PER_INCH, printed)


@pytest.mark.published(
    source="general machining guidelines, carbide end mills, non-ferrous, "
    "harveytool.com/cms/GeneralMachiningGuidelines_17.aspx: SFM and chip load by diameter"
)
@pytest.mark.parametrize(
    ("material", "feet", "loads"),
    [
        ("PMMA cast", ("200", "600"), ("0.001", "0.002", "0.003", "0.004", "0.006")),
        ("PC", ("200", "500"), ("0.001", "0.002", "0.003", "0.004", "0.006")),
        ("aluminium 6061-T6", ("800", "1500"), ("0.001", "0.002", "0.002", "0.003", "0.004")),
    ],
)
def test_non_ferrous_end_mills(material: str, feet: tuple[str, str], loads: tuple[str, ...]):
    hold_mill(cutting_data(material), feet, loads)


STAINLESS_IN = (
    ("0.0003", "0.0007"),
    ("0.0004", "0.001"),
    ("0.0006", "0.0012"),
    ("0.001", "0.002"),
    ("0.001", "0.003"),
)


@pytest.mark.published(
    source="parameter sheet of a seller of end mills, "
    "cdn.shopify.com/s/files/1/0612/0733/files/HIT_Tooling_Parameter_Sheet.pdf, end mills, row stainless steel (300 "
    "series): 175-250 SFM, chip load by diameter as ranges"
)
def test_stainless_end_mills():
    data = cutting_data("stainless steel 316")
    for speed, printed in zip(data.speeds, ("175", "250"), strict=True):
        assert_as_printed(speed / M_PER_FOOT, printed)
    for (size, load), inch, (low, high) in zip(data.chip_loads, INCHES, STAINLESS_IN, strict=True):
        assert size == pytest.approx(inch * MM_PER_INCH, rel=1e-12)
        assert load / MM_PER_INCH == pytest.approx((float(low) + float(high)) / 2, rel=1e-9)


@pytest.mark.published(
    source="recommended chip loads, formulafactory.tools/reference-charts/recommended-chip-loads, column stainless, in"
)
@pytest.mark.parametrize(
    ("inch", "low", "high"),
    [
        (1 / 8, 0.0004, 0.0008),
        (1 / 4, 0.0008, 0.0015),
        (3 / 8, 0.0012, 0.0020),
        (1 / 2, 0.0015, 0.0030),
    ],
)
def test_chip_loads_in_stainless_lie_in_another_chart(inch: float, low: float, high: float):
    assert low <= cutting_data("stainless steel 304").chip_load(inch * MM_PER_INCH) / MM_PER_INCH <= high


@pytest.mark.published(source="chip load chart, machinecalcs.com/chip-load-chart, column stainless, mm")
@pytest.mark.parametrize(
    ("size", "load"), [(1.5, 0.004), (3.0, 0.010), (6.0, 0.020), (8.0, 0.030), (10.0, 0.040), (12.0, 0.050)]
)
def test_chip_loads_in_stainless_are_near_a_third_chart(size: float, load: float):
    # Starting values that the chart itself tells to tune.
    assert cutting_data("stainless steel 316").chip_load(size) == pytest.approx(load, rel=0.5)
    if size >= 3.0:
        assert cutting_data("stainless steel 316").chip_load(size) == pytest.approx(load, rel=0.25)


@pytest.mark.published(
    source="plastic milling guidelines, curbellplastics.com, table, row acetal (copolymer): 920 - 1640 ft/min"
)
def test_acetal_speed():
    for speed, printed in zip(cutting_data("POM-C").speeds, ("920", "1640"), strict=True):
        assert_as_printed(speed / M_PER_FOOT, printed)


@pytest.mark.published(
    source="nominal tutorial cutting speeds and feeds, scribd.com/document/615349553, table 1 (page 1): drilling, "
    "plastics 20 - 75 m/min, 0.10 mm at 6 mm, 0.15 mm at 12 mm; stainless steel 0.13 mm at 6 mm, 0.18 mm at 12 mm"
)
def test_drill_feeds():
    plastic, steel = cutting_data("PMMA cast"), cutting_data("stainless steel 304")
    assert plastic.drill_speeds == (20.0, 75.0)
    assert_as_printed(plastic.drill_feed(6.0), "0.10")
    assert_as_printed(plastic.drill_feed(12.0), "0.15")
    assert_as_printed(steel.drill_feed(6.0), "0.13")
    assert_as_printed(steel.drill_feed(12.0), "0.18")


@pytest.mark.published(
    source="recommended cutting speeds for drilling, high-speed steel: protocutter.com/feed-rates-light-metals, "
    "wrought aluminium 400 (CD) and 350 fpm (ST and A); protocutter.com/cutting-speeds-in-feet-per-minute, "
    "austenitic 304: 55 and 316: 50 fpm"
)
def test_drill_speeds_of_metals():
    for speed, printed in zip(cutting_data("aluminium 6082-T6").drill_speeds, ("350", "400"), strict=True):
        assert_as_printed(speed / M_PER_FOOT, printed)
    for speed, printed in zip(cutting_data("stainless steel 304").drill_speeds, ("50", "55"), strict=True):
        assert_as_printed(speed / M_PER_FOOT, printed)


@pytest.mark.published(
    source="recommended tapping speeds, lavallee-ide.com/catalog/technical_data_taps_dies_speedsinfo.php: aluminium "
    "50 - 150, thermoplastic 50 - 100, stainless steel 5 - 35 fpm"
)
@pytest.mark.parametrize(
    ("material", "feet"),
    [
        ("aluminium 6061-T6", ("50", "150")),
        ("PETG", ("50", "100")),
        ("stainless steel 304", ("5", "35")),
    ],
)
def test_tap_speeds(material: str, feet: tuple[str, str]):
    for speed, printed in zip(cutting_data(material).tap_speeds, feet, strict=True):
        assert_as_printed(speed / M_PER_FOOT, printed)


@pytest.mark.published(
    source="calculating feeds and speeds, cncshop.eu/pages/calculating-feeds-and-speeds: "
    "2 flutes x 0.1 mm x 18000 rpm = 3600 mm/min"
)
def test_feed_of_an_end_mill():
    data = CuttingData(
        "test", (), (1e4, 1e4), ((25.0, 0.1),), 1.0, 0.5, (1.0, 1.0), ((1.0, 0.1),), (1.0, 1.0), ""
    )
    assert_as_printed(run_mill(data, 25.0, 2, 18_000).feed_mm_min, "3600")


@pytest.mark.published(
    source="formulas beside the same guidelines: RPM = 3.82 x SFM / D; 1/4 in at 1150 SFM gives 17572"
)
def test_turns_of_an_end_mill():
    data = cutting_data("aluminium 6061-T6")
    run = run_mill(data, MM_PER_INCH / 4, 2, 1e6)
    assert run.speed_rpm == pytest.approx(3.82 * 1150 / 0.25, rel=1e-3)


def test_every_material_is_cut_by_one_family():
    for name in material_names():
        assert sum(1 for row in cutting_families() if name in row.materials) == 1
        assert cutting_data(name).source


def test_small_end_mills_are_held_by_the_spindle():
    run = run_mill(cutting_data("PMMA cast"), 1.0, 2, 24_000)
    assert run.speed_rpm == 24_000
    assert run.feed_mm_min == pytest.approx(24_000 * 2 * 0.0254 / 3.175)
    assert math.isclose(cutting_data("PMMA cast").chip_load(20.0), 0.1524)
