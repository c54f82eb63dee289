"""What stays over all tilts, and the tilts that help."""

from __future__ import annotations

import math

from geom.frame import Vec
from layouts.filling.values import Tilt

FLAT_SINE = 1e-6
"""Part of the panel's normal beside `up` under which the panel lies flat, [-]."""


def tilted_up(up: Vec, tilt: Tilt) -> Vec:
    """Return which way is up in the panel's frame once it is tilted from how it is installed.

    Parameters
    ----------
    up : (float, float, float)
        As installed: a unit vector.
    tilt : Tilt

    Notes
    -----
    Forwards is where the front face looks; where the panel lies flat, towards its lower edge (its upper one, where it
    lies on its front). To the right is as seen by someone who looks at the panel from there.
    """
    x, y, z = up
    across = math.hypot(x, y)
    if across > FLAT_SINE:
        forward: Vec = (-z * x / across, -z * y / across, across)
    else:
        forward = (0.0, -1.0 if z > 0 else 1.0, 0.0)
    # To the right of someone who faces the panel: up crossed with the way towards him.
    right: Vec = (
        y * forward[2] - z * forward[1],
        z * forward[0] - x * forward[2],
        x * forward[1] - y * forward[0],
    )
    a, b = math.radians(tilt.right), math.radians(tilt.front)
    turned = tuple(
        math.cos(b) * (math.cos(a) * up[k] - math.sin(a) * right[k]) - math.sin(b) * forward[k]
        for k in range(3)
    )
    return (turned[0], turned[1], turned[2])
