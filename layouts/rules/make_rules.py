"""Design rules of making: walls, the floor between two layers, what is printed."""

from __future__ import annotations

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.standards import tables
from layouts.faces import floor_thickness, least_body
from layouts.panel import Panel
from layouts.rules.findings import make_finding


def check_least_wall(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the material stands being milled to the least wall asked for (`make.wall`); printed: `print.wall`."""
    material = tables.material(panel.make.material)
    least = material.least_wall_milled
    if panel.make.method != "milled" or panel.rules.least_wall >= least - SAME_MM:
        return ()
    return (
        make_finding(
            "make.wall",
            "caution",
            f"the file asks for walls of {panel.rules.least_wall:g} mm; milled {material.name} "
            f"stands {least:g} mm",
            f'set least_wall = "{least:g} mm" in [rules]',
            panel.rules.least_wall,
            least,
            "mm",
        ),
    )


def check_floor(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether a wall stands between channels that cross in the body's two faces (`wall.floor`)."""
    if panel.channel.layers == 1:
        return ()
    depth, wall = panel.channel.depth, panel.rules.least_wall
    floor = floor_thickness(panel.make.body, depth)
    if floor >= wall - SAME_MM:
        return ()
    return (
        make_finding(
            "wall.floor",
            "fault",
            f"channels {depth:g} mm deep in both faces leave {floor:.3g} mm of a body of {panel.make.body:g} mm "
            f"where they cross, less than the {wall:g} mm asked for",
            f'set body = "{least_body(depth, wall):g} mm" or more in [make], or '
            f'depth = "{max(0.0, (panel.make.body - wall) / 2):g} mm" or less in [channel]',
            floor,
            wall,
            "mm",
        ),
    )


def check_material(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the material is one that is printed (`make.material`)."""
    material = tables.material(panel.make.material)
    if panel.make.method != "printed" or material.least_wall_printed is not None:
        return ()
    rows = (tables.material(name) for name in tables.material_names())
    known = " or ".join(f'"{row.name}"' for row in rows if row.least_wall_printed is not None)
    return (
        make_finding(
            "make.material",
            "caution",
            f"the panel is printed, but {material.name} is known as sheet or bar: no wall is known that prints "
            "watertight in it",
            f'use material = {known}, or method = "milled"',
        ),
    )
