"""Times of the wet voxels, the floods and the tilt map on the main demo, and the memory that all of it took.

Run: ``python tests/benchmarks/bench_filling.py [RUNS]``. "first" is the first call, with loading what is compiled; each
other figure the best of the runs. A ratio under 1 meets the target. The memory is the most that the process held,
planning the demo included.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from exports.pipeline import plan_panel
from geom.wet.flooding import climb_ways, pour_order
from geom.wet.raster import raster_wet
from layouts.filling.examine import examine_filling
from layouts.filling.left import voxels_of
from layouts.filling.openings import air_links, coolant_links, exits_of, find_openings, tank_voxels, vents_of
from layouts.filling.spacing import CHECK_SPACING, PLAN_SPACING
from layouts.filling.tilts import map_tilts

DEMO = Path(__file__).parents[2] / "layouts" / "panels" / "workshop-render.toml"
VOXELS_S, FLOODS_S, TILTS_S, MEMORY_MIB = 0.2, 0.6, 5.0, 1024.0


def tell(what: str, runs: int, target: float | None, work: Callable[[], object]) -> None:
    """Print the time of some work, and its ratio to the target."""
    times = []
    for _ in range(runs + 1):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    against = f"{target:>8g} s{min(times) / target:>8.2f}" if target else ""
    print(f"{what:<40}{times[0]:>8.3f} s{min(times):>8.3f} s{against}")


def main(runs: int) -> None:
    """Print the figures."""
    plan = plan_panel(DEMO)
    panel, routed, features = plan.panel, plan.routed, plan.detail.features
    volumes = {}
    print(f"{'':<40}{'first':>10}{'best':>10}{'target':>10}{'ratio':>8}")
    for spacing in (PLAN_SPACING, CHECK_SPACING):
        at = f" at {spacing:g} mm"
        checked = spacing == CHECK_SPACING
        tell("voxels" + at, runs, VOXELS_S if checked else None, lambda s=spacing: raster_wet(features, s))
        voxels = raster_wet(features, spacing)
        openings = find_openings(panel, routed, features, voxels)
        heights = voxels.elevations(panel.up)
        vents, exits = voxels_of(vents_of(openings)), voxels_of(exits_of(openings))
        above, below = air_links(openings, -heights), coolant_links(openings, heights)

        def flood(voxels=voxels, heights=heights, vents=vents, exits=exits, above=above, below=below) -> None:  # type: ignore[no-untyped-def]
            climb_ways(voxels, -heights, vents, above)
            climb_ways(voxels, heights, exits, below)

        tell("both floods" + at, runs, FLOODS_S if checked else None, flood)
        tell(
            "filling in order" + at,
            runs,
            None,
            lambda v=voxels, h=heights, e=vents, b=below: pour_order(v, h, e, b),
        )
        if not checked:
            tank = tank_voxels(voxels)
            tell(
                f"tilt map, 13 x 13,{at}",
                1,
                TILTS_S,
                lambda v=voxels, o=openings, t=tank: map_tilts(panel, routed, v, o, t),
            )
        volumes[spacing] = voxels.volume_mm3
        tell(
            "all of it" + at,
            1,
            None,
            lambda s=spacing, c=checked: examine_filling(panel, routed, plan.flowing, features, s, c),
        )
    # Kilobytes, but on macOS bytes.
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)
    print(f"{'memory':<40}{'':>10}{most:>6.0f} MiB{MEMORY_MIB:>6.0f} MiB{most / MEMORY_MIB:>8.2f}")
    # Last, since the kernel that it loads takes as much memory as all else.
    from geom.volume import plan_volume

    true = plan_volume(plan.detail)
    for spacing, volume in volumes.items():
        print(f"{f'volume at {spacing:g} mm':<40}{volume:>10.0f} mm3, {volume / true - 1:+.2%} of the plan's")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
