"""Walls at their worst: against random parts within the tolerances, and planted ones measured on solids."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sample_demos import plan_demo
from sample_plan import sample_plan

from geom.build import build_solids
from geom.features import Blank, Cylinder, Detail, Feature, Kind, Prism, Track
from geom.measured import Wall
from geom.outline import Line, outline_rectangle
from geom.walls import measure_walls
from layouts.milling.work import Hole, Milled, SetUp
from layouts.plan import Plan
from layouts.rules.tolerance_rules import check_tolerance_walls
from layouts.tolerances.located import across, locate_features
from layouts.tolerances.walls import WorstWall, needed_wall, thickest_at_risk, worst_walls

WIDTH, HEIGHT, BODY = 400.0, 220.0, 20.0
FRONT, BACK, TOP = (0.0, 0.0, -1.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0)
DRAWS = 20_000


def panel_with(*features: Feature, grade: str = "m", cover: bool = False) -> Plan:
    """Return a plan of a bare sheet with these cuts."""
    plan = sample_plan()
    sheet = outline_rectangle(0.0, 0.0, WIDTH, HEIGHT, 6.0)
    blanks = [Blank("body", sheet, 0.0, BODY)]
    if cover:
        blanks.append(Blank("cover", sheet, -8.0, 0.0))
    panel = replace(plan.panel, width=WIDTH, height=HEIGHT, make=replace(plan.panel.make, tolerance=grade))
    return replace(plan, panel=panel, detail=Detail(tuple(blanks), features, ()))


def bore(name: str, mouth: tuple[float, float, float], way: tuple[float, ...], length: float, radius: float):
    shape = Cylinder(mouth, way, length, radius)  # type: ignore[arg-type]
    medium = "wet" if name.startswith("port") else "dry"
    opens = ("front",) if way == FRONT else ("top",) if way == TOP else ()
    kind = "port" if medium == "wet" else "screw hole"
    return Feature(name, kind, medium, shape, opens=opens)  # type: ignore[arg-type]


def measure_all(plan: Plan) -> tuple[WorstWall, ...]:
    """Return every wall up to 10 mm, whether it can matter or not."""
    return worst_walls(plan, measure_walls(plan.detail, build_solids(plan.detail), 10.0, 10.0))


def measure(plan: Plan) -> tuple[WorstWall, ...]:
    solids = build_solids(plan.detail)
    return worst_walls(plan, measure_walls(plan.detail, solids, 2.0, 1.0, None, thickest_at_risk(plan)))


def between(walls: tuple[WorstWall, ...], *names: str) -> WorstWall:
    return next(wall for wall in walls if set(wall.between) == set(names))


def spread(rng: np.random.Generator, *tolerances: float) -> list[np.ndarray]:
    """Return deviations within their tolerances, most of them near the ends."""
    return [t * (2 * rng.beta(0.15, 0.15, DRAWS) - 1) for t in tolerances]


@pytest.mark.parametrize(("angle", "apart"), [(0.0, 12.0), (35.0, 12.5), (90.0, 12.0), (200.0, 13.0)])
def test_bores_of_two_setups_against_random_parts(angle: float, apart: float):
    x, y = 300.0, 150.0
    dx, dy = apart * math.cos(math.radians(angle)), apart * math.sin(math.radians(angle))
    plan = panel_with(
        bore("port a G1/4", (x, y, BODY), FRONT, 15.0, 5.0),
        bore("hole", (x + dx, y + dy, 0.0), BACK, 9.0, 2.0),
    )
    wall = between(measure_all(plan), "port a G1/4", "hole")
    assert wall.nominal == pytest.approx(apart - 7.0, abs=1e-3)
    # Class m: 0.5 over 120 mm for each coordinate, 0.2 on 10 mm, 0.1 on 4 mm.
    xa, ya, xb, yb, da, db = spread(np.random.default_rng(7), 0.5, 0.5, 0.5, 0.5, 0.2, 0.1)
    made = np.hypot(dx + xb - xa, dy + yb - ya) - (10 + da) / 2 - (4 + db) / 2
    assert made.min() >= wall.worst - 1e-3
    assert made.min() <= wall.worst + 0.1
    assert not wall.one_setup


def test_a_groove_over_an_edge_bore_against_random_parts():
    path = (Line((60.0, 200.0), (140.0, 200.0)),)
    groove = Feature("groove 1", "groove", "dry", Track(path, False, 2.8, 0.0, 1.5))
    plan = panel_with(bore("port b G1/4", (100.0, HEIGHT, 9.9), TOP, 40.0, 5.9), groove)
    wall = between(measure_all(plan), "port b G1/4", "groove 1")
    assert wall.nominal == pytest.approx(9.9 - 5.9 - 1.5, abs=1e-3)
    # Class m: 0.2 on the bore's height, 0.2 on its diameter, 0.1 on the groove's depth.
    height, diameter, depth = spread(np.random.default_rng(8), 0.2, 0.2, 0.1)
    made = (9.9 + height) - (11.8 + diameter) / 2 - (1.5 + depth)
    assert made.min() >= wall.worst - 1e-6
    assert made.min() <= wall.worst + 0.02
    assert wall.nominal - wall.worst == pytest.approx(0.4, abs=1e-3)


def test_a_front_floor_over_a_back_pocket_counts_the_sheet():
    pocket = Feature(
        "channel pump - block",
        "channel",
        "wet",
        Prism((outline_rectangle(280.0, 130.0, 320.0, 170.0, 4.0),), 0.0, 9.0),
    )
    plan = panel_with(bore("hole", (300.0, 150.0, BODY), FRONT, 8.5, 2.0), pocket)
    wall = between(measure_all(plan), "channel pump - block", "hole")
    assert wall.nominal == pytest.approx(2.5, abs=1e-3)
    # Class m: 0.2 on each depth and on the sheet's 20 mm.
    deep, drilled, sheet = spread(np.random.default_rng(9), 0.2, 0.2, 0.2)
    made = (20 + sheet) - (9 + deep) - (8.5 + drilled)
    assert made.min() >= wall.worst - 1e-6
    assert made.min() <= wall.worst + 0.02


def test_one_setup_holds_the_wall_as_a_dimension():
    plan = panel_with(
        bore("port a G1/4", (300.0, 150.0, BODY), FRONT, 15.0, 5.0),
        bore("port c G1/4", (312.5, 150.0, BODY), FRONT, 15.0, 5.0),
    )
    wall = between(measure_all(plan), "port a G1/4", "port c G1/4")
    assert wall.one_setup
    assert wall.worst == pytest.approx(2.4, abs=1e-3)


def test_the_setups_of_the_plan_come_before_the_direction():
    plan = panel_with(
        bore("port a G1/4", (300.0, 150.0, BODY), FRONT, 15.0, 5.0),
        bore("hole", (312.0, 150.0, 0.0), BACK, 9.0, 2.0),
    )
    holes = tuple(
        Hole(f.name, f.kind, "body", "front", f.shape, (0.0, 0.0), 0.0, True, False, "", 0.0, 0.0)
        for f in plan.detail.features
    )
    setup = SetUp("body", "front", (WIDTH, HEIGHT), BODY, None, (), holes)
    wall = between(measure_all(replace(plan, milled=Milled((setup,)))), "port a G1/4", "hole")
    assert wall.one_setup


def test_an_edge_of_the_sheet_is_worse_on_the_far_side():
    plan = panel_with(
        bore("hole", (4.0, 100.0, 0.0), BACK, 9.0, 2.0),
        bore("far hole", (WIDTH - 4.0, 100.0, 0.0), BACK, 9.0, 2.0),
    )
    walls = measure_all(plan)
    near, far = between(walls, "hole", "outer left"), between(walls, "far hole", "outer right")
    # 0.1 on 4 mm and half of 0.1 on the diameter; 0.5 on 396 mm and on 400 mm, and the same half.
    assert near.nominal - near.worst == pytest.approx(0.15, abs=1e-3)
    assert far.nominal - far.worst == pytest.approx(1.05, abs=1e-3)


@pytest.mark.parametrize("name", ["screw well 1", "channel of no route"])
def test_a_pocket_is_a_box_whatever_its_name(name: str):
    """Left side of a pocket 30 mm long from 60 mm on: its middle at 75 mm, and half of its length."""
    box = Feature(
        name, "screw well", "dry", Prism((outline_rectangle(60.0, 20.0, 90.0, 40.0, 2.0),), 5.0, 20.0)
    )
    plan = panel_with(box)
    located = locate_features(plan.panel, plan.detail, None)[name]
    lost = across(plan.panel, plan.routed, located, (60.0, 30.0, 10.0), (-1.0, 0.0, 0.0))
    # ISO 2768-m: 0.3 mm from 30 to 120 mm, 0.2 mm from 6 to 30 mm.
    assert lost == pytest.approx(0.3 + 0.2 / 2)


def test_a_cover_hole_is_held_by_its_screw():
    shape = Cylinder((300.0, 150.0, -8.0), BACK, 8.0, 2.25)
    hole = Feature("cover clearance 1", "clearance hole", "dry", shape, opens=("back",))
    path = (Line((260.0, 154.65), (340.0, 154.65)),)
    groove = Feature("groove 1", "groove", "dry", Track(path, False, 2.8, 0.0, 1.5))
    plan = panel_with(hole, groove, cover=True)
    wall = between(measure_all(plan), "cover clearance 1", "groove 1")
    assert wall.nominal == pytest.approx(1.0, abs=1e-3)
    # The dimension's 0.1, the screw's 0.25 to each side, half of 0.1 on the hole.
    assert wall.worst == pytest.approx(0.6, abs=1e-3)


def test_a_wall_that_can_vanish_is_a_fault_at_its_place():
    x, y, apart = 300.0, 150.0, 8.5
    step = apart / math.sqrt(2.0)
    plan = panel_with(
        bore("port a G1/4", (x, y, BODY), FRONT, 15.0, 5.0),
        bore("hole", (x + step, y + step, 0.0), BACK, 9.0, 2.0),
    )
    (found,) = check_tolerance_walls(plan.panel, measure(plan))
    assert (found.code, found.severity, found.limit) == ("tolerance.wall", "fault", 0.0)
    assert found.value == pytest.approx(1.5 - 2 * 0.5 * math.sqrt(2.0) - 0.15, abs=2e-3)
    assert found.at_mm is not None
    place = x + (5.0 + 0.75) / math.sqrt(2.0)
    assert math.dist(found.at_mm[:2], (place, y + place - x)) < 0.1
    assert set(found.features) == {"port a G1/4", "hole"}
    assert "class m" in found.text


def test_a_wall_that_gets_too_thin_is_a_caution_and_a_finer_class_cures_it():
    cuts = (
        bore("port a G1/4", (300.0, 150.0, BODY), FRONT, 15.0, 5.0),
        bore("hole", (309.3, 150.0, 0.0), BACK, 9.0, 2.0),
    )
    plan = panel_with(*cuts)
    (found,) = check_tolerance_walls(plan.panel, measure(plan))
    assert (found.severity, found.limit) == ("caution", 1.5)
    assert found.value == pytest.approx(2.3 - 1.0 - 0.15, abs=2e-3)
    assert found.at_mm is not None
    assert math.dist(found.at_mm[:2], (306.15, 150.0)) < 0.1
    assert "finer class" in found.remedy
    # Class f: 0.2 and 0.2, half of 0.1 and of 0.05.
    fine = panel_with(*cuts, grade="f")
    (wall,) = [w for w in measure(fine) if w.between == ("port a G1/4", "hole")]
    assert wall.worst == pytest.approx(2.3 - 0.4 - 0.075, abs=2e-3)
    assert check_tolerance_walls(fine.panel, measure(fine)) == ()


def test_dry_walls_are_told_only_where_nothing_is_left():
    wall = WorstWall(1.2, 0.1, 1.5, ("hole 1", "hole 2"), (10.0, 10.0, 5.0), False, False)
    panel = sample_plan().panel
    assert check_tolerance_walls(panel, (wall,)) == ()
    (found,) = check_tolerance_walls(panel, (replace(wall, worst=-0.2),))
    assert (found.severity, found.limit) == ("caution", 0.0)
    (sealing,) = check_tolerance_walls(panel, (replace(wall, worst=-0.2, groove=True),))
    assert sealing.severity == "fault"


@pytest.mark.parametrize(
    ("kind", "sealing"), [("groove", True), ("ring groove", True), ("pin hole", False), ("spot face", False)]
)
def test_the_groove_of_a_cord_is_known_by_its_kind(kind: Kind, sealing: bool):
    cut = Feature("one", kind, "dry", Cylinder((300.0, 150.0, 0.0), BACK, 2.0, 6.0))
    plan = panel_with(cut, bore("hole", (309.0, 150.0, 0.0), BACK, 9.0, 2.0))
    assert between(measure_all(plan), "one", "hole").groove is sealing


def test_cautions_are_told_together_and_meeting_features_left_to_their_own_rule():
    wall = WorstWall(2.0, 1.0, 1.5, ("port a", "hole 2"), (10.0, 10.0, 5.0), True, False)
    others = [replace(wall, worst=1.2, between=("port a", f"hole {k}")) for k in range(3, 9)]
    (found,) = check_tolerance_walls(sample_plan().panel, (wall, *others))
    assert found.value == 1.0
    assert "and at 3 more" in found.text
    assert len(found.features) == 8
    met = Wall(0.0, 2.0, ("a", "b"), ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)), True, True)
    assert worst_walls(panel_with(), (met,)) == ()


def test_what_is_needed_is_the_sheets_own_or_the_process_own():
    panel = sample_plan().panel
    assert needed_wall(panel, 5.0) == 1.5
    metal = replace(panel, make=replace(panel.make, cover_material="aluminium 6082-T6"))
    assert (needed_wall(metal, 5.0), needed_wall(metal, -4.0)) == (1.5, 0.8)
    printed = replace(panel, make=replace(panel.make, method="printed"))
    assert needed_wall(printed, 5.0) == pytest.approx(1.8)
    # A printed panel's cover of sheet is milled.
    covered = replace(printed, make=replace(printed.make, cover_material="aluminium 6082-T6"))
    assert (needed_wall(covered, 5.0), needed_wall(covered, -4.0)) == (pytest.approx(1.8), 0.8)


def test_no_wall_beyond_what_is_looked_at_could_be_told():
    plan = panel_with(
        bore("port a G1/4", (390.0, 210.0, BODY), FRONT, 15.0, 5.0),
        bore("hole", (380.0, 200.0, 0.0), BACK, 9.0, 2.0),
    )
    reach = thickest_at_risk(plan)
    assert reach.between("port a G1/4", "hole") <= reach.most
    for wall in worst_walls(plan, measure_walls(plan.detail, build_solids(plan.detail), 30.0, 30.0)):
        assert (
            wall.nominal - wall.worst
            <= reach.between(*wall.between) - (wall.needed if wall.wet else 0.0) + 1e-9
        )


def test_a_clean_demo_has_none():
    plan = plan_demo("laser-driver")
    assert check_tolerance_walls(plan.panel, measure(plan)) == ()
