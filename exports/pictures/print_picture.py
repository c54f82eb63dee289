"""A printed part as it lies on the bed (SVG): from the side and from above, with what hangs, and the other poses.

Both views are seen through: the part's outline, its coolant, its dry holes and wells as dashed lines, and over these
the roofs that hang, whichever lies in front. The view from the side is drawn over that from above, in the same scale
and with the same x.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import manifold3d
import numpy as np
import shapely

from exports.pictures.plan_symbols import FAULT, FINE, INK, SHEET, SHORE, SOFT, STILL, TEXT
from exports.pictures.svg import guess_width, number, text_at
from exports.pictures.whole_picture import whole_picture
from exports.tables.printing_tables import MADE, list_shown, pose_rows
from exports.wording.figures import show_mm, wrap_words
from exports.wording.print_words import tell_settings, tell_time
from geom.printing.lay_down import find_laying
from geom.printing.measured import Roof, is_wide
from geom.printing.overhangs import find_roofs
from geom.printing.part_skin import survey_skin
from geom.rebuild import rebuild_features
from geom.tessellate import to_manifold
from layouts.cost.parts import weigh_parts
from layouts.cost.quantities import time_print
from layouts.plan import Plan
from layouts.printing.printer_room import find_scale
from layouts.printing.process import process_of
from layouts.printing.tried import PartPoses

if TYPE_CHECKING:
    import trimesh

    from exports.check_solids import Checked

WIDTH = 760.0
TALL = 900.0
"""Most that both views take, in picture units."""
BETWEEN = 34.0
"""Between the views."""
ROW, LINE = 20.0, 16.0
BODY = "#dbe2e6"
BRIDGED, HANGING = "#2f7d5b", "#c9a227"
SIDE, PLAN = (0, 2), (0, 1)
"""Axes of the laid part that each view shows."""
SKIN_MM = 0.01
"""What only touches a part, as coolant does a cover, is not in it."""
DRY = 'stroke-width="0.7" stroke-dasharray="4 2.5"'


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a view lies: millimetres of two axes of the laid part to picture units, y down."""

    axes: tuple[int, int]
    scale: float
    top: float
    tall: float

    def to(self, points: np.ndarray) -> np.ndarray:
        """Return (n, 3) points of the laid part in picture units, (n, 2)."""
        x, y = points[:, self.axes[0]], points[:, self.axes[1]]
        return np.column_stack((x * self.scale, self.top + (self.tall - y) * self.scale))


def draw_print(plan: Plan, checked: Checked, part: PartPoses) -> str:
    """Return the picture of a printed part in the pose that it is made for.

    Parameters
    ----------
    plan : Plan
    checked : Checked
    part : PartPoses

    Returns
    -------
    str
        A whole SVG document with its own background, the same for the same solids.
    """
    process = process_of(plan.panel)
    mesh, up = checked.meshes[part.part], part.made.pose.up
    # As it is printed: larger by what it shrinks afterwards.
    turn, shift = (find_scale(plan.panel) * part for part in find_laying(mesh, up))
    laid = np.asarray(mesh.vertices) @ turn + shift
    move = np.column_stack((turn.T, shift))
    whole = to_manifold(mesh).transform(move)
    wet, dry = (
        [piece.transform(move) for piece in pieces if not piece.is_empty()]
        for pieces in _cut_pieces(plan, checked, mesh)
    )
    size = laid.max(axis=0)
    room = plan.panel.make.room
    bed = _bed(size, room)
    scale = min(WIDTH / bed[0], TALL / (bed[1] + size[2]))
    tall = float(size[2])
    side = _Frame(SIDE, scale, 0.0, tall)
    top = tall * scale + BETWEEN + _over(bed[1], size[1]) * scale
    above = _Frame(PLAN, scale, top, size[1])
    overlap = -_over(bed[0], size[0]) * scale
    drawing = _draw_bed(bed, size, room, side, above)
    patches = [
        (patch.roof, patch.triangles)
        for patch in find_roofs(
            survey_skin(mesh, checked.wet_mesh), up, process.overhang_deg, process.bridge, process.line_width
        )
    ]
    for frame in (side, above):
        drawing.append(_draw_outline(whole, frame, _fill(BODY, INK)))
        drawing += [_draw_outline(piece, frame, _fill(STILL, SHORE)) for piece in wet]
        drawing += [_draw_outline(piece, frame, f'fill="none" stroke="{INK}" {DRY}') for piece in dry]
        for roof, triangles in sorted(patches, key=lambda one: _weight(one[0], process.bridge)):
            shape = _shadow(frame.to(laid)[np.asarray(mesh.faces)[triangles]])
            drawing.append(_draw_roof(shape, roof, process.bridge))
        for at in part.made.measure.islands:
            x, y = frame.to((np.asarray(at) @ turn + shift)[None])[0]
            drawing.append(
                f'<path d="M{number(x - 6)} {number(y)}h12M{number(x)} {number(y - 6)}v12" stroke="{FAULT}" '
                'stroke-width="2.5"/>'
            )
    drawing += [
        text_at(overlap, side.top - 8.0, "from the side", TEXT, SOFT),
        text_at(overlap, top - _over(bed[1], size[1]) * scale - 8.0, "from above, seen through", TEXT, SOFT),
    ]
    bottom = top + (size[1] + _over(bed[1], size[1])) * scale + (18.0 if room is not None else 0.0)
    return whole_picture(
        f"{part.part} of {plan.panel.name} in the printer",
        (
            f"{plan.panel.name}: {part.part} printed {part.made.pose.name}",
            f"{show_mm(round(part.made.measure.footprint[0], 1))} x "
            f"{show_mm(round(part.made.measure.footprint[1], 1))} mm on the bed, "
            f"{show_mm(round(part.made.measure.height, 1))} mm tall",
        ),
        drawing,
        (overlap, -24.0, size[0] * scale - overlap, bottom),
        _draw_notes(plan, checked, part, (scale, bool(wet), bool(dry))),
    )


