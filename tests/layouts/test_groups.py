"""Balance of parallel groups: what is said to even them does."""

import re
from dataclasses import replace
from importlib import resources

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.advice import GroupBalance
from layouts.file.read import parse_panel
from layouts.flow import size_flow
from layouts.groups import BORE_STEP, EVEN_SPREAD, LEAST_BORE, balance_groups
from layouts.hydraulics.balance import settle_flows
from layouts.hydraulics.network import prepare_network
from layouts.hydraulics.orifice import ORIFICE_BAND
from layouts.hydraulics.segments import Orifice
from layouts.loop_network import build_network, find_coolant, name_part_edge
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.route import route_panel
from layouts.rules.flow_rules import check_uneven
from tests.layouts.sample_routed import L_MIN, sample_panel, sample_routed

FLAT = '["cold plate 1", "cold plate 2", "cold plate 3", "cold plate 4"]'
NESTED = '[[["cold plate 1", "cold plate 2"], "cold plate 3"], "cold plate 4"]'


def route(order: str) -> tuple[Panel, Routed]:
    text = (resources.files("layouts") / "panels" / "cell-tester.toml").read_text(encoding="utf-8")
    assert FLAT in text
    panel = parse_panel(text.replace(FLAT, order).encode(), "cells.toml")
    # The demo's third plate has finer passages; here the four are alike.
    panel = set_parts(panel, cold_plate_3={"resistance": panel.parts[0].resistance})
    return panel, route_panel(panel)


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


def stiffen(panel: Panel, factor: float) -> Panel:
    """Return the panel with cold plate 2 at so many times its resistance."""
    stiff = tuple((flow, factor * drop) for flow, drop in panel.parts[1].resistance)
    return set_parts(panel, cold_plate_2={"resistance": stiff})


def test_like_plates_need_nothing(flat):
    # At four times the resistance the plates rule the split, wherever the router lets their branches off.
    panel, routed = flat
    stiff = {
        f"cold_plate_{k}": {"resistance": tuple((q, 4 * dp) for q, dp in panel.parts[0].resistance)}
        for k in (1, 2, 3, 4)
    }
    (group,) = balance(set_parts(panel, **stiff), routed)
    assert group.branches == tuple((f"cold plate {k}",) for k in (1, 2, 3, 4))
    assert group.spread < EVEN_SPREAD
    assert group.restrictors == ()
    assert group.even_flows_m3_s == group.flows_m3_s
    assert group.even_spread_most == group.even_spread == group.spread
    assert group.spread == pytest.approx(
        (max(group.flows_m3_s) - min(group.flows_m3_s)) / (sum(group.flows_m3_s) / 4)
    )


def test_restrictors_even_four_branches_as_promised(flat):
    panel, routed = flat
    panel = stiffen(panel, 2.5)
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
    assert group.even_spread_most > group.even_spread
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
    panel = stiffen(panel, 1.1)
    panel = replace(panel, make=replace(panel.make, cutter=2.0))
    (group,) = balance(panel, routed)
    widths = [one.channel_mm for one in group.restrictors]
    assert all(width is not None and 2.0 <= width < panel.channel.width for width in widths)


def test_remedy_names_the_restrictor(flat):
    panel, routed = flat
    groups = balance(stiffen(panel, 2.5), routed)
    panel = replace(panel, wanted_flow_m3_s=6.0 * L_MIN)
    (finding,) = check_uneven(panel, size_flow(stiffen(panel, 2.5), routed), groups)
    first = groups[0].restrictors[0]
    assert f'restrictor = "{first.orifice_mm:g} mm" for "{first.part}"' in finding.remedy
    assert finding.remedy.startswith("Write ")
    (group,) = groups
    before, after = (f"{flow / L_MIN:.1f}" for flow in (sum(group.flows_m3_s), group.even_loop_flow_m3_s))
    assert re.search(rf"within \d+ % and takes the loop from {before} to {after} L/min", finding.remedy)
    assert float(after) < float(before)
    assert '"cold plate 2" gets' in finding.text


