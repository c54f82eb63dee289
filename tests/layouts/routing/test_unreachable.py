"""Nets that cannot be routed alone: what is named, and what is proven."""

import numpy as np
from test_search import net, plain_instance

from layouts.routing.instance import Net, Terminal
from layouts.routing.reasons.unreachable import find_unreached

SIDE = 9


def labelled(walls, nets, rim=()):
    """Return an instance whose walls carry names."""
    blocked = [cell for cells in walls.values() for cell in cells]
    labels = np.full(SIDE * SIDE, -1, np.int64)
    for number, cells in enumerate(walls.values()):
        labels[list(cells)] = number
    return plain_instance(SIDE, SIDE, blocked, nets, labels=labels, label_names=tuple(walls))


def column(x, rows=range(SIDE)):
    return [y * SIDE + x for y in rows]


def test_a_wall_is_named_and_opens_the_way():
    found = find_unreached(labelled({"post": [8], "wall": column(4)}, [net("a", [0], [80])]), 0)
    assert (found.hindrance, found.names, found.opening) == ("walled off", ("wall", "post"), ("wall",))
    assert found.proven
    # The far side is the smaller one, by the post: it is cut off.
    assert found.end == 1
    assert set(found.border) == set(column(4))
    assert found.reached.sum() == 4 * SIDE - 1


def test_two_walls_in_a_row_open_nothing_alone():
    found = find_unreached(labelled({"left": column(3), "right": column(4)}, [net("a", [0], [80])]), 0)
    assert found.opening == ()
    assert found.names == ("left",)
    assert set(found.border) == set(column(3))


def test_two_halves_of_a_wall_open_it_each():
    walls = {"low": column(4, range(4)), "high": column(4, range(4, SIDE))}
    assert find_unreached(labelled(walls, [net("a", [0], [80])]), 0).opening == ("high", "low")


def test_the_panels_edge_never_is_what_could_be_taken_away():
    walls = {"the panel's edge": column(4, range(5)), "wall": column(4, range(5, SIDE))}
    assert find_unreached(labelled(walls, [net("a", [0], [80])]), 0).opening == ("wall",)


def test_another_nets_only_port_is_named():
    nets = [net("a", [0], [80]), net("b", [4 * SIDE + 4], [4 * SIDE + 8])]
    walls = {"low": column(4, range(4)), "high": column(4, range(5, SIDE))}
    found = find_unreached(labelled(walls, nets), 0)
    assert found.beside == (1,)
    assert found.opening_beside == (1,)
    assert set(found.opening) == {"low", "high"}
    assert set(column(4)) <= set(found.border)


def test_an_end_without_a_place_and_one_inside_a_wall():
    empty = Net("a", ((), (Terminal(cell=80, node=80),)))
    assert find_unreached(labelled({"wall": [8]}, [empty]), 0).hindrance == "no place"
    buried = find_unreached(labelled({"wall": [0, 1, 9]}, [net("a", [0], [80])]), 0)
    assert (buried.hindrance, buried.names, buried.end) == ("buried", ("wall",), 0)


def test_a_way_without_room_for_its_bend_is_proven_for_two_ends_only():
    def narrow(*ends):
        blocked = [c for c in range(SIDE * SIDE) if c // SIDE and c % SIDE != 8]
        return plain_instance(SIDE, SIDE, blocked, [net("a", *ends)], bend_cells=9, bend_radius_cells=2.0)

    found = find_unreached(narrow([0], [80]), 0)
    assert (found.hindrance, found.proven) == ("no bend", True)
    assert not find_unreached(narrow([0], [80], [4]), 0).proven
