"""When the pump's inlet may be dry although the tank reads full, and what is told of the first fill."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from geom.findings import Finding
from geom.wet.raster import raster_wet
from layouts.basin import find_surface, volume_under
from layouts.detail import cut_openings
from layouts.feed import examine_feed, pocket_basin
from layouts.filling.dry_inlet import find_dry
from layouts.filling.fill_steps import fill_in_steps
from layouts.filling.held import find_tank
from layouts.filling.left import find_air, find_left
from layouts.filling.openings import find_openings
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Filling, Tilt
from layouts.flow import size_flow
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.surface_tension import most_surface_tension_n_m
from layouts.installed import TURN_UPRIGHT
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules import feed_rules, fill_rules
from layouts.rules.filling_rules import check_filling
from layouts.rules.first_fill_rules import check_first_fill
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()
FLOWING = size_flow(PANEL, ROUTED)
UPRIGHT = (0.0, 1.0, 0.0)
NO_FILL = replace(ROUTED, ports=tuple(port for port in ROUTED.ports if port.role != "fill"))


def lean(right: float, front: float) -> tuple[float, float, float]:
    return tilted_up(UPRIGHT, Tilt(right, front))


def set_level(level: float, panel: Panel = PANEL) -> Panel:
    return replace(panel, tank=replace(panel.tank, level=level))


def set_volumes(*volumes_ml: float | None) -> Panel:
    parts = tuple(replace(part, volume_ml=ml) for part, ml in zip(PANEL.parts, volumes_ml, strict=True))
    return replace(PANEL, parts=parts, hose_volume_ml=0.0)


def close_hoses(panel: Panel) -> Panel:
    """Return the panel whose hoses all fall, so that no air leaves through its parts."""
    return lead_hoses(panel, "falls")


def shut(panel: Panel) -> Panel:
    return replace(panel, tank=replace(panel.tank, fill=None))


def fill(panel: Panel, routed: Routed = ROUTED) -> Filling:
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, 1.0)
    openings = find_openings(panel, routed, features, voxels)
    tank = find_tank(panel, routed, voxels)
    air = find_air(voxels, openings, voxels.elevations(panel.up), tank).number >= 0
    left = find_left(voxels, openings, panel.up, tank)
    return Filling(left, fill_in_steps(panel, routed, voxels, openings, air))


def judge(panel: Panel, routed: Routed = ROUTED) -> tuple[Finding, ...]:
    return check_first_fill(panel, routed, fill(panel, routed))


def lead_hoses(panel: Panel, way: str) -> Panel:
    """Return the panel with all hoses leaving so, that no amount is a range."""
    parts = tuple(
        replace(part, inlet=replace(part.inlet, hose=way), outlet=replace(part.outlet, hose=way))
        for part in panel.parts
    )
    return replace(panel, parts=parts)


def faults(panel: Panel, routed: Routed = ROUTED) -> list[Finding]:
    return [finding for finding in judge(panel, routed) if finding.severity == "fault"]


def fill_from(panel: Panel, height: float = 500.0) -> Routed:
    """Return the sample with a fill port whose mouth stands over all of it as the panel is installed."""
    ports = tuple(
        replace(port, at=tuple(height * part for part in panel.up)) if port.role == "fill" else port
        for port in ROUTED.ports
    )
    return replace(ROUTED, ports=ports)


def fault(panel: Panel, routed: Routed = ROUTED) -> Finding:
    (finding,) = judge(panel, routed)
    assert (finding.code, finding.severity) == ("feed.first", "fault")
    assert finding.text.startswith("The pump's inlet can be dry when the tank reads full: ")
    assert finding.at_mm is not None
    assert finding.features
    return finding


def test_the_sample_is_fed():
    panel = lead_hoses(PANEL, "rises")
    assert judge(panel) == ()
    filling = fill(panel)
    assert "feed.first" not in {finding.code for finding in check_filling(panel, ROUTED, filling)}
    assert check_first_fill(PANEL, ROUTED, replace(filling, sequence=None)) == ()


@pytest.mark.published(source="common practice, no source: from half of its section on a pump draws air")
def test_air_at_the_inlet():
    """Leaning back, the bore rises to the pump on the front; with all else shut the inlet is the highest place."""
    finding = fault(replace(PANEL, up=lean(0.0, -45.0)))
    assert "air stays in" in finding.text
    assert (finding.unit, finding.limit) == ("%", 50.0)
    assert 50.0 <= finding.value <= 100.0
    assert finding.remedy == f"{TURN_UPRIGHT[0].upper()}{TURN_UPRIGHT[1:]}."
    assert faults(replace(PANEL, up=lean(0.0, -10.0))) == []


def test_air_that_has_no_way_up_at_all():
    finding = fault(shut(close_hoses(PANEL)), NO_FILL)
    assert finding.remedy.startswith("Give [tank] a fill port")
    assert judge(close_hoses(PANEL)) == ()
    both = fault(replace(shut(close_hoses(PANEL)), up=lean(0.0, -45.0)), NO_FILL)
    assert both.remedy.startswith("Correct")
    assert "and give [tank] a fill port" in both.remedy


def test_air_across_the_drop():
    """Lying on its pump, the drop's roof is the cover: with air in 4 mm of its 9 mm it runs, with 6 mm it does not."""
    panel = close_hoses(replace(set_level(1.0), up=(0.0, 0.0, -1.0)))
    routed = fill_from(panel)
    features = cut_openings(panel, routed)
    voxels = raster_wet(features, 1.0)
    openings = find_openings(panel, routed, features, voxels)
    z = voxels.centres()[:, 2]
    own = np.array([name == "channel feed" for name in voxels.names])[voxels.owner]
    feed = own & ~find_tank(panel, routed, voxels)
    sequence = fill_in_steps(panel, routed, voxels, openings, feed & (z < 4.0))
    assert sequence is not None
    assert sequence.dry is not None
    assert sequence.dry.cause == "bare"
    sequence = fill_in_steps(panel, routed, voxels, openings, feed & (z < 6.0))
    assert sequence is not None
    assert sequence.dry is not None
    assert sequence.dry.cause == "air"
    assert sequence.dry.value == pytest.approx(100 * 6 / 9)
    assert sequence.inlet_covered_ml is None
    (finding,) = check_first_fill(panel, routed, replace(fill(panel), sequence=sequence))
    assert "air stays in the drop to the pump" in finding.text
    assert finding.features == ("channel feed", "pump inlet")


