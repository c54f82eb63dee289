"""Pumps to choose from on the sample loop: rated, ordered, slowed down, doubled."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.errors import OutOfRange
from layouts.advice import PumpRating
from layouts.feed import available_inlet_head_m, examine_feed
from layouts.flow import size_flow
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.network import operating_point, solve_network
from layouts.hydraulics.pump import CurvePoints, hydraulic_power_w, pump_head_m, scale_affinity
from layouts.hydraulics.pump_speed import (
    find_sound_ratio,
    find_speed_ratio,
    scale_power_w,
    scale_sound_db,
    step_speed,
)
from layouts.loop_curve import join_heads, sample_loop, shift_points, spread_flows, trace_loop_curve
from layouts.loop_network import PUMP, build_network
from layouts.panel import Panel, PumpChoice
from layouts.pump_order import explain_first, explain_order, judge_fit, order_pumps
from layouts.pumps import rate_pumps
from layouts.rules.feed_rules import check_inlet_head
from tests.layouts.sample_routed import CURVE, L_MIN, sample_panel, sample_routed

ROUTED = sample_routed()
WATER = coolant_properties("water", 0.0, 35.0)
PLAIN = PumpChoice("pump", CURVE, 10.0, 8.0, 66.0, None, None, None, None, 33)
COMPACT = replace(
    PLAIN, name="compact", curve=((0.0, 6.0), (2 * L_MIN, 4.6), (4 * L_MIN, 2.6), (5.5 * L_MIN, 0.4))
)
WIDE = replace(PLAIN, name="wide", curve=((0.0, 2.0), (8 * L_MIN, 1.7), (16 * L_MIN, 1.1), (24 * L_MIN, 0.2)))


def parabola(shut_off: float, fall: float, last_l_min: float) -> CurvePoints:
    """Return points of H = shut_off - fall Q^2, Q in L/min."""
    return tuple(
        (last_l_min * k / 60 * L_MIN, shut_off - fall * (last_l_min * k / 60) ** 2) for k in range(61)
    )


def with_pumps(
    *choices: PumpChoice, used: str = "", wanted: float | None = None, most_noise: float | None = None
) -> Panel:
    """Return the sample with these pumps, made for the first unless another is named; the flow in L/min."""
    panel = sample_panel()
    mine = next((choice for choice in choices if choice.name == used), choices[0])
    pump = replace(
        panel.pump,
        curve=mine.curve,
        inlet_bore=mine.inlet_bore,
        outlet_bore=mine.outlet_bore,
        choices=choices,
        used=mine.name,
        most_noise_db=most_noise,
    )
    return replace(panel, pump=pump, wanted_flow_m3_s=None if wanted is None else wanted * L_MIN)


def with_drop(panel: Panel, radiator_m: float, blocks_m: float = 1e-6) -> Panel:
    """Return the panel whose parts drop this many metres at 1 L/min, with the square of the flow."""
    pa = WATER.density_kg_m3 * 9.80665
    drops = {"radiator": radiator_m, "block a": blocks_m, "block b": blocks_m}
    parts = tuple(
        replace(part, resistance=((L_MIN, drops[part.name] * pa),), heat_w=0.0) for part in panel.parts
    )
    return replace(panel, parts=parts)


def rate(panel: Panel):
    return rate_pumps(panel, ROUTED, size_flow(panel, ROUTED))


def test_used_pump_is_rated_as_the_flow_was_sized():
    panel = with_pumps(PLAIN, COMPACT)
    flowing = size_flow(panel, ROUTED)
    used = next(rating for rating in rate_pumps(panel, ROUTED, flowing).ratings if rating.used)
    assert used.name == "pump"
    assert used.flow_m3_s == pytest.approx(flowing.flow_m3_s, rel=1e-8)
    assert used.head_m == pytest.approx(flowing.head_m, rel=1e-8)
    assert used.band == pytest.approx(flowing.band, rel=1e-6)
    assert used.hydraulic_w == pytest.approx(hydraulic_power_w(flowing.flow_m3_s, flowing.head_m, WATER))


def test_every_pump_is_rated_with_its_own_bores():
    narrow = replace(COMPACT, inlet_bore=5.0, outlet_bore=5.0)
    by_name = {rating.name: rating for rating in rate(with_pumps(PLAIN, narrow)).ratings}
    assert by_name["compact"].flow_m3_s == pytest.approx(
        size_flow(with_pumps(narrow), ROUTED).flow_m3_s, rel=1e-8
    )
    wider = {rating.name: rating for rating in rate(with_pumps(PLAIN, COMPACT)).ratings}
    assert by_name["compact"].flow_m3_s < wider["compact"].flow_m3_s


def test_band_of_another_pump_is_near_what_its_own_loop_gives():
    found = {rating.name: rating for rating in rate(with_pumps(PLAIN, COMPACT, WIDE)).ratings}
    for choice in (COMPACT, WIDE):
        assert found[choice.name].band == pytest.approx(size_flow(with_pumps(choice), ROUTED).band, rel=0.15)


@pytest.mark.published(
    source="Closed loop without lift, H = 3 - 0.05 Q2 against 0.10 Q2: series 2 H0 - 2 k Q2, parallel "
    "H0 - (k/4) Q2 (midstreamcalculator.com, pumps): 4.4721, 5.4772 and 5.1640 L/min; the channels' own drop "
    "stays under 0.3 % of the radiator's"
)
def test_two_pumps_in_series_and_in_parallel():
    # All flows are a tenth of the source's and all resistances a hundred times: the radiator rules the loop.
    pump = replace(PLAIN, curve=parabola(3.0, 5.0, 0.77))
    pumping = rate(with_drop(with_pumps(pump), 10.0))
    assert_as_printed(10 * pumping.ratings[0].flow_m3_s / L_MIN, "4.4721", rel=3e-3)
    found = {pair.joined: pair for pair in pumping.pairs}
    assert_as_printed(10 * found["series"].flow_m3_s / L_MIN, "5.4772", rel=3e-3)
    assert_as_printed(found["series"].head_m, "3.000", rel=6e-3)
    assert_as_printed(10 * found["parallel"].flow_m3_s / L_MIN, "5.1640", rel=3e-3)
    assert_as_printed(found["parallel"].head_m, "2.6667", rel=6e-3)


@pytest.mark.published(
    source="Affinity laws on a loop of a square law: at 80 % of the speed 0.8 Q, 0.64 H, 0.512 P; 3.5777 L/min"
)
def test_speed_for_a_flow_on_a_loop_of_a_square_law():
    # So fast that a step of 10 rpm is next to nothing.
    pump = replace(PLAIN, curve=parabola(3.0, 5.0, 0.77), speed=(5e4, 5e5), power_w=10.0)
    (rating,) = rate(with_drop(with_pumps(pump, wanted=0.35777), 10.0)).ratings
    assert rating.speed_for_flow_rpm == pytest.approx(0.8 * 5e5, rel=2e-3)
    assert rating.power_at_flow_w == pytest.approx(5.12, rel=6e-3)
    heads = join_heads([(q * L_MIN, 0.10 * q * q) for q in (1.0, 3.0, 8.0)])
    flow, head = operating_point(scale_affinity(parabola(3.0, 0.05, 7.7), 0.8), heads.read_head)
    assert_as_printed(flow / L_MIN, "3.5777", rel=5e-5)
    assert_as_printed(head, "1.280", rel=1e-4)
    assert find_speed_ratio(parabola(3.0, 0.05, 7.7), flow, head) == pytest.approx(0.8, rel=1e-6)


@pytest.mark.published(source="Affinity laws: power with the cube of the speed")
def test_power_at_a_speed():
    assert_as_printed(scale_power_w(1.0, 0.8), "0.512")


@pytest.mark.published(
    source="A pump's sound falls by 50 log10 of its speed, 15 dB at half of it: common practice, no source"
)
def test_sound_at_a_speed():
    assert_as_printed(scale_sound_db(40.0, 0.5), "25", rel=0.01)
    assert scale_sound_db(40.0, find_sound_ratio(40.0, 31.0)) == pytest.approx(31.0)


def test_speed_for_the_wanted_flow_gives_it():
    pump = replace(PLAIN, speed=(1000.0, 5000.0), power_w=16.0)
    wide = replace(WIDE, speed=(1000.0, 3000.0), inlet_bore=8.0)
    panel = with_pumps(pump, wide, wanted=2.0)
    for rating, choice in ((r, panel.pump.choice(r.name)) for r in rate(panel).ratings):
        assert choice.speed is not None
        assert rating.speed_for_flow_rpm is not None
        slowed = replace(
            choice, curve=scale_affinity(choice.curve, rating.speed_for_flow_rpm / choice.speed[1])
        )
        reached = size_flow(with_pumps(slowed), ROUTED).flow_m3_s / L_MIN
        # A step of 10 rpm is up to 1 % of the speed here.
        assert 2.0 * (1 - (0 if rating.used else 3e-3)) <= reached < 2.0 * 1.013
        assert rating.speed_for_flow_rpm % 10 == 0


def test_speed_out_of_range_is_none():
    pump = replace(PLAIN, speed=(4000.0, 5000.0))
    for wanted in (1.0, 9.0):
        (rating,) = rate(with_pumps(pump, wanted=wanted)).ratings
        assert rating.speed_for_flow_rpm is None
        assert rating.power_at_flow_w is None
    (rating,) = rate(with_pumps(PLAIN, wanted=2.0)).ratings
    assert rating.speed_for_flow_rpm is None


def test_speed_within_the_noise_and_its_flow():
    pump = replace(PLAIN, speed=(1000.0, 5000.0), noise_db=40.0)
    (rating,) = rate(with_pumps(pump, most_noise=35.0)).ratings
    # 5000 rpm * 10^(-5/50) = 3971.6 rpm.
    assert rating.speed_for_noise_rpm == 3970.0
    slowed = replace(pump, curve=scale_affinity(pump.curve, 3970 / 5000))
    assert rating.flow_for_noise_m3_s == pytest.approx(
        size_flow(with_pumps(slowed), ROUTED).flow_m3_s, rel=1e-8
    )
    (quiet,) = rate(with_pumps(pump, most_noise=41.0)).ratings
    assert (quiet.speed_for_noise_rpm, quiet.flow_for_noise_m3_s) == (5000.0, quiet.flow_m3_s)


@pytest.mark.parametrize(
    ("limits", "speed", "up", "found"),
    [
        ((1000.0, 5000.0), 3971.6, False, 3970.0),
        ((1000.0, 5000.0), 3971.6, True, 3980.0),
        ((4375.0, 4800.0), 4377.7, False, 4375.0),
        ((1000.0, 4375.0), 4371.0, True, 4375.0),
        ((1000.0, 5000.0), 4000.0, True, 4000.0),
        ((1000.0, 5000.0), 4000.0, False, 4000.0),
    ],
)
def test_speed_is_stepped_within_its_range(limits, speed, up, found):
    assert step_speed(speed, limits, up) == found


@settings(max_examples=25, deadline=None)
@given(wanted=st.floats(1.0, 4.0), least=st.floats(500.0, 3000.0), most=st.floats(3010.0, 6000.0))
def test_speed_for_the_wanted_flow_gives_no_less(wanted, least, most):
    """Of the used pump, solved at that very speed; ten steps slower it gives less, if it may run so slowly."""
    pump = replace(PLAIN, speed=(least, most))
    (rating,) = rate(with_pumps(pump, wanted=wanted)).ratings
    speed = rating.speed_for_flow_rpm
    if speed is None:
        return
    assert least <= speed <= most
    for rpm, enough in ((speed, True), (speed - 100.0, False)):
        if rpm >= least:
            slowed = replace(pump, curve=scale_affinity(pump.curve, rpm / most))
            flow = size_flow(with_pumps(slowed), ROUTED).flow_m3_s
            assert (flow >= wanted * L_MIN * (1 - 1e-9)) == enough


@pytest.mark.parametrize("rpm", [2000.0, 2600.0, 3200.0, 4000.0])
def test_speed_for_a_flow_just_past_a_step_is_the_next(rpm):
    """What is read from the loop's curve between solved points may lie on either side of the step."""
    pump = replace(PLAIN, speed=(1000.0, 5000.0))
    slowed = replace(pump, curve=scale_affinity(pump.curve, rpm / 5000))
    wanted = size_flow(with_pumps(slowed), ROUTED).flow_m3_s * (1 + 1e-6)
    (found,) = rate(with_pumps(pump, wanted=wanted / L_MIN)).ratings
    assert found.speed_for_flow_rpm == rpm + 10


