"""The pictures of pumps and of pressure: well-formed, legible, nothing over anything, the right places."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_texts import SVG, assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_plan import L_MIN, nested_steps, rich_plan, sample_curve, sample_plan
from shapely import Point, Polygon

from exports.pictures.colours import LOOP, SERIES
from exports.pictures.pressure_picture import draw_pressure
from exports.pictures.pressure_places import find_half_bands, outline_bands, place_steps
from exports.pictures.pump_picture import draw_pumps
from layouts.loop_curve import trace_loop_curve
from layouts.panels.catalogue import demo_names
from layouts.plan import LoopStep, Plan

PLANS = (sample_plan(), rich_plan())


def step(start: str, end: str, name: str = "piece") -> LoopStep:
    return LoopStep(name, "part", start, end, 10.0, 5.0, 1e-5, 0.1)


def assert_good(picture: str) -> None:
    root = ElementTree.fromstring(picture)
    assert root.tag == f"{SVG}svg"
    assert root.get("width") == "1000"
    sizes = [float(text.get("font-size", "0")) for text in root.iter(f"{SVG}text")]
    assert min(sizes) >= 11.0
    assert_inside(picture)
    assert_no_text_over_text(picture)


@pytest.mark.parametrize("plan", PLANS, ids=("small", "rich"))
def test_charts_are_well_formed_legible_and_the_same_every_time(plan: Plan):
    for draw in (draw_pressure, lambda p: draw_pumps(p, sample_curve())):
        assert_good(draw(plan))
        assert draw(plan) == draw(plan)


@pytest.mark.parametrize("name", demo_names())
def test_charts_of_the_examples_are_good(name: str):
    plan = plan_demo(name)
    assert_good(draw_pressure(plan))
    assert_good(draw_pumps(plan, trace_loop_curve(plan.panel, plan.routed, plan.flowing)))


def test_pressure_names_every_piece_with_its_drop():
    said = [text for text, _ in texts_of(draw_pressure(rich_plan()))]
    for step in nested_steps():
        assert any(text.startswith(step.name) for text in said), step.name
    assert "−10 kPa" in said
    assert "+27 kPa" in said
    # Two pieces of one channel are told apart by where they lead.
    assert "block - tank, to radiator inlet" in said
    assert "block - tank, to tank" in said


def test_pressure_copes_with_many_parts_and_long_names():
    title = "a part whose name runs on and on as names in a workshop do when nobody stops them, number"
    series = [
        LoopStep(f"{title} {k}", "part", f"a {k}", f"a {k + 1}", 4e4 - 3e3 * k, 3.7e4 - 3e3 * k, 1e-4, 0.2)
        for k in range(10)
    ]
    group = [LoopStep(f"{title} {k}", "part", "a 10", "b", 1e4, 3e3, 1e-5, 0.2) for k in range(10, 18)]
    steps = (
        LoopStep("pump", "pump", "tank", "a 0", 0.0, 4e4, 1e-4, 0.0),
        *series,
        *group,
        LoopStep("radiator", "part", "b", "tank", 3e3, 0.0, 1e-4, 0.2),
    )
    plan = sample_plan()
    picture = draw_pressure(replace(plan, flowing=replace(plan.flowing, steps=steps)))
    assert_good(picture)
    said = [text for text, _ in texts_of(picture)]
    assert all(said.count(str(k)) >= 2 for k in range(11, 21)), "each cell and each row has its number"


def test_pressure_of_a_loop_without_flow_has_no_plot():
    plan = sample_plan()
    axis = "total pressure over that in the tank, kPa"
    picture = draw_pressure(replace(plan, flowing=replace(plan.flowing, steps=())))
    said = [text for text, _ in texts_of(picture)]
    assert f"Pressure along the loop of {plan.panel.name}" in said
    assert axis not in said
    assert axis in [text for text, _ in texts_of(draw_pressure(rich_plan()))]


def test_parallel_branches_take_the_same_span_in_lanes_of_their_own():
    steps = nested_steps()
    places = dict(zip((s.name for s in steps), place_steps(steps, (10.0,) * len(steps)), strict=True))
    long, first, last = places["plate 1 with a long name of the kind that makers like"], "plate 2", "plate 3"
    assert long.start == places[first].start
    assert long.end == places[last].end
    assert places["inner left"].start == places["inner right"].start
    assert places["inner left"].end == places["inner right"].end
    assert len({places[n].lane for n in ("inner left", "inner right")} | {long.lane}) == 3
    assert places["feed"].start == 0.0
    # The longest way, ten pieces of the same width, has no gap and no stretch.
    assert max(place.end for place in places.values()) == pytest.approx(100.0)


@st.composite
def loops(draw: st.DrawFn, depth: int = 2, start: str = "tank", end: str = "tank") -> list[LoopStep]:
    """Draw a series of pieces and groups, groups within groups too."""
    count = draw(st.integers(1, 4))
    marks = [start, *(f"({start} to {end}) {k}" for k in range(1, count)), end]
    out: list[LoopStep] = []
    for a, b in itertools.pairwise(marks):
        branches = draw(st.integers(1, 3)) if depth > 0 else 1
        if branches == 1:
            out.append(step(a, b))
        for k in range(branches if branches > 1 else 0):
            inner = f"({a} to {b}) branch {k}"
            out.append(step(a, inner))
            out += draw(loops(depth - 1, inner, b))
    return out


@given(loops(), st.data())
@settings(max_examples=60, deadline=None)
def test_pieces_follow_each_other_and_lanes_never_overlap(steps: list[LoopStep], data: st.DataObject):
    widths = tuple(data.draw(st.floats(1.0, 50.0)) for _ in steps)
    places = place_steps(tuple(steps), widths)
    for one, place, width in zip(steps, places, widths, strict=True):
        assert place.end - place.start >= width * (1 - 1e-9)
        for other, after in zip(steps, places, strict=True):
            if one.end == other.start != "tank":
                assert after.start == place.end
    for a, b in itertools.combinations(places, 2):
        assert a.lane != b.lane or a.end <= b.start + 1e-6 or b.end <= a.start + 1e-6


def test_a_bridge_between_branches_runs_forwards():
    steps = (
        step("tank", "a"),
        step("a", "b"),
        step("b", "c"),
        step("a", "d"),
        step("b", "d", "bridge"),
        step("d", "c"),
        step("c", "tank"),
    )
    places = place_steps(steps, (10.0, 30.0, 20.0, 5.0, 5.0, 5.0, 10.0))
    bridge = places[4]
    assert (bridge.start, bridge.end) == (40.0, 50.0)
    assert all(place.end > place.start for place in places)


@pytest.mark.published(source="closed form: errors of one sign in series add up")
def test_half_bands_add_up_to_the_nearer_end_of_the_loop():
    halves = find_half_bands(nested_steps())
    assert halves["tank"] == 0.0
    assert halves["pump inlet"] == pytest.approx(0.12 * 600.0)
    assert halves["radiator outlet"] == pytest.approx(0.12 * 900.0)
    assert halves["pump outlet"] == pytest.approx(0.12 * 26800.0)


def test_band_has_no_hole_between_parallel_pieces():
    steps = (
        LoopStep("pump", "pump", "tank", "a", 0.0, 1e4, 1e-4, 0.0),
        LoopStep("steep first", "part", "a", "m", 1e4, 2e3, 1e-5, 0.01),
        LoopStep("flat last", "part", "m", "b", 2e3, 1e3, 1e-5, 0.01),
        LoopStep("flat first", "part", "a", "n", 1e4, 9e3, 1e-5, 0.01),
        LoopStep("steep last", "part", "n", "b", 9e3, 1e3, 1e-5, 0.01),
        LoopStep("back", "part", "b", "tank", 1e3, 0.0, 1e-4, 0.01),
    )
    places = place_steps(steps, (10.0,) * len(steps))
    halves = find_half_bands(steps)
    (outline,) = outline_bands(steps, places, halves)
    area = Polygon(outline)
    assert area.is_valid
    assert not area.interiors
    for one, place in zip(steps[1:], places[1:], strict=True):
        for share in np.linspace(0.0, 1.0, 9):
            way = place.start + share * (place.end - place.start)
            pressure = one.start_pa + share * (one.end_pa - one.start_pa)
            half = halves[one.start] + share * (halves[one.end] - halves[one.start])
            for off in (-half, 0.0, half):
                assert area.distance(Point(way, pressure + off)) < 1e-6
    # Midway between the two branches nothing but the area itself stands.
    assert area.contains(Point(places[2].start, 5.5e3))
    # No outline is wider than its pieces: at each way it ends where the outermost band does.
    assert max(p for _, p in outline) == pytest.approx(1e4 + halves["a"])


def test_band_follows_pieces_that_cross_between_their_ends():
    steps = (step("tank", "a"), step("a", "b"), step("a", "c"), step("b", "tank"), step("c", "tank"))
    steps = tuple(
        replace(one, start_pa=start, end_pa=end, band=0.0)
        for one, start, end in zip(steps, (9.0, 8.0, 8.0, 2.0, 6.0), (8.0, 2.0, 6.0, 6.0, 0.0), strict=True)
    )
    places = place_steps(steps, (10.0,) * len(steps))
    (outline,) = outline_bands(steps, places, dict.fromkeys(("tank", "a", "b", "c"), 0.0))
    # From 2 to 6 and from 6 to 0 they meet at 2 + 4 x = 6 - 6 x, x = 0.4.
    assert any((way, pressure) == pytest.approx((24.0, 3.6)) for way, pressure in outline)


def test_a_leg_that_gains_pressure_has_a_footnote():
    plan = rich_plan()
    gained = tuple(
        replace(one, start_pa=4.0e3, end_pa=5.0e3, band=1.0) if one.name == "plate 3" else one
        for one in plan.flowing.steps
    )
    picture = draw_pressure(replace(plan, flowing=replace(plan.flowing, steps=gained)))
    assert_good(picture)
    said = [text for text, _ in texts_of(picture)]
    assert any("a junction may give pressure to a leg" in text for text in said)
    assert "+1 kPa" in said
    assert not any("a junction may" in text for text, _ in texts_of(draw_pressure(plan)))


def test_labels_that_would_read_the_same_give_their_number():
    said = [text for text, _ in texts_of(draw_pressure(rich_plan()))]
    assert "piece 10 1.8 kPa" in said
    assert "piece 12 0.9 kPa" in said
    assert "radiator 2.3 kPa" in said


def test_pressure_tells_a_parts_restrictor():
    plan = sample_plan()
    (part,) = plan.panel.parts
    fitted = replace(plan, panel=replace(plan.panel, parts=(replace(part, restrictor=3.8),)))
    said = [text for text, _ in texts_of(draw_pressure(fitted))]
    assert "block, with restrictor 3.8 mm" in said
    assert_good(draw_pressure(fitted))


def test_pumps_are_told_apart_by_more_than_colour():
    picture = draw_pumps(rich_plan(), sample_curve())
    for colour, weight, dashes in (
        (SERIES[0], "3.6", None),
        (SERIES[1], "2.4", None),
        (SERIES[2], "1.5", "7 5"),
    ):
        strokes = re.findall(
            rf'stroke="{colour}" stroke-width="{weight}" stroke-linejoin="round"([^/]*)/', picture
        )
        assert strokes
        assert all((f'"{dashes}"' in rest) if dashes else "dasharray" not in rest for rest in strokes)


def test_pumps_say_flow_head_reason_and_what_is_wanted():
    said = " ".join(text for text, _ in texts_of(draw_pumps(rich_plan(), sample_curve())))
    for wanted in (
        "pump: 4.2 L/min, 2.8 m",
        "tall pump: 4.4 L/min, 3.1 m",
        "first of the ranking",
        "does not fit: its seat of 66 mm",
        "wanted 3 L/min",
        "slowed to 3900 rpm for 33 dB: 3.4 L/min, 1.8 m",
        "reads:",
    ):
        assert wanted in said, wanted


def test_a_pump_that_just_fits_is_drawn_as_one_that_fits_and_says_so():
    plan = rich_plan()
    first, *rest = plan.advised.pumping.ratings
    pumping = replace(plan.advised.pumping, ratings=(replace(first, shortfall="it reaches 2.8 L/min"), *rest))
    picture = draw_pumps(replace(plan, advised=replace(plan.advised, pumping=pumping)), sample_curve())
    said = " ".join(text for text, _ in texts_of(picture))
    assert "just fits: it reaches 2.8 L/min" in said
    assert picture.count('"7 5"') == draw_pumps(plan, sample_curve()).count('"7 5"')


def test_pumps_tell_the_allowed_noise_as_the_file_gives_it():
    plan = rich_plan()
    pump = replace(plan.panel.pump, most_noise_db=33.5)
    picture = draw_pumps(replace(plan, panel=replace(plan.panel, pump=pump)), sample_curve())
    assert any("3900 rpm for 33.5 dB" in text for text, _ in texts_of(picture))


def test_a_pump_that_runs_slower_by_the_file_has_both_points():
    plan = rich_plan()
    pump = replace(plan.panel.pump, run_at_rpm=4000.0)
    said = " ".join(
        t
        for t, _ in texts_of(draw_pumps(replace(plan, panel=replace(plan.panel, pump=pump)), sample_curve()))
    )
    assert "slowed to the file's 4000 rpm: 4.2 L/min, 2.8 m" in said


@pytest.mark.parametrize(
    ("run_at", "points", "words"),
    [
        (3890.0, 1, "slowed to the file's 3890 rpm, also the 3900 rpm for 33 dB: 4.2 L/min, 2.8 m"),
        (3880.0, 2, "slowed to 3900 rpm for 33 dB: 3.4 L/min, 1.8 m"),
        (4800.0, 1, "slowed to 3900 rpm for 33 dB: 3.4 L/min, 1.8 m"),
    ],
)
def test_speeds_a_step_apart_are_one_point(run_at: float, points: int, words: str):
    plan = rich_plan()
    pump = replace(plan.panel.pump, run_at_rpm=run_at)
    picture = draw_pumps(replace(plan, panel=replace(plan.panel, pump=pump)), sample_curve())
    assert_good(picture)
    said = " ".join(text for text, _ in texts_of(picture))
    assert said.count("slowed to") == points
    assert words in said


def test_the_meeting_of_the_used_pump_is_drawn_where_flow_and_head_say():
    picture = draw_pumps(sample_plan(), sample_curve())
    (mark,) = set(re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="6" fill="#164ed6"', picture)) - {
        ("22", "0")
    }
    rating = sample_plan().advised.pumping.ratings[0]
    ticks = [(float(t), box) for t, box in texts_of(picture) if re.fullmatch(r"\d+(\.\d)?", t)]
    bottom = max(box[3] for _, box in ticks)
    x = {value: (box[0] + box[2]) / 2 for value, box in ticks if box[3] == bottom}
    (a, xa), (b, xb) = min(x.items()), max(x.items())
    expected = xa + (rating.flow_m3_s / L_MIN - a) / (b - a) * (xb - xa)
    assert float(mark[0]) == pytest.approx(expected, abs=0.1)


def linear_light(colour: str) -> np.ndarray:
    shares = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    return np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)


TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
"""Linear sRGB to CIE XYZ under D65, IEC 61966-2-1."""

VISIONS = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def to_lab(light: np.ndarray) -> np.ndarray:
    shares = TO_XYZ @ np.clip(light, 0.0, 1.0) / TO_XYZ.sum(axis=1)
    limit = (6 / 29) ** 3
    x, y, z = np.where(shares > limit, np.cbrt(shares), shares / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array((116 * y - 16, 500 * (x - y), 200 * (y - z)))


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.published(
    source="Machado, Oliveira, Fernandes, A physiologically-based model for simulation of color vision deficiency, "
    "IEEE TVCG 15 (2009), matrices of severity 1 (read in copies), on linear sRGB; CIE 1976 distance"
)
def test_lines_of_a_chart_are_apart_for_every_colour_vision(vision: str):
    seen = [to_lab(VISIONS[vision] @ linear_light(colour)) for colour in (*SERIES, LOOP)]
    for a, b in itertools.combinations(seen, 2):
        assert np.linalg.norm(a - b) >= 25.0


@pytest.mark.published(source="WCAG 2.2, success criterion 1.4.3: contrast of text at least 4.5 to 1")
def test_names_in_a_lines_colour_stand_out_from_white():
    for colour in (*SERIES, LOOP):
        luminance = TO_XYZ[1] @ linear_light(colour)
        assert 1.05 / (luminance + 0.05) >= 4.5
