"""The plan's and the panel's pictures: well-formed, true arcs, true sizes, no text over text."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_texts import SVG, assert_inside, assert_no_text_over_text, pane_area, texts_of
from sample_demos import plan_demo
from sample_plan import accept, fault, sample_plan

from exports.check_solids import Checked
from exports.pictures.labels import LabelRequest, meet, place_labels
from exports.pictures.panel_picture import draw_panel
from exports.pictures.plan_picture import draw_plan
from exports.pictures.plan_places import list_symbols, place_arrows, place_marks, place_tags
from exports.pictures.plan_symbols import HIDDEN, SHORE, TAG_RADIUS
from exports.pictures.svg import View, number, path_of
from geom.build import build_solids
from geom.features import Cylinder
from geom.outline import loop_area, outline_circle, outline_rectangle, outline_route
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan


def path_area(d: str) -> float:
    """Return the area of closed subpaths of M, L and A, from the path data alone; positive clockwise on screen."""
    total, start, here = 0.0, (0.0, 0.0), (0.0, 0.0)
    for letter, text in re.findall(r"([MLAZ])([^MLAZ]*)", d):
        values = [float(v) for v in text.split()]
        if letter == "M":
            start = here = (values[0], values[1])
            continue
        end = start if letter == "Z" else (values[-2], values[-1])
        total += 0.5 * (here[0] * end[1] - here[1] * end[0])
        if letter == "A":
            radius, sweep = values[0], values[4]
            # Of a half turn, rounded coordinates would give nearly any angle near the right one.
            ratio = math.dist(here, end) / 2 / radius
            half = math.asin(ratio) if ratio < 0.99 else math.pi / 2
            segment = radius**2 * (half - math.sin(half) * math.cos(half))
            total += segment if sweep else -segment
        here = end
    return total


@pytest.mark.published(source="closed form: a stadium of length L and width w has the area L w + pi w^2 / 4")
def test_path_of_a_channel_has_true_arcs_and_the_stadiums_area():
    loop = outline_route(((10.0, 10.0), (60.0, 10.0)), 14.0, 8.0)
    d = path_of((loop,), View(2.5, 100.0))
    assert d.count("A") == 2
    assert abs(path_area(d)) / 2.5**2 == pytest.approx(50 * 8 + math.pi * 16, rel=1e-3)


@given(
    st.floats(0.5, 6.0),
    st.lists(st.sampled_from([(40.0, 0.0), (0.0, 40.0), (-40.0, 0.0), (0.0, -40.0)]), min_size=2, max_size=4),
)
@settings(max_examples=40, deadline=None)
def test_paths_keep_the_outlines_area(scale: float, steps: list[tuple[float, float]]):
    points = [(100.0, 100.0)]
    for dx, dy in steps:
        if (points[-1][0] + dx, points[-1][1] + dy) not in points:
            points.append((points[-1][0] + dx, points[-1][1] + dy))
    loop = outline_route(tuple(points), 14.0, 8.0)
    # Clockwise on screen is counter-clockwise in the panel, and the other way round.
    assert -path_area(path_of((loop,), View(scale, 300.0))) / scale**2 == pytest.approx(
        loop_area(loop), rel=5e-3
    )


def test_a_full_circle_is_two_arcs():
    d = path_of((outline_circle((0.0, 0.0), 5.0),), View(1.0, 0.0))
    assert d.count("A") == 2
    assert abs(path_area(d)) == pytest.approx(math.pi * 25, rel=1e-3)


def test_numbers_have_no_negative_zero():
    assert [number(v) for v in (-0.001, 1.0, 2.345, 100.0)] == ["0", "1", "2.35", "100"]


def test_plan_is_well_formed_names_everything_and_escapes():
    picture = draw_plan(sample_plan((fault(),)))
    root = ElementTree.fromstring(picture)
    assert root.tag == f"{SVG}svg"
    said = [t for t, _ in texts_of(picture)]
    for wanted in (
        "sample <small> & plain",
        "block",
        "inlet G1/4",
        "fill",
        "drain",
        "tank",
        "pump inlet",
        "slot",
    ):
        assert wanted in said
    assert any("fault port.room" in t for t in said)
    assert "with faults" in " ".join(said)
    assert "routing within 1.7 % (proven) of the best layout on the 5 mm grid" in said


def test_plan_tells_the_tanks_volume_with_its_rounded_corners():
    """A pocket of 50 x 30 x 40 mm with corners of 6 mm: 60 mL less (4 - pi) 6^2 40 mm3."""
    plan = sample_plan()
    deep = replace(plan.panel, tank=replace(plan.panel.tank, depth=40.0))
    assert "about 59 mL" in [text for text, _ in texts_of(draw_plan(replace(plan, panel=deep)))]


def test_plan_draws_channels_to_scale():
    picture = draw_plan(sample_plan())
    # Of a 160 x 120 mm panel the height decides: 620 / 120 units a millimetre.
    scale = 620.0 / 120.0
    (edge,) = re.findall(rf'<path d="([^"]+)" fill="none" stroke="{SHORE}" stroke-width="2"/>', picture)
    expected = sum(
        loop_area(outline_route(run.points, 14.0, 8.0))
        for c in sample_plan().routed.channels
        for run in c.runs
    ) + loop_area(outline_rectangle(90.0, 75.0, 140.0, 105.0, 6.0))
    assert -path_area(edge) / scale**2 == pytest.approx(expected, rel=3e-3)


def test_plan_is_the_same_every_time_and_fits_its_frame():
    picture = draw_plan(sample_plan((fault(),)))
    assert picture == draw_plan(sample_plan((fault(),)))
    assert_inside(picture)
    assert_no_text_over_text(picture)


def test_plan_lists_no_notes_and_counts_what_it_leaves_out():
    many = tuple(replace(fault(), at_mm=(10.0 * k, 60.0, 0.0)) for k in range(15))
    picture = draw_plan(sample_plan((*many, accept(fault("make.reach"), "why"))))
    said = " ".join(t for t, _ in texts_of(picture))
    assert "and 3 more in the report" in said
    assert "make.reach" not in said


@pytest.mark.parametrize("name", demo_names())
def test_plans_of_the_examples_have_no_text_over_text(name: str):
    picture = draw_plan(plan_demo(name))
    assert_inside(picture)
    assert_no_text_over_text(picture)


@given(
    st.lists(
        st.tuples(st.integers(0, 7), st.integers(0, 7)).map(
            lambda c: (60.0 + 110.0 * c[0], 40.0 + 70.0 * c[1])
        ),
        min_size=1,
        max_size=12,
        unique=True,
    )
)
@settings(max_examples=40, deadline=None)
def test_labels_with_room_never_meet(anchors: list[tuple[float, float]]):
    requests = tuple(LabelRequest(a, (70.0, 26.0), 12.0) for a in anchors)
    taken = tuple((x - 10, y - 10, x + 10, y + 10) for x, y in anchors)
    placed = place_labels(requests, taken, (), (0.0, 0.0, 900.0, 600.0))
    boxes = [*taken, *(p.box for p in placed)]
    for k, box in enumerate(boxes):
        assert all(meet(box, other) == 0.0 for other in boxes[:k])


def test_labels_of_an_edge_stay_outside():
    (placed,) = place_labels(
        (LabelRequest((50.0, 0.0), (40.0, 20.0), 8.0, (0.0, -1.0)),), (), (), (0, 0, 100, 100)
    )
    assert placed.box[3] <= -8.0


def test_panel_picture_is_well_formed_and_the_same_every_time(plan: Plan, checked: Checked):
    picture = draw_panel(plan, checked)
    root = ElementTree.fromstring(picture)
    assert len(list(root.iter(f"{SVG}path"))) > 40
    assert picture == draw_panel(plan, checked)
    assert len(picture) < 100_000
    assert "cover lifted off" in picture


def test_panel_picture_shows_coolant_over_the_channels(plan: Plan, checked: Checked):
    fills = re.findall(r'fill="(#[0-9a-f]{6})" stroke="none" fill-opacity="0.6"', draw_panel(plan, checked))
    assert fills
    assert all(int(f[5:7], 16) > int(f[1:3], 16) for f in fills), "bluer than red"


def on_the_back(plan: Plan) -> Plan:
    ports = tuple(replace(p, on="back") if p.on == "front" else p for p in plan.routed.ports)
    panel = replace(plan.panel, pump=replace(plan.panel.pump, on="back"))
    return replace(plan, panel=panel, routed=replace(plan.routed, ports=ports))


def test_what_is_on_the_back_looks_different_and_says_so():
    front, back = draw_plan(sample_plan()), draw_plan(on_the_back(sample_plan()))
    assert "back" not in " ".join(t for t, _ in texts_of(front))
    said = [t for t, _ in texts_of(back)]
    assert "inlet G1/4, back" in said
    assert "outlet G1/4, back" in said
    # Once for the pump's inlet, once for its outlet, once in the legend.
    assert said.count("on the back") == 3
    # Two ports, two pump bores, two pump screws, and the legend's ring.
    assert back.count(HIDDEN) == front.count(HIDDEN) + 7
    assert_no_text_over_text(back)


def test_legend_lists_only_what_is_drawn():
    plan = sample_plan()
    assert "coolant stands" in draw_plan(plan)
    flows = tuple(
        replace(c, legs=tuple(leg for leg in c.legs if leg.flow_m3_s > 0.0)) for c in plan.flowing.channels
    )
    dry = replace(plan, flowing=replace(plan.flowing, channels=flows))
    assert "coolant stands" not in draw_plan(dry)
    assert "cord groove" in draw_plan(plan)
    assert "cord groove" not in draw_plan(replace(plan, sealed=replace(plan.sealed, loops=())))


def view_of(plan: Plan) -> View:
    return View(min(900.0 / plan.panel.width, 620.0 / plan.panel.height), plan.panel.height)


@pytest.fixture(scope="module", params=demo_names())
def demo(request: pytest.FixtureRequest) -> Plan:
    return plan_demo(request.param)


def test_numbers_and_badges_stand_clear_of_ports_and_of_each_other(demo: Plan):
    view = view_of(demo)
    symbols = list_symbols(demo, view)
    tags = [(at, TAG_RADIUS) for at in place_tags(demo, view).values()]
    marks = place_marks((*demo.findings, fault()), view, (*symbols, *tags))
    badges = [(mark.at, 8.0) for mark in marks if mark.at is not None]
    assert badges
    for (a, ra), (b, rb) in itertools.combinations((*tags, *badges), 2):
        assert math.dist(a, b) >= ra + rb
    for (a, ra), (b, rb) in itertools.product((*tags, *badges), symbols):
        assert math.dist(a, b) >= ra + rb - 1e-6


def test_a_badge_on_a_port_is_moved_beside_it_and_led_to_it():
    plan = sample_plan((replace(fault(), at_mm=(40.0, 35.0, 20.0)),))
    view = view_of(plan)
    (mark,) = place_marks(plan.findings, view, list_symbols(plan, view))
    assert mark.about == view.to((40.0, 35.0))
    assert mark.at is not None
    assert mark.at != mark.about
    assert f"M{number(mark.about[0])} {number(mark.about[1])}L" in draw_plan(plan)


def test_every_flowing_channel_has_an_arrow_clear_of_its_number(demo: Plan):
    view = view_of(demo)
    tags = place_tags(demo, view)
    arrows = place_arrows(demo, view, tags)
    flowing = {flow.channel for flow in demo.flowing.channels if flow.flow_m3_s > 0.0}
    assert {arrow.channel for arrow in arrows} == flowing
    for arrow in arrows:
        assert all(math.dist(arrow.at, tag) > TAG_RADIUS for tag in tags.values())


def test_a_channel_without_room_still_has_its_arrow():
    plan = sample_plan()
    feed = plan.routed.channels[0]
    points = ((115.0, 36.0), (115.0, 35.0))
    short = replace(
        feed,
        runs=(replace(feed.runs[0], points=points),),
        legs=(replace(feed.legs[0], points=points),),
    )
    plan = replace(plan, routed=replace(plan.routed, channels=(short, *plan.routed.channels[1:])))
    view = view_of(plan)
    assert "feed" in {arrow.channel for arrow in place_arrows(plan, view, place_tags(plan, view))}


def test_labels_of_the_pump_keep_off_its_seat(demo: Plan):
    picture = draw_plan(demo)
    shift = re.search(r'<g transform="translate\(([\d.]+) ([\d.]+)\)">', picture)
    assert shift
    view = view_of(demo)
    x, y = view.to(demo.routed.pump.inlet)
    x, y = x + float(shift[1]), y + float(shift[2])
    radius = demo.panel.pump.seat_diameter / 2 * view.scale
    assert radius > 0.0
    for said, (x0, y0, x1, y1) in texts_of(picture):
        if not said.startswith(("pump inlet", "pump outlet", "turned")):
            continue
        near = math.dist((x, y), (min(max(x, x0), x1), min(max(y, y0), y1)))
        far = max(math.dist((x, y), corner) for corner in itertools.product((x0, x1), (y0, y1)))
        assert near >= radius or far <= radius, said


def test_neighbouring_labels_do_not_read_as_one():
    requests = tuple(LabelRequest((100.0 + 62.0 * k, 0.0), (60.0, 24.0), 12.0, (0.0, -1.0)) for k in range(3))
    boxes = [p.box for p in place_labels(requests, (), (), (0.0, 0.0, 400.0, 200.0))]
    for a, b in itertools.combinations(boxes, 2):
        side_by_side = min(a[3], b[3]) > max(a[1], b[1])
        assert not side_by_side or max(a[0], b[0]) - min(a[2], b[2]) >= 6.0


def test_a_label_keeps_off_a_line_where_there_is_free_room():
    line = tuple((100.0 + 2.0 * k, 88.0) for k in range(-60, 60))
    (placed,) = place_labels((LabelRequest((100.0, 100.0), (80.0, 24.0), 12.0),), (), line, (0, 0, 300, 300))
    x0, y0, x1, y1 = placed.box
    assert not any(x0 <= x <= x1 and y0 <= y <= y1 for x, y in line)


def test_a_label_with_a_home_stays_there_among_lines():
    home = (50.0, 50.0, 250.0, 150.0)
    lines = tuple((float(x), float(y)) for x in range(50, 251, 3) for y in range(50, 151, 3))
    (placed,) = place_labels(
        (LabelRequest((150.0, 100.0), (60.0, 24.0), 0.0, None, home),), (), lines, (0, 0, 400, 400)
    )
    assert meet(placed.box, home) == pytest.approx(60.0 * 24.0)
    assert not placed.led


def test_panel_picture_shows_coolant_in_bores_from_the_back(plan: Plan, checked: Checked):
    front = pane_area(draw_panel(plan, checked))
    features = tuple(
        replace(f, shape=Cylinder((40.0, 35.0, -8.0), (0.0, 0.0, 1.0), 16.0, 5.9, 0.7), opens=("back",))
        if f.name == "port block inlet G1/4"
        else f
        for f in plan.detail.features
    )
    turned = replace(plan, detail=replace(plan.detail, features=features))
    back = pane_area(draw_panel(turned, SimpleNamespace(solids=build_solids(turned.detail))))
    # The bore is wider than the channel that it ends in.
    assert back > front
