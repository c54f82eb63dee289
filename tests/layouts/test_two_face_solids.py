"""The hand-made panel with two faces as solids: the walls that its plan promises stand in the metal."""

from __future__ import annotations

from geom.build import build_solids
from geom.frame import WALL_MM
from geom.walls import measure_walls
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.wet_regions import group_wet
from layouts.detail import detail_panel
from tests.layouts.sample_faces import sample_faces


def test_walls_of_two_faces():
    """Three sheets, one wet solid a region, no wall under the least one: not at holes, grooves or screws."""
    panel, routed = sample_faces("cord")
    gaps = clearances_of(panel)
    sealed = close_panel(panel, routed, gaps)
    detail = detail_panel(panel, routed, sealed, gaps)
    solids = build_solids(detail)
    assert [part.name for part in solids.parts[:3]] == ["body", "cover", "front cover"]
    assert len(solids.wet.Solids()) == len(group_wet(panel, routed)) == 3
    limit = panel.rules.least_wall
    walls = measure_walls(detail, solids, limit, 1.0)
    assert walls
    assert all(wall.thickness >= wall.limit - WALL_MM and not wall.overlap for wall in walls)
    named = {name for wall in walls for name in wall.between}
    assert any(name.startswith("groove") for name in named)
