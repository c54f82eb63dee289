"""Kept routes in what is told of a plan: report, terminal, picture."""

from __future__ import annotations

from pathlib import Path

from sample_demos import route_demo

from exports.pictures.plan_picture import draw_plan
from exports.pipeline import plan_panel
from exports.report.document import report_document
from exports.tables.panel_tables import describe_plan
from layouts.file.read import read_panel
from layouts.keep_routes import route_corners
from layouts.panels.catalogue import demo_path
from layouts.routing.effort import QUICK

KEPT = "diode block - radiator"


def test_kept_routes_are_told(tmp_path: Path) -> None:
    back, front = route_corners(
        read_panel(demo_path("laser-driver")), route_demo("laser-driver", QUICK).channel(KEPT)
    )
    assert front == ()
    runs = [[[f"{x:g} mm", f"{y:g} mm"] for x, y in run] for run in back]
    path = tmp_path / "kept.toml"
    text = demo_path("laser-driver").read_text(encoding="utf-8")
    path.write_text(f'{text}\n[[keep_route]]\nchannel = "{KEPT}"\nback = {runs}\n', encoding="utf-8")
    plan = plan_panel(path)
    report = report_document(plan, None, plan.findings, (), {})
    assert [channel["name"] for channel in report["channels"] if channel["kept"]] == [KEPT]
    said = " ".join(describe_plan(plan).split())
    assert "among layouts on the 5 mm grid with 1 route kept" in said
    assert f'route kept from the file: "{KEPT}"' in said
    picture = draw_plan(plan)
    assert f">{KEPT}, kept<" in picture
    assert "with 1 route kept<" in picture
