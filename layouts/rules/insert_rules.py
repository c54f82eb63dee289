"""Design rules of threaded inserts: where they help, whether they fit, the material round them."""

from __future__ import annotations

import math

import shapely

from geom.features import Detail, Feature
from geom.findings import Finding
from geom.frame import SAME_MM
from geom.outline import loop_polygon
from geom.standards import tables
from layouts.detail import SHADOW_SAG
from layouts.faces import joint_z, joints_of
from layouts.file.offers import keep_readable
from layouts.file_changes import set_key, thicken_sheet
from layouts.over_joint import cast_over_joint
from layouts.panel import Panel
from layouts.plan import Layer, Sealed
from layouts.rules.findings import make_finding
from layouts.strength.screw_hole import BELOW_INSERT, find_insert, fit_screw, most_depth


def check_inserts(panel: Panel, sealed: Sealed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether threaded inserts for the cover screws help, fit and have material round them (`screw.insert`).

    Parameters
    ----------
    panel : Panel
    sealed : Sealed
    detail : Detail
    """
    make = panel.make
    if make.closing != "cord" or not (sealed.screws or sealed.front_screws):
        return ()
    insert = find_insert(panel)
    if insert is None:
        return _refuse(panel) if make.inserts else ()
    deep = insert.length + BELOW_INSERT
    if not make.inserts:
        return _propose(panel, insert) if most_depth(panel) >= deep - SAME_MM else ()
    if most_depth(panel) < deep - SAME_MM:
        return (
            make_finding(
                "screw.insert",
                "fault",
                f"an insert {insert.name} needs a hole {deep:.3g} mm deep, the body holds {most_depth(panel):.3g} mm",
                f"make the body {deep - most_depth(panel):.2g} mm thicker, use a smaller screw, or take inserts out",
                most_depth(panel),
                deep,
                "mm",
                changes=keep_readable(panel, thicken_sheet(panel, "body", deep - most_depth(panel))),
            ),
        )
    fit = fit_screw(panel)
    return (
        make_finding(
            "screw.insert",
            "note",
            f"the cover screws go into inserts {insert.name}, {insert.outer_diameter:g} mm over the knurls: holes of "
            f"{fit.diameter:g} mm, {fit.depth:.3g} mm deep",
            "check the holes against the drawing of your insert's maker, which takes precedence"
            f"{_how_set(panel)}",
        ),
        *_check_walls(panel, sealed, detail, insert),
    )


def _how_set(panel: Panel) -> str:
    """Return how inserts are set in a material that does not melt well."""
    if not panel.make.material.startswith("PMMA"):
        return ""
    return "; acrylic crazes under hot or pressed inserts: try one in an offcut, or bond them in"


def _propose(panel: Panel, insert: tables.Insert) -> tuple[Finding, ...]:
    boss = insert.hole_diameter + 2 * insert.least_wall
    return (
        make_finding(
            "screw.insert",
            "note",
            f"the cover screws are tapped into {panel.make.material}, which stands few openings",
            f"where the cover is opened often, set inserts = true in [make]: inserts {insert.name} in holes of "
            f"{insert.hole_diameter:g} mm, {insert.length + BELOW_INSERT:.3g} mm deep, with {boss:.3g} mm of material "
            "across",
            changes=keep_readable(panel, set_key(True, "make", "inserts")),
        ),
    )


def _refuse(panel: Panel) -> tuple[Finding, ...]:
    return (
        make_finding(
            "screw.insert",
            "caution",
            f"the table has no insert for {panel.make.screw} in {panel.make.material}: the holes are tapped",
            "take inserts out of [make]; a thread in metal holds without, or with a wire insert after its maker's "
            "drawing",
            changes=keep_readable(panel, set_key(None, "make", "inserts")),
        ),
    )


def _check_walls(panel: Panel, sealed: Sealed, detail: Detail, insert: tables.Insert) -> tuple[Finding, ...]:
    """Ask whether each insert has its least wall to coolant, edge and neighbours; the worst place is told."""
    found: list[tuple[float, tuple[float, float, float], str]] = []
    for layer in joints_of(panel):
        screws = sealed.screws_of(layer)
        if screws:
            wall, at, beside = _thinnest(panel, detail, layer, screws)
            found.append((wall, (*at, joint_z(panel, layer)), beside))
    wall, place, beside = min(found, key=lambda row: row[0])
    if wall >= insert.least_wall - SHADOW_SAG:
        return ()
    return (
        make_finding(
            "screw.insert",
            "caution",
            f"the wall between the hole of an insert and {beside} is {wall:.3g} mm, an insert {insert.name} wants "
            f"{insert.least_wall:g} mm",
            "leave more room there, or use a smaller screw",
            wall,
            insert.least_wall,
            "mm",
            place,
            (beside,) if beside not in ("the edge", "the next one") else (),
        ),
    )


def _thinnest(
    panel: Panel, detail: Detail, layer: Layer, screws: tuple[tuple[float, float], ...]
) -> tuple[float, tuple[float, float], str]:
    """Return the thinnest wall round the holes of a cover's inserts, at which screw, and beside what, [mm]."""
    diameter, depth = fit_screw(panel).diameter, fit_screw(panel).depth
    points = shapely.points(screws)
    plate = loop_polygon(detail.blanks[0].loop, SHADOW_SAG)
    beside = [("the edge", plate.exterior)]
    beside += [
        (f.name, plan) for f in detail.features if (plan := _beside_hole(panel, f, layer, depth)) is not None
    ]
    walls = [
        (float(off[k]) - diameter / 2, screws[k], name)
        for name, plan in beside
        for off in (shapely.distance(points, plan),)
        for k in (int(off.argmin()),)
    ]
    apart = [(math.dist(p, q), p) for n, p in enumerate(screws) for q in screws[:n]]
    if apart:
        off, at = min(apart)
        walls.append((off - diameter, at, "the next one"))
    return min(walls, key=lambda row: row[0])


def _beside_hole(panel: Panel, feature: Feature, layer: Layer, depth: float) -> shapely.Geometry | None:
    """Return the plan of a wet feature or groove that lies beside a joint's screw holes; None where it does not."""
    if feature.medium != "wet" and feature.kind not in ("groove", "seat", "spot face"):
        return None
    (cast,) = cast_over_joint(panel, (feature,), layer)
    return cast.shadow if cast.low < depth - SAME_MM and cast.high > SAME_MM else None
