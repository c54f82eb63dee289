"""A sheet with a few cuts, for one question of milling at a time. Invented sizes."""

from __future__ import annotations

from dataclasses import replace

from geom.features import Blank, Cylinder, Detail, Feature, Kind, Prism, Shape
from geom.frame import INTO, Face
from geom.outline import Line, Loop, Point, Region, outline_rectangle, outline_route
from layouts.milling.frame import plane_of
from layouts.milling.pockets import OpenPocket, open_pockets
from layouts.milling.setups import list_setups
from layouts.milling.work import SetUp
from layouts.panel import EndMill, Milling, Panel
from tests.layouts.sample_routed import sample_panel

WIDE, TALL, THICK = 120.0, 80.0, 20.0


def sheet_panel(cutter: float = 6.0, mills: tuple[tuple[float, float | None], ...] = ()) -> Panel:
    """Return a panel with a smallest channel cutter, and cutters at hand with their reach."""
    panel = sample_panel()
    milling = Milling(tuple(EndMill(size, reach) for size, reach in mills))
    return replace(panel, make=replace(panel.make, cutter=cutter), milling=milling)


def body(*features: Feature, thick: float = THICK) -> Detail:
    """Return a body with cuts in it."""
    return Detail((Blank("body", outline_rectangle(0, 0, WIDE, TALL, 6.0), 0.0, thick),), features, ())


def cut(name: str, kind: Kind, shape: Shape) -> Feature:
    """Return a dry feature."""
    return Feature(name, kind, "dry", shape)


def slot(name: str, points: tuple[Point, ...], width: float, depth: float = 9.0) -> Feature:
    """Return a channel in the back."""
    return cut(name, "channel", Prism((outline_route(points, 14.0, width),), 0.0, depth))


def pocket(name: str, region: Region, depth: float = 14.0, islands: Region = ()) -> Feature:
    """Return a tank in the back."""
    return cut(name, "tank", Prism(region, 0.0, depth, islands))


def bore(
    name: str, kind: Kind, on: Face, mouth: tuple[float, float, float], length: float, radius: float
) -> Feature:
    """Return a bore from a face."""
    return cut(name, kind, Cylinder(mouth, INTO[on], length, radius))


def polygon(*points: Point) -> Loop:
    """Return a counter-clockwise loop with sharp corners."""
    return tuple(Line(a, b) for a, b in zip(points, (*points[1:], points[0]), strict=True))


def open_back(detail: Detail, panel: Panel | None = None) -> tuple[SetUp, tuple[OpenPocket, ...]]:
    """Return the set-up of the body's back and its pockets with what is open beside them."""
    setups = list_setups(panel or sheet_panel(), detail)
    setup = next(setup for setup in setups if (setup.part, setup.face) == ("body", "back"))
    return setup, open_pockets(setup, plane_of(detail.blanks[0], "back"))
