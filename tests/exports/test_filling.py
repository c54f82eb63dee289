"""How a panel fills and drains: both pictures, the tables, the report."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_filling import DEGREES, sample_filling, sample_tilts
from sample_plan import sample_plan
from sample_two_face_plan import two_face_plan

from exports.pictures.bow_picture import BANDS
from exports.pictures.filling_picture import draw_filling
from exports.pictures.filling_shapes import PER_MM, filled_areas, stack_columns, turn_view
from exports.pictures.filling_sheet import level_off, make_sheet
from exports.pictures.plan_symbols import SHEET, STILL, WATER
from exports.pictures.tilt_attitudes import draw_attitude, draw_upright_side
from exports.pictures.tilt_picture import CELL, draw_tilts, find_levels
from exports.report.filling import filling_section
from exports.tables.filling_tables import (
    carry_rows,
    describe_filled,
    describe_filling,
    pocket_rows,
    step_rows,
)
from exports.tables.text_tables import LINE
from exports.wording.fill_step_words import tell_sequence, tell_step
from exports.wording.filling_words import (
    name_holders,
    show_mm3,
    tell_attitude,
    tell_left,
    tell_proposal,
    tell_relief,
    tell_tilts,
)
from geom.frame import Vec
from geom.wet.raster import raster_wet
from geom.wet.voxels import voxels_of_mask
from layouts.filling.openings import tank_voxels
from layouts.filling.sequence_values import DryInlet, FillSequence
from layouts.filling.values import Filling, Left, Pocket, PortProposal, Relief, Tilt
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan

PLAN = sample_plan()
FILLING = sample_filling(PLAN)
UPS: tuple[Vec, ...] = (
    (1.0, 0.0, 0.0),
    (0.0, 0.0, 1.0),
    (0.5 * math.cos(0.3), math.sqrt(0.75) * math.cos(0.3), math.sin(0.3)),
)
POURED = re.compile(r"([\d.]+) mL more, ([\d.]+) mL in all")


def said(picture: str) -> str:
    return " ".join(text for text, _ in texts_of(picture))


def stand(up: Vec, plan: Plan = PLAN) -> Plan:
    return replace(plan, panel=replace(plan.panel, up=up))


def path_area(data: str) -> float:
    """Return the area of rings of relative steps, each a polygon, holes taken off."""
    total = 0.0
    for ring in data.split("z"):
        steps = [int(n) for n in re.findall(r"-?\d+", ring)]
        x = y = area = 0.0
        for dx, dy in zip(steps[2::2], steps[3::2], strict=True):
            area += 0.5 * (x * (y + dy) - (x + dx) * y)
            x, y = x + dx, y + dy
        total += area
    return abs(total)


def test_strip_tells_every_step_and_what_stays():
    picture = draw_filling(PLAN, FILLING)
    ElementTree.fromstring(picture)
    words = said(picture)
    assert FILLING.sequence is not None
    for step in FILLING.sequence.steps:
        assert f"{step.total_ml:.1f} mL in all" in words
    assert POURED.findall(words) == [("2.1", "5.3"), ("11.8", "17.1"), ("31.0", "48.1")]
    for wanted in (
        "1: pour until the pump's inlet is covered",
        "2: pour until the pump may run",
        "run the pump until",
        "(last of 4 times)",
        "5: fill the tank to its level again (last of 4 times): the loop is full",
        f"Air that stays when filled: {show_mm3(FILLING.left.air_mm3)}",
        f"Coolant that stays when drained: {show_mm3(FILLING.left.coolant_mm3)}",
        "proposed: bleed port G1/8 in the front face at (50, 90, 20) mm",
        "To fill and bleed",
        "Tilt the panel 15° to the left",
        "To drain",
        "Take the plug out of the drain.",
        "cubes of 1 mm",
        "no volume of block, hoses",
    ):
        assert wanted in words, wanted
    for pocket in FILLING.left.coolant:
        assert f"{show_mm3(pocket.volume_mm3)} in " in words
    assert len(picture.encode()) < 100_000
    assert picture == draw_filling(PLAN, sample_filling(PLAN))
    assert_inside(picture)
    assert_no_text_over_text(picture)


def test_what_is_wet_in_a_step_is_drawn_in_blue_and_what_stays_hatched():
    picture = draw_filling(PLAN, FILLING)
    assert FILLING.sequence is not None
    # One area for each step but the end, which is the last top-up's, and that of the filled panel under its pockets.
    assert len(re.findall(rf'<path d="[^"]+" fill="{WATER}"/>', picture)) == len(FILLING.sequence.steps)
    assert picture.count('fill="url(#stays-0)"') == 1
    assert 'fill="url(#air-0)"' not in picture
    turned = stand((0.0, -1.0, 0.0))
    filling = sample_filling(turned)
    assert filling.left.air
    assert draw_filling(turned, filling).count('fill="url(#air-0)"') == 1


@pytest.mark.published(source="closed form: a rectangle's area; a line that halves a triangle in steps")
def test_areas_have_the_size_of_what_is_filled_and_stairs_become_lines():
    mask = np.zeros((60, 40, 5), bool)
    mask[10:50, 5:30] = True
    voxels = voxels_of_mask(mask, 0.5)
    view = turn_view(PLAN.panel, PER_MM)[0]
    everywhere = np.ones(voxels.count, bool)
    columns = stack_columns(voxels, everywhere)
    # 20 x 12.5 mm, and 1 mm all round over what is dry.
    whole = filled_areas(columns, everywhere, 1.0, view)
    assert path_area(whole) / PER_MM**2 == pytest.approx(22.0 * 14.5, rel=1e-6)
    # Rows 5 to 16 of 5 to 29: nothing is drawn out over what is wet but not filled, a corner of 1 mm at each end.
    lower = voxels.cells[:, 1] < 17
    assert path_area(filled_areas(columns, lower, 1.0, view)) / PER_MM**2 == pytest.approx(22.0 * 7.0 + 2.0)
    leaning = voxels.cells[:, 1] < 5 + (voxels.cells[:, 0] - 10) * 0.625
    half = filled_areas(columns, leaning, 1.0, view)
    assert path_area(half) < 0.62 * path_area(whole)
    assert len(re.findall(r"-?\d+", half)) < 40
    assert filled_areas(columns, ~everywhere, 0.1, view) == ""


def test_a_column_filled_in_part_is_paler():
    lying = stand((0.0, 0.0, 1.0))
    picture = draw_filling(lying, sample_filling(lying))
    assert f'fill="{STILL}"' in picture
    assert "filled in part of its depth" in said(picture)
    assert "lies flat, its front face up, seen from the front" in said(picture)
    assert "filled in part" not in said(draw_filling(PLAN, FILLING))


@pytest.mark.parametrize("up", UPS)
def test_the_panel_is_turned_so_that_up_is_up(up: Vec):
    panel = stand(up).panel
    view, width, height = turn_view(panel, 2.0)
    across = math.hypot(up[0], up[1])
    corners = [view.to((x, y)) for x in (0.0, panel.width) for y in (0.0, panel.height)]
    assert min(x for x, _ in corners) == pytest.approx(0.0, abs=1e-9)
    assert min(y for _, y in corners) == pytest.approx(0.0, abs=1e-9)
    assert max(x for x, _ in corners) == pytest.approx(2.0 * width)
    assert max(y for _, y in corners) == pytest.approx(2.0 * height)
    if across > 0.1:
        low, high = view.to((50.0, 50.0)), view.to((50.0 + 9 * up[0] / across, 50.0 + 9 * up[1] / across))
        assert high == pytest.approx((low[0], low[1] - 18.0))


@pytest.mark.parametrize("up", UPS)
def test_no_text_over_text_however_the_panel_is_installed(up: Vec):
    plan = stand(up)
    filling = sample_filling(plan, 2.0)
    for picture in (draw_filling(plan, filling), draw_tilts(plan, sample_tilts())):
        assert_inside(picture)
        assert_no_text_over_text(picture)


def test_a_panel_with_two_faces_shows_both():
    plan = two_face_plan()
    picture = draw_filling(plan, sample_filling(plan))
    for wanted in ('id="wet-back"', 'id="wet-front"', 'clip-path="url(#in-front)"'):
        assert wanted in picture
    assert "Channels in the front face lie over" in said(picture)
    # A bore from the front into the back face counts to the channel that it opens into.
    sheet = make_sheet(plan, raster_wet(plan.detail.features, 1.0))
    owners = {sheet.voxels.names[k] for k in np.unique(sheet.voxels.owner[sheet.columns[1].which]).tolist()}
    assert owners == {"channel block - tank front", "port block outlet G1/4", "through hole block - tank 1"}
    assert_no_text_over_text(picture)


def test_the_tanks_surface_is_level_where_half_a_row_of_voxels_is_wet():
    voxels = raster_wet(PLAN.detail.features, 1.0)
    sheet = make_sheet(PLAN, voxels)
    tank = tank_voxels(voxels)
    rows = voxels.elevations(PLAN.panel.up)
    row = tank & (rows == rows[tank].min() + 5.0)
    under = tank & (rows < rows[row][0])
    for share, wet in ((0.3, False), (0.7, True)):
        some = np.flatnonzero(row)[: int(share * row.sum())]
        mask = under.copy()
        mask[some] = True
        assert bool(level_off(sheet, mask)[row].all()) == wet
        assert bool(level_off(sheet, mask)[row].any()) == wet
    assert not level_off(sheet, np.zeros(voxels.count, bool)).any()


def test_a_dry_inlet_is_told_before_anything_else():
    assert FILLING.sequence is not None
    dry = stop_at_level(DryInlet("sill", "the feed rises 12 mm over the coolant", (1, 2, 3), 12, 0, "mm", ()))
    picture = draw_filling(PLAN, replace(FILLING, sequence=dry))
    assert "The pump's inlet may be dry when the tank reads full: the feed rises 12 mm" in said(picture)
    assert "may be dry" in describe_filled(PLAN, replace(FILLING, sequence=dry))
    assert filling_section(replace(FILLING, sequence=dry), 0.06)["sequence"]["dry"] == {
        "cause": "sill",
        "why": "the feed rises 12 mm over the coolant",
        "at_mm": [1, 2, 3],
        "value": 12.0,
        "limit": 0.0,
        "unit": "mm",
        "features": [],
        "rule": "feed.first",
    }


def stop_at_level(dry: DryInlet) -> FillSequence:
    """Return the sample's fill where the pump may not run once the tank reads its level."""
    assert FILLING.sequence is not None
    steps = tuple(step for step in FILLING.sequence.steps if step.kind == "level reached")
    return replace(
        FILLING.sequence,
        steps=steps,
        inlet_covered_ml=None,
        may_run_ml=None,
        level_falls_mm=None,
        tops=0,
        total_ml=17.1,
        run_ml=None,
        dry=dry,
    )


