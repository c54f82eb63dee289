"""Design rules of materials: how they are made, what heat and coolant do to them, and how unlike they grow."""

from __future__ import annotations

import math
from dataclasses import replace

from geom.findings import Finding
from geom.frame import ROUNDING, SAME_MM
from geom.standards import tables
from geom.standards.tables import Material
from geom.words import join_names
from layouts.advice import Heating
from layouts.cures import Cure, join_cures
from layouts.faces import cover_name, joint_z, joints_of
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_key, set_length
from layouts.heat import BEYOND_C
from layouts.panel import Panel
from layouts.plan import Sealed
from layouts.rules.findings import make_finding
from layouts.strength.cover_limits import CRAZING, crazes
from layouts.strength.screw_hole import clearance_hole, widest_hole
from layouts.strength.working_pressure import hottest_coolant_c

NEAR_K = 10.0
"""How near to a material's limit the coolant may come: common practice, no source, [K]."""

MADE_C = 20.0
"""Temperature at which holes are drilled and covers screwed on, [°C]; ISO 1."""

TRANSPORT_C = 0.0
"""Coldest place that a panel comes to without coolant: common practice, no source, [°C]."""

NOBLE = ("copper", "brass")
"""Metals that eat aluminium in the same coolant."""

HOLE_STEP = 0.1
"""Larger holes are advised to it, [mm]."""


