"""All sheets of a panel, in the order of the work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exports.sheets.assembly_sheet import assembly_sheet
from exports.sheets.caution_sheet import caution_sheet
from exports.sheets.fill_sheets import draining_sheet, filling_sheet
from exports.sheets.leak_sheet import leak_sheet
from exports.sheets.making_sheets import milling_sheet, printing_sheet
from exports.sheets.parts_sheet import parts_sheet
from exports.sheets.sign_sheet import sign_sheet
from exports.sheets.values import WorkSheet
from exports.tables.parts_list import list_parts
from geom.findings import Finding
from layouts.cost.sheet import CostSheet
from layouts.leak_test import plan_leak_test
from layouts.plan import Plan

if TYPE_CHECKING:
    from exports.check_solids import Checked


def list_sheets(
    plan: Plan, checked: Checked, findings: tuple[Finding, ...], cost: CostSheet
) -> tuple[WorkSheet, ...]:
    """Return all sheets: cautions, making, parts, assembly, leak test, filling, draining, the record.

    Parameters
    ----------
    plan : Plan
        With the calculated pulls on its screws.
    checked : Checked
    findings : tuple of Finding
        All of the run.
    cost : CostSheet
        Of the same run: what it counts stands in the parts list.
    """
    test = plan_leak_test(plan, checked.volumes.wet_plan)
    filling = plan.filling if checked.filling is None else checked.filling
    sheets: list[WorkSheet | None] = [caution_sheet(plan, test, findings)]
    if plan.printed is not None:
        sheets.append(printing_sheet(plan, checked, findings))
    if plan.milled is not None and plan.milled.setups:
        sheets.append(milling_sheet(plan, plan.milled, findings))
    sheets += [
        parts_sheet(list_parts(plan, cost)),
        assembly_sheet(plan, test, findings),
        leak_sheet(plan, test, findings),
    ]
    if filling is not None:
        sheets += [filling_sheet(plan, filling, test, findings), draining_sheet(plan, filling, findings)]
    sheets.append(sign_sheet(plan, test, findings))
    return tuple(sheet for sheet in sheets if sheet is not None)