def test_a_pump_that_may_not_run_is_told_and_no_fill_of_the_whole_loop():
    dry = DryInlet("bare", "the tank's outlet is bare at the level", (1, 2, 3), 2, 0, "mm", (), "feed.depth")
    bare = replace(FILLING, sequence=stop_at_level(dry))
    why = "The pump may not run: the tank's outlet is bare at the level"
    told = describe_filled(PLAN, bare)
    said_in_full = "17.1 mL goes in up to the tank's level; the pump may not"
    assert said_in_full in " ".join(told.split())
    assert why[1:] in " ".join(told.split())
    assert "from one filling" not in told
    picture = draw_filling(PLAN, bare)
    assert why in said(picture)
    assert said_in_full in said(picture)
    assert_inside(picture)
    assert_no_text_over_text(picture)
    # What stays is drawn over what the last step fills, not over a full loop.
    areas = re.findall(rf'<path d="[^"]+" fill="{WATER}"/>', picture)
    assert areas[-1] == areas[-2]
    assert "Air that stays when filled to the tank's level: 0 mL" in said(picture)
    assert "air beyond it is not told" in said(picture)


def test_without_a_sequence_the_pockets_are_still_drawn():
    picture = draw_filling(
        PLAN, replace(FILLING, sequence=None, bleed_order=(), drain_order=(), proposals=())
    )
    assert "pour" not in said(picture)
    assert f"Coolant that stays when drained: {show_mm3(FILLING.left.coolant_mm3)}" in said(picture)


