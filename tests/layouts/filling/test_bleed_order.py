"""The steps of bleeding: their order, what they name, what they never leave out."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from exports.pipeline import plan_panel
from layouts.filling.bleed_order import order_bleeding
from layouts.filling.moving_air import find_carries
from layouts.filling.sequence_values import DryInlet, FillSequence, FillStep
from layouts.filling.values import BenchStep, Carry, Left, LockedBore, Opening, Pocket, Relief, Tilt
from layouts.flow import size_flow
from layouts.plan import PlacedPort
from tests.layouts.filling.sample_hump import FILE
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
CARRIES = find_carries(PANEL, ROUTED, size_flow(PANEL, ROUTED))
EMPTY = Left(PANEL.up, 1.0, 1e5, (), (), 0.0, 0.0)
POCKET = Pocket(
    2500.0, (75.0, 124.0, 4.5), (75.0, 119.0, 4.5), 5.0, ("channel radiator - tank", "channel feed")
)


def find(steps: tuple[BenchStep, ...], words: str) -> int:
    """Return the place of the only step that holds some words."""
    (place,) = (k for k, step in enumerate(steps) if words in step.text)
    return place


def bleed(name: str, at: tuple[float, float], channel: str) -> PlacedPort:
    return PlacedPort(name, "bleed", "bleed", "G1/8", "front", (*at, 20.0), at, channel, 15.5)


def test_steps_hold_with_nothing_known():
    steps = order_bleeding(PANEL, ROUTED, (), EMPTY)
    places = [
        find(steps, words)
        for words in (
            "Switch off and unplug everything near the panel",
            "fill the tank to its level, 85 %, through its fill port",
            "stop it before the tank's outlet comes bare",
            "Let the air out of the parts",
            "for 10 s and stop it for 20 s, 5 times",
            "the loop is bled when for 10 minutes no bubbles come back",
        )
    ]
    assert places == list(range(len(steps)))
    assert [step.opening for step in steps] == ["", "fill", "", "", "", ""]
    assert "never before its inlet stands in coolant" in steps[0].text
    assert "dry everything before anything else gets power" in steps[-1].text
    assert all(
        (step.text.endswith(".") and step.text[0].isupper()) or step.text[0].isdigit() for step in steps
    )


@pytest.mark.published(
    source="Simpson 1968, Chemical Engineering 75(13):192: a drain vents itself under V / sqrt(g D) = 0.3; its "
    "value is recalled, not verified"
)
def test_filling_is_as_slow_as_air_needs_to_come_out():
    """Through the tap drill of G1/4, 11.8 mm: 0.102 m/s, 0.67 L/min."""
    steps = order_bleeding(PANEL, ROUTED, (), EMPTY)
    assert "no faster than 0.67 L/min" in steps[1].text


def test_bleed_ports_are_opened_from_the_lowest_and_of_equals_nearest_to_the_pump():
    """In the order of the flow the channel to the radiator comes before that from it."""
    ports = (
        bleed("bleed 1", (75.0, 120.0), "pump - blocks"),
        bleed("bleed 2", (30.0, 100.0), "radiator - tank"),
        bleed("bleed 3", (80.0, 100.0), "blocks - radiator"),
    )
    steps = order_bleeding(PANEL, replace(ROUTED, ports=(*ROUTED.ports, *ports)), (), EMPTY)
    opened = [step.opening for step in steps if step.opening.startswith("bleed")]
    assert opened == ["bleed 3", "bleed 2", "bleed 1"]
    first = find(steps, 'open "bleed 3" of channel blocks - radiator until coolant without bubbles comes')
    assert first < find(steps, "Run the pump in short bursts")
    assert find(steps, 'open "bleed 3", "bleed 2" and "bleed 1" once more') == len(steps) - 2


def test_parts_that_take_air_are_told_from_the_lowest():
    leaves = (
        ("radiator inlet", 3000.0),
        ("block b inlet", 900.0),
        ("radiator outlet", 500.0),
        ("block a inlet", 10.0),
    )
    steps = order_bleeding(PANEL, ROUTED, (), replace(EMPTY, leaves=leaves))
    assert find(
        steps, 'rises from the panel, "block b" (0.9 mL) and "radiator" (3.5 mL): open their bleed screws'
    )
    assert not any('"block a"' in step.text for step in steps)
    nothing = replace(EMPTY, leaves=(("fill", 5000.0),))
    assert not any("parts" in step.text for step in order_bleeding(PANEL, ROUTED, (), nothing))


def with_air(*reliefs: Relief, at_pocket: Pocket = POCKET) -> Left:
    return replace(EMPTY, air=(replace(at_pocket, reliefs=reliefs),), air_mm3=at_pocket.volume_mm3)


def told(left: Left, carries: tuple[Carry, ...] = (), **more) -> BenchStep:
    """Return the only step that tells of air that stays."""
    steps = order_bleeding(PANEL, ROUTED, carries, left, **more)
    return steps[find(steps, "mL of air stays in channel")]


def test_air_that_stays_is_let_out_as_its_finding_says():
    """What is done on the bench comes before a tilt, and a tilt is told with what stays then."""
    tilt = Relief("tilt", 400.0, tilt=Tilt(15.0, -7.5))
    plug = Relief("plug", 0.0, "drain", (60.0, 0.0, 10.0))
    bleed_port = Relief("bleed", 0.0, "radiator - tank", (75.0, 124.0, 20.0))
    drain = replace(bleed("drain", (60.0, 20.0), "feed"), role="drain")
    routed = replace(ROUTED, ports=(*ROUTED.ports, drain))
    steps = order_bleeding(PANEL, routed, (), with_air(bleed_port, plug, tilt))
    step = steps[find(steps, 'with the pump at rest loosen the plug of port "drain" until coolant')]
    assert step.opening == "drain"
    assert not any("tilt" in step.text for step in steps)
    assert told(with_air(bleed_port, tilt)).text == (
        '2.5 mL of air stays in channel "radiator - tank" and channel "feed" as it stands: with the pump at rest tilt '
        "the panel by 15° to the right and 7.5° backwards, so that 0.4 mL stays in all, and back again."
    )
    assert "so that nothing stays in all" in told(with_air(replace(tilt, left_mm3=30.0))).text
    assert 'lead the hose at port "x" upwards' in told(with_air(Relief("hose", 0.0, "x"), tilt)).text
    assert "no tilt clears it; what the flow does not take" in told(with_air()).text


def test_a_plug_over_the_coolant_is_loosened_with_the_pump_running():
    """At rest it would let air in: 85 % of a tank from 85 to 120 mm stand up to 114.75 mm."""
    for height, how in ((114.0, "at rest loosen"), (115.0, "running as slowly as it goes loosen")):
        plug = replace(bleed("plug", (60.0, height), "feed"), role="drain")
        routed = replace(ROUTED, ports=(*ROUTED.ports, plug))
        left = with_air(Relief("plug", 0.0, "plug", plug.at))
        steps = order_bleeding(PANEL, routed, (), left)
        assert f'with the pump {how} the plug of port "plug"' in steps[find(steps, "mL of air")].text


def test_what_tilts_the_largest_pockets_out_is_told_of_all():
    """Smaller ones are not tried; the tilt's figure is that of all of them."""
    tilt = Relief("tilt", 400.0, tilt=Tilt(15.0, 0.0))
    small = replace(POCKET, volume_mm3=300.0)
    left = replace(EMPTY, air=(replace(POCKET, reliefs=(tilt,)), small), air_mm3=2800.0)
    assert told(left).text.startswith(
        '2.8 mL of air stays in channel "radiator - tank" as it stands: with the pump'
    )


