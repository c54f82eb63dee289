"""What has a name and a place: features with their shapes, findings, walls, pockets of air and of coolant."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from exports.wording.figures import show_mm
from exports.wording.filling_words import show_ml
from exports.wording.places import round_place
from geom.features import Cylinder, Feature, Track
from geom.findings import Finding
from geom.outline import path_chords, region_polygon
from geom.units import ml
from layouts.filling.values import Left, Pocket
from layouts.rules.tolerance_rules import is_thin_at_worst

if TYPE_CHECKING:
    from geom.measured import Wall
    from layouts.tolerances.walls import WorstWall

OUTLINE_SAG_MM = 0.1
"""Between a feature's outline and the one by which a page tells it from others."""

PATH_CHORDS = 6
"""Of each arc of a groove's path."""


def list_features(features: tuple[Feature, ...]) -> list[dict[str, Any]]:
    """Return features with a place each and their shapes, [mm].

    Parameters
    ----------
    features : tuple of Feature

    Returns
    -------
    list of dict
        ``name``, ``kind``, ``at``, and the shape: a bore (``mouth``, ``way``, ``length``, ``radius``,
        ``chamfer``), a track
        (``line``, ``width``, ``z``) or a prism (``rings``: outlines and holes, ``z``); runs of x and y are flat.
    """
    return [{"name": f.name, "kind": f.kind, **_shape(f)} for f in features]


def list_findings(findings: tuple[Finding, ...], letters: Mapping[int, str]) -> list[dict[str, Any]]:
    """Return findings by their number in the page's list, with their places.

    Parameters
    ----------
    findings : tuple of Finding
    letters : mapping of int to str
        By which the plan names some of them.
    """
    return [
        {
            "index": index,
            "letter": letters.get(index, ""),
            "severity": f.severity,
            "code": f.code,
            "text": f.text,
            "at": None if f.at_mm is None else round_place(f.at_mm),
            "features": list(f.features),
        }
        for index, f in enumerate(findings)
    ]


def list_walls(thinnest: Wall | None, worst: tuple[WorstWall, ...]) -> list[dict[str, Any]]:
    """Return the thinnest wall from side to side, and the middles of those that tolerances bring near their limit.

    Parameters
    ----------
    thinnest : Wall or None
    worst : tuple of WorstWall
    """
    walls: list[dict[str, Any]] = []
    if thinnest is not None:
        text = (
            f"thinnest wall beside coolant: {show_mm(thinnest.thickness)} mm between {thinnest.between[0]} and "
            f"{thinnest.between[1]}; least {show_mm(thinnest.limit)} mm"
        )
        ends = [round_place(point) for point in thinnest.points]
        walls.append({"text": text, "ends": ends, "thin": thinnest.is_thin})
    for wall in worst:
        # What is dry need only not be used up.
        needed = f"; needed {show_mm(wall.needed)} mm" if wall.wet else ""
        text = (
            f"wall between {wall.between[0]} and {wall.between[1]}: {show_mm(wall.nominal)} mm as drawn, "
            f"{show_mm(max(0.0, wall.worst))} mm at worst{needed}"
        )
        walls.append({"text": text, "ends": [round_place(wall.at)], "thin": is_thin_at_worst(wall)})
    return walls


def list_pockets(left: Left | None) -> list[dict[str, Any]]:
    """Return where air stays when the panel is filled and coolant when it is drained.

    Parameters
    ----------
    left : Left or None
    """
    if left is None:
        return []
    said = {"air": "air that stays when filled", "coolant": "coolant that stays when drained"}
    sorts: tuple[tuple[str, tuple[Pocket, ...]], ...] = (("air", left.air), ("coolant", left.coolant))
    return [
        {
            "of": of,
            "text": f"{said[of]}: {show_ml(ml(pocket.volume_mm3))} in {', '.join(pocket.features[:2])}",
            "at": round_place(pocket.at),
            "radius": round((3.0 * pocket.volume_mm3 / (4.0 * np.pi)) ** (1 / 3), 3),
        }
        for of, pockets in sorts
        for pocket in pockets
    ]


def _shape(feature: Feature) -> dict[str, Any]:
    shape = feature.shape
    if isinstance(shape, Cylinder):
        return {
            "at": round_place(shape.mouth),
            "mouth": round_place(shape.mouth),
            "way": round_place(shape.direction),
            "length": round(shape.length, 3),
            "radius": round(shape.radius, 3),
            "chamfer": round(shape.chamfer, 3),
        }
    z = [round(shape.z0, 3), round(shape.z1, 3)]
    middle = sum(z) / 2
    if isinstance(shape, Track):
        line = path_chords(shape.path, PATH_CHORDS)
        x, y = line[len(line) // 2]
        return {
            "at": round_place((x, y, middle)),
            "line": _flat(line),
            "width": round(shape.width, 3),
            "z": z,
        }
    islands = getattr(shape, "islands", ())
    ground = region_polygon(shape.region, OUTLINE_SAG_MM, islands)
    inside = ground.representative_point()
    rings = [
        _flat(ring.coords[:-1])
        for polygon in shapely.get_parts(ground)
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    return {"at": round_place((inside.x, inside.y, middle)), "rings": rings, "z": z}


def _flat(points: Any) -> list[float]:
    return [round(c, 2) + 0.0 for point in points for c in point[:2]]