def test_slow_pump_is_rated_at_its_most_speed():
    pump = replace(PLAIN, speed=(1000.0, 5000.0))
    panel = with_pumps(pump)
    slow = replace(panel, pump=replace(panel.pump, curve=scale_affinity(pump.curve, 0.6), run_at_rpm=3000.0))
    (rating,) = rate(slow).ratings
    (whole,) = rate(panel).ratings
    assert rating.flow_m3_s == pytest.approx(whole.flow_m3_s, rel=1e-8)
    assert rating.flow_m3_s > size_flow(slow, ROUTED).flow_m3_s
    assert rating.band == pytest.approx(whole.band, rel=0.2)


@pytest.mark.published(
    source="A pump's head is the height of a vertical hose that it holds at no flow: common practice, no source"
)
def test_vertical_hose_reads_the_head_at_no_flow():
    assert pump_head_m(CURVE, 0.0) == 3.9
    flow, _ = operating_point(CURVE, lambda q: 3.9 - 1e-9)
    assert flow < 1e-3 * L_MIN
    with pytest.raises(OutOfRange, match="no flow is possible"):
        operating_point(CURVE, lambda q: 3.9 + 1e-9)


@pytest.mark.published(
    source="A compact curve wins in a restrictive loop and loses in an open one: common practice, no source"
)
def test_compact_curve_wins_in_a_restrictive_loop_and_loses_in_an_open_one():
    restrictive = rate(with_drop(with_pumps(WIDE, COMPACT), 0.8))
    assert [rating.name for rating in restrictive.ratings] == ["compact", "wide"]
    assert "restrictive" in restrictive.reason
    assert "compact curve" in restrictive.reason
    wide_channels = tuple(
        replace(channel, width=24.0, depth=18.0, bend_radius=36.0) for channel in ROUTED.channels
    )
    panel = with_drop(with_pumps(replace(COMPACT, inlet_bore=14.0, outlet_bore=14.0)), 1e-4)
    wide = replace(WIDE, inlet_bore=14.0, outlet_bore=14.0)
    panel = replace(
        panel,
        pump=replace(panel.pump, choices=(*panel.pump.choices, wide)),
        channel=replace(panel.channel, width=24.0, depth=18.0),
    )
    routed = replace(ROUTED, channels=wide_channels)
    opened = rate_pumps(panel, routed, size_flow(panel, routed))
    assert [rating.name for rating in opened.ratings] == ["wide", "compact"]
    assert "open" in opened.reason


