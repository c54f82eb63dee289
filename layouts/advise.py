"""Everything that the plan advises, gathered."""

from __future__ import annotations

from layouts.advice import Advised
from layouts.feed import examine_feed
from layouts.groups import balance_groups
from layouts.heat import follow_heat
from layouts.panel import Panel
from layouts.plan import Flowing, Routed
from layouts.pumps import rate_pumps
from layouts.sizes import size_channels


def advise_plan(panel: Panel, routed: Routed, flowing: Flowing) -> Advised:
    """Return the advice on a plan: pumps, channel sizes, balance, heat, feed.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing

    Returns
    -------
    Advised

    Raises
    ------
    OutOfRange
        A network or coolant without an answer.
    """
    sizing = size_channels(panel, routed, flowing)
    return Advised(
        pumping=rate_pumps(panel, routed, flowing),
        sizes=sizing.channels,
        groups=balance_groups(panel, routed, flowing),
        heating=follow_heat(panel, flowing),
        feeding=examine_feed(panel, routed, flowing),
        flow_as_sized_m3_s=sizing.flow_m3_s,
    )
