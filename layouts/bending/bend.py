"""How a plate held by screws bends under pressure and line loads, on the body that it lies on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from geom.errors import GeometryError
from layouts.bending.closed_form import plate_rigidity
from layouts.bending.contact import settle
from layouts.bending.elements import Elements, Held, hold, lift_at, make_elements
from layouts.bending.loads import place_points, spread_line, spread_pressure
from layouts.bending.mesh import GRADE, Mesh, mesh_sheet
from layouts.bending.plate import Bent, ClampRing, LineLoad, PlateCase, Sheet
from layouts.bending.stress import Circles, average_stress, lay_circles, part_middles

SIZE_MM = 5.0
"""Side of the triangles in the open: at half of it the bow of a cover changes by about 1 %; see
`tests/benchmarks/bench_bending.py`."""

LIFT_GRADE = 0.7
"""How fast triangles grow away from screws and holes where no stress is asked for, [-]; as `GRADE`: lifts change by
2 %."""

CUTS = 4
"""A triangle's thickness is that of so many times so many parts of it."""

EDGE_MM = 0.05
"""A corner this near to a clamp's ring is held: a hole's edge is made of chords, whose middles lie inside it."""

BALANCE = 1e-6
"""What loads, screws and seat may lack of balance, over the loads."""


@dataclass(frozen=True, slots=True)
class _Setting:
    """What cases share: a mesh and what holds it.

    Parameters
    ----------
    elements : Elements
    held : Held
        With deflection and slopes zero under the heads.
    clamp : (n,) int
        Number of the clamp that holds each corner, -1 for none.
    stiff : (m,) bool
        Triangles under a head.
    seated : (n,) bool
        Corners with the body under them.
    """

    elements: Elements
    held: Held
    clamp: np.ndarray
    stiff: np.ndarray
    seated: np.ndarray


def bend_plate(case: PlateCase, size: float = SIZE_MM) -> Bent:
    """Return how a plate bends; as `bend_cases` for one case.

    Parameters
    ----------
    case : PlateCase
    size : float
        Side of the mesh's triangles in the open, [mm].

    Returns
    -------
    Bent

    Raises
    ------
    GeometryError
        As in `bend_cases`.
    """
    return bend_cases((case,), size)[0]


def bend_cases(
    cases: tuple[PlateCase, ...], size: float = SIZE_MM, stressed: bool = True
) -> tuple[Bent, ...]:
    """Return how plates bend, in the order of the cases.

    Cases with the same outline, thickness, clamps and seat share a mesh and its stiffness, whatever their loads and
    modulus; each begins with the answer of the one before it.

    Parameters
    ----------
    cases : tuple of PlateCase
    size : float
        Side of the mesh's triangles in the open, [mm].
    stressed : bool
        Whether their stress is asked for too.

    Returns
    -------
    tuple of Bent

    Raises
    ------
    GeometryError
        Where no clamp lies on a plate, or an outline cannot be meshed.
    """
    bent: dict[int, Bent] = {}
    left = list(range(len(cases)))
    while left:
        alike = [k for k in left if _shares(cases[left[0]], cases[k])]
        left = [k for k in left if k not in alike]
        bent.update(zip(alike, _bend_alike([cases[k] for k in alike], size, stressed), strict=True))
    return tuple(bent[k] for k in range(len(cases)))


def _shares(a: PlateCase, b: PlateCase) -> bool:
    return (
        a.clamps == b.clamps
        and (a.sheet.thickness, a.sheet.poisson) == (b.sheet.thickness, b.sheet.poisson)
        and a.sheet.outline.equals_exact(b.sheet.outline, 0.0)
        and a.seat.equals_exact(b.seat, 0.0)
        and len(a.sheet.thinner) == len(b.sheet.thinner)
        and all(
            one[1] == other[1] and one[0].equals_exact(other[0], 0.0)
            for one, other in zip(a.sheet.thinner, b.sheet.thinner, strict=True)
        )
    )


def _bend_alike(cases: list[PlateCase], size: float, stressed: bool) -> list[Bent]:
    setting = _set_up(cases[0], size, GRADE if stressed else LIFT_GRADE)
    mesh = setting.elements.mesh
    regions: list[tuple[shapely.Geometry, np.ndarray]] = []
    lines: list[tuple[LineLoad, tuple[np.ndarray, np.ndarray]]] = []
    circles = lay_circles(mesh, cases[0].sheet.thickness, setting.stiff) if stressed else None
    pressing = np.zeros(len(mesh.points), dtype=bool)
    out = []
    for case in cases:
        places = _place_lines(lines, case.lines, mesh)
        force = case.pressure_mpa * _remember(regions, case.pressed, mesh)
        for line, place in zip(case.lines, places, strict=True):
            force = force + spread_line(mesh, line, *place)
        loads = force / plate_rigidity(case.sheet.thickness, case.sheet.young_mpa, case.sheet.poisson)
        unknowns, push, _ = settle(setting.elements, setting.held, loads, setting.seated, size, pressing)
        # A corner that presses in one case mostly does in the next.
        pressing = push > 0
        out.append(_read_off(case, setting, force, unknowns, push, places, circles))
    return out