def test_only_pump():
    pumping = rate(with_pumps(PLAIN))
    assert pumping.reason == '"pump" is the only pump of the file'
    assert len(pumping.ratings) == 1
    (far,) = rate(with_pumps(PLAIN, wanted=20.0)).ratings
    assert len(far.obstacles) == 1


OBSTACLES = {
    "seat off the panel": ({"seat_diameter": 82.0}, {}, ["seat of 82 mm", "reaches 1 mm out of the panel"]),
    "seat larger than the panel": (
        {"seat_diameter": 150.0},
        {},
        ["150 mm is larger than the panel, 200 x 140"],
    ),
    "inlet bore": ({"inlet_bore": 16.0}, {}, ["inlet bore of 16 mm has 201 mm2", "room for a feed of"]),
    "overlapping bores": (
        {"inlet_bore": 6.0, "outlet_bore": 36.0},
        {},
        ["inlet bore of 6 mm and its outlet bore of 36 mm overlap, 20 mm apart"],
    ),
    "inlet head": ({"least_inlet_head_m": 11.0}, {}, ["asks for 11 m of head", "the feed gives 9."]),
    "curve ends": (
        {"curve": ((0.0, 3.9), (L_MIN, 3.8))},
        {},
        ["curve ends at 1 L/min, 3.8 m, before it meets the loop"],
    ),
    "wanted flow": ({"curve": ((0.0, 1.0), (4 * L_MIN, 0.1))}, {"wanted": 2.5}, ["not the wanted 2.5 L/min"]),
    "noise": (
        {"noise_db": 50.0, "speed": (3000.0, 4000.0)},
        {"most_noise": 30.0},
        ["44 dB even at its least speed of 3000 rpm", "30 dB are allowed"],
    ),
    "noise at one speed": ({"noise_db": 31.0}, {"most_noise": 30.0}, ["31 dB even at its only speed"]),
    "wanted flow beyond the noise": (
        {"noise_db": 40.0, "speed": (1000.0, 5000.0)},
        {"wanted": 2.5, "most_noise": 20.0},
        ["within 20 dB it reaches 2.2 L/min (±6 %)", "not the wanted 2.5 L/min"],
    ),
    "start": ({"curve": ((0.0, 1e-7), (90 * L_MIN, 0.0))}, {}, ["cannot start the loop"]),
}


