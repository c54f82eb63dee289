"""Proofs by cases: trees as ways between two of their ends, and ports that have a choice one place at a time.

The courses of two channels past each other are told apart for channels of two ends whose ends stand fast or lie on
a border (`topology.py`). A tree holds a way between any two of its ends: where no such way fits beside the other
channels, the tree does not either. At a T the way turns in one cell, so bends take no cells here. A port that may
stand anywhere in a box is put in each of its places; where none of them fits, none does.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, islice, product

from layouts.routing.bound.prove import is_impossible
from layouts.routing.effort import Effort
from layouts.routing.instance import Instance, Net, Terminal

MOST_FORMS = 12
"""Choices of two ends for the trees of one set of nets."""

End = tuple[Terminal, ...]


class Cases:
    """Proofs by cases for sets of nets of one instance, up to a number of cases.

    Parameters
    ----------
    instance : Instance
    effort : Effort
        Its `trials` are the cases looked at for all sets together.
    """

    def __init__(self, instance: Instance, effort: Effort) -> None:
        self.instance = instance
        self.effort = effort
        self.left = effort.trials

    def rule_out(self, nets: tuple[int, ...]) -> bool:
        """Return whether some nets are proven not to fit together, in every case.

        Parameters
        ----------
        nets : tuple of int

        Returns
        -------
        bool
            False where they fit, where nothing could be proven, and where there are too many cases.
        """
        forms = product(*(_list_ways(self.instance.nets[net]) for net in nets))
        # The fewest cases first.
        ordered = sorted(
            forms, key=lambda form: math.prod(len(_list_places(end)) for w in form for end in w.ends)
        )
        return any(self._rule_out_ways(form) for form in ordered[:MOST_FORMS])

    def _rule_out_ways(self, ways: tuple[Net, ...]) -> bool:
        choices = [_list_places(end) for way in ways for end in way.ends]
        if math.prod(map(len, choices)) > self.left:
            return False
        for ends in product(*choices):
            self.left -= 1
            taken = iter(ends)
            fixed = tuple(replace(way, ends=tuple(islice(taken, 2))) for way in ways)
            case = replace(self.instance, nets=fixed, bend_cells=0)
            if not is_impossible(case, tuple(range(len(fixed))), self.effort):
                return False
        return True


def _list_ways(net: Net) -> tuple[Net, ...]:
    """Return a net of two ends for each two ends of a net."""
    if len(net.ends) == 2:
        return (net,)
    return tuple(replace(net, ends=pair, leg_rates=()) for pair in combinations(net.ends, 2))


def _list_places(end: End) -> tuple[End, ...]:
    """Return the terminals of each place at which an end may stand, where it stands free inside; else all as one."""
    if any(terminal.bore or terminal.tail for terminal in end):
        return (end,)
    return tuple(
        tuple(terminal for terminal in end if terminal.node == node) for node in sorted({t.node for t in end})
    )
