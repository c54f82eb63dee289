"""What channels of many ends cost at least, against the search over all trees on the terrain of a placement."""

from __future__ import annotations

from collections import Counter
from itertools import islice

import pytest

from layouts.cost_field import CostField
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.panels.catalogue import demo_path
from layouts.place import list_pumps
from layouts.place_bounds import find_placements
from layouts.routing.all_channels.negotiate import Negotiation
from layouts.routing.trees.tree_bound import bound_tree
from layouts.terrain import lay_terrain


@pytest.mark.parametrize("name", ["workshop-render", "cell-tester"])
def test_the_field_asks_no_more_of_trees_than_the_search_over_all_trees(name):
    panel = read_panel(demo_path(name))
    ground = survey_panel(panel)
    field = CostField(ground)
    for placement in islice(find_placements(ground, field), 0, 12, 6):
        instance = lay_terrain(ground, placement).instance
        search = Negotiation(instance)
        least = sum(
            bound_tree(instance, net, search.fixed[n]).cost
            for n, net in enumerate(instance.nets)
            if len(net.ends) > 2
        )
        assert placement.trees <= least + 1e-6
        # A T that let its legs turn at will would ask for less than this.
        assert placement.trees >= 0.86 * least


def test_places_of_one_turn_are_those_of_all_with_that_turn():
    ground = survey_panel(read_panel(demo_path("workshop-render")))
    field = CostField(ground)
    all_turns = list(islice(find_placements(ground, field), 40))
    turn = all_turns[0].turn_deg
    pumps = [place for place in list_pumps(ground, Counter()) if place.turn_deg == turn]
    same = [placement for placement in all_turns if placement.turn_deg == turn]
    assert list(islice(find_placements(ground, field, pumps), len(same))) == same
    assert list(find_placements(ground, field, [])) == []