@pytest.mark.parametrize(("new", "panel", "told"), OBSTACLES.values(), ids=OBSTACLES.keys())
def test_obstacles(new, panel, told):
    other = replace(PLAIN, name="other", **new)
    first, second = rate(with_pumps(PLAIN, other, **panel)).ratings
    assert first.obstacles == ()
    assert second.name == "other"
    (obstacle,) = second.obstacles
    assert all(piece in obstacle for piece in told), obstacle
    assert judge_fit(second) == "no"


def test_noise_beyond_reach_leaves_no_speed():
    for new in ({"noise_db": 50.0, "speed": (3000.0, 4000.0)}, {"noise_db": 31.0}):
        (loud,) = rate(with_pumps(replace(PLAIN, **new), most_noise=30.0)).ratings
        assert (loud.speed_for_noise_rpm, loud.flow_for_noise_m3_s, loud.margin_for_noise_m) == (
            None,
            None,
            None,
        )


@pytest.mark.parametrize(
    ("within", "fit"), [(0.0, "yes"), (0.3, "just"), (0.9, "just"), (1.1, "no"), (2.0, "no")]
)
def test_shortfall_within_the_band_is_no_obstacle(within, fit):
    """The wanted flow lies this share of the band over what is reached."""
    (free,) = rate(with_pumps(PLAIN)).ratings
    wanted = free.flow_m3_s * (1 + within * free.band) * (1 - 1e-9)
    (found,) = rate(with_pumps(PLAIN, wanted=wanted / L_MIN)).ratings
    assert judge_fit(found) == fit
    assert found.obstacles == ((found.shortfall,) if fit == "no" else ())
    if fit == "just":
        assert found.shortfall is not None
        assert "at its most speed, and the wanted" in found.shortfall
        assert "lies within that band" in found.shortfall


