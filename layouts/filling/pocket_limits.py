"""From which size on a pocket is told of, and from which it asks for something."""

from __future__ import annotations

AIR_TOLD_MM3 = 100.0
"""Smaller pockets of air are not told, [mm3]: bubbles that the first flow takes along; common practice, no source."""

AIR_MUCH_MM3 = 1000.0
"""From here on a pocket of air asks for something, [mm3]; common practice, no source."""

COOLANT_TOLD_MM3 = 500.0
"""Smaller pockets of coolant are not told, [mm3]: a cloth takes that; common practice, no source."""

COOLANT_MUCH_MM3 = 5000.0
"""A larger pocket of coolant asks for something, [mm3]: enough to wet electronics; common practice, no source."""

COOLANT_MUCH_SHARE = 0.05
"""So does one of a larger share of what the panel holds; common practice, no source."""

MOST_TOLD = 3
"""So many pockets of a kind are told of one by one; the others together."""
