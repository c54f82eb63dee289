"""What grooves keep off where they run further from the coolant than they must."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from geom.outline import Loop, loop_polygon, path_points
from layouts.clearance import Clearances
from layouts.detail import SHADOW_SAG, cast_shadow, cut_openings, cut_pump_screws
from layouts.faces import joint_z
from layouts.panel import Panel
from layouts.plan import Layer, Routed

STEP_MM = 1.0
"""Distance of the points that stand for the middle of a groove."""


class CordRoom:
    """The room round the grooves of one joint.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    clearances : Clearances
    layer : {"back", "front"}
        Of the joint.
    middles : tuple of Loop
        The middles of its grooves.
    """

    def __init__(
        self,
        panel: Panel,
        routed: Routed,
        clearances: Clearances,
        layer: Layer,
        middles: tuple[Loop, ...],
    ) -> None:
        half, wall = clearances.groove_width / 2, clearances.solid_gap
        joint = joint_z(panel, layer)
        depth = clearances.groove_depth
        low, high = (joint - depth, joint) if layer == "front" else (joint, joint + depth)
        openings = cut_openings(panel, routed)
        shapes: list[shapely.Geometry] = []
        distances: list[float] = []
        self._regions: list[str] = []
        for feature in (*openings, *cut_pump_screws(panel, routed, openings)):
            shadow, z0, z1 = cast_shadow(feature.shape)
            if z0 < high + wall and z1 > low - wall:
                shapes.append(shadow)
                distances.append(half + wall + SHADOW_SAG)
                self._regions.append(feature.region)
        for clear in panel.keep_clear:
            shapes.append(shapely.box(*clear.box))
            distances.append(half)
            self._regions.append("")
        self._shapes, self._distances = np.array(shapes), np.array(distances)
        self._grooves = np.array([_ring(middle) for middle in middles])
        self._apart = 2 * half + wall + SHADOW_SAG

    def settle(self, groove: int, path: Loop) -> None:
        """Take a groove's middle as it will be made."""
        self._grooves[groove] = _ring(path)

    def judge(self, region: str, grooves: tuple[int, ...]) -> Callable[[Loop], bool]:
        """Return what says whether the middle of a groove of a region may sweep over a patch.

        It then keeps the least wall to the grooves with the numbers `grooves` and to what is cut at its depth, but
        for the coolant of its own region, and keeps off the regions kept clear.
        """
        others = np.array([own != region for own in self._regions], dtype=bool)
        shapes, distances = self._shapes[others], self._distances[others]

        def accepts(patch: Loop) -> bool:
            area = loop_polygon(patch, SHADOW_SAG)
            rest = self._grooves[list(grooves)]
            return not (
                np.any(shapely.dwithin(shapes, area, distances))
                or np.any(shapely.dwithin(rest, area, self._apart))
            )

        return accepts


def _ring(middle: Loop) -> shapely.LinearRing:
    return shapely.LinearRing(path_points(middle, STEP_MM))
