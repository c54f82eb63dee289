"""The hand-made plan with its return laid in both faces: it crosses over the supply and passes through a hole."""

from __future__ import annotations

from dataclasses import replace

from sample_plan import (
    BEND,
    BODY,
    CHANNEL_DEPTH,
    CHANNEL_WIDTH,
    CORNERS,
    COVER,
    HEIGHT,
    SCREWS,
    WIDTH,
    sample_plan,
)

from geom.corners import round_reentrant
from geom.features import Blank, Cylinder, Detail, Feature, Prism
from geom.findings import Finding
from geom.frame import INTO
from geom.outline import Loop, Region, outline_circle, outline_rectangle, outline_route
from geom.union import unite_loops
from layouts.plan import Channel, ChannelFlow, CordLoop, Layer, Leg, PlacedPort, Plan, Routed, Run, Sealed

FRONT = BODY + COVER
OUTLET, HOLE, TURN, RETURN = (52.0, 15.0), (52.0, 62.0), (52.0, 90.0), (95.0, 90.0)
HOLE_RADIUS = 3.5
BORE = 5.9
FRONT_SCREWS = (
    *CORNERS[:2],
    (80.0, 112.0),
    *((35.0, 12.0), (76.0, 12.0), (37.0, 49.0), (70.0, 36.0), (36.0, 70.0), (67.0, 62.0), (52.0, 78.0)),
)
LAYERS: tuple[Layer, ...] = ("back", "front")


def two_face_plan(findings: tuple[Finding, ...] = ()) -> Plan:
    """Return the whole plan with the findings given."""
    plan = sample_plan(findings)
    panel = replace(plan.panel, channel=replace(plan.panel.channel, layers=2))
    routed = _routed(plan.routed)
    flowing = replace(
        plan.flowing,
        channels=tuple(
            replace(c, length=118.0, bends=1) if c.channel == "block - tank" else c
            for c in plan.flowing.channels
        ),
    )
    sealed = _sealed(routed)
    return replace(
        plan, panel=panel, routed=routed, sealed=sealed, flowing=flowing, detail=_detail(plan, routed, sealed)
    )


def still_return(plan: Plan) -> Plan:
    """Return the plan with its return standing still."""

    def stop(flow: ChannelFlow) -> ChannelFlow:
        legs = tuple(replace(leg, flow_m3_s=0.0) for leg in flow.legs)
        return replace(flow, flow_m3_s=0.0, legs=legs) if flow.channel == "block - tank" else flow

    return replace(
        plan, flowing=replace(plan.flowing, channels=tuple(stop(c) for c in plan.flowing.channels))
    )


def _routed(routed: Routed) -> Routed:
    way = (OUTLET, HOLE, TURN, RETURN)
    back = Channel(
        "block - tank",
        ("block outlet", "tank return"),
        (Run((OUTLET, HOLE), "front"), Run((HOLE, TURN, RETURN))),
        (Leg("block - tank", "block outlet", "tank return", way, "front", (1,)),),
        (),
        CHANNEL_WIDTH,
        CHANNEL_DEPTH,
        BEND,
        (HOLE,),
    )

    def place(port: PlacedPort) -> PlacedPort:
        if port.on != "front":
            return port
        if port.name == "block outlet":
            mouth = (*OUTLET, FRONT)
            return replace(port, at=mouth, foot=OUTLET, depth=COVER + CHANNEL_DEPTH / 2, layer="front")
        return replace(port, at=(*port.foot, FRONT), depth=FRONT - CHANNEL_DEPTH / 2)

    return replace(
        routed,
        ports=tuple(place(port) for port in routed.ports),
        channels=(*routed.channels[:2], back),
    )


def _sealed(routed: Routed) -> Sealed:
    def grown(layer: Layer, by: float) -> Region:
        runs = [
            outline_route(run.points, BEND, c.width + 2 * by)
            for c in routed.channels
            for run in c.runs
            if run.layer == layer
        ]
        if layer == "back":
            x0, y0, x1, y1 = routed.tank.box or (0.0, 0.0, 0.0, 0.0)
            return (*runs, outline_rectangle(x0 - by, y0 - by, x1 + by, y1 + by, 6.0 + by))
        return (*runs, outline_circle(OUTLET, BORE + by))

    middles: list[tuple[Layer, Loop]] = [
        (layer, middle) for layer in LAYERS for middle in unite_loops(grown(layer, 3.3))
    ]
    loops = tuple(
        CordLoop(f"groove {k}", "loop", round_reentrant(middle, (7.3,))[0], 2.6, 2.1, layer)
        for k, (layer, middle) in enumerate(middles, 1)
    )

    return Sealed(loops, SCREWS, FRONT_SCREWS)


def _detail(plan: Plan, routed: Routed, sealed: Sealed) -> Detail:
    moved = {"block - tank", "block inlet", "block outlet", "pump inlet", "pump outlet"}
    kept = tuple(f for f in plan.detail.features if not any(name in f.name for name in moved))
    features = [*kept]
    (front, back) = routed.channel("block - tank").runs
    for name, run, z0, joins in (
        ("channel block - tank", back, 0.0, ("tank",)),
        ("channel block - tank front", front, BODY - CHANNEL_DEPTH, ()),
    ):
        region = (outline_route(run.points, BEND, CHANNEL_WIDTH),)
        features.append(Feature(name, "channel", "wet", Prism(region, z0, z0 + CHANNEL_DEPTH), joins))
    features.append(
        Feature(
            "through hole block - tank 1",
            "through hole",
            "wet",
            Cylinder((*HOLE, CHANNEL_DEPTH / 2), INTO["back"], BODY - CHANNEL_DEPTH, HOLE_RADIUS),
            ("channel block - tank", "channel block - tank front"),
        )
    )
    for port in routed.ports:
        if port.on == "front":
            into = f"channel {port.channel}{' front' if port.layer == 'front' else ''}"
            shape = Cylinder(port.at, INTO["front"], port.depth, BORE, 0.7)
            features.append(
                Feature(f"port {port.name} {port.thread}", "port", "wet", shape, (into,), ("front",))
            )
    for end, at, into in (
        ("inlet", routed.pump.inlet, "channel feed"),
        ("outlet", routed.pump.outlet, "channel pump - block"),
    ):
        shape = Cylinder((*at, FRONT), INTO["front"], FRONT - CHANNEL_DEPTH / 2, 4.0)
        features.append(Feature(f"pump {end} bore", "pump bore", "wet", shape, (into,), ("front",)))
    for k, (x, y) in enumerate(sealed.front_screws, 1):
        name, through = f"front cover screw {k} M4", f"front cover clearance {k}"
        features.append(
            Feature(name, "screw hole", "dry", Cylinder((x, y, BODY), INTO["front"], 8.0, 1.65), (through,))
        )
        passage = Cylinder((x, y, FRONT), INTO["front"], COVER, 2.25)
        features.append(Feature(through, "clearance hole", "dry", passage, opens=("front",)))
    outline = outline_rectangle(0.0, 0.0, WIDTH, HEIGHT, 6.0)
    blanks = (*plan.detail.blanks, Blank("front cover", outline, BODY, FRONT))
    return Detail(blanks, tuple(features), plan.detail.inserts)
