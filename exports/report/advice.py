"""The report's advice: pumps, channel sizes, balance, heat, feed."""

from __future__ import annotations

from typing import Any

from exports.wording.figures import round_banded, round_plain, round_to_error
from geom.units import l_min
from layouts.advice import Feeding, GroupBalance, Heating, PumpPair, PumpRating
from layouts.plan import Plan
from layouts.pump_order import find_counted_band


def report_advice(plan: Plan) -> dict[str, Any]:
    """Return the report's keys of advice, ready for JSON.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict
        "pumps", the best first, "pump_reason", "pump_pairs", "sizes", "flow_as_sized_l_min", "groups", "heat",
        "feed". A number with a band has the digits that the band allows and one more.
    """
    advised, band = plan.advised, plan.flowing.band
    return {
        "pumps": [_pump(rating) for rating in advised.pumping.ratings],
        "pump_reason": advised.pumping.reason,
        "pump_pairs": [_pair(pair, band) for pair in advised.pumping.pairs],
        "sizes": [
            {
                "channel": size.channel,
                "width_mm": round_plain(size.width_mm, 3),
                "least_mm": round_plain(size.least_mm, 3),
                "recommended_mm": round_plain(size.recommended_mm, 3),
                "widest_mm": round_plain(size.widest_mm, 3),
                "gain": round_plain(size.gain, 4),
            }
            for size in advised.sizes
        ],
        "flow_as_sized_l_min": _flow(advised.flow_as_sized_m3_s, band),
        "groups": [_group(group, band) for group in advised.groups],
        "heat": _heat(advised.heating, band),
        "feed": _feed(advised.feeding),
    }


def _pump(rating: PumpRating) -> dict[str, Any]:
    band = rating.band
    return {
        "name": rating.name,
        "used": rating.used,
        "fits": not rating.obstacles,
        "obstacles": list(rating.obstacles),
        "shortfall": rating.shortfall,
        "placed_anew": rating.move,
        "flow_l_min": round_banded(l_min(rating.flow_m3_s), band),
        "head_m": round_banded(rating.head_m, band),
        "band": round_plain(band, 4),
        # What is left of the head is as uncertain as the head itself.
        "head_margin_m": _near(rating.head_margin_m, rating.head_m * band),
        "hydraulic_w": round_banded(rating.hydraulic_w, band),
        "electric_w": round_plain(rating.electric_w, 2),
        "inlet_spare_m": round_plain(rating.inlet_spare_m, 2),
        "speed_for_flow_rpm": round_plain(rating.speed_for_flow_rpm, 0),
        "power_at_flow_w": _banded(rating.power_at_flow_w, band),
        "speed_for_noise_rpm": round_plain(rating.speed_for_noise_rpm, 0),
        "flow_for_noise_l_min": _flow(rating.flow_for_noise_m3_s, find_counted_band(rating)),
        "band_for_noise": round_plain(rating.band_for_noise, 4),
        "margin_for_noise_m": _near(rating.margin_for_noise_m, rating.head_m * band),
    }


def _pair(pair: PumpPair, band: float) -> dict[str, Any]:
    return {
        "name": pair.name,
        "joined": pair.joined,
        "flow_l_min": _flow(pair.flow_m3_s, band),
        "head_m": round_banded(pair.head_m, band),
        "hydraulic_w": round_banded(pair.hydraulic_w, band),
    }


def _group(group: GroupBalance, band: float) -> dict[str, Any]:
    return {
        "branches": [
            {"parts": list(parts), "flow_l_min": _flow(flow, band), "even_flow_l_min": _flow(even, band)}
            for parts, flow, even in zip(group.branches, group.flows_m3_s, group.even_flows_m3_s, strict=True)
        ],
        "spread": round_plain(group.spread, 4),
        "restrictors": [
            {
                "part": one.part,
                "orifice_mm": round_plain(one.orifice_mm, 3),
                "channel_mm": round_plain(one.channel_mm, 3),
            }
            for one in group.restrictors
        ],
        # What the orifices' formula leaves open is the error of the calculated spread.
        "even_spread": round_to_error(group.even_spread, group.even_spread_most),
        "even_spread_most": round_plain(group.even_spread_most, 2),
        "even_loop_flow_l_min": _flow(group.even_loop_flow_m3_s, band),
    }


def _heat(heating: Heating, band: float) -> dict[str, Any]:
    def degrees(temperature_c: float) -> float | None:
        # As uncertain as its distance from the tank, and as the radiators' capacities are at the best.
        return _near(temperature_c, max(band * abs(temperature_c - heating.tank_c), 0.1))

    return {
        "steps": [
            {
                "part": step.part,
                "flow_l_min": _flow(step.flow_m3_s, band),
                "heat_w": round_plain(step.heat_w, 1),
                "inlet_c": degrees(step.inlet_c),
                "outlet_c": degrees(step.outlet_c),
            }
            for step in heating.steps
        ],
        "tank_c": degrees(heating.tank_c),
        "spread_k": round_banded(heating.spread_k, band),
        "heat_w": round_plain(heating.heat_w, 1),
        "over_ambient_k": _banded(heating.over_ambient_k, band),
        "closes": heating.closes,
        "order_effect_k": _banded(heating.order_effect_k, band),
        "tank_effect": heating.tank_effect,
        "kept_w": round_plain(heating.kept_w, 1),
    }


def _feed(feeding: Feeding) -> dict[str, Any]:
    return {
        "cover_mm": round_plain(feeding.cover_mm, 2),
        "needs_mm": round_plain(feeding.needs_mm, 1),
        "tilt_left_deg": round_plain(feeding.tilt_left_deg, 1),
        "tilt_right_deg": round_plain(feeding.tilt_right_deg, 1),
        "tilt_front_deg": round_plain(feeding.tilt_front_deg, 1),
        "tilt_back_deg": round_plain(feeding.tilt_back_deg, 1),
        "available_head_m": round_plain(feeding.available_head_m, 2),
        "least_head_m": round_plain(feeding.least_head_m, 2),
        "growth_ml": round_plain(feeding.growth_ml, 2),
        "room_ml": round_plain(feeding.room_ml, 2),
        "held_ml": round_plain(feeding.tank_ml, 1),
        "outside_tank_ml": round_plain(feeding.loop_ml, 1),
        "unknown_parts": list(feeding.unknown_parts),
    }


def _flow(flow_m3_s: float | None, band: float) -> float | None:
    return None if flow_m3_s is None else round_banded(l_min(flow_m3_s), band)


def _banded(value: float | None, band: float) -> float | None:
    return None if value is None else round_banded(value, band)


def _near(value: float | None, error: float) -> float | None:
    return None if value is None else round_to_error(value, error)
