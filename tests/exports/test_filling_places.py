"""Pictures of filling and plan: levels, pockets beyond the fill, names beside the panel and off what is clear."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_filling import sample_filling, sample_tilts
from sample_plan import sample_plan

from exports.pictures.filling_picture import draw_filling
from exports.pictures.filling_sheet import level_off, make_sheet
from exports.pictures.labels import Rect, meet
from exports.pictures.plan_picture import draw_plan
from exports.pictures.plan_posts import find_level
from exports.pictures.plan_symbols import WATER
from exports.pictures.svg import View
from exports.pictures.tilt_picture import draw_tilts
from exports.pictures.whole_picture import MARGIN
from exports.tables.filling_tables import describe_filled, describe_filling
from exports.wording.filling_words import list_left, tell_pocket
from geom.frame import Vec
from geom.wet.raster import raster_wet
from layouts.clearance import tank_z
from layouts.feed import cold_surface
from layouts.filling.left import find_left_pockets, mark_shut
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.values import Filling, Pocket, Relief
from layouts.installed import rise_along
from layouts.panel import KeepClear
from layouts.plan import Plan
from layouts.rules.pocket_rules import check_air_left, check_drain_left

PLAN = sample_plan()
FILLING = sample_filling(PLAN)
HALF = math.sqrt(0.5)


def stand(up: Vec) -> Plan:
    return replace(PLAN, panel=replace(PLAN.panel, up=up))


def said(picture: str) -> str:
    return " ".join(text for text, _ in texts_of(picture))


@pytest.mark.published(source="a level: all of it stands as high along up as the surface does")
@pytest.mark.parametrize(
    "up",
    [
        (0.0, 1.0, 0.0),
        (1.0, 0.0, 0.0),
        (-1.0, 0.0, 0.0),
        (0.0, -1.0, 0.0),
        (HALF, -HALF, 0.0),
        (0.0, 0.8, 0.6),
    ],
)
def test_the_level_is_a_line_along_the_real_up(up: Vec):
    plan = stand(up)
    level = find_level(plan)
    surface = cold_surface(plan.panel, plan.routed)
    box = plan.routed.tank.box
    assert level is not None
    assert surface is not None
    assert box is not None
    for x, y in level:
        assert rise_along(up, (x, y, sum(tank_z(plan.panel)) / 2)) == pytest.approx(surface, abs=1e-6)
        assert box[0] <= x <= box[2]
        assert box[1] <= y <= box[3]
    assert 'stroke-dasharray="6 4"' in draw_plan(plan)


@pytest.mark.parametrize("up", [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (0.0, 0.28, 0.96)])
def test_a_panel_that_lies_has_no_line_of_its_level(up: Vec):
    plan = stand(up)
    assert find_level(plan) is None
    draw_plan(plan)


def test_bores_into_the_tank_are_filled_as_high_as_it_is():
    voxels = raster_wet(PLAN.detail.features, 1.0)
    sheet = make_sheet(PLAN, voxels)
    heights = voxels.elevations(PLAN.panel.up)
    tank = tank_voxels(voxels)
    # Up to the tank's own roof: the fill port's bore reaches down past it.
    roof = float(heights[tank].max())
    level = level_off(sheet, tank & (heights < roof - 1.5))
    bore = voxels.owned_by(("port fill G1/4",))
    assert (bore & (heights < roof - 1.5)).any()
    assert bool(level[bore & (heights < roof - 2.0)].all())
    assert not level[bore & (heights > roof - 1.0)].any()


def stop_short(pockets: tuple[Pocket, ...]) -> Filling:
    """Return the sample's filling with some air, where the pump may not run."""
    assert FILLING.sequence is not None
    steps = tuple(step for step in FILLING.sequence.steps if step.kind == "level reached")
    sequence = replace(FILLING.sequence, steps=steps, may_run_ml=None, tops=0, inlet_covered_ml=None)
    air = math.fsum(pocket.volume_mm3 for pocket in pockets)
    return replace(
        FILLING, left=replace(FILLING.left, air=pockets, air_mm3=air), sequence=sequence, proposals=()
    )


