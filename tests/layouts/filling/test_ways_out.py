"""Why a pocket stays, in words that cure: bores, plugs, hoses, slopes, runs that lead the wrong way, tilts."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from sample_demos import plan_demo

import exports.pipeline
from exports.check_solids import _lay_out
from exports.pipeline import make_panel, plan_panel
from geom.wet.raster import raster_wet
from layouts.detail import cut_openings
from layouts.filling.examine import examine_filling
from layouts.filling.left import find_left_pockets
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.pocket_limits import AIR_TOLD_MM3, BORE_TOLD_MM3
from layouts.filling.pocket_remedies import ON_AN_EDGE, Trials, add_reliefs
from layouts.filling.pockets_told import find_own_bore, find_wrong_way, list_told
from layouts.filling.tilts import AtTilt, tilted_up
from layouts.filling.values import Filling, Left, Pocket, Relief, Tilt, TiltMap
from layouts.routing.effort import NORMAL, QUICK
from layouts.rules.pocket_rules import check_air_left, check_drain_left
from tests.layouts.filling.sample_hump import FOOT, HUMP, LEFT, write_hump
from tests.sample_plan import sample_plan

PLAN = sample_plan()
VOXELS = raster_wet(PLAN.detail.features, 1.0)


def install(up, hoses=None):
    """Return the sample panel as it is installed, with the ways of its part's hoses (inlet, outlet)."""
    way = hoses or (None, None)
    parts = tuple(
        replace(part, inlet=replace(part.inlet, hose=way[0]), outlet=replace(part.outlet, hose=way[1]))
        for part in PLAN.panel.parts
    )
    return replace(PLAN.panel, up=up, parts=parts)


def examine(panel, with_tilts=False, **more):
    return examine_filling(
        panel, PLAN.routed, PLAN.flowing, PLAN.detail.features, 1.0, with_tilts=with_tilts, **more
    )


def reliefs_of(pockets, kind):
    return [(pocket, relief) for pocket in pockets for relief in pocket.reliefs if relief.kind == kind]


def in_bore(volume_mm3, depth=2.0):
    """Return air at the crown of a port's bore, which the file's pitch has 3.4 mm over its channel's."""
    return Pocket(volume_mm3, (25.0, 95.5, 15.0), (25.0, 93.5, 9.5), depth, ("port block outlet G1/4",))


def check_air(panel, *air):
    left = Left(panel.up, 1.0, 60e3, air, (), sum(p.volume_mm3 for p in air), 0.0)
    return check_air_left(panel, PLAN.routed, Filling(left))


@pytest.mark.parametrize("name", ["synthesizer-rack", "observatory-camera"])
def test_a_bubble_under_its_own_bore_is_not_told(name):
    """No port moved up cures it: its crown goes up with it."""
    plan = plan_demo(name)
    filling = examine_filling(
        plan.panel, plan.routed, plan.flowing, plan.detail.features, 0.5, with_tilts=False
    )
    (pocket,) = (pocket for pocket in filling.left.air if pocket.volume_mm3 >= AIR_TOLD_MM3)
    port = find_own_bore(plan.panel, plan.routed, pocket)
    assert port is not None
    assert port.name == "drain 2"
    assert check_air_left(plan.panel, plan.routed, filling) == ()


def test_a_large_one_asks_for_a_smaller_thread():
    assert list_told(PLAN.panel, PLAN.routed, (in_bore(BORE_TOLD_MM3 - 1.0),), air=True) == ()
    (finding,) = check_air(PLAN.panel, in_bore(BORE_TOLD_MM3))
    assert (finding.severity, finding.limit) == ("note", 0.5)
    assert finding.remedy == (
        'A smaller thread of port "block outlet" than G1/4, whose bore of 11.8 mm is wider than its channel, holds '
        'less ([[part]] "block", outlet, thread).'
    )
    # Deeper than half its bore it is more than a crown; where the bore stands on end, it has none.
    assert find_own_bore(PLAN.panel, PLAN.routed, in_bore(600.0, 7.0)) is None
    assert find_own_bore(install((0.0, 0.0, 1.0)), PLAN.routed, in_bore(600.0)) is None


def test_a_loosened_plug_lets_air_out():
    """Upside down the drain stands highest: its plug, opened while the panel is filled, clears its branch."""
    hanging = install((0.0, -1.0, 0.0))
    filling = examine(hanging)
    ((pocket, relief),) = reliefs_of(filling.left.air, "plug")
    assert (relief.name, relief.left_mm3) == ("drain", 0.0)
    assert pocket.features[0] == "port drain G1/4"
    # Hung so the loop cannot be filled: as if it could.
    shut = tuple(replace(one, shut=True) for one in filling.left.air)
    filling = replace(filling, left=replace(filling.left, air=shut))
    # Of a tank that cannot be filled so no pocket counts as shut in; here it is the words that matter.
    filled = replace(filling.left, air=(replace(pocket, shut=True),))
    remedies = [finding.remedy for finding in check_air_left(hanging, PLAN.routed, Filling(filled))]
    assert any(
        # Hung so the plug stands over the tank's coolant, which gets there only with the pump.
        'oosen the plug of port "drain" while the pump runs slowly, since it stands over the tank\'s coolant, until '
        "coolant comes: then nothing stays there" in one
        for one in remedies
    )
    openings = find_openings(hanging, PLAN.routed, PLAN.detail.features, VOXELS)
    opened = tuple(replace(o, kind="bleed") if o.name == "drain" else o for o in openings)
    tank = tank_voxels(VOXELS)
    left, *_ = find_left_pockets(VOXELS, opened, hanging.up, tank)
    assert not any("port drain G1/4" in one.features for one in left.air)


