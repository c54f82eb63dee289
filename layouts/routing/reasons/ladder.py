"""The reason why an instance has no routing: the plainest that can be proven."""

from __future__ import annotations

from layouts.routing.all_channels.route_instance import Routing
from layouts.routing.effort import Effort
from layouts.routing.instance import Instance
from layouts.routing.reasons.conflict import find_conflict
from layouts.routing.reasons.narrow import find_narrow, find_narrow_pair
from layouts.routing.reasons.reason import Reason
from layouts.routing.reasons.unreachable import find_unreached


def find_reason(instance: Instance, routing: Routing, effort: Effort) -> Reason:
    """Return why a search found nothing: unreachable, narrow, conflict, or only not found.

    Parameters
    ----------
    instance : Instance
    routing : Routing
        Without traces, and not given up because of its cost.
    effort : Effort

    Returns
    -------
    Reason
    """
    if routing.unreachable:
        return _tell_unreached(instance, routing.unreachable)
    likely = tuple(n for n, net in enumerate(instance.nets) if net.name in routing.conflicting)
    narrow = find_narrow(instance) or find_narrow_pair(instance, likely)
    if narrow is not None and not narrow.cells:
        # A wall without any gap: nothing can be widened.
        return _tell_unreached(instance, narrow.nets)
    if narrow is not None:
        return Reason(
            "narrow",
            tuple(instance.nets[net].name for net in narrow.nets),
            narrow.cells,
            len(narrow.nets),
            narrow.fit,
            narrow.lacking_cells,
            routing.rounds,
        )
    nets = find_conflict(instance, routing.conflicting, effort)
    if nets:
        return Reason("conflict", tuple(instance.nets[net].name for net in nets), rounds=routing.rounds)
    return Reason("not found", routing.conflicting, rounds=routing.rounds)


def _tell_unreached(instance: Instance, nets: tuple[int, ...]) -> Reason:
    found = find_unreached(instance, nets[0])
    names = tuple(instance.nets[net].name for net in nets)
    return Reason("unreachable", names, found.border, certain=found.proven)
