"""A channel with a roof that prints as an exact solid: planes, cylinders, cones and tori."""

from __future__ import annotations

import math

import cadquery as cq
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.TopoDS import TopoDS

from geom.errors import GeometryError
from geom.features import Vault
from geom.kernel import cut_shape, extrude_face, find_box, find_volume, is_valid, make_face
from geom.outline import Loop, outline_rectangle
from geom.vault import check_vault, run_volume, vault_volume

RUN_REL = 1e-7
"""A run's solid and its closed form may differ by this part: what the kernel's integral is good for."""

UNION_REL = 1e-4
"""United runs and the polygons of the same outlines may differ by this part: polygons are not exact."""


def make_vault(name: str, vault: Vault) -> cq.Shape:
    """Return a vault as one solid, or as a compound where its runs do not meet.

    The upright prism of each run has the rim of its roof taken off, which is exact for lines and arcs that pass
    into one another without a corner. Runs are united by two cuts, never by a fuse.

    Parameters
    ----------
    name : str
        Of the feature, for the message.
    vault : Vault

    Returns
    -------
    cadquery.Solid or cadquery.Compound

    Raises
    ------
    GeometryError
        Where its sizes make no shape, or the kernel's solid is not what they say.
    """
    try:
        check_vault(vault)
    except GeometryError as error:
        raise GeometryError(f"{name}: {error}") from None
    runs = [_make_run(name, vault, loop) for loop in vault.region]
    if len(runs) == 1:
        return runs[0]
    united = _unite(runs)
    _require_volume(name, united, vault_volume(vault), UNION_REL)
    return united


def _make_run(name: str, vault: Vault, loop: Loop) -> cq.Shape:
    prism = extrude_face(make_face(loop, vault.z0), vault.z1 - vault.z0)
    # The middles of all other faces lie lower, or higher.
    sign = 1.0 if vault.up else -1.0
    cap = max(prism.Faces(), key=lambda face: sign * face.Center().z)
    rim = TopoDS.Edge_s(cap.Edges()[0].wrapped)
    # One edge is enough: the others follow it round without a corner.
    if vault.profile == "round":
        fillet = BRepFilletAPI_MakeFillet(prism.wrapped)
        fillet.Add(vault.inset, rim)
        made = cq.Shape.cast(fillet.Shape())
    else:
        chamfer = BRepFilletAPI_MakeChamfer(prism.wrapped)
        chamfer.Add(vault.inset, vault.rise, rim, TopoDS.Face_s(cap.wrapped))
        made = cq.Shape.cast(chamfer.Shape())
    solid = made.Solids()[0]
    _require_volume(name, solid, run_volume(vault, loop), RUN_REL)
    return solid


def _unite(runs: list[cq.Shape]) -> cq.Shape:
    boxes = [find_box(run) for run in runs]
    low = [min(box[0, k] for box in boxes) - 1.0 for k in range(3)]
    high = [max(box[1, k] for box in boxes) + 1.0 for k in range(3)]
    sheet = extrude_face(
        make_face(outline_rectangle(low[0], low[1], high[0], high[1], 0.0), float(low[2])), high[2] - low[2]
    )
    rest = cut_shape(sheet, runs)
    whole = cut_shape(sheet, rest.Solids())
    unify = ShapeUpgrade_UnifySameDomain(whole.wrapped, True, True, False)
    unify.Build()
    united = cq.Shape.cast(unify.Shape())
    solids = united.Solids()
    return solids[0] if len(solids) == 1 else united


def _require_volume(name: str, solid: cq.Shape, expected: float, allowed: float) -> None:
    volume = find_volume(solid)
    if not math.isclose(volume, expected, rel_tol=allowed) or not is_valid(solid):
        raise GeometryError(
            f"{name}: the kernel's roofed channel has {volume:.3f} mm3, its outline and roof {expected:.3f} mm3; "
            f"change its width by 0.01 mm"
        )