def test_flow_that_carries_air_down_is_enough():
    (fall,) = (carry for carry in CARRIES if carry.channel == "radiator - tank")
    tilt = Relief("tilt", 400.0, tilt=Tilt(15.0, 0.0))
    carried = told(with_air(tilt), (replace(fall, verdict="carried"),))
    assert carried.text.endswith("as it stands: the running pump carries it out.")
    full = told(with_air(tilt), (replace(fall, verdict="carried at full speed"),))
    assert full.text.endswith("as it stands: only at full speed the pump carries it out.")


def test_air_that_no_flow_moves_is_told_with_what_moves_it():
    """Running is no cure, and no bubbles come of it at the end either."""
    (fall,) = (carry for carry in CARRIES if carry.channel == "radiator - tank")
    stuck = replace(
        fall, verdict="rises back", velocity_m_s=0.25, full_velocity_m_s=0.25, clears_m_s=(0.31, 0.34)
    )
    head = replace(POCKET, at=(*fall.top, 4.5), features=("channel radiator - tank",))
    bleed_port = Relief("bleed", 0.0, "radiator - tank", (75.0, 124.0, 20.0))
    narrower = 'only a change of the panel does: channel "radiator - tank" made '
    for reliefs, words in (((bleed_port,), "a bleed port at (75, 124) mm or channel"), ((), narrower)):
        steps = order_bleeding(PANEL, ROUTED, (stuck,), with_air(*reliefs, at_pocket=head))
        text = steps[find(steps, "2.5 mL of air stays")].text
        assert "running the pump does not clear it, for air goes back up there under 0.31 m/s" in text
        assert "coolant runs at 0.25 m/s" in text
        assert words in text
        assert 'the air in channel "radiator - tank" stays all the same, and sends none' in steps[-1].text
    locks = replace(stuck, verdict="locks", surely_m_s=0.35)
    steps = order_bleeding(PANEL, ROUTED, (locks,), with_air(at_pocket=head))
    assert find(steps, "bubbles lock there and are pushed on only from 0.35 m/s on")
    # Elsewhere than at the fall's head it is not the fall that holds it.
    low = replace(head, at=(fall.foot[0], fall.foot[1] - 50.0, 4.5))
    steps = order_bleeding(PANEL, ROUTED, (stuck,), with_air(at_pocket=low))
    assert not any("does not clear it" in step.text or "sends none" in step.text for step in steps)


