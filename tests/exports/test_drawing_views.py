"""Views, sections and their marks against what the plate was made of: every line, arc, place and area."""

from __future__ import annotations

import math

import cadquery as cq
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed
from sample_drawing import (
    CORNER,
    EDGE_PORT,
    FEATURES,
    HEIGHT,
    POCKET,
    POCKET_CORNER,
    TAPPED,
    THICK,
    THROUGH,
    WIDTH,
    plate_solids,
)

from exports.drawing import hidden_lines
from exports.drawing.frames import AXES, CuttingPlane, cut_frame
from exports.drawing.inside_circle import clip_region, clip_segment
from exports.drawing.merged_lines import merge_lines
from exports.drawing.round_features import (
    add_threads,
    centre_marks,
    cut_centre_lines,
    cut_thread_lines,
    major_diameter,
)
from exports.drawing.sections import cut_parts, detail_of, section_frame
from exports.drawing.values import CutFace, View, ViewLine
from exports.drawing.views import frame_of, view_part, view_parts
from geom.build import SolidPart, build_solids
from geom.features import Blank, Cylinder, Detail, Feature, Prism
from geom.frame import EDGES, Face
from geom.kernel import find_volume
from geom.outline import (
    Arc,
    Line,
    Loop,
    Region,
    Segment,
    loop_area,
    loop_polygon,
    outline_circle,
    outline_rectangle,
    region_polygon,
    reverse_segment,
)
from layouts.milling.frame import SetUpPlane

FACES: tuple[Face, ...] = ("front", "back", *EDGES)
BODY = "body"


def plate() -> tuple[SolidPart, ...]:
    return plate_solids().parts


def see(face: Face) -> View:
    return view_part(plate_solids().part(BODY), f"body {face}", face)


def pieces(view: View, style: str) -> set[tuple[object, ...]]:
    """Return a view's lines of a style as bare numbers: lines by their ends in order, arcs by all that they are."""
    out: set[tuple[object, ...]] = set()
    for line in view.lines:
        if line.style == style:
            out.add(bare(line.segment))
    return out


def bare(s: Segment) -> tuple[object, ...]:
    if isinstance(s, Line):
        return "line", *sorted((rounded(s.start), rounded(s.end)))
    if abs(s.sweep) > 2 * math.pi - 1e-6:
        return "circle", rounded(s.centre), round(s.radius, 3)
    ends = sorted((rounded(s.start), rounded(s.end)))
    return "arc", rounded(s.centre), round(s.radius, 3), *ends


def rounded(point: tuple[float, float]) -> tuple[float, float]:
    return round(point[0], 3) + 0.0, round(point[1], 3) + 0.0


def outline(x0: float, y0: float, x1: float, y1: float, radius: float) -> set[tuple[object, ...]]:
    return {bare(s) for s in outline_rectangle(x0, y0, x1, y1, radius)}


def circle(u: float, v: float, radius: float) -> tuple[object, ...]:
    return "circle", (u, v), round(radius, 3)


def cross_area(region: Region) -> float:
    return math.fsum(loop_area(loop) for loop in region)


def test_front_shows_outline_and_mouths_and_nothing_else():
    view = see("front")
    assert view.size == (WIDTH, HEIGHT)
    expected = outline(0, 0, WIDTH, HEIGHT, CORNER)
    expected |= {circle(48, 30, THROUGH.radius), circle(48, 12, TAPPED.radius)}
    assert pieces(view, "visible") == expected


def test_back_is_mirrored_and_shows_the_pocket():
    x0, y0, x1, y1 = POCKET
    expected = outline(0, 0, WIDTH, HEIGHT, CORNER) | outline(WIDTH - x1, y0, WIDTH - x0, y1, POCKET_CORNER)
    assert pieces(see("back"), "visible") == expected | {circle(WIDTH - 48, 30, THROUGH.radius)}


def test_edge_is_a_rectangle_with_its_bore():
    view = see("left")
    assert view.size == (HEIGHT, THICK)
    expected = outline(0, 0, HEIGHT, THICK, 0) | {circle(HEIGHT - 16, 5, EDGE_PORT.radius)}
    assert pieces(view, "visible") == expected


def test_edge_shows_nothing_of_what_is_cut_into_the_faces():
    assert pieces(see("bottom"), "visible") == outline(0, 0, WIDTH, THICK, 0)


