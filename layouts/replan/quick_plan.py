"""What is known of a changed panel at once: its routing, its flow, and the findings that need no more."""

from __future__ import annotations

from dataclasses import dataclass

from geom.findings import Finding, accept_findings
from layouts.advice import Advised, Pumping
from layouts.feed import examine_feed
from layouts.flow import size_flow
from layouts.groups import EVEN_SPREAD, balance_groups
from layouts.heat import follow_heat
from layouts.laid_out import LaidOut
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from layouts.pumps import rate_pumps
from layouts.replan.re_route import re_route
from layouts.route import lay_out
from layouts.routing.effort import QUICK
from layouts.rules.check_plan import check_routed, check_seating
from layouts.rules.flow_rules import UNEVEN_SHARE
from layouts.rules.pump_rules import needs_ratings
from layouts.widen import widen_channels


@dataclass(frozen=True, slots=True)
class QuickPlan:
    """A plan as far as it is known at once.

    Parameters
    ----------
    panel : Panel
    routed : Routed
        Channels as wide as the plan has them; without posts and service ports.
    flowing : Flowing
    advised : Advised
        Without `sizes`, which take the most time.
    findings : tuple of Finding
        Of the rules that need no more than that, with the file's accepted ones turned into notes.
    laid : LaidOut
        From which the next change is laid out.
    """

    panel: Panel
    routed: Routed
    flowing: Flowing
    advised: Advised
    findings: tuple[Finding, ...]
    laid: LaidOut


UNRATED = Pumping((), (), "")


def quick_plan(panel: Panel, before: LaidOut | None, rates: bool = True) -> QuickPlan:
    """Return what is known of a panel at once.

    Parameters
    ----------
    panel : Panel
    before : LaidOut or None
        Of the panel before it was changed; None: it is laid out from the beginning, with little effort.
    rates : bool
        Whether pumps are rated and groups evened of which nothing is found, which takes half of the time: else it is
        not looked at whether another pump would be the better choice.

    Returns
    -------
    QuickPlan

    Raises
    ------
    LayoutError
        No layout was found: with `before` not at once, and nothing was tried that would help.
    """
    laid = lay_out(panel, 0, QUICK) if before is None else re_route(panel, before)
    routed = widen_channels(panel, laid.routed)
    flowing = size_flow(panel, routed)
    rates = rates or needs_ratings(panel, flowing)
    advised = Advised(
        pumping=rate_pumps(panel, routed, flowing) if rates else UNRATED,
        sizes=(),
        # No share of flow that is found is less than such a spread.
        groups=balance_groups(panel, routed, flowing, EVEN_SPREAD if rates else UNEVEN_SHARE),
        heating=follow_heat(panel, flowing),
        feeding=examine_feed(panel, routed, flowing),
    )
    found = (*check_routed(panel, routed, flowing, advised), *check_seating(panel, routed))
    return QuickPlan(panel, routed, flowing, advised, accept_findings(found, panel.rules.accept), laid)
