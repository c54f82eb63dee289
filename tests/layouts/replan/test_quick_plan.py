"""The quick plan: the findings of the whole plan's rules as far as they are known, from the same values."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest

from layouts.advise import advise_plan
from layouts.flow import size_flow
from layouts.panels.catalogue import demo_names
from layouts.replan.quick_plan import quick_plan
from layouts.replan.warm_up import warm_up
from layouts.rules.check_plan import check_routed
from layouts.verify import verify_routed
from tests.layouts.replan.sample_edits import MAIN, TWO_FACES, draw_moves, edit_demo, lay_demo, move


@pytest.mark.parametrize("name", [MAIN, TWO_FACES])
def test_it_is_what_the_whole_plan_says_of_the_same_routing(name: str) -> None:
    panel, laid = lay_demo(name)
    plan = quick_plan(panel, laid)
    assert plan.flowing == size_flow(panel, plan.routed)
    advised = advise_plan(panel, plan.routed, plan.flowing)
    assert plan.advised.pumping == advised.pumping
    assert plan.advised.heating == advised.heating
    assert plan.advised.feeding == advised.feeding
    assert plan.advised.groups == advised.groups
    whole = [(one.code, one.value) for one in check_routed(panel, plan.routed, plan.flowing, advised)]
    quick = [(one.code, one.value) for one in plan.findings if one.code not in ("port.seat", "thread.depth")]
    assert [one for one in whole if one[0] != "channel.narrow"] == quick


def test_accepted_findings_are_notes() -> None:
    panel = edit_demo(
        MAIN, {"changes": [{"path": ["rules", "accept"], "value": {"thread.depth": "short fittings"}}]}
    )
    found = {one.code: one for one in quick_plan(panel, lay_demo(MAIN)[1]).findings}
    assert found["thread.depth"].severity == "note"
    plain = {one.code: one for one in quick_plan(*lay_demo(MAIN)).findings}
    assert plain["thread.depth"].severity == "caution"


def test_from_nothing_it_is_a_short_search() -> None:
    panel, laid = lay_demo(TWO_FACES)
    plan = quick_plan(panel, None)
    assert plan.routed.cost == laid.routed.cost
    assert plan.laid.names == laid.names


def test_channels_are_widened_as_in_the_plan() -> None:
    wide = edit_demo(MAIN, {"changes": [{"path": ["channel", "widen_to"], "value": "10 mm"}]})
    plan = quick_plan(wide, lay_demo(MAIN)[1])
    assert max(channel.width for channel in plan.routed.channels) == 10.0
    assert max(channel.width for channel in plan.laid.routed.channels[1:]) == 8.0
    assert verify_routed(wide, plan.routed) == ()


def test_one_plan_follows_from_another_and_can_be_sent() -> None:
    plan = quick_plan(*lay_demo(MAIN))
    for port, to in draw_moves(MAIN, 3, 5.0, seed=11):
        plan = quick_plan(edit_demo(MAIN, move(f"port:{port.name}", to)), plan.laid)
        sent = pickle.loads(pickle.dumps(plan))
        assert sent.routed == plan.routed
        assert sent.findings == plan.findings


def test_warming_up_changes_nothing() -> None:
    before = quick_plan(*lay_demo(MAIN)).routed
    warm_up()
    assert quick_plan(*lay_demo(MAIN)).routed == before


def test_totals_that_count_service_ports_are_left_to_the_whole_plan() -> None:
    panel, laid = lay_demo(MAIN)
    codes = {finding.code for finding in quick_plan(panel, laid).findings}
    assert codes.isdisjoint({"fill.volume", "drain.low"})


@pytest.mark.parametrize("name", demo_names())
@pytest.mark.parametrize("wanted", [1.0, 3.0])
def test_without_ratings_all_is_found_but_the_better_pump(name: str, wanted: float) -> None:
    panel, laid = lay_demo(name)
    if panel.wanted_flow_m3_s is not None:
        panel = replace(panel, wanted_flow_m3_s=wanted * panel.wanted_flow_m3_s)
    rated, unrated = (quick_plan(panel, laid, rates).findings for rates in (True, False))
    assert unrated == tuple(one for one in rated if one.code != "pump.choice" or one in unrated)
