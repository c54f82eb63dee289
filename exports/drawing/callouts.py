"""What a drawing says of each hole: its number, its thread, diameters and depths.

Depths are counted from the part's face, whatever lies between: spot face, seat. A drill's point is not counted.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from exports.wording.figures import show_mm
from geom.features import Blank, Cylinder, Feature
from geom.frame import EDGES, SAME_MM, Face
from geom.outline import Point
from layouts.milling.drilling import Piece, cut_piece
from layouts.milling.frame import plane_of
from layouts.plan import Plan
from layouts.printing.split_features import INTO_WELL
from layouts.strength.screw_hole import fit_screw
from layouts.tolerances.screws import called_out_zone

LETTERS: dict[str, tuple[str, str]] = {
    "port": ("P", "port"),
    "pump bore": ("B", "pump bore"),
    "seat": ("E", "pump seat"),
    "pump screw": ("F", "screw of the pump"),
    "cover screw": ("S", "screw of the cover"),
    "front cover screw": ("T", "screw of the front cover"),
    "through hole": ("H", "through hole between the faces"),
    "joint screw": ("J", "screw of the split's joint"),
    "pin hole": ("N", "pin of the split's joint"),
    "ring groove": ("R", "groove of a cord ring"),
    "round": ("K", "other round cut"),
}
"""Sort of hole to the letter before its number, and what the letter stands for."""

COVER_SCREWS = ("cover screw", "front cover screw")
"""Sorts of the holes that the screws of a cover pass, in both parts: many, their places stand in the table alone."""

INSIDE = 0.01
"""How far behind its mouth a bore is asked which part it lies in, [mm]."""


@dataclass(frozen=True, slots=True)
class DrawnHole:
    """A round cut as one part's face shows it.

    Parameters
    ----------
    feature : str
        Its name.
    number : str
        "P1": the same for all parts that the feature passes.
    sort : str
        A key of `LETTERS`.
    what : str
    part : str
    face : Face
        From which it is made.
    at : (float, float)
        In the plane of that face (`layouts.milling.frame`), [mm].
    radius : float
        Of the largest circle that is seen of it, its spot face included, [mm].
    callout : str
    """

    feature: str
    number: str
    sort: str
    what: str
    part: str
    face: Face
    at: Point
    radius: float
    callout: str


def list_holes(plan: Plan) -> tuple[DrawnHole, ...]:
    """Return all round cuts of all parts, part by part, in the order of the features.

    Spot faces stand with the bore under them.

    Parameters
    ----------
    plan : Plan
    """
    numbers = number_features(plan.detail.features)
    spots = _spot_faces(plan.detail.features)
    out = []
    for blank in plan.detail.blanks:
        for feature in plan.detail.features:
            if feature.name not in numbers or not isinstance(feature.shape, Cylinder):
                continue
            piece = cut_piece(blank, feature) if begins_in(blank, feature.shape) else None
            if piece is not None:
                out.append(_draw_hole(plan, blank, feature, piece, numbers, spots))
    return tuple(out)


def begins_in(blank: Blank, bore: Cylinder) -> bool:
    """Return whether a bore begins inside a part's outline: of a split panel each piece has its own."""
    low, high = plane_of(blank, "front").low, plane_of(blank, "front").high
    starts = (m + d * INSIDE for m, d in zip(bore.mouth[:2], bore.direction[:2], strict=True))
    return all(low[k] < x < high[k] for k, x in enumerate(starts))


def own_bore(blank: Blank, feature: Feature) -> Feature | None:
    """Return a round feature as one part has it: from its own mouth there; tapped only where the feature's mouth is.

    Parameters
    ----------
    blank : Blank
    feature : Feature
        A cylinder.

    Returns
    -------
    Feature or None
        None where nothing of it lies in the part.
    """
    piece = cut_piece(blank, feature)
    if piece is None:
        return None
    return replace(feature, shape=piece.bore, thread=feature.thread if piece.mouthed else "")


