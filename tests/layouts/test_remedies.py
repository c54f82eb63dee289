"""Remedies: the least of each kind, and the panel as it is changed for each."""

from dataclasses import replace

import pytest

from geom.errors import OutOfRange
from layouts.file.read import read_panel
from layouts.panel import KeepClear
from layouts.panels.catalogue import demo_path
from layouts.remedies import (
    Attempts,
    Found,
    Trials,
    add_layer,
    change_order,
    free_port,
    move_ports,
    move_regions,
    narrow_channels,
    share_groove,
    thin_cord,
)

LASER = read_panel(demo_path("laser-driver"))
WORKSHOP = read_panel(demo_path("workshop-render"))


class Answers(Trials):
    """Trials that route what a rule says, without laying anything."""

    def __init__(self, rule) -> None:
        super().__init__(lambda panel: None, 50)
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
    assert list(narrow_channels(WORKSHOP, never, ("drain",))) == []
    assert list(move_ports(LASER, never, (LASER.parts[0].inlet,))) == []


def test_no_trial_beyond_the_most_is_made():
    asked = []

    def lay(panel):
        asked.append(panel)
        raise OutOfRange("no such placement")

    trials = Trials(lay, 3)
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
    # It stands on the lower edge: it cannot move down, but may end lower.
    assert told == ['shorten keep-clear region "cable slot" by 4 mm at its upper end']
    told = [
        r.text
        for r in move_regions(
            WORKSHOP, Answers(lambda p: not p.keep_clear), ('keep-clear region "cable slot"',)
        )
    ]
    assert told == ['make keep-clear region "cable slot" smaller, or do without it']


def test_channels_are_no_narrower_than_the_cutter():
    told = [r.text for r in narrow_channels(WORKSHOP, Answers(lambda p: p.channel.width <= 6.5), ("drain",))]
    assert told == ["make the channels 6.5 mm wide (now 8 mm)"]
    assert list(narrow_channels(WORKSHOP, Answers(lambda p: p.channel.width <= 5.5), ("drain",))) == []


def test_a_channel_of_its_own_width_is_narrowed_alone():
    own = replace(WORKSHOP, channel=replace(WORKSHOP.channel, own=(("drain", 10.0),)))

    def narrow(panel):
        return panel.channel.width_of("drain") <= 7.0 and panel.channel.width == 8.0

    told = [r.text for r in narrow_channels(own, Answers(narrow), ("drain",))]
    assert told == ['make channel "drain" 7 mm wide (now 10 mm)']
    # The usual width is told of only where a channel concerned has it.
    both = [r.text for r in narrow_channels(own, Answers(lambda p: True), ("drain", "radiator lower - tank"))]
    assert len(both) == 2


def test_a_region_at_the_edge_is_shortened_there():
    wall = replace(LASER, keep_clear=(KeepClear("wall", (72.0, 0.0, 75.0, 50.0), 1),))
    told = list(
        move_regions(
            wall,
            Answers(lambda p: not p.keep_clear or p.keep_clear[0].box[3] <= 45.0),
            ('keep-clear region "wall"',),
        )
    )
    assert [r.text for r in told] == ['shorten keep-clear region "wall" by 5 mm at its upper end']


def test_the_first_exchange_that_helps_is_told():
    names = ("diode block - radiator",)
    told = list(change_order(LASER, Answers(lambda p: p.loop != LASER.loop), names))
    assert [r.text for r in told] == ["let the loop pass radiator before diode block (loop.order)"]
    # Nothing else is exchanged, and nothing where the channels concerned have no part in it.
    assert list(change_order(LASER, Answers(lambda p: True), ("drain",))) == []
    assert list(change_order(LASER, Answers(lambda p: False), names)) == []


def test_a_thin_body_is_told_with_the_second_face():
    thin = replace(LASER, make=replace(LASER.make, body=13.0))
    told = list(add_layer(thin, Answers(lambda p: p.channel.layers == 2 and p.make.body == 14.0)))
    # Two depths of 6 mm and a wall of 2 mm.
    assert [(r.text, r.works) for r in told] == [
        ("cut channels in both faces (channel.layers = 2), in a body of 14 mm (make.body, now 13 mm)", True)
    ]
    close = replace(LASER, pump=replace(LASER.pump, outlet_offset=(11.0, 0.0)))
    told = list(add_layer(close, Answers(lambda p: True)))
    # Two bores of 8 mm and a bonded land of 4 mm.
    assert [r.works for r in told] == [False]
    assert "bores stand 12 mm apart" in told[0].text


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


def test_one_groove_for_two_is_for_cords_that_do_not_share_yet():
    told = list(share_groove(WORKSHOP, Answers(lambda p: p.make.share_groove)))
    assert [(r.text, r.works) for r in told] == [
        ("let neighbours share a groove where two do not fit (make.share_groove = true)", True)
    ]
    assert list(share_groove(WORKSHOP, Answers(lambda p: False))) == []
    shared = replace(WORKSHOP, make=replace(WORKSHOP.make, share_groove=True))
    for panel in (LASER, shared):
        never = Answers(lambda p: True)
        assert list(share_groove(panel, never)) == []
        assert never.count == 0


def test_the_thickest_cord_that_helps():
    thick = replace(WORKSHOP, make=replace(WORKSHOP.make, cord=4.0))
    told = list(thin_cord(thick, Answers(lambda p: p.make.cord <= 2.62)))
    assert [(r.text, r.works) for r in told] == [("use a cord of 2.62 mm (make.cord, now 4 mm)", True)]
    assert list(thin_cord(thick, Answers(lambda p: False))) == []
    never = Answers(lambda p: True)
    assert list(thin_cord(LASER, never)) == []
    assert never.count == 0


def test_no_width_under_half_or_under_the_tool_is_tried():
    panel = read_panel(demo_path("workshop-render"))
    wide = replace(panel, channel=replace(panel.channel, width=14.0, own=()))
    tried = []

    class Never(Attempts):
        def attempt(self, panel):
            tried.append(panel.channel.width)

    assert list(narrow_channels(wide, Never(99), ("one",))) == []
    assert min(tried) == 7.0
    tried.clear()
    list(narrow_channels(replace(wide, make=replace(wide.make, cutter=9.0)), Never(99), ("one",)))
    assert min(tried) == 9.0