def _set_up(case: PlateCase, size: float, grade: float) -> _Setting:
    mesh = mesh_sheet(case.sheet.outline, case.clamps, size, grade)
    clamp = _find_clamps(mesh, case.clamps)
    if not (clamp >= 0).any():
        x, y = case.sheet.outline.centroid.x, case.sheet.outline.centroid.y
        raise GeometryError(f"no screw holds the plate round ({x:.0f}, {y:.0f}) mm: give it one")
    corners = clamp[mesh.triangles]
    stiff = (corners[:, 0] >= 0) & (corners == corners[:, :1]).all(axis=1)
    shapely.prepare(case.seat)
    seated = shapely.contains_xy(case.seat, mesh.points[:, 0], mesh.points[:, 1])
    thin = _find_thickness(mesh, case.sheet)
    elements = make_elements(mesh, case.sheet.thickness, case.sheet.poisson, thin)
    held = hold(elements, np.flatnonzero(np.repeat(clamp >= 0, 3)))
    return _Setting(elements, held, clamp, stiff, seated)


def _find_thickness(mesh: Mesh, sheet: Sheet) -> np.ndarray:
    """Return the thickness of each triangle, (m,) [mm].

    Where an edge of a thinner place crosses it, it bends as its parts in a row do: the soft side for bending along
    the edge.
    """
    whole = np.full(len(mesh.triangles), float(sheet.thickness))
    if not sheet.thinner:
        return whole
    parts = part_middles(CUTS)
    at = np.einsum("pk,mkc->mpc", parts, mesh.points[mesh.triangles])
    thick = np.full(at.shape[:2], float(sheet.thickness))
    for where, thickness in sheet.thinner:
        shapely.prepare(where)
        inside = shapely.contains_xy(where, at[..., 0], at[..., 1])
        thick[inside] = np.minimum(thick[inside], thickness)
    cut = (thick != sheet.thickness).any(axis=1)
    whole[cut] = np.mean(thick[cut] ** -3.0, axis=1) ** (-1 / 3)
    return whole


def _find_clamps(mesh: Mesh, clamps: tuple[ClampRing, ...]) -> np.ndarray:
    """Return the number of the clamp that holds each corner, the nearest where several do; -1 for none."""
    clamp, nearest = np.full(len(mesh.points), -1), np.full(len(mesh.points), np.inf)
    for k, ring in enumerate(clamps):
        away = np.hypot(mesh.points[:, 0] - ring.at[0], mesh.points[:, 1] - ring.at[1])
        mine = (away >= ring.inner - EDGE_MM) & (away <= ring.outer + EDGE_MM) & (away < nearest)
        clamp[mine], nearest[mine] = k, away[mine]
    return clamp


def _remember(
    known: list[tuple[shapely.Geometry, np.ndarray]], pressed: shapely.Geometry, mesh: Mesh
) -> np.ndarray:
    """Return a region's forces at a pressure of 1, from those known if it is among them."""
    for region, spread in known:
        if region is pressed or region.equals_exact(pressed, 0.0):
            return spread
    spread = spread_pressure(mesh, pressed)
    known.append((pressed, spread))
    return spread


def _place_lines(
    known: list[tuple[LineLoad, tuple[np.ndarray, np.ndarray]]], lines: tuple[LineLoad, ...], mesh: Mesh
) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return where the points of lines lie, from those known where a line is among them; the others in one search."""

    def find(line: LineLoad) -> tuple[np.ndarray, np.ndarray] | None:
        return next((place for other, place in known if np.array_equal(other.points, line.points)), None)

    new = [line for line in lines if find(line) is None]
    if new:
        triangle, share = place_points(mesh, np.concatenate([line.points for line in new]))
        ends = np.cumsum([len(line.points) for line in new])[:-1]
        known += zip(new, zip(np.split(triangle, ends), np.split(share, ends), strict=True), strict=True)
    return [place for line in lines if (place := find(line)) is not None]


def _read_off(
    case: PlateCase,
    setting: _Setting,
    force: np.ndarray,
    unknowns: np.ndarray,
    push: np.ndarray,
    places: list[tuple[np.ndarray, np.ndarray]],
    circles: Circles | None,
) -> Bent:
    elements, clamp = setting.elements, setting.clamp
    rigidity = plate_rigidity(case.sheet.thickness, case.sheet.young_mpa, case.sheet.poisson)
    push = push * rigidity
    pull = force + push - rigidity * (elements.stiffness @ unknowns)[::3]
    held = clamp >= 0
    reactions = np.bincount(clamp[held], pull[held], len(case.clamps))
    rest = abs(force.sum() + push.sum() - reactions.sum())
    if rest > BALANCE * max(np.abs(force).sum(), 1e-12):
        raise GeometryError(
            f"screws and seat lack {rest:.3g} N of the {force.sum():.4g} N that lift the plate: use coarser triangles"
        )
    stress = np.empty(0) if circles is None else average_stress(elements, unknowns, rigidity, circles)
    return Bent(
        elements.mesh.points,
        elements.mesh.triangles,
        unknowns[::3].copy(),
        stress,
        tuple(lift_at(elements, unknowns, *place) for place in places),
        tuple(float(r) for r in reactions),
        float(push.sum()),
    )