def test_remedy_names_all_restrictors_that_its_numbers_need(nested):
    """Written as it stands, the remedy gives the flow that it tells; with the group's own alone it does not."""
    panel, routed = nested
    soft = tuple((flow, 0.3 * drop) for flow, drop in panel.parts[0].resistance)
    panel = set_parts(panel, cold_plate_1={"resistance": soft})
    outer, inner = groups = balance(panel, routed)
    panel = replace(panel, wanted_flow_m3_s=None)
    (finding,) = check_uneven(panel, size_flow(panel, routed), groups)
    assert finding.features == ("cold plate 1", "cold plate 2")
    named = re.findall(r'restrictor = "([\d.]+) mm" for "([^"]+)"', finding.remedy)
    assert [part for _, part in named] == [one.part for group in (inner, outer) for one in group.restrictors]
    told = re.search(r"evens them to ([\d.]+) L/min", finding.remedy)
    assert told is not None

    def reach(written: list[tuple[str, str]]) -> float:
        bores = {part.replace(" ", "_"): {"restrictor": float(bore)} for bore, part in written}
        parts = size_flow(set_parts(panel, **bores), routed).parts
        return max(part.flow_m3_s for part in parts if part.part in finding.features) / L_MIN

    promised = max(inner.even_flows_m3_s) / L_MIN
    assert f"{promised:.2g}" == told[1]
    assert reach(named) == pytest.approx(promised, rel=1e-6)
    assert reach(named[:1]) != pytest.approx(promised, rel=0.01)


def test_remedy_shows_bores_and_flows_to_the_digit_that_tells_them_apart(flat):
    panel, routed = flat
    (group,), flowing = balance(stiffen(panel, 2.5), routed), size_flow(panel, routed)
    group = replace(
        group,
        restrictors=(replace(group.restrictors[0], orifice_mm=10.4),),
        even_loop_flow_m3_s=0.995 * flowing.flow_m3_s,
    )
    for wanted in (None, 20 * L_MIN):
        (finding,) = check_uneven(replace(panel, wanted_flow_m3_s=wanted), flowing, (group,))
        assert 'restrictor = "10.4 mm"' in finding.remedy
        now, then = re.search(r"the loop from ([\d.]+) to ([\d.]+) L/min", finding.remedy).groups()
        assert float(now) > float(then)


def test_restrictors_that_starve_the_loop_come_last(flat):
    panel, routed = flat
    panel = stiffen(panel, 10.0)
    groups, flowing = balance(panel, routed), size_flow(panel, routed)
    assert groups[0].even_loop_flow_m3_s < 6.0 * L_MIN < flowing.flow_m3_s
    (finding,) = check_uneven(replace(panel, wanted_flow_m3_s=6.0 * L_MIN), flowing, groups)
    assert finding.remedy.startswith('First give "cold plate 2" a wider leg or a part of less resistance')
    assert "under the wanted 6 L/min" in finding.remedy
    (finding,) = check_uneven(replace(panel, wanted_flow_m3_s=None), flowing, groups)
    assert finding.remedy.startswith("Write restrictor")


@pytest.mark.published(
    source="Idelchik, Handbook of Hydraulic Resistance, 3rd edition, 1994, diagram 4-14, against the permanent "
    "loss of ISO 5167-2 and diagram 4-15: the orifice's loss lies 30 % high or low (recalled, not verified)"
)
def test_spread_is_told_for_the_orifices_band(flat):
    panel, routed = flat
    panel = stiffen(panel, 2.5)
    (group,) = balance(panel, routed)
    network, coolant = build_network(fit_restrictors(panel, (group,)), routed), find_coolant(panel)
    spreads = []
    for factor in (1.0, 1.0 - ORIFICE_BAND, 1.0 + ORIFICE_BAND):
        # The loss itself is scaled here, not the bore.
        ready = prepare_network(network, coolant).model
        edges = [e.name for e in network.edges if any(isinstance(s, Orifice) for s in e.elements)]
        numbers = [k for k, e in enumerate(network.edges) if e.name in edges]
        f, k = ready.stack.ends[:2]
        orifices = np.isin(ready.stack.place, numbers) & (np.arange(len(ready.scales)) >= f)
        orifices &= np.arange(len(ready.scales)) < k
        model = replace(ready, scales=np.where(orifices, factor, 1.0))
        flows = settle_flows(model, 1e-4)[0]
        taken = [
            flows[[e.name for e in network.edges].index(name_part_edge(parts[0]))] for parts in group.branches
        ]
        spreads.append((max(taken) - min(taken)) / (sum(taken) / len(taken)))
    assert spreads[0] == pytest.approx(group.even_spread, abs=1e-6)
    assert max(spreads) == pytest.approx(group.even_spread_most, abs=1e-6)
    assert group.even_spread < EVEN_SPREAD < min(spreads[1:])
