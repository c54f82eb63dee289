"""The standing cautions: wherever the work can hurt."""

from __future__ import annotations

from geom.standards import tables
from layouts.faces import joints_of
from layouts.panel import Panel

ESTIMATES = (
    "The checks are engineering estimates from published formulas and stated practice; they are not a "
    "certificate, and a leak test of the finished panel stays necessary."
)
"""What every verdict stands under."""

ACRYLIC = "PMMA"
"""How the names of acrylics begin."""

CAUTIONS: tuple[str, ...] = (
    "Coolant and electricity: switch off and unplug everything near the panel before it is filled, bled, "
    "leak-tested, topped up or drained, and power it up only when it has stayed dry for a whole test.",
    "Air under pressure stores energy: test with little air and low pressure, never above the rated value "
    "of the weakest part, wear eye protection, and prove strength with water, not with air.",
    "Cast acrylic cracks: tighten its screws lightly, in turn and by torque, with washers; keep "
    "alcohols, solvents and thread locker off it, and ask its maker before you use glycol.",
    "Chips and dust: wear eye and breathing protection when you cut, drill or sand; draw the dust off.",
    "Solvent cements and resins give off harmful vapour: bond in moving air, with gloves, away from flames.",
    "Mixed metals in one coolant corrode: keep aluminium apart from copper and brass, or use an inhibited "
    "coolant made for both.",
    "Hot parts and hot coolant scald: let the loop cool before it is opened.",
    "Local electrical and pressure codes, and the makers of pump, material and coolant, come before this "
    "document; where a licensed trade is called for, have it do the work.",
    ESTIMATES,
)
"""What is said wherever the work can hurt; `list_cautions` leaves out what a panel does not have."""

CRACKS, VAPOUR = "Cast acrylic", "Solvent cements"
"""How the cautions begin that hold for some panels only."""

PLASTIC_CAUTION = (
    "Solvent crazes acrylic that is under stress: anneal machined, bent or tightly clamped parts before they are "
    "bonded, never flame-polish what will be wetted, and never clamp a part flat by force."
)
"""Where there is a plastic."""

BONDING_CAUTIONS: tuple[str, ...] = (
    "Vapours of cements, monomers and resins harm and burn: moving air, gloves against the solvent in use, eye "
    "protection, no flame or spark; read the safety data sheet first.",
    PLASTIC_CAUTION,
    "Bond between 16 and 38 degrees C, best at 21 to 24, with both parts and the cement as warm as the room.",
    "Let the bond cure as long as its maker's data sheet says, at least a day, before clamps come off, and a week "
    "before a leak test: until then solvent in it weakens the joint.",
)
"""What is said wherever a bonded joint is described; temperatures: fabrication guides for acrylic sheet, 60 to 100 °F,
best 70 to 75 °F; the rest common practice, no source."""


def list_cautions(panel: Panel) -> tuple[str, ...]:
    """Return the standing cautions of a panel: of acrylic where body or cover is, of solvents where one is used."""
    make = panel.make
    names = (make.material, make.cover_row) if joints_of(panel) else (make.material,)
    acrylic = any(name.startswith(ACRYLIC) for name in names)
    solvents = make.closing == "bonded" or (make.method == "printed" and panel.printing.process == "resin")
    left_out = (*(() if acrylic else (CRACKS,)), *(() if solvents else (VAPOUR,)))
    return tuple(text for text in CAUTIONS if not text.startswith(left_out))


def list_bonding_cautions(panel: Panel) -> tuple[str, ...]:
    """Return the cautions of a bonded joint that hold for the materials of a panel's body and covers."""
    kinds = {tables.material(name).kind for name in (panel.make.material, panel.make.cover_row)}
    return tuple(text for text in BONDING_CAUTIONS if text != PLASTIC_CAUTION or "plastic" in kinds)
