"""A mesh sliced by a general-purpose slicer, and where its lines lie."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh

from exports.formats.stl import write_stl

SLICER = "prusa-slicer"
BED = 250.0
LAYER = 0.3
LINE = 0.45
"""Width that the slicer gives a line with a nozzle of 0.4 mm."""
STEP = 0.5
"""Lines are looked at in pieces no longer than this, and areas counted in squares of this side, [mm]."""
REACH = 30.0
"""How deep a straight tool reaches."""

SUPPORT = ("Support material", "Support material interface")
BRIDGE = ("Bridge infill", "Overhang perimeter")

OPTIONS = (
    "--export-gcode",
    "--support-material",
    # Just under the limit of 45 degrees that the measure takes: what lies at the very limit needs none.
    "--support-material-threshold=44",
    f"--layer-height={LAYER}",
    f"--first-layer-height={LAYER}",
    "--nozzle-diameter=0.4",
    f"--extrusion-width={LINE}",
    "--perimeters=2",
    "--fill-density=0%",
    # No more of all else than the slicer needs.
    "--top-solid-layers=0",
    "--bottom-solid-layers=1",
    "--perimeter-generator=classic",
    "--resolution=0.05",
    "--gcode-resolution=0.05",
    "--support-material-interface-layers=0",
    "--skirts=0",
    f"--bed-shape=0x0,{BED:g}x0,{BED:g}x{BED:g},0x{BED:g}",
    f"--center={BED / 2:g},{BED / 2:g}",
)


@dataclass(frozen=True)
class Pieces:
    """Middles of short pieces of lines, (n, 3) [mm] in the mesh's own frame, and their lengths, (n,) [mm]."""

    at: np.ndarray
    lengths: np.ndarray

    def area(self) -> float:
        """Return what the lines cover, [mm2]."""
        return float(self.lengths.sum() * LINE)

    def plan(self) -> float:
        """Return what they cover seen from above, in whole squares, [mm2]."""
        return len(np.unique(np.floor(self.at[:, :2] / STEP).astype(int), axis=0)) * STEP**2

    def where(self, kept: np.ndarray) -> Pieces:
        return Pieces(self.at[kept], self.lengths[kept])


def tell_about(path: Path) -> dict[str, str]:
    """Return what the slicer says of a file: "manifold", "number_of_parts", "size_x" ..."""
    done = subprocess.run([SLICER, "--info", str(path)], capture_output=True, text=True, check=True)
    rows = (line.partition("=") for line in done.stdout.splitlines() if "=" in line)
    return {key.strip(): value.strip() for key, _, value in rows}


def slice_mesh(mesh: trimesh.Trimesh, folder: Path) -> dict[str, Pieces]:
    """Return the lines that hold and bridge where a mesh is printed as it lies, by the slicer's own kinds."""
    write_stl(folder / "part.stl", "part", mesh)
    code = folder / "part.gcode"
    subprocess.run(
        [SLICER, *OPTIONS, f"--output={code}", str(folder / "part.stl")], capture_output=True, check=True
    )
    low, high = mesh.bounds
    shift = np.array(((low[0] + high[0] - BED) / 2, (low[1] + high[1] - BED) / 2, low[2]))
    lines: dict[str, list[tuple[float, ...]]] = {}
    kind, x, y, z = "", 0.0, 0.0, 0.0
    for row in code.read_text().splitlines():
        if row.startswith(";TYPE:"):
            kind = row[6:]
        elif row.startswith(";Z:"):
            z = float(row[3:])
        elif row.startswith("G1 "):
            words = {word[0]: float(word[1:]) for word in row.partition(";")[0].split()[1:]}
            to = words.get("X", x), words.get("Y", y)
            if kind in (*SUPPORT, *BRIDGE) and words.get("E", 0.0) > 0 and to != (x, y):
                lines.setdefault(kind, []).append((x, y, *to, z))
            x, y = to
    return {kind: _cut(np.array(rows), shift) for kind, rows in lines.items()}


def take(sliced: dict[str, Pieces], kinds: tuple[str, ...], below: float) -> Pieces:
    """Return the pieces of some kinds, each lowered to what lies `below` its top, [mm]."""
    found = [sliced[kind] for kind in kinds if kind in sliced]
    if not found:
        return Pieces(np.empty((0, 3)), np.empty(0))
    at = np.vstack([pieces.at for pieces in found]) - (0.0, 0.0, below)
    return Pieces(at, np.concatenate([pieces.lengths for pieces in found]))


def within(pieces: Pieces, wet: trimesh.Trimesh, part: trimesh.Trimesh | None = None) -> Pieces:
    """Return the pieces in the coolant; with a part, those that no straight tool along an axis reaches."""
    if not len(pieces.at):
        return pieces
    inside = pieces.where(wet.contains(pieces.at))
    if part is None or not len(inside.at):
        return inside
    shut = np.ones(len(inside.at), dtype=bool)
    low, high = part.bounds
    for axis in np.vstack((np.eye(3), -np.eye(3))):
        k = int(np.abs(axis).argmax())
        way = high[k] - inside.at[:, k] if axis[k] > 0 else inside.at[:, k] - low[k]
        free = part.ray.intersects_first(inside.at, np.tile(axis, (len(inside.at), 1))) < 0
        shut &= ~(free & (way <= REACH))
    return inside.where(shut)


def _cut(rows: np.ndarray, shift: np.ndarray) -> Pieces:
    starts, ends = rows[:, :2], rows[:, 2:4]
    lengths = np.linalg.norm(ends - starts, axis=1)
    counts = np.maximum(1, np.ceil(lengths / STEP)).astype(int)
    which = np.repeat(np.arange(len(rows)), counts)
    order = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = ((order + 0.5) / counts[which])[:, None]
    at = np.column_stack((starts[which] + share * (ends - starts)[which], rows[which, 4]))
    return Pieces(at + shift, (lengths / counts)[which])
