"""Why an instance has no routing: from the plainest reason down to none that can be proven."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ReasonKind = Literal["unreachable", "narrow", "conflict", "not found"]


@dataclass(frozen=True, slots=True)
class Reason:
    """What stands in the way of a routing.

    Parameters
    ----------
    kind : {"unreachable", "narrow", "conflict", "not found"}
        A channel that cannot be reached alone; a gap too narrow for the channels that must pass it; channels
        that are proven not to fit together; or nothing proven, only not found.
    channels : tuple of str
        Those concerned; for "conflict" no smaller set in it was found to conflict.
    cells : tuple of int
        Where: free cells of the narrowest gap ("narrow"), the border of what can be reached ("unreachable"),
        where channels last stood too near ("not found").
    must_pass, fit : int
        Channels that must pass the gap, and how many fit; 0 where the kind is not "narrow".
    lacking_cells : int
        Cells by which the gap is too narrow.
    rounds : int
        Rounds of the search.
    certain : bool
        False where an "unreachable" channel was only not found: a tree, or a way that came back to itself.
    """

    kind: ReasonKind
    channels: tuple[str, ...]
    cells: tuple[int, ...] = ()
    must_pass: int = 0
    fit: int = 0
    lacking_cells: int = 0
    rounds: int = 0
    certain: bool = True

    @property
    def proven(self) -> bool:
        """Whether no routing can exist."""
        return self.kind != "not found" and self.certain
