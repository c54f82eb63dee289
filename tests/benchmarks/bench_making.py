"""Times of the rules of making beyond the build, and of a part in the printer, on the main example.

Run: ``python tests/benchmarks/bench_making.py [RUNS]``. The example is milled; its body is also searched as if it were
printed, on its six faces and tilted by 45 degrees towards eight edges. Each figure is the best of the runs. A ratio
under 1 meets the target.
"""

from __future__ import annotations

import itertools
import math
import sys
import time
from pathlib import Path

import trimesh

sys.path.insert(0, str(Path(__file__).parents[2]))

from exports.check_solids import Checked, check_solids
from exports.pipeline import plan_panel
from geom.feather import find_feathers, name_feathers
from geom.frame import INTO, Vec
from geom.printing.overhangs import measure_pose
from geom.printing.part_skin import survey_skin
from geom.rebuild import Models, rebuild_features
from layouts.milling.plan_milling import plan_milling
from layouts.plan import Plan
from layouts.rules.cutter_rules import check_cutter, check_milled_floors, check_radius, check_reach
from layouts.rules.drill_rules import check_drill_depth, check_drill_points, check_grazes, check_slopes
from layouts.rules.feather_rules import FEATHER_DEG, check_feathers
from layouts.rules.stock_rules import check_outline_reach, check_sheet, check_travel, check_upright
from layouts.rules.tolerance_rules import (
    check_tolerance_rooms,
    check_tolerance_screws,
    check_tolerance_seal,
    check_tolerance_walls,
)

DEMO = Path(__file__).parents[2] / "layouts" / "panels" / "workshop-render.toml"
SEARCH_S, RULES_S = 3.0, 1.0
OVERHANG_DEG, BRIDGE, LINE, LAYER = 45.0, 10.0, 0.45, 0.2


def list_directions() -> list[Vec]:
    """Return the six faces' directions, and those of eight tilts by 45 degrees from back and front."""
    half = math.sqrt(0.5)
    tilts = [
        (x, y, z) for x, y in ((half, 0.0), (-half, 0.0), (0.0, half), (0.0, -half)) for z in (half, -half)
    ]
    return [*INTO.values(), *tilts]


def search(body: trimesh.Trimesh, wet: trimesh.Trimesh) -> int:
    """Measure all poses of a part as it comes from the mesher; return how many roofs were found."""
    # Copies remember nothing of an earlier run.
    part = survey_skin(_fresh(body), _fresh(wet))
    return sum(
        len(measure_pose(part, up, OVERHANG_DEG, BRIDGE, LINE, LAYER).roofs) for up in list_directions()
    )


def _fresh(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices.copy(), mesh.faces.copy(), process=False, validate=False)


def ask_rules(plan: Plan, checked: Checked, models: Models) -> int:
    """Plan the cutting and ask every rule of making a milled panel; return how many findings there were.

    The walls at their worst are measured with all others; what that adds is in `check_solids`.
    """
    panel, detail = plan.panel, plan.detail
    milled = plan_milling(panel, detail)
    found = [
        *check_cutter(panel, milled),
        *check_radius(panel, milled),
        *check_reach(panel, milled),
        *check_outline_reach(panel, detail, milled),
        *check_milled_floors(panel, detail, milled),
        *check_travel(panel, milled),
        *check_upright(panel, milled),
        *check_sheet(panel, milled),
        *check_drill_depth(milled),
        *check_drill_points(panel, detail, milled),
        *check_slopes(panel, milled),
        *check_grazes(milled),
        *check_tolerance_seal(panel, plan.sealed),
        *check_tolerance_rooms(panel, plan.routed, milled),
        *check_tolerance_screws(panel, plan.sealed),
        *check_tolerance_walls(panel, checked.worst),
    ]
    for blank in detail.blanks:
        feathers = find_feathers(checked.solids.part(blank.name), checked.meshes[blank.name], FEATHER_DEG)
        found += check_feathers(panel, blank.name, name_feathers(models, feathers))
    return len(found)


def main(runs: int) -> None:
    """Print the figures."""
    plan = plan_panel(DEMO)
    checked = check_solids(plan)
    body, models = checked.meshes["body"], rebuild_features(checked.solids)
    asked, searched = [], []
    for _ in itertools.repeat(None, runs):
        start = time.perf_counter()
        findings = ask_rules(plan, checked, models)
        asked.append(time.perf_counter() - start)
        start = time.perf_counter()
        roofs = search(body, checked.wet_mesh)
        searched.append(time.perf_counter() - start)
    print(f"{'figure':<44}{'measured':>12}{'target':>12}{'ratio':>8}")
    for said, taken, target in (
        (f"rules of making, {findings} findings", asked, RULES_S),
        (f"{len(list_directions())} poses, {len(body.faces)} triangles, {roofs} roofs", searched, SEARCH_S),
    ):
        print(f"{said:<44}{f'{min(taken):.2f} s':>12}{f'{target:g} s':>12}{min(taken) / target:>8.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
