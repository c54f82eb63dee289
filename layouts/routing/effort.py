"""How long a search may try, in counts: never by the clock, so that the same file gives the same answer anywhere."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Effort:
    """Limits of one search.

    Parameters
    ----------
    name : str
        As written on the command line.
    restarts : int
        Most restarts of the first routing.
    group_steps : int
        Steps of the improvement by groups of channels.
    bound_rounds : int
        Most rounds of prices for the lower bound; 0: only what the channels cost alone.
    most_pairs : int
        Pairs of channels, for each channel, whose courses past each other are told apart.
    most_states : int
        States that a search with such courses may open before it is cut short.
    guided : int
        Courses that the bound proposes and that are then routed.
    exact_arcs : int
        Most arcs of the exact model; a larger remainder is not tried. 0: never.
    exact_nodes : int
        Nodes that the exact model's solver may open.
    placements : int
        Placements of tank and pump that are routed where they may beat the best.
    proofs : int
        Of those, placements whose bound is raised by what their channels cost round each other.
    tree_searches : int
        Searches for each whole tree, when a routing is improved.
    trials : int
        Changed panels that are routed to find what would help, where there is no layout.
    failures : int
        Places whose channels can all be reached that may fail, before the search gives up.
    regions : int
        Places, each unlike the others, that are routed although they are guessed to be dearer than the best.
    first : Effort or None
        What is searched before, with the same counts and seed: more effort never gives a dearer layout.
    """

    name: str
    restarts: int
    group_steps: int
    bound_rounds: int
    most_pairs: int
    most_states: int
    guided: int
    exact_arcs: int
    exact_nodes: int
    placements: int
    proofs: int
    tree_searches: int
    trials: int
    failures: int = 16
    regions: int = 0
    first: Effort | None = None


QUICK = Effort("quick", 4, 5, 0, 0, 0, 0, 0, 0, 12, 0, 0, 12, 24, 8)
NORMAL = Effort("normal", 8, 30, 80, 8, 300_000, 20, 20_000, 200, 60, 4, 12, 24, 70, 16, QUICK)
THOROUGH = Effort(
    "thorough", 8, 1200, 400, 11, 1_000_000, 60, 40_000, 5_000, 400, 40, 12, 150, 400, 100, NORMAL
)

EFFORTS = {effort.name: effort for effort in (QUICK, NORMAL, THOROUGH)}

_NEXT = {QUICK.name: NORMAL, NORMAL.name: THOROUGH}


LONGER_SEARCH = "a longer search: "
"""Begins a remedy that is no change of the file: the option that searches longer follows."""


def find_longer(effort: Effort) -> Effort | None:
    """Return the effort that is next to one of `EFFORTS`; None for the longest, and for one that is none of them."""
    return _NEXT.get(effort.name)


def is_longer_search(remedy: str) -> bool:
    """Return whether a remedy's words are those of a longer search."""
    return remedy.startswith(LONGER_SEARCH)


def list_stages(effort: Effort) -> tuple[Effort, ...]:
    """Return the efforts that a search goes through, the least first and this one last."""
    return (*list_stages(effort.first), effort) if effort.first is not None else (effort,)
