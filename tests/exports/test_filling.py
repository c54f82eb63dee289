"""How a panel fills and drains: both pictures."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_filling import DEGREES, UPS, said, sample_filling, sample_tilts, stand
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
    describe_filled,
)
from exports.wording.filling_words import (
    show_mm3,
)
from geom.frame import Vec
from geom.wet.raster import raster_wet
from geom.wet.voxels import voxels_of_mask
from layouts.filling.openings import tank_voxels
from layouts.filling.sequence_values import DryInlet, FillSequence
from layouts.filling.values import Tilt
from layouts.panels.catalogue import demo_names

PLAN = sample_plan()
FILLING = sample_filling(PLAN)
POURED = re.compile(r"([\d.]+) mL more, ([\d.]+) mL in all")


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
