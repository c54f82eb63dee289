"""Tables of threads, screws, cords and materials: complete, sourced, and refusing what they lack."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from geom.standards.tables import (
    cord,
    cord_sections,
    material,
    material_names,
    screw,
    screw_names,
    thread,
    thread_names,
)


@pytest.mark.parametrize(
    ("look_up", "names"),
    [(thread, thread_names()), (screw, screw_names()), (cord, cord_sections()), (material, material_names())],
)
def test_every_row_is_found_by_its_name_and_carries_a_source(
    look_up: Callable[..., Any], names: tuple[Any, ...]
) -> None:
    assert len(set(names)) == len(names) >= 4
    for name in names:
        row = look_up(name)
        assert name in (getattr(row, "name", None), getattr(row, "section", None))
        assert len(row.source) > 20


@pytest.mark.parametrize("look_up", [thread, screw, material])
def test_unknown_name_lists_the_rows(look_up: Callable[..., Any]) -> None:
    with pytest.raises(OutOfRange, match=r'"M7\.3".*use one of .*, ') as caught:
        look_up("M7.3")
    names = {thread: thread_names(), screw: screw_names(), material: material_names()}[look_up]
    assert all(name in str(caught.value) for name in names)


def test_unknown_cord_lists_the_sections() -> None:
    with pytest.raises(
        OutOfRange, match=r"2\.1 mm is not in the table of cords: use one of 1\.5 mm, 1\.78 mm"
    ):
        cord(2.1)


def test_cord_is_found_within_a_rounding_error() -> None:
    assert cord(0.0787401574803 * 25.4).section == pytest.approx(2.0)


@pytest.mark.parametrize("name", thread_names())
def test_a_thread_grows_from_bore_to_collar(name: str) -> None:
    t = thread(name)
    assert t.minor <= t.tap_drill <= t.minor_max < t.pitch_diameter < t.major < t.collar < t.spot_face
    assert t.short_thread < t.full_thread + t.pitch < t.drill_depth
    # The spanner goes round a hexagon that covers the collar.
    assert t.spanner_radius > t.collar / 2


@pytest.mark.parametrize("name", screw_names())
def test_a_screw_grows_from_tap_drill_to_head(name: str) -> None:
    s = screw(name)
    assert s.tap_drill < s.diameter < s.clearance < s.head_diameter
    assert s.tap_drill == pytest.approx(s.diameter - s.pitch, abs=0.06)


@pytest.mark.parametrize("name", material_names())
def test_a_material_is_in_the_range_of_its_kind(name: str) -> None:
    m = material(name)
    assert m.allowable_mpa < m.young_mpa / 100
    assert (1000 < m.young_mpa < 5000) if m.kind == "plastic" else (60000 < m.young_mpa < 210000)
    assert 0.3 <= m.poisson < 0.4
    assert (m.engagement >= 2) if m.kind == "plastic" else (1 <= m.engagement <= 2)
    assert m.least_wall_printed is None or m.least_wall_printed >= m.least_wall_milled
    assert m.allowable_mpa < m.allowable_short_mpa <= 2 * m.allowable_mpa + 10
    assert 60 <= m.limit_c <= 100
    assert m.young_limit_mpa < m.young_mpa
    assert (0.3 <= m.creep_share < 0.7) if m.kind == "plastic" else (m.creep_share == 1)
    assert 0.2 < m.allowable_limit_share < 1
    assert all(word and word == word.strip() for word in m.attacked_by)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(material_names()), st.floats(-60, 200), st.floats(0, 60))
def test_a_warmer_material_is_never_stiffer_or_stronger(name: str, celsius: float, warmer: float) -> None:
    m = material(name)
    for lasting in (False, True):
        assert 0 < m.young_at(celsius + warmer, lasting) <= m.young_at(celsius, lasting) <= m.young_mpa
        assert 0 < m.allowable_at(celsius + warmer, lasting) <= m.allowable_at(celsius, lasting)
    assert m.young_at(celsius, lasting=True) <= m.young_at(celsius)
    assert m.allowable_at(celsius, lasting=True) < m.allowable_at(celsius)


def test_values_between_23_and_the_limit_are_linear_and_held_outside() -> None:
    m = replace(
        material("PC"),
        young_mpa=2000.0,
        young_limit_mpa=1000.0,
        limit_c=63.0,
        creep_share=0.5,
        allowable_mpa=10.0,
        allowable_short_mpa=20.0,
        allowable_limit_share=0.6,
    )
    assert [m.young_at(celsius) for celsius in (-10, 23, 33, 63, 80)] == [2000, 2000, 1750, 1000, 1000]
    assert m.young_at(43, lasting=True) == 750
    assert [m.allowable_at(celsius) for celsius in (0, 43, 90)] == pytest.approx([20, 16, 12])
    assert m.allowable_at(43, lasting=True) == pytest.approx(8)


@pytest.mark.parametrize("section", cord_sections())
def test_a_cord_never_fills_its_groove(section: float) -> None:
    c = cord(section)
    largest = math.pi / 4 * (c.section + c.tolerance) ** 2
    assert largest < 0.86 * c.groove_depth * c.groove_width
