"""Planted failures on panels: each rung of the ladder, with names, numbers and remedies that hold."""

from dataclasses import replace
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import LayoutError
from geom.standards import tables
from layouts.clearance import clearances_of
from layouts.explain import explain_failure, find_port_middle
from layouts.failure import LayoutFailure
from layouts.file.read import parse_panel, read_panel
from layouts.ground import survey_panel
from layouts.panel import KeepClear
from layouts.panels.catalogue import demo_path
from layouts.panels.start import write_start
from layouts.panels.start_form import StartForm, StartPart
from layouts.place_bounds import find_placements
from layouts.remedies import Trials
from layouts.route import lay_out
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import QUICK, THOROUGH
from layouts.routing.reasons.narrow import find_narrow
from layouts.routing.reasons.reason import Reason
from layouts.terrain import lay_terrain

LASER = read_panel(demo_path("laser-driver"))
WALL_X = (72.0, 75.0)


def keep_clear(panel, **boxes):
    """Return a panel with these keep-clear regions, "_" in their names a blank."""
    regions = tuple(KeepClear(name.replace("_", " "), box, 1) for name, box in boxes.items())
    return replace(panel, keep_clear=regions)


def walls(panel, low, high, xs=WALL_X):
    """Return a panel with a wall from edge to edge that leaves one gap."""
    return keep_clear(
        panel, lower_wall=(xs[0], 0.0, xs[1], low), upper_wall=(xs[0], high, xs[1], panel.height)
    )


def on_edge(port, on, at):
    return replace(port, on=on, at=None, within=None, between=(at, at))


def edge_ports(panel):
    """Return a panel on which one channel must run from edge to edge under the pump, and the drain across it."""
    block, radiator = panel.parts
    block = replace(block, outlet=on_edge(block.outlet, "left", 30.0))
    return replace(panel, parts=(block, replace(radiator, inlet=on_edge(radiator.inlet, "right", 30.0))))


def lay_on(placement):
    return lambda panel: lay_terrain(survey_panel(panel), placement)


def fail(panel, kind, remedies=True, most=60) -> LayoutFailure:
    """Return the failure of the first placement that fails for a kind of reason."""
    for placement in islice(find_placements(survey_panel(panel)), most):
        terrain = lay_on(placement)(panel)
        routing = route_instance(terrain.instance, 0, 0, 1)
        if not routing.conflicting or (kind == "unreachable") != bool(routing.unreachable):
            continue
        failure = explain_failure(panel, terrain, routing, lay_on(placement) if remedies else None)
        if failure.kind == kind:
            return failure
    raise AssertionError(f"no placement of {most} fails as {kind}")


def test_a_tank_wall_without_room_for_the_way_back():
    # The fill bore takes the tank's right wall, a clamp stands before the left one.
    panel = read_panel(demo_path("observatory-camera"))
    fill = replace(panel.tank.fill, on="right")
    failure = fail(replace(panel, tank=replace(panel.tank, fill=fill)), "unreachable", remedies=False)
    assert '"tank return" has no place left where a channel has room; the nearest to it is' in failure.text
    assert "the drop" not in failure.text


def test_a_port_under_a_clamp_names_both():
    x, y = LASER.parts[0].inlet.at
    failure = fail(keep_clear(LASER, clamp=(x - 3, y - 3, x + 3, y + 3)), "unreachable")
    assert failure.channels == ("pump - diode block",)
    assert '"diode block inlet" has no place left' in failure.text
    assert 'keep-clear region "clamp", over it' in failure.text
    assert failure.proven
    assert failure.at == (x, y)
    assert failure.remedies[0].works
    assert 'keep-clear region "clamp"' in failure.remedies[0].text


def test_a_port_of_a_branching_channel_under_a_clamp_is_told_before_what_other_places_would_mend():
    """Everywhere it has no place; what else has none stands too near the tank, as that stands there."""
    parts = (
        StartPart("tube", "cooled", 280),
        StartPart("driver", "cooled", 60, True),
        StartPart("radiator", "radiator", 15),
    )
    text = write_start(StartForm("engraver", 260, 180, "cord", 2, parts))
    panel = parse_panel(text.encode(), "panel.toml")
    box = panel.parts[0].inlet.within
    assert box is not None
    clamp = (box[0], box[1] - 9, box[0] + 20, box[3] + 9)
    with pytest.raises(LayoutError) as caught:
        lay_out(keep_clear(panel, clamp=clamp), 0, QUICK)
    assert '"tube inlet" has no place left' in str(caught.value)
    assert 'keep-clear region "clamp", over it' in str(caught.value)


def test_a_fence_across_the_panel_is_all_that_is_named():
    failure = fail(keep_clear(LASER, cable_duct=(79.0, 0.0, 82.0, 120.0)), "unreachable")
    assert 'keep-clear region "cable duct" stands between them.' in failure.text
    assert "the panel's edge" not in failure.text
    assert failure.cells


