"""Balance of parallel groups: what is said to even them does."""

from dataclasses import replace
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.advice import GroupBalance
from layouts.design_flow import bend_steps
from layouts.flow import size_flow
from layouts.flow_rules import check_uneven
from layouts.groups import BORE_STEP, EVEN_SPREAD, LEAST_BORE, balance_groups
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.read import parse_panel
from layouts.route import route_panel
from tests.layouts.sample_routed import L_MIN, sample_panel, sample_routed

FLAT = '["cold plate 1", "cold plate 2", "cold plate 3", "cold plate 4"]'
NESTED = '[[["cold plate 1", "cold plate 2"], "cold plate 3"], "cold plate 4"]'


def route(order: str) -> tuple[Panel, Routed]:
    text = (resources.files("layouts") / "panels" / "cell-tester.toml").read_text(encoding="utf-8")
    assert FLAT in text
    panel = parse_panel(text.replace(FLAT, order).encode(), "cells.toml")
    return panel, route_panel(panel, bend_steps(panel), 0)


@pytest.fixture(scope="module")
def flat() -> tuple[Panel, Routed]:
    return route(FLAT)


@pytest.fixture(scope="module")
def nested() -> tuple[Panel, Routed]:
    return route(NESTED)


def set_parts(panel: Panel, **new: dict[str, object]) -> Panel:
    """Return the panel with new values of parts, by name with underscores."""
    return replace(
        panel, parts=tuple(replace(part, **new.get(part.name.replace(" ", "_"), {})) for part in panel.parts)
    )


def balance(panel: Panel, routed: Routed) -> tuple[GroupBalance, ...]:
    return balance_groups(panel, routed, size_flow(panel, routed))


def fit_restrictors(panel: Panel, groups: tuple[GroupBalance, ...]) -> Panel:
    bores = {one.part: one.orifice_mm for group in groups for one in group.restrictors}
    return replace(panel, parts=tuple(replace(part, restrictor=bores.get(part.name)) for part in panel.parts))


def test_like_plates_need_nothing(flat):
    (group,) = balance(*flat)
    assert group.branches == tuple((f"cold plate {k}",) for k in (1, 2, 3, 4))
    assert group.spread < EVEN_SPREAD
    assert group.restrictors == ()
    assert group.even_flows_m3_s == group.flows_m3_s
    assert group.spread == pytest.approx(
        (max(group.flows_m3_s) - min(group.flows_m3_s)) / (sum(group.flows_m3_s) / 4)
    )


def test_restrictors_even_four_branches_as_promised(flat):
    panel, routed = flat
    stiff = tuple((flow, 2.5 * drop) for flow, drop in panel.parts[1].resistance)
    panel = set_parts(panel, cold_plate_2={"resistance": stiff})
    (group,) = balance(panel, routed)
    assert group.spread > 0.3
    assert {one.part for one in group.restrictors} == {f"cold plate {k}" for k in (1, 3, 4)}
    assert group.even_spread <= EVEN_SPREAD
    fitted = fit_restrictors(panel, (group,))
    flowing = size_flow(fitted, routed)
    assert flowing.flow_m3_s == pytest.approx(group.even_loop_flow_m3_s, rel=1e-6)
    flows = {part.part: part.flow_m3_s for part in flowing.parts}
    for (part,), flow in zip(group.branches, group.even_flows_m3_s, strict=True):
        assert flows[part] == pytest.approx(flow, rel=1e-6)
    # With them in the file the group is even, and nothing more is advised.
    (again,) = balance(fitted, routed)
    assert again.restrictors == ()
    assert again.spread == pytest.approx(group.even_spread, abs=1e-6)


def test_wrong_restrictors_of_the_file_are_replaced(flat):
    panel, routed = flat
    panel = set_parts(panel, cold_plate_1={"restrictor": 2.5})
    (group,) = balance(panel, routed)
    assert group.spread > 0.3
    assert group.even_spread <= EVEN_SPREAD
    (bare,) = balance(set_parts(panel, cold_plate_1={"restrictor": None}), routed)
    assert group.even_loop_flow_m3_s == pytest.approx(bare.even_loop_flow_m3_s, rel=0.01)


