"""The body as a plate under its cover's loads: what is left of it, what presses it, and how much it adds."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from geom.outline import region_polygon
from geom.standards import tables
from layouts.bending.bend import bend_cases
from layouts.strength.body import BODY_SIZE
from layouts.strength.cover import bend_cover, cover_cases
from layouts.strength.peaks import cord_lifts
from tests.layouts.sample_faces import sample_faces
from tests.layouts.strength.sample_cover import cord_plan, whole_plan

PLAN = cord_plan()


@pytest.mark.published(source="closed form: areas of slots and pockets; pressure times area")
def test_the_body_is_thinner_at_pockets_and_open_at_bores() -> None:
    _, test = cover_cases(PLAN, "back")
    sheet, depth = test.body.sheet, PLAN.panel.channel.depth
    bores = [f for f in PLAN.detail.features if f.kind in ("port", "pump bore") and f.shape.direction[2]]
    assert len(sheet.outline.interiors) == len(bores) > 0
    left = {round(thickness, 6): where for where, thickness in sheet.thinner}
    wet = [f.shape for f in PLAN.detail.features if f.kind in ("channel", "tank")]
    floors = {round(20.0 - max(shape.z0, shape.z1), 6) for shape in wet}
    assert set(left) == floors | {round(20.0 - tables.cord(2.0).groove_depth, 6)}
    pockets = shapely.union_all([region_polygon(shape.region, 0.01) for shape in wet])
    under = shapely.union_all([left[floor] for floor in floors])
    assert under.area == pytest.approx(pockets.area, rel=3e-3)
    assert 20.0 - depth in left
    # Fittings and pump carry the pressure in their bores to the rims.
    (bent,) = bend_cases((test.body,), BODY_SIZE, stressed=False)
    cord = sum(line.n_mm * line.lengths.sum() for line in test.body.lines[: len(PLAN.sealed.loops)])
    whole = test.pressure_pa * 1e-6 * test.plate.pressed.area + cord
    assert sum(bent.reactions_n) - bent.contact_n == pytest.approx(whole, rel=5e-3)
    assert bent.stress_mpa.size == 0


def test_between_two_covers_floors_stand_between_the_pockets_of_both_faces() -> None:
    panel, routed = sample_faces()
    plan = whole_plan(panel, routed)
    _, test = cover_cases(plan, "back")
    one_deep = panel.make.body - panel.channel.depth
    least = min(thickness for _, thickness in test.body.sheet.thinner)
    assert least == pytest.approx(one_deep - panel.channel.depth)
    assert {ring.at for ring in test.body.clamps} == set(plan.sealed.screws)


def test_under_a_stiff_cover_the_gap_is_the_bodys_and_a_stiff_body_adds_none() -> None:
    soft = cord_plan(cover_material="stainless steel 316", material="POM-C")
    stiff = cord_plan(cover_material="POM-C", material="stainless steel 316")
    parts = []
    for plan in (soft, stiff):
        bending = bend_cover(plan, "back")
        assert bending is not None
        lift = cord_lifts(plan.sealed, bending)[0]
        assert lift.lift == pytest.approx(lift.cover + lift.body, abs=1e-8)
        parts.append((lift.cover, lift.body))
    assert parts[0][1] > 5 * parts[0][0]
    assert parts[1][0] > 20 * parts[1][1]


def test_a_thinner_body_with_deep_pockets_bows_more() -> None:
    _, test = cover_cases(PLAN, "back")
    plain = replace(test.body, sheet=replace(test.body.sheet, thinner=()))
    pocketed, solid = bend_cases((test.body, plain), 9.0, stressed=False)
    most = [max(float(lift.max()) for lift in bent.line_lift) for bent in (pocketed, solid)]
    assert most[0] > 1.1 * most[1] > 0.0
    assert math.isfinite(most[0])