@pytest.mark.published(
    source="geometry of the test's own: two widths and three bonded lands of 4 mm; no source"
)
@pytest.mark.parametrize(
    ("low", "high", "lacking"), [(50.0, 72.0, 2.0), (50.0, 68.0, 6.0), (45.0, 66.5, 2.5)]
)
def test_a_gap_one_channel_too_narrow_tells_what_it_lacks(low, high, lacking):
    failure = fail(walls(LASER, low, high), "narrow", remedies=False)
    gap = failure.gap
    assert gap is not None
    # Channels of 6 mm; the land of 4 mm stands beside each and between them.
    assert gap.needed == pytest.approx(2 * 6.0 + 3 * 4.0, abs=1e-9)
    assert gap.width == pytest.approx(high - low, abs=1e-6)
    assert gap.lacking == pytest.approx(lacking, abs=0.1)
    assert (gap.must_pass, gap.fit) == (2, 1)
    assert set(gap.between) == {'keep-clear region "lower wall"', 'keep-clear region "upper wall"'}
    assert failure.channels == ("pump - diode block", "radiator - tank")
    assert f"{lacking:.1f} mm are lacking" in failure.text
    assert failure.proven
    assert WALL_X[0] <= failure.at[0] <= WALL_X[1]
    assert low < failure.at[1] < high


@pytest.mark.published(source="cord table of geom/standards; geometry of the test's own")
def test_with_cords_grooves_count_too():
    panel = read_panel(demo_path("workshop-render"))
    failure = fail(walls(panel, 60.0, 90.0, (262.0, 265.0)), "narrow", remedies=False)
    groove = tables.cord(panel.make.cord).groove_width
    # From wall to wall: wall, groove, land, channel, land, groove, rib, groove, land, channel, land, groove.
    needed = 2 * panel.channel.width + 4 * groove + 5 * panel.rules.least_wall
    assert failure.gap is not None
    assert failure.gap.needed == pytest.approx(needed, abs=1e-6)
    assert failure.gap.lacking == pytest.approx(needed - 30.0, abs=0.1)


@pytest.mark.published(
    source="geometry of the test's own: widths of 6 and 8 mm, bonded lands of 4 mm; no source"
)
def test_a_channel_of_its_own_width_needs_its_own_room():
    own = replace(LASER, channel=replace(LASER.channel, own=(("pump - diode block", 8.0),)))
    failure = fail(walls(own, 48.0, 72.0), "narrow", remedies=False)
    assert failure.channels == ("pump - diode block", "radiator - tank")
    assert failure.gap is not None
    assert failure.gap.needed == pytest.approx(6.0 + 8.0 + 3 * 4.0, abs=1e-9)
    assert failure.gap.lacking == pytest.approx(2.0, abs=0.1)


def test_what_keeps_a_wider_channel_off_is_named_too():
    own = replace(LASER, channel=replace(LASER.channel, own=(("pump - diode block", 8.0),)))
    # Wide enough for a channel of 6 mm with two lands of 4 mm, not for one of 8 mm.
    failure = fail(walls(own, 52.5, 67.5), "unreachable", remedies=False)
    assert failure.channels == ("pump - diode block",)
    assert '"lower wall"' in failure.text
    assert '"upper wall"' in failure.text
    assert "any one of these" in failure.text


def test_a_gap_that_is_wide_enough_but_for_the_grid_says_so():
    failure = fail(walls(LASER, 50.0, 76.0), "narrow", remedies=False)
    assert failure.gap is not None
    assert failure.gap.lacking == 0.0
    assert "but not on a grid of 5 mm" in failure.text
    assert any("finer pitch" in remedy.text for remedy in failure.remedies)


def test_a_remedy_that_works_is_the_least_that_does():
    panel = walls(LASER, 50.0, 72.0)
    failure = fail(panel, "narrow")
    moves = [remedy.text for remedy in failure.remedies if remedy.works and '"lower wall"' in remedy.text]
    assert len(moves) == 1
    by = float(moves[0].split('" by ')[1].split(" mm")[0])
    assert moves[0].endswith(" mm at its upper end")
    trials = Trials(lay_on(failure.placement), 50)
    assert trials.route(walls(LASER, 50.0 - by, 72.0)) is not None
    assert trials.route(walls(LASER, 50.0 - by + 1.0, 72.0)) is None
    # What was tried stands before what only may help.
    works = [remedy.works for remedy in failure.remedies]
    assert works == sorted(works, reverse=True)


def test_two_channels_that_must_cross_are_named():
    failure = fail(edge_ports(LASER), "conflict")
    assert failure.channels == ("diode block - radiator", "drain")
    assert failure.proven
    assert "it is proven that they must cross" in failure.text
    assert [link.channel for link in failure.links] == list(failure.channels)
    assert failure.links[0].ends[0][1] == failure.links[0].ends[1][1] == 30.0
    # Another order was tried and does not help; untried it may.
    assert not any("order" in remedy.text for remedy in failure.remedies)
    untried = fail(edge_ports(LASER), "conflict", remedies=False)
    assert any("order of the parts" in remedy.text for remedy in untried.remedies)


