"""Each rule of the pump red and green once, and what its remedies say."""

from __future__ import annotations

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
from layouts.pump_rules import check_beyond, check_choice, check_fit, check_flow, check_noise
from layouts.pumps import rate_pumps
from layouts.rule_catalogue import find_rule
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


def advise(panel: Panel) -> tuple[Panel, Flowing, Advised]:
    flowing = size_flow(panel, ROUTED)
    return panel, flowing, advise_plan(panel, ROUTED, flowing)


def set_flow(panel: Panel, flow_l_min: float) -> Flowing:
    return replace(size_flow(panel, ROUTED), flow_m3_s=flow_l_min * L_MIN)


Check = Callable[[], tuple[Finding, ...]]

RED: list[tuple[str, str, Check]] = [
    ("pump.choice", "note", lambda: check_choice(*rate(make_panel(PLAIN, STRONG)))),
    ("pump.fit", "fault", lambda: check_fit(make_panel(replace(PLAIN, seat_diameter=82.0)), ROUTED)),
    ("pump.noise", "caution", lambda: check_noise(*rate(make_panel(PLAIN, most_noise=39.0)))),
    ("pump.noise", "caution", lambda: check_noise(*rate(make_panel(PLAIN, run_at=4900.0, most_noise=39.0)))),
    ("pump.flow", "caution", lambda: check_flow(*advise(make_panel(PLAIN, wanted=7.0)))),
    ("flow.beyond", "caution", lambda: check_beyond(make_panel(PLAIN), set_flow(make_panel(PLAIN), 12.1))),
]

GREEN: dict[str, Check] = {
    "pump.choice, best used": lambda: check_choice(*rate(make_panel(STRONG, PLAIN))),
    "pump.choice, only one": lambda: check_choice(*rate(make_panel(PLAIN))),
    "pump.fit": lambda: check_fit(make_panel(replace(PLAIN, seat_diameter=80.0)), ROUTED),
    "pump.noise, quiet": lambda: check_noise(*rate(make_panel(PLAIN, most_noise=40.0))),
    "pump.noise, slow": lambda: check_noise(*rate(make_panel(PLAIN, run_at=4700.0, most_noise=39.0))),
    "pump.noise, any": lambda: check_noise(*rate(make_panel(PLAIN))),
    "pump.noise, not known": lambda: check_noise(
        *rate(make_panel(replace(PLAIN, noise_db=None), most_noise=39.0))
    ),
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


def test_better_pump_is_named_with_what_it_gains():
    panel, pumping = rate(make_panel(PLAIN, STRONG))
    (finding,) = check_choice(panel, pumping)
    assert 'made for "pump"; "strong" would be the better pump' in finding.text
    assert '"strong" reaches' in finding.text
    assert finding.remedy == 'Write use = "strong" in [pump] and run again.'
    assert finding.value is not None
    assert finding.limit is not None
    assert finding.value < finding.limit


def test_noise_names_the_speed_and_the_flow_there():
    panel, pumping = rate(make_panel(PLAIN, most_noise=35.0, wanted=5.0))
    (finding,) = check_noise(panel, pumping)
    # 5000 rpm * 10^(-5/50) = 3972 rpm.
    there = size_flow(make_panel(PLAIN, run_at=3972.0), ROUTED).flow_m3_s / L_MIN
    assert f'run_at = "3970 rpm" in [pump]; there it reaches {there:.1f} L/min' in finding.remedy
    assert "under the wanted 5 L/min" in finding.remedy
    (quiet,) = check_noise(*rate(make_panel(PLAIN, most_noise=35.0, wanted=3.5)))
    assert "wanted" not in quiet.remedy
    (fixed,) = check_noise(*rate(make_panel(replace(PLAIN, speed=None), most_noise=35.0)))
    assert "quieter pump" in fixed.remedy


def test_run_at_of_the_noise_remedy_is_quiet():
    panel = make_panel(PLAIN, most_noise=35.0, run_at=3970.0)
    assert check_noise(*rate(panel)) == ()


def test_flow_is_helped_by_speed_first():
    (finding,) = check_flow(*advise(make_panel(PLAIN, run_at=3000.0, wanted=3.5)))
    rpm = int(finding.remedy.split('"')[1].split()[0])
    faster = make_panel(PLAIN, run_at=rpm, wanted=3.5)
    assert size_flow(faster, ROUTED).flow_m3_s >= 3.5 * L_MIN * (1 - 3e-3)
    (loud,) = check_flow(*advise(make_panel(PLAIN, run_at=3000.0, wanted=3.5, most_noise=30.0)))
    assert "louder than most_noise allows" in loud.remedy


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
