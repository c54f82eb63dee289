"""Large washers and wider holes under the heads of the cover screws."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest

from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.screw_room import edge_inset, groove_inset
from layouts.detail import detail_panel
from layouts.panel import Panel
from layouts.strength.fastening import fasten_covers, head_holds
from layouts.strength.screw_hole import (
    clamp_radii,
    clearance_hole,
    find_washer,
    fit_screw,
    footprint_diameter,
    grip_length,
    widest_hole,
)
from tests.layouts.sample_routed import sample_panel, sample_routed

METAL = "aluminium 6082-T6"


def make(**changes: Any) -> Panel:
    panel = sample_panel()
    return replace(panel, make=replace(panel.make, **changes))


@pytest.mark.published(source="area of a ring, pi / 4 (D^2 - d^2); ISO 7093-1: 12 mm for M4; ISO 273: 4.5 mm")
def test_large_washers_bear_by_their_ring() -> None:
    plain, large = make(), make(large_washers=True)
    allowed = head_holds(plain, 35.0) / (math.pi / 4 * (9**2 - 4.5**2))
    assert head_holds(large, 35.0) == pytest.approx(allowed * math.pi / 4 * (12**2 - 4.5**2))
    wide = make(large_washers=True, screw_hole=6.0)
    assert head_holds(wide, 35.0) == pytest.approx(allowed * math.pi / 4 * (12**2 - 6.0**2))
    metal = make(cover_material=METAL)
    assert find_washer(metal) is None
    assert head_holds(make(cover_material=METAL, large_washers=True), 35.0) > 2 * head_holds(metal, 35.0)


def test_a_large_washer_is_counted_wherever_it_lies() -> None:
    large = make(large_washers=True)
    assert footprint_diameter(large) == 12.0
    assert grip_length(large) == large.make.cover + 1.1
    assert clamp_radii(large) == (2.25, 6.0)
    assert clamp_radii(make()) == (2.25, 3.61)
    assert clamp_radii(make(screw_hole=7.0)) == (3.5, 4.0)
    routed, gaps = sample_routed(), clearances_of(large)
    # The row along the edge has room beside channels that stand as near to it as they may.
    assert gaps.edge_gap >= gaps.seal_reach + groove_inset(large, gaps) + edge_inset(large) - 1e-9
    sealed = close_panel(large, routed, gaps)
    assert min(math.dist(a, b) for a, b in combinations(sealed.screws, 2)) >= 13.0 - 1e-6
    rim = min(min(x, y, large.width - x, large.height - y) for x, y in sealed.screws)
    assert rim >= 5.5
    (one,) = fasten_covers(large, sealed, detail_panel(large, routed, sealed, gaps), 35.0)
    assert (one.washer, one.washer_standard) == (12.0, "ISO 7093-1")
    assert one.length == fit_screw(large).length


def test_the_hole_is_cut_as_the_file_asks() -> None:
    wide = make(screw_hole=4.8)
    assert clearance_hole(make()) == 4.5
    assert clearance_hole(wide) == 4.8
    # A larger screw that is proposed brings its own hole.
    assert clearance_hole(make(screw_hole=4.8, screw="M5")) == 5.5
    assert widest_hole(make()) == 8.0
    assert widest_hole(make(large_washers=True)) == 11.0
    routed, gaps = sample_routed(), clearances_of(wide)
    detail = detail_panel(wide, routed, close_panel(wide, routed, gaps), gaps)
    holes = {f.shape.radius for f in detail.features if f.kind == "clearance hole"}  # type: ignore[union-attr]
    assert holes == {2.4}
