"""The sample panel with a large pocket under a thin cover, and its routes."""

from __future__ import annotations

from dataclasses import replace

from layouts.panel import Panel
from layouts.plan import Routed
from tests.layouts.sample_routed import sample_panel, sample_routed

LARGE_BOX = (100.0, 85.0, 240.0, 175.0)
"""140 x 90 mm; the feed leaves it at x = 145 mm."""


def sample_large_tank(cover: float = 6.0) -> tuple[Panel, Routed]:
    """Return the panel, its file asking for posts, and its routes without any."""
    return resize_tank(LARGE_BOX, cover)


def resize_tank(
    box: tuple[float, float, float, float], cover: float, cord: float = 1.78
) -> tuple[Panel, Routed]:
    """Return the sample with its tank at `box`, which must reach from y = 85 mm up past x = 145 mm."""
    panel, routed = sample_panel(), sample_routed()
    x0, y0, x1, y1 = box
    height = y1 + 20.0
    fill = next(port for port in routed.ports if port.name == "fill")
    moved = replace(fill, at=(145.0, height, fill.at[2]), foot=(145.0, y1 - 8.0), depth=28.0)
    ports = tuple(moved if port is fill else port for port in routed.ports)
    panel = replace(
        panel,
        width=max(panel.width, x1 + 20.0),
        height=height,
        make=replace(panel.make, cover=cover, cord=cord),
        tank=replace(panel.tank, size=(x1 - x0, y1 - y0), posts="auto"),
    )
    return panel, replace(routed, ports=ports, tank=replace(routed.tank, box=box))
