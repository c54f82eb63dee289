"""The pictures of closings: true arcs, all cords, screws and clamps numbered, no text over text."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_texts import SVG, assert_inside, assert_no_text_over_text, texts_of
from sample_plan import sample_plan

from exports.closing_picture import draw_closing
from exports.closing_places import cut_path, distance_along, least_wall_radius, place_numbers, tight_arcs
from exports.closing_symbols import TIGHT_CORNER
from exports.pipeline import plan_panel
from exports.plan_symbols import FAULT
from exports.report_bonding import bonding_section
from exports.svg import View
from geom.outline import Arc, Line, outline_circle, outline_rectangle, path_length
from layouts.panels.catalogue import demo_path
from layouts.plan import CordLoop, Coverage, OpenStretch, Plan, Sealed

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
    return plan_panel(demo_path("laser-driver"))


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
    assert least_wall_radius(cord()) == pytest.approx(12.0 - 1.4)
    assert least_wall_radius(cord(path=(Line((0.0, 0.0), (9.0, 0.0)),))) is None
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
    assert "fewer than 4 would leave something out of reach (proven)" in said
    assert "40.0 mm apart at most, by the cover's stiffness" in said
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
    plan = plan_panel(demo_path(demo))
    for layer in ("back", "front") if plan.panel.channel.layers == 2 else ("back",):
        picture = draw_closing(plan, layer)
        assert_inside(picture)
        assert_no_text_over_text(picture)
        assert picture == draw_closing(plan, layer)
        assert len(picture) < 300e3


@settings(max_examples=30, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.01, 1.0))
def test_a_piece_of_a_closed_path_has_its_length_and_starts_where_asked(share, part):
    whole = path_length(BOX)
    start, length = share * whole, part * whole
    piece = cut_path(BOX, start, length, closed=True)
    assert path_length(piece) == pytest.approx(length, abs=1e-3)
    for one, after in itertools.pairwise(piece):
        assert math.dist(one.end, after.start) < 1e-3
    off = abs(distance_along(BOX, piece[0].start) - start % whole)
    assert min(off, whole - off) < 0.6


def test_a_piece_of_an_open_path_ends_with_it():
    path = (Line((0.0, 0.0), (10.0, 0.0)), Arc((10.0, 5.0), 5.0, -math.pi / 2, math.pi / 2))
    piece = cut_path(path, -3.0, 8.0, closed=False)
    assert path_length(piece) == pytest.approx(5.0)
    assert cut_path(path, 40.0, 5.0, closed=False) == ()
    assert path_length(cut_path(outline_circle((0.0, 0.0), 5.0), 20.0, 15.0, closed=True)) == pytest.approx(
        15.0
    )


def test_numbers_keep_off_screws_and_each_other():
    view = View(2.0, 100.0)
    loops = (cord(), cord(name="groove 2", path=outline_circle((50.0, 35.0), 14.0)))
    screws = tuple((10.0 + 8.0 * k, 10.0) for k in range(11))
    placed = place_numbers(loops, screws, 8.0, view)
    spots = [placed[loop.name] for loop in loops]
    assert all(math.dist(at, view.to(screw)) >= 16.0 for at in spots for screw in screws)
    assert math.dist(*spots) >= 16.0