def test_no_drop_between_outlet_and_inlet():
    """All of the feed lies past the pump's inlet as seen from the tank's outlet: nothing is across the drop."""
    panel = close_hoses(PANEL)
    features = cut_openings(panel, ROUTED)
    voxels = raster_wet(features, 2.0)
    openings = find_openings(panel, ROUTED, features, voxels)
    routed = replace(
        ROUTED,
        tank=replace(ROUTED.tank, outlet=(145.0, 20.0)),
        pump=replace(ROUTED.pump, inlet=(145.0, 25.0)),
    )
    feed = np.array([name == "channel feed" for name in voxels.names])[voxels.owner]
    dry = find_dry(
        panel, routed, voxels, openings, voxels.elevations(UPRIGHT), feed, np.zeros(voxels.count, bool), 200.0
    )
    assert dry is None


@pytest.mark.parametrize("right", [60.0, 90.0, -60.0])
def test_a_way_that_rises_over_the_coolant(right):
    """On its side the drop runs level in mid-height of the tank; its level must stand over it."""
    panel = replace(set_level(0.1), up=lean(right, 0.0))
    # Right on its side the fill port of the sample lies too low to fill it so far.
    routed = fill_from(panel) if right == 90.0 else ROUTED
    finding = fault(panel, routed)
    assert "the way from the tank to the pump's inlet rises" in finding.text
    assert (finding.unit, finding.limit) == ("mm", 0.0)
    assert finding.value > 0
    assert "upright" in finding.remedy
    level = int(re.search(r'level = "(\d+) %"', finding.remedy)[1])
    for share, cured in ((level / 100, True), (finding_level(panel, finding) - 0.03, False)):
        assert (faults(set_level(share, panel), routed) == []) == cured
    higher = set_level(level / 100, panel)
    depth = feed_rules.check_feed_depth(higher, ROUTED, FLOWING, examine_feed(higher, ROUTED, FLOWING))
    assert not [f for f in depth if f.severity == "fault"]
    assert not [f for f in judge(replace(panel, up=UPRIGHT)) if f.severity == "fault"]


def finding_level(panel: Panel, finding: Finding) -> float:
    """Return the level at which the coolant stands as much higher as the finding says, by the tank's own shape."""
    basin = pocket_basin(panel, ROUTED)
    assert basin is not None
    surface = find_surface(basin, panel.up, panel.tank.level * basin.volume)
    return volume_under(basin, panel.up, surface + finding.value) / basin.volume


def test_upside_down():
    finding = fault(replace(PANEL, up=(0.0, -1.0, 0.0)))
    assert finding.remedy.lower().startswith(TURN_UPRIGHT.lower())
    assert "level" not in finding.remedy