def test_air_beyond_the_fill_is_not_told():
    voxels = raster_wet(PLAN.detail.features, 1.0)
    heights = voxels.elevations(PLAN.panel.up)
    wet = heights < float(np.median(heights))
    low, high = voxels.centre(int(np.argmin(heights))), voxels.centre(int(np.argmax(heights)))
    near = Pocket(1500.0, low, low, 9.0, ("channel feed",))
    far = Pocket(3500.0, high, high, 9.0, ("channel block - tank",))
    shut_in = Pocket(200.0, high, None, 0.0, ("tank",))
    left = mark_shut(replace(FILLING.left, air=(far, near, shut_in)), voxels, wet)
    assert [pocket.shut for pocket in left.air] == [False, True, True]
    stopped = stop_short(left.air)
    pockets, volume = list_left(stopped, "air")
    assert pockets == (near, shut_in)
    assert volume == pytest.approx(1700.0)
    picture = draw_filling(PLAN, stopped)
    table = describe_filled(PLAN, stopped)
    assert "Air that stays when filled to the tank's level: 1.7 mL" in said(picture)
    assert "air that stays when filled to the tank's level: 1.7 mL" in table
    assert "3.5 mL" not in said(picture) + table
    for text in (said(picture), " ".join(table.split())):
        assert "air beyond it is not told" in text
    assert [finding.value for finding in check_air_left(PLAN.panel, PLAN.routed, stopped)] == [1.5, 0.2]
    nothing = describe_filling(replace(PLAN, filling=stop_short((replace(far, shut=False),))))
    assert "no air stays" not in " ".join(nothing)


def test_a_pocket_is_named_alike_everywhere_first_by_what_holds_its_end():
    turned = stand((0.0, -1.0, 0.0))
    voxels = raster_wet(turned.detail.features, 1.0)
    openings = find_openings(turned.panel, turned.routed, turned.detail.features, voxels)
    left, _, _ = find_left_pockets(voxels, openings, turned.panel.up, tank_voxels(voxels))
    assert left.air
    for pocket in (*left.air, *left.coolant):
        (end,) = np.flatnonzero(np.all(np.abs(voxels.centres() - pocket.at) < 0.1, axis=1))
        assert pocket.features[0] == voxels.names[voxels.owner[end]]
    at = (150.0, 60.0, 4.0)
    pocket = Pocket(2100.0, at, at, 9.0, ("pump inlet bore", "channel feed"))
    filling = replace(FILLING, left=replace(FILLING.left, air=(pocket,), coolant=(pocket,)))
    told = '2.1 mL of {} stays in the pump inlet bore and channel "feed"'
    (air,) = check_air_left(PLAN.panel, PLAN.routed, filling)
    (coolant,) = check_drain_left(PLAN.panel, PLAN.routed, filling)
    assert told.format("air") in air.text
    assert told.format("coolant") in coolant.text
    row = tell_pocket(PLAN.panel, "air", pocket)
    assert row == (
        '2.1 mL in the pump inlet bore and channel "feed", highest at (150, 60) mm, 9 mm above where it could leave'
    )


def test_a_port_at_the_lowest_place_is_opened():
    """Upside down the fill port's bore is the lowest place: what stays is in it, not in the tank."""
    turned = stand((0.0, -1.0, 0.0))
    at = (105.0, 119.5, 8.0)
    pocket = Pocket(2200.0, at, (105.0, 100.0, 8.0), 19.0, ("port fill G1/4",))
    filling = replace(FILLING, left=replace(FILLING.left, coolant=(pocket,)))
    (finding,) = check_drain_left(turned.panel, turned.routed, filling)
    assert '2.2 mL of coolant stays in port "fill"' in finding.text
    assert finding.remedy.startswith(
        'Open port "fill" over a bowl: its bore is the lowest place, (105, 120) mm'
    )


def test_volumes_have_the_same_digits_in_table_and_finding():
    at = (100.0, 85.0, 4.5)
    pocket = Pocket(153.0, at, (80.0, 70.0, 4.5), 12.0, ("channel block - tank",))
    filling = replace(FILLING, left=replace(FILLING.left, air=(pocket,), air_mm3=153.0))
    (finding,) = check_air_left(PLAN.panel, PLAN.routed, filling)
    assert finding.text.startswith("0.2 mL of air")
    assert "0.2 mL" in describe_filled(PLAN, filling)


