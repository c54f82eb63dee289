"""From which size on a pocket is told of, and from which it asks for something."""

from __future__ import annotations

AIR_TOLD_MM3 = 100.0
"""Smaller pockets of air are not told, [mm3]: bubbles that the first flow takes along; common practice, no source."""

AIR_MUCH_MM3 = 1000.0
"""From here on a pocket of air asks for something, [mm3]; common practice, no source."""

BORE_TOLD_MM3 = 500.0
"""Air under the crown of a port's own bore, which is wider than its channel, is told from here on, [mm3]: beside the
flow it shifts no coolant and costs no head; common practice, no source."""

COOLANT_TOLD_MM3 = 500.0
"""Smaller pockets of coolant are not told, [mm3]: a cloth takes that; common practice, no source."""

COOLANT_MUCH_MM3 = 5000.0
"""A larger pocket of coolant asks for something, [mm3]: enough to wet electronics; common practice, no source."""

COOLANT_MUCH_SHARE = 0.05
"""So does one of a larger share of what the panel holds; common practice, no source."""

MOST_TOLD = 3
"""So many pockets of a kind are told of one by one; the others together."""

CLEARED_SHARE = 0.5
"""What leaves more than this share of a pocket where it is (of all pockets, where all of them change) is no remedy."""

TILT_GAIN_MM3 = 1000.0
"""A tilt that lets out no more than this, or leaves more than `CLEARED_SHARE` of what stays, is not told, [mm3]: nobody
turns a panel that is screwed up for it; common practice, no source."""

WORTH_MM3 = 1000.0
"""A port is worth its hole that clears so much, [mm3], or all but `CLEARED_SHARE` of the pocket that it opens into;
common practice, no source."""

NOTHING_ML = 0.05
"""Less is told as nothing, [mL]: a few steps of the voxels."""
