"""What a section shows that no solid does: threads, axes, names of the parts that are cut."""

from __future__ import annotations

from dataclasses import replace

import shapely

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.blocks import view_box
from exports.drawing.draft import Draft
from exports.drawing.needed_views import Cut, frame_of_cut
from exports.drawing.placing import Tag
from exports.drawing.round_features import cut_centre_lines, cut_thread_lines
from exports.drawing.values import PlacedView, View
from geom.outline import Point, loop_polygon
from layouts.plan import Plan


def mark_section(plan: Plan, cut: Cut, view: View) -> View:
    """Return a section with the threads and axes of the bores that it cuts.

    Parameters
    ----------
    plan : Plan
    cut : Cut
    view : View
    """
    frame, features = frame_of_cut(plan.detail, cut), plan.detail.features
    more = (
        *cut_thread_lines(features, cut.plane, frame, view.cuts),
        *cut_centre_lines(features, cut.plane, frame),
    )
    return replace(view, lines=(*view.lines, *more))


def label_parts(draft: Draft, placed: PlacedView, names: set[str]) -> None:
    """Add the names of parts, and of one cord, to a section of them.

    Parameters
    ----------
    draft : Draft
    placed : PlacedView
    names : set of str
        Of the parts; every other cut is a cord.
    """
    largest: dict[str, tuple[float, Point]] = {}
    for face in placed.view.cuts:
        name = face.part if face.part in names else "cord"
        polygon = loop_polygon(face.region[0], 0.05)
        for hole in face.region[1:]:
            polygon = shapely.difference(polygon, loop_polygon(hole, 0.05))
        spot = shapely.point_on_surface(polygon)
        if polygon.area > largest.get(name, (0.0, (0.0, 0.0)))[0]:
            largest[name] = polygon.area, (spot.x, spot.y)
    for name, (_, at) in largest.items():
        draft.tags.append(
            Tag((name,), on_paper(placed, at), 0.0, TEXT, led=True, dot=True, beside=view_box(placed))
        )