def _cut_pieces(
    plan: Plan, checked: Checked, mesh: trimesh.Trimesh
) -> tuple[list[manifold3d.Manifold], list[manifold3d.Manifold]]:
    """Return the coolant and the dry cuts that lie in a part's box, in the panel frame."""
    low, high = (np.asarray(side) for side in mesh.bounds)
    box = manifold3d.Manifold.cube(tuple(high - low - 2 * SKIN_MM)).translate(tuple(low + SKIN_MM))
    models = rebuild_features(checked.solids)
    dry = [
        piece ^ box
        for feature in plan.detail.features
        if feature.medium == "dry"
        for piece in models[feature.name]
    ]
    return [to_manifold(checked.wet_mesh) ^ box], dry


def _over(bed: float, side: float) -> float:
    """Return how far the bed stands out beyond a side, [mm]; 0 where it does not."""
    return max(0.0, (bed - side) / 2)


def _bed(size: np.ndarray, room: tuple[float, float, float] | None) -> tuple[float, float]:
    """Return what of the bed is drawn along x and y, [mm]: turned as the part fits; the part's own without a room."""
    if room is None:
        return float(size[0]), float(size[1])
    return max(room[:2]), min(room[:2])


def _draw_bed(
    bed: tuple[float, float],
    size: np.ndarray,
    room: tuple[float, float, float] | None,
    side: _Frame,
    above: _Frame,
) -> list[str]:
    """Draw the bed from above with the printer's travel, and as a line from the side."""
    wide, deep = bed
    x0 = (size[0] - wide) / 2 * side.scale
    y0 = above.top + (size[1] - deep) / 2 * side.scale
    ground = side.top + side.tall * side.scale
    out = [
        f'<path d="M{number(x0)} {number(ground)}h{number(wide * side.scale)}" stroke="{SOFT}" stroke-width="3"/>'
    ]
    if room is not None:
        out.append(
            f'<rect x="{number(x0)}" y="{number(y0)}" width="{number(wide * side.scale)}" '
            f'height="{number(deep * side.scale)}" fill="{SHEET}" stroke="{SOFT}" stroke-dasharray="6 4"/>'
        )
        said = f"the printer's travel: {show_mm(wide)} x {show_mm(deep)} mm, {show_mm(room[2])} mm high"
        out.append(text_at(x0, y0 + deep * side.scale + 14.0, said, 10.5, SOFT))
    return out


def _draw_outline(solid: manifold3d.Manifold, frame: _Frame, style: str) -> str:
    """Draw what a laid solid hides in a view."""
    axes = (*frame.axes, 3 - sum(frame.axes))
    shadow = solid.transform(np.column_stack((np.eye(3)[list(axes)], np.zeros(3)))).project()
    place = frame.scale * np.array((1.0, -1.0))
    foot = np.array((0.0, frame.top + frame.tall * frame.scale))
    loops = [np.asarray(loop) * place + foot for loop in shadow.to_polygons()]
    return f'<path d="{"".join(_way(loop) for loop in loops)}" {style}/>'


def _fill(colour: str, stroke: str) -> str:
    return f'fill="{colour}" fill-rule="evenodd" fill-opacity="0.85" stroke="{stroke}" stroke-width="0.8"'


