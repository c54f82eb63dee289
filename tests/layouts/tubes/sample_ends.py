"""Ends of tubes for the tests of their bends: given ones, and any two for hypothesis."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from geom.frame import Vec
from layouts.tubes.centreline import BendRule
from layouts.tubes.values import TubeEnd

RULE = BendRule(radius=30.0, lead=22.0, between=10.0)
PLACES = st.tuples(*(st.floats(-250.0, 250.0) for _ in range(3)))
WAYS = st.tuples(*(st.floats(-1.0, 1.0) for _ in range(3))).filter(lambda way: math.hypot(*way) > 0.1)


def end_at(at: Vec, out: Vec) -> TubeEnd:
    """Return an end whose direction is made a unit vector."""
    length = math.hypot(*out)
    return TubeEnd(at, (out[0] / length, out[1] / length, out[2] / length))


def any_end() -> st.SearchStrategy[TubeEnd]:
    """Return any end within half a metre."""
    return st.builds(end_at, PLACES, WAYS)
