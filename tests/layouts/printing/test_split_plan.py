"""A demo whose printer is too small, planned whole: it is split, told, and drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from exports.pictures.plan_picture import draw_plan
from exports.pipeline import plan_panel
from exports.report.split import split_section
from layouts.panels.catalogue import demo_path
from layouts.plan import Plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    text = demo_path("cupboard-server").read_text(encoding="utf-8")
    whole = 'room = ["220 mm", "220 mm", "220 mm"]'
    assert whole in text
    path: Path = tmp_path_factory.mktemp("split") / "small-printer.toml"
    path.write_text(text.replace(whole, 'room = ["150 mm", "150 mm", "170 mm"]'), encoding="utf-8")
    return plan_panel(path)


def test_demo_for_a_small_printer_is_split(plan: Plan):
    assert plan.printed is not None
    split = plan.printed.split
    assert split is not None
    assert {f.severity for f in plan.findings if f.code in ("print.room", "print.split")} == {"note"}
    assert not any(f.severity == "fault" for f in plan.findings)
    assert tuple(blank.name for blank in plan.detail.blanks) == split.pieces
    assert [insert.name for insert in plan.detail.inserts] == [
        f"cord ring {number}" for number in range(1, len(split.crossings) + 1)
    ]


def test_report_and_picture_tell_of_it(plan: Plan):
    section = split_section(plan)
    assert section is not None
    assert [ring["channel"] for ring in section["rings"]] == ["pump - server block"]
    assert section["screws"]["count"] == len(section["screws"]["at_mm"])
    assert max(section["screws"]["loads_n"]) * 1.5 <= section["screws"]["holds_n"]
    assert ">split</text>" in draw_plan(plan)
