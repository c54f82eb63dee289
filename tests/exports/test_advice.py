"""The plan's advice in the report and in the terminal, on values made by hand."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from sample_plan import L_MIN, nested_steps, rich_plan, sample_plan

from exports.report.advice import report_advice
from exports.report.document import encode_report, report_document
from exports.tables.advice_tables import describe_advice
from exports.tables.panel_tables import describe_plan
from exports.wording.channel_drops import drop_band, split_drop
from layouts.advice import Feeding, Heating, Pumping
from layouts.plan import Channel, ChannelFlow, Leg, LegFlow


def test_report_has_every_pump_the_best_first():
    document = report_advice(rich_plan())
    assert [pump["name"] for pump in document["pumps"]][:2] == ["tall pump", "pump"]
    own = document["pumps"][1]
    assert own == {
        "name": "pump",
        "used": True,
        "fits": True,
        "obstacles": [],
        "shortfall": None,
        "placed_anew": None,
        "flow_l_min": 4.2,
        "head_m": 2.8,
        "band": 0.06,
        "head_margin_m": 1.1,
        "hydraulic_w": 1.9,
        "electric_w": 16.0,
        "inlet_spare_m": 9.1,
        "speed_for_flow_rpm": 3425.0,
        "power_at_flow_w": 5.8,
        "speed_for_noise_rpm": 3900.0,
        "flow_for_noise_l_min": 3.4,
        "band_for_noise": None,
        "margin_for_noise_m": None,
    }
    unfit = document["pumps"][2]
    assert not unfit["fits"]
    assert unfit["obstacles"][0].startswith("its seat of 66 mm")
    assert unfit["speed_for_flow_rpm"] is None
    assert document["pump_reason"] == rich_plan().advised.pumping.reason
    assert document["pump_pairs"][0] == {
        "name": "pump",
        "joined": "series",
        "flow_l_min": 5.6,
        "head_m": 4.9,
        "hydraulic_w": 4.5,
    }


def test_report_has_sizes_balance_heat_and_feed():
    document = report_advice(rich_plan())
    assert document["sizes"][1] == {
        "channel": "pump - block",
        "width_mm": 8.0,
        "least_mm": None,
        "recommended_mm": None,
        "widest_mm": 11.5,
        "gain": 0.0,
    }
    assert document["flow_as_sized_l_min"] is None
    (group,) = document["groups"]
    assert group["branches"][1] == {
        "parts": ["plate 2", "plate 3"],
        "flow_l_min": 1.8,
        "even_flow_l_min": 1.96,
    }
    assert group["restrictors"] == [{"part": "plate 1", "orifice_mm": 3.4, "channel_mm": 4.1}]
    assert (group["even_spread"], group["even_spread_most"]) == (0.02, 0.1)
    heat = document["heat"]
    assert heat["steps"][0] == {
        "part": "block",
        "flow_l_min": 4.2,
        "heat_w": 140.0,
        "inlet_c": 34.2,
        "outlet_c": 34.68,
    }
    assert heat["over_ambient_k"] == 12.2
    assert heat["closes"] is True
    assert heat["kept_w"] == 0.0
    assert document["feed"]["held_ml"] == 17.2
    assert document["feed"]["outside_tank_ml"] == 65.0
    assert "loop_ml" not in document["feed"], "the panel's own wet volume is called that"
    assert document["feed"]["unknown_parts"] == ["block", "hoses"]
    assert json.loads(encode_report(report_document(rich_plan(), None, (), (), {})))["heat"] == heat


def test_restrictors_promise_no_more_than_their_formula():
    told = " ".join(" ".join(describe_advice(rich_plan())).split())
    assert "evened to within 10 % (2.0 % as calculated) by an orifice of 3.4 mm" in told
    assert "drill small and open up step by step while measuring" in told


def test_report_has_the_flows_bands_wish_and_steps():
    flow = report_document(rich_plan(), None, (), (), {})["flow"]
    assert flow["head_band"] == 0.06
    assert flow["wanted_l_min"] == 3.0
    assert len(flow["steps"]) == len(nested_steps())
    assert flow["steps"][1] == {
        "name": "pump",
        "kind": "pump",
        "from": "pump inlet",
        "to": "pump outlet",
        "start_kpa": -0.6,
        "end_kpa": 26.8,
        "flow_l_min": 4.2,
        "band": 0.0,
    }
    # Round the loop the pressures close: each step begins where the one before it ended.
    ends = {step["to"]: step["end_kpa"] for step in flow["steps"]}
    for step in flow["steps"]:
        assert step["start_kpa"] == (0.0 if step["from"] == "tank" else ends[step["from"]])
    assert report_document(sample_plan(), None, (), (), {})["flow"]["wanted_l_min"] is None


def test_breakdown_of_each_channel_and_leg_adds_up_in_the_report():
    for channel in report_document(sample_plan(), None, (), (), {})["channels"]:
        for piece in (channel, *channel["legs"]):
            told = sum(piece[f"{share}_kpa"] for share in ("straight", "bends", "turns"))
            assert told == pytest.approx(
                piece["drop_kpa"], abs=0.05 * 4 * max(piece["drop_kpa"], 1e-9) * 0.12
            )
            assert piece["band"] == 0.12


def test_breakdown_of_a_branched_channel_follows_its_costly_way():
    def leg(name: str, start: str, end: str) -> Leg:
        return Leg(name, start, end, ((0.0, 0.0), (10.0, 0.0)))

    def flow(name: str, litres: float, drop: float, straight: float, bends: float) -> LegFlow:
        return LegFlow(name, litres * L_MIN, 1.0, 1e4, drop, straight, bends, drop - straight - bends, 0.1)

    legs = (leg("1", "a", "t"), leg("2", "b", "t"), leg("3", "t", "c"), leg("4", "t", "drain"))
    channel = Channel("c", ("a", "b", "c", "drain"), (), legs, (), 8.0, 8.0, 12.0)
    flows = (
        flow("1", 2.0, 900.0, 500.0, 100.0),
        # Against its direction: coolant runs from t to b.
        flow("2", -1.0, 300.0, 200.0, 0.0),
        flow("3", 1.0, 700.0, 300.0, 200.0),
        flow("4", 0.0, 0.0, 0.0, 0.0),
    )
    parts = split_drop(channel, ChannelFlow("c", 2.0 * L_MIN, 1.0, 1e4, 1600.0, 40.0, 0, flows, 0.1))
    assert (parts.straight_pa, parts.bends_pa, parts.turns_pa) == (800.0, 300.0, 500.0)


def test_a_drop_is_told_no_finer_than_its_flow_allows():
    flowing = sample_plan().flowing
    assert drop_band(flowing, 0.3) == 0.3
    assert drop_band(flowing, 0.01) == pytest.approx(0.12)


def test_tables_tell_every_kind_of_advice():
    told = describe_plan(rich_plan())
    for line in (
        "pressure drop",
        "pumps, each at its most speed",
        "balance, with the spread of the flows (largest less smallest over their mean)",
        "feed                  8      6            8      10  1.2 %",
        "pump (used)                 4.2 L/min  2.8 m  +1.1 m      1.9 W      16 W  3425 rpm, 5.8 W   yes",
        '"wide pump with a name as long as makers give" does not fit: its seat of 66 mm leaves the room of 52',
        '"tall pump" reaches 4.4 L/min, 0.2 L/min more than "pump": the loop asks for head',
        'within 33 dB "pump" runs at 3900 rpm, 3.4 L/min',
        'two of "pump" would give 5.6 L/min in series, 4.9 L/min in parallel',
        "plate 1 2.4 L/min, plate 2 + plate 3 1.8 L/min: spread 29 %",
        'an orifice of 3.4 mm in the inlet of "plate 1" or a channel 4.1 mm wide',
        "block      140 W  34.2 °C  34.7 °C",
        "12.2 K over the air around",
        "no other order changes what comes to a part by more than 0.21 K",
        "20 mm of coolant stands over the tank's outlet at the filling level;",
        "tilted up to 30° to the left, 31° to the right, 40° forwards, 42° backwards",
        "to its level the tank holds 17 mL, the loop 65 mL without block, hoses, whose volume the file does not give",
        "from 20 to 60 °C the coolant grows by 1.2 mL or more; over the filling level there is room for 3.1 mL",
    ):
        assert " ".join(line.split()) in " ".join(told.split()), line


def test_widths_tell_what_they_hold_for():
    plan = sample_plan()

    def tell(flow: float | None, wanted: float | None) -> str:
        panel = replace(plan.panel, wanted_flow_m3_s=None if wanted is None else wanted * L_MIN)
        advised = replace(plan.advised, flow_as_sized_m3_s=None if flow is None else flow * L_MIN)
        lines = describe_advice(replace(plan, panel=panel, advised=advised))
        return " ".join(lines[lines.index("widths") + 3 :]).partition("  ")[0]

    alone = "least, widest, gains: each channel alone, the others as they are"
    assert tell(None, 3.0) == alone
    assert tell(2.9, None) == f"{alone}; all as recommended: 2.9 L/min"
    assert tell(3.1, 3.0) == f"{alone}; all as recommended: 3.1 L/min"
    assert tell(2.9, 3.0) == f"{alone}; all as recommended: 2.9 L/min, short of the 3 L/min wanted"


def test_tables_stay_within_100_columns():
    assert max(len(line) for line in describe_plan(rich_plan()).splitlines()) <= 100


def test_what_has_nothing_to_say_says_nothing():
    plan = sample_plan()
    lines = describe_advice(plan)
    assert not any(line.startswith(("pumps", "balance")) for line in lines)
    bare = replace(
        plan.advised,
        pumping=Pumping((), (), ""),
        sizes=(),
        heating=Heating((), 35.0, 0.0, 0.0, None, False, None, ""),
        feeding=Feeding(None, None, None, None, None, None, None, None, None, None, 0.0, 0.0, ()),
    )
    left = describe_advice(replace(plan, advised=bare))
    assert left[1] == "pressure drop"
    assert "" not in left[1:]


def test_a_loop_without_radiator_says_what_its_temperatures_hang_on():
    plan = sample_plan()
    heating = plan.advised.heating
    meter = replace(heating.steps[0], part="meter", heat_w=-101.0)
    cooled = replace(heating, steps=(*heating.steps, meter))
    open_air = replace(heating, over_ambient_k=5.0)
    for one, words in (
        (
            cooled,
            """no part has a capacity: the tank is taken to have the file's 35.0 °C, and "meter" to give all""",
        ),
        (heating, "no part takes the heat away, so the coolant warms without end"),
        (
            open_air,
            "keep the coolant in the tank 5.0 K over the air around: for the file's 35.0 °C that air would have "
            "30.0 °C; give [coolant] ambient for its level over the air",
        ),
        (
            replace(heating, over_ambient_k=140.0),
            "so far over the air around that for the file's 35.0 °C that air would have less than -40 °C; give",
        ),
    ):
        advised = replace(plan.advised, heating=one)
        told = " ".join(" ".join(describe_advice(replace(plan, advised=advised))).split())
        assert words in told


