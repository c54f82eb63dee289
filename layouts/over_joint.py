"""What is cut, as it lies over a joint: each feature's outline in plan and its heights towards the body."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from geom.features import Feature
from geom.frame import INTO, SAME_MM
from layouts.detail import cast_shadow
from layouts.faces import joint_z
from layouts.panel import Panel
from layouts.plan import Layer


@dataclass(frozen=True, slots=True)
class Cast:
    """A feature, its outline in plan, and between which heights over a joint it lies, towards the body, [mm]."""

    feature: Feature
    shadow: shapely.Geometry
    low: float
    high: float

    @property
    def meets_joint(self) -> bool:
        """Whether it passes the joint, or ends in it."""
        return self.low <= SAME_MM and self.high >= -SAME_MM

    @property
    def wet_joint(self) -> bool:
        """Whether it brings coolant into the joint."""
        return self.feature.medium == "wet" and self.meets_joint


def cast_over_joint(panel: Panel, features: tuple[Feature, ...], layer: Layer) -> tuple[Cast, ...]:
    """Return features as they lie over a joint, in their order.

    Parameters
    ----------
    panel : Panel
    features : tuple of Feature
    layer : {"back", "front"}
        The joint.

    Returns
    -------
    tuple of Cast
    """
    joint, inward = joint_z(panel, layer), INTO[layer][2]
    casts = []
    for feature in features:
        shadow, z0, z1 = cast_shadow(feature.shape)
        low, high = sorted(((z0 - joint) * inward, (z1 - joint) * inward))
        casts.append(Cast(feature, shadow, low, high))
    return tuple(casts)
