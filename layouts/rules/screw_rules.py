"""Design rules of the cover's screws: that they hold every stretch of cord down."""

from __future__ import annotations

from dataclasses import replace

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.outline import Point
from geom.standards import tables
from geom.words import join_names
from layouts.clearance import clearances_of
from layouts.closing.screw_gaps import find_narrow_gap
from layouts.closing.screw_room import KEPT_CLEAR
from layouts.closing.screws import cord_reach
from layouts.closing.spacing import (
    LIMIT_WORDS,
    METAL_COVER,
    cover_for_spacing,
    limit_spacing,
)
from layouts.cures import Cure, join_cures
from layouts.faces import cover_name, joint_z, joints_of
from layouts.file.offers import offer_changes
from layouts.file_changes import set_key, set_length
from layouts.panel import Panel
from layouts.plan import Coverage, Layer, OpenStretch, Routed, Sealed
from layouts.rules.findings import make_finding


def check_cover_screws(panel: Panel, routed: Routed, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether every stretch of cord is held down by a screw (`cover.screws`), cover by cover.

    Two screws at the allowed spacing leave no place between them further than half of it from one.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    sealed : Sealed
    """
    if panel.make.closing != "cord":
        return ()
    return tuple(
        finding for layer in joints_of(panel) for finding in _check_screws_of(panel, routed, sealed, layer)
    )


def _check_screws_of(panel: Panel, routed: Routed, sealed: Sealed, layer: Layer) -> tuple[Finding, ...]:
    loops, screws = sealed.loops_of(layer), sealed.screws_of(layer)
    if not loops:
        return ()
    cover = cover_name(layer)
    if not screws:
        (x, y) = loops[0].path[0].start
        return (
            make_finding(
                "cover.screws",
                "fault",
                f"no place was left for a single {cover} screw",
                "leave more room for screws between channels, ports and edges, or use a smaller screw",
                limit=limit_spacing(panel, layer)[0] / 2,
                unit="mm",
                at_mm=(x, y, joint_z(panel, layer)),
            ),
        )
    coverage = sealed.coverage_of(layer)
    if coverage is None or not coverage.stretches:
        return ()
    reach, (x, y) = cord_reach(loops, screws)
    length = sum(stretch.length for stretch in coverage.stretches)
    worst = min(coverage.stretches, key=lambda stretch: (stretch.at[0] - x) ** 2 + (stretch.at[1] - y) ** 2)
    keep = "keeps" if len(worst.blockers) == 1 else "keep"
    away = f"; {join_names(worst.blockers)} {keep} screws away there" if worst.blockers else ""
    spots = len(coverage.stretches)
    where = "" if spots == 1 else f", in {spots} places,"
    cures = _list_cures(panel, routed, coverage, worst, (x, y))
    return (
        make_finding(
            "cover.screws",
            "caution",
            f"{max(length, 1):.0f} mm of the cord under the {cover}{where} have no screw within the "
            f"{coverage.spacing / 2:.3g} mm allowed by {LIMIT_WORDS[coverage.limit]}; at ({x:.0f}, {y:.0f}) mm the "
            f"nearest is {reach:.3g} mm away{away}",
            join_cures(cures),
            reach,
            coverage.spacing / 2,
            "mm",
            (x, y, joint_z(panel, layer)),
            tuple(dict.fromkeys((worst.loop, *worst.blockers))),
            offer_changes(panel, *cures),
        ),
    )


def _list_cures(
    panel: Panel, routed: Routed, coverage: Coverage, worst: OpenStretch, at: Point
) -> tuple[Cure, ...]:
    """Return what would help: room for a screw there, or a spacing at which these screws are enough."""
    layer, needed = coverage.layer, 2 * coverage.reach
    cures = []
    regions = [name for name in worst.blockers if name.startswith(KEPT_CLEAR)]
    gap = find_narrow_gap(panel, routed, clearances_of(panel), layer, at, coverage.spacing / 2)
    if regions:
        cures.append(Cure(f"make {regions[0]} smaller there"))
    elif gap is None:
        cures.append(Cure("leave more room for screws there, between channels and ports"))
    else:
        one, other = gap.between
        cures.append(
            Cure(f"leave {gap.missing:.1f} mm more between {one} and {other}, so that a screw fits there")
        )
    thickness = cover_for_spacing(panel, layer, needed)
    if thickness is not None:
        cures.append(Cure(f"use a cover of {thickness:g} mm", (set_length(thickness, "make", "cover"),)))
    if tables.material(panel.make.cover_row).kind == "plastic":
        metal = replace(panel, make=replace(panel.make, cover_material=METAL_COVER))
        if limit_spacing(metal, layer)[0] >= needed - SAME_MM:
            cures.append(
                Cure(
                    f'use a cover of aluminium (cover_material = "{METAL_COVER}")',
                    (set_key(METAL_COVER, "make", "cover_material"),),
                )
            )
    if coverage.limit == "diameters":
        screw = _larger_screw(panel, layer, needed)
        if screw is not None:
            cures.append(Cure(f"use {screw} screws, where these fit", (set_key(screw, "make", "screw"),)))
    return tuple(cures)


def _larger_screw(panel: Panel, layer: Layer, spacing: float) -> str | None:
    """Return the smallest screw with which screws may be so far apart; None where the cover is too weak for it."""
    rows = [tables.screw(name) for name in tables.screw_names()]
    for row in sorted(rows, key=lambda row: row.diameter):
        larger = replace(panel, make=replace(panel.make, screw=row.name))
        if limit_spacing(larger, layer)[0] >= spacing - SAME_MM:
            return row.name
    return None
