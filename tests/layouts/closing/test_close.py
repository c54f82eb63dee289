"""Screws placed closer where they would be loaded too much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.cords import seal_panel
from layouts.closing.screw_room import wet_shadows
from layouts.closing.screws import place_screws
from layouts.closing.spacing import limit_spacing
from layouts.panel import Panel
from layouts.plan import Sealed
from layouts.strength.fastening import KEEP_CLOSED, holding, pull_screws
from layouts.strength.screw_hole import fit_screw
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_panel, sample_routed

ROUTED = sample_routed()


def pressed_to(bar: float) -> Panel:
    panel = sample_panel()
    return replace(panel, rules=replace(panel.rules, test_pressure_pa=bar * 1e5))


def pulls(panel: Panel, sealed: Sealed) -> np.ndarray:
    wet = shapely.union_all([shadow for _, shadow in wet_shadows(panel, ROUTED, "back")])
    return pull_screws(panel, sealed.screws, sealed.loops, wet)


def bears(panel: Panel) -> float:
    return min(holding(panel, fit_screw(panel), panel.coolant.temperature_c))


def test_screws_that_bear_their_load_stay_as_the_cover_asks() -> None:
    panel, gaps = sample_panel(), clearances_of(sample_panel())
    sealed = close_panel(panel, ROUTED, gaps)
    plain = place_screws(panel, ROUTED, seal_panel(panel, ROUTED, gaps), gaps)
    assert sealed.screws == plain.screws
    assert sealed.coverage[0].crowded is None


@pytest.mark.parametrize("bar", [3.0, 4.5])
def test_overloaded_screws_come_closer_where_they_are_overloaded(bar: float) -> None:
    panel = pressed_to(bar)
    gaps = clearances_of(panel)
    plain = place_screws(panel, ROUTED, seal_panel(panel, ROUTED, gaps), gaps)
    sealed = close_panel(panel, ROUTED, gaps)
    before = replace(sealed, screws=plain.screws)
    assert KEEP_CLOSED * pulls(panel, before).max() > bears(panel)
    assert KEEP_CLOSED * pulls(panel, sealed).max() <= bears(panel)
    assert len(sealed.screws) > len(plain.screws)
    # Closer everywhere, in proportion to the load, would take this many more.
    everywhere = KEEP_CLOSED * pulls(panel, before).max() / bears(panel) * len(plain.screws)
    assert len(sealed.screws) < everywhere
    (coverage,) = sealed.coverage
    assert coverage.crowded is not None
    assert 16.0 <= coverage.crowded < coverage.spacing == limit_spacing(panel)[0]
    assert coverage.least <= len(sealed.screws)


def test_where_closer_screws_do_not_help_the_fewest_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    panel = pressed_to(12.0)
    tried = []

    def place(*arguments: object) -> object:
        tried.append(arguments)
        return place_screws(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr("layouts.closing.close.place_screws", place)
    gaps = clearances_of(panel)
    sealed = close_panel(panel, ROUTED, gaps)
    assert len(tried) == 1
    assert pulls(panel, sealed).max() > bears(panel)
    assert sealed.screws == place_screws(panel, ROUTED, seal_panel(panel, ROUTED, gaps), gaps).screws


def test_warmer_coolant_asks_for_closer_screws() -> None:
    panel = pressed_to(2.0)
    gaps = clearances_of(panel)
    cool, warm = (close_panel(panel, ROUTED, gaps, celsius) for celsius in (20.0, 55.0))
    assert cool.coverage[0].crowded is None
    assert warm.coverage[0].crowded is not None


def test_both_covers_are_looked_at() -> None:
    panel, routed = sample_faces()
    panel = replace(panel, rules=replace(panel.rules, test_pressure_pa=3e5))
    sealed = close_panel(panel, routed, clearances_of(panel))
    for layer in ("back", "front"):
        wet = shapely.union_all([shadow for _, shadow in wet_shadows(panel, routed, layer)])
        load = pull_screws(panel, sealed.screws_of(layer), sealed.loops_of(layer), wet).max()
        assert load <= bears(panel), layer