def test_a_port_that_a_remedy_names_is_drawn():
    at = (65.0, 1.0, 4.5)
    pocket = Pocket(2100.0, at, at, 9.0, ("channel feed",), (Relief("plug", 0.0, "drain"),))
    filling = replace(FILLING, left=replace(FILLING.left, air=(pocket,), coolant=()), proposals=())
    both = [text for text, _ in texts_of(draw_filling(PLAN, filling)) if text == "drain"]
    other = replace(pocket, reliefs=())
    bare = replace(filling, left=replace(filling.left, air=(other,)))
    one = [text for text, _ in texts_of(draw_filling(PLAN, bare)) if text == "drain"]
    assert (len(both), len(one)) == (2, 1)


@pytest.mark.parametrize("up", [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)])
def test_long_names_beside_the_panel_are_whole_and_off_the_other_view(up: Vec):
    name = "the tank's own return"
    ports = tuple(replace(port, name=name) if port.role == "fill" else port for port in PLAN.routed.ports)
    plan = replace(stand(up), routed=replace(PLAN.routed, ports=ports))
    picture = draw_filling(plan, sample_filling(plan, 2.0))
    assert_inside(picture)
    assert_no_text_over_text(picture)
    names = [box for text, box in texts_of(picture) if text == name]
    (heading,) = (
        box for text, box in texts_of(picture) if text.startswith("Coolant that stays when drained")
    )
    assert len(names) == 2
    first, second = sorted(names)
    assert first[0] >= MARGIN
    assert first[2] < heading[0] <= second[0]


def test_map_tells_white_and_the_finer_figure_as_installed():
    tilts = sample_tilts()
    left = replace(FILLING.left, air_mm3=4300.0, coolant_mm3=8210.0, spacing=0.5)
    picture = draw_tilts(PLAN, tilts, left)
    words = [text for text, _ in texts_of(picture)]
    assert "none" in words
    assert {"4.3", "8.2"} <= set(words)
    assert "about so much, counted on cubes of 1 mm (as installed on those of 0.5 mm)" in " ".join(words)
    assert "as installed 4.3 mL" in " ".join(words)
    assert_no_text_over_text(picture)


def test_names_keep_off_what_is_kept_clear():
    """A region just where a port's name would stand else."""
    view = View(900.0 / PLAN.panel.width, PLAN.panel.height)

    def origin_of(boxes: dict[str, Rect]) -> tuple[float, float]:
        """Return where the drawing begins: by a region's name, which stands in its middle."""
        x, y = view.to((14.0, 60.0))
        x0, y0, x1, y1 = boxes["slot"]
        # Texts' boxes lie a little over the middle of their labels: by less than their height.
        return (x0 + x1) / 2 - x, (y0 + y1) / 2 - y

    before = dict(texts_of(draw_plan(PLAN)))
    left, top = origin_of(before)
    name = before["inlet G1/4"]
    x0, x1 = ((x - left) / view.scale for x in (name[0], name[2]))
    y0, y1 = (PLAN.panel.height - (y - top) / view.scale for y in (name[3], name[1]))
    clear = (*PLAN.panel.keep_clear, KeepClear("h", (x0, y0, x1, y1), 1))
    after = dict(texts_of(draw_plan(replace(PLAN, panel=replace(PLAN.panel, keep_clear=clear)))))
    left, top = origin_of(after)
    (u0, v0), (u1, v1) = view.to((x0, y1)), view.to((x1, y0))
    region = (u0 + left, v0 + top, u1 + left, v1 + top)
    assert meet(after["inlet G1/4"], region) == 0.0


def test_a_panel_that_cannot_be_filled_has_no_coolant_in_its_map():
    stopped = stop_short(())
    assert stopped.sequence is not None
    empty = replace(stopped, sequence=replace(stopped.sequence, steps=(), inlet_covered_ml=None))
    picture = draw_filling(PLAN, empty)
    assert "The panel cannot be filled: what air would stay is not told" in said(picture)
    assert f'fill="{WATER}"/></g>' not in picture.split("Coolant that stays")[0].replace("\n", "")
