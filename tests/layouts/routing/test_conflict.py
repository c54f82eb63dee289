"""The smallest conflicting set and the ladder of reasons."""

import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from oracle import least_cost
from test_search import net, plain_instance

from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.bound.prove import is_impossible
from layouts.routing.effort import NORMAL
from layouts.routing.instance import read_instance
from layouts.routing.reasons import conflict, ladder
from layouts.routing.reasons.conflict import find_conflict
from layouts.routing.reasons.ladder import find_reason
from layouts.routing.reasons.reason import Reason
from layouts.routing.solve import solve_instance

INSTANCES = Path(__file__).parent / "instances"


def crossing(side=9):
    """Return two nets whose ends alternate round the rim, and a third that is in nobody's way."""
    last, half = side - 1, side // 2
    return plain_instance(
        side,
        side,
        [],
        [
            net("across", [half * side], [half * side + last]),
            net("beside", [side + 1], [side + 3]),
            net("up", [half], [last * side + half]),
        ],
    )


@pytest.mark.parametrize("path", sorted(INSTANCES.glob("*impossible*.json")), ids=lambda path: path.stem)
def test_the_two_channels_at_odds_are_named(path):
    wanted = json.loads(path.read_bytes())["conflicting"]
    solution = solve_instance(read_instance(path))
    assert solution.reason is not None
    assert solution.reason.kind == "conflict"
    assert sorted(solution.reason.channels) == sorted(wanted)
    assert solution.reason.proven
    assert solution.bound == np.inf
    assert solution.traces == ()


def test_a_crossing_pair_is_found_among_three():
    assert find_conflict(crossing(), ("beside",), NORMAL) == (0, 2)
    reason = solve_instance(crossing()).reason
    assert reason is not None
    assert (reason.kind, reason.channels) == ("conflict", ("across", "up"))


def test_what_can_be_routed_is_not_even_asked(monkeypatch):
    def never(*arguments):
        raise AssertionError("asked")

    monkeypatch.setattr(conflict, "is_impossible", never)
    nets = [net(str(k), [9 * k], [9 * k + 8]) for k in range(3)]
    with pytest.raises(AssertionError, match="asked"):
        find_conflict(plain_instance(9, 9, [], nets), (), NORMAL)
    monkeypatch.setattr(conflict, "is_impossible", lambda instance, nets, effort: len(nets) > 2)
    assert find_conflict(plain_instance(9, 9, [], nets), (), NORMAL) == (0, 1, 2)


def test_of_a_larger_set_only_what_is_needed_is_named(monkeypatch):
    # As if {0, 2, 3} could not be routed together, but every two of them could.
    core = {0, 2, 3}
    monkeypatch.setattr(conflict, "is_impossible", lambda instance, nets, effort: core <= set(nets))
    nets = [net(str(k), [9 * k], [9 * k + 8]) for k in range(5)]
    assert find_conflict(plain_instance(9, 9, [], nets), ("1", "4"), NORMAL) == (0, 2, 3)


@pytest.mark.published(
    source="ortools, CP-SAT model of the whole problem: the named nets alone have no routing"
)
def test_named_nets_alone_have_no_routing_and_fewer_of_them_have():
    rng = np.random.default_rng(3)
    named = 0
    for _ in range(50):
        side = 6
        cells = [int(c) for c in rng.permutation(side * side)]
        blocked = cells[6 : 6 + int(rng.integers(0, 8))]
        nets = [net(str(k), [cells[2 * k]], [cells[2 * k + 1]]) for k in range(3)]
        instance = plain_instance(side, side, blocked, nets)
        routing = route_instance(instance, 0, 0, 2)
        if routing.traces or routing.unreachable:
            continue
        reason = find_reason(instance, routing, NORMAL)
        if reason.kind not in ("narrow", "conflict"):
            continue
        named += 1
        picked = [one for one in nets if one.name in reason.channels]
        assert len(picked) == len(reason.channels) > 1
        assert least_cost(plain_instance(side, side, blocked, picked), 1) is None
        for fewer in combinations(picked, len(picked) - 1):
            assert least_cost(plain_instance(side, side, blocked, fewer), 1) is not None or len(picked) > 2
    assert named >= 5


class TestLadder:
    """Each rung where it belongs, the plainest first."""

    def reason(self, instance) -> Reason:
        routing = route_instance(instance, 0, 0, 1)
        assert routing.conflicting
        return find_reason(instance, routing, NORMAL)

    def test_unreachable_with_its_border(self):
        # The wall, and the only ports of the other net.
        wall = [4 + 9 * y for y in range(9)]
        reason = self.reason(plain_instance(9, 9, wall, [net("a", [0], [8]), net("b", [9], [10])]))
        assert (reason.kind, reason.channels, reason.proven) == ("unreachable", ("a",), True)
        assert set(reason.cells) == {*wall, 9, 10}

    def test_narrow_with_its_cells(self):
        wall = [4 + 9 * y for y in range(9) if y != 4]
        nets = [net("a", [0], [8]), net("b", [72], [80])]
        reason = self.reason(plain_instance(9, 9, wall, nets))
        assert (reason.kind, reason.channels) == ("narrow", ("a", "b"))
        assert (reason.must_pass, reason.fit, reason.lacking_cells) == (2, 1, 1)
        assert [cell // 9 for cell in reason.cells] == [4]

    def test_conflict(self):
        assert self.reason(crossing()).kind == "conflict"

    def test_not_found_is_never_called_proven(self, monkeypatch):
        monkeypatch.setattr(ladder, "find_conflict", lambda instance, likely, effort: ())
        reason = self.reason(crossing())
        assert (reason.kind, reason.proven) == ("not found", False)
        assert reason.rounds > 0
        assert set(reason.channels) <= {"across", "up", "beside"}

    def test_an_uncertain_reason_is_not_proven(self):
        assert not Reason("unreachable", ("a",), certain=False).proven
        assert Reason("unreachable", ("a",)).proven


def test_trees_alone_are_not_called_impossible():
    trees = [net("upper", [0], [8], [22]), net("lower", [54], [62], [76])]
    assert not is_impossible(plain_instance(9, 9, [], trees), (0, 1), NORMAL)
