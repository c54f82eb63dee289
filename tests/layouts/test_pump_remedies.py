"""Every remedy of the pump's rules, written into a file to the letter, keeps what it promises."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from geom.findings import Finding
from layouts.advise import advise_plan
from layouts.file.read import parse_panel
from layouts.flow import size_flow
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from layouts.route import route_panel
from layouts.rules.pump_rules import check_choice, check_flow, check_noise

BENCH = Path(__file__).with_name("bench.toml").read_text("utf-8")
PUMPS = """
name = "small"
curve = [["0 L/min", "3 m"], ["4 L/min", "2.4 m"], ["7 L/min", "1.2 m"]]
speed = ["1500 rpm", "4500 rpm"]
power = "8 W"
noise = "34 dB"

[[pump.choice]]
name = "big"
curve = [["0 L/min", "5 m"], ["5 L/min", "4 m"], ["10 L/min", "1.5 m"]]
speed = ["1800 rpm", "4800 rpm"]
power = "20 W"
noise = "42 dB"

[[pump.choice]]
name = "steep"
curve = [["0 L/min", "8 m"], ["6 L/min", "6 m"], ["12 L/min", "3 m"]]
speed = ["800 rpm", "2600 rpm"]
power = "10 W"
noise = "27 dB"

[[pump.choice]]
name = "single"
curve = [["0 L/min", "6 m"], ["5 L/min", "5 m"], ["10 L/min", "2.5 m"]]
power = "24 W"
noise = "31 dB"

"""


def write_file(leave_out: tuple[str, ...], keys: dict[str, str]) -> str:
    """Return the bench with these pumps but some, and with keys of [pump], and of [loop]: "flow"."""
    before, _, after = BENCH.partition("curve = [")
    after = after[after.index("[[part]]") :]
    pumps = "[[pump.choice]]".join(
        entry
        for entry in PUMPS.split("[[pump.choice]]")
        if not any(f'"{name}"' in entry for name in leave_out)
    )
    text = (before + pumps.lstrip("\n") + after).replace('inlet_bore = "10 mm"', 'inlet_bore = "9 mm"')
    return set_keys(text, keys)


def set_keys(text: str, keys: dict[str, str]) -> str:
    """Return a file with keys of [pump] and [loop] set, or removed where they are empty."""
    for key, value in keys.items():
        line = f'{key} = "{value}"\n' if value else ""
        text = re.sub(rf"(?m)^{key} = .*\n", "", text)
        head = "[loop]\n" if key == "flow" else "[pump]\n"
        text = text.replace(head, head + line, 1)
    return text


def follow(text: str, way: str) -> str:
    """Return a file changed as one way of a remedy says."""
    keys = dict(re.findall(r'(\w+) = "([^"]*)"', way))
    if "remove run_at" in way:
        keys["run_at"] = ""
    return set_keys(text, keys)


@cache
def route() -> Routed:
    """Return the bench routed once: its pumps have one seat and the same bores."""
    return route_panel(parse_panel(write_file((), {}).encode(), "bench.toml"))


def judge(text: str) -> tuple[Panel, Flowing, dict[str, Finding]]:
    """Return the panel, its flow and what the pump's rules find."""
    panel = parse_panel(text.encode(), "bench.toml")
    flowing = size_flow(panel, route())
    advised = advise_plan(panel, route(), flowing)
    found = (
        *check_choice(panel, advised.pumping),
        *check_noise(panel, flowing, advised.pumping),
        *check_flow(panel, flowing, advised),
    )
    return panel, flowing, {finding.code: finding for finding in found}


ALONE = ("big", "steep", "single")
CASES: dict[str, tuple[tuple[str, ...], dict[str, str], set[str]]] = {
    "better pump at its most speed": (("single",), {"run_at": "4100 rpm"}, {"pump.choice"}),
    "better pump slowed for the noise": (
        ("steep", "single"),
        {"use": "big", "run_at": "3020 rpm", "most_noise": "32 dB", "flow": "6.2 L/min"},
        {"pump.choice", "pump.flow"},
    ),
    "better pump slowed a little": (("steep", "single"), {"most_noise": "41 dB"}, {"pump.choice"}),
    "better pump of one speed": (
        ("steep", "big"),
        {"run_at": "4000 rpm", "most_noise": "32 dB", "flow": "7 L/min"},
        {"pump.choice", "pump.flow"},
    ),
    "too loud, flow to spare": (ALONE, {"most_noise": "32 dB", "flow": "2 L/min"}, {"pump.noise"}),
    "too loud and too weak": (
        ALONE,
        {"most_noise": "32 dB", "flow": "20 L/min"},
        {"pump.noise", "pump.flow"},
    ),
    "too loud, another holds both": (
        ("steep", "big"),
        {"most_noise": "31 dB", "flow": "6.2 L/min"},
        {"pump.noise", "pump.choice"},
    ),
    "too loud at its only speed": (
        ("steep", "big"),
        {"use": "single", "most_noise": "30 dB", "flow": "4 L/min"},
        {"pump.noise", "pump.choice"},
    ),
    "too loud at the speed for the flow": (
        ALONE,
        {"most_noise": "30 dB", "run_at": "4460 rpm", "flow": "6.1 L/min"},
        {"pump.noise"},
    ),
    "too slow within the noise": (
        ALONE,
        {"most_noise": "30 dB", "run_at": "3500 rpm", "flow": "5.5 L/min"},
        {"pump.flow"},
    ),
    "too slow": (ALONE, {"run_at": "3000 rpm", "flow": "5 L/min"}, {"pump.flow"}),
    "too weak": (("steep", "single"), {"run_at": "4000 rpm", "flow": "7.5 L/min"}, {"pump.flow"}),
}


@pytest.mark.parametrize(("leave_out", "keys", "codes"), CASES.values(), ids=CASES.keys())
def test_remedies_come_true(leave_out, keys, codes):
    text = write_file(leave_out, keys)
    _, _, found = judge(text)
    assert codes <= found.keys()
    for code, finding in found.items():
        remedy = finding.remedy.rpartition("Choose: ")[2]
        ways = [
            way
            for way in remedy.split("; or ")
            if re.search(r"(use|run_at|most_noise) = ", way) or "remove" in way
        ]
        followed = [(way, *judge(follow(text, way))) for way in ways]
        if code != "pump.flow" or "20 L/min" not in finding.text:
            assert followed, finding.remedy
        for way, panel, flowing, after in followed:
            assert code not in after, (way, after[code].text)
            # A way out of one finding may not lead into the other.
            assert "no speed" in way or not (after.keys() - found.keys()), (way, after)
            promised = re.search(r"there it reaches ([\d.]+) L/min", way)
            flow_l_min = flowing.flow_m3_s * 60e3
            if promised is not None:
                assert f"{flow_l_min:.2g}" == f"{float(promised[1]):.2g}"
            if code == "pump.choice":
                assert finding.limit == pytest.approx(flow_l_min, rel=0.01)
            if "at no speed" not in way and panel.wanted_flow_m3_s is not None and code != "pump.choice":
                assert flowing.flow_m3_s >= panel.wanted_flow_m3_s
