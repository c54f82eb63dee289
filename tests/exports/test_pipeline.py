"""The sentence as a whole: an example made twice, and runs that faults stop."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest
import trimesh
from sample_demos import plan_demo
from sample_plan import fault, sample_plan

import exports.check_solids
from exports import pipeline
from exports.check_solids import Built, Checked, _look_for_feathers, check_solids
from exports.pipeline import make_panel, plan_panel
from exports.written_files import write_made
from geom.build import build_solids
from geom.errors import PanelFileError
from geom.features import Blank, Cylinder, Detail, Feature
from geom.findings import accept_findings
from geom.outline import outline_rectangle
from geom.rebuild import rebuild_features
from geom.tessellate import mesh_solid
from layouts.cost.quantities import cost_sheet
from layouts.plan import Plan
from layouts.printing.printed import Pose, Printed

FILLED = {"filling.svg", "tilts.svg"}

PAPERS = {"drawing.pdf", "drawing.dxf", "sheets.pdf", "parts.csv"}
"""What a panel without faults is made by."""

WANTED = (FILLED | PAPERS) | {
    "assembly.step",
    "assembly.glb",
    "body.step",
    "body.stl",
    "body.3mf",
    "bow.svg",
    "closing.svg",
    "cost.csv",
    "cover.step",
    "cover.stl",
    "cover.3mf",
    "panel.svg",
    "plan.svg",
    "pressure.svg",
    "pumps.svg",
    "report.html",
    "report.json",
}

MILLED = {
    "setups.svg",
    "body-front.dxf",
    "body-top.dxf",
    "body-bottom.dxf",
    "body-left.dxf",
    "body-back.dxf",
    "cover-back.dxf",
}
"""The laser driver's; the small sample hands on no set-ups."""

BONDED = (WANTED | MILLED) - {"bow.svg"}
"""A bonded cover has no screws, and is not bent by finite elements."""

ON_FAULT = FILLED | {
    "bow.svg",
    "closing.svg",
    "cost.csv",
    "plan.svg",
    "pressure.svg",
    "pumps.svg",
    "report.html",
    "report.json",
}


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_the_same_file_gives_the_same_bytes_in_another_process(twice):
    assert names_in(twice.first) == names_in(twice.second) == BONDED
    for name in sorted(BONDED):
        assert (twice.first / name).read_bytes() == (twice.second / name).read_bytes(), name


def test_json_on_standard_output_is_one_document_with_seconds(twice):
    document = json.loads(twice.printed)
    assert document["result"] == "ok"
    assert document["seconds"].keys() >= {
        "read",
        "route",
        "seal",
        "flow",
        "rules",
        "build",
        "mesh",
        "walls",
        "write",
    }
    report = json.loads((twice.first / "report.json").read_bytes())
    assert report["seconds"] == {}
    assert {**document, "seconds": {}} == report


def test_report_lists_every_file_with_its_digest(twice):
    report = json.loads((twice.first / "report.json").read_bytes())
    assert {f["name"] for f in report["files"]} == BONDED - {"report.json"}
    for file in report["files"]:
        assert hashlib.sha256((twice.first / file["name"]).read_bytes()).hexdigest() == file["sha256"]


def test_meshes_of_the_example_weigh_what_the_report_says(twice):
    report = json.loads((twice.first / "report.json").read_bytes())
    volumes = {p["part"]: p["solid_mm3"] for p in report["volumes"]["parts"]}
    for part in ("body", "cover"):
        for suffix in ("stl", "3mf"):
            mesh = trimesh.load(twice.first / f"{part}.{suffix}", force="mesh")
            assert mesh.is_watertight
            assert mesh.volume == pytest.approx(volumes[part], rel=1e-3)
    wetted = report["volumes"]["wetted_mm3"]
    assert wetted["plan"] == pytest.approx(wetted["solid"], rel=1e-5)


def test_what_was_built_is_checked_without_building_it_again(plan: Plan, checked: Checked, monkeypatch):
    def never(*arguments):
        raise AssertionError("built again")

    monkeypatch.setattr(exports.check_solids, "build_meshes", never)
    stages: list[str] = []
    built = Built(checked.solids, checked.meshes, checked.wet_mesh)
    again = check_solids(plan, lambda stage, seconds: stages.append(stage), built=built)
    assert again.solids is checked.solids
    assert again.findings == checked.findings
    assert stages[:2] == ["load kernel", "walls"]


def test_stages_are_told_in_order(twice):
    stages: list[str] = []
    plan_panel(
        Path(pipeline.__file__).parents[1] / "layouts/panels/laser-driver.toml", lambda s, t: stages.append(s)
    )
    assert " > ".join(stages) == (
        "read > route > flow > posts > service > advise > seal > making > fill > rules"
    )