@pytest.mark.parametrize("most_noise", [None, 41.0, 38.0, 35.0, 31.0])
def test_flow_counts_within_the_noise(most_noise):
    pump = replace(PLAIN, speed=(1000.0, 5000.0), noise_db=40.0)
    whole = rate(with_pumps(pump)).ratings[0].flow_m3_s
    (found,) = rate(with_pumps(pump, wanted=0.85 * whole / L_MIN, most_noise=most_noise)).ratings
    slowed = most_noise is not None and most_noise < 40
    assert (found.flow_for_noise_m3_s is not None) == (most_noise is not None)
    flow = found.flow_for_noise_m3_s or whole
    assert (flow < whole) == slowed
    assert bool(found.obstacles) == (flow * (1 + found.band) < 0.85 * whole)
    assert (found.shortfall is None) == (flow >= 0.85 * whole)
    assert found.shortfall is None or found.shortfall.startswith(f"within {most_noise:g} dB it reaches")
    if found.margin_for_noise_m is not None:
        assert (found.margin_for_noise_m >= 0) == (flow >= 0.85 * whole)


def test_inlet_spare_is_what_is_left_of_the_available_head():
    panel = with_pumps(replace(PLAIN, least_inlet_head_m=0.5))
    (rating,) = rate(panel).ratings
    network = build_network(panel, ROUTED)
    solution = solve_network(network, WATER)
    available = available_inlet_head_m(panel, ROUTED, rating.flow_m3_s, -solution.pressure_pa["pump inlet"])
    assert available is not None
    assert rating.inlet_spare_m == pytest.approx(available - 0.5, abs=1e-6)
    assert solution.flow_m3_s[PUMP] == pytest.approx(rating.flow_m3_s)


LIMITED = replace(PLAIN, speed=(1000.0, 5000.0), noise_db=40.0)


def run_at(panel: Panel, speed_rpm: float) -> Panel:
    """Return the panel whose used pump, of 5000 rpm, runs slower."""
    curve = scale_affinity(panel.pump.choice(panel.pump.used).curve, speed_rpm / 5000)
    return replace(panel, pump=replace(panel.pump, curve=curve, run_at_rpm=speed_rpm))


@pytest.mark.parametrize("speed", [5000.0, 3970.0, 2000.0])
def test_inlet_head_of_the_used_pump_is_judged_as_it_runs(speed):
    """And so as `feed.head` does, on either side of the limit."""
    panel = run_at(with_pumps(LIMITED, most_noise=35.0), speed)
    flowing = size_flow(panel, ROUTED)
    there = examine_feed(panel, ROUTED, flowing).available_head_m
    assert there is not None
    for least, fits in ((there - 1e-4, True), (there + 1e-4, False)):
        asking = replace(
            panel, pump=replace(panel.pump, choices=(replace(LIMITED, least_inlet_head_m=least),))
        )
        (found,) = rate_pumps(asking, ROUTED, flowing).ratings
        assert found.inlet_spare_m == pytest.approx(there - least, abs=1e-7)
        assert (found.obstacles == ()) == fits
        findings = check_inlet_head(asking, ROUTED, examine_feed(asking, ROUTED, flowing))
        assert ([finding.severity for finding in findings] == ["fault"]) == (not fits)


def test_inlet_head_of_another_pump_is_judged_within_the_noise():
    other = replace(LIMITED, name="other", least_inlet_head_m=0.5)
    found = {one.name: one for one in rate(with_pumps(PLAIN, other, most_noise=35.0)).ratings}
    quiet = run_at(with_pumps(replace(LIMITED, least_inlet_head_m=0.5)), 3970.0)
    (alone,) = rate(quiet).ratings
    assert found["other"].inlet_spare_m == pytest.approx(alone.inlet_spare_m, abs=1e-4)
    (fast,) = rate(with_pumps(replace(LIMITED, least_inlet_head_m=0.5))).ratings
    assert fast.inlet_spare_m < alone.inlet_spare_m - 1e-3


def test_flow_within_the_noise_has_the_band_of_the_flow_solved_there():
    panel = run_at(with_pumps(LIMITED, wanted=3.0, most_noise=35.0), 3970.0)
    flowing = size_flow(panel, ROUTED)
    (found,) = rate_pumps(panel, ROUTED, flowing).ratings
    assert found.flow_for_noise_m3_s == pytest.approx(flowing.flow_m3_s, rel=1e-8)
    assert found.band_for_noise == pytest.approx(flowing.band, rel=1e-6)
    assert found.band_for_noise != pytest.approx(found.band, rel=1e-4)


def test_head_margin_is_the_pump_over_the_loop():
    (rating,) = rate(with_pumps(PLAIN)).ratings
    assert rating.head_margin_m is None
    at = rating.flow_m3_s / L_MIN
    (same,) = rate(with_pumps(PLAIN, wanted=at)).ratings
    assert same.head_margin_m == pytest.approx(0.0, abs=5e-3)
    (less,) = rate(with_pumps(PLAIN, wanted=0.5 * at)).ratings
    assert less.head_margin_m is not None
    assert 0.5 < less.head_margin_m < 3.9


