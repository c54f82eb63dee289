"""Comparison with a printed value, within half a unit of its last digit."""

from __future__ import annotations

from decimal import Decimal


def assert_as_printed(value: float, printed: str, rel: float = 0.0) -> None:
    """Assert that `value` rounds to `printed`, or lies within `rel` of it where the source states an error.

    Parameters
    ----------
    value : float
        What the project computes, in the unit of `printed`.
    printed : str
        The value as its source prints it.
    rel : float
        Relative error that the source itself states, [-].
    """
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    half_unit = 0.5 * 10.0**exponent
    allowed = max(half_unit * (1 + 1e-9), rel * abs(float(printed)))
    assert abs(value - float(printed)) <= allowed, f"{value!r} is not {printed} (allowed {allowed:g})"