@pytest.mark.parametrize(
    ("tank", "behind", "told"),
    [
        (35.0, 123035.0, 'at "block" the coolant would become hotter than any coolant; it needs more flow'),
        (35.0, 110.0, 'at "block" the coolant would reach 110 °C and boil; it needs more flow'),
        (105.0, 106.0, "would reach 106 °C and boil; it needs radiators of more capacity, or less heat"),
    ],
)
def test_coolant_that_would_boil_is_told_once_and_without_a_table(tank, behind, told):
    plan = sample_plan()
    (step,) = plan.advised.heating.steps
    heating = replace(
        plan.advised.heating,
        steps=(replace(step, inlet_c=tank, outlet_c=behind),),
        tank_c=tank,
        spread_k=behind - tank,
    )
    lines = describe_advice(replace(plan, advised=replace(plan.advised, heating=heating)))
    section = lines[lines.index("heat") + 1 :]
    words = " ".join(section[: section.index("")])
    assert told in words
    assert words.count("°C") == told.count("°C")


def test_a_place_at_the_tanks_temperature_is_told_as_well_as_the_tank():
    """However uncertain the rise behind it."""
    plan = sample_plan()
    (step,) = plan.advised.heating.steps
    heating = replace(
        plan.advised.heating, steps=(replace(step, inlet_c=35.0, outlet_c=95.0),), tank_c=35.0, spread_k=60.0
    )
    plan = replace(plan, advised=replace(plan.advised, heating=heating))
    told = describe_advice(replace(plan, flowing=replace(plan.flowing, band=0.5)))
    assert any("35.0 °C" in line and " 100 °C" in line for line in told), told


def test_a_flat_panel_says_why_depth_and_tilt_are_missing():
    plan = rich_plan()
    feeding = replace(plan.advised.feeding, unknown_parts=(), cover_mm=None)
    for up, flat in (((0.0, 0.0, 1.0), True), ((0.0, 1.0, 0.0), False)):
        panel = replace(plan.panel, up=up)
        one = replace(plan, panel=panel, advised=replace(plan.advised, feeding=feeding))
        told = " ".join(describe_advice(one))
        assert ("the panel lies flat: heights in it say nothing" in told) is flat


def test_one_pump_and_a_wanted_flow_are_a_table():
    plan = sample_plan()
    lines = describe_advice(replace(plan, panel=replace(plan.panel, wanted_flow_m3_s=3 * L_MIN)))
    assert lines[lines.index("pumps") + 2].startswith("pump (used)")