def test_pairs_that_miss_the_loop_are_left_out():
    short = replace(PLAIN, curve=((0.0, 3.9), (3.2 * L_MIN, 2.6)))
    short = replace(short, name="short")
    found = [pair.joined for pair in rate(with_pumps(PLAIN, short)).pairs if pair.name == "short"]
    assert found == ["parallel"]


def rating(name: str, flow: float, **new: object) -> PumpRating:
    base = PumpRating(name, False, (), flow * L_MIN, 3.0, 0.07, None, 1.0, None, None, None, None, None, None)
    return replace(base, **new)


ORDERED = {
    "fits before more flow": ([rating("a", 2.0), rating("b", 4.0, obstacles=("its seat is large",))], None),
    "flow": ([rating("a", 4.0), rating("b", 3.0)], None),
    "flow beyond the wanted counts no more": (
        [
            rating("a", 3.1, head_margin_m=0.1, electric_w=5.0),
            rating("b", 6.0, head_margin_m=0.2, electric_w=9.0),
        ],
        3.0,
    ),
    "head margin": ([rating("a", 4.0, head_margin_m=1.5), rating("b", 4.1, head_margin_m=0.5)], 3.0),
    "power": ([rating("a", 4.0, electric_w=9.0), rating("b", 4.2, electric_w=12.0)], None),
    "known power": ([rating("a", 4.0, electric_w=9.0), rating("b", 4.2)], None),
    "hydraulic power": ([rating("a", 4.0, hydraulic_w=1.0), rating("b", 4.2, hydraulic_w=1.1)], None),
    "short within the band counts as equal": (
        [
            rating("a", 2.81, electric_w=9.0, shortfall="it reaches 2.81 L/min"),
            rating("b", 2.86, electric_w=12.0),
        ],
        2.85,
    ),
    "only short before what cannot be mounted": (
        [
            rating("a", 2.0, obstacles=("it reaches 2 L/min",), shortfall="it reaches 2 L/min"),
            rating("b", 4.0, obstacles=("its seat is large",)),
        ],
        3.0,
    ),
    "only short before too loud and short": (
        [
            rating("a", 2.0, obstacles=("short",), shortfall="short"),
            rating("b", 2.5, obstacles=("short", "it is loud"), shortfall="short"),
        ],
        3.0,
    ),
    "flow of those that are short": (
        [
            rating("a", 2.5, obstacles=("short",), shortfall="short", electric_w=12.0),
            rating("b", 2.0, obstacles=("short",), shortfall="short", electric_w=9.0),
        ],
        3.0,
    ),
    "margin within the noise": (
        [
            rating("a", 4.0, head_margin_m=1.0, flow_for_noise_m3_s=3.1 * L_MIN, margin_for_noise_m=0.6),
            rating("b", 5.0, head_margin_m=3.0, flow_for_noise_m3_s=2.95 * L_MIN, margin_for_noise_m=-0.1),
        ],
        3.0,
    ),
    "power slowed to the wanted flow": (
        [
            rating("a", 4.0, electric_w=16.0, power_at_flow_w=8.0),
            rating("b", 4.0, electric_w=12.0, power_at_flow_w=10.0),
        ],
        3.0,
    ),
    "power of one that can be slowed": (
        [rating("a", 4.0, electric_w=16.0, power_at_flow_w=8.0), rating("b", 4.0, electric_w=14.0)],
        3.0,
    ),
    "quiet flow": (
        [
            rating("a", 4.0, flow_for_noise_m3_s=3.5 * L_MIN),
            rating("b", 6.0, flow_for_noise_m3_s=2.0 * L_MIN),
        ],
        None,
    ),
}


@pytest.mark.parametrize(("ratings", "wanted"), ORDERED.values(), ids=ORDERED.keys())
def test_order(ratings, wanted):
    wanted = None if wanted is None else wanted * L_MIN
    for given_order in (ratings, ratings[::-1]):
        assert [r.name for r in order_pumps(tuple(given_order), wanted)] == ["a", "b"]
    told = explain_order(*ratings, wanted)
    assert "nan" not in told
    assert "inf" not in told.replace("information", "")
    assert '"b"' in told


def test_power_is_told_at_the_speed_that_counts():
    slow = rating("a", 4.0, electric_w=16.0, power_at_flow_w=8.0)
    told = explain_order(slow, rating("b", 4.0, electric_w=14.0), 3 * L_MIN)
    assert told == (
        'both reach the wanted 3 L/min, and "a" takes 8 W slowed to the wanted flow, "b" 14 W at its most speed'
    )
    told = explain_order(rating("a", 4.0, electric_w=9.0), rating("b", 4.2, electric_w=14.0), None)
    assert told == '4 and 4.2 L/min count as equal within the bands, and "a" takes 9 W, "b" 14 W'