def test_what_is_only_not_found_says_so_and_how_long_was_looked():
    panel = edge_ports(LASER)
    ground = survey_panel(panel)
    placement = next(iter(find_placements(ground)))
    reason = Reason("not found", ("diode block - radiator", "drain"), rounds=210)
    failure = explain_failure(panel, lay_terrain(ground, placement), reason, tried=7, places=9)
    assert not failure.proven
    assert not failure.proven_everywhere
    assert "in 210 rounds" in failure.text
    assert "not proven" in failure.text
    assert not any(remedy.works for remedy in failure.remedies)
    assert "no layout was found. At the place looked at closest" in str(failure)
    assert "7 of 9 places of pump and tank were looked at; none of them was proven impossible" in str(failure)
    longer = [remedy for remedy in failure.remedies if "--effort thorough" in remedy.text]
    assert len(longer) == 1
    most = explain_failure(panel, lay_terrain(ground, placement), reason, effort=THOROUGH)
    assert not any("--effort" in remedy.text for remedy in most.remedies)


@pytest.mark.parametrize(("counted", "impossible", "said"), [(True, 3, 3), (False, 3, 4), (True, 0, 1)])
def test_the_place_told_of_is_counted_once(counted, impossible, said):
    panel = edge_ports(LASER)
    ground = survey_panel(panel)
    placement = next(iter(find_placements(ground)))
    reason = Reason("conflict", ("diode block - radiator", "drain"))
    failure = explain_failure(
        panel, lay_terrain(ground, placement), reason, None, QUICK, 4, impossible, 4, counted
    )
    assert failure.impossible == said
    assert failure.proven_everywhere == (said == 4)


def test_a_crowded_panel_names_its_channels():
    crowded = replace(LASER, channel=replace(LASER.channel, width=18.0, bend_radius=18.0))
    ground = survey_panel(crowded)
    placement = next(iter(find_placements(survey_panel(LASER))))
    terrain = lay_terrain(ground, placement)
    routing = route_instance(terrain.instance, 0, 0, 1)
    failure = explain_failure(crowded, terrain, routing)
    assert failure.channels
    assert {link.channel for link in failure.links} == set(failure.channels)
    assert all(name in failure.text for name in failure.channels[:1])


def test_the_message_is_the_errors_own_and_carries_the_value():
    failure = fail(walls(LASER, 50.0, 72.0), "narrow", remedies=False)
    error = LayoutError(failure)
    assert error.failure is failure
    assert str(error) == str(failure)
    assert str(failure).startswith(f"{LASER.path}: ")
    assert "To try: " in str(failure)
    assert LayoutError("plain").failure is None


@pytest.mark.parametrize(
    ("tried", "impossible", "places", "said"),
    [
        (1, 1, 1, "the only place of pump and tank"),
        (5, 1, 9, "5 of 9 places of pump and tank were looked at; 1 of them was proven impossible"),
        (5, 3, 9, "3 of them were proven impossible"),
        (9, 9, 9, "the other places of pump and tank, 8 of them, are proven impossible too"),
        (1, 1, 9, "1 of 9 places of pump and tank was looked at"),
    ],
)
def test_other_places_are_counted(tried, impossible, places, said):
    failure = replace(
        fail(keep_clear(LASER, cable_duct=(79.0, 0.0, 82.0, 120.0)), "unreachable", remedies=False),
        tried=tried,
        impossible=impossible,
        places=places,
    )
    assert said in failure.describe_places()
    assert failure.proven_everywhere == (impossible == places)


@pytest.mark.parametrize("name", ["laser-driver", "new", "cupboard-server", "workshop-render"])
def test_no_gap_is_reported_where_a_demo_is_routed(name):
    panel = read_panel(demo_path(name))
    placement = next(iter(find_placements(survey_panel(panel))))
    instance = lay_on(placement)(panel).instance
    assert route_instance(instance, 0, 0, 1).traces
    assert find_narrow(instance) is None


@settings(max_examples=12, deadline=None)
@given(
    low=st.floats(25.0, 70.0),
    gap=st.floats(10.0, 50.0),
    x=st.floats(62.0, 80.0),
    width=st.sampled_from([5.0, 6.0, 7.0]),
)
def test_a_gap_is_never_called_too_narrow_where_both_channels_were_routed(low, gap, x, width):
    panel = walls(LASER, low, min(low + gap, 110.0), (x, x + 3.0))
    panel = replace(panel, channel=replace(panel.channel, width=width))
    for placement in islice(find_placements(survey_panel(panel)), 2):
        terrain = lay_on(placement)(panel)
        routing = route_instance(terrain.instance, 0, 0, 1)
        if routing.traces:
            assert find_narrow(terrain.instance) is None


def test_the_middle_of_a_port_lies_where_it_may_stand():
    block, radiator = LASER.parts
    assert find_port_middle(LASER, block.inlet) == (60.0, 35.0)
    assert find_port_middle(LASER, block.outlet) == (25.0, 32.5)
    assert find_port_middle(LASER, radiator.inlet) == (0.0, 65.0)
    assert find_port_middle(LASER, radiator.outlet) == (50.0, 120.0)
    assert clearances_of(LASER).channel_gap == 4.0
