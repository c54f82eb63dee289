"""The pictures of closings: true arcs, all cords, screws and clamps numbered, no text over text."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_texts import SVG, assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_plan import sample_plan

from exports.pictures.closing_picture import draw_closing
from exports.pictures.closing_places import distance_along, place_tags, tight_arcs
from exports.pictures.closing_symbols import TIGHT_CORNER, tag_half
from exports.pictures.plan_symbols import FAULT
from exports.pictures.svg import View
from exports.report.bonding import bonding_section
from exports.wording.closing_work import list_work
from exports.wording.cord_names import cord_tag, name_rounds
from geom.along import Way
from geom.outline import outline_circle, outline_rectangle, path_length, reverse_path
from layouts.panel import KeepClear
from layouts.plan import CordLoop, Coverage, OpenStretch, Plan, Sealed
from tests.layouts.sample_routed import sample_panel, sample_routed
from tests.layouts.strength.sample_cover import cord_plan, whole_plan

BOX = outline_rectangle(10.0, 10.0, 90.0, 60.0, 12.0)


def cord(**changes: object) -> CordLoop:
    return replace(CordLoop("groove 1", "tank", BOX, 2.8, 2.1), **changes)


def sealed_plan(coverage: tuple[Coverage, ...] = (), **changes: object) -> Plan:
    """Return the sample, its cord a rounded rectangle, with four screws."""
    screws = ((8.0, 8.0), (152.0, 8.0), (152.0, 112.0), (8.0, 112.0))
    return replace(sample_plan(), sealed=Sealed((cord(**changes),), screws, coverage=coverage))


def lines_of(picture: str, colour: str) -> list[str]:
    return re.findall(rf'<path d="([^"]+)" fill="none" stroke="{colour}" stroke-width=', picture)


@pytest.fixture(scope="module")
def bonded() -> Plan:
    return plan_demo("laser-driver")


def test_cords_and_screws_are_numbered_and_measured():
    picture = draw_closing(sealed_plan())
    said = [text for text, _ in texts_of(picture)]
    assert {"1", "2", "3", "4"} <= {*said}
    length = path_length(BOX)
    assert f"{length:.0f} mm" in said
    assert any(re.fullmatch(rf"\d+ to {length:.0f} mm", text) for text in said)
    assert "tank" in said
    assert "4 screws M4." in said
    # 12 mm in the middle of a groove of 2.8 mm.
    assert "10.6 mm, 5.3 cords" in said
    assert ElementTree.fromstring(picture).tag == f"{SVG}svg"


def test_a_cord_is_drawn_as_true_arcs():
    (d,) = [d for d in lines_of(draw_closing(sealed_plan()), "#4a555e") if "A" in d]
    assert d.count("A") == 4
    assert d.endswith("Z")
    (open_,) = [d for d in lines_of(draw_closing(sealed_plan(closed=False)), "#4a555e") if "A" in d]
    assert not open_.endswith("Z")


def test_tight_turns_are_marked():
    assert len(tight_arcs(cord(), 12.0)) == 4
    assert tight_arcs(cord(), 10.6) == ()
    small = outline_rectangle(10.0, 10.0, 90.0, 60.0, 5.0)
    assert len(lines_of(draw_closing(sealed_plan(path=small)), TIGHT_CORNER)) == 4
    assert lines_of(draw_closing(sealed_plan()), TIGHT_CORNER) == []


def test_what_no_screw_reaches_is_marked_and_told():
    stretch = OpenStretch("groove 1", (50.0, 10.0), 20.0, ("port block inlet G1/4",))
    coverage = Coverage("back", 40.0, "stiffness", 31.0, 4, (stretch,))
    picture = draw_closing(sealed_plan((coverage,)))
    marks = [d for d in lines_of(picture, FAULT) if d.count("L") == 1]
    assert len(marks) == 1
    said = " ".join(text for text, _ in texts_of(picture))
    assert "among the places tried, fewer than 4 would leave something out of reach (proven)" in said
    assert "40.0 mm apart at most, by the stiffness of cover and body" in said
    assert "20 mm of cord are out of reach of every screw, kept away by port block inlet G1/4" in said
    assert "out of reach of every screw" in said
    # Screws, and one in the legend.
    assert picture.count('fill-opacity="0.07"') == 4 + 1


def test_bonded_panel_shows_lands_clamps_and_the_narrowest_land(bonded):
    picture = draw_closing(bonded)
    (lands,) = bonded.sealed.lands
    said = [text for text, _ in texts_of(picture)]
    count = len(lands.clamps) + len(lands.weights)
    assert {str(k) for k in range(1, count + 1)} <= {*said}
    assert "least land 7 mm" in said
    assert any("Vapours" in text for text in said)
    assert f"clamp {len(lands.clamps)}" in said
    assert 'fill="url(#land)"' in picture


def test_terminal_tells_what_weights_weigh(bonded):
    (told,) = [f for f in bonded.findings if f.code == "bond.clamp" and f.severity == "note"]
    assert "2 weights of 2.9 to 9.6 kg inside" in told.text


def test_report_on_bonding(bonded):
    section = bonding_section(bonded)
    assert section is not None
    (joint,) = section["joints"]
    assert joint["least_land_mm"] == 7.0
    assert len(joint["pressing"]) == len(bonded.sealed.lands[0].pressed_mm2)
    assert joint["land_mm2"] + joint["wet_mm2"] == pytest.approx(160 * 120 - (4 - math.pi) * 25, abs=0.5)
    assert bonding_section(sealed_plan()) is None


@pytest.mark.parametrize("demo", ["workshop-render", "laser-driver", "observatory-camera"])
def test_demos_are_drawn_whole(demo):
    plan = plan_demo(demo)
    for layer in ("back", "front") if plan.panel.channel.layers == 2 else ("back",):
        picture = draw_closing(plan, layer)
        assert_inside(picture)
        assert_no_text_over_text(picture)
        assert picture == draw_closing(plan, layer)
        assert len(picture) < 300e3


@settings(max_examples=30, deadline=None)
@given(st.floats(0.0, 1.0))
def test_a_place_on_a_path_is_found_again(share):
    way = Way(BOX, closed=True)
    off = abs(distance_along(BOX, way.point(share * way.length)) - share * way.length)
    assert min(off, way.length - off) < 0.6


def test_badges_keep_off_screws_and_each_other():
    view = View(2.0, 100.0)
    loops = (cord(), cord(name="groove 2", path=outline_circle((50.0, 35.0), 14.0)))
    screws = tuple((10.0 + 8.0 * k, 10.0) for k in range(11))
    placed = place_tags(loops, screws, 8.0, view)
    spots = [placed[loop.name].at for loop in loops]
    assert all(math.dist(at, view.to(screw)) >= 16.0 for at in spots for screw in screws)
    assert math.dist(*spots) >= 16.0
    assert all(place.at == place.about for place in placed.values())


def test_the_badge_of_a_post_stands_beside_its_screw():
    view = View(2.0, 100.0)
    post = cord(name="groove of post 12", path=reverse_path(outline_circle((50.0, 35.0), 7.5)))
    place = place_tags((post,), ((50.0, 35.0),), 7.5, view)[post.name]
    assert cord_tag(post) == "P12"
    assert math.dist(place.at, view.to((50.0, 35.0))) >= 7.5 + tag_half("P12")
    assert math.dist(place.about, view.to((50.0, 35.0))) == pytest.approx(15.0, abs=0.5)


def test_no_two_cords_are_called_the_same():
    post = cord(name="groove of post 1", path=reverse_path(outline_circle((50.0, 35.0), 7.5)))
    island = cord(name="groove 2", path=reverse_path(outline_rectangle(20.0, 20.0, 40.0, 40.0, 6.0)))
    front = cord(name="groove 3", layer="front")
    loops = (
        cord(),
        island,
        front,
        replace(front, name="groove 4"),
        cord(name="groove 5", region="feed"),
        post,
    )
    assert list(name_rounds(Sealed(loops, ())).values()) == [
        "tank, back",
        "tank, back, island",
        "tank, front, 1 of 2",
        "tank, front, 2 of 2",
        "feed",
        "post 1",
    ]


def test_the_sheet_tells_screws_holes_groove_and_cord():
    plan = cord_plan()
    work = dict(list_work(plan, "back"))
    count = len(plan.sealed.screws)
    assert work["screws"].startswith(f"{count} of M4 x 20, socket head (ISO 4762)")
    assert "panel.screws_mm" in work["screws"]
    assert work["washers"] == f"{count} for M4, 9 mm across (ISO 7089), one under each head"
    assert " N m for " in work["tighten to"]
    assert work["cover"] == f"{count} holes of 4.5 mm, through"
    assert re.fullmatch(
        rf"{count} holes of 3.3 mm, \S+ mm deep from the joint; \S+ mm of .* at least", work["body"]
    )
    assert work["groove"].startswith("2.8 to 3 mm wide, 1.5 to 1.6 mm deep")
    whole = sum(loop.length + 2.0 for loop in plan.sealed.loops) / 1000
    assert work["cord"].startswith(f"{whole:.2f} m of 2 mm")
    assert "near the longer end" in work["cut each"]
    said = " ".join(text for text, _ in texts_of(draw_closing(plan)))
    assert all(" ".join(text.split()) in said for text in work.values())
    inserted = dict(list_work(cord_plan(inserts=True), "back"))
    assert "an insert M4 x 8.1 in each" in inserted["body"]
    metal = dict(list_work(cord_plan(cover_material="aluminium 6082-T6"), "back"))
    assert "washers" not in metal


def test_torque_that_no_wrench_reads_is_given_by_hand():
    small = dict(list_work(cord_plan(screw="M2.5"), "back"))
    assert "by hand" in small["tighten to"]
    large = dict(
        list_work(cord_plan(material="aluminium 6082-T6", cover_material="aluminium 6082-T6"), "back")
    )
    assert "by hand" not in large["tighten to"]


def test_a_back_cover_is_told_to_be_mirrored():
    plan = plan_demo("observatory-camera")
    back, front = (
        " ".join(text for text, _ in texts_of(draw_closing(plan, layer))) for layer in ("back", "front")
    )
    assert "Seen from the front, through the body." in back
    assert "mirrored, with x from the right-hand edge" in back
    assert "mirrored" not in front


def test_a_cover_without_any_screw_says_so():
    panel = sample_panel()
    everywhere = KeepClear("all", (0.0, 0.0, panel.width, panel.height), 61)
    plan = whole_plan(replace(panel, keep_clear=(everywhere,)), sample_routed())
    assert plan.sealed.screws == ()
    said = " ".join(text for text, _ in texts_of(draw_closing(plan)))
    bare = sum(loop.length for loop in plan.sealed.loops)
    assert f"No cover screw has room; {bare:.0f} mm of cord are held by none." in said
    assert "inf" not in said.split()


def test_lands_without_a_rim_tell_none(bonded):
    (lands,) = bonded.sealed.lands
    bare = replace(bonded, sealed=replace(bonded.sealed, lands=(replace(lands, pulled="", span=0.0),)))
    said = " ".join(text for text, _ in texts_of(draw_closing(bare)))
    assert "at the rim" not in said
    assert "MPa in the mean." in said
    assert bonding_section(bare)["joints"][0]["rim_of"] is None
