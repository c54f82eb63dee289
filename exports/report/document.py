"""The report as one JSON document (schema 1): what was planned, measured, found and written."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from exports.pictures.pressure_places import find_half_bands
from exports.report.advice import report_advice
from exports.report.bonding import bonding_section
from exports.report.changes import changes_section
from exports.report.closing import cords_section, screws_section
from exports.report.cost import cost_section
from exports.report.cover import cover_section
from exports.report.fastening import fastening_section
from exports.report.filling import filling_section
from exports.report.leak_test import leak_test_section
from exports.report.milling import milling_section
from exports.report.printing import printing_section
from exports.report.split import split_section
from exports.report.tolerances import tolerances_section
from exports.report.tubes import tubes_section
from exports.wording.channel_drops import drop_band, split_drop
from exports.wording.channel_ways import list_branches, main_way
from exports.wording.figures import round_banded, round_plain, round_to_error
from exports.wording.routing_words import is_kept, is_widened
from exports.writing import FileRecord
from geom.findings import SEVERITIES, Finding, has_fault
from geom.units import kpa, l_min, ml
from layouts.cost.quantities import cost_sheet
from layouts.cost.sheet import CostSheet
from layouts.feed import tank_volume_ml
from layouts.hydraulics.pump_speed import scale_power_w, scale_sound_db
from layouts.panel import Pump
from layouts.plan import Channel, ChannelFlow, Flowing, LegFlow, Plan
from layouts.rules.cautions import list_cautions

if TYPE_CHECKING:
    from exports.check_solids import Checked

SCHEMA = 1


def report_document(
    plan: Plan,
    checked: Checked | None,
    findings: tuple[Finding, ...],
    files: tuple[FileRecord, ...],
    seconds: Mapping[str, float],
    earlier: tuple[FileRecord, ...] = (),
    cost: CostSheet | None = None,
) -> dict[str, Any]:
    """Return the report of a run.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        What was measured on the solids; None where none were built.
    findings : tuple of Finding
        All of the run, accepted ones included.
    files : tuple of FileRecord
        What was written, the report itself aside.
    seconds : mapping of str to float
        Wall clock of each stage, [s]. Empty in the file: a clock would change its bytes from run to run.
    earlier : tuple of FileRecord
        What earlier runs left in the folder: not this run's, and dropped by the next good one.
    cost : CostSheet, optional
        That of the plan alone without it.

    Returns
    -------
    dict
        Ready for JSON: keys as in the contract of schema 1.
    """
    return {
        "schema": SCHEMA,
        "panel": _panel(plan),
        "result": "faults" if has_fault(findings) else "ok",
        "ports": [
            {
                "name": p.name,
                "part": p.part,
                "role": p.role,
                "on": p.on,
                "at_mm": _mm(p.at),
                "thread": p.thread,
                "layer": p.layer,
            }
            for p in plan.routed.ports
        ],
        "pump": {"at_mm": _mm(plan.routed.pump.inlet), "turn_deg": plan.routed.pump.turn_deg},
        "tank": _tank(plan),
        "channels": _channels(plan),
        "routing": {
            "cost": round_plain(plan.routed.cost, 4),
            "bound": round_plain(plan.routed.bound, 4),
            "gap": round_plain(plan.routed.gap, 5),
            "status": plan.routed.status,
            "kept": len(plan.panel.keep_routes),
            "channels_kpa": round_plain(kpa(plan.routed.channels_pa), 4),
            "flow_l_min": round_plain(l_min(plan.routed.design_flow_m3_s), 3),
            "before_widening": is_widened(plan.panel, plan.routed),
        },
        "flow": _flow(plan),
        **report_advice(plan),
        "cords": cords_section(plan),
        "cover_screws": screws_section(plan),
        "fastening": fastening_section(plan),
        "bonding": bonding_section(plan),
        "split": split_section(plan),
        "cover": cover_section(plan, () if checked is None else checked.bending),
        "milling": milling_section(plan),
        "printing": printing_section(plan, () if checked is None else checked.poses),
        "filling": filling_section(
            plan.filling if checked is None or checked.filling is None else checked.filling, plan.flowing.band
        ),
        "tubes": tubes_section(plan),
        "leak_test": leak_test_section(plan, None if checked is None else checked.volumes.wet_plan),
        "volumes": _volumes(plan, checked),
        "walls": _walls(checked),
        "tolerances": tolerances_section(plan, () if checked is None else checked.worst),
        "cost": cost_section(cost or cost_sheet(plan)),
        "findings": [_finding(f) for f in order_findings(findings)],
        "cautions": list(list_cautions(plan.panel)),
        "files": _files(files),
        "earlier_files": _files(earlier),
        "seconds": {stage: round(taken, 3) for stage, taken in seconds.items()},
    }


def encode_report(document: dict[str, Any]) -> bytes:
    """Return a report document as the bytes of a file: UTF-8, indented, keys in the order given."""
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def order_findings(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings with faults first, then cautions, then notes, otherwise in their order."""
    return tuple(sorted(findings, key=lambda f: SEVERITIES.index(f.severity)))