def test_pump_that_just_fits_is_not_said_to_fit():
    a = rating("a", 2.9, shortfall="it reaches 2.9 L/min")
    b = rating("b", 2.0, obstacles=("it reaches 2 L/min",), shortfall="it reaches 2 L/min")
    assert explain_order(a, b, 3 * L_MIN) == 'it just fits; "b" does not: it reaches 2 L/min'
    assert explain_order(replace(a, shortfall=None), b, 3 * L_MIN).startswith('it fits; "b" does not')


@pytest.mark.parametrize(
    ("low", "told"), [(0.0036, "next to none"), (-0.2, "next to none"), (0.9, "0.9 m"), (-0.9, "lacks 0.9 m")]
)
def test_head_margin_within_its_band_is_told_as_none(low, told):
    """A band of 7 % on the flow is 14 % on the head of 3 m: 0.42 m."""
    a, b = rating("a", 4.0, head_margin_m=1.5), rating("b", 4.0, head_margin_m=low)
    said = explain_order(a, b, 3 * L_MIN)
    assert said == f'at the wanted flow "a" has 1.5 m of head to spare, "b" {told}'


def test_first_of_pumps_that_are_all_short_says_so():
    a = rating("a", 2.5, obstacles=("it reaches 2.5 L/min",), shortfall="it reaches 2.5 L/min")
    b = rating(
        "b", 4.0, obstacles=("it reaches too little", "its seat is large"), shortfall="it reaches too little"
    )
    assert explain_first((a, b), 3 * L_MIN, {}) == (
        '"a" stands first: it is only short of the wanted flow; "b" does not fit: its seat is large; no pump of '
        "the file fits: it reaches 2.5 L/min"
    )


def test_equal_pumps_stand_in_the_order_of_the_file():
    for names in permutations("abc"):
        ratings = tuple(rating(name, 3.0 + 0.01 * k) for k, name in enumerate(names))
        assert tuple(r.name for r in order_pumps(ratings, None)) == names
    told = explain_order(rating("a", 3.0), rating("b", 3.0), None)
    assert "equal within the bands" in told


@settings(max_examples=60, deadline=None)
@given(
    flows=st.lists(st.floats(0.5, 20.0), min_size=1, max_size=6),
    fits=st.lists(st.booleans(), min_size=6, max_size=6),
    watts=st.lists(st.one_of(st.none(), st.floats(1.0, 30.0)), min_size=6, max_size=6),
    wanted=st.one_of(st.none(), st.floats(0.5, 20.0)),
)
def test_order_keeps_every_pump_and_fitting_ones_first(flows, fits, watts, wanted):
    ratings = tuple(
        rating(str(k), flow, obstacles=() if fit else ("no",), electric_w=power)
        for k, (flow, fit, power) in enumerate(zip(flows, fits, watts, strict=False))
    )
    ordered = order_pumps(ratings, None if wanted is None else wanted * L_MIN)
    assert sorted(r.name for r in ordered) == sorted(r.name for r in ratings)
    assert sorted(bool(r.obstacles) for r in ordered) == [bool(r.obstacles) for r in ordered]
    assert order_pumps(ordered, None if wanted is None else wanted * L_MIN)[0].name == ordered[0].name


