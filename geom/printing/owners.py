"""Which features a place beside a part's skin belongs to."""

from __future__ import annotations

import manifold3d
import numpy as np

from geom.printing.measured import Vec
from geom.printing.survey import STEP_OFF_MM
from geom.rebuild import Models

GRAIN_MM = 0.02
"""Side of the cube that is looked for in each feature."""


def find_owners(models: Models, at: Vec, towards: Vec) -> tuple[str, ...]:
    """Return the names of the features that hold a place just off the skin.

    Parameters
    ----------
    models : mapping of str to tuple of manifold3d.Manifold
        From `rebuild_features`.
    at : (float, float, float)
        On the skin, [mm].
    towards : (float, float, float)
        Unit vector from there into the open.

    Returns
    -------
    tuple of str
        In the order of the models.
    """
    place = np.asarray(at) + STEP_OFF_MM * np.asarray(towards)
    grain = manifold3d.Manifold.cube((GRAIN_MM,) * 3, True).translate(tuple(place))
    found = []
    for name, pieces in models.items():
        for piece in pieces:
            box = np.asarray(piece.bounding_box())
            near = np.all(place > box[:3] - GRAIN_MM) and np.all(place < box[3:] + GRAIN_MM)
            if near and (piece ^ grain).volume() > 0.0:
                found.append(name)
                break
    return tuple(found)