@pytest.mark.parametrize("face", FACES)
def test_frame_is_that_of_the_set_up(face: Face):
    plane = SetUpPlane(face, (0.0, 0.0, 0.0), (WIDTH, HEIGHT, THICK))
    frame = frame_of(plate(), face)
    assert frame.size == pytest.approx(plane.size)
    for point in ((3.0, 7.0, 2.0), (55.0, 30.0, 9.0)):
        u, v, depth = plane.to_plane(point)
        assert frame.to_view(point) == pytest.approx((u, v))
        assert frame.depth(point) == pytest.approx(depth)


@pytest.mark.parametrize("axis", AXES)
@pytest.mark.parametrize("towards", [1, -1])
def test_section_frames_are_right_handed_and_stand_upright(axis, towards):
    plane = CuttingPlane(axis, 5.0, towards)
    frame = cut_frame(plane, (0.0, 0.0, 0.0), (WIDTH, HEIGHT, THICK))
    (a, b, c), (d, e, f) = frame.right, frame.up
    cross = (b * f - c * e, c * d - a * f, a * e - b * d)
    assert cross == frame.towards
    assert frame.towards[AXES.index(axis)] == towards
    if axis != "y":
        assert frame.up == (0.0, 1.0, 0.0)
    corners = [frame.to_view((x, y, z)) for x in (0, WIDTH) for y in (0, HEIGHT) for z in (0, THICK)]
    assert min(u for u, _ in corners) == min(v for _, v in corners) == 0.0


def test_section_through_two_holes_has_the_area_of_what_is_left():
    view = cut_parts(plate(), CuttingPlane("x", 48.0), "A-A")
    expected = HEIGHT * THICK - 2 * THROUGH.radius * THICK - 2 * TAPPED.radius * TAPPED.length
    assert cross_area(tuple(loop for cut in view.cuts for loop in cut.region)) == pytest.approx(expected)
    assert view.size == (THICK, HEIGHT)
    # Seen from the right the front is left: the tapped hole's mouth is at u = 0, its floor 8 mm in.
    floor = ("line", (8.0, 12.0 - TAPPED.radius), (8.0, 12.0 + TAPPED.radius))
    assert floor in pieces(view, "visible")


def test_section_across_bores_has_true_circles():
    view = cut_parts(plate(), CuttingPlane("z", 7.0), "C-C")
    (cut,) = view.cuts
    outer, *holes = cut.region
    assert loop_area(outer) == pytest.approx(WIDTH * HEIGHT - (4 - math.pi) * CORNER**2)
    assert all(isinstance(s, Arc) for loop in holes for s in loop if loop_area(loop) < 0 and len(loop) < 3)
    assert {circle(48, 30, THROUGH.radius), circle(48, 12, TAPPED.radius)} <= pieces(view, "visible")


def test_edges_beyond_the_plane_are_those_behind_it_only():
    low = cq.Workplane().box(5, 10, 4, centered=False)
    step = SolidPart("step", low.union(cq.Workplane(origin=(5, 0, 0)).box(5, 10, 10, centered=False)).val())
    # Seen from the left: the low end is cut, the high one stands behind it; the front is right.
    view = cut_parts((step,), CuttingPlane("x", 2.0, -1), "A-A")
    assert pieces(view, "visible") == outline(0, 0, 4, 10, 0)
    assert pieces(view, "beyond") == {
        ("line", (4.0, 0.0), (10.0, 0.0)),
        ("line", (4.0, 10.0), (10.0, 10.0)),
        ("line", (10.0, 0.0), (10.0, 10.0)),
    }
    # Seen from the right at the same place nothing of the high end is left.
    other = cut_parts((step,), CuttingPlane("x", 2.0), "A-A")
    assert {line.style for line in other.lines} == {"visible"}
    assert {
        line.style for line in cut_parts((step,), CuttingPlane("x", 2.0, -1), "A", beyond=False).lines
    } == {"visible"}


def test_part_that_only_touches_the_plane_is_not_cut():
    low = SolidPart("low", cq.Workplane().box(10, 10, 5, centered=False).val())
    high = SolidPart("high", cq.Workplane().box(10, 10, 5, centered=False).translate((0, 0, 5)).val())
    assert cut_parts((low, high), CuttingPlane("z", 5.0), "A-A").cuts == ()


def test_several_parts_share_one_box_and_hide_each_other():
    back = SolidPart("back", cq.Workplane().box(4, 4, 2, centered=False).translate((3, 3, 0)).val())
    front = SolidPart("front", cq.Workplane().box(10, 10, 2, centered=False).translate((0, 0, 2)).val())
    view = view_parts((back, front), "both", "front")
    assert view.size == (10.0, 10.0)
    assert pieces(view, "visible") == outline(0, 0, 10, 10, 0)


