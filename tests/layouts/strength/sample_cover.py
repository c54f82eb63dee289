"""A whole plan of the sample panel, and covers that bend by values made up for one place each."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from layouts.advise import advise_plan
from layouts.bending.plate import Bent
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.detail import detail_panel
from layouts.flow import size_flow
from layouts.panel import Panel
from layouts.plan import CordLoop, Layer, Plan, Routed
from layouts.strength.cover import CORD_STEP, cut_pieces
from layouts.strength.results import CoverBending, CoverCase
from tests.layouts.sample_routed import sample_panel, sample_routed


def whole_plan(panel: Panel, routed: Routed) -> Plan:
    """Return all that is known of a routed panel before any solid, without findings."""
    gaps = clearances_of(panel)
    sealed = close_panel(panel, routed, gaps)
    flowing = size_flow(panel, routed)
    advised = advise_plan(panel, routed, flowing)
    return Plan(panel, routed, sealed, flowing, advised, detail_panel(panel, routed, sealed, gaps), ())


def cord_plan(**make: Any) -> Plan:
    """Return the sample closed by a cord, with some fields of its [make] changed."""
    panel = sample_panel()
    return whole_plan(replace(panel, make=replace(panel.make, **make)), sample_routed())


def made_up(
    plan: Plan,
    working: tuple[float, float],
    test: tuple[float, float],
    layer: Layer = "back",
    bodys: float = 0.0,
) -> CoverBending:
    """Return a cover whose first cord it lifts off by so much in its middle, [mm], with so much stress, [MPa].

    The body bows by `bodys` there, [mm].
    """
    loops = [loop for loop in plan.sealed.loops if loop.layer == layer]
    body = _bent(plan, loops, bodys, 0.0)
    return CoverBending(
        layer,
        (
            CoverCase("working", 40e3, 37.0, 1400.0, 8.5, _bent(plan, loops, *working), body),
            CoverCase("test", 50e3, 37.0, 2800.0, 17.0, _bent(plan, loops, *test), body),
        ),
    )


def _bent(plan: Plan, loops: list[CordLoop], lift: float, stress: float) -> Bent:
    """Return a grid of squares of 10 mm whose lift is a hill in the panel's middle."""
    x, y = np.meshgrid(
        np.arange(0.0, plan.panel.width + 1, 10.0), np.arange(0.0, plan.panel.height + 1, 10.0)
    )
    points = np.column_stack((x.ravel(), y.ravel()))
    rows, columns = x.shape
    screws = len(plan.sealed.screws_of(loops[0].layer)) if loops else 0
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    triangles = np.concatenate(
        [
            np.column_stack((first, first + 1, first + columns + 1)),
            np.column_stack((first, first + columns + 1, first + columns)),
        ]
    )
    far = np.hypot(*(points - points.mean(axis=0)).T) / 50.0
    line_lift = []
    for k, loop in enumerate(loops):
        count = len(cut_pieces(loop.path, CORD_STEP)[0])
        line_lift.append(np.where(np.arange(count) == count // 2, lift if k == 0 else 0.0, -1e-4))
    stresses = np.where(np.arange(len(points)) == len(points) // 3, stress, 0.1)
    return Bent(
        points, triangles, 1.5 * lift * np.exp(-(far**2)), stresses, tuple(line_lift), (1.0,) * screws, 2.0
    )
