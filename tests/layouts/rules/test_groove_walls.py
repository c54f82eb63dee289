"""Walls between grooves and bores: told on the plan, as the solids are, with a cord that leaves enough."""

from __future__ import annotations

from dataclasses import replace

import pytest

from geom.build import build_solids
from geom.standards import tables
from geom.walls import measure_walls
from layouts.clearance import clearances_of
from layouts.closing.cords import seal_panel
from layouts.detail import detail_panel
from layouts.plan import Sealed
from layouts.rules.floor_rules import check_cover_wall
from layouts.rules.groove_walls import check_groove_walls
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_panel, sample_routed

ONE_FACE, TWO_FACES = (sample_panel(), sample_routed()), sample_faces()


def check(sample, section):
    panel = replace(sample[0], make=replace(sample[0].make, cord=section))
    gaps = clearances_of(panel)
    sealed = Sealed(seal_panel(panel, sample[1], gaps), ())
    detail = detail_panel(panel, sample[1], sealed, gaps)
    return check_groove_walls(panel, sealed, detail), detail


@pytest.mark.parametrize("sample", [ONE_FACE, TWO_FACES])
def test_a_thick_cord_over_a_bore_and_the_one_that_would_do(sample):
    (finding,), _ = check(sample, 4.0)
    assert (finding.code, finding.severity, finding.limit) == ("seal.wall", "fault", 2.0)
    # A bore ends at half of the channel's depth, 4.5 mm.
    assert finding.value == pytest.approx(4.5 - tables.cord(4.0).groove_depth, abs=0.03)
    assert "Use a cord of 3 mm" in finding.remedy
    assert "channels 10.5 mm deep" in finding.remedy
    assert check(sample, 3.0)[0] == ()
    assert check(sample, 3.53)[0] != ()


def test_the_solids_say_the_same():
    (finding,), detail = check(ONE_FACE, 4.0)
    walls = measure_walls(detail, build_solids(detail), 2.0, 1.0)
    pair = set(finding.features[:2])
    (measured,) = (wall.thickness for wall in walls if set(wall.between) == pair)
    assert finding.value == pytest.approx(measured, abs=0.01)


@pytest.mark.parametrize("closing", ["cord", "bonded"])
def test_a_cover_under_the_least_wall_is_one_fault(closing):
    panel = sample_panel(closing)
    (finding,) = check_cover_wall(replace(panel, make=replace(panel.make, cover=0.5)))
    assert (finding.code, finding.severity) == ("cover.thick", "fault")
    assert finding.text.startswith("A cover of 0.5 mm is under the least wall of 2 mm")
    assert check_cover_wall(panel) == check_cover_wall(sample_panel("one-piece")) == ()
