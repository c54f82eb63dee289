"""Placing labels: what overlaps is found, what finds no room is told, texts of ordinates keep apart."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plan import sample_plan

from exports.drawing.annotations import linear_label, linear_lines, ordinate_label, ordinate_lines
from exports.drawing.draft import LEFT_OUT, Draft, finish_sheet
from exports.drawing.flow_tables import flow_pieces
from exports.drawing.ordinates import PITCH, draw_ordinates, spread
from exports.drawing.overlaps import count_overlaps, label_box
from exports.drawing.paper import Box
from exports.drawing.placing import Field, Tag, place_tags
from exports.drawing.projection import Pads, arrange_views
from exports.drawing.sheet_tables import Table, wrap_text
from exports.drawing.values import Label, Leader, Linear, Ordinate, PlacedView, Sheet, Stroke, View, ViewLine
from exports.lettering import text_width
from geom.frame import Face
from geom.outline import Arc, Line

SQUARE = View(
    "square",
    (40.0, 20.0),
    tuple(
        ViewLine(Line(a, b), "visible")
        for a, b in (
            ((0.0, 0.0), (40.0, 0.0)),
            ((40.0, 0.0), (40.0, 20.0)),
            ((40.0, 20.0), (0.0, 20.0)),
            ((0.0, 20.0), (0.0, 0.0)),
        )
    ),
)


def sheet_of(*items, views=()) -> Sheet:
    return Sheet(1, "sheet", "part", (220.0, 80.0), 1.0, tuple(views), items)


def test_labels_that_overlap_are_found():
    apart = (Label("one", (10.0, 10.0), 2.5), Label("two", (10.0, 15.0), 2.5))
    assert count_overlaps(sheet_of(*apart)) == ()
    assert count_overlaps(sheet_of(apart[0], Label("two", (12.0, 11.0), 2.5))) == (("one", "two"),)


def test_lines_through_letters_are_found_whatever_they_belong_to():
    label = Label("text", (10.0, 10.0), 2.5)
    stroke = Stroke(Line((0.0, 11.0), (50.0, 11.0)), "thin")
    assert count_overlaps(sheet_of(label, stroke)) == (("text", "a line"),)
    arc = Stroke(Arc((12.0, 6.0), 5.0, 0.0, math.pi), "visible")
    assert count_overlaps(sheet_of(label, arc)) == (("text", "a line"),)
    view = PlacedView(SQUARE, (12.0, 0.0), 1.0)
    assert count_overlaps(sheet_of(label, views=[view])) == (("text", "square"),)
    leader = Leader(((0.0, 11.0), (30.0, 11.0)), ("far",), 2.5)
    assert count_overlaps(sheet_of(label, leader)) == (("text", 'the line of "far"'),)


def test_leaders_may_cross_lines_but_not_the_edge_of_the_paper():
    leader = Leader(((0.0, 20.0), (30.0, 20.0)), ("near",), 2.5)
    stroke = Stroke(Line((10.0, 0.0), (10.0, 50.0)), "thin")
    assert count_overlaps(sheet_of(leader, stroke)) == ()
    assert count_overlaps(sheet_of(Label("over the edge", (210.0, 10.0), 2.5))) == (
        ("over the edge", "the edge of the paper"),
    )


def test_turned_labels_have_turned_boxes():
    flat, upright = (Label("Ø12.5", (10.0, 10.0), 2.5, turned=turned) for turned in (0.0, 90.0))
    (w, h), (h2, w2) = (np.ptp(label_box(label), axis=0) for label in (flat, upright))
    assert (w, h) == pytest.approx((w2, h2))
    assert w == pytest.approx(text_width("Ø12.5", 2.5), rel=0.02)
    # Turned counter-clockwise about its start: it runs up, its letters' tops to the left.
    assert label_box(upright)[:, 0].min() == pytest.approx(7.5)


def test_tags_stand_where_there_is_no_ink():
    ink = Field(Box(0.0, 0.0, 60.0, 60.0))
    ink.draw_lines([np.array([(0.0, y), (60.0, y)]) for y in range(0, 60, 2) if not 30 <= y <= 40])
    items, left = place_tags([Tag(("A1",), (30.0, 20.0), 1.0)], ink)
    assert left == ()
    (leader,) = items
    assert isinstance(leader, Leader)
    assert 30.0 < leader.points[1][1] < 40.0


def test_tags_that_find_no_room_are_told_on_the_sheet():
    plan = sample_plan()
    draft = Draft("crowd", "body", "part drawing", "none", False, 1.0)
    # Lines a millimetre apart all over the frame, but for a strip at the bottom: only there letters have room.
    for k in range(60, 281):
        draft.items.append(Stroke(Line((25.0, float(k)), (405.0, float(k))), "thin"))
    draft.tags += [Tag((f"S{k}",), (30.0 + 3 * k, 200.0), 1.0) for k in range(100)]
    sheet = finish_sheet(draft, plan.panel, 1, 1)
    said = " ".join(label.text for label in sheet.items if isinstance(label, Label))
    assert LEFT_OUT in said
    assert "S99" in said
    assert count_overlaps(sheet) == ()


def test_a_tag_gives_way_where_it_has_another_place():
    ink = Field(Box(0.0, 0.0, 40.0, 40.0))
    tags = [Tag((f"S{k}",), (10.0 + 4.0 * k, 20.0), 1.0) for k in range(5)]
    items, left = place_tags(tags, ink)
    assert left == ()
    assert len(items) == 5
    assert count_overlaps(sheet_of(*items)) == ()


@given(
    st.lists(st.floats(0.0, 300.0), min_size=1, max_size=30).map(sorted),
    st.floats(1.0, 8.0),
)
def test_spread_keeps_order_and_distance_and_moves_nothing_that_has_room(wanted: list[float], pitch: float):
    places = spread(wanted, pitch)
    gaps = np.diff(places)
    assert (gaps >= pitch - 1e-9).all()
    assert sum(places) == pytest.approx(sum(wanted), abs=1e-6)
    for k, at in enumerate(wanted):
        lonely = all(abs(at - other) > pitch * len(wanted) for j, other in enumerate(wanted) if j != k)
        if lonely:
            assert places[k] == pytest.approx(at)


def test_spread_of_two_that_coincide_is_even():
    assert spread([10.0, 10.0], 4.0) == [8.0, 12.0]


def test_ordinates_of_one_coordinate_are_one_and_nearest_to_their_text():
    placed = PlacedView(SQUARE, (30.0, 30.0), 1.0)
    points = [(10.0, 15.0), (10.0, 5.0), (20.0, 10.0), (10.001, 18.0)]
    below = draw_ordinates(0, placed, points, "u")
    assert [one.at for one in below] == [(10.0, 5.0), (20.0, 10.0)]
    above = draw_ordinates(0, placed, points, "u", before=False)
    assert above[0].at[1] == 18.0
    assert all(one.label[1] < 30.0 for one in below)
    assert all(one.label[1] > 50.0 for one in above)


@given(
    st.sampled_from(["u", "v"]),
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 20)), min_size=1, max_size=25, unique=True),
)
def test_texts_of_ordinates_never_overlap(axis, points):
    placed = PlacedView(SQUARE, (120.0, 120.0), 1.0)
    told = draw_ordinates(0, placed, [(float(u), float(v)) for u, v in points], axis)
    sheet = Sheet(1, "", "", (400.0, 400.0), 1.0, (placed,), told)
    assert count_overlaps(sheet) == ()
    k = 0 if axis == "u" else 1
    for one in told:
        assert float(ordinate_label(one, placed).text) == one.at[k]
    labels = [one.label[k] for one in told]
    assert all(b - a >= PITCH - 1e-9 for a, b in pairwise(labels))


def test_leader_of_an_ordinate_runs_from_the_feature_to_the_text():
    placed = PlacedView(SQUARE, (30.0, 30.0), 0.5)
    one = Ordinate(0, "u", (20.0, 10.0), (44.0, 10.0))
    lines = ordinate_lines(one, placed)
    assert lines[0].start[0] == pytest.approx(40.0)
    assert lines[-1].end == (44.0, 10.0)
    assert all(a.end == b.start for a, b in pairwise(lines))


def test_text_beside_a_short_dimension_has_the_line_under_it():
    placed = PlacedView(SQUARE, (30.0, 30.0), 1.0)
    one = Linear(0, "u", (0.0, 0.0), (1.5, 0.0), 20.0, text=45.0)
    label = linear_label(one, placed)
    line = linear_lines(one, placed)[0]
    half = text_width(label.text, label.height) / 2
    assert label.text == "1.5"
    assert line.end[0] >= 45.0 + half - 1e-9
    assert count_overlaps(sheet_of(one, views=[placed])) == ()


@given(st.floats(20, 100), st.floats(20, 60), st.floats(2, 20), st.floats(0, 20))
def test_third_angle_is_first_angle_mirrored_but_for_the_back(w: float, h: float, d: float, pad: float):
    sizes: dict[Face, tuple[float, float]] = {"front": (w, h), "back": (w, h)}
    sizes |= {"left": (d, h), "right": (d, h), "top": (w, d), "bottom": (w, d)}
    pads = {face: Pads(pad, pad, pad, pad) for face in sizes}
    first, _ = arrange_views(sizes, pads, "first angle")
    third, _ = arrange_views(sizes, pads, "third angle")

    def beside(at: dict[Face, tuple[float, float]], face: Face) -> tuple[bool, bool]:
        return at[face][0] > at["front"][0], at[face][1] > at["front"][1]

    for a, k in (("left", 0), ("right", 0), ("top", 1), ("bottom", 1)):
        assert beside(first, a)[k] != beside(third, a)[k]
    for at in (first, third):
        assert all(at["back"][0] >= at[face][0] for face in sizes)
        boxes = [(x, y, x + sizes[f][0], y + sizes[f][1]) for f, (x, y) in at.items()]
        for i, a_box in enumerate(boxes):
            for b_box in boxes[:i]:
                apart = (
                    a_box[2] <= b_box[0] + 1e-9
                    or b_box[2] <= a_box[0] + 1e-9
                    or a_box[3] <= b_box[1] + 1e-9
                    or b_box[3] <= a_box[1] + 1e-9
                )
                assert apart


def test_a_table_that_is_cut_keeps_every_row_and_repeats_its_head():
    rows = tuple(((f"S{k}",), (f"{k}",)) for k in range(40))
    table = Table(("many",), ("No.", "x"), rows)
    items, left = flow_pieces([table], [Box(5.0, 5.0, 205.0, 65.0)])
    assert left == []
    texts = [item.text for item in items if isinstance(item, Label)]
    assert [text for text in texts if text.startswith("S")] == [f"S{k}" for k in range(40)]
    assert texts.count("No.") == texts.count("many") > 1
    assert count_overlaps(sheet_of(*items)) == ()


@given(st.text(alphabet="abc ", min_size=1, max_size=60).map(str.strip).filter(bool), st.floats(5, 80))
def test_wrapping_keeps_every_word(text: str, width: float):
    lines = wrap_text(text, width)
    assert " ".join(lines).split() == text.split()
    assert all(text_width(line, 2.5) <= width or " " not in line for line in lines)
