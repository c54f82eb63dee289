"""A layout on its way between processes: the server passes it on as it is, and opens only what it needs itself."""

from __future__ import annotations

import pickle
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layouts.laid_out import LaidOut
    from layouts.plan import Routed


@dataclass(frozen=True, slots=True)
class PickledLaid:
    """A `LaidOut`, and the `Routed` in it, which can be opened without loading the router."""

    laid: bytes
    routed: bytes

    def open_routed(self) -> Routed:
        """Return what is routed."""
        routed: Routed = pickle.loads(self.routed)
        return routed


def pickle_laid(laid: LaidOut) -> PickledLaid:
    """Return a layout ready for its way.

    Parameters
    ----------
    laid : LaidOut
    """
    return PickledLaid(pickle.dumps(laid), pickle.dumps(laid.routed))