def test_a_hose_led_upwards_lets_air_out():
    shut = install((0.0, 1.0, 0.0), ("falls", "falls"))
    filling = examine(shut)
    ((pocket, relief),) = reliefs_of(filling.left.air, "hose")
    assert relief.name == "block outlet"
    (finding,) = check_air_left(shut, PLAN.routed, filling)
    assert (
        'lead the hose at port "block outlet" upwards (hose = "rises" in [[part]] "block", outlet): then nothing'
        in finding.remedy
    )
    followed = examine(install((0.0, 1.0, 0.0), ("falls", "rises"))).left
    assert followed.air_mm3 <= filling.left.air_mm3 - pocket.volume_mm3 + AIR_TOLD_MM3


@pytest.mark.parametrize("degrees", [1.0, 2.0, 3.0])
def test_a_slope_clears_a_level_run(degrees):
    """Leaning to the left, the level run to the part is highest at a port that lets no air out."""
    turn = math.radians(degrees)
    leaning = install((-math.sin(turn), math.cos(turn), 0.0), ("falls", None))
    filling = examine(leaning)
    (finding,) = (f for f in check_air_left(leaning, PLAN.routed, filling) if "pump - block" in f.text)
    ((pocket, relief),) = reliefs_of(filling.left.air, "slope")
    assert relief.tilt == Tilt(-degrees, 0.0)
    asked = re.search(r"with a slope, .* to the left \(up = \[(.*)\] in \[panel\]\): then", finding.remedy)
    assert asked is not None
    followed = examine(install(tuple(float(c) for c in asked[1].split(",")), ("falls", None))).left
    assert followed.air_mm3 == pytest.approx(
        filling.left.air_mm3 - pocket.volume_mm3 + relief.left_mm3, abs=30.0
    )
    assert relief.left_mm3 < 0.5 * pocket.volume_mm3


def test_a_steep_hump_has_no_slope(tmp_path):
    """It is 39 mm deep in a channel 6 mm wide."""
    plan = plan_panel(write_hump(tmp_path))
    assert reliefs_of(plan.filling.left.air, "slope") == []


def test_the_run_that_leads_the_wrong_way_is_named(tmp_path):
    plan = plan_panel(write_hump(tmp_path))
    air = replace(plan.filling.left.air[0], reliefs=())
    coolant = replace(plan.filling.left.coolant[0], reliefs=())
    way = find_wrong_way(plan.panel, plan.routed, air, air=True)
    assert way is not None
    assert way.port is not None
    assert (way.channel, way.port.name, way.end[:2]) == (HUMP, "cooler inlet", (LEFT, FOOT))
    assert way.start[0] == LEFT
    assert way.start[1] == pytest.approx(air.at[1], abs=3.0)
    assert way.height == way.start[1] - way.end[1]
    left = replace(plan.filling.left, air=(air,), coolant=(coolant,))
    (risen,) = check_air_left(plan.panel, plan.routed, Filling(left))
    assert risen.remedy == (
        f'Let channel {HUMP} rise from (30, {way.start[1]:.0f}) mm to port "cooler inlet", where it falls by '
        f'{way.height:.0f} mm: move the port up by {math.ceil(air.depth)} mm or more ([[part]] "cooler", inlet).'
    )
    # The mirror image: what keeps coolant rises.
    (fallen,) = check_drain_left(plan.panel, plan.routed, Filling(left))
    assert fallen.remedy.startswith(
        f"Let channel {HUMP} fall from (30, 30) mm to (30, 70) mm, where it rises by 40 mm;"
    )
    # A panel that lies flat has no port to move up in its plane.
    flat = replace(plan.panel, up=(0.0, 0.0, 1.0))
    (lying,) = check_air_left(flat, plan.routed, Filling(replace(left, up=flat.up)))
    assert "move" not in lying.remedy


def trials(found, tilts, at, tried):
    """Return trials that know one map, one answer for every tilt, and note which pocket a port is moved for."""

    def try_move(pocket):
        tried.append(pocket)
        return (Relief("move", 0.0, "block inlet", (25.0, 95.0, 20.0)),)

    return Trials(lambda: tilts, lambda: lambda tilt: at(tilt), try_move)