@pytest.mark.parametrize("name", demo_names())
def test_pictures_of_the_examples_have_no_text_over_text(name: str):
    plan = plan_demo(name)
    assert plan.filling is not None
    picture = draw_filling(plan, plan.filling)
    assert_inside(picture)
    assert_no_text_over_text(picture)
    assert len(picture.encode()) < 100_000


def test_every_cell_of_the_map_tells_its_volume():
    tilts = sample_tilts()
    picture = draw_tilts(PLAN, tilts)
    ElementTree.fromstring(picture)
    size = 10.5
    cells = [text for text, (x0, y0, _, y1) in texts_of(picture) if abs((y1 - y0) - 0.85 * size) < 1e-6]
    numbers = [float(text) for text in cells if re.fullmatch(r"\d+(\.\d)?", text)]
    cells_each, levels = len(DEGREES) ** 2, len(find_levels(tilts))
    assert len(numbers) == 2 * cells_each + levels
    # The scale's numbers come last.
    for values, told in (
        (tilts.air_mm3, numbers[:cells_each]),
        (tilts.coolant_mm3, numbers[cells_each:-levels]),
    ):
        assert told == pytest.approx(values.ravel() / 1000.0, abs=0.0501)
    assert picture == draw_tilts(PLAN, sample_tilts())
    assert_inside(picture)
    assert_no_text_over_text(picture)


