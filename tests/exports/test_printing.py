"""Printed demos as they lie: measured, ranked, named, told and drawn; planted faults found in place."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest
from sample_demos import plan_demo

from exports.pictures.print_picture import draw_print
from exports.pipeline import Checked, check_solids, join_findings
from exports.pose_search import search_poses
from exports.report.printing import printing_section
from exports.tables.printing_tables import describe_poses
from geom.features import Feature, Prism
from geom.outline import outline_rectangle
from geom.rebuild import rebuild_features
from layouts.plan import Plan

DEMO = "cupboard-server"
TEXT = "{http://www.w3.org/2000/svg}text"


@cache
def checked_demo() -> Checked:
    return check_solids(plan_demo(DEMO))


def plant_hollow(plan: Plan) -> Plan:
    """Return a plan with a closed hollow 20 mm wide and long in the body, its roof's middle at (175, 130, 16) mm."""
    region = (outline_rectangle(165.0, 120.0, 185.0, 140.0, 0.0),)
    hollow = Feature("channel planted", "channel", "wet", Prism(region, 9.0, 16.0))
    return replace(plan, detail=replace(plan.detail, features=(*plan.detail.features, hollow)))


def test_demo_is_free_of_findings_in_its_pose():
    checked = checked_demo()
    assert [f.code for f in checked.findings if f.code.startswith("print.") and f.severity != "note"] == []
    (panel,) = checked.poses
    assert panel.tried[0] is panel.made
    assert all(panel.features_at(roof.at) for roof in panel.made.measure.roofs)


def test_planted_roof_is_found_in_place():
    checked = check_solids(plant_hollow(plan_demo(DEMO)))
    (finding,) = [f for f in checked.findings if f.code == "print.roof"]
    assert finding.severity == "fault"
    assert finding.at_mm == pytest.approx((175.0, 130.0, 16.0), abs=0.1)
    assert finding.features == ("channel planted",)
    assert finding.value == pytest.approx(20.0, abs=0.05)


def test_pose_that_is_not_the_best_is_told():
    """Made to lie on its front: support under seat and spot faces, named, and the better pose."""
    plan, checked = plan_demo(DEMO), checked_demo()
    assert plan.printed is not None
    front = next(one.pose for one in checked.poses[0].tried if one.pose.lies_on == "front")
    other = replace(plan, printed=replace(plan.printed, pose=front))
    found = {f.code: f for f in check_solids(other).findings if f.code.startswith("print.")}
    assert set(found["print.overhang"].features) == {
        "pump seat",
        "spot face server block inlet",
        "spot face server block outlet",
    }
    assert found["print.overhang"].value == pytest.approx(21.57, abs=0.05)
    assert 'lies_on = "back"' in found["print.pose"].remedy


def test_estimate_of_the_plan_is_told_once():
    plan, checked = plan_demo(DEMO), checked_demo()
    codes = [f.code for f in join_findings(plan, checked)]
    assert "print.bridge" not in codes


def test_table_marks_the_pose_it_is_made_for():
    lines = describe_poses(plan_demo(DEMO).panel, checked_demo().poses).splitlines()
    assert lines[3].startswith("on its back *")
    assert len(lines) == 3 + len(checked_demo().poses[0].tried)
    assert lines[3].split()[-2:] == ["0.0", "cm2"]


def test_report_holds_roofs_and_poses():
    section = printing_section(plan_demo(DEMO), checked_demo().poses)
    assert section is not None
    assert section["pose"] == "on its back"
    (part,) = section["parts"]
    assert part["pose"] == part["poses"][0]["pose"]
    assert {name for roof in part["roofs"] for name in roof["features"]} >= {"channel feed"}
    assert len(part["poses"]) == 6
    assert printing_section(plan_demo("laser-driver"), ()) is None


def test_picture_tells_pose_travel_and_all_poses():
    plan, checked = plan_demo(DEMO), checked_demo()
    drawn = draw_print(plan, checked, checked.poses[0])
    assert drawn == draw_print(plan, checked, checked.poses[0])
    said = [text.text or "" for text in ElementTree.fromstring(drawn).iter(TEXT)]
    assert "cupboard server: panel printed on its back" in said
    assert any("220 x 220 mm, 220 mm high" in text for text in said)
    assert sum(text.startswith("on its") for text in said) == 6


def test_search_is_the_same_twice():
    plan, checked = plan_demo(DEMO), checked_demo()
    again = search_poses(plan, checked.meshes, checked.wet_mesh, rebuild_features(checked.solids))
    assert again == checked.poses
