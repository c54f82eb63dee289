"""The cost sheet: every item with its quantity, and what it costs where the file gives a price."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Unit = Literal["kg", "cm3", "m", "pcs", "L", "h", "cm2"]

DIGITS: dict[Unit, int] = {"kg": 3, "cm3": 1, "cm2": 1, "m": 2, "pcs": 0, "L": 2}
"""Decimals to which quantities are told; hours, which are estimates, to two digits that count."""

POURED: tuple[Unit, ...] = ("m", "L")
"""What is bought by length or volume is rounded up: a roll that is cut short by a centimetre is no use."""

SAME = 1e-9
"""Less than that over a told digit comes of the arithmetic alone, in that digit."""


@dataclass(frozen=True, slots=True)
class CostItem:
    """One line of the sheet.

    Parameters
    ----------
    item : str
        What it is called: "stock body", "cord", "fittings G1/4".
    what : str
        Its size, or what it is for.
    quantity : float
        In `unit`.
    unit : str
    bought : bool
        Whether it costs something: masses of finished parts and what is removed do not.
    each : float or None
        Price of a unit; None where the file gives none.
    """

    item: str
    what: str
    quantity: float
    unit: Unit
    bought: bool = True
    each: float | None = None

    @property
    def decimals(self) -> int:
        """To how many decimals the quantity is told; negative: to tens."""
        if self.unit in DIGITS:
            return DIGITS[self.unit]
        return 1 - math.floor(math.log10(self.quantity)) if self.quantity > 0 else 1

    @property
    def shown(self) -> float:
        """The quantity as it is told, what is cut or poured rounded up; the sum is that of it."""
        if self.bought and self.unit in POURED:
            return math.ceil(self.quantity * 10**self.decimals - SAME) / 10**self.decimals
        return round(self.quantity, self.decimals)

    @property
    def sum(self) -> float | None:
        """What all of it costs, to the hundredth; None without a price."""
        return None if self.each is None else round(self.shown * self.each, 2)


@dataclass(frozen=True, slots=True)
class CostSheet:
    """All lines, and their sum.

    Parameters
    ----------
    items : tuple of CostItem
    currency : str
        As the file writes it; empty without prices.
    assumptions : tuple of str
        What quantities stand on that are estimates, a sentence each.
    """

    items: tuple[CostItem, ...]
    currency: str = ""
    assumptions: tuple[str, ...] = ()

    @property
    def total(self) -> float | None:
        """Sum of all that is priced; None where nothing is."""
        sums = [item.sum for item in self.items if item.sum is not None]
        return round(sum(sums), 2) if sums else None

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Names of what is bought and has no price; empty without any prices."""
        if not self.currency:
            return ()
        return tuple(item.item for item in self.items if item.bought and item.each is None)