def _shadow(triangles: np.ndarray) -> shapely.Geometry:
    """Return what (n, 3, 2) triangles cover together."""
    shapes = shapely.polygons(triangles)
    flat = shapely.area(shapes) < 1e-6
    if flat.all():
        # Seen edge on: a line.
        return shapely.multipoints(triangles.reshape(-1, 2)).convex_hull.buffer(1.5, cap_style="flat")
    return shapely.union_all(shapes[~flat], grid_size=1e-4).simplify(0.05)


def _weight(roof: Roof, bridge: float) -> int:
    """Return how much a roof weighs: 2 inside and too wide, 1 outside with support, 0 bridged."""
    if roof.inside:
        return 2 if is_wide(roof.span, bridge) else 0
    return 1 if roof.needs_support(bridge) else 0


def _draw_roof(shape: shapely.Geometry, roof: Roof, bridge: float) -> str:
    colour = (BRIDGED, HANGING, FAULT)[_weight(roof, bridge)]
    data = "".join(
        _way(np.asarray(ring.coords)[:-1])
        for piece in shapely.get_parts(shape)
        for ring in (piece.exterior, *piece.interiors)
    )
    return f'<path d="{data}" fill="{colour}" fill-rule="evenodd" fill-opacity="0.75"/>'


def _way(loop: np.ndarray) -> str:
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in loop.tolist()) + "Z"


def _draw_notes(
    plan: Plan, checked: Checked, part: PartPoses, shown: tuple[float, bool, bool]
) -> tuple[list[str], float, float]:
    """Draw the legend, the strip of poses and the settings; return their size too.

    `shown` is the scale, and whether coolant and dry cuts are in the drawing.
    """
    panel, (scale, wet, dry) = plan.panel, shown
    process = process_of(panel)
    entries = [
        (f'fill="{BRIDGED}"', f"hangs, and is bridged: up to {process.bridge:g} mm"),
        (f'fill="{HANGING}"', "outside, needs support"),
        (f'fill="{FAULT}"', "inside, too wide to bridge"),
    ]
    entries += [(f'fill="{STILL}"', "coolant")] if wet else []
    entries += [(f'fill="none" stroke="{INK}" {DRY}', "dry: holes, wells, seats")] if dry else []
    out: list[str] = []
    x = 0.0
    for style, said in entries:
        out.append(f'<rect x="{number(x)}" y="2" width="20" height="10" {style}/>')
        out.append(text_at(x + 26.0, 12.0, said, TEXT, INK))
        x += 26.0 + guess_width(said, TEXT) + 22.0
    bar = 50.0 if 50.0 * scale <= 200.0 else 20.0
    out.append(f'<path d="M{number(x)} 2v10M{number(x)} 7h{number(bar * scale)}m0 -5v10" stroke="{INK}"/>')
    out.append(text_at(x + bar * scale + 8.0, 12.0, f"{show_mm(bar)} mm", TEXT, INK))
    wide = x + bar * scale + 8.0 + 60.0
    rows = pose_rows(panel, part)
    columns = list(zip(*rows, strict=True))
    # One row is bold.
    widths = [max(guess_width(cell, TEXT, bold=True) for cell in column) + 16.0 for column in columns]
    y = 40.0
    for r, row in enumerate(rows):
        at = 0.0
        for c, cell in enumerate(row):
            made = r > 0 and row[0].endswith(MADE)
            weight = 'font-weight="600"' if made else ""
            extra = f'{weight} text-anchor="end"'.strip() if c else weight
            out.append(
                text_at(at + (widths[c] - 8.0 if c else 0.0), y, cell, TEXT, INK if r else SOFT, extra)
            )
            at += widths[c]
        y += ROW
        if r == 0:
            out.append(f'<path d="M0 {number(y - 15)}H{number(sum(widths))}" stroke="{FINE}"/>')
    left = len(part.tried) - len(list_shown(part))
    more = f"; {left} more in report.json" if left else ""
    out.append(
        text_at(0.0, y + 2.0, f"{MADE} the pose that it is made for; the best stands first{more}", 10.5, SOFT)
    )
    y += 26.0
    wide = max(wide, math.fsum(widths))
    time = time_print(plan, weigh_parts(panel, plan.detail, plan.milled, checked.volumes.by_part))
    for said in (*tell_settings(panel), *(() if time is None else (tell_time(time),))):
        for line in wrap_words(said, int(wide / (0.56 * TEXT))):
            out.append(text_at(0.0, y, line, TEXT, INK))
            y += LINE
        y += 2.0
    return out, wide, y