def number_features(features: tuple[Feature, ...]) -> dict[str, str]:
    """Return the number of each round feature, by name; a cover's clearance hole has that of its screw's hole.

    Parameters
    ----------
    features : tuple of Feature
    """
    counts = Counter[str]()
    numbers = {}
    later = []
    for feature in features:
        if not isinstance(feature.shape, Cylinder) or feature.kind == "spot face":
            continue
        if feature.kind == "clearance hole":
            later.append(feature.name)
            continue
        letter = LETTERS[sort_of(feature)][0]
        counts[letter] += 1
        numbers[feature.name] = f"{letter}{counts[letter]}"
    for name in later:
        screw = next((f.name for f in features if f.kind == "screw hole" and name in f.joins), None)
        if screw is not None:
            numbers[name] = numbers[screw]
        else:
            counts["K"] += 1
            numbers[name] = f"K{counts['K']}"
    return numbers


def sort_of(feature: Feature) -> str:
    """Return the sort of a round feature: a key of `LETTERS`."""
    if feature.kind in ("screw hole", "clearance hole"):
        starts = ("front cover", "cover", "pump", "joint", "split")
        start = next((start for start in starts if feature.name.startswith(start)), "")
        return f"{'joint' if start in ('', 'split') else start} screw"
    return feature.kind if feature.kind in LETTERS else "round"


def _spot_faces(features: tuple[Feature, ...]) -> dict[str, Feature]:
    """Return the spot face of each bore that has one, by the bore's name."""
    return {name: spot for spot in features if spot.kind == "spot face" for name in spot.joins}


def _draw_hole(
    plan: Plan,
    blank: Blank,
    feature: Feature,
    piece: Piece,
    numbers: dict[str, str],
    spots: dict[str, Feature],
) -> DrawnHole:
    bore, plane = piece.bore, plane_of(blank, piece.face)
    u, v, top = plane.to_plane(bore.mouth)
    said, radius = [], bore.radius + bore.chamfer
    through = piece.face not in EDGES and piece.ends and top + bore.length > plane.height - SAME_MM
    deep = "through" if through else f"↧{show_mm(top + bore.length)}"
    if any(f.kind == "screw well" and f.name in feature.joins for f in plan.detail.features):
        deep = f"↧{show_mm(top + bore.length - INTO_WELL)} into the well"
    sort, wide = sort_of(feature), f"Ø{show_mm(2 * bore.radius)}"
    if feature.thread and piece.mouthed:
        length = top + min(feature.thread_depth, bore.length)
        full = through and length > plane.height - SAME_MM
        said.append(f"{feature.thread} {'through' if full else f'↧{show_mm(length)}'}")
    if bore.core > 0:
        said.append(f"Ø{show_mm(2 * bore.core)} to {wide} {deep}")
    else:
        said.append(f"{wide} {deep}")
    if feature.kind == "screw hole" and not feature.thread:
        insert = fit_screw(plan.panel).insert
        if insert is not None:
            said.insert(0, f"insert {insert.name}")
    spot = spots.get(feature.name)
    shallow = None if spot is None else cut_piece(blank, spot)
    if shallow is not None and shallow.face == piece.face:
        floor = plane.to_plane(shallow.bore.mouth)[2] + shallow.bore.length
        said.append(f"spot face Ø{show_mm(2 * shallow.bore.radius)} ↧{show_mm(floor)}")
        radius = shallow.bore.radius
    zone = called_out_zone(plan.panel, plan.sealed) if sort in COVER_SCREWS else None
    if zone is not None:
        said.append(f"position Ø{show_mm(zone)}")
    return DrawnHole(
        feature.name,
        numbers[feature.name],
        sort,
        _name_what(feature, sort),
        blank.name,
        piece.face,
        (u, v),
        radius,
        ", ".join(said),
    )


def _name_what(feature: Feature, sort: str) -> str:
    """Return what a hole is for, without what its callout says."""
    if feature.kind == "port":
        return feature.name.removeprefix("port ").removesuffix(f" {feature.thread}")
    return LETTERS[sort][1] if sort.endswith("screw") else feature.name