def test_map_marks_hatches_and_shades():
    tilts = sample_tilts()
    picture = draw_tilts(PLAN, tilts)
    hatched = int(np.count_nonzero(~tilts.tank_stays))
    # One more in the legend.
    assert picture.count('fill="url(#bared)"') == hatched + 1
    assert "bares its outlet or floods its fill port" in said(picture)
    everywhere = replace(tilts, tank_stays=np.ones_like(tilts.tank_stays))
    assert "hatched" not in said(draw_tilts(PLAN, everywhere))
    fills = re.findall(rf'width="{CELL:g}" height="{CELL:g}" fill="(#[0-9a-f]{{6}})"', picture)
    assert len(fills) == 2 * len(DEGREES) ** 2
    volumes = [*tilts.air_mm3.ravel().tolist(), *tilts.coolant_mm3.ravel().tolist()]
    shades = [(SHEET, *BANDS).index(fill) for _, fill in sorted(zip(volumes, fills, strict=True))]
    assert shades == sorted(shades)
    assert shades[0] == 0


@pytest.mark.published(source="closed form: rows by the tilt to the front, columns by that to the right")
def test_marks_stand_at_their_tilts():
    """The best tilt to fill is the leftmost cell of the middle row, to drain the lowest of the middle column."""
    picture = draw_tilts(PLAN, sample_tilts())
    frames = re.findall(
        r'<rect x="([\d.]+)" y="([\d.]+)" width="36" height="36" fill="none" stroke="#22303a"', picture
    )
    assert [(float(x) / CELL, float(y) / CELL) for x, y in frames] == [(0.0, 6.0), (6.0, 12.0)]


@pytest.mark.parametrize(
    ("most", "step", "count"),
    [(18.9, 2.5, 8), (80.1, 15.0, 6), (72.0, 10.0, 8), (0.4, 0.05, 8), (300.0, 40.0, 8)],
)
def test_scale_has_round_steps_and_holds_the_most(most: float, step: float, count: int):
    tilts = replace(sample_tilts(), coolant_mm3=np.array([[1000.0 * most]]), air_mm3=np.zeros((1, 1)))
    levels = find_levels(tilts)
    assert len(levels) == count + 1
    assert np.diff(levels) == pytest.approx(step)
    assert levels[-1] >= most * (1 - 1e-9)


def corners_of(pieces: list[str]) -> np.ndarray:
    """Return the corners of the first face drawn."""
    return np.array(
        [[float(v) for v in pair.split()] for pair in re.findall(r"-?[\d.]+ -?[\d.]+", pieces[0])]
    )


