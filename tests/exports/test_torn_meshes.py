"""A mesh that is no closed skin is told as a fault, and what would look at it is left out: nothing falls."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest
import trimesh

import geom.tessellate
from exports.pipeline import make_panel
from geom.tessellate import mesh_closely
from layouts.panels.catalogue import demo_path


def tear(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    """Return a mesh without its first triangle."""
    keep = np.arange(len(mesh.faces)) > 0
    face_id = mesh.metadata["face_id"][keep]
    return trimesh.Trimesh(
        mesh.vertices, mesh.faces[keep], process=False, validate=False, metadata={"face_id": face_id}
    )


@pytest.mark.parametrize(
    ("demo", "torn"),
    [("cupboard-server", "parts"), ("cupboard-server", "coolant"), ("laser-driver", "parts")],
)
def test_torn_mesh_is_a_fault_and_no_crash(
    demo: str, torn: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One demo is printed in one piece, the other milled with a cover."""
    # Whoever else makes meshes has the real one by then.
    for module in ("geom.walls", "geom.rebuild"):
        import_module(module)

    def mesh_torn(shape: cq.Shape, volume: float, *rest: float) -> trimesh.Trimesh:
        mesh = mesh_closely(shape, volume, *rest)
        # Parts have a coarseness given, the coolant has none.
        return tear(mesh) if (torn == "parts") == bool(rest) else mesh

    monkeypatch.setattr(geom.tessellate, "mesh_closely", mesh_torn)
    made = make_panel(demo_path(demo), tmp_path)
    assert made.checked is not None
    opened = {finding.features[0] for finding in made.findings if finding.code == "mesh.open"}
    parts = {part.name for part in made.checked.solids.parts}
    assert opened == (parts if torn == "parts" else {"coolant"})
    assert all(finding.at_mm is not None for finding in made.findings if finding.code == "mesh.open")
    assert made.checked.prints == ()
    assert made.checked.poses == ()
    assert not list(tmp_path.glob("*.stl"))
    assert (tmp_path / "report.json").exists()