def test_a_loop_that_is_full_before_the_pump_runs_needs_no_first_runs():
    """A tank of its own stands over the panel."""
    half = sequence_of(np.ones(4, bool))
    full = replace(half, steps=(replace(half.steps[0], loop_share=1.0),))
    unsure = replace(full, push_range_ml=(0.0, 40.0))
    first = "stop it before the tank's outlet comes bare"
    for sequence, words in ((half, first), (unsure, "where the level falls, fill up"), (full, None)):
        steps = order_bleeding(PANEL, ROUTED, (), EMPTY, (), None, sequence)
        told = [step.text for step in steps if step.text.startswith("Run the pump in short bursts")]
        assert len(told) == (words is not None)
        assert words is None or words in told[0]


def test_pockets_that_are_not_told_of_are_no_step():
    small = replace(POCKET, volume_mm3=60.0)
    # Air under the crown of a port's own bore, which lies, is let pass up to a larger size.
    crown = replace(
        POCKET, volume_mm3=110.0, way_out=(60.0, 40.0, 18.0), features=("port block a inlet G1/4",)
    )
    for air, told in (((small, small), False), ((crown,), False), ((replace(crown, depth=6.0),), True)):
        steps = order_bleeding(PANEL, ROUTED, (), replace(EMPTY, air=air, air_mm3=120.0))
        assert any("mL of air" in step.text for step in steps) is told


def sequence_of(wet: np.ndarray, may_run: float | None = 40.0, dry: DryInlet | None = None) -> FillSequence:
    step = FillStep("level reached", 1, 50.0, 50.0, 20.0, 0.8, 0.4, wet)
    return FillSequence((step,), may_run, may_run, 5.0, 1, 90.0, (), dry)


def test_ports_over_the_surface_are_opened_with_the_pump_running():
    """At rest no coolant comes to them, and when the loop is full they would let air in."""
    ports = (bleed("low", (75.0, 60.0), "feed"), bleed("high", (75.0, 120.0), "radiator - tank"))
    routed = replace(ROUTED, ports=(*ROUTED.ports, *ports))
    openings = tuple(
        Opening(name, "bleed", "", (0.0, 0.0, 0.0), np.array(voxels, np.int32))
        for name, voxels in (("low", (0, 1)), ("high", (2, 3)))
    )
    # A mouth that is covered by half lets air in too.
    for wet in ((True, True, False, False), (True, True, True, False)):
        sequence = sequence_of(np.array(wet))
        steps = order_bleeding(PANEL, routed, (), EMPTY, (), None, sequence, openings)
        start = find(steps, "Run the pump in short bursts")
        assert find(steps, 'With the pump at rest, open "low" of channel feed') < start
        running = steps[find(steps, 'No coolant comes up to "high" of channel radiator - tank with the pump')]
        assert running is steps[start + 1]
        assert running.opening == "high"
        assert "close it before the pump stops" in running.text
        low, high = (step.text for step in steps if "once more" in step.text)
        assert low.startswith('With the pump at rest, open "low" once more')
        assert high.startswith('With the pump running as slowly as it goes, open "high" once more')
        assert "close before the pump stops" in high
    covered = order_bleeding(PANEL, routed, (), EMPTY, (), None, sequence_of(np.ones(4, bool)), openings)
    assert not any("pump running" in step.text or "No coolant comes" in step.text for step in covered)
    choice = replace(PANEL.pump.choices[0], speed=(1500.0, 4000.0))
    panel = replace(PANEL, pump=replace(PANEL.pump, choices=(choice,)))
    steps = order_bleeding(panel, routed, (), EMPTY, (), None, sequence, openings)
    assert "run the pump at its least speed, 1500 rpm" in steps[find(steps, "No coolant comes up")].text