@pytest.mark.published(
    source="the words themselves: to the right lowers the right side, forwards brings the top forward"
)
@pytest.mark.parametrize("up", [(0.0, 1.0, 0.0), (1.0, 0.0, 0.0)])
def test_small_drawings_are_tilted_as_they_say(up: Vec):
    panel = stand(up).panel
    for right, lower in ((25.0, "right"), (-25.0, "left")):
        corners = corners_of(draw_attitude(panel, Tilt(right, 0.0), (0.0, 0.0), 40.0))
        # y points down: the two corners on that side stand lower than the two on the other.
        left, far = np.split(corners[corners[:, 0].argsort()], 2)
        assert (far[:, 1].mean() > left[:, 1].mean()) == (lower == "right")
        # The panel stays as it is: it is turned, not sheared.
        still = corners_of(draw_attitude(panel, Tilt(0.0, 0.0), (0.0, 0.0), 40.0))
        for by in (1, 2):
            before, after = (np.linalg.norm(c - np.roll(c, by, axis=0), axis=1) for c in (still, corners))
            assert after == pytest.approx(before, abs=0.02)
    for front in (25.0, -25.0):
        *_, face = draw_attitude(panel, Tilt(0.0, front), (0.0, 0.0), 40.0)
        (x0, y0), (x1, y1) = ([float(v) for v in p.split()] for p in re.findall(r"-?[\d.]+ -?[\d.]+", face))
        top, bottom = (x0, x1) if y0 < y1 else (x1, x0)
        # Who looks at the panel stands on the left.
        assert (top < bottom) == (front > 0)
    *_, face = draw_upright_side(panel, (0.0, 0.0), 40.0)
    (x0, _), (x1, _) = ([float(v) for v in p.split()] for p in re.findall(r"-?[\d.]+ -?[\d.]+", face))
    assert x0 == pytest.approx(x1)
    assert x0 < 0.0


def test_air_that_stays_is_told_with_what_goes_in():
    """A figure for each: what a still fill takes, and what is to be had ready."""
    assert FILLING.sequence is not None
    held = tell_sequence(replace(FILLING.sequence, whole_ml=54.0))
    assert held.startswith("48.1 mL goes in (54.0 mL with no air left), ")
    assert tell_sequence(replace(FILLING.sequence, whole_ml=48.1)).startswith("48.1 mL goes in, ")


def test_no_tilt_is_named_that_is_not_worth_it():
    """As installed 5 mL stays; where some tilt leaves less, none does much better, else none does better."""
    level = replace(sample_tilts(), fill_best=Tilt(0.0, 0.0))
    assert tell_tilts(PLAN.panel, level)[0].endswith("and no tilt does much better.")
    even = replace(level, air_mm3=np.full((13, 13), 5000.0))
    assert tell_tilts(PLAN.panel, even)[0].endswith("and no tilt does better.")
    picture = said(draw_tilts(PLAN, level))
    assert "best tilt" in picture
    assert "within 0.2 mL of the least" in picture
    assert "least stays" not in picture


def test_flat_panels_are_lifted_by_their_edges():
    flat = stand((0.0, 0.0, 1.0))
    assert "upper edge up" in said(draw_tilts(flat, sample_tilts()))
    assert "backwards" not in said(draw_tilts(flat, sample_tilts()))
    assert tell_tilts(flat.panel, sample_tilts())[1].startswith(
        "To drain, lift the panel's upper edge by 45°: "
    )


def test_tilts_and_attitudes_in_words():
    fill, drain = tell_tilts(PLAN.panel, sample_tilts())
    assert fill == "To fill, tilt the panel by 45° to the left: 0 mL of air stays; as installed 5.0 mL."
    assert drain == "To drain, tilt the panel by 45° forwards: 0 mL of coolant stays; as installed 9.0 mL."
    level = replace(sample_tilts(), fill_best=Tilt(0.0, 0.0))
    assert tell_tilts(PLAN.panel, level)[0].endswith("5.0 mL of air stays, and no tilt does much better.")
    # One figure for the installed attitude: that of the finer voxels.
    fine = replace(FILLING.left, air_mm3=4300.0, coolant_mm3=8200.0)
    assert tell_tilts(PLAN.panel, sample_tilts(), fine)[0].endswith("as installed 4.3 mL.")
    assert tell_tilts(PLAN.panel, level, fine)[0].endswith(
        "4.3 mL of air stays, and no tilt does much better."
    )
    bare = replace(sample_tilts(), tank_stays=np.zeros((13, 13), bool))
    assert tell_tilts(PLAN.panel, bare)[0] == (
        "To fill, no tilt keeps the tank's outlet in coolant and its fill port over it: as installed 5.0 mL of air "
        "stays."
    )
    told = [
        tell_attitude(stand(up).panel) for up in ((0.0, 1.0, 0.0), *UPS, (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0))
    ]
    assert told == [
        "stands upright",
        "stands on its left edge",
        "lies flat, its front face up",
        "stands turned 30° counter-clockwise and leans back 17°",
        "stands on its upper edge",
        "stands on its right edge",
    ]


