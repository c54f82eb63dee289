"""The checks of the tubes between panel and parts: what each asks, its limit, why, its source."""

from __future__ import annotations

from layouts.rules.rule import PRACTICE, Rule

TUBE_RULES: tuple[Rule, ...] = (
    Rule(
        "tube.none",
        "Is there a way for the tube from each port to the part's port that it meets?",
        "caution: no straight tube, and none with up to three bends of the file's bend_radius, joins them: with the "
        "insertion and one outer diameter straight at each end, and one diameter between bends",
        "A tube that cannot be bent so is found out when the panel hangs in the case; a hose may still reach.",
        PRACTICE,
    ),
    Rule(
        "tube.close",
        "Does each tube keep clear of the panel, its fittings, the pump and the other tubes?",
        "caution: the centrelines of two tubes come nearer than an outer diameter, or one comes nearer than half of "
        "one to the panel, to a fitting (its collar's width, as long as tubes are inserted) or to the pump, whose "
        "height is not known, and no way with up to three bends is clear of all",
        "What touches rubs through where pump and fans shake it, and a tube that is in the way of another cannot be "
        "put in.",
        "geometry; what stands in the case beyond the panel is not known",
    ),
    Rule(
        "tube.bend",
        "Would a small move of a port make its bent tube straight?",
        "caution: a free port may stand, within its range, off all that is known and with room for spanners, on a "
        "place of the grid at most 20 mm away from which its tube is straight: the axes at most 0.5 mm and 1 degree "
        "off each other",
        "A straight tube is cut and pushed in; a bent one has to be heated or formed, and each bend may go wrong.",
        PRACTICE,
    ),
)
