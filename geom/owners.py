"""Which features a place belongs to."""

from __future__ import annotations

import manifold3d
import numpy as np

from geom.frame import Vec
from geom.rebuild import Models

ON_FEATURE_MM = 0.05
"""A place on a part's skin this close to a feature lies on that feature: the sagitta and a reserve."""


def find_owners(models: Models, at: Vec, near: float) -> tuple[str, ...]:
    """Return the names of the features that hold a place, or come near it.

    Parameters
    ----------
    models : mapping of str to tuple of manifold3d.Manifold
        From `rebuild_features`.
    at : (float, float, float)
        [mm]
    near : float
        Half the side of the cube round it that is looked for in each feature, [mm].

    Returns
    -------
    tuple of str
        In the order of the models.
    """
    place = np.asarray(at)
    grain = manifold3d.Manifold.cube((2 * near,) * 3, True).translate(tuple(place))
    found = []
    for name, pieces in models.items():
        for piece in pieces:
            box = np.asarray(piece.bounding_box())
            meets = np.all(place > box[:3] - near) and np.all(place < box[3:] + near)
            if meets and (piece ^ grain).volume() > 0.0:
                found.append(name)
                break
    return tuple(found)