def test_pockets_and_reliefs_in_words():
    three = ("channel a - b", "port x inlet G1/4", "tank")
    assert name_holders(three) == 'channel "a - b", port "x inlet" and the tank'
    assert name_holders((*three, "pump inlet bore")) == 'channel "a - b", port "x inlet" and 2 more'
    assert name_holders(("pump inlet bore",)) == "the pump inlet bore"
    assert [show_mm3(v) for v in (10.0, 300.0, 10700.0, 150_400.0)] == ["0 mL", "0.3 mL", "10.7 mL", "150 mL"]
    reliefs = (
        Relief("bleed", 0.0, "a - b", (10.2, 20.0, 20.0)),
        Relief("hose", 300.0, "x inlet"),
        Relief("move", 0.0, "x inlet", (10.0, 50.0, 20.0)),
        Relief("tilt", 1200.0, tilt=Tilt(-15.0, 0.0)),
    )
    assert [tell_relief(PLAN.panel, "coolant", relief) for relief in reliefs] == [
        "bleed port at (10, 20) mm: 0 mL stays",
        'take the hose off at "x inlet": 0.3 mL stays',
        'move "x inlet" to (10, 50) mm: 0 mL stays in all',
        "tilt the panel by 15° to the left: 1.2 mL stays in all",
    ]
    airy = (
        Relief("plug", 0.0, "drain"),
        Relief("hose", 0.0, "x inlet"),
        Relief("slope", 0.0, tilt=Tilt(2.0, 0.0)),
    )
    assert [tell_relief(PLAN.panel, "air", relief) for relief in airy] == [
        'loosen the plug of "drain" while filling: 0 mL stays',
        'lead the hose at "x inlet" upwards: 0 mL stays',
        "install with a slope, 2° to the right: 0 mL stays",
    ]


def test_fill_table_has_a_row_for_each_step():
    assert FILLING.sequence is not None
    head, first, ready, second, run, top = step_rows(FILLING.sequence)
    assert head[1:4] == ("filling", "poured", "in all")
    assert first[:4] == ("1", "the pump's inlet is covered", "3.2 mL", "3.2 mL")
    assert ready[:4] == ("2", "the pump may run", "2.1 mL", "5.3 mL")
    assert second[2:4] == ("11.8 mL", "17.1 mL")
    assert run[1:3] == ("the pump runs", "-")
    # The end would say the same once more.
    assert top[1] == "the loop is full (last of 4 times)"
    assert top[6] == "100 %"
    *steps, end = FILLING.sequence.steps
    parted = replace(FILLING.sequence, steps=(*steps, replace(end, poured_ml=1.0)))
    assert [row[1] for row in step_rows(parted)[-2:]] == [
        "the tank is filled up again (last of 4 times)",
        "the loop is full",
    ]


def test_a_run_that_fills_the_loop_is_told_as_such():
    assert FILLING.sequence is not None
    run = FILLING.sequence.steps[3]
    assert tell_step(run) == "run the pump until the tank's outlet is nearly bare"
    assert tell_step(replace(run, loop_share=1.0)) == "run the pump until the loop is full"
    assert tell_step(replace(run, times=3)).endswith("nearly bare (first of 3 times)")


def test_pockets_too_small_to_be_told_are_counted():
    pocket = Pocket(2000.0, (1.0, 2.0, 3.0), None, 0.0, ("tank",))
    rows = pocket_rows("air", (pocket,))
    assert rows[1] == ("1", "2.0 mL", "the tank", "(1, 2) mm", "shut in")
    left = replace(FILLING.left, air=(pocket, replace(pocket, volume_mm3=30.0)))
    told = describe_filled(PLAN, replace(FILLING, left=left))
    assert "and 1 of less than 0.05 mL" in told
    left = replace(FILLING.left, air=(replace(pocket, volume_mm3=30.0),), air_mm3=30.0)
    picture = draw_filling(PLAN, replace(FILLING, left=left))
    assert "and 1 of less than 0.05 mL" in said(picture)