def check_milled_wall(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the material stands being milled to the least wall asked for (`make.wall`); printed: `print.wall`."""
    material = tables.material(panel.make.material)
    least = material.least_wall_milled
    if panel.make.method != "milled" or panel.rules.least_wall >= least - SAME_MM:
        return ()
    return (
        make_finding(
            "make.wall",
            "caution",
            f"the file asks for walls of {panel.rules.least_wall:g} mm; milled {material.name} "
            f"stands {least:g} mm",
            f'set least_wall = "{least:g} mm" in [rules]',
            panel.rules.least_wall,
            least,
            "mm",
            changes=keep_readable(panel, set_length(least, "rules", "least_wall")),
        ),
    )


def check_printable(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the material is one that is printed, by that process (`make.material`)."""
    material = tables.material(panel.make.material)
    if panel.make.method != "printed":
        return ()
    if material.least_wall_printed is not None:
        return _tell_resin(panel, material) if panel.printing.process == "resin" else ()
    rows = (tables.material(name) for name in tables.material_names())
    printable = [
        Cure(f'"{row.name}"', (set_key(row.name, "make", "material"),))
        for row in rows
        if row.least_wall_printed is not None
    ]
    return (
        make_finding(
            "make.material",
            "caution",
            f"the panel is printed, but {material.name} is known as sheet or bar: no wall is known that prints "
            "watertight in it",
            f'use material = {join_cures(printable, " or ")}, or method = "milled"',
            changes=offer_changes(panel, *printable),
        ),
    )


def _tell_resin(panel: Panel, material: Material) -> tuple[Finding, ...]:
    """Tell that what is known of a material is not known of the resin: no row of the table is one."""
    return (
        make_finding(
            "make.material",
            "caution",
            f"the panel is printed in resin, but {material.name} is printed of filament: strength, stiffness, heat "
            f"limit, growth, mass and what attacks it are those of {material.name}, and no resin is in the table",
            'set process = "filament" in [printing]; or compare these with the data of the resin after curing, above '
            'all soaked in warm coolant, and accept this in [rules]: accept = { "make.material" = "why" }',
            changes=keep_readable(panel, set_key("filament", "printing", "process")),
        ),
    )


def check_material_heat(panel: Panel, heating: Heating) -> tuple[Finding, ...]:
    """Ask whether body and cover stand the coolant's heat (`material.heat`)."""
    most = hottest_coolant_c(panel, heating)
    place = _name_warmest(heating, most)
    found = []
    for row, words in _list_sheets(panel):
        if most <= row.limit_c - NEAR_K:
            continue
        over = most > row.limit_c
        reaches = "becomes hotter than any coolant" if most > BEYOND_C else f"reaches {most:.0f} °C"
        printed = panel.make.method == "printed" and words != "the cover"
        key = "cover_material" if words == "the cover" else "material"
        others = [
            Cure(name, (set_key(name, "make", key),))
            for name in tables.material_names()
            if most <= tables.material(name).limit_c - NEAR_K
            and not (printed and tables.material(name).least_wall_printed is None)
        ]
        instead = f", or use {join_cures(others, ' or ')}" if others else ""
        found.append(
            make_finding(
                "material.heat",
                "fault" if over else "caution",
                f"the coolant {reaches} {place}, "
                + ("more than" if over else f"within {NEAR_K:g} K of")
                + f" the {row.limit_c:g} °C that {words} of {row.name} stands for years",
                f"keep the coolant {'below' if over else 'well below'} {row.limit_c:g} °C{instead}",
                most,
                row.limit_c,
                "°C",
                changes=offer_changes(panel, *others),
            )
        )
    return tuple(found)


def _name_warmest(heating: Heating, most: float) -> str:
    """Return where the coolant is as warm as that, in words."""
    part = next((step.part for step in heating.steps if most in (step.inlet_c, step.outlet_c)), None)
    return "in use" if part is None else f'at "{part}"'


def check_material_coolant(panel: Panel, heating: Heating) -> tuple[Finding, ...]:
    """Ask whether the coolant attacks what it touches (`material.coolant`)."""
    return (*_check_plastics(panel, heating), *_check_metals(panel), *_check_unknown(panel))


def _check_plastics(panel: Panel, heating: Heating) -> tuple[Finding, ...]:
    """Name the plastics that the coolant crazes, or that its inhibitors may attack."""
    found = []
    fluid, most = panel.coolant.fluid, hottest_coolant_c(panel, heating)
    for row, words in _list_sheets(panel):
        if crazes(row, fluid):
            whole = row.allowable_at(most, lasting=True)
            found.append(
                make_finding(
                    "material.coolant",
                    "caution",
                    f"{fluid} may craze {words} of {row.name} where it is under stress: of the {whole:.2g} MPa that it "
                    f"carries for years, count on {CRAZING * whole:.2g} MPa",
                    "ask the material's maker, use water with an inhibitor that suits it, or another material; keep "
                    "all stresses under that",
                )
            )
        if panel.coolant.inhibited and "amines" in row.attacked_by:
            found.append(
                make_finding(
                    "material.coolant",
                    "note",
                    f"inhibitors are often alkali or amines, and both attack {words} of {row.name}",
                    "ask the coolant's maker what its inhibitors are",
                )
            )
    return tuple(found)


def _check_metals(panel: Panel) -> tuple[Finding, ...]:
    """Name the aluminium that a coolant without inhibitors corrodes, and the metals that hasten it."""
    metals = _list_metals(panel)
    aluminium = [words for words, metal in metals if metal == "aluminium"]
    if panel.coolant.inhibited or not aluminium:
        return ()
    noble = [(words, metal) for words, metal in metals if metal in NOBLE]
    others = noble or [(words, metal) for words, metal in metals if metal != "aluminium"]
    fluid = panel.coolant.fluid
    beside = join_names([f"{words} of {metal}" for words, metal in others])
    return (
        make_finding(
            "material.coolant",
            "caution",
            f"{fluid} without inhibitor corrodes the aluminium of {join_names(aluminium)}"
            + (f", {'the faster' if noble else 'faster'} beside {beside}" if others else ""),
            "use a coolant with inhibitors for every metal of the loop and set inhibited = true in [coolant]; fittings "
            "of brass count as copper does",
            features=tuple(words.strip('"') for words, _ in others),
            changes=keep_readable(panel, set_key(True, "coolant", "inhibited")),
        ),
    )


def _check_unknown(panel: Panel) -> tuple[Finding, ...]:
    """Name the parts of unknown metal where there is aluminium that they may corrode."""
    unknown = [part.name for part in panel.parts if part.metal is None]
    if panel.coolant.inhibited or not unknown:
        return ()
    if all(metal != "aluminium" for _, metal in _list_metals(panel)):
        return ()
    named = join_names([f'"{name}"' for name in unknown])
    return (
        make_finding(
            "material.coolant",
            "note",
            f"the file does not say of which metal {named} {'is' if len(unknown) == 1 else 'are'}; copper and brass "
            "corrode the aluminium in the same coolant",
            "write metal in each [[part]]",
            features=tuple(unknown),
        ),
    )


def check_screw_growth(panel: Panel, sealed: Sealed, heating: Heating) -> tuple[Finding, ...]:
    """Ask whether cover and body may grow unlike without bending the screws (`screw.growth`)."""
    make = panel.make
    screws: list[tuple[float, tuple[float, float, float], str]] = []
    middle = (panel.width / 2, panel.height / 2)
    for layer in joints_of(panel):
        for number, at in enumerate(sealed.screws_of(layer), start=1):
            name = f"{cover_name(layer)} screw {number} {make.screw}"
            screws.append((math.dist(at, middle), (*at, joint_z(panel, layer)), name))
    if not screws or make.cover_row == make.material:
        return ()
    body, cover_row, screw = (
        tables.material(make.material),
        tables.material(make.cover_row),
        tables.screw(make.screw),
    )
    most = min(hottest_coolant_c(panel, heating), BEYOND_C)
    least = min(TRANSPORT_C, panel.coolant.temperature_c)
    coldest = MADE_C - least > most - MADE_C
    change = max(MADE_C - least, most - MADE_C)
    far, place, name = max(screws, key=lambda row: row[0])
    moves = growth_between(body.expansion_1_k, cover_row.expansion_1_k, far, change)
    play = (clearance_hole(panel) - screw.diameter) / 2
    if moves <= play:
        return ()
    needed = HOLE_STEP * math.ceil((screw.diameter + 2 * moves) / HOLE_STEP - 1e-9)
    cures = (*_cut_wider_hole(panel, needed), _use_one_material(panel))
    return (
        make_finding(
            "screw.growth",
            "caution",
            f"at {least if coldest else most:.0f} °C the cover of {cover_row.name} has moved by {moves:.2f} mm over "
            f"the body of {body.name} at {name}, its furthest; the hole leaves {play:.2f} mm to each side",
            join_cures(cures),
            moves,
            play,
            "mm",
            place,
            (name,),
            offer_changes(panel, *cures),
        ),
    )


def _use_one_material(panel: Panel) -> Cure:
    return Cure(f"use a cover of {panel.make.material}", (set_key(None, "make", "cover_material"),))


def _cut_wider_hole(panel: Panel, hole: float) -> tuple[Cure, ...]:
    """Return what gives the screws a hole as wide as that in the cover, [mm]; empty where no head covers it."""
    key, wider = f'screw_hole = "{hole:.1f} mm"', set_length(hole, "make", "screw_hole")
    if hole <= widest_hole(panel) + ROUNDING:
        return (Cure(f"set {key} in [make]", (wider,)),)
    if hole <= widest_hole(replace(panel, make=replace(panel.make, large_washers=True))) + ROUNDING:
        washers = set_key(True, "make", "large_washers")
        return (Cure(f"set {key} and large_washers = true in [make]", (wider, washers)),)
    return ()


def growth_between(expansion_a: float, expansion_b: float, length: float, change_k: float) -> float:
    """Return by how much two lengths of different materials differ after a change of temperature.

    Parameters
    ----------
    expansion_a, expansion_b : float
        Linear thermal expansion, [1/K].
    length : float
        At which they were alike, [mm].
    change_k : float
        [K]

    Returns
    -------
    float
        [mm], never negative.
    """
    return abs(expansion_a - expansion_b) * length * abs(change_k)


def _list_sheets(panel: Panel) -> list[tuple[Material, str]]:
    """Return the materials of body and cover, each with what is made of it."""
    body = tables.material(panel.make.material)
    if panel.make.cover <= 0:
        return [(body, "the panel")]
    if panel.make.cover_row == panel.make.material:
        return [(body, "body and cover")]
    return [(body, "the body"), (tables.material(panel.make.cover_row), "the cover")]


def _list_metals(panel: Panel) -> list[tuple[str, str]]:
    """Return what of the loop is of a known metal, in words, and that metal; body and cover first."""
    sheets = [(words, metal_of(row)) for row, words in _list_sheets(panel)]
    parts = [(f'"{part.name}"', part.metal) for part in panel.parts]
    return [(words, metal) for words, metal in (*sheets, *parts) if metal is not None]


def metal_of(row: Material) -> str | None:
    """Return the metal of a row as parts name it, "aluminium" of "aluminium 6082-T6"; None for a plastic."""
    return row.name.rpartition(" ")[0] if row.kind == "metal" else None
