"""Proofs by cases: trees, and ports that have a choice."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from test_search import net, plain_instance

from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.prove import is_impossible
from layouts.routing.effort import NORMAL, QUICK
from layouts.routing.reasons.cases import Cases

SIDE = 9
HALF = SIDE // 2


SHUT = tuple(row * SIDE + SIDE - 1 for row in (3, 4, 5))
"""Blocked: no channel passes between a port before it and the edge."""


def crossing(*ends, blocked=()):
    """Return an instance with a net from top to bottom through the middle, and another with these ends."""
    up = net("up", [HALF], [(SIDE - 1) * SIDE + HALF])
    return plain_instance(SIDE, SIDE, list(blocked), [up, net("other", *ends)])


def test_a_tree_with_ends_on_both_sides_cannot_pass():
    instance = crossing([4 * SIDE], [2 * SIDE], [4 * SIDE + SIDE - 1])
    assert not is_impossible(instance, (0, 1), NORMAL)
    assert Cases(instance, NORMAL).rule_out((0, 1))


def test_a_tree_on_one_side_is_not_ruled_out():
    instance = crossing([4 * SIDE], [2 * SIDE], [6 * SIDE])
    assert not Cases(instance, NORMAL).rule_out((0, 1))


def inner(*columns):
    return [row * SIDE + column for row in (3, 4, 5) for column in columns]


def test_a_port_inside_is_put_in_each_of_its_places():
    # All its places lie beyond the net in the middle, which cannot go round behind them.
    cases = Cases(crossing([4 * SIDE], inner(7), blocked=SHUT), NORMAL)
    assert cases.rule_out((0, 1))
    assert cases.left == NORMAL.trials - 3


def test_one_place_that_fits_is_enough():
    assert not Cases(crossing([4 * SIDE], inner(1, 7), blocked=SHUT), NORMAL).rule_out((0, 1))
    # Behind these places there is room for the other net.
    assert not Cases(crossing([4 * SIDE], inner(6)), NORMAL).rule_out((0, 1))


def test_too_many_cases_prove_nothing():
    instance = crossing([4 * SIDE], inner(7), blocked=SHUT)
    assert not Cases(instance, replace(QUICK, trials=2)).rule_out((0, 1))


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_what_can_be_routed_is_never_ruled_out(data):
    cells = data.draw(st.lists(st.integers(0, 35), min_size=5, max_size=7, unique=True))
    blocked = data.draw(st.sets(st.integers(0, 35).filter(lambda c: c not in cells), max_size=8))
    instance = plain_instance(
        6, 6, blocked, [net("tree", *[[c] for c in cells[:3]]), net("way", [cells[3]], cells[4:])]
    )
    if route_instance(instance, 0, 0, 2).traces:
        assert not Cases(instance, NORMAL).rule_out((0, 1))