def test_a_pump_over_its_separate_tank():
    """The tank's port stands under the inlet: nothing says that its coolant stands higher."""
    outlet = replace(PANEL.parts[2].inlet, name="tank outlet", part="tank", role="outlet", on="bottom")
    tank = replace(PANEL.tank, kind="separate", size=None, at=None, fill=None, outlet=outlet, volume_ml=300.0)
    port = next(port for port in ROUTED.ports if port.name == "drain")
    mouth = replace(port, name="tank outlet", part="tank", role="outlet", channel="feed")
    feed = replace(
        ROUTED.channel("feed"),
        runs=(replace(ROUTED.channel("feed").runs[0], points=((145.0, 20.0), (145.0, 40.0))),),
    )
    routed = replace(
        ROUTED,
        ports=(*(p for p in NO_FILL.ports if p is not port), mouth),
        channels=(feed, *ROUTED.channels[1:-1]),
        tank=replace(ROUTED.tank, box=None, outlet=(145.0, 20.0)),
    )
    finding = fault(replace(PANEL, tank=tank, drain=None), routed)
    assert finding.value == pytest.approx(40.0, abs=1.0)
    assert finding.remedy == "Place the pump lower under the tank."


def narrow(depth: float, hoses: bool = False) -> tuple[Panel, Routed]:
    """Return the sample with channels of that depth; `hoses`: air leaves through its parts too."""
    panel = replace(PANEL, channel=replace(PANEL.channel, depth=depth))
    routed = replace(ROUTED, channels=tuple(replace(channel, depth=depth) for channel in ROUTED.channels))
    return panel if hoses else close_hoses(panel), routed


@pytest.mark.published(
    source="Bretherton, J. Fluid Mech. 10 (1961) 166: rho g r2 / sigma = 0.842; water at 20 °C"
)
def test_a_drop_in_which_bubbles_lock():
    water = coolant_properties("water", 0.0, 20.0)
    least = 2e3 * math.sqrt(0.842 * most_surface_tension_n_m(water) / (water.density_kg_m3 * 9.80665))
    finding = fault(*narrow(least - 0.05))
    assert "a bubble locks" in finding.text
    assert finding.limit == pytest.approx(least, rel=1e-3)
    assert (finding.value, finding.unit) == (pytest.approx(least - 0.05), "mm")
    assert not [f for f in judge(*narrow(least + 0.01)) if f.severity == "fault"]
    asked = float(re.search(r'depth = "([\d.]+) mm" or more in \[channel\]', finding.remedy)[1])
    assert least <= asked < least + 0.1
    # Through the pump and up to a part's port air has another way.
    assert not [f for f in judge(*narrow(least - 0.05, hoses=True)) if f.severity == "fault"]


def test_a_narrow_drop_is_widened_where_it_is_narrow():
    panel, routed = narrow(9.0)
    panel = replace(
        panel,
        channel=replace(panel.channel, width=4.0),
        tank=replace(panel.tank, outlet_bore=4.0),
        pump=replace(panel.pump, inlet_bore=4.0),
    )
    channels = tuple(replace(channel, width=4.0) for channel in routed.channels)
    finding = fault(panel, replace(routed, channels=channels))
    assert 'outlet_bore = "5.1 mm" or more in [tank]' in finding.remedy
    assert "depth" not in finding.remedy


def test_runs_are_told_where_one_would_bare_the_outlet():
    panel = lead_hoses(set_volumes(30.0, 40.0, 180.0), "rises")
    filling = fill(panel)
    sequence = filling.sequence
    (finding,) = check_first_fill(panel, ROUTED, filling)
    assert finding.severity == "note"
    assert (finding.value, finding.limit, finding.unit) == (sequence.push_ml, sequence.run_ml, "mL")
    assert f"{sequence.tops} times" in finding.remedy
    assert f"from {sequence.may_run_ml:.0f} mL on" in finding.text
    assert sequence.inlet_covered_ml < sequence.may_run_ml
    assert "does not give" not in finding.text
    (unknown,) = judge(set_volumes(30.0, None, 180.0))
    assert "(and what the file does not give)" in unknown.text
    # A tank that takes it all at once.
    assert judge(lead_hoses(set_volumes(0.0, 0.0, 0.0), "rises")) == ()


def test_volume_and_steps_are_told_once_each():
    panel = set_volumes(30.0, 40.0, 180.0)
    (steps,) = judge(panel)
    (volume,) = fill_rules.note_volume(panel, ROUTED, examine_feed(panel, ROUTED, FLOWING))
    assert "times" not in volume.text + volume.remedy
    assert "ready" not in steps.remedy
    depth = feed_rules.check_feed_depth(panel, ROUTED, FLOWING, examine_feed(panel, ROUTED, FLOWING))
    assert all("first fill" not in finding.text for finding in depth)