@st.composite
def plates(draw: st.DrawFn) -> tuple[Detail, float]:
    """Return a plate with pockets and holes that keep off each other, and its exact volume."""
    features: list[Feature] = []
    volume = 96.0 * 64.0 * 12.0
    depths = st.integers(1, 10).map(float)
    for k in range(6):
        x, y = 16.0 + 32.0 * (k % 3), 16.0 + 32.0 * (k // 3)
        kind = draw(st.sampled_from(["none", "pocket", "hole"]))
        depth, up = draw(depths), draw(st.booleans())
        if kind == "pocket":
            a, b, r = (
                draw(st.integers(4, 14)),
                draw(st.integers(4, 14)),
                draw(st.sampled_from([0.0, 1.5, 3.0])),
            )
            z = (12.0 - depth, 12.0) if up else (0.0, depth)
            loop = outline_rectangle(x - a, y - b, x + a, y + b, r)
            features.append(Feature(f"pocket {k}", "tank", "dry", Prism((loop,), *z)))
            volume -= loop_area(loop) * depth
        elif kind == "hole":
            radius = draw(st.integers(1, 12))
            mouth, way = ((x, y, 12.0), -1.0) if up else ((x, y, 0.0), 1.0)
            bore = Cylinder(mouth, (0.0, 0.0, way), depth, float(radius))
            features.append(Feature(f"hole {k}", "screw hole", "dry", bore))
            volume -= math.pi * radius**2 * depth
    blank = Blank("body", outline_rectangle(0.0, 0.0, 96.0, 64.0, 0.0), 0.0, 12.0)
    return Detail((blank,), tuple(features), ()), volume


@settings(max_examples=15, deadline=None)
@given(plates())
def test_areas_of_slices_add_up_to_the_volume(drawn: tuple[Detail, float]):
    """Cavalieri: all depths are whole millimetres, so twelve slices through the middle of each are exact."""
    detail, volume = drawn
    parts = build_solids(detail).parts
    total = 0.0
    for k in range(12):
        view = cut_parts(parts, CuttingPlane("z", k + 0.5), "slice", beyond=False)
        total += math.fsum(cross_area(cut.region) for cut in view.cuts)
    assert total == pytest.approx(volume, rel=1e-9)
    assert total == pytest.approx(find_volume(parts[0].solid), rel=1e-6)


@settings(max_examples=10, deadline=None)
@given(plates(), st.sampled_from(EDGES))
def test_leaving_out_what_cannot_be_seen_changes_nothing_that_is_seen(
    drawn: tuple[Detail, float], face: Face
):
    solid = build_solids(drawn[0]).parts[0].solid
    quick = view_part(solid, "x", face)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(hidden_lines, "_in_sight", lambda solids, frame: solids[0].wrapped)
        whole = view_part(solid, "x", face)
    assert pieces(quick, "visible") == pieces(whole, "visible")


@settings(max_examples=10, deadline=None)
@given(plates(), st.sampled_from(["front", "back"]))
def test_plan_shows_each_mouth_once_and_no_floor(drawn: tuple[Detail, float], face: Face):
    detail = drawn[0]
    view = view_part(build_solids(detail).parts[0].solid, "x", face)
    seen = {piece for piece in pieces(view, "visible") if piece[0] == "circle"}
    mouths = set()
    for feature in detail.features:
        bore = feature.shape
        if isinstance(bore, Cylinder):
            u = bore.mouth[0] if face == "front" else 96.0 - bore.mouth[0]
            if (bore.direction[2] < 0) == (face == "front"):
                mouths.add(circle(u, bore.mouth[1], bore.radius))
    assert seen == mouths


def test_collinear_pieces_are_one_line_and_lesser_ones_give_way():
    given_lines = [
        ViewLine(Line((0, 0), (4, 0)), "visible"),
        ViewLine(Line((9, 0), (3, 0)), "visible"),
        ViewLine(Line((-2, 0), (12, 0)), "thin"),
        ViewLine(Line((5, 0), (6, 0)), "centre"),
    ]
    assert merge_lines(given_lines) == (
        ViewLine(Line((0, 0), (9, 0)), "visible"),
        ViewLine(Line((-2, 0), (0, 0)), "thin"),
        ViewLine(Line((9, 0), (12, 0)), "thin"),
    )


def test_parallel_lines_and_lines_of_other_ways_stay_apart():
    lines = [ViewLine(Line((0, k), (4, k)), "visible") for k in (0.0, 0.01, 1.0)]
    lines.append(ViewLine(Line((0, 0), (4, 0.1)), "visible"))
    assert len(merge_lines(lines)) == 4


def test_arcs_join_to_a_circle_over_the_start_of_its_angles():
    arcs = [ViewLine(Arc((1, 2), 3, a, 1.5), "visible") for a in (5.5, 0.5, 1.9, 3.0, 4.2)]
    (whole,) = merge_lines(arcs)
    assert whole.segment == Arc((1, 2), 3, 0.0, 2 * math.pi)
    (part,) = merge_lines(arcs[:2])
    assert isinstance(part.segment, Arc)
    assert (part.segment.first, part.segment.sweep) == pytest.approx((5.5, 2 * math.pi - 3.5))


segments = st.lists(
    st.tuples(st.integers(0, 30), st.integers(1, 12), st.sampled_from(["visible", "thin"])), max_size=12
)


@given(segments, st.integers(0, 5).map(lambda k: k * 0.37))
def test_merging_keeps_what_is_covered_and_covers_nothing_twice(drawn, angle: float):
    c, s = math.cos(angle), math.sin(angle)

    def line(a: float, b: float) -> Line:
        return Line((c * a - 3 * s, s * a + 3 * c), (c * b - 3 * s, s * b + 3 * c))

    merged = merge_lines([ViewLine(line(a, a + length), style) for a, length, style in drawn])
    seen = {k for a, length, style in drawn if style == "visible" for k in range(a, a + length)}
    every = {k for a, length, _ in drawn for k in range(a, a + length)}
    assert math.fsum(m.segment.length for m in merged if m.style == "visible") == pytest.approx(
        len(seen), abs=1e-4
    )
    assert math.fsum(m.segment.length for m in merged) == pytest.approx(len(every), abs=1e-4)
    assert len(merge_lines(merged)) == len(merged)


def test_detail_clips_lines_arcs_and_faces_to_its_circle():
    region = (outline_rectangle(0, 0, 20, 10, 2), tuple(reversed_loop(outline_circle((8, 5), 2))))
    lines = tuple(ViewLine(s, "visible") for loop in region for s in loop)
    view = View("section", (20.0, 10.0), lines, (CutFace("body", region),))
    detail = detail_of(view, (10.0, 8.0), 4.0, "detail C")
    assert detail.size == (8.0, 8.0)
    (cut,) = detail.cuts
    disc = shapely.Point(10.0, 8.0).buffer(4.0, 512)
    face = shapely.difference(loop_polygon(region[0]), loop_polygon(region[1]))
    assert cross_area(cut.region) == pytest.approx(shapely.intersection(face, disc).area, rel=1e-3)
    for line in detail.lines:
        for k in range(5):
            s = line.segment
            at = s.at(k / 4) if isinstance(s, Arc) else s.start
            assert math.dist(at, (4.0, 4.0)) < 4.0 + 1e-9
    assert [line.segment for line in detail.lines if line.style == "thin"] == [
        Arc((4.0, 4.0), 4.0, 0.0, 2 * math.pi)
    ]


def test_detail_of_a_face_that_falls_in_two_is_two_faces():
    slot = tuple(reverse_segment(s) for s in reversed(outline_rectangle(9, 0.5, 11, 9.5, 0)))
    view = View("section", (20.0, 10.0), (), (CutFace("body", (outline_rectangle(0, 0, 20, 10, 0), slot)),))
    left, right = detail_of(view, (10.0, 5.0), 4.0, "detail C").cuts
    assert cross_area(left.region) == pytest.approx(cross_area(right.region))
    segment = 2 * (16 * math.acos(1 / 4) - math.sqrt(15))
    assert cross_area(left.region) + cross_area(right.region) == pytest.approx(segment)


def reversed_loop(loop: Loop) -> Loop:
    (arc,) = loop
    assert isinstance(arc, Arc)
    return (Arc(arc.centre, arc.radius, 0.0, -2 * math.pi),)


@given(st.floats(-6, 26), st.floats(-6, 16), st.floats(0.5, 15), st.sampled_from([0.0, 3.0]), st.booleans())
def test_what_a_circle_keeps_of_a_face_has_the_right_area(x, y, radius, corner, holed):
    outer = outline_rectangle(0, 0, 20, 10, corner)
    region = (outer, reversed_loop(outline_circle((8, 5), 2))) if holed else (outer,)
    ring = Arc((x, y), radius, 0.0, 2 * math.pi)
    kept = clip_region(region, ring)
    face = region_polygon(region[:1], islands=region[1:])
    expected = shapely.intersection(face, shapely.Point(x, y).buffer(radius, 256)).area
    assert math.fsum(map(cross_area, kept)) == pytest.approx(expected, rel=1e-3, abs=2e-2)
    for piece in kept:
        assert [loop_area(loop) > 0 for loop in piece] == [True] + [False] * (len(piece) - 1)
    inside = math.fsum(s.length for part in region for piece in part for s in clip_segment(piece, ring))
    lines = shapely.intersection(face.boundary, shapely.Point(x, y).buffer(radius, 256)).length
    assert inside == pytest.approx(lines, rel=1e-2, abs=0.2)


@pytest.mark.published(source="ISO 228-1:1994 table 1 (G1/4: 13.157); ISO 261 (M4: 4)")
def test_threads_are_drawn_at_their_major_diameter():
    assert_as_printed(major_diameter("G1/4"), "13.157")
    assert_as_printed(major_diameter("M4"), "4")


@pytest.mark.published(
    source="ISO 6410-1:1993, 3.2.2: about three quarters of a circle, open in the upper right"
)
def test_thread_is_three_quarters_of_a_circle_and_takes_the_place_of_its_chamfer():
    frame = frame_of(plate(), "front")
    chamfer = ViewLine(Arc((48.0, 12.0), 2.0, 0.0, 2 * math.pi), "visible")
    view = add_threads(View("x", (WIDTH, HEIGHT), (chamfer,)), FEATURES, frame)
    (line,) = view.lines
    arc = line.segment
    assert isinstance(arc, Arc)
    assert line.style == "thread"
    assert (arc.centre, 2 * arc.radius) == ((48.0, 12.0), 4.0)
    assert arc.sweep == pytest.approx(1.5 * math.pi)
    gap = (arc.first + arc.sweep + math.pi / 4) % (2 * math.pi)
    assert 0 < gap < math.pi / 2
    assert add_threads(view, FEATURES, frame_of(plate(), "back")).lines == view.lines


def test_cut_thread_ends_where_the_full_thread_ends():
    plane = CuttingPlane("x", 48.0)
    frame = section_frame(plate(), plane)
    view = cut_parts(plate(), plane, "A-A")
    lines = cut_thread_lines(FEATURES, plane, frame, view.cuts)
    assert {(line.style, bare(line.segment)) for line in lines} == {
        ("thread", ("line", (0.0, 10.0), (6.0, 10.0))),
        ("thread", ("line", (0.0, 14.0), (6.0, 14.0))),
        ("visible", ("line", (6.0, 10.0), (6.0, 14.0))),
    }
    across = CuttingPlane("z", 7.0)
    (round_one,) = cut_thread_lines(FEATURES, across, section_frame(plate(), across))
    assert isinstance(round_one.segment, Arc)
    below = CuttingPlane("z", 3.0)
    assert cut_thread_lines(FEATURES, below, section_frame(plate(), below)) == ()


def test_thread_is_drawn_in_material_only():
    plane = CuttingPlane("x", 48.0)
    frame = section_frame(plate(), plane)
    slab = CutFace("body", (outline_rectangle(2.0, 0.0, 10.0, HEIGHT, 0.0),))
    lines = cut_thread_lines(FEATURES, plane, frame, (slab,))
    assert {bare(line.segment)[1] for line in lines if line.style == "thread"} == {(2.0, 10.0), (2.0, 14.0)}


def test_centre_marks_cross_each_hole_once():
    frame = frame_of(plate(), "front")
    marks = {bare(line.segment) for line in centre_marks((*FEATURES, FEATURES[1]), frame, 2.0)}
    assert marks == {
        ("line", (43.0, 30.0), (53.0, 30.0)),
        ("line", (48.0, 25.0), (48.0, 35.0)),
        ("line", (44.35, 12.0), (51.65, 12.0)),
        ("line", (48.0, 8.35), (48.0, 15.65)),
    }
    plane = CuttingPlane("y", 16.0)
    (axis,) = cut_centre_lines(FEATURES, plane, section_frame(plate(), plane), 2.0)
    assert bare(axis.segment) == ("line", (-2.0, 5.0), (7.0, 5.0))
