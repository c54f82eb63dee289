"""What is told of pockets, and remedies followed to the letter: the pocket is gone after them."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from exports.check_solids import _lay_out
from exports.pipeline import plan_panel
from geom.wet.raster import raster_wet
from layouts.file.read import read_panel
from layouts.filling.examine import examine_filling
from layouts.filling.left import find_left
from layouts.filling.moved_ports import try_moves
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.pockets_told import channels_of
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Filling, Left, Pocket, Relief, Tilt
from layouts.routing.effort import NORMAL
from layouts.rules.fill_rules import check_drain
from layouts.rules.pocket_rules import check_air_left, check_drain_left
from tests.layouts.filling.sample_hump import FOOT, HUMP, LEFT, WIDTH, write_hump
from tests.sample_plan import sample_plan

PLAN = sample_plan()


@cache
def planned(folder, service: str = ""):
    return plan_panel(write_hump(folder, service))


@pytest.fixture(scope="module")
def hump(tmp_path_factory):
    return planned(tmp_path_factory.mktemp("hump"))


def told(plan, code):
    return [finding for finding in plan.findings if finding.code == code]


def pocket_of(volume_mm3, at=(100.0, 85.0, 4.5), features=("channel block - tank",), **more):
    return Pocket(volume_mm3, at, (80.0, 70.0, 4.5), 12.0, features, **more)


def filling_of(air=(), coolant=(), carries=()):
    left = Left((0.0, 1.0, 0.0), 1.0, 60e3, air, coolant, 0.0, 0.0)
    return Filling(left, carries=carries)


def check_air(*air):
    return check_air_left(PLAN.panel, PLAN.routed, filling_of(air))


def check_coolant(*coolant):
    return check_drain_left(PLAN.panel, PLAN.routed, filling_of(coolant=coolant))


@pytest.mark.parametrize(
    ("volume_mm3", "severities"), [(99.0, []), (100.0, ["note"]), (999.0, ["note"]), (1000.0, ["caution"])]
)
def test_air_is_judged_by_its_volume(volume_mm3, severities):
    found = check_air(pocket_of(volume_mm3))
    assert [(finding.code, finding.severity) for finding in found] == [
        ("air.left", one) for one in severities
    ]


@pytest.mark.parametrize(
    ("volume_mm3", "severities"), [(499.0, []), (500.0, ["note"]), (3000.0, ["note"]), (3001.0, ["caution"])]
)
def test_coolant_is_judged_by_its_volume_and_share(volume_mm3, severities):
    """Of 60 mL 5 % are 3 mL."""
    found = check_coolant(pocket_of(volume_mm3))
    assert [(finding.code, finding.severity) for finding in found] == [
        ("drain.left", one) for one in severities
    ]


def test_finding_names_place_and_way_out():
    (finding,) = check_air(pocket_of(10700.0))
    assert '10.7 mL of air stays in channel "block - tank"' in finding.text
    assert "12 mm lower, at (80, 70) mm" in finding.text
    assert finding.at_mm == (100.0, 85.0, 4.5)
    assert finding.features == ("channel block - tank",)
    assert (finding.value, finding.limit, finding.unit) == (10.7, 1.0, "mL")
    (at_port,) = check_air(replace(pocket_of(500.0), way_out=(24.0, 93.0, 12.0)))
    assert 'at port "block outlet"' in at_port.text
    (shut,) = check_coolant(replace(pocket_of(900.0), way_out=None))
    assert "no way leads out of there" in shut.text


def test_the_pump_clears_what_it_carries():
    """Where coolant carries air down each fall of the channel, the pocket is noted; else it is a caution."""
    carry = planned_carries()[0]
    fast = filling_of(
        (pocket_of(5000.0),), carries=(replace(carry, channel="block - tank", verdict="carried"),)
    )
    slow = filling_of(
        (pocket_of(5000.0),), carries=(replace(carry, channel="block - tank", verdict="locks"),)
    )
    (noted,) = check_air_left(PLAN.panel, PLAN.routed, fast)
    (warned,) = check_air_left(PLAN.panel, PLAN.routed, slow)
    assert (noted.severity, warned.severity) == ("note", "caution")
    assert noted.remedy.startswith("Run the pump until")
    assert "fast enough" in noted.text
    assert "fast enough" not in warned.text


def planned_carries():
    from tests.sample_filling import sample_filling

    return sample_filling(PLAN).carries


def test_small_pockets_are_summed_up():
    pockets = tuple(pocket_of(2000.0 - 300.0 * k, at=(k, 0.0, 0.0)) for k in range(6))
    *single, rest = check_air(*pockets)
    assert [finding.value for finding in single] == [2.0, 1.7, 1.4]
    # 1.1 mL would be a caution alone; being summed up does not hide it.
    assert rest.severity == "caution"
    assert rest.text.startswith("3 more pockets hold 2.4 mL of air in all, the largest 1.1 mL")
    assert rest.at_mm == (3, 0.0, 0.0)
    *single, rest = check_coolant(*pockets)
    assert rest.text.startswith("3 more pockets hold 2.4 mL of coolant")
    *_, rest = check_air(*pockets[:3], pocket_of(900.0))
    assert rest.severity == "note"
    *_, rest = check_air(*pockets[:4])
    assert rest.text.startswith("1 more pocket holds 1.1 mL of air")


def test_remedies_in_words():
    at = (138.0, 65.0, 20.0)
    reliefs = (
        Relief("move", 20.0, "block outlet", (25.0, 95.0, 20.0)),
        Relief("bleed", 0.0, "block - tank", at),
        Relief("tilt", 1234.0, tilt=Tilt(-45.0, 15.0)),
    )
    (finding,) = check_air(pocket_of(5000.0, reliefs=reliefs))
    assert finding.remedy == (
        'Move port "block outlet" up by 5 mm: at = ["25 mm", "95 mm"] in place of within in [[part]] "block", outlet '
        "(tried, all laid out anew): then nothing stays; or set "
        'bleed = ["block - tank"] in [service], which puts a port at (138, 65) mm: then nothing stays at (100, 85) mm; '
        "or tilt "
        "the panel by 45° to the left and 15° forwards while it is filled: then 1.2 mL stays in all."
    )
    (drained,) = check_coolant(pocket_of(5000.0, reliefs=(Relief("hose", 60.0, "block inlet", at),)))
    assert (
        drained.remedy == 'Take the hose off at port "block inlet" while draining: then 0.1 mL stays there.'
    )


def test_a_port_more_keeps_those_asked_for():
    """`bleed` lists what is built; a channel that is not named any more would lose its port."""
    panel = replace(PLAN.panel, service=replace(PLAN.panel.service, bleed=("pump - block",)))
    relief = Relief("bleed", 0.0, "block - tank", (1.0, 2.0, 3.0))
    (finding,) = check_air_left(panel, PLAN.routed, filling_of((pocket_of(5000.0, reliefs=(relief,)),)))
    assert 'bleed = ["pump - block", "block - tank"]' in finding.remedy


def test_no_drain():
    none = replace(PLAN.routed, ports=tuple(port for port in PLAN.routed.ports if port.role != "drain"))
    assert [finding.code for finding in check_drain(PLAN.panel, none)] == ["drain.low"]
    assert check_drain(PLAN.panel, PLAN.routed) == ()
    (finding,) = check_drain_left(PLAN.panel, none, filling_of(coolant=(pocket_of(900.0),)))
    assert "through the hose mouths" in finding.text


def test_hump_is_told(hump):
    """The channel over the slot, higher than both its ports: 4.1 mL by a strip of its width over what bores reach."""
    (finding,) = told(hump, "air.left")
    assert finding.features[0] == f"channel {HUMP}"
    assert finding.at_mm is not None
    # The top of the channel, which goes over the slot's own clearance.
    assert finding.at_mm[1] > FOOT + 30.0
    assert 'at port "cooler inlet"' in finding.text or 'at port "block outlet"' in finding.text


def test_a_bleed_asked_for_clears(hump, tmp_path):
    """The key that the remedy names, written into the file: the pocket is gone."""
    (air,) = told(hump, "air.left")
    asked = re.findall(r"(?:set )(bleed = \[.*?\]) in \[service\]", air.remedy)
    assert asked == [f'bleed = ["{HUMP}"]']
    again = plan_panel(write_hump(tmp_path, f"{asked[0]}\n"))
    assert told(again, "air.left") == []
    assert again.filling is not None
    assert sum(pocket.volume_mm3 for pocket in again.filling.left.air) < 100.0


def test_hoses_taken_off_clear(hump):
    """A mouth that is open lets out what the remedy says."""
    features = hump.detail.features
    voxels = raster_wet(features, 1.0)
    openings = find_openings(hump.panel, hump.routed, features, voxels)
    none = np.zeros(voxels.count, bool)
    before = find_left(voxels, openings, hump.panel.up, none)
    hoses = [
        relief for pocket in hump.filling.left.coolant for relief in pocket.reliefs if relief.kind == "hose"
    ]
    assert hoses
    for relief in hoses:
        mouth = next(opening for opening in openings if opening.name == relief.name)
        # The part's own end is open too: what comes through it runs out there as before it ran on.
        opened = (*openings, replace(mouth, name="open", kind="drain", part=""))
        after = find_left(voxels, opened, hump.panel.up, none)
        gone = [p for p in before.coolant if any(f"port {relief.name} " in name for name in p.features)]
        assert after.coolant_mm3 <= before.coolant_mm3 - gone[0].volume_mm3 + relief.left_mm3 + 1e-6


def test_tilts_clear_as_told():
    """Coarse tilts of a plan and all tilts of a check: what is told to stay is what stays."""
    plan = PLAN
    lying = replace(plan.panel, up=(0.0, 0.0, 1.0))
    for with_tilts in (False, True):
        filling = examine_filling(lying, plan.routed, plan.flowing, plan.detail.features, 1.0, with_tilts)
        assert (filling.tilts is not None) == with_tilts
        reliefs = {
            (kind, relief.tilt): relief.left_mm3
            for kind, pockets in (("air", filling.left.air), ("coolant", filling.left.coolant))
            for pocket in pockets
            for relief in pocket.reliefs
            if relief.tilt is not None and relief.kind == "tilt"
        }
        assert {kind for kind, _ in reliefs} == {"air", "coolant"}
        voxels = raster_wet(plan.detail.features, 1.0)
        openings = find_openings(lying, plan.routed, plan.detail.features, voxels)
        tank = tank_voxels(voxels)
        for (kind, tilt), left_mm3 in reliefs.items():
            left = find_left(voxels, openings, tilted_up(lying.up, tilt), tank)
            stays = left.air_mm3 if kind == "air" else left.coolant_mm3
            assert stays == pytest.approx(left_mm3, abs=30.0)


def test_a_port_is_moved_up_within_its_box(tmp_path):
    """With a box that reaches up to the hump the port goes up there and no air stays; without, nothing is told."""
    panel = read_panel(write_hump(tmp_path))
    low = planned(tmp_path)
    pocket = low.filling.left.air[0]
    assert channels_of(low.routed, pocket) == (HUMP,)

    def lay_out(changed):
        return _lay_out(changed, 0, NORMAL)

    assert try_moves(panel, low.routed, pocket, low.filling.left.air_mm3, lay_out) == ()

    def free(part):
        if part.name != "cooler":
            return part
        box = (LEFT - 10.0, FOOT - 10.0, LEFT + 10.0, pocket.at[1] + WIDTH)
        return replace(part, inlet=replace(part.inlet, at=None, within=box))

    boxed = replace(panel, parts=tuple(free(part) for part in panel.parts))
    (relief,) = try_moves(boxed, low.routed, pocket, low.filling.left.air_mm3, lay_out)
    assert (relief.kind, relief.name) == ("move", "cooler inlet")
    assert relief.at is not None
    assert relief.at[0] == LEFT
    assert relief.at[1] - FOOT >= pocket.depth
    assert relief.left_mm3 < 100.0
