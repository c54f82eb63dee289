"""A plate comes to rest on its seat wherever it begins, and where its energy is least."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layouts.bending.contact import _energy, _least_along, settle
from layouts.bending.elements import hold, make_elements
from layouts.bending.mesh import mesh_sheet

SIZE = 5.0


def overhanging():
    """Return a strip held at one end, lifted in its middle, pressed down at its tip; all of it over a seat."""
    mesh = mesh_sheet(shapely.box(0, 0, 90, 20), (), SIZE)
    elements = make_elements(mesh, 4.0, 0.37)
    root = np.flatnonzero(mesh.points[:, 0] == 0)
    x = mesh.points[:, 0]
    loads = np.where((x > 30) & (x < 50), 1.0, 0.0) - np.where(x > 70, 1.5, 0.0)
    return elements, hold(elements, np.concatenate([3 * root + k for k in range(3)])), loads


def test_the_answer_is_the_same_from_any_start():
    elements, held, loads = overhanging()
    count = len(loads)
    seated = np.ones(count, dtype=bool)
    starts = (np.zeros(count, dtype=bool), seated, np.arange(count) % 2 == 0)
    answers = [settle(elements, held, loads, seated, SIZE, start) for start in starts]
    for unknowns, push, turns in answers:
        assert unknowns == pytest.approx(answers[0][0], abs=1e-9 * np.abs(answers[0][0]).max())
        assert 0 < np.sum(push > 0) < count
        assert (push >= 0).all()
        # Where it lifts off nothing pushes.
        assert not push[unknowns[::3] > 0].any()
        assert 1 < turns < 30
    assert np.sum(answers[0][1]) > 0


def test_no_load_is_no_lift():
    elements, held, loads = overhanging()
    unknowns, push, turns = settle(elements, held, 0 * loads, loads > -9, SIZE, loads > 9)
    assert (unknowns.any(), push.any(), turns) == (False, False, 0)


def test_a_step_ends_where_the_energy_is_least():
    elements, _, loads = overhanging()
    rng = np.random.default_rng(3)
    stiff = np.full(len(loads), 40.0)
    for scale in (0.1, 1.0):
        unknowns = rng.normal(size=3 * len(loads))
        # Downhill at first, and far too far at its end.
        force = -(elements.stiffness @ unknowns)
        force[::3] += loads - stiff * np.minimum(0, unknowns[::3])
        step = scale * force
        best = _least_along(elements, loads, stiff, unknowns, step)
        assert 0 < best < 1
        least = _energy(elements, loads, stiff, unknowns + best * step)
        for share in (0.0, 0.5 * best, 0.99 * best, 1.01 * best, 1.0):
            assert least < _energy(elements, loads, stiff, unknowns + share * step)
