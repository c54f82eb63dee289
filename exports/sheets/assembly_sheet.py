"""How the panel is put together, in order."""

from __future__ import annotations

from functools import partial

from exports.pictures.closing_notes import clamp_rows, cord_rows, tell_bond
from exports.sheets.caution_sheet import ACRYLIC, find_caution, has_plastic, is_acrylic
from exports.sheets.fitting_steps import list_fitting, list_plugging
from exports.sheets.matters import list_matters
from exports.sheets.values import (
    Block,
    Caution,
    Grid,
    Heading,
    Say,
    Schematic,
    Small,
    Step,
    WorkSheet,
    number_through,
)
from exports.wording.closing_work import BY_HAND, HEAD, is_by_hand
from exports.wording.figures import show_mm
from exports.wording.hole_numbers import screw_numbers
from geom.findings import Finding
from geom.outline import Point
from geom.standards import tables
from geom.words import count_of, join_names, make_sentence, tell_torque, tell_within
from layouts.closing.gland import scarf_allowance
from layouts.closing.seams import place_seam
from layouts.faces import cover_name, joints_of
from layouts.leak_test import LeakTest
from layouts.plan import BondedLands, Layer, Plan
from layouts.printing.split import Split
from layouts.printing.split_ring import ring_cut_length
from layouts.rules.cautions import list_bonding_cautions
from layouts.strength.fastening import fasten_plan
from layouts.strength.results import Fastening
from layouts.strength.screw_hole import fit_screw
from layouts.strength.tightening_order import HOW, ROUNDS, order_screws

BURNS = (
    "Hot iron, hot inserts and molten plastic burn, and their fumes harm: tongs or gloves, moving air, the iron in its "
    "stand, and nothing touched before it has cooled."
)
"""Where threaded inserts are set with heat."""

CRAZED = ("PMMA", "PC")
"""How the names of materials begin that the vapour of instant adhesive crazes."""

BEHIND: dict[Layer, str] = {
    "back": "Seen from the back, as it lies before you with the cover up: mirrored against the plan.",
    "front": "Seen from the front, as it lies before you with the front cover up.",
}


PLACES: dict[Layer, str] = {
    "back": "Places are those of this figure and of the drawing's views from the back: to the right and up from the "
    "lower left corner of what you see.",
    "front": "Places are those of this figure and of the drawing's views from the front: to the right and up from the "
    "lower left corner of what you see.",
}


