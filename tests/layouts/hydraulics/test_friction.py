"""Friction is continuous, falls and rises where it must, and refuses what it does not cover."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.friction import (
    channel_aspect,
    entry_loss,
    friction_band,
    friction_factor,
    hydraulic_diameter,
    kinetic_energy_factor,
    laminar_f_re,
)

aspects = st.one_of(st.none(), st.floats(0.0, 1.0))


@settings(max_examples=100, deadline=None)
@given(st.floats(1e-3, 1e6), aspects, st.floats(0.0, 0.03))
def test_factor_is_continuous_and_drop_rises(re, aspect, roughness):
    factor, next_factor = (friction_factor(x, aspect, roughness) for x in (re, re * (1 + 1e-6)))
    assert next_factor == pytest.approx(factor, rel=2e-5)
    assert next_factor * (1 + 1e-6) ** 2 > factor


@settings(max_examples=50, deadline=None)
@given(st.floats(1e-3, 1000.0), aspects)
def test_laminar_factor_is_exact(re, aspect):
    f_re = 64.0 if aspect is None else laminar_f_re(aspect)
    assert friction_factor(re, aspect) * re == pytest.approx(f_re, rel=1e-4)


def test_arrays_agree_with_numbers():
    res = np.array([10.0, 900.0, 2500.0, 2e4])
    assert friction_factor(res, 0.5) == pytest.approx([friction_factor(float(re), 0.5) for re in res])


def test_values_between_plates_and_square_are_continuous():
    for function in (laminar_f_re, entry_loss, kinetic_energy_factor):
        values = [function(a) for a in (0.0, 1e-8, 1e-6, 1e-4, 1e-3, 2e-3)]
        assert np.abs(np.diff(values)).max() < 3e-3 * values[0]


def test_profile_meets_lundgren_balance():
    # K(infinity) = 2 (energy - momentum); for a round pipe 2 (2 - 4/3).
    assert entry_loss(None) == pytest.approx(2 * (kinetic_energy_factor(None) - 4 / 3))


def test_sizes():
    assert hydraulic_diameter(8.0, 6.0) == pytest.approx(4 * 48 / 28)
    assert channel_aspect(8.0, 6.0) == channel_aspect(6.0, 8.0) == 0.75


def test_bands():
    assert [friction_band(re) for re in (0.0, 1000, 1500, 4000, 5000, 1e5)] == pytest.approx(
        [0.02, 0.02, 0.25, 0.25, 0.08, 0.08]
    )
    res = np.geomspace(1.0, 1e5, 2000)
    bands = friction_band(res)
    assert bands == pytest.approx([friction_band(float(re)) for re in res])
    assert np.abs(np.diff(bands)).max() < 0.005


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: hydraulic_diameter(0.0, 6.0), "greater than 0"),
        (lambda: laminar_f_re(1.2), "1.2 is outside 0 to 1"),
        (lambda: friction_factor(-1.0), "0 or more"),
        (lambda: friction_factor(100.0, 0.5, -0.1), "0 or more"),
        (lambda: friction_factor(100.0, -0.5), "outside 0 to 1"),
        (lambda: entry_loss(2.0), "outside 0 to 1"),
    ],
)
def test_refused(call, says):
    with pytest.raises(OutOfRange, match=says):
        call()