def test_faults_of_the_plan_stop_the_run_before_any_solid(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def never(*arguments: object) -> None:
        raise AssertionError("solids were built")

    monkeypatch.setattr(pipeline, "plan_panel", lambda *arguments: sample_plan((fault(),)))
    monkeypatch.setattr(pipeline, "check_solids", never)
    made = make_panel("any.toml", tmp_path / "out")
    assert made.checked is None
    # The cover is bent with the solids; how the sample fills is not in its plan.
    assert names_in(tmp_path / "out") == ON_FAULT - FILLED - {"bow.svg"}
    assert json.loads((tmp_path / "out" / "report.json").read_bytes())["result"] == "faults"


def test_set_ups_are_drawn_and_reported_though_a_fault_stops_the_solids(tmp_path: Path):
    demo = plan_demo("laser-driver")
    write_made(demo, None, (fault("wall.thin"),), cost_sheet(demo), tmp_path)
    assert "setups.svg" in names_in(tmp_path)
    assert not any(name.endswith(".dxf") for name in names_in(tmp_path))
    report = json.loads((tmp_path / "report.json").read_bytes())
    assert len(report["milling"]["setups"]) == 6
    assert report["milling"]["jobs"]


def test_filling_is_drawn_though_a_fault_stops_the_solids(tmp_path: Path):
    """The tilts are looked at with the solids."""
    demo = plan_demo("laser-driver")
    write_made(demo, None, (fault("wall.thin"),), cost_sheet(demo), tmp_path)
    assert names_in(tmp_path) & FILLED == {"filling.svg"}
    report = json.loads((tmp_path / "report.json").read_bytes())
    assert report["filling"]["spacing_mm"] == 1.0
    assert report["filling"]["tilts"] is None


def test_the_finer_filling_is_reported_where_the_solids_were_looked_at(twice):
    report = json.loads((twice.first / "report.json").read_bytes())
    assert report["filling"]["spacing_mm"] == 0.5
    assert len(report["filling"]["tilts"]["degrees"]) == 13


def test_faults_of_the_solids_stop_step_stl_and_3mf(plan: Plan, checked: Checked, tmp_path: Path):
    write_made(plan, checked, (), cost_sheet(plan), tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert before.keys() == WANTED
    write_made(plan, checked, (fault("wall.thin"),), cost_sheet(plan), tmp_path)
    after = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert after.keys() == WANTED
    # The fault stands in the plan's picture and in the report; the loop is the same.
    changed = {name for name in WANTED if after[name] != before[name]}
    assert changed == {"plan.svg", "report.html", "report.json"}
    report = json.loads(after["report.json"])
    assert {f["name"] for f in report["files"]} == ON_FAULT - {"report.json"}
    assert {f["name"] for f in report["earlier_files"]} == WANTED - ON_FAULT
    assert report["volumes"]["wetted_mm3"]["solid"] > 0


def test_only_what_is_printed_is_told_to_be_for_printing(plan: Plan, checked: Checked, tmp_path: Path):
    make = replace(plan.panel.make, method="printed", material="PETG", cover_material="aluminium 6082-T6")
    lying = Printed(Pose("on its front", "front", (0.0, 0.0, -1.0)))
    printed = replace(plan, panel=replace(plan.panel, make=make), printed=lying)
    records = write_made(printed, checked, (), cost_sheet(printed), tmp_path)
    told = {record.name: record.what for record in records}
    assert "for printing" in told["body.stl"]
    assert "for printing" not in told["cover.stl"] + told["cover.3mf"]
    assert "cut from a sheet" in told["cover.stl"]


def test_feather_edges_are_looked_for_in_a_cover_that_is_cut(plan: Plan):
    """Circles of 4 mm radius with axes 7.9 mm apart leave cusps of 18 degrees: told of the sheet, not of the print."""
    make = replace(plan.panel.make, method="printed", material="PETG", cover_material="aluminium 6082-T6")
    sheet = outline_rectangle(0.0, 0.0, 60.0, 40.0, 0.0)
    blanks = (Blank("body", sheet, 0.0, 10.0), Blank("cover", sheet, -6.0, 0.0))
    holes = tuple(
        Feature(
            f"hole {n}",
            "screw hole",
            "dry",
            Cylinder((20.0 + 7.9 * n, 20.0, 10.0), (0.0, 0.0, -1.0), 16.0, 4.0),
        )
        for n in (0, 1)
    )
    detail = Detail(blanks, holes, ())
    solids = build_solids(detail)
    meshes = {part.name: mesh_solid(part.solid) for part in solids.parts}
    printed = replace(plan, panel=replace(plan.panel, make=make), detail=detail)
    found = _look_for_feathers(printed, solids, meshes, rebuild_features(solids))
    assert [(f.code, f.features) for f in found] == [("make.feather", ("hole 0", "hole 1"))]
    assert "the cover has a feather edge of about 18 degrees" in found[0].text.lower()


def test_accepted_findings_do_not_stop_the_export(plan: Plan, checked: Checked, tmp_path: Path):
    accepting = replace(plan.panel, rules=replace(plan.panel.rules, accept={"wall.thin": "tested by hand"}))
    thin = replace(plan, panel=accepting)
    found = accept_findings((fault("wall.thin"),), thin.panel.rules.accept)
    write_made(thin, checked, found, cost_sheet(thin), tmp_path)
    assert names_in(tmp_path) == WANTED
    assert json.loads((tmp_path / "report.json").read_bytes())["findings"][0]["accepted"] == "tested by hand"


def test_the_sample_is_sound(checked: Checked):
    assert [f.code for f in checked.findings if f.severity == "fault"] == []
    assert checked.thinnest is not None


def test_a_thin_wall_is_found_on_the_solids():
    plan = sample_plan()
    limits = replace(plan.panel.rules, least_wall=3.5)
    found = check_solids(replace(plan, panel=replace(plan.panel, rules=limits))).findings
    assert "wall.thin" in {f.code for f in found}


def test_a_bad_file_writes_nothing(tmp_path: Path):
    (tmp_path / "bad.toml").write_text("[panel]\n")
    with pytest.raises(PanelFileError):
        make_panel(tmp_path / "bad.toml", tmp_path / "out")
    assert not (tmp_path / "out").exists()
