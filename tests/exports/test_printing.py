"""Printed demos as they lie: measured, ranked, named, told and drawn; planted faults found in place."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest
from sample_demos import plan_demo

from exports.check_solids import Checked, check_solids
from exports.pictures.plan_symbols import STILL
from exports.pictures.print_picture import draw_print
from exports.pictures.svg import guess_width
from exports.pipeline import join_findings
from exports.pose_search import search_poses
from exports.report.printing import printing_section
from exports.tables.printing_tables import describe_poses, pose_rows
from exports.tables.text_tables import LINE
from exports.wording.print_words import print_settings, tell_settings
from geom.features import Feature, Prism
from geom.outline import outline_rectangle
from geom.rebuild import rebuild_features
from layouts.panel import Printing
from layouts.plan import Plan
from layouts.printing.printed import Pose
from layouts.printing.tried import PartPoses

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


def test_sizes_are_those_that_are_printed():
    """Ten percent of shrinkage: 1 / 0.9 as long as drawn; a printer that holds the drawn part holds it no more."""
    plan, checked = plan_demo(DEMO), checked_demo()
    shrinking = replace(plan.panel.printing, shrink=0.1)
    room = (plan.panel.width, plan.panel.height, 300.0)
    panel = replace(plan.panel, printing=shrinking, make=replace(plan.panel.make, room=room))
    models = rebuild_features(checked.solids)
    (part,) = search_poses(replace(plan, panel=panel), checked.meshes, checked.wet_mesh, models)
    drawn, made = checked.poses[0].made.measure, part.made.measure
    assert made.height == pytest.approx(drawn.height / 0.9)
    assert made.footprint == pytest.approx((drawn.footprint[0] / 0.9, drawn.footprint[1] / 0.9))
    assert not part.made.fits
    assert made.support_mm2 == drawn.support_mm2
    picture = draw_print(replace(plan, panel=panel), replace(checked, poses=(part,)), part)
    assert f"{made.footprint[0]:.1f} x {made.footprint[1]:.1f} mm on the bed" in picture


def test_cover_stands_where_the_printer_is_too_small_for_it_lying():
    plan, checked = plan_demo("synthesizer-rack"), check_solids(plan_demo("synthesizer-rack"))
    wide, high = plan.panel.width, plan.panel.height
    for room, up in (
        ((wide + 1.0, high + 1.0, 60.0), (0.0, 0.0, -1.0)),
        ((wide + 1.0, 60.0, high + 1.0), (0.0, 1.0, 0.0)),
        ((60.0, high + 1.0, wide + 1.0), (1.0, 0.0, 0.0)),
    ):
        panel = replace(plan.panel, make=replace(plan.panel.make, room=room))
        models = rebuild_features(checked.solids)
        parts = search_poses(replace(plan, panel=panel), checked.meshes, checked.wet_mesh, models)
        cover = next(part for part in parts if part.part == "cover")
        assert cover.made.fits
        assert abs(sum(a * b for a, b in zip(cover.made.pose.up, up, strict=True))) == pytest.approx(1.0)


def test_only_roofs_of_some_width_are_counted():
    """Where facets of a bore meet a channel's, slivers of half a millimetre hang; none of them is a roof."""
    part = checked_demo().poses[0]
    roofs = [roof for roof in part.made.measure.roofs if roof.inside]
    sliver = replace(roofs[0], span=0.5)
    more = replace(part.made, measure=replace(part.made.measure, roofs=(*part.made.measure.roofs, sliver)))
    row = next(r for r in pose_rows(plan_demo(DEMO).panel, part) if r[0].endswith("*"))
    again = replace(part, made=more, tried=(more, *part.tried[1:]))
    assert next(r for r in pose_rows(plan_demo(DEMO).panel, again) if r[0].endswith("*")) == row


def test_estimate_of_the_plan_is_told_once():
    plan, checked = plan_demo(DEMO), checked_demo()
    codes = [f.code for f in join_findings(plan, checked)]
    assert "print.bridge" not in codes


def test_table_marks_the_pose_it_is_made_for():
    lines = describe_poses(plan_demo(DEMO).panel, checked_demo().poses).splitlines()
    (first,) = [k for k, line in enumerate(lines) if line.startswith("back *")]
    assert len(lines) == first + len(checked_demo().poses[0].tried)
    assert lines[first].split()[-2:] == ["0.0", "cm2"]