def _files(records: tuple[FileRecord, ...]) -> list[dict[str, str]]:
    return [{"name": r.name, "what": r.what, "sha256": r.sha256} for r in records]


def _panel(plan: Plan) -> dict[str, Any]:
    panel = plan.panel
    return {
        "name": panel.name,
        "sha256": panel.sha256,
        "size_mm": _mm((panel.width, panel.height)),
        "body_mm": round_plain(panel.make.body, 4),
        "cover_mm": round_plain(panel.make.cover, 4) if panel.make.closing != "one-piece" else None,
        "method": panel.make.method,
        "closing": panel.make.closing,
        "material": panel.make.material,
        "coolant": {
            "fluid": panel.coolant.fluid,
            "mass_fraction": panel.coolant.mass_fraction,
            "temperature_c": panel.coolant.temperature_c,
        },
        "layers": panel.channel.layers,
        "screws_mm": [_mm(at) for at in plan.sealed.screws],
        "front_screws_mm": [_mm(at) for at in plan.sealed.front_screws],
    }


def _tank(plan: Plan) -> dict[str, Any]:
    box = plan.routed.tank.box
    return {
        "at_mm": None if box is None else _mm(box[:2]),
        "size_mm": None if box is None else _mm((box[2] - box[0], box[3] - box[1])),
        "outlet_mm": _mm(plan.routed.tank.outlet),
        "posts_mm": [_mm(at) for at in plan.routed.tank.posts],
        "post_diameter_mm": round_plain(plan.routed.tank.post_diameter, 4)
        if plan.routed.tank.posts
        else None,
    }


def _channels(plan: Plan) -> list[dict[str, Any]]:
    flows = {flow.channel: flow for flow in plan.flowing.channels}
    return [
        {**_channel(channel, flows[channel.name], plan.flowing), "kept": is_kept(plan.panel, channel.name)}
        for channel in plan.routed.channels
    ]


def _channel(channel: Channel, flow: ChannelFlow, flowing: Flowing) -> dict[str, Any]:
    band = flowing.band
    shares = split_drop(channel, flow)
    branches = list_branches(channel)
    return {
        "name": channel.name,
        "from": channel.ends[0],
        "to": list(channel.ends[1:]),
        "length_mm": round_plain(flow.length, 3),
        "width_mm": round_plain(channel.width, 4),
        "depth_mm": round_plain(channel.depth, 4),
        "bend_radius_mm": round_plain(channel.bend_radius, 4),
        "bends": flow.bends,
        "layer": channel.runs[0].layer,
        "path_mm": [_mm(p) for p in main_way(channel)],
        "branches_mm": [[_mm(p) for p in run.points] for run in branches],
        "branch_layers": [run.layer for run in branches],
        "holes_mm": [_mm(at) for at in channel.holes],
        "flow_l_min": round_banded(l_min(flow.flow_m3_s), band),
        "velocity_m_s": round_banded(flow.velocity_m_s, band),
        "reynolds": round_banded(flow.reynolds, band),
        "drop_kpa": round_banded(kpa(flow.drop_pa), drop_band(flowing, flow.band)),
        "straight_kpa": _share(shares.straight_pa, flow, flowing),
        "bends_kpa": _share(shares.bends_pa, flow, flowing),
        "turns_kpa": _share(shares.turns_pa, flow, flowing),
        "band": round_plain(flow.band, 4),
        "legs": [
            {
                "name": leg.leg,
                "flow_l_min": round_banded(l_min(leg.flow_m3_s), band),
                "velocity_m_s": round_banded(leg.velocity_m_s, band),
                "reynolds": round_banded(leg.reynolds, band),
                "drop_kpa": round_banded(kpa(leg.drop_pa), drop_band(flowing, leg.band)),
                "straight_kpa": _share(leg.straight_pa, leg, flowing),
                "bends_kpa": _share(leg.bends_pa, leg, flowing),
                "turns_kpa": _share(leg.turns_pa, leg, flowing),
                "band": round_plain(leg.band, 4),
            }
            for leg in flow.legs
        ],
    }


def _share(share_pa: float, whole: ChannelFlow | LegFlow, flowing: Flowing) -> float:
    """Return a share of a drop [kPa] to the digit to which the whole drop is told, so that they add up."""
    return round_to_error(kpa(share_pa), kpa(whole.drop_pa) * drop_band(flowing, whole.band))


