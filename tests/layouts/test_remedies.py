"""Remedies: the least of each kind, and the panel as it is changed for each."""

from dataclasses import replace

import pytest

from geom.errors import OutOfRange
from layouts.panels.catalogue import demo_path
from layouts.read import read_panel
from layouts.remedies import Found, Trials, add_layer, free_port, move_ports, move_regions, narrow_channels

LASER = read_panel(demo_path("laser-driver"))
WORKSHOP = read_panel(demo_path("workshop-render"))


class Answers(Trials):
    """Trials that route what a rule says, without laying anything."""

    def __init__(self, rule) -> None:
        super().__init__(lambda panel: None)
        self.rule = rule

    def route(self, panel):
        self.count += 1
        return (
            Found({port.name: (30.0, 20.0) for port in (panel.parts[0].inlet,)}) if self.rule(panel) else None
        )


@pytest.mark.parametrize("least", range(1, 41))
def test_the_least_number_of_steps_is_found(least):
    trials = Answers(lambda by: by >= 0.5 * least)
    trials.route = lambda by: Found({}) if by >= 0.5 * least - 1e-9 else None
    found = trials.find_least(lambda by: by, 0.5, 20.0)
    assert found is not None
    assert found[0] == pytest.approx(0.5 * least)


def test_where_nothing_helps_nothing_is_told():
    never = Answers(lambda panel: False)
    assert never.find_least(lambda by: LASER, 1.0, 60.0) is None
    assert never.count == 7
    assert list(move_regions(WORKSHOP, never, ('keep-clear region "cable slot"',))) == []
    assert list(narrow_channels(WORKSHOP, never)) == []
    assert list(move_ports(LASER, never, (LASER.parts[0].inlet,))) == []


def test_no_trial_beyond_the_most_is_made(monkeypatch):
    monkeypatch.setattr("layouts.remedies.MOST_TRIALS", 3)
    asked = []

    def lay(panel):
        asked.append(panel)
        raise OutOfRange("no such placement")

    trials = Trials(lay)
    assert all(trials.route(LASER) is None for _ in range(5))
    assert len(asked) == 3


def test_a_region_moves_the_shortest_way():
    x0, y0, *_ = WORKSHOP.keep_clear[0].box

    def clear(panel):
        return (
            not panel.keep_clear
            or panel.keep_clear[0].box[0] >= x0 + 7
            or panel.keep_clear[0].box[1] <= y0 - 4
        )

    told = [
        remedy.text for remedy in move_regions(WORKSHOP, Answers(clear), ('keep-clear region "cable slot"',))
    ]
    assert told == ['move keep-clear region "cable slot" 4 mm down']
    told = [
        r.text
        for r in move_regions(
            WORKSHOP, Answers(lambda p: not p.keep_clear), ('keep-clear region "cable slot"',)
        )
    ]
    assert told == ['make keep-clear region "cable slot" smaller, or do without it']


def test_channels_are_no_narrower_than_the_cutter():
    told = [r.text for r in narrow_channels(WORKSHOP, Answers(lambda p: p.channel.width <= 6.5))]
    assert told == ["make the channels 6.5 mm wide (now 8 mm)"]
    assert list(narrow_channels(WORKSHOP, Answers(lambda p: p.channel.width <= 5.5))) == []


def test_the_second_face_is_for_panels_that_have_one():
    both = [r.text for r in add_layer(LASER, Answers(lambda p: p.channel.layers == 2))]
    assert both == ["cut channels in both faces (channel.layers = 2)"]
    one_piece = replace(LASER, make=replace(LASER.make, closing="one-piece"))
    assert list(add_layer(one_piece, Answers(lambda p: True))) == []
    assert (
        list(add_layer(replace(LASER, channel=replace(LASER.channel, layers=2)), Answers(lambda p: True)))
        == []
    )


def test_the_port_that_moves_least_is_told_with_its_place():
    block = LASER.parts[0]
    told = list(move_ports(LASER, Answers(lambda p: True), (block.inlet,)))
    # From (60, 35) to (30, 20) mm.
    assert [r.text for r in told] == ['move port "diode block inlet" by 33.5 mm, to (30, 20) mm']


def test_a_freed_port_keeps_inside_the_panel():
    block, radiator = LASER.parts
    assert free_port(LASER, block.inlet, 10.0).parts[0].inlet.within == (50.0, 25.0, 70.0, 45.0)
    assert free_port(LASER, block.outlet, 50.0).parts[0].outlet.within == (0.0, 0.0, 80.0, 90.0)
    assert free_port(LASER, radiator.inlet, 60.0).parts[1].inlet.between == (0.0, 120.0)
    assert free_port(LASER, LASER.drain, 10.0).drain.between == (70.0, 150.0)
    cupboard = read_panel(demo_path("cupboard-server"))
    assert free_port(cupboard, cupboard.tank.inlet, 5.0).tank.inlet.between == (55.0, 100.0)
