"""Design rules of a bonded joint: its lands, the pull on them, what is squeezed out, how the cover is pressed on."""

from __future__ import annotations

import math

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.outline import Point
from geom.standards import tables
from geom.standards.tables import Material
from geom.units import GRAVITY_M_S2, kpa, show_number
from geom.words import count_of
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
from layouts.closing.spacing import COVER_STEP, THICKEST
from layouts.closing.wet_regions import layer_runs
from layouts.cures import Cure
from layouts.faces import cover_name, joint_z
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_key, set_length
from layouts.panel import Panel
from layouts.plan import BondedLands, Routed, Sealed
from layouts.rules.findings import make_finding
from layouts.rules.material_rules import growth_between
from layouts.strength.working_pressure import find_working_pressure

MOST_LOSS = 0.25
"""Share of a channel's section that squeezed-out adhesive may take, [-]; common practice, no source."""

WARMING_K = 20.0
"""Warming at which the growth of unlike plates is told, [K]."""

ALLOWED = "allowed for a solvent bond of acrylic"
"""Whose strength the limits are, as is said beside them."""

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
    """Ask whether the bond holds the cover (`bond.pull`), in the mean at the test, at a wide span's rim in use too."""
    return tuple(
        finding
        for lands in sealed.lands
        for finding in (*_check_mean(panel, lands), *_check_rim(panel, lands))
    )


def _check_mean(panel: Panel, lands: BondedLands) -> tuple[Finding, ...]:
    """Hold the mean at the test pressure to what is left for years: that costs no land worth saving."""
    mean, limit = mean_pull(lands, panel.rules.test_pressure_pa), STRENGTH_MPA / LASTING_FACTOR
    if mean <= limit:
        return ()
    return (
        make_finding(
            "bond.pull",
            "caution",
            f"at the test pressure the {cover_name(lands.layer)} pulls on its bond by {show_number(mean, 2)} MPa in "
            f"the mean over {lands.area_mm2 / 100:.0f} cm2 of lands, more than the {limit:.2g} MPa {ALLOWED}",
            "leave more land between what is wet, test at less pressure, or close it by a cord and screws",
            mean,
            limit,
            "MPa",
            _place(panel, lands, lands.pulled_at),
            (lands.pulled,) if lands.pulled else (),
        ),
    )


def _check_rim(panel: Panel, lands: BondedLands) -> tuple[Finding, ...]:
    """Hold the rim to the short strength at the test, and to what is left for years in use; the worse is told."""
    if not lands.pulled:
        return ()
    test_pa, use_pa = panel.rules.test_pressure_pa, find_working_pressure(panel).pressure_pa
    cover = panel.make.cover
    test, use = (rim_pull(pressure, lands.span, lands.beside, cover) for pressure in (test_pa, use_pa))
    short, lasting = STRENGTH_MPA / SHORT_FACTOR, STRENGTH_MPA / LASTING_FACTOR
    fault = test > STRENGTH_MPA
    if not fault and test <= short and use <= lasting:
        return ()
    rows = [("at the test pressure", test, STRENGTH_MPA if fault else short)]
    if not fault:
        rows.append((f"in use ({kpa(use_pa):.0f} kPa)", use, lasting))
    when, rim, limit = max(rows, key=lambda row: row[1] / row[2])
    cure = _cure_rim(panel, lands, ((test_pa, short), (use_pa, lasting)))
    return (
        make_finding(
            "bond.pull",
            "fault" if fault else "caution",
            f"{when} the {cover_name(lands.layer)} pulls on its bond by {show_number(rim, 2)} MPa at the rim of the "
            f"{lands.span:g} mm wide {lands.pulled}, beside {lands.beside:.3g} mm of land, more than the "
            f"{limit:.3g} MPa {'that a solvent bond of acrylic bore when it broke' if fault else ALLOWED}",
            cure.text,
            rim,
            limit,
            "MPa",
            _place(panel, lands, lands.pulled_at),
            (lands.pulled,),
            offer_changes(panel, cure),
        ),
    )


def _cure_rim(panel: Panel, lands: BondedLands, cases: tuple[tuple[float, float], ...]) -> Cure:
    """Return the thickness of a cover that is within the limits of all cases (pressure, MPa), or what else helps."""
    others = f"make the {lands.pulled} narrower, leave more land beside it, or test at less pressure"
    first = math.floor(panel.make.cover / COVER_STEP + SAME_MM) + 1
    for thickness in (COVER_STEP * k for k in range(first, int(THICKEST / COVER_STEP) + 1)):
        pulls = (rim_pull(pressure, lands.span, lands.beside, thickness) <= most for pressure, most in cases)
        if all(pulls):
            return Cure(
                f"use a cover of {thickness:g} mm, or {others}", (set_length(thickness, "make", "cover"),)
            )
    return Cure(f"no cover of up to {THICKEST:g} mm is thick enough: {others}")


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
                f"{cover_name(lands.layer)}; all of it beside the channels would take {100 * loss:.0f} % of the "
                f"section of channel {smallest.name}",
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
    rows = [tables.material(name) for name in (panel.make.cover_row, panel.make.material)]
    kind = rows[0].kind
    anneal = "anneal machined plastic first, " if any(row.kind == "plastic" for row in rows) else ""
    found = []
    for lands in sealed.lands:
        cover = cover_name(lands.layer)
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
        inside = (
            f" and {count_of(len(lands.weights), 'weight')}{_tell_kg(forces[len(lands.clamps) :])} inside"
        )
        inside = inside if lands.weights else ""
        picture = "closing-front.svg" if lands.layer == "front" else "closing.svg"
        found.append(
            make_finding(
                "bond.clamp",
                "note",
                f"{count_of(len(lands.clamps), 'clamp')} along the edges{inside} press the {cover} on through a flat "
                f"board {BOARD:g} mm thick, with {low:.0f} to {high:.0f} N each in the mean",
                f"press lightly and evenly ({_tell_care(rows[0])}), in the places of {picture}; {anneal}keep "
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
        half = math.hypot(panel.width, panel.height) / 2
        apart = growth_between(body.expansion_1_k, cover.expansion_1_k, half, WARMING_K)
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
                changes=keep_readable(panel, set_key(None, "make", "cover_material")),
            )
        )
    return tuple(found)


def _tell_care(cover: Material) -> str:
    """Return why a cover of a material is not pressed on hard."""
    if cover.kind == "metal":
        return "too much starves the joint"
    named = "acrylic" if cover.name.startswith("PMMA") else "plastic"
    return f"{named} under stress crazes where solvent wets it"


def _tell_kg(forces: tuple[tuple[float, float], ...]) -> str:
    """Return what weights weigh that press with these forces, [N]: " of 2.9 to 9.6 kg"."""
    if not forces:
        return ""
    low, high = min(force[0] for force in forces), max(force[1] for force in forces)
    return f" of {low / GRAVITY_M_S2:.1f} to {high / GRAVITY_M_S2:.1f} kg"


def _middle(a: Point, b: Point) -> Point:
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


def _place(panel: Panel, lands: BondedLands, at: Point) -> tuple[float, float, float]:
    return (*at, joint_z(panel, lands.layer))
