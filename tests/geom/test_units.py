"""Quantities: constants against published ones, the grammar, and what an error tells."""

from __future__ import annotations

import math
import re

import pytest
import scipy.constants
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.units import (
    KINDS,
    bar,
    kelvin,
    kpa,
    l_min,
    ml,
    parse_quantity,
    quantity_pattern,
    show_like,
    show_number,
)

NIST = "Thompson and Taylor, NIST Special Publication 811 (2008), appendix B.8 (recalled, not verified)"


@pytest.mark.published(source=NIST)
@pytest.mark.parametrize(
    ("text", "kind", "to_si", "printed"),
    [
        ("1 in", "length", 1e-3, "2.54E-02"),
        ("1 ft", "head", 1.0, "3.048E-01"),
        ("1 gpm", "flow", 1.0, "6.309020E-05"),
        ("1 L/min", "flow", 1.0, "1.666667E-05"),
        ("1 m3/h", "flow", 1.0, "2.777778E-04"),
        ("1 psi", "pressure", 1.0, "6.894757E+03"),
        ("1 mmH2O", "pressure", 1.0, "9.80665E+00"),
        ("1 bar", "pressure", 1.0, "1.0E+05"),
        ("1 mbar", "pressure", 1.0, "1.0E+02"),
    ],
)
def test_factors_as_printed(text: str, kind: str, to_si: float, printed: str) -> None:
    assert_as_printed(parse_quantity(text, kind) * to_si, printed)


@pytest.mark.published(source="SciPy, scipy.constants, units in SI")
@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("3 in", "length", 3 * scipy.constants.inch * 1000),
        ("2 ft", "head", 2 * scipy.constants.foot),
        ("5 psi", "pressure", 5 * scipy.constants.psi),
        ("0.5 bar", "pressure", 0.5 * scipy.constants.bar),
        ("1.5 gpm", "flow", 1.5 * scipy.constants.gallon_US / scipy.constants.minute),
        ("7 L/h", "flow", 7 * scipy.constants.liter / scipy.constants.hour),
        ("95 °F", "temperature", scipy.constants.convert_temperature(95, "Fahrenheit", "Celsius")),
        ("-40 °F", "temperature", -40.0),
        ("300 K", "temperature", scipy.constants.convert_temperature(300, "Kelvin", "Celsius")),
    ],
)
def test_values_agree_with_scipy(text: str, kind: str, si: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(si, rel=1e-12)


@pytest.mark.published(source="common practice, no source: 1 US gpm is 3.785 L/min, 212 °F boils water")
def test_facts_of_the_trade() -> None:
    assert_as_printed(l_min(parse_quantity("1 gpm", "flow")), "3.785")
    assert_as_printed(parse_quantity("212 °F", "temperature"), "100.000")


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("8 mm", "length", 8.0),
        ("8mm", "length", 8.0),
        ("8   mm", "length", 8.0),
        ("-1.5 cm", "length", -15.0),
        ("+2e-3 m", "length", 2.0),
        ("85 %", "percent", 0.85),
        ("90 deg", "angle", 90.0),
        ("90°", "angle", 90.0),
        ("35 C", "temperature", 35.0),
        ("1.2 kW", "power", 1200.0),
        ("0.25 L", "volume", 250.0),
        ("12 cm3", "volume", 12.0),
        ("50 cm", "head", 0.5),
        ("1.5 m/s", "velocity", 1.5),
        ("2400 rpm", "speed", 2400.0),
    ],
)
def test_parse(text: str, kind: str, value: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(value, rel=1e-15)


def test_bare_number_says_so_and_shows_an_example() -> None:
    with pytest.raises(ValueError, match=r"^'8' has no unit; write e\.g\. '8 mm' \(units: mm, cm, m, in\)$"):
        parse_quantity("8", "length")


@pytest.mark.parametrize(
    ("text", "kind", "told"),
    [
        ("8 ", "length", "has no unit"),
        ("", "length", "is not a length"),
        ("mm", "length", "is not a length"),
        ("8 MM", "length", "unit that is not one of length"),
        ("8 L/min", "length", "unit that is not one of length"),
        ("8,5 mm", "length", "decimal point"),
        ("1,000 mm", "length", "no thousands separators"),
        ("1 000 mm", "length", "no thousands separators"),
        ("1_000 mm", "length", "no thousands separators"),
        ("1e999 mm", "length", "too large"),
        ("inf mm", "length", "is not a length"),
        ("nan mm", "length", "is not a length"),
        (".5 mm", "length", "is not a length"),
        ("8 mm 9 mm", "length", "unit that is not one of length"),
        (" 8 mm", "length", "is not a length"),
        ("8 mm\n", "length", "unit that is not one of length"),
        ("٨ mm", "length", "is not a length"),
        ("4 l/min", "flow", "meant 'L/min'"),
        ("x" * 500, "flow", "..."),
    ],
)
def test_refused(text: str, kind: str, told: str) -> None:
    with pytest.raises(ValueError, match=re.escape(told)) as caught:
        parse_quantity(text, kind)
    assert KINDS[kind].example in str(caught.value)
    assert len(str(caught.value)) < 250


@given(
    st.floats(allow_nan=False, allow_infinity=False, min_value=-1e6, max_value=1e6),
    st.sampled_from([(kind, unit) for kind, known in KINDS.items() for unit in known.units]),
)
@settings(max_examples=150, deadline=None)
def test_round_trip_and_pattern(number: float, kind_unit: tuple[str, str]) -> None:
    kind, unit = kind_unit
    text = f"{number!r} {unit}"
    factor, offset = KINDS[kind].units[unit]
    back = (parse_quantity(text, kind) - offset) / factor
    assert back == pytest.approx(number, rel=1e-12, abs=1e-9)
    assert re.search(quantity_pattern(kind), text)


@given(st.text(alphabet="0123456789.eE+-, mcinLh/°%", max_size=12))
@settings(max_examples=300, deadline=None)
def test_the_pattern_matches_what_the_parser_takes(text: str) -> None:
    try:
        taken = math.isfinite(parse_quantity(text, "length"))
    except ValueError as error:
        taken = False
        if "too large" in str(error):
            return
    assert bool(re.search(quantity_pattern("length"), text)) == taken


def test_display_units_undo_the_parser() -> None:
    assert l_min(parse_quantity("4.2 L/min", "flow")) == pytest.approx(4.2)
    assert kpa(parse_quantity("5.5 kPa", "pressure")) == pytest.approx(5.5)
    assert bar(parse_quantity("0.5 bar", "pressure")) == pytest.approx(0.5)
    assert kelvin(parse_quantity("300 K", "temperature")) == pytest.approx(300)
    assert ml(1000.0 * parse_quantity("12 cm3", "volume")) == pytest.approx(12)


@pytest.mark.parametrize(
    ("value", "shown"),
    [(14000.0, "14000"), (1e6, "1000000"), (1e-5, "0.00001"), (5.5, "5.5"), (123456.0, "123500")],
)
def test_numbers_are_shown_without_exponent(value: float, shown: str) -> None:
    assert show_number(value) == shown


@given(st.floats(1e-9, 1e12))
def test_shown_numbers_keep_four_digits(value: float) -> None:
    assert float(show_number(value)) == pytest.approx(value, rel=5.001e-4)


def test_a_limit_is_shown_in_the_unit_of_a_text() -> None:
    assert show_like(1e8, "pressure", "1e9 kPa") == "100000 kPa"
    assert show_like(1.0, "percent", "185 %") == "100 %"
    assert show_like(100.0, "temperature", "400 K") == "373.15 K"
