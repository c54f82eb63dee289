"""All cautions on one sheet, and where they stand again."""

from __future__ import annotations

from exports.sheets.matters import tell_finding
from exports.sheets.values import Block, Caution, Heading, Say, WorkSheet
from geom.findings import Finding
from geom.standards import tables
from geom.units import bar
from layouts.leak_test import LeakTest
from layouts.plan import Plan
from layouts.rules.cautions import CAUTIONS, CRACKS, VAPOUR, list_bonding_cautions, list_cautions

POWER = "Coolant and electricity"
AIR = "Air under pressure"
ACRYLIC = CRACKS
CHIPS = "Chips and dust"
CEMENTS = VAPOUR
METALS = "Mixed metals"
HOT = "Hot parts"
CODES = "Local electrical"
"""How the standing cautions begin."""

NO_AIR = (
    "Makers of plastic pipe advise against testing plastic plumbing with compressed air or gas at all: what bursts "
    "flies as splinters, and air drives it on while water does not. If you follow that, or doubt a part, test with "
    "water instead, as told on the leak test's sheet under W."
)
"""As in the user bulletin on pressure tests of the Plastic Pipe and Fittings Association."""

NEVER_LOCK = (
    "Never shut coolant in: not between two valves, not between plugs in a full loop, not in the tank under a tight "
    "plug or cap. Without air, warmed by one kelvin, it presses by about {bar} bar more where nothing gives. Fill to "
    "the tank's level, leave air above it, and close the tank with its vented plug or cap alone."
)


def warn_of_locking(test: LeakTest) -> Caution:
    """Return the caution of coolant that is shut in."""
    return Caution(NEVER_LOCK.format(bar=f"{bar(test.locked_pa_k):.0f}"))


def find_caution(start: str) -> Caution:
    """Return the standing caution that begins with some words; ValueError where there is none."""
    for text in CAUTIONS:
        if text.startswith(start):
            return Caution(text)
    raise ValueError(f'no standing caution begins with "{start}"')


def is_acrylic(plan: Plan) -> bool:
    """Return whether body or cover is of acrylic."""
    make = plan.panel.make
    return any(name.startswith("PMMA") for name in (make.material, make.cover_row))


def is_split(plan: Plan) -> bool:
    """Return whether it is printed in two pieces."""
    return plan.printed is not None and plan.printed.split is not None


def has_plastic(plan: Plan) -> bool:
    """Return whether body or cover is of a plastic."""
    make = plan.panel.make
    return any(tables.material(name).kind == "plastic" for name in (make.material, make.cover_row))


def caution_sheet(plan: Plan, test: LeakTest, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet of all cautions, those of the panel's own checks among them.

    Parameters
    ----------
    plan : Plan
    test : LeakTest
    findings : tuple of Finding
        All of the run.
    """
    blocks: list[Block] = [
        Say(
            "Read this page before you begin. Each caution stands again where its work is done. Have these sheets, "
            "the drawing and the data sheets of pump, coolant and materials at the bench."
        ),
        *(Caution(text) for text in list_cautions(plan.panel)),
        *((Caution(NO_AIR),) if test.air else ()),
        warn_of_locking(test),
    ]
    if plan.panel.make.closing == "bonded":
        blocks += [Heading("Bonding"), *(Caution(text) for text in list_bonding_cautions(plan.panel))]
    own = [one for one in findings if one.severity == "caution"]
    if own:
        blocks += [Heading("Of this panel's own checks"), *(Caution(tell_finding(one)) for one in own)]
    return WorkSheet("Cautions", tuple(blocks))
