"""A plan with its numbers and findings, as the page is told of it: quick, whole, and with the solid's findings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from exports.page.documents.finding_documents import findings_document
from exports.page.documents.longer_search import tell_longer_search
from exports.page.documents.number_documents import numbers_document, quick_numbers_document
from exports.page.documents.plan_document import plan_document
from exports.wording.routing_words import tell_proof
from geom.findings import Finding
from layouts.plan import Plan
from layouts.routing.effort import NORMAL, Effort

if TYPE_CHECKING:
    from exports.check_solids import Checked
    from layouts.replan.quick_plan import QuickPlan

UNPROVEN = "not proven yet"


def quick_told(quick: QuickPlan) -> dict[str, Any]:
    """Return a quick plan with what its rules find.

    Parameters
    ----------
    quick : QuickPlan

    Returns
    -------
    dict
        Ready for JSON.
    """
    panel, routed, flowing = quick.panel, quick.routed, quick.flowing
    return {
        "plan": plan_document(panel, routed, flowing, None),
        "numbers": quick_numbers_document(panel, routed, flowing),
        "findings": findings_document(quick.findings, panel, routed),
        "proof": UNPROVEN,
        "whole": False,
    }


def whole_told(
    plan: Plan, checked: Checked | None, findings: tuple[Finding, ...], effort: Effort = NORMAL
) -> dict[str, Any]:
    """Return a whole plan with all that is found.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        None as long as no solid has been checked.
    findings : tuple of Finding
        Of both, as `join_findings` gives them.
    effort : Effort
        With which the plan's routes were looked for.

    Returns
    -------
    dict
        Ready for JSON.
    """
    of_solid = () if checked is None else checked.findings
    longer = tell_longer_search(plan.routed.status, effort)
    return {
        "plan": plan_document(plan.panel, plan.routed, plan.flowing, plan.sealed),
        "numbers": numbers_document(plan, checked),
        "findings": findings_document(findings, plan.panel, plan.routed, of_solid),
        "proof": "; ".join(filter(None, (tell_proof(plan.panel, plan.routed), longer))),
        "whole": True,
    }