def relieve(panel, tilts, at, kinds=("part",)):
    """Return what is told of the sample's pockets, with only openings of some kinds, and what was tried to be moved."""
    openings = tuple(
        o for o in find_openings(panel, PLAN.routed, PLAN.detail.features, VOXELS) if o.kind in kinds
    )
    left, air, coolant = find_left_pockets(VOXELS, openings, panel.up, tank_voxels(VOXELS))
    tried: list[Pocket] = []
    told = add_reliefs(
        panel, PLAN.routed, VOXELS, openings, left, air, coolant, (), trials(left, tilts, at, tried)
    )
    return told, tried


def map_of(best, stays_mm3, kept):
    degrees = (-30.0, 0.0, 30.0)
    values = np.full((3, 3), 1e5)
    values[degrees.index(best.front), degrees.index(best.right)] = stays_mm3
    return TiltMap(degrees, values, values, np.full((3, 3), kept), best, best, 1.0)


def test_no_tilt_is_told_that_bares_the_tanks_outlet():
    hanging = install((0.0, -1.0, 0.0))

    def at(tilt):
        return AtTilt(1e5, 1e5, False)

    for kept in (True, False):
        told, _ = relieve(hanging, map_of(Tilt(30.0, 0.0), 0.0, kept), at)
        assert bool(reliefs_of(told.air, "tilt")) == kept
        assert reliefs_of(told.coolant, "tilt")


def test_a_port_is_moved_only_where_nothing_else_cures():
    """It costs a whole layout."""
    hanging = install((0.0, -1.0, 0.0))

    def at(tilt):
        return AtTilt(1e5, 1e5, True)

    told, tried = relieve(hanging, map_of(Tilt(30.0, 0.0), 1e5, True), at)
    assert tried == [replace(told.air[0], reliefs=())]
    assert [relief.kind for relief in told.air[0].reliefs] == ["move"]
    assert relieve(hanging, map_of(Tilt(30.0, 0.0), 0.0, True), at)[1] == []


def test_a_panel_that_lies_flat_is_stood_on_an_edge():
    """Where no tilt of the map helps: on the edge that leaves least, with the tank's outlet covered."""
    flat = install((0.0, 0.0, 1.0))
    stays = dict(zip(ON_AN_EDGE, (900.0, 0.0, 300.0, 600.0), strict=True))

    def at(tilt):
        return AtTilt(stays.get(tilt, 1e5), 1e5, tilt != ON_AN_EDGE[1])

    told, _ = relieve(flat, map_of(Tilt(0.0, 0.0), 1e5, True), at, ("pump",))
    found = reliefs_of(told.air, "tilt")
    assert found
    assert all((relief.tilt, relief.left_mm3) == (ON_AN_EDGE[2], 300.0) for _, relief in found)
    remedies = [finding.remedy for finding in check_air_left(flat, PLAN.routed, Filling(told))]
    assert remedies[0].startswith(
        "Stand the panel on its right edge while it is filled: then 0.3 mL stays in all"
    )
    x, y, _ = tilted_up(flat.up, ON_AN_EDGE[2])
    # Its right edge looks down.
    assert (round(x), round(y)) == (-1, 0)


def test_the_same_tilt_is_told_once():
    reliefs = (Relief("tilt", 600.0, tilt=Tilt(-15.0, 0.0)),)
    flat = install((0.0, 0.0, 1.0))
    pockets = tuple(
        Pocket(2000.0 - k, (100.0, 60.0, k), (80.0, 60.0, 0.0), 12.0, (), reliefs) for k in range(2)
    )
    first, second = check_air(flat, *pockets)
    assert first.remedy == "Lift the panel's right edge by 15° while it is filled: then 0.6 mL stays in all."
    assert second.remedy == "Lift the panel's right edge by 15°, as told of the largest."


def test_a_part_may_be_called_drain():
    """Its ports are a part's: they let air out, and nothing runs out of them."""
    named = tuple(
        replace(port, part="drain") if port.role in ("inlet", "outlet") else port
        for port in PLAN.routed.ports
    )
    openings = find_openings(PLAN.panel, replace(PLAN.routed, ports=named), PLAN.detail.features, VOXELS)
    assert [opening.kind for opening in openings][:4] == ["part", "part", "fill", "drain"]


def test_what_is_tried_is_laid_out_as_the_plan_was(tmp_path, monkeypatch):
    """With its service ports; with the seed and the effort of the run."""
    plan = plan_panel(write_hump(tmp_path, 'bleed = "auto"'))
    assert any(port.role == "bleed" for port in plan.routed.ports)
    assert _lay_out(plan.panel, 0, NORMAL) == plan.routed
    assert [f.name for f in cut_openings(plan.panel, plan.routed)]
    asked = []

    class Asked(Exception):
        pass

    def look(plan, progress, seed, effort):
        asked.append((seed, effort))
        raise Asked

    monkeypatch.setattr(exports.pipeline, "check_solids", look)
    with pytest.raises(Asked):
        make_panel(write_hump(tmp_path), tmp_path / "out", seed=3, effort=QUICK)
    assert asked == [(3, QUICK)]
