"""A plate of 100 x 60 x 20 mm in two set-ups, small enough to be reckoned by hand."""

from __future__ import annotations

import math

from geom.features import Cylinder
from geom.outline import outline_circle, outline_rectangle, outline_route
from layouts.milling.work import Cutting, Hole, Pocket, SetUp
from layouts.panel import EndMill

MILL_6 = EndMill(6.0, None, 2)
MILL_2 = EndMill(2.0, None, 2)

SLOT = Pocket(
    "channel slot",
    "channel",
    (outline_route(((20.0, 30.0), (60.0, 30.0)), 10.0, 8.0),),
    (),
    0.0,
    9.0,
    (40.0 * 8.0 + 16.0 * math.pi) * 9.0,
)
TANK = Pocket(
    "tank",
    "tank",
    (outline_rectangle(55.0, 20.0, 85.0, 40.0, 4.0),),
    (outline_circle((75.0, 30.0), 3.0),),
    0.0,
    9.0,
    (600.0 - (4 - math.pi) * 16.0 - 9.0 * math.pi) * 9.0,
)
GROOVE = Pocket(
    "groove 1",
    "groove",
    (outline_rectangle(9.0, 12.0, 93.0, 48.0, 6.0),),
    (outline_rectangle(12.0, 15.0, 90.0, 45.0, 3.0),),
    0.0,
    2.2,
    (84.0 * 36.0 - (4 - math.pi) * 36.0 - 78.0 * 30.0 + (4 - math.pi) * 9.0) * 2.2,
)
SCREW = Hole(
    "cover screw 1",
    "screw hole",
    "body",
    "back",
    Cylinder((95.0, 5.0, 0.0), (0.0, 0.0, 1.0), 10.0, 1.65),
    (5.0, 5.0),
    0.0,
    True,
    False,
    "M4",
    8.0,
    10.0 * math.pi * 1.65**2,
)
PORT = Hole(
    "port inlet G1/4",
    "port",
    "body",
    "front",
    Cylinder((75.0, 35.0, 20.0), (0.0, 0.0, -1.0), 15.5, 5.9, 0.7),
    (75.0, 35.0),
    0.0,
    True,
    False,
    "G1/4",
    12.0,
    15.5 * math.pi * 5.9**2,
)

BACK = SetUp(
    "body",
    "back",
    (100.0, 60.0),
    20.0,
    outline_rectangle(0.0, 0.0, 100.0, 60.0, 5.0),
    (SLOT, TANK, GROOVE),
    (SCREW,),
)
FRONT = SetUp("body", "front", (100.0, 60.0), 20.0, None, (), (PORT,))
SETUPS = (BACK, FRONT)
CUTTINGS = (
    Cutting("body", "back", "channel slot", MILL_6, MILL_6),
    Cutting("body", "back", "tank", MILL_6, MILL_6),
    Cutting("body", "back", "groove 1", MILL_2, MILL_2),
)
