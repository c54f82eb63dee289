"""Flows through the branches of parallel groups, and the restrictors that even them."""

from __future__ import annotations

from layouts.advice import GroupBalance
from layouts.panel import Panel
from layouts.plan import Flowing, Routed


def balance_groups(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[GroupBalance, ...]:
    """Return the balance of each parallel group, outermost first."""
    return ()