@pytest.mark.published(source="closed form: height over the floor of a box that lies flat")
@pytest.mark.parametrize("level", [0.1, 0.3, 0.6])
def test_an_outlet_that_is_bare_where_the_panel_lies_flat(level):
    """The outlet is 9 mm high over the floor of a pocket 13 mm deep; the pump stands under the panel."""
    panel = replace(set_level(level), up=(0.0, 0.0, 1.0), pump=replace(PANEL.pump, on="back"))
    routed = fill_from(panel)
    finding = fault(panel, routed)
    assert "the tank's outlet is bare at the level" in finding.text
    assert finding.value == pytest.approx(9.0 - 13.0 * level)
    assert (finding.limit, finding.unit) == (0.0, "mm")
    feeding = examine_feed(panel, routed, FLOWING)
    assert feed_rules.check_feed_depth(panel, routed, FLOWING, feeding) == ()
    assert feed_rules.check_feed_low(panel, routed)[0].severity == "caution"
    share = int(re.search(r'level = "(\d+) %"', finding.remedy)[1]) / 100
    assert share == math.ceil(100 * 9 / 13) / 100
    assert faults(set_level(share, panel), routed) == []
    assert faults(set_level(share - 0.01, panel), routed) != []


def test_a_bare_outlet_is_told_once():
    """Upright `feed.depth` tells it."""
    panel = set_level(0.1)
    depth = feed_rules.check_feed_depth(panel, ROUTED, FLOWING, examine_feed(panel, ROUTED, FLOWING))
    assert [finding.severity for finding in depth] == ["fault"]
    assert judge(panel) == ()


def test_what_another_rule_tells_is_not_told_again():
    """Without a fill port, and on its side with the pump as high as the tank's outlet."""
    assert judge(shut(PANEL), NO_FILL) == ()
    assert fill_rules.check_fill(shut(PANEL), NO_FILL)
    side = replace(set_level(0.85), up=lean(90.0, 0.0))
    routed = fill_from(side)
    assert judge(side, routed) == ()
    assert [finding.severity for finding in feed_rules.check_feed_low(side, routed)] == ["fault"]
    assert fill(side, routed).sequence.may_run_ml is None


def test_a_mouth_too_low_for_the_outlet():
    ports = tuple(
        replace(port, on="front", at=(port.at[0], 89.0, 20.0)) if port.role == "fill" else port
        for port in ROUTED.ports
    )
    finding = fault(PANEL, replace(ROUTED, ports=ports))
    assert "at the height of the fill port's mouth" in finding.text
    assert finding.remedy.startswith("Put the fill port on the top edge")
    assert faults(PANEL) == []


def test_air_that_ends_halfway_up_the_drop_is_judged_alike_on_all_voxels():
    """Lying on its pump: air in half of the drop's 9 mm is no fault with any voxels, in 6 mm it is."""
    panel = close_hoses(replace(set_level(1.0), up=(0.0, 0.0, -1.0)))
    features = cut_openings(panel, ROUTED)
    for spacing in (1.0, 0.9, 0.75, 0.6, 0.5, 0.45):
        voxels = raster_wet(features, spacing)
        openings = find_openings(panel, ROUTED, features, voxels)
        tank = find_tank(panel, ROUTED, voxels)
        own = np.array([name == "channel feed" for name in voxels.names])[voxels.owner] & ~tank
        z = voxels.centres()[:, 2]
        for deep, dry in ((4.5, False), (6.0, True)):
            heights = voxels.elevations(panel.up)
            found = find_dry(panel, ROUTED, voxels, openings, heights, own & (z < deep), tank, 200.0)
            assert (found is not None) == dry, (spacing, deep)


def test_too_many_top_ups_are_a_caution_that_its_level_cures():
    panel = lead_hoses(set_level(0.2, set_volumes(30.0, 40.0, 180.0)), "rises")
    (finding,) = judge(panel)
    assert finding.severity == "caution"
    assert fill(panel).sequence.tops > 20
    share = int(re.search(r'level = "(\d+) %"', finding.remedy)[1]) / 100
    higher = set_level(share, panel)
    assert 15 < fill(higher).sequence.tops <= 20
    assert [finding.severity for finding in judge(higher)] == ["note"]


def test_amounts_that_hoses_leave_open_are_told_as_a_range():
    panel = set_volumes(30.0, 40.0, 180.0)
    sequence = fill(panel).sequence
    (finding,) = judge(panel)
    low, high = sequence.may_run_range_ml
    assert low < high
    assert (
        f"pump may not run before {math.ceil(high)} mL is in, unless the tank reads its level" in finding.text
    )
    assert "once {:.0f} to {:.0f} mL is in".format(*sequence.level_range_ml) in finding.text
    assert finding.remedy.startswith("Pour only until the tank reads its level; ")
    assert "{} to {} times".format(*sequence.tops_range) in finding.remedy
    assert 'hose = "rises" or "falls"' in finding.remedy
    (told,) = judge(lead_hoses(panel, "rises"))
    assert " to " not in told.text
    assert "hose =" not in told.remedy
