"""The report's keys and numbers, on a plan made by hand."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from sample_plan import accept, fault, rich_plan, sample_plan

from exports.check_solids import Checked
from exports.report.document import encode_report, order_findings, report_document
from exports.writing import FileRecord
from geom.outline import Line, outline_circle
from layouts.plan import Plan

CONTRACT = {
    "panel",
    "result",
    "ports",
    "pump",
    "tank",
    "channels",
    "cords",
    "routing",
    "flow",
    "milling",
    "volumes",
    "walls",
    "findings",
    "files",
    "seconds",
}


def test_has_the_keys_of_schema_1(plan: Plan, checked: Checked):
    files = (FileRecord("body.step", "body", "ab" * 32),)
    document = report_document(plan, checked, plan.findings, files, {"read": 0.12345})
    assert document.keys() >= CONTRACT
    assert document["schema"] == 1
    assert document["result"] == "ok"
    assert document["files"] == [{"name": "body.step", "what": "body", "sha256": "ab" * 32}]
    assert document["earlier_files"] == []
    assert document["seconds"] == {"read": 0.123}
    assert document["ports"][0].keys() == {"name", "part", "role", "on", "at_mm", "thread", "layer"}
    assert document["pump"] == {"at_mm": [115.0, 35.0], "turn_deg": 0}
    assert document["tank"] == {
        "at_mm": [90.0, 75.0],
        "size_mm": [50.0, 30.0],
        "outlet_mm": [115.0, 75.0],
        "posts_mm": [],
        "post_diameter_mm": None,
    }
    channel = document["channels"][1]
    assert channel["from"] == "pump outlet"
    assert channel["to"] == ["block inlet", "drain"]
    assert channel["path_mm"] == [[90.0, 35.0], [40.0, 35.0]]
    assert channel["branches_mm"] == [[[65.0, 35.0], [65.0, 15.0]]]
    assert channel["flow_l_min"] == pytest.approx(4.2)
    assert document["flow"].keys() >= {"flow_l_min", "head_m", "loop_drop_kpa", "by_part"}
    assert document["routing"] == {
        "cost": 120.0,
        "bound": 118.0,
        "gap": 0.01667,
        "status": "within 1.7 % (proven)",
        "kept": 0,
        "channels_kpa": 0.0,
        "flow_l_min": 0.0,
        "before_widening": False,
    }
    wider = tuple(replace(channel, width=channel.width + 1.0) for channel in plan.routed.channels)
    widened = replace(plan, routed=replace(plan.routed, channels=wider))
    assert report_document(widened, checked, (), (), {})["routing"]["before_widening"] is True


@pytest.mark.published(
    source="closed form: a groove's middle is as long as its lines and arcs; at most 3 % of stretch"
)
def test_cords_tell_how_long_they_are_cut():
    plan = sample_plan()
    ring = replace(plan.sealed.loops[0], path=outline_circle((40.0, 60.0), 20.0), layer="front")
    line = replace(
        ring,
        name="groove 2",
        path=(Line((0.0, 0.0), (30.0, 0.0)),),
        closed=False,
        meets=("groove 1", "groove 1"),
    )
    sealed = replace(plan.sealed, loops=(ring, line))
    cords = report_document(replace(plan, sealed=sealed), None, (), (), {})["cords"]
    assert cords == [
        {
            "name": "groove 1",
            "region": "loop",
            "layer": "front",
            "ends_in": [],
            "length_mm": 125.66,
            "cut_mm": [122.0, 125.7],
            "scarf_mm": 2.0,
            "least_radius_mm": 18.7,
        },
        {
            "name": "groove 2",
            "region": "loop",
            "layer": "front",
            "ends_in": ["groove 1", "groove 1"],
            "length_mm": 30.0,
            # Half of a 2 mm cord less at both ends, met squarely or at 60 degrees.
            "cut_mm": [27.7, 28.0],
            "scarf_mm": 2.0,
            "least_radius_mm": None,
        },
    ]
    bare = replace(plan.sealed, loops=())
    assert report_document(replace(plan, sealed=bare), None, (), (), {})["cords"] == []


@pytest.mark.published(
    source="affinity laws: power with the cube of the speed; sound 50 log10, common practice"
)
def test_flow_names_the_pump_with_its_speed_sound_and_power_there():
    plan = rich_plan()
    pump = replace(plan.panel.pump, run_at_rpm=2400.0)
    flow = report_document(replace(plan, panel=replace(plan.panel, pump=pump)), None, (), (), {})["flow"]
    told = {key: flow[key] for key in ("pump", "pump_rpm", "pump_noise_db", "pump_electric_w")}
    # Half the speed: an eighth of 16 W, and 37 dB less 15.05 dB.
    assert told == {"pump": "pump", "pump_rpm": 2400.0, "pump_noise_db": 21.9, "pump_electric_w": 2.0}
    most = report_document(plan, None, (), (), {})["flow"]
    assert (most["pump_rpm"], most["pump_noise_db"], most["pump_electric_w"]) == (4800.0, 37.0, 16.0)
    plain = report_document(sample_plan(), None, (), (), {})["flow"]
    assert (plain["pump"], plain["pump_rpm"], plain["pump_noise_db"], plain["pump_electric_w"]) == (
        "pump",
        None,
        None,
        None,
    )


def test_flow_by_part_tells_the_restrictor():
    plan = sample_plan()
    (part,) = plan.panel.parts
    fitted = replace(plan, panel=replace(plan.panel, parts=(replace(part, restrictor=3.8),)))
    for one, bore in ((fitted, 3.8), (plan, None)):
        assert [p["restrictor_mm"] for p in report_document(one, None, (), (), {})["flow"]["by_part"]] == [
            bore
        ]


def test_volumes_and_walls_are_those_of_the_solids(plan: Plan, checked: Checked):
    document = report_document(plan, checked, (), (), {})
    wetted = document["volumes"]["wetted_mm3"]
    assert wetted["solid"] == pytest.approx(checked.solids.wet.Volume(), abs=1e-3)
    assert wetted["plan"] == pytest.approx(wetted["solid"], rel=1e-5)
    assert wetted["mesh"] == pytest.approx(wetted["solid"], rel=1e-3)
    body = document["volumes"]["body_mm3"]
    assert body["mesh"] == pytest.approx(body["solid"], rel=1e-4)
    assert body["rebuilt"] == pytest.approx(body["solid"], rel=1e-4)
    assert document["volumes"]["loop_ml"] == pytest.approx(wetted["solid"] / 1000, abs=0.01)
    assert document["walls"]["thinnest_mm"] == pytest.approx(checked.thinnest.thickness, abs=1e-4)
    assert len(document["walls"]["at_mm"]) == 3


@pytest.mark.published(source="closed form: a box with rounded corners, (a b - (4 - pi) r^2) h")
def test_tank_volume_is_the_pockets(plan: Plan):
    volumes = report_document(plan, None, (), (), {})["volumes"]
    assert volumes["tank_ml"] == pytest.approx((50 * 30 - (4 - 3.14159265358979) * 36) * 14 / 1000, abs=0.005)


def test_without_solids_their_places_are_empty():
    document = report_document(sample_plan(), None, (), (), {})
    assert document["volumes"]["wetted_mm3"] == {"plan": None, "solid": None, "mesh": None}
    assert document["walls"] is None


def test_findings_stand_faults_first_and_keep_the_makers_reason():
    caution = replace(fault("flow.fast"), severity="caution")
    findings = (caution, accept(fault("make.reach"), "long cutter in hand"), fault())
    document = report_document(sample_plan(findings), None, findings, (), {})
    assert [f["severity"] for f in document["findings"]] == ["fault", "caution", "note"]
    assert document["findings"][2]["accepted"] == "long cutter in hand"
    assert document["result"] == "faults"
    assert order_findings(findings[:2]) == findings[:2]
    assert document["findings"][0] == {
        "code": "port.room",
        "severity": "fault",
        "value": 20.0,
        "limit": 25.0,
        "unit": "mm",
        "at_mm": [40.0, 62.0, 20.0],
        "features": ["port block inlet G1/4", "port block outlet G1/4"],
        "text": fault().text,
        "remedy": "Move one of them.",
        "source": "common practice, no source",
        "accepted": None,
    }


def test_bytes_are_json_that_reads_back(plan: Plan, checked: Checked):
    document = report_document(plan, checked, plan.findings, (), {})
    data = encode_report(document)
    assert json.loads(data) == document
    assert data.endswith(b"}\n")
    assert "-0.0" not in data.decode()


def test_a_number_that_is_none_is_refused_not_written():
    document = report_document(replace(sample_plan()), None, (), (), {"read": float("nan")})
    with pytest.raises(ValueError, match="Out of range float"):
        encode_report(document)
