"""How far the drop along each edge of a solved network may lie from its calculated value."""

from __future__ import annotations

import numpy as np

from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.losses import LOSS_BANDS
from layouts.hydraulics.network import FlowSolution, Network
from layouts.hydraulics.segments import list_terms
from layouts.hydraulics.terms import stack_terms


def find_drop_bands(network: Network, coolant: Coolant, solution: FlowSolution) -> dict[str, float]:
    """Return the relative band of every edge's drop at its calculated flow.

    Parameters
    ----------
    network : Network
    coolant : Coolant
    solution : FlowSolution
        Of this network and coolant.

    Returns
    -------
    dict of str to float
        Of each edge: sum of |band times drop| over its elements and tees, over its whole drop, [-]. That
        takes all errors to one side, since most edges are ruled by one or two formulas, each of which errs
        alike wherever it is used. 0 without flow; a pump counts as exact. Where a tee gives back nearly all
        that an edge costs, its drop is a small difference and its band is held at 1.

    Source
    ------
    Bands: `friction.friction_band`, `losses.LOSS_BANDS`, `segments.PART_BAND`.
    """
    edges = network.edges
    stack = stack_terms(
        [
            (i, term)
            for i, edge in enumerate(edges)
            for element in edge.elements
            for term in list_terms(element)
        ]
    )
    flows = np.array([solution.flow_m3_s[edge.name] for edge in edges])
    drops = np.array([solution.drop_pa[edge.name] for edge in edges])
    terms = stack.find_drops(flows, coolant)
    spreads = np.abs(terms) * stack.find_bands(flows, coolant)
    spread, own = (np.bincount(stack.place, weights=w, minlength=len(edges)) for w in (spreads, terms))
    at_tees = {name for tee in network.tees for name in (tee.combined, tee.run, tee.branch)}
    result = {}
    for edge, flow, drop, of_terms, by_terms in zip(edges, flows, drops, own, spread, strict=True):
        # What an edge's own elements do not account for is its tees' part.
        whole = by_terms + (LOSS_BANDS["tee"] * abs(drop - of_terms) if edge.name in at_tees else 0.0)
        result[edge.name] = float(min(1.0, whole / abs(drop))) if flow and drop else 0.0
    return result
