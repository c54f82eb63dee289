"""A small panel of every kind of feature, as the layout stage would hand it on."""

from __future__ import annotations

from geom.corners import round_reentrant
from geom.features import Blank, Cylinder, Detail, Feature, Insert, Prism, Track
from geom.frame import INTO
from geom.outline import Loop, Region, outline_circle, outline_rectangle, outline_route
from geom.union import unite_loops

WIDTH, HEIGHT, BODY, COVER = 160.0, 110.0, 18.0, 6.0
CHANNEL, DEPTH, BEND = 8.0, 8.0, 14.0
LAND, GROOVE, GROOVE_DEPTH, CORD = 2.2, 2.6, 1.5, 2.4
FILLET = 2.0

FEED = ((120.0, 80.0), (120.0, 25.0))
MAIN = ((25.0, 20.0), (60.0, 20.0), (60.0, 70.0), (12.0, 70.0))
BRANCH = ((60.0, 45.0), (24.0, 45.0))


def grow_feed(extra: float) -> Region:
    """Return the tank, its drop and the pump's foot, grown by `extra`, [mm]."""
    return (
        outline_rectangle(95 - extra, 70 - extra, 145 + extra, 95 + extra, 6 + extra),
        outline_route(FEED, BEND, CHANNEL + 2 * extra),
    )


def grow_main(extra: float) -> Region:
    """Return the branched channel grown by `extra`, [mm]."""
    return (
        outline_route(MAIN, BEND, CHANNEL + 2 * extra),
        outline_route(BRANCH, BEND, CHANNEL + 2 * extra),
    )


def draw_middle(region: Region) -> Loop:
    """Return the outer boundary of a region, its corners rounded for a groove with walls of 2 mm there."""
    return round_reentrant(unite_loops(region)[0], (FILLET + GROOVE / 2,))[0]


def make_track(region: Region, width: float = GROOVE, z0: float = 0.0) -> Track:
    """Return a groove or a cord whose middle is the outer boundary of a region, [mm]."""
    return Track(draw_middle(region), True, width, z0, z0 + GROOVE_DEPTH)


def ring_track(x: float, y: float, inner: float, outer: float, z0: float, z1: float) -> Track:
    """Return a round groove between two radii, [mm]."""
    return Track(outline_circle((x, y), (inner + outer) / 2), True, outer - inner, z0, z1)


def bore(
    name: str,
    on: str,
    mouth: tuple[float, float, float],
    length: float,
    joins: tuple[str, ...],
    radius: float = 5.9,
    chamfer: float = 0.7,
) -> Feature:
    """Return a port's tapping bore with its lead chamfer."""
    shape = Cylinder(mouth, INTO[on], length, radius, chamfer)
    return Feature(name, "port", "wet", shape, joins, (on,), "main")  # type: ignore[arg-type]


def make_panel() -> Detail:
    """Return a clean panel: tank, drop, a channel with a T, three ports, two grooves, screws, cords."""
    outline = outline_rectangle(0, 0, WIDTH, HEIGHT, 5)
    tank = Feature("tank", "tank", "wet", Prism(grow_feed(0)[:1], 0, 12), ("channel feed",), region="feed")
    feed = Feature("channel feed", "channel", "wet", Prism(grow_feed(0)[1:], 0, DEPTH), region="feed")
    main = Feature("channel main", "channel", "wet", Prism(grow_main(0), 0, DEPTH), region="main")
    features = [
        tank,
        feed,
        main,
        Feature(
            "port pump inlet",
            "pump bore",
            "wet",
            Cylinder((120, 25, BODY), INTO["front"], BODY - DEPTH, 4),
            ("channel feed",),
            ("front",),
            "feed",
        ),
        bore("port inlet", "front", (25, 20, BODY), BODY - DEPTH, ("channel main",), 4.5),
        bore("port outlet", "front", (24, 45, BODY), BODY - DEPTH, ("channel main",), 4.5),
        bore("port side", "left", (0, 70, 10), 12, ("channel main",), 4.0),
        Feature("groove 1", "groove", "dry", make_track(grow_feed(LAND + GROOVE / 2))),
        Feature("groove 2", "groove", "dry", make_track(grow_main(LAND + GROOVE / 2))),
    ]
    for k, (x, y) in enumerate(((6, 6), (154, 6), (154, 104), (6, 104), (80, 8), (80, 102), (40, 32.5)), 1):
        features += [
            Feature(
                f"screw {k}",
                "screw hole",
                "dry",
                Cylinder((x, y, 0), (0, 0, 1), 10, 1.65),
                (f"clearance {k}",),
            ),
            Feature(
                f"clearance {k}",
                "clearance hole",
                "dry",
                Cylinder((x, y, -COVER), (0, 0, 1), COVER, 2.2),
                opens=("back",),
            ),
        ]
    cords = tuple(
        Insert(f"cord {k}", make_track(grow(LAND + GROOVE / 2), CORD))
        for k, grow in enumerate((grow_feed, grow_main), 1)
    )
    return Detail(
        (Blank("body", outline, 0, BODY), Blank("cover", outline, -COVER, 0)), tuple(features), cords
    )


def make_plate(*features: Feature, size: tuple[float, float, float] = (100.0, 60.0, 20.0)) -> Detail:
    """Return one square-cornered blank called "panel" with its corner at the origin, and its features."""
    x, y, z = size
    return Detail((Blank("panel", outline_rectangle(0, 0, x, y, 0), 0, z),), features, ())


def channel(
    name: str,
    points: tuple[tuple[float, float], ...],
    z0: float,
    z1: float,
    width: float = 8.0,
    bend: float = 14.0,
    joins: tuple[str, ...] = (),
) -> Feature:
    """Return one channel as a wet feature."""
    return Feature(
        name, "channel", "wet", Prism((outline_route(points, bend, width),), z0, z1), joins, (), name
    )


def disc(x: float, y: float, radius: float) -> Region:
    """Return a region of one circle, [mm]."""
    return (outline_circle((x, y), radius),)
