"""The meshes that are printed: fitted, laid down, looked at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geom.findings import Finding
from geom.printing.find_hollows import find_cavities
from geom.printing.lay_down import lay_down, settle_mesh
from geom.printing.mesh_fits import PrintFit
from geom.printing.print_mesh import fit_mesh
from layouts.plan import Plan
from layouts.printing.plan_fits import plan_fits
from layouts.printing.process import process_of
from layouts.rules.process_rules import check_fits, check_measured_walls, widest_tight_wall
from layouts.rules.resin_rules import check_cavities

if TYPE_CHECKING:
    import trimesh

    from geom.measured import Wall


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
        Those of the parts that are closed, [mm]; the others are left out.

    Returns
    -------
    tuple of PrintMesh
        Closed, in the positive octant, their corners as the files hold them.

    Raises
    ------
    GeometryError
        Where a mesh would not be closed.
    """
    made = []
    for fit in list_fits(plan):
        if fit.part in meshes:
            mesh = fit_mesh(meshes[fit.part], fit)
            made.append(PrintMesh(fit, settle_mesh(lay_down(mesh, fit.up), fit.part)))
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
        Those of the parts that are closed, [mm]; the others are left out.
    walls : sequence of Wall
        Measured on the solids.
    """
    fits = list_fits(plan)
    found = [*check_measured_walls(plan.panel, walls), *check_fits(plan.panel, fits, walls)]
    for fit in fits:
        if fit.part in meshes:
            found += check_cavities(plan.panel, fit.part, find_cavities(meshes[fit.part]))
    return tuple(found)


def measured_to(plan: Plan) -> float:
    """Return up to which thickness walls are measured for printing, [mm]; 0 for a milled panel."""
    if plan.printed is None:
        return 0.0
    process = process_of(plan.panel)
    return max(widest_tight_wall(plan.panel), plan.panel.rules.least_wall) + process.bore_offset


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