def test_nested_group_plans_and_is_evened_outside_in(nested):
    panel, routed = nested
    assert panel.loop[2] == ((("cold plate 1", "cold plate 2"), "cold plate 3"), "cold plate 4")
    soft = tuple((flow, 0.3 * drop) for flow, drop in panel.parts[0].resistance)
    panel = set_parts(panel, cold_plate_1={"resistance": soft})
    outer, inner = balance(panel, routed)
    assert outer.branches == (("cold plate 1", "cold plate 2", "cold plate 3"), ("cold plate 4",))
    assert inner.branches == (("cold plate 1",), ("cold plate 2",))
    assert outer.flows_m3_s[0] == pytest.approx(sum(inner.flows_m3_s))
    assert inner.spread > 0.3
    assert [one.part for one in inner.restrictors] == ["cold plate 1"]
    assert [one.part for one in outer.restrictors] == ["cold plate 4"]
    assert max(outer.even_spread, inner.even_spread) <= EVEN_SPREAD
    flows = size_flow(fit_restrictors(panel, (outer, inner)), routed).parts
    assert flows[0].flow_m3_s == pytest.approx(flows[3].flow_m3_s / 2, rel=0.05)


resistances = st.lists(st.floats(2.0, 4.7).map(lambda log: 10**log), min_size=2, max_size=2)


@settings(max_examples=25, deadline=None)
@given(resistances)
def test_random_groups_are_evened_or_nothing_is_advised(drops):
    panel = sample_panel()
    panel = set_parts(
        panel,
        **{
            name: {"resistance": ((4 * L_MIN, drop),)}
            for name, drop in zip(("block_a", "block_b"), drops, strict=True)
        },
    )
    (group,) = balance(panel, sample_routed())
    assert sum(group.flows_m3_s) >= sum(group.even_flows_m3_s) - 1e-9 * L_MIN or group.spread <= EVEN_SPREAD
    for one in group.restrictors:
        assert group.even_spread <= EVEN_SPREAD < group.spread
        assert LEAST_BORE <= one.orifice_mm < 8.8
        assert one.orifice_mm / BORE_STEP == pytest.approx(round(one.orifice_mm / BORE_STEP))
        # The branch with too much flow is the one that is throttled.
        assert group.flows_m3_s[group.branches.index((one.part,))] == max(group.flows_m3_s)
    if not group.restrictors:
        assert group.even_flows_m3_s == group.flows_m3_s


def test_loop_without_groups_has_no_balance():
    panel = replace(sample_panel(), loop=("tank", "pump", "block a", "block b", "radiator", "tank"))
    assert balance_groups(panel, sample_routed(), size_flow(sample_panel(), sample_routed())) == ()


def test_narrow_leg_where_it_can_do_the_same(flat):
    panel, routed = flat
    stiff = tuple((flow, 1.1 * drop) for flow, drop in panel.parts[1].resistance)
    panel = set_parts(panel, cold_plate_2={"resistance": stiff})
    panel = replace(panel, make=replace(panel.make, cutter=2.0))
    (group,) = balance(panel, routed)
    widths = [one.channel_mm for one in group.restrictors]
    assert all(width is not None and 2.0 <= width < panel.channel.width for width in widths)


def test_remedy_names_the_restrictor(flat):
    panel, routed = flat
    stiff = tuple((flow, 2.5 * drop) for flow, drop in panel.parts[1].resistance)
    groups = balance(set_parts(panel, cold_plate_2={"resistance": stiff}), routed)
    (finding,) = check_uneven(groups)
    first = groups[0].restrictors[0]
    assert f'restrictor = "{first.orifice_mm:g} mm" for "{first.part}"' in finding.remedy
    assert '"cold plate 2" gets' in finding.text
