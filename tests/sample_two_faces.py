"""A small panel with channels in both faces of its body, as the layout stage would hand it on.

Channel "main" runs in the back face, passes through a hole and crosses over "cross" in the front face::

    +----------------------+
    |            c         |
    |   m....o===+=====m   |     . back face   = front face   o through hole
    |            c         |
    +----------------------+
"""

from __future__ import annotations

from sample_detail import make_track

from geom.features import Blank, Cylinder, Detail, Feature, Insert, Prism
from geom.frame import INTO
from geom.outline import Point, Region, outline_circle, outline_rectangle, outline_route

WIDTH, HEIGHT, BODY, COVER = 120.0, 90.0, 20.0, 6.0
FRONT = BODY + COVER
CHANNEL, DEPTH, BEND = 8.0, 7.0, 14.0
HOLE, BORE = 3.5, 4.5
LAND, GROOVE, GROOVE_DEPTH, CORD = 2.2, 2.6, 1.5, 2.4

BACK = ((20.0, 45.0), (50.0, 45.0))
OVER = ((50.0, 45.0), (95.0, 45.0))
CROSS = ((70.0, 15.0), (70.0, 72.0))
CORNERS = ((6.0, 6.0), (114.0, 6.0), (114.0, 84.0), (6.0, 84.0))


def grow_route(points: tuple[Point, ...], bore: Point | None = None):
    """Return the function that grows a route, and a bore that passes its joint, by an extra, [mm]."""

    def grow(extra: float) -> Region:
        discs = () if bore is None else (outline_circle(bore, BORE + extra),)
        return (outline_route(points, BEND, CHANNEL + 2 * extra), *discs)

    return grow


def grow_bore(at: Point):
    """Return the function that grows a bore alone by an extra, [mm]."""
    return lambda extra: (outline_circle(at, BORE + extra),)


def make_two_faces(depth: float = DEPTH) -> Detail:
    """Return a clean panel with two covers; the floor where the channels cross is BODY less two depths.

    Parameters
    ----------
    depth : float
        Of the channels in both faces, [mm].
    """
    outline = outline_rectangle(0, 0, WIDTH, HEIGHT, 5)
    joints = {
        "back": (0.0, (grow_route(BACK), grow_route(CROSS, CROSS[1]))),
        "front": (
            BODY - GROOVE_DEPTH,
            (grow_route(OVER, OVER[1]), grow_bore(BACK[0]), grow_bore(CROSS[0])),
        ),
    }
    features = [
        _channel("channel main", BACK, 0.0, depth, "main"),
        _channel("channel main front", OVER, BODY - depth, BODY, "main"),
        _channel("channel cross", CROSS, 0.0, depth, "cross"),
        Feature(
            "through hole main 1",
            "through hole",
            "wet",
            Cylinder((*BACK[1], depth / 2), INTO["back"], BODY - depth, HOLE),
            ("channel main", "channel main front"),
            region="main",
        ),
        _port("port main inlet", "front", BACK[0], FRONT - depth / 2, "main", "channel main"),
        _port("port main outlet", "front", OVER[1], COVER + depth / 2, "main", "channel main front"),
        _port("port cross inlet", "front", CROSS[0], FRONT - depth / 2, "cross", "channel cross"),
        _port("port cross outlet", "back", CROSS[1], COVER + depth / 2, "cross", "channel cross"),
    ]
    inserts = []
    grown = [(z0, grow(LAND + GROOVE / 2)) for z0, regions in joints.values() for grow in regions]
    for k, (z0, middle) in enumerate(grown, 1):
        features.append(Feature(f"groove {k}", "groove", "dry", make_track(middle, GROOVE, z0)))
        inserts.append(Insert(f"cord {k}", make_track(middle, CORD, z0)))
    for k, at in enumerate(CORNERS, 1):
        features += [
            *_screw("cover", k, (*at, 0.0), "back"),
            *_screw("front cover", k, (*at, BODY), "front"),
        ]
    blanks = (
        Blank("body", outline, 0.0, BODY),
        Blank("cover", outline, -COVER, 0.0),
        Blank("front cover", outline, BODY, FRONT),
    )
    return Detail(blanks, tuple(features), tuple(inserts))


def _channel(name: str, points: tuple[Point, ...], z0: float, z1: float, region: str) -> Feature:
    shape = Prism((outline_route(points, BEND, CHANNEL),), z0, z1)
    return Feature(name, "channel", "wet", shape, region=region)


def _port(name: str, on: str, at: Point, length: float, region: str, into: str) -> Feature:
    mouth = (*at, FRONT if on == "front" else -COVER)
    shape = Cylinder(mouth, INTO[on], length, BORE, 0.7)
    return Feature(name, "port", "wet", shape, (into,), (on,), region)  # type: ignore[arg-type]


def _screw(cover: str, k: int, at: tuple[float, float, float], on: str) -> tuple[Feature, Feature]:
    x, y, z = at
    outside = (x, y, z - INTO[on][2] * COVER)
    through = f"{cover} clearance {k}"
    return (
        Feature(f"{cover} screw {k} M4", "screw hole", "dry", Cylinder(at, INTO[on], 8.0, 1.65), (through,)),
        Feature(
            through,
            "clearance hole",
            "dry",
            Cylinder(outside, INTO[on], COVER, 2.25),
            opens=(on,),  # type: ignore[arg-type]
        ),
    )
