"""What must be added to the branches of parallel groups so that they take given shares of the pump's flow.

With the flow of the pump and of every branch given, all flows of a loop of nested groups are known: its number
of independent loops is one, and one less than the branches of each group. What is left over round the loops
is then what the branches need.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geom.errors import OutOfRange
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.interpolation import Floats
from layouts.hydraulics.network import Network, prepare_network

MOST_STEPS = 60
SETTLED = 1e-6
"""Flow of the pump to this share of itself: bores are rounded far coarser."""


@dataclass(frozen=True, slots=True)
class HeldGroup:
    """A parallel group whose branches are to take given shares of the pump's flow.

    Parameters
    ----------
    edges : tuple of str
        Of each branch: an edge that carries its flow alone.
    shares : tuple of float
        Flow of each branch over the pump's, [-].
    parent : str
        The edge that carries the whole group's flow: of the branch that it stands in, or the pump's.
    """

    edges: tuple[str, ...]
    shares: tuple[float, ...]
    parent: str


def hold_shares(
    network: Network, coolant: Coolant, groups: Sequence[HeldGroup], pump: str, start_flow_m3_s: float
) -> tuple[float, dict[str, float]]:
    """Return the pump's flow and the drop to add on each branch so that the branches take their shares.

    Parameters
    ----------
    network : Network
    coolant : Coolant
    groups : sequence of HeldGroup
        All groups of the network, an outer one before those within its branches.
    pump : str
        Name of the only pump's edge.
    start_flow_m3_s : float
        A flow of the pump near the answer, greater than 0, [m3/s].

    Returns
    -------
    tuple of float and dict of str to float
        [m3/s]; by edge, 0 or more, at least one branch of each group 0, [Pa].

    Raises
    ------
    OutOfRange
        Shares that leave some flow open, or that no flow of the pump can have.

    Source
    ------
    Continuity, and the sum of drops round each loop.
    """
    model = prepare_network(network, coolant).model
    number = {edge.name: i for i, edge in enumerate(network.edges)}
    names = [pump, *(name for group in groups for name in group.edges)]
    columns = model.loops.matrix[:, [number[name] for name in names]]
    shares = np.array([1.0, *(share for group in groups for share in group.shares)])
    around, _, rank, _ = np.linalg.lstsq(columns.T, shares, rcond=None)
    if rank < len(around) or float(np.abs(columns.T @ around - shares).max()) > 1e-6:
        raise OutOfRange(
            f"network: the shares of {', '.join(names[1:])} do not settle its flows; name every branch of "
            "every group once, with shares that add up to their group's"
        )
    spread = np.linalg.pinv(columns)
    flows = model.loops.spread_flows(around)

    def find_added(flow: float) -> dict[str, float]:
        at = flow * flows
        drops = model.sum_terms(model.find_terms(at)[0]) + model.find_tee_drops(at)[0]
        needs: Floats = -(spread @ model.loops.sum_round(drops))
        added = dict(zip(names, needs.tolist(), strict=True))
        # The same drop on all branches of a group is one on what carries the whole group.
        for group in reversed(groups):
            least = min(added[name] for name in group.edges)
            for name in group.edges:
                added[name] -= least
            added[group.parent] += least
        return added

    # What would have to be added at the pump falls as its flow rises.
    low, high = 0.0, start_flow_m3_s
    for _ in range(MOST_STEPS):
        if find_added(high)[pump] <= 0:
            break
        low, high = high, 1.5 * high
    else:
        raise OutOfRange(
            f'network: the pump of edge "{pump}" drives the shares at every flow up to {high:g} m3/s; extend '
            "its curve to where its head falls"
        )
    low = low or 0.5 * high
    for _ in range(MOST_STEPS):
        if find_added(low)[pump] >= 0:
            break
        low *= 0.5
    upper, lower = find_added(high)[pump], find_added(low)[pump]
    for _ in range(MOST_STEPS):
        if high - low <= SETTLED * high or lower == upper:
            break
        # The chord leads fast to the answer, the middle every time it would barely leave an end.
        at = min(max(lower / (lower - upper), 0.05), 0.95)
        middle = low + at * (high - low)
        value = find_added(middle)[pump]
        if value >= 0:
            low, lower = middle, value
        else:
            high, upper = middle, value
    added = find_added(0.5 * (low + high))
    return 0.5 * (low + high), {name: added[name] for name in names[1:]}
