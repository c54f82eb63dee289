"""A demo whose printer is too small, planned whole: it is split, told, and drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from exports.check_solids import check_solids
from exports.pictures.panel_picture import draw_panel
from exports.pictures.plan_picture import draw_plan
from exports.pipeline import join_findings, plan_panel
from exports.report.split import split_section
from geom.findings import has_fault
from layouts.panels.catalogue import demo_path
from layouts.plan import Plan


def plan_in(folder: Path, room: str, **printing: str) -> Plan:
    """Return the plan of a demo for a printer of a room, with keys added to its table of printing."""
    text = demo_path("cupboard-server").read_text(encoding="utf-8")
    whole = 'room = ["220 mm", "220 mm", "220 mm"]'
    assert whole in text
    assert "[printing]" not in text
    table = "".join(f'{key} = "{value}"\n' for key, value in printing.items())
    path = folder / "small-printer.toml"
    path.write_text(f"{text.replace(whole, f'room = {room}')}\n[printing]\n{table}", encoding="utf-8")
    return plan_panel(path)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan_in(tmp_path_factory.mktemp("split"), '["150 mm", "150 mm", "170 mm"]')


def test_split_across_no_channel_is_made(tmp_path: Path):
    """All coolant is in one piece; the other is solid but for the joint."""
    plan = plan_in(tmp_path, '["170 mm", "170 mm", "170 mm"]', lies_on="back")
    assert plan.printed is not None
    assert plan.printed.split is not None
    assert plan.printed.split.crossings == ()
    checked = check_solids(plan)
    assert not has_fault(join_findings(plan, checked))
    assert {mesh.fit.part for mesh in checked.prints} == {*plan.printed.split.pieces}
    drawn = draw_panel(plan, checked)
    assert drawn == draw_panel(plan, checked)
    assert "its pieces pulled apart" in drawn


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