def test_moving_air_has_a_row_for_each_piece():
    head, feed, back = carry_rows(FILLING.carries, 0.06)
    assert head[4:] == ("in use", "full speed", "carried from", "air is")
    assert feed == ("feed", "(115, 78)", "43 mm", "90°", "0.57", "0.61", "0.31-0.34", "carried down")
    assert back[-1] == "may be carried"


def test_plan_tells_what_matters_and_make_all_of_it():
    plan = replace(PLAN, filling=FILLING)
    short = describe_filling(plan)
    assert short[:2] == ["", "filling"]
    joined = " ".join(short)
    assert (
        "48.1 mL goes in, the pump's inlet is covered after 3.2 mL, the pump may run from 5.3 mL on, the tank is "
        "filled up again 4 times" in joined
    )
    assert "coolant stays when drained" in joined
    assert 'not surely carried down 1 falling piece of 2: "block - tank"' in joined
    assert describe_filling(replace(PLAN, filling=None)) == []
    whole = describe_filled(PLAN, FILLING)
    for wanted in (
        "its level would fall 12 mm",
        "no volume is known of block and hoses",
        "channel feed",
        " 4.2 mm",
    ):
        assert wanted in whole.replace("\n", " "), wanted
    assert " 1  Open the fill port and pour slowly." in whole.splitlines()
    assert max(len(line) for line in (*short, *whole.splitlines())) <= LINE


def test_demos_tables_are_no_wider_than_a_terminal():
    for name in demo_names():
        plan = plan_demo(name)
        assert plan.filling is not None
        lines = [*describe_filling(plan), *describe_filled(plan, plan.filling).splitlines()]
        # Long names of channels are shortened; a verdict may stand out a little.
        assert max(len(line) for line in lines) <= LINE + 10, name


def test_report_has_every_value_with_its_unit():
    section = json.loads(json.dumps(filling_section(FILLING, 0.06), allow_nan=False))
    assert section.keys() >= {
        "spacing_mm",
        "wet_mm3",
        "air_left",
        "coolant_left",
        "leaves",
        "sequence",
        "carries",
        "locked_bores",
        "bleed_order",
        "drain_order",
        "proposals",
        "tilts",
    }
    assert section["wet_mm3"] == FILLING.left.wet_mm3
    for pocket, value in zip(section["coolant_left"], FILLING.left.coolant, strict=True):
        assert pocket["volume_mm3"] == pytest.approx(value.volume_mm3, rel=1e-3)
        assert pocket["at_mm"] == list(value.at)
    assert section["sequence"]["inlet_covered_ml"] == 3.2
    assert section["sequence"]["may_run_ml"] == 5.3
    assert section["sequence"]["dry"] is None
    assert section["sequence"]["steps"][2] == {
        "kind": "level reached",
        "times": 1,
        "poured_ml": 11.8,
        "total_ml": 17.1,
        "level_mm": section["sequence"]["steps"][2]["level_mm"],
        "tank_share": section["sequence"]["steps"][2]["tank_share"],
        "loop_share": 0.0,
        "poured_range_ml": None,
        "total_range_ml": None,
        "times_range": None,
        "to_mouth": False,
    }
    assert section["carries"][1]["verdict"] == "may be carried"
    assert section["carries"][1]["clears_m_s"] == [0.31, 0.34]
    assert section["bleed_order"][1]["opening"] is None
    assert [step["opening"] for step in section["drain_order"]] == [None, "drain"]
    tilts = section["tilts"]
    assert tilts["best_drain"] == {"right_deg": 0.0, "front_deg": 45.0}
    assert np.shape(tilts["air_ml"]) == np.shape(tilts["tank_stays"]) == (13, 13)
    assert tilts["coolant_ml"][12][6] == 0.0
    assert tilts["coolant_ml"][0][6] == 18.0
    assert filling_section(None, 0.06) is None
    assert filling_section(replace(FILLING, tilts=None, sequence=None), 0.06)["tilts"] is None


