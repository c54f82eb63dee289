"""A panel whose channels stand too near for two grooves: refused, made with a shared one, and a step nearer refused."""

from __future__ import annotations

from itertools import combinations

import pytest
import shapely

from exports.pipeline import Made, make_panel, plan_panel
from geom.errors import LayoutError
from geom.features import Track
from geom.outline import loop_polygon, track_polygon
from geom.standards.tables import cord
from layouts.clearance import clearances_of
from layouts.closing.gland import cut_length
from layouts.panels.catalogue import demo_path
from layouts.plan import Plan
from layouts.strength.cover import pressed_area

# A port stands 15 mm off the line of the only way to another, where two grooves take 19.6 mm and one 14.8 mm.
CHANGES = (
    ('at = ["80 mm", "40 mm"]', 'at = ["60 mm", "40 mm"]'),
    ('within = ["30 mm", "35 mm", "45 mm", "50 mm"]', 'at = ["85 mm", "55 mm"]'),
    ("[rules]", '[[keep_clear]]\nname = "foot"\nbox = ["20 mm", "0 mm", "115 mm", "29 mm"]\n\n[rules]'),
)
SHARED = ("[make]\n", "[make]\nshare_groove = true\n")


def write(folder, *changes):
    text = demo_path("new").read_text(encoding="utf-8")
    for old, new in (*CHANGES, *changes):
        assert text.count(old) == 1
        text = text.replace(old, new)
    path = folder / "panel.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Made:
    folder = tmp_path_factory.mktemp("shared")
    return make_panel(write(folder, SHARED), folder / "out")


def test_two_grooves_do_not_fit_and_one_would(tmp_path):
    with pytest.raises(LayoutError, match=r"To try: let neighbours share .*make\.share_groove = true"):
        plan_panel(write(tmp_path))


def test_a_step_nearer_not_even_one_fits(tmp_path):
    with pytest.raises(LayoutError, match="too near"):
        plan_panel(write(tmp_path, SHARED, ('["85 mm", "55 mm"]', '["85 mm", "50 mm"]')))


def test_all_is_made_with_one_groove_between(made):
    assert made.checked is not None
    assert not [finding for finding in made.findings if finding.severity == "fault"]
    (note,) = [finding for finding in made.findings if finding.code == "seal.shared"]
    assert note.severity == "note"
    assert '"pump - cold plate" and "cold plate - radiator"' in note.text
    loops = made.plan.sealed.loops
    assert [(loop.closed, loop.meets) for loop in loops] == [
        (True, ()),
        (True, ()),
        (False, ("groove 2", "groove 2")),
    ]
    features = {feature.name: feature for feature in made.plan.detail.features}
    assert features["groove 3"].joins == ("groove 2", "groove 2")
    assert note.features == ("groove 3",)


def test_cords_do_not_run_into_each_other(made):
    cords = [insert.shape for insert in made.plan.detail.inserts]
    assert len(cords) == 3
    areas = []
    for shape in cords:
        assert isinstance(shape, Track)
        areas.append(track_polygon(shape.path, shape.closed, shape.width))
    for one, two in combinations(areas, 2):
        assert one.intersection(two).area < 0.05
    assert areas[1].distance(areas[2]) < 0.05


def test_a_groove_opens_into_the_other(made):
    grooves = [f.shape for f in made.plan.detail.features if f.kind == "groove"]
    areas = [track_polygon(s.path, s.closed, s.width) for s in grooves if isinstance(s, Track)]
    both = areas[1].union(areas[2])
    # One piece, without a step past the far wall: the whole mouth is open, and nothing is cut beyond it.
    assert both.geom_type == "Polygon"
    shared = areas[1].intersection(areas[2]).area
    assert 2 * 0.5 * 2.8**2 * 0.25 < shared < 2 * 2.8**2


def test_coolant_presses_the_cover_within_both_regions(made):
    plan: Plan = made.plan
    one, two, three = plan.sealed.loops
    wet = shapely.union_all(
        [shapely.Point(port.foot).buffer(2.0) for port in plan.routed.ports if port.channel != "tank"]
    )
    whole = pressed_area((one, two, three), wet)
    closed = loop_polygon(two.path)
    beside = pressed_area((two, three), shapely.Point(85.0, 55.0).buffer(2.0))
    assert beside.intersection(closed).area < 0.05
    assert whole.area == pytest.approx(loop_polygon(one.path).area + closed.area + beside.area, rel=2e-3)
    assert beside.area > 0.9 * three.length * 14.8 / 2 * 0.5


def test_an_open_cord_is_cut_to_the_sides_of_the_other(made):
    three = made.plan.sealed.loops[2]
    least, most = cut_length(three, cord(2.0))
    # Half of a 2 mm cord at both ends; at 60 degrees 1 / sin 60 of that.
    assert most == pytest.approx(three.length - 2.0)
    assert least == pytest.approx(three.length - 2.0 / 0.866025, abs=1e-4)


def test_the_gap_is_that_of_one_groove(made):
    gaps = clearances_of(made.plan.panel)
    assert gaps.channel_gap == pytest.approx(6.8)
    assert gaps.own_gap == pytest.approx(11.6)