def test_settings_are_told_with_the_lines_of_a_tight_wall():
    """The file asks for 2.4 mm, PETG holds coolant from 2 mm on: 5.3 lines of 0.45 mm."""
    plan = plan_demo(DEMO)
    told = " ".join(describe_poses(plan.panel, checked_demo().poses).split())
    assert (
        "filament, layers of 0.2 mm, lines 0.45 mm wide, 6 lines in a wall of 2.4 mm beside coolant" in told
    )
    assert "100 % infill, or at least 6 lines round everything" in told
    section = printing_section(plan, ())
    assert section is not None
    assert section["settings"]["wall_lines"] == 6
    said = drawn_texts(plan, checked_demo(), checked_demo().poses[0])
    assert any("6 lines in a wall of 2.4 mm" in text for text in said)
    assert any(re.match(r"about \d+ h for all printed parts; .*5\.4 mm3/s", text) for text in said)
    wide = replace(plan.panel, printing=replace(plan.panel.printing, line_width=0.8))
    assert print_settings(wide).lines == math.ceil(print_settings(wide).wall / 0.8)
    resin = replace(plan.panel, printing=Printing(process="resin"))
    assert tell_settings(resin)[0].startswith("settings: resin, layers of 0.05 mm; walls")


def test_without_a_room_nothing_is_said_to_fit():
    plan, poses = plan_demo(DEMO), checked_demo().poses
    homeless = replace(plan.panel, make=replace(plan.panel.make, room=None))
    assert {row[1] for row in pose_rows(plan.panel, poses[0])[1:]} == {"yes"}
    assert {row[1] for row in pose_rows(homeless, poses[0])[1:]} == {"-"}
    section = printing_section(replace(plan, panel=homeless), poses)
    assert section is not None
    assert {pose["fits"] for pose in section["parts"][0]["poses"]} == {None}


def tilted_part() -> PartPoses:
    """Return the demo's part as if it were made in the pose of the longest name."""
    (part,) = checked_demo().poses
    tilted = replace(
        part.made,
        pose=Pose("on its bottom edge, tilted 45 deg onto its right edge", "bottom", part.made.pose.up, 45.0),
        measure=replace(part.made.measure, stands=False),
    )
    return replace(part, made=tilted, tried=(tilted,))


def test_table_stays_within_a_line_with_tilted_poses():
    one = replace(tilted_part(), part="panel lower")
    lines = describe_poses(plan_demo(DEMO).panel, (one,)).splitlines()
    assert lines[-1].startswith("bottom, 45 deg onto right *")
    assert max(len(line) for line in lines) <= LINE


def drawn_texts(plan: Plan, checked: Checked, part: PartPoses) -> list[str]:
    return [text.text or "" for text in ElementTree.fromstring(draw_print(plan, checked, part)).iter(TEXT)]


def test_a_cover_shows_no_coolant_but_its_holes():
    """The channels lie in the body: in the cover only the holes of its screws are cut."""
    plan = plan_demo("synthesizer-rack")
    checked = check_solids(plan)
    body, cover = checked.poses
    assert "coolant" in drawn_texts(plan, checked, body)
    drawn = draw_print(plan, checked, cover)
    assert "coolant" not in drawn_texts(plan, checked, cover)
    assert f'fill="{STILL}"' not in drawn
    screws = sum(feature.kind == "clearance hole" for feature in plan.detail.features)
    # From the side, from above, and in the legend.
    assert drawn.count('stroke-dasharray="4 2.5"') == 2 * screws + 1


def test_columns_leave_room_for_the_bold_row():
    drawn = draw_print(plan_demo(DEMO), checked_demo(), tilted_part())
    texts = list(ElementTree.fromstring(drawn).iter(TEXT))
    first = next(k for k, text in enumerate(texts) if (text.text or "").endswith(" *"))
    name, fits = texts[first], texts[first + 1]
    assert name.get("font-weight") == "600"
    left = float(fits.get("x", "")) - guess_width(fits.text or "", 12.0, bold=True)
    assert float(name.get("x", "")) + guess_width(name.text or "", 12.0, bold=True) < left


def test_resin_is_ranked_and_told_by_hollows_that_are_shut_off():
    """On the demo's back the channel from the pump's outlet is a cup until the seat opens it."""
    plan, checked = plan_demo(DEMO), checked_demo()
    resin = replace(plan, panel=replace(plan.panel, printing=replace(plan.panel.printing, process="resin")))
    poses = search_poses(resin, checked.meshes, checked.wet_mesh, rebuild_features(checked.solids))
    rows = pose_rows(resin.panel, poses[0])
    assert rows[0][-2] == "shut off"
    assert [row[-2] for row in rows[1:]] == [str(len(one.cups)) for one in poses[0].tried]
    assert {len(one.cups) for one in poses[0].tried if one.pose.lies_on in ("back", "right")} == {0, 1}
    (cup,) = poses[0].made.cups
    # In the channel, 9 to 16 mm high and widest from its middle on, where bores come in; not in the seat at 24 mm.
    assert cup.at[2] == pytest.approx(12.5, abs=0.5)
    assert cup.depth == pytest.approx(15.0, abs=1.0)
    assert all(one.cups == () for one in checked.poses[0].tried)
    assert "shut off" not in pose_rows(plan.panel, checked.poses[0])[0]


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
