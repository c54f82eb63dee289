"""The meshes that are printed: fitted, laid down, looked at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geom.findings import Finding
from geom.printing.fit import fit_mesh
from geom.printing.fitted import PrintFit
from geom.printing.hollow import find_cavities, find_cups
from geom.printing.lay_down import lay_down
from layouts.plan import Plan
from layouts.printing.fits import plan_fits
from layouts.rules.process_rules import check_fits, check_measured_walls
from layouts.rules.resin_rules import CUP_AREA, CUP_DEPTH, check_hollows

if TYPE_CHECKING:
    import trimesh

    from geom.walls import Wall


@dataclass(frozen=True, slots=True)
class PrintMesh:
    """A part's mesh as it lies on the bed, [mm], and what was done to it."""

    fit: PrintFit
    mesh: trimesh.Trimesh


def make_print_meshes(plan: Plan, meshes: Mapping[str, trimesh.Trimesh]) -> tuple[PrintMesh, ...]:
    """Return the meshes that are printed; none for a milled panel.

    Parameters
    ----------
    plan : Plan
    meshes : mapping of str to trimesh.Trimesh
        Those of the parts, [mm].

    Returns
    -------
    tuple of PrintMesh
        Closed, in the positive octant.

    Raises
    ------
    GeometryError
        Where a mesh would not be closed.
    """
    made = []
    for fit in list_fits(plan):
        mesh = fit_mesh(meshes[fit.part], fit)
        made.append(PrintMesh(fit, mesh if fit.up is None else lay_down(mesh, fit.up)))
    return tuple(made)


def list_fits(plan: Plan) -> tuple[PrintFit, ...]:
    """Return what each printed part's mesh gets; empty for a milled panel."""
    if plan.printed is None:
        return ()
    return plan_fits(plan.panel, plan.routed, plan.detail, plan.printed)


def check_prints(
    plan: Plan, meshes: Mapping[str, trimesh.Trimesh], walls: Sequence[Wall]
) -> tuple[Finding, ...]:
    """Return what is found of the walls and the hollows of printed parts.

    Parameters
    ----------
    plan : Plan
    meshes : mapping of str to trimesh.Trimesh
        Those of the parts, [mm].
    walls : sequence of Wall
        Measured on the solids.
    """
    fits = list_fits(plan)
    found = [*check_measured_walls(plan.panel, walls), *check_fits(plan.panel, fits, walls)]
    resin = plan.panel.printing.process == "resin"
    for fit in fits:
        mesh = meshes[fit.part]
        cups = find_cups(mesh, fit.up, CUP_AREA, CUP_DEPTH) if resin and fit.up is not None else ()
        found += check_hollows(plan.panel, fit.part, find_cavities(mesh), cups)
    return tuple(found)


def measured_to(plan: Plan) -> float:
    """Return up to which thickness walls are measured for printing, [mm]; 0 for a milled panel."""
    if plan.printed is None:
        return 0.0
    from layouts.printing.process import process_of
    from layouts.rules.process_rules import tight_wall

    process = process_of(plan.panel)
    return max(tight_wall(plan.panel), plan.panel.rules.least_wall) + process.bore_offset


def describe_print(fits: Sequence[PrintFit], part: str) -> str:
    """Return what sets a printed part's STL and 3MF apart from its STEP file, in words; empty where nothing does."""
    fit = next((each for each in fits if each.part == part), None)
    if fit is None:
        return ""
    done = []
    if fit.bores and fit.offset > 0:
        done.append(f"bores {fit.offset:g} mm wider")
    if fit.threads:
        done.append("threads cut")
    if fit.shrink > 0:
        done.append(f"{100 * fit.shrink:g} % of shrinkage made up for")
    return ", ".join((*done, "laid down"))


def describe_meshes(prints: Sequence[PrintMesh]) -> str:
    """Return in what the meshes that are printed differ from the solids, in plain text; a line for each part.

    Parameters
    ----------
    prints : sequence of PrintMesh
        At least one.
    """
    fits = [each.fit for each in prints]
    return "\n".join(
        (
            "STL and 3MF are made to be printed, STEP keeps the nominal sizes",
            *(f"{fit.part}: {describe_print(fits, fit.part)}" for fit in fits),
        )
    )
