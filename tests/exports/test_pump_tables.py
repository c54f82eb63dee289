"""Rows and lines of the pumps in the terminal, on values made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sample_plan import rich_plan

from exports.report.advice import report_advice
from exports.tables.advice_tables import describe_advice
from layouts.plan import Plan

SHORT = "it reaches 2.8 L/min (±7 %) at its most speed"


def with_first(**new: object) -> Plan:
    """Return the plan with other values of its best pump."""
    plan = rich_plan()
    first, *rest = plan.advised.pumping.ratings
    pumping = replace(plan.advised.pumping, ratings=(replace(first, **new), *rest))
    return replace(plan, advised=replace(plan.advised, pumping=pumping))


@pytest.mark.parametrize(
    ("new", "word", "line"),
    [
        ({}, "yes", None),
        ({"shortfall": SHORT}, "just", f'"tall pump" just fits: {SHORT}'),
        ({"shortfall": SHORT, "obstacles": (SHORT,)}, "no", f'"tall pump" does not fit: {SHORT}'),
    ],
)
def test_table_says_whether_a_pump_fits(new, word, line):
    plan = with_first(**new)
    told = describe_advice(plan)
    (row,) = (text for text in told if text.startswith("tall pump"))
    assert row.endswith(f" {word}")
    about = [text for text in told if text.startswith(('"tall pump" just', '"tall pump" does'))]
    assert about == ([] if line is None else [line])


def test_report_tells_just_from_yes():
    """And what is left within the noise, to the digit that the head's band allows and one more."""
    plan = with_first(shortfall=SHORT, margin_for_noise_m=0.123456, move="its seat does not fit")
    pump = report_advice(plan)["pumps"][0]
    told = pump["fits"], pump["shortfall"], pump["margin_for_noise_m"], pump["placed_anew"]
    assert told == (True, SHORT, 0.12, "its seat does not fit")


@pytest.mark.parametrize("fits", [True, False])
def test_pump_that_would_be_placed_anew_says_so_where_it_fits(fits):
    plan = with_first(move="its seat is large", obstacles=() if fits else ("it is loud",))
    line = '"tall pump" would be placed anew: its seat is large'
    assert (line in describe_advice(plan)) == fits


def test_speed_for_the_flow_stands_as_it_can_be_written():
    plan = with_first(speed_for_flow_rpm=3710.0)
    (row,) = (text for text in describe_advice(plan) if text.startswith("tall pump"))
    assert " 3710 rpm, " in row
    assert report_advice(plan)["pumps"][0]["speed_for_flow_rpm"] == 3710.0


@pytest.mark.parametrize("most_db", [36.5, 36.55])
def test_allowed_noise_is_told_back_as_the_file_gives_it(most_db):
    plan = with_first()
    pump = replace(plan.panel.pump, most_noise_db=most_db)
    told = describe_advice(replace(plan, panel=replace(plan.panel, pump=pump)))
    assert any(text.startswith(f'within {most_db} dB "tall pump" runs at 3900 rpm') for text in told)


def test_flow_within_the_noise_has_its_own_band():
    plan = with_first(flow_for_noise_m3_s=3.456 / 60e3, band_for_noise=2e-3)
    assert any('"tall pump" runs at 3900 rpm, 3.456 L/min' in text for text in describe_advice(plan))
    pump = report_advice(plan)["pumps"][0]
    assert (pump["flow_for_noise_l_min"], pump["band_for_noise"]) == (3.456, 2e-3)


def test_speed_within_the_noise_stands_as_it_can_be_written():
    """The least speed of a pump need not be a whole step."""
    plan = with_first(speed_for_noise_rpm=4375.0)
    assert any('"tall pump" runs at 4375 rpm' in text for text in describe_advice(plan))
