"""Where the ends of a cord meet: in the middle of its longest straight, farthest from any bend."""

from __future__ import annotations

from geom.outline import Line, Point
from layouts.plan import CordLoop


def place_seam(loop: CordLoop) -> Point | None:
    """Return where the ends of a closed cord meet, [mm]; None where it ends at others, or has no straight.

    Parameters
    ----------
    loop : CordLoop
    """
    straights = [piece for piece in loop.path if isinstance(piece, Line)]
    if not loop.closed or not straights:
        return None
    longest = max(straights, key=lambda piece: round(piece.length, 6))
    (ax, ay), (bx, by) = longest.start, longest.end
    return (ax + bx) / 2, (ay + by) / 2
