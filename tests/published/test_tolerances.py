"""General tolerances against the printed tables of ISO 2768."""

from __future__ import annotations

from itertools import pairwise

import pytest
from printed import assert_as_printed

from geom.errors import OutOfRange
from geom.standards.tolerances import flatness, linear_tolerance, radius_tolerance, tolerance_rows
from layouts.tolerances.screws import fastener_zone


@pytest.mark.published(
    source="ISO 2768-1:1989, table 1, as in several published copies; DIN ISO 2768-1 at "
    "scribd.com/document/585640440, page 1, has the same but for c up to 6 mm, misprinted there"
)
@pytest.mark.parametrize(
    ("grade", "nominal", "printed"),
    [
        ("f", 3.0, "0.05"),
        ("f", 6.0, "0.05"),
        ("f", 6.1, "0.1"),
        ("f", 30.0, "0.1"),
        ("f", 120.0, "0.15"),
        ("f", 400.0, "0.2"),
        ("f", 1000.0, "0.3"),
        ("m", 0.5, "0.1"),
        ("m", 4.0, "0.1"),
        ("m", 20.0, "0.2"),
        ("m", 120.0, "0.3"),
        ("m", 120.1, "0.5"),
        ("m", 400.0, "0.5"),
        ("m", 401.0, "0.8"),
        ("m", 1500.0, "1.2"),
        ("m", 4000.0, "2"),
        ("c", 2.0, "0.2"),
        ("c", 5.0, "0.3"),
        ("c", 8.0, "0.5"),
        ("c", 100.0, "0.8"),
        ("c", 300.0, "1.2"),
        ("c", 900.0, "2"),
        ("v", 4.0, "0.5"),
        ("v", 10.0, "1"),
        ("v", 31.0, "1.5"),
        ("v", 200.0, "2.5"),
        ("v", 500.0, "4"),
        ("v", 1200.0, "6"),
    ],
)
def test_lengths(grade: str, nominal: float, printed: str) -> None:
    assert_as_printed(linear_tolerance(grade, nominal), printed)
    assert linear_tolerance(grade, nominal) == float(printed)


@pytest.mark.published(source="ISO 2768-1:1989, table 2, as in several published copies")
@pytest.mark.parametrize(
    ("grade", "nominal", "printed"),
    [("f", 2.0, 0.2), ("m", 6.0, 0.5), ("m", 6.5, 1.0), ("c", 3.0, 0.4), ("v", 6.0, 1.0), ("c", 10.0, 2.0)],
)
def test_radii(grade: str, nominal: float, printed: float) -> None:
    assert radius_tolerance(grade, nominal) == printed


@pytest.mark.published(
    source="ISO 2768-2:1989, table 1, as at https://amesweb.info/fits-tolerances/straightness-flatness-tolerances.aspx"
)
@pytest.mark.parametrize(
    ("grade", "printed"),
    [
        ("H", (0.02, 0.05, 0.1, 0.2, 0.3, 0.4)),
        ("K", (0.05, 0.1, 0.2, 0.4, 0.6, 0.8)),
        ("L", (0.1, 0.2, 0.4, 0.8, 1.2, 1.6)),
    ],
)
def test_flatness(grade: str, printed: tuple[float, ...]) -> None:
    assert tuple(flatness(grade, length) for length in (10, 30, 100, 300, 1000, 3000)) == printed
    assert tuple(flatness(grade, length) for length in (1, 10.1, 30.1, 100.1, 300.1, 1000.1)) == printed


@pytest.mark.published(
    source="Cogorno, Tolerancing fixed fasteners, figure 8-6: hole .274, screw .250, whole tolerance .024"
)
def test_fixed_fastener() -> None:
    assert_as_printed(2 * fastener_zone(0.274, 0.250), "0.024")


def test_rows_have_sources_and_each_range_follows_the_other() -> None:
    rows = tolerance_rows()
    assert all(len(row.source) > 20 for row in rows)
    for one, two in pairwise(rows):
        if (one.of, one.grade) == (two.of, two.grade):
            assert one.up_to == two.over
            assert one.tolerance <= two.tolerance


@pytest.mark.parametrize(("grade", "nominal"), [("m", 0.4), ("v", 2.0), ("f", 2500.0), ("m", 4001.0)])
def test_sizes_beside_the_table_are_refused(grade: str, nominal: float) -> None:
    with pytest.raises(OutOfRange, match=f'class "{grade}" has no tolerance for a length of {nominal:g} mm'):
        linear_tolerance(grade, nominal)


def test_a_class_that_there_is_not_names_those_there_are() -> None:
    with pytest.raises(OutOfRange, match="use one of f, m, c, v"):
        linear_tolerance("K", 10.0)
    with pytest.raises(OutOfRange, match="use one of H, K, L"):
        flatness("m", 10.0)
