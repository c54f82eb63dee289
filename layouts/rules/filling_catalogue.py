"""The checks of filling, bleeding and draining: what each asks, its limit, why, its source."""

from __future__ import annotations

from layouts.rules.rule import PRACTICE, Rule

FILLING_RULES: tuple[Rule, ...] = (
    Rule(
        "feed.first",
        "Is the pump's inlet in coolant once the tank reads full for the first time?",
        "fault: when the tank is filled to its level, or to its fill port's mouth if that is lower, slowly and with "
        "the pump at rest, air stays in more than half of the inlet's section or of the drop's to it; or the way to "
        "half of the inlet rises over the coolant in the tank; or the drop is so narrow that a bubble locks in it (2 "
        "r, with density g r2 / surface tension = 0.842) and the air has no other way up; or the tank's outlet is "
        "bare, where feed.depth does not tell it; caution: it is so if hoses whose way the file does not tell all "
        "rise or all fall, or the tank is to be filled up more than 20 times; note: what the pump then pushes on "
        "would bare the tank's outlet in one run, or the amounts depend by more than a tenth on hoses whose way the "
        "file does not tell",
        "A pump that is started dry wears its bearing within moments, and moves nothing. A small tank runs empty when "
        "the loop fills: the pump is then run in bursts, with a top-up after each.",
        "the fill step by step on the voxels of the wet volume; a locked bubble: Bretherton, J. Fluid Mech. 10 (1961) "
        "166; half, 20 times and a tenth: common practice, no source",
    ),
    Rule(
        "fill.volume",
        "How much coolant does the loop take?",
        "note: always where the tank's volume is known",
        "The maker mixes that much.",
        "volumes of the plan, with the bores of ports and pump, and of the file",
    ),
    Rule(
        "air.left",
        "Does all air leave the channels when the panel is filled with the pump at rest?",
        "note: 0.1 mL or more stays higher than the lowest place of its best way to a vent, 0.5 mL or more at the "
        "crown of a port's own bore; caution: 1 mL or more, unless the pump carries it out",
        "Air that stays gurgles, takes head, and comes loose at the worst moment; a part that it is pushed into runs "
        "warm.",
        "voxels of the wet volume, flooded along up; 0.1, 0.5 and 1 mL: common practice, no source",
    ),
    Rule(
        "air.carry",
        "Is air carried down where coolant flows downwards?",
        "note: a leg that falls by more than its channel's width runs slower at the operating point than "
        "1.2 sqrt(g D), D its hydraulic diameter, from which air is carried down any slope; caution: with the pump at "
        "full speed too it is slower than the least that its slope asks for, 0.61 + 0.56 sqrt(sin slope) or 0.825 + "
        "0.25 sqrt(sin slope) times sqrt(g D), or its smaller side is under the diameter in which bubbles lock at "
        "20 °C and full speed does not reach 1.2 sqrt(g D), and a still fill leaves air at its head; silent where air "
        "rises from its head to a bleed port of its channel, and for the feed",
        "Slower coolant leaves air standing at the top of the leg, where it costs up to the leg's height in head; more "
        "speed, a port to let it out or a tilt while bleeding moves it.",
        "Wisner, Mohsen and Kouwen 1975 (in Sanks, Pumping Station Design); Escarameia, HR Wallingford report SR 649 "
        "(2005), its 0.61 recalled, not verified; both within 20 %, tested down to 13 mm of bore and uncertain below; "
        "Bretherton, J. Fluid Mech. 10 (1961): bubbles lock where rho g r2 / sigma < 0.842, sigma of water by IAPWS "
        "R1-76(2014)",
    ),
    Rule(
        "drain.low",
        "Has the panel a drain?",
        "caution: there is none",
        "Without one coolant runs out where a hose is taken off, beside electronics.",
        PRACTICE,
    ),
    Rule(
        "drain.left",
        "Does all coolant run out when the panel is drained?",
        "note: 0.5 mL or more stays lower than the highest place of its best way to a drain; caution: more than 5 mL, "
        "or more than 5 % of what the panel holds",
        "What stays runs out over the bench or the computer when the panel is opened.",
        "voxels of the wet volume, flooded along up; 0.5 mL, 5 mL and 5 %: common practice, no source",
    ),
    Rule(
        "service.room",
        "Has each channel room for the bleed or drain port that the file asks for?",
        "caution: no place on it is clear of all that is cut, of other fittings' spanners and the pump; note: "
        "a drain's plug lets its air out already, or a bleed's its coolant",
        "The file names the channel because air or coolant would stay there.",
        "distances of the plan, as routing keeps them for ports",
    ),
)
