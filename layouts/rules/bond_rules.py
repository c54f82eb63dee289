"""Design rules of a bonded joint: its lands, the pull on them, what is squeezed out, how the cover is pressed on."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.frame import SAME_MM
from geom.outline import Point
from geom.standards import tables
from geom.units import show_number
from layouts.clearance import clearances_of
from layouts.closing.bond import (
    BOND_LINE,
    FILM,
    LASTING_FACTOR,
    RELIEF,
    SHORT_FACTOR,
    STRENGTH_MPA,
    channel_loss,
    clamp_forces,
    mean_pull,
    relief_ml,
    rim_pull,
    squeezed_ml,
)
from layouts.closing.clamps import BOARD
from layouts.closing.wet_regions import layer_runs
from layouts.faces import joint_z
from layouts.panel import Panel
from layouts.plan import BondedLands, Layer, Routed, Sealed
from layouts.rules.findings import make_finding

COVER_STEP = 0.5
"""Steps in which a thicker cover is looked for, [mm]."""

MOST_LOSS = 0.25
"""Share of a channel's section that squeezed-out adhesive may take, [-]; common practice, no source."""

WARMING_K = 20.0
"""Warming at which the growth of unlike plates is told, [K]."""

UNLIKE_1_K = 1e-5
"""Difference of expansion above which body and cover are told to be unlike, [1/K]."""


