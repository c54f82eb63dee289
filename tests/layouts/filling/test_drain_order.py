"""The steps of draining: their order, what they name, how much comes and stays."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layouts.filling.drain_order import order_draining
from layouts.filling.values import BenchStep, Left, Pocket, PortProposal, Relief, Tilt
from layouts.plan import PlacedPort
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
EMPTY = Left(PANEL.up, 1.0, 1e5, (), (), 0.0, 0.0)
NEAR = Pocket(6000.0, (75.0, 40.0, 4.5), (75.0, 60.0, 4.5), 20.0, ("channel pump - blocks",))
FAR = Pocket(2500.0, (30.0, 40.0, 4.5), (30.0, 60.0, 4.5), 20.0, ("port block a inlet G1/4", "channel feed"))


def port(name: str, at: tuple[float, float], role: str = "drain") -> PlacedPort:
    return PlacedPort(name, role, role, "G1/8", "front", (*at, 20.0), at, "feed", 15.5)


def with_ports(*ports: PlacedPort):
    return replace(ROUTED, ports=(*(p for p in ROUTED.ports if p.role != "drain"), *ports))


def left_of(*pockets: Pocket) -> Left:
    return replace(EMPTY, coolant=pockets, coolant_mm3=sum(pocket.volume_mm3 for pocket in pockets))


def texts(steps: tuple[BenchStep, ...]) -> str:
    return " / ".join(step.text for step in steps)


DRAINS = (port("drain 2", (60.0, 70.0)), port("drain 3", (60.0, 90.0)), port("drain", (60.0, 10.0)))
OWN = replace(PANEL, drain=replace(PANEL.tank.fill, name="drain"))


def test_steps_hold_with_a_drain_and_nothing_left():
    routed = with_ports(port("drain", (60.0, 10.0)))
    steps = order_draining(OWN, routed, EMPTY)
    for step, words in zip(
        steps,
        (
            "Switch the pump off and unplug it and everything near the panel",
            'more under port "drain" in the front face: the panel holds, filled to its level, ',
            'Open "fill", so that air comes in',
            'Take the plug out of "drain" and wait until nothing more comes.',
            " mL has come out but for drops: let it dry before anything gets power.",
        ),
        strict=True,
    ):
        assert words in step.text
        assert step.text[0].isupper()
        assert step.text.endswith(".")
    assert [step.opening for step in steps] == ["", "", "fill", "drain", ""]


def test_its_own_drain_first_then_the_others_from_the_highest():
    bleeds = (port("bleed 1", (50.0, 80.0), "bleed"), port("bleed 2", (50.0, 100.0), "bleed"))
    steps = order_draining(OWN, with_ports(*DRAINS, *bleeds), EMPTY)
    # Bleed ports may stand under the tank's surface: not before it is empty.
    assert [step.opening for step in steps if step.opening] == [
        "fill",
        "drain",
        "drain 3",
        "drain 2",
        "bleed 2",
    ]
    assert 'Open "bleed 2" and "bleed 1" too, a cloth under each' in texts(steps)
    assert 'Put the bowl under it, then take the plug out of "drain 3"' in texts(steps)
    # Where the file gives no drain but asks for ports, the highest comes first too.
    asked = order_draining(replace(PANEL, drain=None), with_ports(*DRAINS), EMPTY)
    assert [step.opening for step in asked if step.opening] == ["fill", "drain 3", "drain 2", "drain"]


@pytest.mark.parametrize(
    ("drained", "under"),
    [
        ((0.0, 0.0), "a cloth under each, so"),
        ((0.0, 2000.0), "a cloth under each, so"),
        ((0.0, 20e3), 'a cloth under "bleed 2", a bowl under "bleed 1", where coolant comes out too, so'),
        ((2001.0, 20e3), "a bowl under each, for coolant comes out too, so"),
    ],
)
def test_a_low_bleed_that_drains_too_is_opened_over_a_bowl(drained: tuple[float, float], under: str):
    high, low = (port("bleed 2", (50.0, 100.0), "bleed"), port("bleed 1", (50.0, 20.0), "bleed"))
    built = [
        PortProposal("bleed", "feed", "front", one.at, "G1/8", 0.0, built=True, also_mm3=mm3)
        for one, mm3 in zip((high, low), drained, strict=True)
    ]
    routed = with_ports(port("drain", (60.0, 10.0)), high, low)
    said = texts(order_draining(OWN, routed, EMPTY, built))
    assert f'Open "bleed 2" and "bleed 1" too, {under} that air comes in there' in said
    # What is only proposed is not there.
    proposed = [replace(one, built=False) for one in built]
    assert "a cloth under each" in texts(order_draining(OWN, routed, EMPTY, proposed))


@pytest.mark.published(source="sum by hand: 8.5 mL stays, less 6.0 and 2.3 through the hoses")
def test_hoses_that_let_pockets_out_come_after_the_drains_the_highest_first():
    inlet = next(p for p in ROUTED.ports if p.name == "block a inlet")
    routed = with_ports(port("drain", (60.0, 10.0)), replace(inlet, name="low", at=(30.0, 5.0, 20.0)))
    near = replace(NEAR, reliefs=(Relief("hose", 0.0, "low"),))
    far = replace(FAR, reliefs=(Relief("drain", 0.0, "feed", FAR.at), Relief("hose", 200.0, "block a inlet")))
    steps = order_draining(OWN, routed, left_of(near, far))
    assert [step.opening for step in steps if step.opening] == ["fill", "drain", "block a inlet", "low"]
    said = texts(steps)
    assert (
        'Take the hose off at "block a inlet", the bowl under it: 2.3 mL more comes out of port "block a inlet" and '
        'channel "feed", and what the hose holds.' in said
    )
    assert '"low", the bowl under it: 6.0 mL more comes out of channel "pump - blocks"' in said
    assert "; 0.2 mL stays: soak it up" in steps[-1].text


def test_a_bleed_port_in_what_stays_is_opened_over_the_bowl():
    low = port("bleed 1", (50.0, 20.0), "bleed")
    pocket = replace(NEAR, reliefs=(Relief("plug", 0.0, "bleed 1"),))
    steps = order_draining(OWN, with_ports(port("drain", (60.0, 10.0)), low), left_of(pocket))
    assert [step.opening for step in steps if step.opening] == ["fill", "drain", "bleed 1"]
    assert (
        'Take the plug out of "bleed 1", the bowl under it: 6.0 mL more comes out of channel "pump - blocks".'
        in texts(steps)
    )


def test_tilted_is_only_what_hoses_leave_and_what_is_worth_it():
    routed = with_ports(port("drain", (60.0, 10.0)))
    tilt = Relief("tilt", 900.0, tilt=Tilt(22.5, 0.0))
    hose = Relief("hose", 0.0, "block a inlet")
    tilted = replace(NEAR, reliefs=(tilt,))
    steps = order_draining(OWN, routed, left_of(tilted, replace(FAR, reliefs=(tilt, hose))))
    assert "Tilt the panel by 22.5° to the right, all ports open" in steps[-2].text
    assert "no more than 0.9 mL stays then" in steps[-2].text
    assert "0.9 mL stays: soak it up" in steps[-1].text
    # Hoses let all of it out, or all but less than a tilt is worth.
    for rest in (0.0, 1500.0):
        small = replace(NEAR, volume_mm3=max(rest, 1.0), reliefs=(tilt,))
        steps = order_draining(OWN, routed, left_of(small, replace(FAR, reliefs=(tilt, hose))))
        assert "ilt the panel" not in texts(steps)


def test_what_stays_is_told_with_its_places():
    routed = with_ports(port("drain", (60.0, 10.0)))
    steps = order_draining(OWN, routed, left_of(NEAR, FAR))
    assert '; 8.5 mL stays in channel "pump - blocks" and port "block a inlet": soak' in steps[-1].text
    holds, out = (float(word) for word in _figures(steps[-1].text))
    assert holds - out == pytest.approx(8.5, abs=0.11)


def _figures(text: str) -> tuple[str, str]:
    out, _, rest = text.removeprefix("About ").partition(" mL of the panel's ")
    return rest.partition(" mL has")[0], out


def test_a_panel_without_a_drain_empties_through_its_parts_ports():
    steps = order_draining(replace(PANEL, drain=None), with_ports(), EMPTY)
    assert "The panel has no drain: take the hoses off at " in texts(steps)
    opened = next(step for step in steps if "no drain" in step.text)
    named = [word for k, word in enumerate(opened.text.split('"')) if k % 2]
    heights = {p.name: p.at[1] for p in ROUTED.ports}
    assert [heights[name] for name in named] == sorted(heights[name] for name in named)
    assert opened.opening == named[0]
    assert set(named) == {p.name for p in ROUTED.ports if p.part in {part.name for part in PANEL.parts}}


def test_a_vessel_over_the_panel_runs_out_too():
    tank = replace(PANEL.tank, kind="separate", fill=None, volume_ml=250.0, level=0.8)
    routed = replace(with_ports(port("drain", (60.0, 10.0))), tank=replace(ROUTED.tank, box=None))
    said = texts(order_draining(replace(OWN, tank=tank), routed, EMPTY))
    assert "the tank's vessel 200 mL" in said
    assert "Open the tank's vessel, so that air comes in" in said
    unknown = texts(order_draining(replace(OWN, tank=replace(tank, volume_ml=None)), routed, EMPTY))
    assert "the tank's vessel hold" in unknown
    assert "the file does not give" in unknown


def test_a_fill_port_under_the_coolant_gets_a_bowl():
    hanging = replace(OWN, up=(0.0, -1.0, 0.0))
    step = order_draining(hanging, with_ports(port("drain", (60.0, 10.0))), EMPTY)[2]
    assert step.opening == "fill"
    assert 'Open "fill" over a bowl of its own' in step.text


def test_without_a_fill_port_air_comes_in_where_hoses_are_off():
    routed = with_ports(port("drain", (60.0, 10.0)))
    sealed = replace(routed, ports=tuple(p for p in routed.ports if p.role != "fill"))
    steps = order_draining(OWN, sealed, EMPTY)
    assert "no fill port: air comes in only where hoses are taken off" in texts(steps)
