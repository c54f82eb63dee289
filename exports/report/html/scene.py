"""What the page's 3D view shows: parts, coolant and flow as meshes, places of findings, packed for a script.

The text is one JSON object. ``packed`` is a gzip stream in base64: four bytes tell the length of a JSON document
(little-endian), then stand that document and the bytes of all meshes in its order (see `scene_meshes`).
"""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING

from exports.pictures.bow_picture import BANDS
from exports.pictures.colours import part_colour
from exports.report.html.scene_flow import trace_flow, trace_tube
from exports.report.html.scene_meshes import lay_grid, pack_mesh
from exports.report.html.scene_numbers import lay_scales, tell_lines
from exports.report.html.scene_places import (
    list_features,
    list_findings,
    list_pockets,
    list_walls,
)
from exports.wording.places import round_place
from geom.findings import Finding
from layouts.faces import COVERS
from layouts.plan import Plan

if TYPE_CHECKING:
    import trimesh

    from exports.check_solids import Built

VERSION = 2
COOLANT = "coolant"

MOST_TRIANGLES = 150_000
"""Some 600 kB of the page. With more, the view is made of coarser meshes."""

SHOWN_MM, SHOWN_RAD = 0.1, 0.45
"""Of these: half as many triangles. Turns stay under that at which the view draws an edge (32 degrees)."""

RAMP = (*BANDS, "#2a2456")
"""From light to dark by like steps of lightness. On a white ground the light ones are left out, on a dark one the dark
ones: what is left runs on far enough."""


def pack_scene(
    plan: Plan,
    built: Built,
    findings: tuple[Finding, ...],
    letters: Mapping[int, str] | None = None,
) -> str:
    """Return the scene as text that may stand in a script element.

    Parameters
    ----------
    plan : Plan
    built : Built
        Or `Checked`: then with the walls and pockets that the check has measured.
    findings : tuple of Finding
        In the order in which the page lists them.
    letters : mapping of int to str, optional
        By which the plan names some of them, by number in that order.

    Returns
    -------
    str
        JSON; the same scene gives the same text.
    """
    from exports.check_solids import Checked

    checked = built if isinstance(built, Checked) else None
    shown = _mesh_for_show(built)
    grid = lay_grid(shown.values())
    meshes = [pack_mesh(mesh, grid) for mesh in shown.values()]
    filling = plan.filling if checked is None or checked.filling is None else checked.filling
    flow = tell_lines(trace_flow(plan), plan.flowing)
    scene = {
        "version": VERSION,
        "name": plan.panel.name,
        "origin": grid.origin,
        "quantum": grid.quantum,
        "parts": [
            {
                "name": name,
                "group": _group(name),
                "colour": _hex(name),
                "vertices": mesh.vertices,
                "triangles": mesh.triangles,
            }
            for name, mesh in zip(shown, meshes, strict=True)
        ],
        "ramp": RAMP,
        "quantities": lay_scales(flow, plan.flowing),
        "flow": flow,
        "tubes": [
            {
                "name": tube.name,
                "port": tube.port,
                "part": tube.part,
                "points": [round_place(point) for point in trace_tube(tube)],
                "outer": 0.0 if plan.panel.tubing is None else plan.panel.tubing.outer,
            }
            for tube in plan.tubes
            if tube.points
        ],
        "findings": list_findings(findings, letters or {}),
        "walls": [] if checked is None else list_walls(checked.thinnest, checked.worst),
        "pockets": list_pockets(None if filling is None else filling.left),
        "features": list_features(plan.detail.features),
    }
    document = json.dumps(scene, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode("utf-8")
    whole = len(document).to_bytes(4, "little") + document + b"".join(mesh.data for mesh in meshes)
    packed = base64.b64encode(gzip.compress(whole, compresslevel=9, mtime=0)).decode("ascii")
    return json.dumps({"version": VERSION, "packed": packed}, separators=(",", ":"))


def _mesh_for_show(built: Built) -> dict[str, trimesh.Trimesh]:
    """Return the parts' meshes and the coolant's; of a large panel coarser ones: nothing is measured on them."""
    shown = {**built.meshes, COOLANT: built.wet_mesh}
    if sum(len(mesh.faces) for mesh in shown.values()) <= MOST_TRIANGLES:
        return shown
    from geom.tessellate import mesh_solid

    shapes = {part.name: part.solid for part in built.solids.parts} | {COOLANT: built.solids.wet}
    return {name: mesh_solid(shapes[name], SHOWN_MM, SHOWN_RAD) for name in shown}


def _group(name: str) -> str:
    """Return with what a part is shown and hidden."""
    if name == COOLANT:
        return COOLANT
    if name in COVERS:
        return name
    return "body" if name.startswith(("body", "panel")) else "cords"


def _hex(name: str) -> str:
    red, green, blue, _ = part_colour(name)
    return f"#{round(255 * red):02x}{round(255 * green):02x}{round(255 * blue):02x}"
