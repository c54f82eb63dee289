"""Each rule of the pump red and green once, and what its remedies say."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from geom.findings import Finding
from layouts.advice import Advised, ChannelSize, Pumping
from layouts.advise import advise_plan
from layouts.flow import size_flow
from layouts.hydraulics.pump import scale_affinity
from layouts.panel import Panel, PumpChoice
from layouts.plan import Flowing
from layouts.pump_order import judge_fit
from layouts.pumps import rate_pumps
from layouts.rules.findings import find_rule
from layouts.rules.pump_rules import (
    check_beyond,
    check_bore,
    check_choice,
    check_fit,
    check_flow,
    check_noise,
    check_seat,
)
from tests.layouts.sample_routed import CURVE, L_MIN, sample_panel, sample_routed

ROUTED = sample_routed()
PLAIN = PumpChoice("pump", CURVE, 10.0, 8.0, 66.0, None, 16.0, (1000.0, 5000.0), 40.0, 33)
STRONG = replace(PLAIN, name="strong", curve=tuple((2 * q, 2 * h) for q, h in CURVE))


def make_panel(
    *choices: PumpChoice,
    wanted: float | None = None,
    run_at: float | None = None,
    most_noise: float | None = None,
) -> Panel:
    """Return the sample made for the first of these pumps; the wanted flow in L/min, the speed in rpm."""
    panel = sample_panel()
    first = choices[0]
    assert first.speed is not None or run_at is None
    ratio = 1.0 if run_at is None or first.speed is None else run_at / first.speed[1]
    pump = replace(
        panel.pump,
        curve=scale_affinity(first.curve, ratio),
        choices=choices,
        used=first.name,
        run_at_rpm=run_at,
        most_noise_db=most_noise,
    )
    return replace(panel, pump=pump, wanted_flow_m3_s=None if wanted is None else wanted * L_MIN)


def rate(panel: Panel) -> tuple[Panel, Pumping]:
    return panel, rate_pumps(panel, ROUTED, size_flow(panel, ROUTED))


def hear(panel: Panel) -> tuple[Panel, Flowing, Pumping]:
    flowing = size_flow(panel, ROUTED)
    return panel, flowing, rate_pumps(panel, ROUTED, flowing)


def advise(panel: Panel) -> tuple[Panel, Flowing, Advised]:
    flowing = size_flow(panel, ROUTED)
    return panel, flowing, advise_plan(panel, ROUTED, flowing)


def with_bore(outlet_bore: float) -> Panel:
    """Return the sample, whose channels are 8 x 9 mm, with another outlet bore of the pump, [mm]."""
    panel = sample_panel()
    return replace(panel, pump=replace(panel.pump, outlet_bore=outlet_bore))


def with_seat(seat_diameter: float, outlet_bore: float = 8.0) -> Panel:
    """Return the sample with its outlet bore, [mm], 25 mm from the inlet, and another seat, [mm]."""
    panel = sample_panel()
    offset = (25.0, 0.0)
    return replace(
        panel,
        pump=replace(panel.pump, outlet_bore=outlet_bore, outlet_offset=offset, seat_diameter=seat_diameter),
    )


def set_flow(panel: Panel, flow_l_min: float) -> Flowing:
    return replace(size_flow(panel, ROUTED), flow_m3_s=flow_l_min * L_MIN)


Check = Callable[[], tuple[Finding, ...]]

RED: list[tuple[str, str, Check]] = [
    ("pump.choice", "note", lambda: check_choice(*rate(make_panel(PLAIN, STRONG)))),
    ("pump.fit", "fault", lambda: check_fit(make_panel(replace(PLAIN, seat_diameter=82.0)), ROUTED)),
    ("pump.bore", "note", lambda: check_bore(with_bore(19.2), ROUTED)),
    ("pump.seat", "caution", lambda: check_seat(with_seat(57.9), ROUTED)),
    ("pump.seat", "caution", lambda: check_seat(with_seat(42.1), ROUTED)),
    ("pump.noise", "caution", lambda: check_noise(*hear(make_panel(PLAIN, most_noise=39.0)))),
    ("pump.noise", "caution", lambda: check_noise(*hear(make_panel(PLAIN, run_at=4900.0, most_noise=39.0)))),
    (
        "pump.noise",
        "note",
        lambda: check_noise(*hear(make_panel(replace(PLAIN, noise_db=None), STRONG, most_noise=39.0))),
    ),
    ("pump.flow", "caution", lambda: check_flow(*advise(make_panel(PLAIN, wanted=7.0)))),
    ("flow.beyond", "caution", lambda: check_beyond(make_panel(PLAIN), set_flow(make_panel(PLAIN), 12.1))),
]

GREEN: dict[str, Check] = {
    "pump.choice, best used": lambda: check_choice(*rate(make_panel(STRONG, PLAIN))),
    "pump.choice, only one": lambda: check_choice(*rate(make_panel(PLAIN))),
    "pump.fit": lambda: check_fit(make_panel(replace(PLAIN, seat_diameter=80.0)), ROUTED),
    "pump.bore": lambda: check_bore(with_bore(19.1), ROUTED),
    "pump.seat, bore inside it": lambda: check_seat(with_seat(58.0), ROUTED),
    "pump.seat, bore outside it": lambda: check_seat(with_seat(42.0), ROUTED),
    "pump.seat, none": lambda: check_seat(with_seat(0.0), ROUTED),
    "pump.noise, quiet": lambda: check_noise(*hear(make_panel(PLAIN, most_noise=40.0))),
    "pump.noise, slow": lambda: check_noise(*hear(make_panel(PLAIN, run_at=4700.0, most_noise=39.0))),
    "pump.noise, any": lambda: check_noise(*hear(make_panel(PLAIN))),
    "pump.flow": lambda: check_flow(*advise(make_panel(PLAIN, wanted=3.0))),
    "pump.flow, none wanted": lambda: check_flow(*advise(make_panel(PLAIN))),
    "flow.beyond": lambda: check_beyond(make_panel(PLAIN), set_flow(make_panel(PLAIN), 11.9)),
}


@pytest.mark.parametrize(
    ("code", "severity", "check"), RED, ids=[f"{c}-{s}-{k}" for k, (c, s, _) in enumerate(RED)]
)
def test_red(code, severity, check):
    (finding,) = check()
    assert (finding.code, finding.severity) == (code, severity)
    assert finding.source == find_rule(code).source
    assert finding.text.endswith(".")
    assert finding.remedy.endswith(".")


@pytest.mark.parametrize("check", GREEN.values(), ids=GREEN.keys())
def test_green(check):
    assert check() == ()


def test_bore_over_the_rim_of_the_seat_is_told_with_what_keeps_it_whole():
    """A seat of 36 mm, an offset of 15 mm and a bore of 8 mm: 15 + 4 = 19 mm, the rim is at 18 mm."""
    panel = with_seat(36.0)
    panel = replace(panel, pump=replace(panel.pump, outlet_offset=(0.0, -15.0), inlet_bore=8.0))
    (finding,) = check_seat(panel, ROUTED)
    assert (finding.value, finding.limit) == (19.0, 18.0)
    for cure in ("outlet_offset of 14 mm", "outlet_bore of 6 mm", "seat of more than 38 mm"):
        assert cure in finding.remedy
    for offset, bore, seat in ((14.0, 8.0, 36.0), (15.0, 6.0, 36.0), (15.0, 8.0, 38.1)):
        pump = replace(panel.pump, outlet_offset=(0.0, -offset), outlet_bore=bore, seat_diameter=seat)
        assert check_seat(replace(panel, pump=pump), ROUTED) == ()


def test_better_pump_is_named_with_what_it_gains():
    panel, pumping = rate(make_panel(PLAIN, STRONG))
    (finding,) = check_choice(panel, pumping)
    assert 'made for "pump"; "strong" would be the better pump' in finding.text
    assert '"strong" reaches' in finding.text
    reached = pumping.ratings[0].flow_m3_s / L_MIN
    assert finding.remedy.startswith(f'Write use = "strong" in [pump]; there it reaches {reached:.1f} L/min')
    assert finding.value is not None
    assert finding.limit is not None
    assert finding.value < finding.limit


def test_noise_names_the_speed_and_the_flow_there():
    (finding,) = check_noise(*hear(make_panel(PLAIN, most_noise=35.0, wanted=3.0)))
    # 5000 rpm * 10^(-5/50) = 3972 rpm.
    there = size_flow(make_panel(PLAIN, run_at=3970.0), ROUTED).flow_m3_s / L_MIN
    assert there > 3.0
    assert f'run_at = "3970 rpm" in [pump]; there it reaches {there:.1f} L/min' in finding.remedy
    assert "wanted" not in finding.remedy
    (weak,) = check_noise(*hear(make_panel(PLAIN, most_noise=35.0, wanted=9.0)))
    assert 'run_at = "3970 rpm" in [pump]' in weak.remedy
    assert "and the wanted 9 L/min at no speed" in weak.remedy
    (fixed,) = check_noise(*hear(make_panel(replace(PLAIN, speed=None), most_noise=35.0)))
    assert "quieter pump" in fixed.remedy


def test_noise_that_no_pump_can_keep():
    other = replace(PLAIN, name="other", noise_db=38.0, speed=(2500.0, 5000.0))
    (finding,) = check_noise(*hear(make_panel(PLAIN, other, most_noise=1.0, wanted=3.0)))
    # 40 dB - 50 lg 5 = 5.05 dB of the one, 38 dB - 50 lg 2 = 22.9 dB of the other.
    assert "can be as quiet as 1 dB" in finding.remedy
    assert '"pump", makes 5.1 dB at its least speed of 1000 rpm' in finding.remedy
    assert "use =" not in finding.remedy
    assert check_choice(*rate(make_panel(other, PLAIN, most_noise=1.0, wanted=3.0))) == ()


def test_unknown_noise_is_told_once():
    (finding,) = check_noise(*hear(make_panel(replace(PLAIN, noise_db=None), STRONG, most_noise=39.0)))
    assert "not in the file, so nothing was checked against the 39 dB" in finding.text


def test_run_at_of_the_noise_remedy_is_quiet():
    panel = make_panel(PLAIN, most_noise=35.0, run_at=3970.0)
    assert check_noise(*hear(panel)) == ()


def test_speeds_of_remedies_stay_in_the_range_of_the_pump():
    # 37 dB at 4800 rpm is 35 dB at 4377.7 rpm, and the step under it is out of the range.
    pump = replace(PLAIN, speed=(4375.0, 4800.0), noise_db=37.0)
    (finding,) = check_noise(*hear(make_panel(pump, most_noise=35.0)))
    assert 'run_at = "4375 rpm" in [pump]' in finding.remedy
    assert check_noise(*hear(make_panel(pump, run_at=4375.0, most_noise=35.0))) == ()
    # The flow of 4793 rpm is wanted, and the step over it is out of the range.
    pump = replace(PLAIN, speed=(3000.0, 4795.0))
    wanted = size_flow(make_panel(pump, run_at=4793.0), ROUTED).flow_m3_s / L_MIN
    (finding,) = check_flow(*advise(make_panel(pump, run_at=4000.0, wanted=wanted)))
    assert 'run_at = "4795 rpm" in [pump]' in finding.remedy
    assert check_flow(*advise(make_panel(pump, run_at=4795.0, wanted=wanted))) == ()


@pytest.mark.parametrize(("share", "near"), [(0.5, True), (1.5, False)])
def test_noise_and_flow_that_cannot_both_be_held_are_one_compromise(share, near):
    """At whichever speed the pump runs, the numbers and the ways out are the same."""
    (found,) = rate(make_panel(PLAIN, most_noise=35.0))[1].ratings
    assert found.flow_for_noise_m3_s is not None
    wanted = found.flow_for_noise_m3_s * (1 + share * found.band) / L_MIN
    told = set()
    for run_at in (None, 4900.0, 3970.0, 2000.0):
        panel, flowing, advised = advise(make_panel(PLAIN, most_noise=35.0, wanted=wanted, run_at=run_at))
        noise, flow = check_noise(panel, flowing, advised.pumping), check_flow(panel, flowing, advised)
        assert (len(noise), len(flow)) == ((1, 0) if run_at in (None, 4900.0) else (0, 1))
        # The band is that of the speed at which the loop was solved.
        told.add(re.sub(r"±\d+ %", "±", (noise or flow)[0].remedy))
    (remedy,) = told
    assert remedy.startswith('"pump" cannot hold both: within 35 dB it reaches')
    assert ("lies within that band" in remedy) == near
    assert 'run_at = "3970 rpm" in [pump] and flow = ' in remedy


def test_compromise_of_a_pump_too_loud_and_too_slow_is_told_once():
    panel, flowing, advised = advise(make_panel(PLAIN, most_noise=30.0, wanted=4.0, run_at=3500.0))
    (noise,) = check_noise(panel, flowing, advised.pumping)
    (flow,) = check_flow(panel, flowing, advised)
    assert "Follow pump.flow" in noise.remedy
    assert "cannot hold both" in flow.remedy


def test_other_pump_that_holds_both_is_named():
    quiet = replace(STRONG, noise_db=34.0)
    (finding,) = check_noise(*hear(make_panel(PLAIN, quiet, most_noise=35.0, wanted=5.0)))
    assert 'Choose: write use = "strong" in [pump]; there it reaches' in finding.remedy
    unknown = replace(STRONG, noise_db=None)
    (finding,) = check_noise(*hear(make_panel(PLAIN, unknown, most_noise=35.0, wanted=5.0)))
    assert "strong" not in finding.remedy


def test_pump_that_reaches_less_than_the_used_one_is_not_advised():
    """Both are short, equal within the bands, and the other takes less power."""
    used, other = replace(PLAIN, power_w=16.0), replace(PLAIN, name="other", power_w=9.0)
    less = replace(other, curve=tuple((q, 0.97 * h) for q, h in CURVE))
    panel, pumping = rate(make_panel(used, less, wanted=20.0))
    assert pumping.ratings[0].name == "other"
    assert "to spare" not in pumping.reason
    assert check_choice(panel, pumping) == ()
    more = replace(other, curve=tuple((q, 1.03 * h) for q, h in CURVE))
    assert len(check_choice(*rate(make_panel(used, more, wanted=20.0)))) == 1


@pytest.mark.parametrize(("share", "advised"), [(0.985, False), (0.90, True)])
def test_pump_that_just_fits_is_not_advised_over_one_as_short(share, advised):
    """The wanted flow lies just within the band of the other, and just or well beyond that of the used one."""
    (free,) = rate(make_panel(PLAIN))[1].ratings
    wanted = free.flow_m3_s * (1 + 0.95 * free.band) / L_MIN
    used = replace(PLAIN, curve=scale_affinity(CURVE, share))
    panel, pumping = rate(make_panel(used, replace(PLAIN, name="other"), wanted=wanted))
    assert [judge_fit(one) for one in pumping.ratings] == ["just", "no"]
    found = check_choice(panel, pumping)
    assert len(found) == advised
    assert all("it just fits" in finding.text for finding in found)


def test_level_that_is_too_loud_never_reads_as_the_one_allowed():
    panel, flowing, advised = advise(make_panel(PLAIN, most_noise=36.5, wanted=4.0, run_at=4250.0))
    assert advised.pumping.ratings[0].speed_for_noise_rpm == 4250.0
    assert check_noise(panel, flowing, advised.pumping) == ()
    # A flow that only the next step of the speed brings.
    wanted = 1.0001 * flowing.flow_m3_s / L_MIN
    (finding,) = check_flow(*advise(make_panel(PLAIN, most_noise=36.5, wanted=wanted, run_at=4250.0)))
    assert "within 36.5 dB it reaches" in finding.remedy
    assert "it makes 36.6 dB. Choose" in finding.remedy
    assert 'most_noise = "36.6 dB"' in finding.remedy
    # The loop's own point and what the remedy tells of it carry one band.
    bands = set(re.findall(r"±\d+ %", finding.text + finding.remedy))
    assert len(bands) == 1
    (noise,) = check_noise(*hear(make_panel(PLAIN, most_noise=36.55)))
    assert "36.55 dB are allowed" in noise.text


def test_flow_is_not_helped_by_a_pump_that_does_not_fit():
    loud = replace(STRONG, noise_db=80.0, speed=(4000.0, 5000.0))
    large = replace(STRONG, seat_diameter=150.0)
    slow = replace(STRONG, noise_db=60.0)
    for other in (loud, large, slow):
        (finding,) = check_flow(*advise(make_panel(PLAIN, other, wanted=6.0, most_noise=45.0)))
        assert 'use = "strong"' not in finding.remedy


def test_flow_is_helped_by_speed_first():
    (finding,) = check_flow(*advise(make_panel(PLAIN, run_at=3000.0, wanted=3.5)))
    rpm = int(finding.remedy.split('"')[1].split()[0])
    faster = make_panel(PLAIN, run_at=rpm, wanted=3.5)
    assert size_flow(faster, ROUTED).flow_m3_s >= 3.5 * L_MIN
    assert check_flow(*advise(faster)) == ()
    fast = replace(PLAIN, speed=(2500.0, 5000.0))
    (loud,) = check_flow(*advise(make_panel(fast, run_at=3000.0, wanted=3.5, most_noise=10.0)))
    assert "there it reaches the wanted 3.5 L/min and makes" in loud.remedy


def test_flow_is_helped_by_another_pump_two_of_one_or_wider_channels():
    panel, flowing, advised = advise(make_panel(PLAIN, STRONG, wanted=6.0))
    sizes = (ChannelSize("feed", 8.0, 6.0, 8.0, 12.0, 0.05), ChannelSize("drain", 8.0, 6.0, 8.0, 12.0, 0.001))
    (finding,) = check_flow(panel, flowing, replace(advised, sizes=sizes))
    assert 'use = "strong" in [pump]' in finding.remedy
    assert "two of the pump in series" in finding.remedy
    assert 'channel "feed" as wide as its walls allow, 12 mm, for 5 % more flow' in finding.remedy
    panel, flowing, advised = advise(make_panel(PLAIN, wanted=12.0))
    (alone,) = check_flow(panel, flowing, replace(advised, sizes=()))
    assert "m more head at the wanted flow" in alone.remedy