def _flow(plan: Plan) -> dict[str, Any]:
    flowing, wanted = plan.flowing, plan.panel.wanted_flow_m3_s
    halves = find_half_bands(flowing.steps)
    bores = {part.name: part.restrictor for part in plan.panel.parts}
    return {
        "flow_l_min": round_banded(l_min(flowing.flow_m3_s), flowing.band),
        "wanted_l_min": None if wanted is None else round_plain(l_min(wanted), 4),
        "head_m": round_banded(flowing.head_m, flowing.head_band),
        "loop_drop_kpa": round_banded(kpa(flowing.loop_drop_pa), flowing.head_band),
        "band": round_plain(flowing.band, 4),
        "head_band": round_plain(flowing.head_band, 4),
        **_pump_running(plan.panel.pump),
        "by_part": [
            {
                "part": part.part,
                "flow_l_min": round_banded(l_min(part.flow_m3_s), flowing.band),
                "drop_kpa": round_banded(kpa(part.drop_pa), drop_band(flowing, part.band)),
                "rise_k": round_banded(part.rise_k, flowing.band),
                "restrictor_mm": round_plain(bores.get(part.part), 3),
                "band": round_plain(part.band, 4),
            }
            for part in flowing.parts
        ],
        "steps": [
            {
                "name": step.name,
                "kind": step.kind,
                "from": step.start,
                "to": step.end,
                "start_kpa": round_to_error(kpa(step.start_pa), kpa(halves[step.start])),
                "end_kpa": round_to_error(kpa(step.end_pa), kpa(halves[step.end])),
                "flow_l_min": round_banded(l_min(step.flow_m3_s), flowing.band),
                "band": round_plain(step.band, 4),
            }
            for step in flowing.steps
        ],
    }


def _pump_running(pump: Pump) -> dict[str, Any]:
    """Return the used pump, its speed, and its sound and power estimated at that speed; None for what is not given."""
    choice = pump.choice(pump.used)
    speed, ratio = None, 1.0
    if choice.speed is not None:
        speed = choice.speed[1] if pump.run_at_rpm is None else pump.run_at_rpm
        ratio = speed / choice.speed[1]
    noise = None if choice.noise_db is None else scale_sound_db(choice.noise_db, ratio)
    power = None if choice.power_w is None else scale_power_w(choice.power_w, ratio)
    return {
        "pump": choice.name,
        "pump_rpm": round_plain(speed, 1),
        "pump_noise_db": round_plain(noise, 1),
        "pump_electric_w": round_plain(power, 2),
    }


def _volumes(plan: Plan, checked: Checked | None) -> dict[str, Any]:
    measured = checked.volumes if checked is not None else None
    wetted: dict[str, float | None] = dict.fromkeys(("plan", "solid", "mesh"))
    body: dict[str, float | None] = dict.fromkeys(("solid", "mesh", "rebuilt"))
    parts: list[dict[str, Any]] = []
    if measured is not None:
        wetted = {"plan": measured.wet_plan, "solid": measured.wet_solid, "mesh": measured.wet_mesh}
        # The body comes first; of a split panel both pieces are.
        split = None if plan.printed is None else plan.printed.split
        pieces = measured.parts[: 1 if split is None else 2]
        body = {
            "solid": math.fsum(piece.solid for piece in pieces),
            "mesh": math.fsum(piece.mesh for piece in pieces),
            "rebuilt": math.fsum(piece.rebuilt or 0.0 for piece in pieces),
        }
        parts = [
            {"part": p.name, "solid_mm3": round_plain(p.solid, 3), "mesh_mm3": round_plain(p.mesh, 3)}
            for p in measured.parts
        ]
    return {
        "wetted_mm3": {way: round_plain(value, 3) for way, value in wetted.items()},
        "body_mm3": {way: round_plain(value, 3) for way, value in body.items()},
        "tank_ml": round_plain(tank_volume_ml(plan.panel, plan.routed), 2),
        "loop_ml": round_plain(ml(measured.wet_solid), 2) if measured is not None else None,
        "parts": parts,
    }


def _walls(checked: Checked | None) -> dict[str, Any] | None:
    if checked is None or checked.thinnest is None:
        return None
    wall = checked.thinnest
    (ax, ay, az), (bx, by, bz) = wall.points
    return {
        "thinnest_mm": round_plain(wall.thickness, 4),
        "between": list(wall.between),
        "at_mm": _mm(((ax + bx) / 2, (ay + by) / 2, (az + bz) / 2)),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "value": round_plain(finding.value, 4),
        "limit": round_plain(finding.limit, 4),
        "unit": finding.unit,
        "at_mm": None if finding.at_mm is None else _mm(finding.at_mm),
        "features": list(finding.features),
        "text": finding.text,
        "remedy": finding.remedy,
        "source": finding.source,
        "accepted": finding.accepted,
        **changes_section(finding.changes),
    }


def _mm(values: tuple[float, ...]) -> list[float | None]:
    return [round_plain(v, 4) for v in values]