def assembly_sheet(plan: Plan, test: LeakTest, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet of the assembly.

    Parameters
    ----------
    plan : Plan
        With the calculated pulls on its screws, where it has them.
    test : LeakTest
    findings : tuple of Finding
        All of the run.
    """
    fastened = {one.layer: one for one in fasten_plan(plan)}
    blocks: list[Block] = []
    if is_acrylic(plan):
        blocks.append(find_caution(ACRYLIC))
    blocks += list_matters(findings, "assembly")
    blocks += [Heading("Clean"), *_clean(plan)]
    split = None if plan.printed is None else plan.printed.split
    if split is not None:
        blocks += [Heading("Join the two pieces"), *_join(split)]
    for layer in joints_of(plan.panel):
        name = cover_name(layer)
        lands = plan.sealed.lands_of(layer)
        if lands is not None:
            blocks += _bond(plan, layer, lands, name)
        elif plan.sealed.loops_of(layer):
            blocks += _lay_cords(plan, layer, name)
        if layer in fastened:
            blocks += _tighten(plan, layer, fastened[layer], name)
    blocks += [*list_plugging(plan, test), *list_fitting(plan, test)]
    return WorkSheet("Assembly", number_through(blocks))


def _clean(plan: Plan) -> list[Block]:
    wash = (
        "water with a drop of dish soap; no alcohol, no solvent, no glass cleaner"
        if is_acrylic(plan)
        else "water with a drop of dish soap"
    )
    names = [blank.name for blank in plan.detail.blanks]
    steps: list[Block] = [
        Step(
            f"Wash {join_names(tuple(names))} with {wash}; rinse every channel and bore, and let all dry. A "
            "lint-free cloth comes away clean."
        ),
        Step("Look through each bore into its channel: no chip, no burr, no film, no support left."),
    ]
    fit = fit_screw(plan.panel) if plan.panel.make.closing == "cord" else None
    if fit is not None and fit.insert is not None:
        count = sum(len(plan.sealed.screws_of(layer)) for layer in joints_of(plan.panel))
        steps.append(Caution(BURNS))
        steps.append(
            Step(
                f"Set {count_of(count, 'insert')} {fit.insert.name} into the {show_mm(fit.diameter)} mm holes, "
                "square, flush with the joint or a little below it; as hot as their maker says for this plastic. Let "
                "them cool before anything is screwed in, and try a screw in each."
            )
        )
    return steps


def _lay_cords(plan: Plan, layer: Layer, name: str) -> list[Block]:
    cord, loops = tables.cord(plan.panel.make.cord), plan.sealed.loops_of(layer)
    rows = cord_rows(plan, layer)[1:]
    seams = []
    for loop in loops:
        at = place_seam(loop)
        if at is not None:
            u, v = see_from(plan, layer, at)
            seams.append(f"{show_mm(round(u))}, {show_mm(round(v))} mm")
        else:
            seams.append("anywhere" if loop.closed else "at both cords beside it")
    lines = tuple((*row[:4], seam) for row, seam in zip(rows, seams, strict=True))
    plural = len(loops) > 1
    steps = [
        Step(
            f"Cut {'each cord' if plural else 'the cord'} with a sharp blade, ends square, near the longer end of "
            f"its range (for a splice at 45 degrees {show_mm(scarf_allowance(cord))} mm longer): stretched, it grows "
            "thin; too long, it buckles."
        ),
        *_tell_adhesive(plan, plural),
        Step(
            f"Lay {'each' if plural else 'it'} into its groove from the seam on, without pulling, and press it down "
            "with a blunt stick. The ends butt in the middle of a straight, where the figure has a stroke across."
        ),
        Step(
            "Look along all grooves: no twist, no gap at a seam, no cord that stands out where it should not."
        ),
    ]
    return [
        Heading(f"Cords of the {name}"),
        Schematic(
            "cords",
            layer,
            f"Cords with their numbers, a stroke across each where its ends meet. {BEHIND[layer]}",
        ),
        Grid(
            ("cord", "round", "groove", "cut to", "seam at"),
            lines,
            right=(2, 3),
            ticked=True,
        ),
        Say(PLACES[layer]),
        *steps,
    ]


def see_from(plan: Plan, layer: Layer, at: Point) -> Point:
    """Return a place of the panel's plan as the figure of a joint shows it: from the lower left corner, [mm]."""
    return (plan.panel.width - at[0] if layer == "back" else at[0]), at[1]


def _tell_adhesive(plan: Plan, plural: bool) -> list[Step]:
    """Return how ends may be joined: not where a drop or its vapour would meet a plastic that it crazes."""
    make = plan.panel.make
    if any(name.startswith(CRAZED) for name in (make.material, make.cover_row)):
        return [
            Step(
                "No instant adhesive at these cords: its vapour crazes acrylic and polycarbonate. Their ends only butt."
            )
        ]
    return [
        Step(
            f"If the ends of {'a' if plural else 'the'} cord are to be joined, do it outside the groove with a trace "
            "of instant adhesive, if its maker allows it on this rubber, and lay the cord in only when that has cured."
        )
    ]


def _tighten(plan: Plan, layer: Layer, one: Fastening, name: str) -> list[Block]:
    screws = plan.sealed.screws_of(layer)
    order = order_screws(screws)
    by_hand = is_by_hand(one)
    length = "" if one.length is None else f" x {one.length:g}"
    under = f", each with a washer of {show_mm(one.washer)} mm ({one.washer_standard})" if one.washer else ""
    key = tables.screw(one.screw).key
    least, most = one.torque_nm
    rows = tuple(
        (
            str(number),
            f"{100 * share:.0f} %",
            tell_torque(share * least, share * most),
            _tell_round(number, by_hand),
        )
        for number, share in enumerate(ROUNDS, 1)
    )
    steps = [
        Step(
            f"Lay the {name} on; it must lie flat by itself, with no cord out of its groove. Put in all "
            f"{len(screws)} screws {one.screw}{length} by hand{under}, until each head just touches. A screw that "
            "does not start by hand is crooked: take it out."
        ),
        Step(
            f"Tighten in the order of the figure, {HOW}, with a {key:g} mm key; then once more round at "
            "the full torque."
        ),
        Step(
            f"All heads lie flat, the gap between {name} and body is shut all round: a strip of paper does not go in "
            "anywhere."
        ),
    ]
    if has_plastic(plan):
        steps.append(
            Step(
                "Plastic creeps: go round once more at the full torque after a day, and again after the first warm "
                "run, power off. No thread locker.",
                ("after a day, date", "after the warm run, date"),
            )
        )
    own = screw_numbers(plan, layer)
    numbers = ", ".join(own[k] for k in order)
    said = (
        f"The torque is an estimate for {one.preload_n:.0f} N in each screw, its friction guessed at between 0.10 "
        f"and 0.20: the true force may be off by a third either way. {make_sentence(HEAD)}"
    )
    return [
        Heading(f"Screws of the {name}"),
        Schematic(
            "tightening",
            layer,
            f"In the circles: the order in which the screws are tightened. Small beside them, with a letter: the "
            f"screws' numbers in the drawing. {BEHIND[layer]}",
        ),
        Say(said),
        *([Say(make_sentence(BY_HAND))] if by_hand else []),
        Grid(("round", "share", "torque", "what that is"), rows, ticked=True),
        *steps,
        Small(
            f"The same order in the drawing's numbers: {numbers}. Findings count alike: {own[0]} is screw 1."
        ),
    ]


def _tell_round(number: int, by_hand: bool) -> str:
    if not by_hand:
        return ("each head draws the cover down", "the cord gives way", "full torque; then once more round")[
            number - 1
        ]
    return (
        "the head just lies on, no force",
        "a first light resistance at the short end of the key",
        "firm between two fingers; then once more round",
    )[number - 1]


def _bond(plan: Plan, layer: Layer, lands: BondedLands, name: str) -> list[Block]:
    count = f"{count_of(len(lands.clamps), 'clamp')}" + (
        f" and {count_of(len(lands.weights), 'weight')}" if lands.weights else ""
    )
    said = tell_bond(plan, lands)
    cautions = list_bonding_cautions(plan.panel)
    steps = [
        *_anneal(plan, name),
        Step(
            f"Lay body and {name} together dry, with boards and clamps: nothing rocks, no gap at any land, edges in "
            "line."
        ),
        Step(
            "Mask what must stay clear. Note the room's temperature; parts and cement are as warm as the room.",
            ("room, °C",),
        ),
        Step(
            "Spread cement or adhesive on the lands alone, thin and even, short of the wet edges by a millimetre, so "
            "that what is pressed out does not run into the channels."
        ),
        Step(f"Lay the {name} on from one edge, so that air goes out before it; shift it into line at once."),
        Step(
            f"Set {count} in the order of the numbers, through a flat board, no harder than the table says; look for "
            "dry spots through the joint. Open every port, so that vapour leaves the channels.",
            ("clamped, time",),
        ),
        Step(
            "Leave it as its maker's data sheet says, at least a day, before the clamps come off.",
            ("off, date",),
        ),
        Step(
            "Leave it a week before the leak test; blow gently through all channels first: they are free.",
            ("tested from, date",),
        ),
    ]
    return [
        Heading(f"Bond the {name}"),
        Schematic(
            "clamps",
            layer,
            f"Grey are the lands; round marks are clamps, square ones weights. {BEHIND[layer]}",
        ),
        *(Caution(text) for text in cautions),
        *(Say(text) for text in said if text not in cautions),
        Grid(*_clamp_grid(clamp_rows(plan, lands, partial(see_from, plan, layer)))),
        Say(PLACES[layer]),
        *steps,
    ]


def _anneal(plan: Plan, name: str) -> list[Step]:
    """Return the step before a bond of machined acrylic: solvent crazes it where cutting left stress."""
    if not is_acrylic(plan):
        return []
    return [
        Step(
            f"Anneal the machined parts, body and {name}, lying flat, as hot and as long as the data sheet of the "
            "sheet's maker says, and let them cool slowly, before any cement comes near them; then try the joint faces "
            "with the straight edge again.",
            ("°C", "hours", "date"),
        )
    ]


def _clamp_grid(rows: list[tuple[str, ...]]) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    return rows[0], tuple(rows[1:])


def _join(split: Split) -> list[Step]:
    steps = [
        Step(f"Try {' and '.join(split.pieces)} together dry: pins slide in, the joint closes all round.")
    ]
    if split.cord > 0 and split.crossings:
        count = len(split.crossings)
        rings = "round the channel" if count == 1 else f"round each of the {count} channels"
        steps.append(
            Step(
                f"Lay a ring of {show_mm(split.cord)} mm cord, cut to {tell_within(*ring_cut_length(split))}, {rings} "
                "in the joint, ends butted."
            )
        )
    if split.screw is not None:
        low, high = split.torque_nm
        washer = f", washers of {show_mm(split.screw.washer)} mm" if split.screw.washer else ""
        steps.append(
            Step(
                f"Put {count_of(len(split.screws), 'screw')} {split.screw.name} x {split.screw.length:g}{washer} "
                f"through the wells and tighten them {HOW} to {tell_torque(low, high)}, an "
                f"estimate for {split.preload_n:.0f} N each."
            )
        )
    return steps