@settings(max_examples=60, deadline=None)
@given(
    ratio=st.floats(0.2, 2.0),
    flow=st.floats(0.0, 11.0),
    shut_off=st.floats(0.5, 10.0),
    bend=st.floats(0.1, 0.9),
)
def test_affinity_laws_turn_round(ratio, flow, shut_off, bend):
    """The scaled curve passes through the scaled point, and the ratio is found back from it."""
    curve = ((0.0, shut_off), (6 * L_MIN, bend * shut_off), (12 * L_MIN, 0.05 * shut_off))
    at = flow * L_MIN
    head = pump_head_m(curve, at)
    scaled = scale_affinity(curve, ratio)
    assert pump_head_m(scaled, ratio * at) == pytest.approx(ratio**2 * head, rel=1e-9)
    assert find_speed_ratio(curve, ratio * at, ratio**2 * head) == pytest.approx(ratio, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(
    lower=st.floats(0.3, 1.5),
    higher=st.floats(1.0, 1.5),
    wider=st.floats(1.0, 1.5),
    blocks=st.floats(0.01, 3.0),
)
def test_more_head_at_every_flow_never_reaches_less(lower, higher, wider, blocks):
    curve = tuple((q, lower * h) for q, h in CURVE)
    # Stretched both ways a curve stays above itself between its points too.
    raised = tuple((wider * q, higher * h) for q, h in curve)
    panel = with_pumps(replace(PLAIN, curve=curve), replace(PLAIN, name="raised", curve=raised))
    found = {one.name: one.flow_m3_s for one in rate(with_drop(panel, 0.2, blocks)).ratings}
    assert found["raised"] >= found["pump"] * (1 - 1e-8)


@pytest.mark.parametrize("l_min", [0.3, 0.9, 2.2, 4.1, 7.0])
def test_loop_between_solved_points_is_the_loop(l_min):
    panel = with_pumps(PLAIN)
    flowing = size_flow(panel, ROUTED)
    known = (flowing.flow_m3_s, flowing.head_m)
    network = build_network(panel, ROUTED)
    heads = join_heads(sample_loop(network, WATER, spread_flows(0.25 * L_MIN, 8 * L_MIN), known))
    ((flow, head),) = sample_loop(network, WATER, (l_min * L_MIN,), known)
    assert heads.read_head(flow) == pytest.approx(head, rel=1e-2)
    assert flow == pytest.approx(l_min * L_MIN, rel=0.2)


def test_other_bores_shift_the_loop_exactly():
    panel, other = with_pumps(PLAIN), with_pumps(replace(PLAIN, inlet_bore=6.0, outlet_bore=12.0))
    base, its = build_network(panel, ROUTED), build_network(other, ROUTED)
    flowing, there = size_flow(panel, ROUTED), size_flow(other, ROUTED)
    points = sample_loop(base, WATER, (there.flow_m3_s,), (flowing.flow_m3_s, flowing.head_m))
    ((flow, head),) = shift_points(points, base, its, WATER)
    ((at, exact),) = sample_loop(its, WATER, (there.flow_m3_s,), (there.flow_m3_s, there.head_m))
    assert head == pytest.approx(exact * (flow / at) ** join_heads([(at, exact)]).exponents[0], rel=2e-3)
    assert shift_points(points, base, base, WATER) == points


def test_way_in_which_the_feed_was_drawn_plays_no_part():
    panel, other = with_pumps(PLAIN), with_pumps(replace(PLAIN, inlet_bore=6.0, outlet_bore=12.0))
    feed = ROUTED.channel("feed")
    (leg,) = feed.legs
    turned = replace(leg, start=leg.end, end=leg.start, points=leg.points[::-1])
    routed = replace(
        ROUTED,
        channels=tuple(
            replace(channel, legs=(turned,)) if channel.name == "feed" else channel
            for channel in ROUTED.channels
        ),
    )
    points = [(2 * L_MIN, 1.0), (5 * L_MIN, 3.0)]
    drawn, reversed_ = (
        shift_points(points, build_network(panel, way), build_network(other, way), WATER)
        for way in (ROUTED, routed)
    )
    assert drawn[1][1] > points[1][1]
    for (flow, head), (at, same) in zip(reversed_, drawn, strict=True):
        assert (flow, head) == (at, pytest.approx(same, rel=1e-9))


def test_flows_spread_in_equal_ratios():
    flows = spread_flows(1.0, 10.0)
    ratios = [b / a for a, b in pairwise(flows)]
    assert (flows[0], flows[-1]) == (1.0, pytest.approx(10.0))
    assert max(ratios) <= 1.5
    assert max(ratios) == pytest.approx(min(ratios))


def test_traced_loop_meets_the_pump_where_it_was_solved():
    panel = with_pumps(PLAIN, WIDE, wanted=2.0)
    flowing = size_flow(panel, ROUTED)
    curve = trace_loop_curve(panel, ROUTED, flowing)
    columns = (curve.flows_m3_s, curve.heads_m, curve.low_m, curve.high_m)
    assert len({len(column) for column in columns}) == 1
    assert (curve.flows_m3_s[0], curve.heads_m[0]) == (0.0, 0.0)
    for column in columns:
        assert all(b > a for a, b in pairwise(column))
    for head, low, high in zip(curve.heads_m[1:], curve.low_m[1:], curve.high_m[1:], strict=True):
        assert 0.5 * head < low < head < high < 2 * head
    assert curve.flows_m3_s[-1] > 1.2 * flowing.flow_m3_s * (1 - 1e-9)

    def read(heads: tuple[float, ...], flow: float) -> float:
        k = next((k for k, at in enumerate(curve.flows_m3_s) if at > flow), len(heads) - 1)
        q0, q1 = curve.flows_m3_s[k - 1 : k + 1]
        return heads[k - 1] + (heads[k] - heads[k - 1]) * (flow - q0) / (q1 - q0)

    assert read(curve.heads_m, flowing.flow_m3_s) == pytest.approx(flowing.head_m, rel=5e-3)
    # The band of the flow is where the pump's curve meets the ends of the loop's.
    ends = [
        operating_point(CURVE, lambda q, c=column: read(c, q))[0] for column in (curve.low_m, curve.high_m)
    ]
    widest = max(abs(end / flowing.flow_m3_s - 1.0) for end in ends)
    assert widest == pytest.approx(flowing.band, rel=0.05)
    assert math.isfinite(widest)