def check_bond_lands(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether every bonded land is wide enough (`bond.land`)."""
    limit = clearances_of(panel).seal_reach
    found = []
    for lands in sealed.lands:
        if lands.least_width >= limit - SAME_MM:
            continue
        a, b = lands.between
        found.append(
            make_finding(
                "bond.land",
                "fault",
                f"between {a} and {b} only {lands.least_width:.3g} mm of land are left to bond, under {limit:g} mm",
                f"move them apart by {limit - lands.least_width:.2g} mm, or make one of them narrower",
                lands.least_width,
                limit,
                "mm",
                _place(panel, lands, _middle(*lands.least_ends)),
                (a, b),
            )
        )
    return tuple(found)


def check_bond_pull(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether the bond holds the cover at the test pressure (`bond.pull`), in the mean and at a wide span's rim."""
    pressure, cover = panel.rules.test_pressure_pa, panel.make.cover
    found = []
    for lands in sealed.lands:
        mean, rim = mean_pull(lands, pressure), rim_pull(pressure, lands.span, lands.beside, cover)
        if mean > STRENGTH_MPA / LASTING_FACTOR:
            limit = STRENGTH_MPA / LASTING_FACTOR
            found.append(
                make_finding(
                    "bond.pull",
                    "caution",
                    f"at the test pressure the {_cover(lands.layer)} pulls on its bond by {show_number(mean, 2)} MPa "
                    f"in the mean over {lands.area_mm2 / 100:.0f} cm2 of lands, more than {limit:.2g} MPa",
                    "leave more land between what is wet, test at less pressure, or close it by a cord and screws",
                    mean,
                    limit,
                    "MPa",
                    _place(panel, lands, lands.pulled_at),
                    (lands.pulled,),
                )
            )
        if rim > STRENGTH_MPA / SHORT_FACTOR:
            severity: Severity = "fault" if rim > STRENGTH_MPA else "caution"
            limit = STRENGTH_MPA / (1 if severity == "fault" else SHORT_FACTOR)
            found.append(
                make_finding(
                    "bond.pull",
                    severity,
                    f"at the test pressure the {_cover(lands.layer)} pulls on its bond by {show_number(rim, 2)} MPa "
                    f"at the rim of the {lands.span:g} mm wide {lands.pulled}, beside {lands.beside:.3g} mm of land, "
                    f"more than {limit:.3g} MPa",
                    _tell_thicker(panel, lands),
                    rim,
                    limit,
                    "MPa",
                    _place(panel, lands, lands.pulled_at),
                    (lands.pulled,),
                )
            )
    return tuple(found)


def _tell_thicker(panel: Panel, lands: BondedLands) -> str:
    """Return the thickness of a cover that would do, or what else helps."""
    pressure, least = panel.rules.test_pressure_pa, STRENGTH_MPA / SHORT_FACTOR
    others = f"make the {lands.pulled} narrower, leave more land beside it, or test at less pressure"
    for k in range(1, 1 + math.ceil(2 * panel.make.cover / COVER_STEP)):
        thickness = panel.make.cover + k * COVER_STEP
        if rim_pull(pressure, lands.span, lands.beside, thickness) <= least:
            return f"use a cover of {thickness:g} mm, or {others}"
    return others


def check_squeeze_out(routed: Routed, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask where the adhesive goes that is pressed out of the lands (`bond.squeeze`)."""
    found = []
    for lands in sealed.lands:
        channels = [channel for channel in routed.channels if layer_runs(channel, lands.layer)]
        if not channels:
            continue
        smallest = min(channels, key=lambda channel: channel.width * channel.depth)
        loss = channel_loss(lands, smallest.width, smallest.depth)
        out, laid = squeezed_ml(lands), lands.area_mm2 * FILM * 1e-3
        found.append(
            make_finding(
                "bond.squeeze",
                "caution" if loss > MOST_LOSS else "note",
                f"a film of {FILM:g} mm pressed to {BOND_LINE:g} mm leaves {out:.2g} mL of adhesive over under the "
                f"{_cover(lands.layer)}; all of it beside the channels would take {100 * loss:.0f} % of the section of "
                f"channel {smallest.name}",
                f"lay no more than {laid:.2g} mL in all, keep it 2 mm back from wet edges and press from the middle "
                f"outwards; a {RELIEF:g} mm chamfer along the wet edges holds {relief_ml(lands):.2g} mL of it (the "
                "parts as written have none), and a thin cement that is drawn into the closed joint leaves none",
                100 * loss,
                100 * MOST_LOSS,
                "%",
                None,
                (f"channel {smallest.name}",),
            )
        )
    return tuple(found)


def check_clamps(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Tell how the cover is pressed on while the bond sets, and what no clamp reaches (`bond.clamp`)."""
    kind = tables.material(panel.make.cover_row).kind
    found = []
    for lands in sealed.lands:
        cover = _cover(lands.layer)
        if lands.unpressed_at is not None:
            found.append(
                make_finding(
                    "bond.clamp",
                    "caution",
                    f"{lands.unpressed_mm2 / 100:.2g} cm2 of land under the {cover} are further than "
                    f"{lands.reach:g} mm from every clamp and weight that has room",
                    "press there by hand or by a bar across the board, or leave more land between openings",
                    lands.unpressed_mm2 / 100,
                    0.0,
                    "cm2",
                    _place(panel, lands, lands.unpressed_at),
                )
            )
        forces = clamp_forces(lands, kind)
        if not forces:
            continue
        low, high = sum(f[0] for f in forces) / len(forces), sum(f[1] for f in forces) / len(forces)
        inside = f" and {_count(len(lands.weights), 'weight')} inside" if lands.weights else ""
        picture = "closing-front.svg" if lands.layer == "front" else "closing.svg"
        care = (
            "acrylic under stress crazes where solvent wets it"
            if kind == "plastic"
            else "too much starves the joint"
        )
        found.append(
            make_finding(
                "bond.clamp",
                "note",
                f"{_count(len(lands.clamps), 'clamp')} along the edges{inside} press the {cover} on through a flat "
                f"board {BOARD:g} mm thick, with {low:.0f} to {high:.0f} N each in the mean",
                f"press lightly and evenly ({care}), in the places of {picture}; anneal machined plastic first, keep "
                "to the cement maker's data sheet for gloves, moving air and curing time, and keep flames away",
            )
        )
    return tuple(found)


def check_bond_material(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether body and cover take a bond, and grow alike (`bond.material`)."""
    if panel.make.closing != "bonded":
        return ()
    body, cover = tables.material(panel.make.material), tables.material(panel.make.cover_row)
    found = []
    poor = [name for name in dict.fromkeys((body.name, cover.name)) if name.startswith("POM")]
    if poor:
        found.append(
            make_finding(
                "bond.material",
                "caution",
                f"{poor[0]} hardly takes a bond: solvents leave it alone and adhesives peel off",
                'use another material, or closing = "cord"',
                features=(),
            )
        )
    unlike = abs(body.expansion_1_k - cover.expansion_1_k)
    if unlike > UNLIKE_1_K:
        apart = unlike * WARMING_K * math.hypot(panel.width, panel.height) / 2
        found.append(
            make_finding(
                "bond.material",
                "caution",
                f"a cover of {cover.name} on a body of {body.name}: {WARMING_K:g} K warmer they differ by "
                f"{apart:.2g} mm at the corners, which a bond {BOND_LINE:g} mm thick must take as shear",
                'use one material for both, a thick elastic bond, or closing = "cord"',
                apart,
                None,
                "mm",
            )
        )
    return tuple(found)


def _cover(layer: Layer) -> str:
    return "front cover" if layer == "front" else "cover"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _middle(a: Point, b: Point) -> Point:
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


def _place(panel: Panel, lands: BondedLands, at: Point) -> tuple[float, float, float]:
    return (*at, joint_z(panel, lands.layer))
