"""How near channels may come where grooves may be shared: others by one groove, their own region by two."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from layouts.clearance import clearances_of
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.panels.catalogue import demo_path
from layouts.plan import Run
from layouts.verify import verify_routed
from tests.layouts.sample_routed import sample_panel, sample_routed

WORKSHOP = read_panel(demo_path("workshop-render"))
SHARED = replace(WORKSHOP, make=replace(WORKSHOP.make, share_groove=True))


@pytest.mark.published(source="geometry: lands of 2 mm, grooves of 2.8 mm for a 2 mm cord, a rib of 2 mm")
def test_one_groove_or_two_between_outlines():
    one, two = clearances_of(SHARED), clearances_of(WORKSHOP)
    assert one.channel_gap == pytest.approx(2 + 2.8 + 2)
    assert one.own_gap == two.own_gap == two.channel_gap == pytest.approx(2 + 2.8 + 2 + 2.8 + 2)
    assert replace(one, channel_gap=two.channel_gap) == two


def test_only_another_region_comes_nearer():
    ground = survey_panel(SHARED)
    own = {need.name: ground.channel_class(need) for need in ground.needs}
    assert len(set(own.values())) == len(own)
    tank = {"drain", "radiator lower - tank"}
    for one, two in combinations(own, 2):
        gap = ground.distances[own[one]][own[two]] - 8.0
        assert gap == pytest.approx(11.6 if {one, two} == tank else 6.8)
    for name, k in own.items():
        assert ground.distances[k][k] == pytest.approx(8.0 + 11.6)
        assert ground.tank_gaps[k] == pytest.approx(11.6 if name in tank else 6.8)
        assert ground.widths[k] == 8.0


def test_without_sharing_channels_of_one_width_are_one_class():
    ground = survey_panel(WORKSHOP)
    assert {ground.channel_class(need) for need in ground.needs} == {0}
    assert ground.tank_gaps == (pytest.approx(11.6),)


def test_the_routing_is_held_to_it():
    panel, routed = sample_panel(), sample_routed()
    shared = replace(panel, make=replace(panel.make, share_groove=True))
    assert verify_routed(shared, routed) == verify_routed(panel, routed) == ()
    # A run of the channel to the radiator moved down to 7.5 mm off the one from the pump, and to 6.5 mm.
    channel = routed.channel("blocks - radiator")
    drain = routed.channel("drain")
    pump = routed.channel("pump - blocks")

    def told(other, points) -> list[str]:
        moved = replace(other, runs=(*other.runs, Run(points)))
        changed = tuple(moved if c.name == other.name else c for c in routed.channels)
        return [
            line
            for line in verify_routed(shared, replace(routed, channels=changed))
            if line.startswith("channels ") and " between them, " in line
        ]

    (x, y), _ = pump.runs[0].points[:2]
    y = y + 8.0
    assert told(channel, ((x - 20.0, y + 7.5), (x - 30.0, y + 7.5))) == []
    (line,) = told(channel, ((x - 20.0, y + 6.5), (x - 30.0, y + 6.5)))
    assert "6.500 mm between them, 6.8 needed" in line
    # The drain is of the tank's region, as the channel from the radiator is.
    back = routed.channel("radiator - tank").runs[0].points
    low = min(point[1] for point in back) - 8.0
    (line,) = told(drain, ((back[-1][0] - 30.0, low - 7.5), (back[-1][0] - 35.0, low - 7.5)))
    assert line == 'channels "radiator - tank" and "drain": 8.842 mm between them, 11.6 needed'
