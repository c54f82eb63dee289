"""Numbers and tables for people; what the machine check says."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plan import accept, fault, rich_plan, sample_plan

import exports.page.built
from exports import doctor
from exports.check_solids import Checked
from exports.doctor import examine_machine, name_missing_library
from exports.tables.panel_tables import describe_findings, describe_made, describe_plan, describe_rule
from exports.tables.text_tables import align_rows
from exports.wording.figures import (
    round_banded,
    round_to_error,
    shorten_text,
    show_band,
    show_banded,
    show_mm,
    show_place,
    show_share,
    wrap_words,
)
from exports.wording.routing_words import is_widened, tell_cost, tell_status
from layouts.plan import Plan
from layouts.rules.catalogue import RULES


@pytest.mark.parametrize(
    ("value", "band", "shown"),
    [
        (27.36, 0.06, "27"),
        (4.213, 0.06, "4.2"),
        (0.4119, 0.06, "0.41"),
        (10834.0, 0.06, "10800"),
        (0.0, 0.1, "0"),
        (-4.213, 0.06, "-4.2"),
        (999.96, 0.0006, "1000.0"),
    ],
)
def test_digits_end_where_the_band_begins(value: float, band: float, shown: str):
    assert show_banded(value, band) == shown


@given(st.floats(1e-3, 1e6), st.floats(1e-3, 0.5))
def test_rounding_stays_inside_the_band(value: float, band: float):
    assert abs(float(show_banded(value, band)) - value) <= 0.51 * value * band + 1e-6


@pytest.mark.parametrize(
    ("value", "error", "guard", "rounded"),
    [
        (27.36, 1.6, 0, 27.0),
        (27.36, 1.6, 1, 27.4),
        (0.02, 1.6, 1, 0.0),
        (0.0, 0.0, 1, 0.0),
        (1234.5, 60.0, 1, 1234.0),
        (1236.0, 600.0, 0, 1200.0),
    ],
)
def test_report_numbers_keep_one_digit_beyond_their_error(
    value: float, error: float, guard: int, rounded: float
):
    assert round_to_error(value, error, guard) == rounded


def test_no_negative_zero_is_reported():
    assert str(round_to_error(-0.01, 1.6)) == "0.0"
    assert str(round_banded(-0.0, 0.1)) == "0.0"


@given(st.floats(1e-3, 1e6), st.floats(1e-3, 0.5))
def test_the_guard_digit_keeps_a_tenth_of_the_band(value: float, band: float):
    assert abs(round_banded(value, band) - value) <= 0.051 * value * band + 1e-9


@given(st.lists(st.floats(0.01, 50.0), min_size=2, max_size=4), st.floats(0.01, 0.5))
def test_shares_rounded_with_their_sum_still_add_up_within_the_band(shares: list[float], band: float):
    whole = sum(shares)
    told = sum(round_to_error(share, whole * band) for share in shares)
    assert abs(told - round_banded(whole, band)) <= 0.05 * (len(shares) + 1) * whole * band + 1e-9


def test_shares_and_bands_in_words():
    assert [show_share(v) for v in (0.0, 0.0123, 0.286)] == ["0 %", "1.2 %", "29 %"]
    assert [show_band(v) for v in (0.0, 0.004, 0.12)] == ["", "±1 %", "±12 %"]


def test_long_names_lose_their_middle():
    assert shorten_text("cold plate 1", 12) == "cold plate 1"
    assert shorten_text("cold plate 1 + cold plate 2", 11) == "cold …ate 2"
    assert len(shorten_text("x" * 80, 20)) == 20


def test_lengths_have_no_idle_zeros():
    assert [show_mm(v) for v in (8.0, 10.25, 0.104, -0.001)] == ["8", "10.25", "0.1", "0"]
    assert show_place((1.0, 2.5, 0.0)) == "(1, 2.5, 0) mm"


@given(st.text(alphabet="ab ", max_size=60), st.integers(1, 20))
def test_wrapping_keeps_the_words(text: str, width: int):
    lines = wrap_words(text, width)
    assert " ".join(lines).split() == text.split()
    assert all(len(line) <= width or " " not in line for line in lines)


def test_columns_stand_in_line():
    lines = align_rows([("name", "n"), ("a", "100"), ("long name", "7")])
    assert lines == ["name         n", "a          100", "long name    7"]


def test_plan_in_words_has_channels_parts_and_ports():
    told = describe_plan(sample_plan())
    assert "flow 4.2 L/min (within 6 %); head 2.8 m, loop drop 27 kPa" in told
    assert "routing within 1.7 % (proven) of the best layout on the 5 mm grid" in told
    for line in (
        "feed           43 mm      0  4.2 L/min",
        "block  4.2 L/min  22 kPa  ±12 %    0.48 K",
        "block - tank        3.1  ±12 %       1.6    0.6    0.9",
    ):
        assert line in told


@pytest.mark.parametrize(
    ("status", "told"),
    [
        ("optimal (proven)", "optimal (proven) among layouts on the 5 mm grid"),
        ("within 2 % (proven)", "within 2 % (proven) of the best layout on the 5 mm grid"),
        ("found (no bound)", "found (no bound) on the 5 mm grid"),
    ],
)
def test_a_status_says_among_what(status: str, told: str):
    plan = sample_plan()
    assert tell_status(plan.panel, replace(plan.routed, status=status)) == told


def test_what_the_channels_take_is_told_as_routed_where_one_was_widened():
    plan = sample_plan()
    assert not is_widened(plan.panel, plan.routed)
    assert "widening" not in tell_cost(plan.panel, plan.routed)
    first, second, *rest = plan.routed.channels
    for channels in (
        (replace(first, width=first.width + 0.5), second, *rest),
        (first, replace(second, width=second.width + 0.5), *rest),
    ):
        routed = replace(plan.routed, channels=channels)
        assert tell_cost(plan.panel, routed).startswith("as routed, before widening, at the ")


def run_at(plan: Plan, speed_rpm: float | None) -> Plan:
    return replace(plan, panel=replace(plan.panel, pump=replace(plan.panel.pump, run_at_rpm=speed_rpm)))


def test_plan_says_with_which_pump_and_at_which_speed_its_flow_is():
    for plan, words in (
        (run_at(rich_plan(), 4375.0), '(within 6 %) with "pump" at 4375 rpm; head'),
        (rich_plan(), '(within 6 %) with "pump" at its most speed, 4800 rpm; head'),
        (sample_plan(), "(within 6 %); head"),
    ):
        assert words in " ".join(describe_plan(plan).split())


def test_plan_shows_the_restrictors_that_the_file_has():
    plan = sample_plan()
    (part,) = plan.panel.parts
    fitted = replace(plan, panel=replace(plan.panel, parts=(replace(part, restrictor=3.8),)))
    assert "block  4.2 L/min  22 kPa  ±12 %    0.48 K      3.8 mm" in describe_plan(fitted)
    assert "restrictor" not in describe_plan(plan)


def test_findings_in_words_faults_last_where_a_terminal_ends():
    told = describe_findings((accept(fault("make.reach"), "long cutter in hand"), fault()))
    assert told.index("note make.reach") < told.index("fault port.room")
    assert "accepted: long cutter in hand" in told
    assert told.endswith("1 fault (port.room), 1 note")
    assert describe_findings(()) == "no findings"


def test_solids_in_words(checked: Checked):
    told = describe_made(checked)
    assert "coolant" in told
    assert "thinnest wall beside coolant" in told


def test_every_rule_can_be_told():
    for rule in RULES:
        told = describe_rule(rule)
        assert rule.question.split()[0] in told
        assert max(len(line) for line in told.splitlines()) <= 105


def test_doctor_names_the_package_of_a_missing_library():
    assert name_missing_library("libGL.so.1: cannot open shared object file").endswith(
        "apt-get install libgl1"
    )
    assert name_missing_library("no module named x") == ""


def test_doctor_looks_for_every_package_that_is_needed():
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))[
        "project"
    ]
    needed = {re.match(r"[\w-]+", one)[0] for one in project["dependencies"]}
    assert needed <= set(doctor.PACKAGES)


def test_doctor_tells_what_is_not_built(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(doctor, "_PROBES", ())
    monkeypatch.setattr(doctor, "PACKAGES", ())
    for text, good in (("", False), ("x", True)):
        monkeypatch.setattr(exports.page.built, "read_built", lambda name, text=text: text)
        check = next(check for check in examine_machine() if check.name == "solids in the report")
        assert check.good is good
        assert bool(check.remedy) is not good


def test_doctor_survives_a_crash_and_tells_it(monkeypatch: pytest.MonkeyPatch):
    probes = (
        ("crash", "import os; os.abort()"),
        ("lack", "raise ImportError('libX11.so.6: cannot open shared object file')"),
        ("good", "pass"),
    )
    monkeypatch.setattr(doctor, "_PROBES", probes)
    monkeypatch.setattr(doctor, "PACKAGES", ("click", "no-such-package-here"))
    checks = {check.name: check for check in examine_machine()}
    assert not checks["crash"].good
    assert "signal" in checks["crash"].found
    assert "libx11-6" in checks["lack"].remedy
    assert checks["good"].good
    assert checks["click"].good
    assert checks["no-such-package-here"].remedy == "pip install no-such-package-here"
    assert checks["cache"].found


def test_doctor_says_when_the_cache_may_not_be_written(monkeypatch: pytest.MonkeyPatch, tmp_path):
    def refuse(**options: object) -> None:
        raise PermissionError(13, "no")

    (tmp_path / "rillplate").mkdir()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(doctor.tempfile, "TemporaryFile", refuse)
    monkeypatch.setattr(doctor, "_PROBES", ())
    cache = examine_machine()[-1]
    assert not cache.good
    assert "XDG_CACHE_HOME" in cache.remedy