def test_bleed_over_the_tank_of_a_made_panel(tmp_path):
    """The hump made higher than the tank's coolant: its port stands at 95 mm, the coolant at 76 mm."""
    text = FILE
    for old, new in (
        ('size = ["160 mm", "120 mm"]', 'size = ["160 mm", "130 mm"]'),
        (
            'within = ["100 mm", "74 mm", "146 mm", "106 mm"]',
            'within = ["100 mm", "64 mm", "146 mm", "94 mm"]',
        ),
        ('level = "80 %"', 'level = "40 %"'),
        ('box = ["50 mm", "0 mm", "60 mm", "60 mm"]', 'box = ["50 mm", "0 mm", "60 mm", "88 mm"]'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    path = tmp_path / "high.toml"
    path.write_text(text + '\n[service]\nbleed = "auto"\n', encoding="utf-8")
    filling = plan_panel(path).filling
    assert filling is not None
    (step,) = (step for step in filling.bleed_order if step.opening.startswith("bleed"))
    assert step.text.startswith('No coolant comes up to "bleed 1" of channel block - cooler')


@pytest.mark.parametrize(
    ("cause", "code"), [("sill", "feed.first"), ("bare", "feed.depth"), ("low", "feed.low")]
)
def test_panel_whose_pump_may_not_run_is_not_bled(cause, code):
    why = DryInlet(cause, "the way rises", (0.0, 0.0, 0.0), 5.0, 0.0, "mm", ("feed",), code)
    sequence = sequence_of(np.zeros(4, bool), None, why)
    (step,) = order_bleeding(PANEL, ROUTED, (), EMPTY, (), None, sequence)
    assert step.text.startswith("Do not run the pump of this panel: its inlet ")
    assert step.text.endswith(f"so cure {code} first.")
    assert step.opening == ""


def test_slow_legs_are_tilted_or_flushed():
    """One that lies at 30 degrees can be held so that it rises, one that falls straight down cannot."""
    (fall,) = (carry for carry in CARRIES if carry.channel == "radiator - tank")
    back = replace(fall, verdict="rises back")
    head = replace(POCKET, at=(*fall.top, 4.5), features=("channel radiator - tank",))
    steps = order_bleeding(PANEL, ROUTED, (back,), with_air(at_pocket=head))
    assert not any("tilt the panel" in step.text for step in steps)
    leaned = replace(PANEL, up=(np.sqrt(0.75), 0.5, 0.0))
    steps = order_bleeding(leaned, ROUTED, (back,), with_air(at_pocket=head))
    assert re.search(
        r"tilt the panel by 37.5° to the (left|right) with the pump running, so that channel \"radiator - tank\" rises",
        steps[find(steps, "tilt the panel")].text,
    )
    # Nobody turns it for a few drops, nor for air that stays elsewhere.
    for left in (with_air(at_pocket=replace(head, volume_mm3=900.0)), EMPTY):
        steps = order_bleeding(leaned, ROUTED, (back,), left)
        assert not any("tilt the panel" in step.text for step in steps)
    fast = replace(fall, verdict="carried at full speed")
    choice = replace(PANEL.pump.choices[0], speed=(1500.0, 4000.0))
    panel = replace(PANEL, pump=replace(PANEL.pump, choices=(choice,), run_at_rpm=2500.0))
    steps = order_bleeding(panel, ROUTED, (fast,), EMPTY)
    burst = steps[find(steps, "Run the pump at full speed, 4000 rpm, for 10 s")]
    assert "channel radiator - tank needs it" in burst.text
    assert find(steps, "Run the pump at its least speed, 1500 rpm") < find(steps, "at full speed")
    assert "Run the pump at 2500 rpm: the loop is bled" in steps[-1].text


def test_bores_that_hold_bubbles_are_tapped():
    locked = (LockedBore("channel feed", (0.0, 0.0, 0.0), 4.5, 4.9),)
    steps = order_bleeding(PANEL, ROUTED, (), EMPTY, locked)
    assert "tap there" in steps[find(steps, "do not rise by themselves in channel feed")].text


def test_tank_of_its_own_is_filled_as_a_vessel():
    panel = replace(PANEL, tank=replace(PANEL.tank, kind="separate", fill=None))
    assert "fill the tank's vessel to its level" in order_bleeding(panel, ROUTED, (), EMPTY)[1].text


def test_panel_that_cannot_be_filled_is_not_bled():
    why = DryInlet("shut", "the tank has no fill port", (0.0, 0.0, 0.0), 0.0, 0.0, "", ("tank",), "tank.fill")
    sequence = replace(sequence_of(np.zeros(4, bool), None, why), steps=())
    (step,) = order_bleeding(PANEL, ROUTED, (), EMPTY, (), None, sequence)
    assert step.text == "This panel cannot be filled: the tank has no fill port, so cure tank.fill first."


def test_a_fill_port_under_the_level_is_filled_to_its_mouth():
    sequence = sequence_of(np.ones(4, bool))
    steps = tuple(replace(step, level=0.43, to_mouth=True) for step in sequence.steps)
    told = order_bleeding(PANEL, ROUTED, (), EMPTY, (), None, replace(sequence, steps=steps))
    text = told[find(told, "fill the tank")].text
    assert "fill the tank up to its fill port's mouth, which lies under its level, 43 %, through" in text
    assert "level stays at 43 %" in told[-1].text
