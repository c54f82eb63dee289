"""How the panel fills, bleeds and drains, in the report."""

from __future__ import annotations

from typing import Any

import numpy as np

from exports.wording.figures import round_banded, round_plain
from geom.units import ml
from layouts.filling.sequence_values import DryInlet, FillSequence
from layouts.filling.values import (
    BenchStep,
    Carry,
    Filling,
    Left,
    LockedBore,
    Pocket,
    PortProposal,
    Relief,
    Tilt,
    TiltMap,
)

VOXEL_BAND = 0.01
"""Relative error of a volume that is counted in voxels, [-]."""

CLEARING_BAND = 0.2
"""Of the velocities that carry air, as their sources state, [-]."""


def filling_section(filling: Filling | None, flow_band: float) -> dict[str, Any] | None:
    """Return the report's section on filling; None where it was not looked at.

    Parameters
    ----------
    filling : Filling or None
        That of the made panel where there is one.
    flow_band : float
        Relative band of the flow, [-].
    """
    if filling is None:
        return None
    left = filling.left
    return {
        "spacing_mm": round_plain(left.spacing, 3),
        "up": [round_plain(c, 6) for c in left.up],
        "wet_mm3": round_plain(left.wet_mm3, 1),
        "air_left_mm3": _volume(left.air_mm3),
        "coolant_left_mm3": _volume(left.coolant_mm3),
        "drained_through_hoses": left.through_hoses,
        "air_left_untold_hoses_fall_mm3": None
        if left.air_falling_mm3 is None
        else _volume(left.air_falling_mm3),
        "coolant_left_untold_hoses_rise_mm3": None
        if left.coolant_rising_mm3 is None
        else _volume(left.coolant_rising_mm3),
        "tank_air_mm3": _volume(left.tank_air_mm3),
        "air_left": [_pocket(pocket) for pocket in left.air],
        "coolant_left": [_pocket(pocket) for pocket in left.coolant],
        "leaves": _leaves(left),
        "sequence": None if filling.sequence is None else _sequence(filling.sequence),
        "carries": [_carry(carry, flow_band) for carry in filling.carries],
        "locked_bores": [_locked(one) for one in filling.locked],
        "bleed_order": _steps(filling.bleed_order),
        "drain_order": _steps(filling.drain_order),
        "proposals": [_proposal(one) for one in filling.proposals],
        "tilts": None if filling.tilts is None else _tilts(filling.tilts),
    }


def _steps(steps: tuple[BenchStep, ...]) -> list[dict[str, Any]]:
    return [{"text": step.text, "opening": step.opening or None} for step in steps]


def _volume(volume_mm3: float) -> float:
    return round_banded(volume_mm3, VOXEL_BAND)


def _mm(values: tuple[float, ...] | None) -> list[float | None] | None:
    return None if values is None else [round_plain(v, 3) for v in values]


def _pocket(pocket: Pocket) -> dict[str, Any]:
    return {
        "volume_mm3": _volume(pocket.volume_mm3),
        "at_mm": _mm(pocket.at),
        "way_out_mm": _mm(pocket.way_out),
        "depth_mm": round_plain(pocket.depth, 2),
        "features": list(pocket.features),
        "shut_in": pocket.shut,
        "reliefs": [_relief(relief) for relief in pocket.reliefs],
    }


def _relief(relief: Relief) -> dict[str, Any]:
    return {
        "kind": relief.kind,
        "name": relief.name or None,
        "at_mm": _mm(relief.at),
        "tilt": None if relief.tilt is None else _tilt(relief.tilt),
        "left_mm3": _volume(relief.left_mm3),
    }


def _leaves(left: Left) -> list[dict[str, Any]]:
    return [{"opening": name, "air_mm3": _volume(volume)} for name, volume in left.leaves]


