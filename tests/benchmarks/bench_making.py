"""Times of what is measured of a part in the printer, on the main example's body, against the targets.

Run: ``python tests/benchmarks/bench_making.py [RUNS]``. The example is milled; its body is searched as if it were
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

from exports.pipeline import check_solids, plan_panel
from geom.frame import INTO, Vec
from geom.printing.overhangs import measure_pose
from geom.printing.part_skin import survey_skin

DEMO = Path(__file__).parents[2] / "layouts" / "panels" / "workshop-render.toml"
SEARCH_S = 3.0
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


def main(runs: int) -> None:
    """Print the figures."""
    checked = check_solids(plan_panel(DEMO))
    body = checked.meshes["body"]
    taken = []
    for _ in itertools.repeat(None, runs):
        start = time.perf_counter()
        roofs = search(body, checked.wet_mesh)
        taken.append(time.perf_counter() - start)
    print(f"{'figure':<40}{'measured':>12}{'target':>12}{'ratio':>8}")
    said = f"{len(list_directions())} poses, {len(body.faces)} triangles, {roofs} roofs"
    print(f"{said:<40}{f'{min(taken):.2f} s':>12}{f'{SEARCH_S:g} s':>12}{min(taken) / SEARCH_S:>8.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
