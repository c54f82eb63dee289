"""The numbers that a panel is judged by, for the local page: each with its unit and its band."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from exports.report.key_numbers import KeyNumber, list_flow_numbers, list_key_numbers
from exports.wording.filling_words import show_ml
from layouts.cost.quantities import cost_sheet
from layouts.feed import tank_volume_ml
from layouts.panel import Panel
from layouts.plan import Flowing, Plan, Routed

if TYPE_CHECKING:
    from exports.check_solids import Checked

Numbers = list[dict[str, str]]


def quick_numbers_document(panel: Panel, routed: Routed, flowing: Flowing) -> Numbers:
    """Return what is known once the channels are laid: flow, head, drop, velocity, and what the tank holds.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    list of dict
        Ready for JSON.
    """
    return _tell((*list_flow_numbers(panel, flowing), *_tank(panel, routed)))


def numbers_document(plan: Plan, checked: Checked | None) -> Numbers:
    """Return all numbers of a whole plan: those of the report, and what the tank holds.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        None where no solid has been checked.

    Returns
    -------
    list of dict
        Ready for JSON.
    """
    cost = cost_sheet(plan, {} if checked is None else checked.volumes.by_part)
    listed = list_key_numbers(plan, checked, cost)
    flows = len(list_flow_numbers(plan.panel, plan.flowing))
    # Where it stands while a thing is dragged, so that no row jumps.
    return _tell((*listed[:flows], *_tank(plan.panel, plan.routed), *listed[flows:]))


def _tank(panel: Panel, routed: Routed) -> tuple[KeyNumber, ...]:
    volume = tank_volume_ml(panel, routed)
    return () if volume is None else (KeyNumber("tank", show_ml(volume), "when full"),)


def _tell(numbers: Iterable[KeyNumber]) -> Numbers:
    return [{"name": one.name, "value": one.value, "more": one.more} for one in numbers]