def test_amounts_that_hoses_leave_open_are_told_as_ranges():
    """Nobody is told to pour more than the tank may take: by its level, and how much that may be."""
    assert FILLING.sequence is not None
    steps = tuple(
        replace(
            step, total_range_ml=(7.0, 17.1), times_range=(4, 9) if step.kind in ("run", "top up") else None
        )
        for step in FILLING.sequence.steps
    )
    wide = replace(
        FILLING.sequence,
        steps=steps,
        may_run_range_ml=(2.0, 5.3),
        level_range_ml=(7.0, 17.1),
        tops_range=(4, 9),
    )
    some = replace(FILLING, sequence=wide)
    picture = said(draw_filling(PLAN, some))
    told = " ".join(describe_filled(PLAN, some).split())
    for words in ("the pump may run from 2 to 5 mL on", "filled up again 4 to 9 times"):
        assert words in picture
        assert words in told
    assert "7 to 17 mL in all" in picture
    assert "pour only until the tank reads its level" in picture
    assert "last of 4 to 9 times" in told
    assert "pour only until the tank reads its level" in told
    assert "pour only until the tank reads its level" in " ".join(
        describe_filling(replace(PLAN, filling=some))
    )
    assert "pour only" not in describe_filled(PLAN, FILLING)
    report = filling_section(some, 0.06)["sequence"]
    assert report["may_run_range_ml"] == [2.0, 5.3]
    assert report["tops_range"] == [4, 9]
    assert report["steps"][2]["total_range_ml"] == [7.0, 17.1]


def test_a_panel_that_cannot_be_filled_has_no_steps():
    assert FILLING.sequence is not None
    why = DryInlet("shut", "the tank has no fill port", (1, 2, 3), 0.0, 0.0, "", ("tank",), "tank.fill")
    shut = replace(
        FILLING,
        sequence=replace(FILLING.sequence, steps=(), may_run_ml=None, inlet_covered_ml=None, dry=why, tops=0),
    )
    told = describe_filled(PLAN, shut)
    assert "to fill: the panel cannot be filled: the tank has no fill port" in told
    assert "goes in" not in told
    assert "poured" not in told
    picture = draw_filling(PLAN, shut)
    assert "The panel cannot be filled: the tank has no fill port" in said(picture)
    assert_inside(picture)
    assert filling_section(shut, 0.06)["sequence"]["steps"] == []


def test_a_fill_port_under_the_level_is_told():
    assert FILLING.sequence is not None
    steps = tuple(
        replace(step, to_mouth=step.kind in ("level reached", "top up")) for step in FILLING.sequence.steps
    )
    low = replace(FILLING, sequence=replace(FILLING.sequence, steps=steps))
    picture = said(draw_filling(PLAN, low))
    assert "3: fill the tank to its fill port's mouth, the pump at rest" in picture
    assert "the tank takes coolant only up to its fill port's mouth" in picture
    assert "the tank is filled to its fill port" in describe_filled(PLAN, low)


def test_a_plug_that_serves_both_is_told():
    bleed = PortProposal(
        "bleed", "feed", "front", (104.0, 40.0, 22.0), "G1/8", 0.0, built=True, also_mm3=3000.0
    )
    assert tell_proposal(bleed).endswith("0 mL less air, and 3.0 mL less coolant, for it drains too")
    drain = replace(bleed, kind="drain", clears_mm3=900.0, also_mm3=150.0)
    assert tell_proposal(drain).endswith(
        "0.9 mL less coolant, and 0.1 mL less air once its plug is opened while filling"
    )
    assert tell_proposal(replace(drain, also_mm3=0.0)).endswith("0.9 mL less coolant")


def test_a_panel_without_a_drain_is_told_to_be_drained_through_its_hoses():
    filling = Filling(Left((0.0, 1.0, 0.0), 1.0, 1e5, (), (), 0.0, 0.0, through_hoses=True))
    assert tell_left(filling, "coolant") == "coolant that stays when drained through the hose mouths: 0 mL"
    assert tell_left(filling, "air") == "air that stays when filled: 0 mL"
