"""A small plate for views and sections, and a drawing of two sheets made by hand."""

from __future__ import annotations

import math
from functools import cache

from exports.drawing.values import (
    CutFace,
    DrawingSet,
    Label,
    Leader,
    Linear,
    Ordinate,
    PlacedView,
    Sheet,
    Stroke,
    View,
    ViewLine,
)
from geom.build import Solids, build_solids
from geom.features import Blank, Cylinder, Detail, Feature, Prism
from geom.outline import Arc, Line, outline_circle, outline_rectangle, reverse_path

WIDTH, HEIGHT, THICK = 60.0, 40.0, 10.0
CORNER = 5.0
POCKET = (10.0, 8.0, 34.0, 24.0)
POCKET_DEPTH, POCKET_CORNER = 4.0, 3.0
THROUGH = Cylinder((48.0, 30.0, 10.0), (0.0, 0.0, -1.0), 10.0, 3.0)
TAPPED = Cylinder((48.0, 12.0, 10.0), (0.0, 0.0, -1.0), 8.0, 1.65)
EDGE_PORT = Cylinder((0.0, 16.0, 5.0), (1.0, 0.0, 0.0), 5.0, 1.25)

FEATURES = (
    Feature("pocket", "tank", "dry", Prism((outline_rectangle(*POCKET, POCKET_CORNER),), 0.0, POCKET_DEPTH)),
    Feature("through", "clearance hole", "dry", THROUGH),
    Feature("tapped", "screw hole", "dry", TAPPED, thread="M4", thread_depth=6.0),
    Feature("edge", "pin hole", "dry", EDGE_PORT),
)

BLANK = Blank("body", outline_rectangle(0.0, 0.0, WIDTH, HEIGHT, CORNER), 0.0, THICK)


@cache
def plate_solids() -> Solids:
    """Return the plate: a pocket in its back, a hole through it, a tapped one in its front, a bore in its edge."""
    return build_solids(Detail((BLANK,), FEATURES, ()))


def small_drawing() -> DrawingSet:
    """Return two sheets: an A3 at 1:2 with a detail at 2:1, and an A4 at 1:1."""
    plate = View(
        "plate front",
        (200.0, 100.0),
        (
            *(ViewLine(s, "visible") for s in outline_rectangle(0.0, 0.0, 200.0, 100.0, 10.0)),
            ViewLine(Arc((50.0, 30.0), 12.5, 0.0, 2 * math.pi), "visible"),
            ViewLine(Arc((150.0, 30.0), 20.0, -0.5, 4.0), "centre"),
            ViewLine(Line((20.0, 50.0), (180.0, 50.0)), "centre"),
        ),
    )
    ring = (outline_circle((10.0, 10.0), 8.0)[0],)
    hole = reverse_path(outline_rectangle(6.0, 6.0, 14.0, 14.0, 2.0))
    slab = outline_rectangle(20.0, 0.0, 40.0, 6.0, 2.0)
    section = View(
        "section A-A",
        (40.0, 20.0),
        tuple(ViewLine(s, "visible") for loop in (ring, hole, slab) for s in loop),
        (
            CutFace("body", (ring, hole)),
            CutFace("cover", (slab,)),
            CutFace("cord 1", (outline_circle((30.0, 15.0), 1.0),)),
        ),
    )
    first = Sheet(
        1,
        "plate, front",
        "body",
        (420.0, 297.0),
        0.5,
        (PlacedView(plate, (60.0, 150.0), 0.5), PlacedView(section, (250.0, 60.0), 2.0)),
        (
            Stroke(Line((20.0, 10.0), (410.0, 10.0)), "frame"),
            Label("Ø11.8 G1/4", (30.0, 30.0), 3.5),
            Label("finish Ra 1.6", (400.0, 30.0), 2.5, "right", 0.0, True),
            Label("standing", (24.0, 120.0), 2.5, "middle", 90.0),
            Ordinate(0, "u", (50.0, 30.0), (85.0, 135.0)),
            Ordinate(0, "v", (50.0, 30.0), (48.0, 165.0)),
            Linear(0, "u", (0.0, 100.0), (200.0, 100.0), 212.0, "±0.15"),
            Linear(1, "v", (20.0, 0.0), (20.0, 6.0), 275.0),
            Leader(((320.0, 62.0), (340.0, 75.0), (348.0, 75.0)), ("cord", "squeezed 24 %"), 2.5),
            Leader(((262.0, 90.0), (262.0, 110.0), (255.0, 110.0)), ("acrylic",), 2.5, True),
        ),
    )
    second = Sheet(
        2,
        "notes",
        "panel",
        (297.0, 210.0),
        1.0,
        (PlacedView(section, (50.0, 50.0), 1.0),),
        (Label("second sheet", (100.0, 100.0), 5.0, "middle"), Ordinate(0, "u", (10.0, 10.0), (60.0, 40.0))),
    )
    return DrawingSet("workshop", "0" * 64, (first, second))