def _sequence(sequence: FillSequence) -> dict[str, Any]:
    return {
        "steps": [
            {
                "kind": step.kind,
                "times": step.times,
                "poured_ml": round_plain(step.poured_ml, 1),
                "total_ml": round_plain(step.total_ml, 1),
                "poured_range_ml": _range(step.poured_range_ml),
                "total_range_ml": _range(step.total_range_ml),
                "times_range": None if step.times_range is None else list(step.times_range),
                "to_mouth": step.to_mouth,
                "level_mm": round_plain(step.level_mm, 1),
                "tank_share": round_plain(step.level, 3),
                "loop_share": round_plain(step.loop_share, 3),
            }
            for step in sequence.steps
        ],
        "inlet_covered_ml": round_plain(sequence.inlet_covered_ml, 1),
        "may_run_ml": round_plain(sequence.may_run_ml, 1),
        "dry": None if sequence.dry is None else _dry(sequence.dry),
        "level_falls_mm": round_plain(sequence.level_falls_mm, 1),
        "run_ml": round_plain(sequence.run_ml, 1),
        "push_ml": round_plain(sequence.push_ml, 1),
        "tops": sequence.tops,
        "inlet_covered_range_ml": _range(sequence.covered_range_ml),
        "may_run_range_ml": _range(sequence.may_run_range_ml),
        "level_range_ml": _range(sequence.level_range_ml),
        "push_range_ml": _range(sequence.push_range_ml),
        "tops_range": None if sequence.tops_range is None else list(sequence.tops_range),
        "dry_hoses": sequence.dry_hoses,
        "dry_untold": None if sequence.dry_untold is None else _dry(sequence.dry_untold),
        "total_ml": round_plain(sequence.total_ml, 1),
        "whole_ml": round_plain(sequence.whole_ml, 1),
        "unknown": list(sequence.unknown),
    }


def _range(ends: tuple[float, float] | None) -> list[float | None] | None:
    return None if ends is None else [round_plain(end, 1) for end in ends]


def _dry(dry: DryInlet) -> dict[str, Any]:
    return {
        "cause": dry.cause,
        "why": dry.why,
        "at_mm": _mm(dry.at),
        "value": round_plain(dry.value, 2),
        "limit": round_plain(dry.limit, 2),
        "unit": dry.unit,
        "features": list(dry.features),
        "rule": dry.code,
    }


def _carry(carry: Carry, band: float) -> dict[str, Any]:
    return {
        "channel": carry.channel,
        "leg": carry.leg,
        "layer": carry.layer,
        "top_mm": _mm(carry.top),
        "foot_mm": _mm(carry.foot),
        "falls_mm": round_plain(carry.falls, 2),
        "slope_deg": round_plain(carry.slope_deg, 1),
        "bore_mm": round_plain(carry.bore, 2),
        "velocity_m_s": round_banded(carry.velocity_m_s, band),
        "full_velocity_m_s": round_banded(carry.full_velocity_m_s, band),
        "clears_m_s": [round_banded(v, CLEARING_BAND) for v in carry.clears_m_s],
        "surely_m_s": round_banded(carry.surely_m_s, CLEARING_BAND),
        "rise_m_s": round_banded(carry.rise_m_s, CLEARING_BAND),
        "verdict": carry.verdict,
    }


def _locked(one: LockedBore) -> dict[str, Any]:
    return {
        "feature": one.feature,
        "at_mm": _mm(one.at),
        "bore_mm": round_plain(one.bore, 3),
        "least_mm": round_plain(one.least, 2),
    }


def _proposal(one: PortProposal) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "channel": one.channel,
        "on": one.on,
        "at_mm": _mm(one.at),
        "thread": one.thread,
        "clears_mm3": _volume(one.clears_mm3),
        "also_mm3": _volume(one.also_mm3),
        "built": one.built,
    }


def _tilt(tilt: Tilt) -> dict[str, float]:
    return {"right_deg": tilt.right + 0.0, "front_deg": tilt.front + 0.0}


def _tilts(tilts: TiltMap) -> dict[str, Any]:
    """Return the map: rows by the tilt to the front, columns by that to the right."""
    return {
        "spacing_mm": round_plain(tilts.spacing, 3),
        "degrees": [degrees + 0.0 for degrees in tilts.degrees],
        "air_ml": _map(tilts.air_mm3),
        "coolant_ml": _map(tilts.coolant_mm3),
        "tank_stays": [[bool(stays) for stays in row] for row in tilts.tank_stays],
        "best_fill": _tilt(tilts.fill_best),
        "best_drain": _tilt(tilts.drain_best),
    }


def _map(volumes_mm3: np.ndarray) -> list[list[float | None]]:
    return [[round_plain(ml(float(volume)), 2) for volume in row] for row in volumes_mm3]
