"""A small plan made by hand: a tank over a pump, one part, a drain at a T. Invented numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from geom.corners import round_reentrant
from geom.features import Blank, Cylinder, Detail, Feature, Insert, Prism
from geom.findings import Finding
from geom.outline import outline_rectangle, outline_route
from geom.union import unite_loops
from layouts.advice import (
    Advised,
    ChannelSize,
    Feeding,
    GroupBalance,
    Heating,
    HeatStep,
    LoopCurve,
    Pumping,
    PumpPair,
    PumpRating,
    Restrictor,
)
from layouts.panel import (
    ChannelSection,
    CoolantChoice,
    KeepClear,
    Limits,
    Make,
    Panel,
    Part,
    Port,
    Pump,
    PumpChoice,
    Tank,
)
from layouts.plan import (
    Channel,
    ChannelFlow,
    CordLoop,
    Flowing,
    Junction,
    Leg,
    LegFlow,
    LoopStep,
    PartFlow,
    PlacedPort,
    PlacedPump,
    PlacedTank,
    Plan,
    Routed,
    Run,
    Sealed,
)

WIDTH, HEIGHT, BODY, COVER = 160.0, 120.0, 20.0, 8.0
CHANNEL_WIDTH, CHANNEL_DEPTH, BEND = 8.0, 9.0, 14.0
L_MIN = 1e-3 / 60
CURVE = ((0.0, 3.9), (12 * L_MIN, 0.8))
CORNERS = ((8.0, 8.0), (152.0, 8.0), (152.0, 112.0), (8.0, 112.0))
SCREWS = (
    *CORNERS,
    *((52.0, 17.0), (85.0, 20.0), (121.0, 24.0), (22.0, 40.0), (67.0, 48.0), (97.0, 54.0), (45.0, 55.0)),
    *((135.0, 56.0), (26.0, 77.0), (64.0, 80.0), (149.0, 83.0), (35.0, 103.0), (83.0, 105.0), (117.0, 114.0)),
)
"""Of the cover, 40 mm apart at most along the cord."""


def sample_panel() -> Panel:
    """Return the panel that the plan belongs to."""

    def port(name: str, part: str, role: str, on: Any, at: tuple[float, float]) -> Port:
        return Port(name, part, role, on, "G1/4", at, None, None, name, 1)

    return Panel(
        name="sample <small> & plain",
        width=WIDTH,
        height=HEIGHT,
        corner_radius=6.0,
        pitch=5.0,
        up=(0.0, 1.0, 0.0),
        make=Make("milled", "cord", "PMMA cast", BODY, COVER, 2.0, "M4", 6.0, None),
        channel=ChannelSection(CHANNEL_WIDTH, CHANNEL_DEPTH, BEND, 1),
        coolant=CoolantChoice("water", 0.0, 35.0),
        tank=Tank(
            "pocket",
            (50.0, 30.0),
            14.0,
            None,
            (90.0, 75.0),
            8.0,
            port("fill", "tank", "fill", "top", (105.0, 120.0)),
            None,
            None,
            None,
            0.85,
            1,
        ),
        pump=Pump(
            "front",
            None,
            (115.0, 35.0),
            8.0,
            8.0,
            (-25.0, 0.0),
            (0,),
            40.0,
            1.5,
            "M4",
            46.0,
            2,
            CURVE,
            (PumpChoice("pump", CURVE, 8.0, 8.0, 40.0, None, None, None, None, 1),),
            1,
            "pump",
        ),
        parts=(
            Part(
                "block",
                140.0,
                ((4 * L_MIN, 20e3),),
                port("block inlet", "block", "inlet", "front", (40.0, 35.0)),
                port("block outlet", "block", "outlet", "front", (25.0, 90.0)),
                1,
            ),
        ),
        loop=("tank", "pump", "block", "tank"),
        drain=port("drain", "drain", "drain", "bottom", (65.0, 0.0)),
        keep_clear=(KeepClear("slot", (4.0, 50.0, 24.0, 70.0), 1),),
        rules=Limits(2.0, 1.5, 0.5e5, {}),
        path="sample.toml",
        sha256="0" * 64,
        lines={},
    )


def sample_plan(findings: tuple[Finding, ...] = ()) -> Plan:
    """Return a whole plan with the findings given."""
    routed = _sample_routed()
    return Plan(
        sample_panel(),
        routed,
        _sample_sealed(routed),
        _sample_flowing(),
        sample_advised(),
        _sample_detail(routed),
        findings,
    )


def sample_advised() -> Advised:
    """Return advice as small as it gets: one pump, one part, no group."""
    flow = 3 * L_MIN
    pump = PumpRating("pump", True, (), flow, 2.0, 0.05, None, 0.98, None, None, None, None, None, None)
    return Advised(
        pumping=Pumping((pump,), (), '"pump" is the only pump of the file'),
        sizes=(ChannelSize("feed", CHANNEL_WIDTH, 6.0, 8.0, 10.0, 0.01),),
        groups=(),
        heating=Heating(
            (HeatStep("block", flow, 100.0, 35.0, 35.5),), 35.0, 0.5, 101.0, None, False, None, ""
        ),
        feeding=Feeding(
            20.0, 60.0, 30.0, 30.0, 40.0, 40.0, 9.8, None, 1.0, 3.0, 17.0, 20.0, ("block", "hoses")
        ),
    )


def rich_plan(findings: tuple[Finding, ...] = ()) -> Plan:
    """Return the sample with advice of every kind: three pumps, one that does not fit; a group; a radiator."""
    plan = sample_plan(findings)
    pump = plan.panel.pump
    tall, wide = ((0.0, 5.2), (3 * L_MIN, 4.0), (6 * L_MIN, 0.9)), ((0.0, 2.0), (18 * L_MIN, 0.6))
    own = replace(pump.choices[0], speed=(1800.0, 4800.0), noise_db=37.0, power_w=16.0)
    choices = (
        own,
        replace(own, name="tall pump", curve=tall, line=2),
        replace(own, name="wide pump with a name as long as makers give", curve=wide, line=3),
    )
    panel = replace(
        plan.panel,
        pump=replace(pump, choices=choices, most_noise_db=33.0),
        wanted_flow_m3_s=3 * L_MIN,
    )
    return replace(
        plan,
        panel=panel,
        advised=rich_advised(),
        flowing=replace(plan.flowing, steps=nested_steps()),
    )


def rich_advised() -> Advised:
    """Return advice with something of every kind."""
    flow = 4.2 * L_MIN
    own = PumpRating("pump", True, (), flow, 2.8, 0.06, 1.1, 1.9, 16.0, 9.1, 3425.0, 5.8, 3900.0, 3.4 * L_MIN)
    tall = replace(own, name="tall pump", used=False, flow_m3_s=4.4 * L_MIN, head_m=3.1, head_margin_m=2.3)
    wide = replace(
        own,
        name="wide pump with a name as long as makers give",
        used=False,
        flow_m3_s=3.4 * L_MIN,
        head_m=1.73,
        head_margin_m=0.3,
        obstacles=("its seat of 66 mm leaves the room of 52 mm that the file gives the pump",),
        electric_w=None,
        speed_for_flow_rpm=None,
        power_at_flow_w=None,
        speed_for_noise_rpm=None,
        flow_for_noise_m3_s=None,
    )
    pairs = (
        PumpPair("pump", "series", 5.6 * L_MIN, 4.9, 4.5),
        PumpPair("pump", "parallel", 4.9 * L_MIN, 3.4, 2.7),
    )
    reason = '"tall pump" reaches 4.4 L/min, 0.2 L/min more than "pump": the loop asks for head'
    group = GroupBalance(
        (("plate 1",), ("plate 2", "plate 3")),
        (2.4 * L_MIN, 1.8 * L_MIN),
        0.286,
        (Restrictor("plate 1", 3.4, 4.1),),
        (2.0 * L_MIN, 1.96 * L_MIN),
        0.02,
        3.96 * L_MIN,
        0.098,
    )
    heat = Heating(
        (
            HeatStep("block", flow, 140.0, 34.2, 34.68),
            HeatStep("radiator", flow, -140.0, 34.68, 34.2),
        ),
        34.2,
        0.48,
        141.9,
        12.2,
        True,
        0.21,
        "A tank twice as large changes nothing: 34.2 °C either way; it warms up in 4 min and not in 2 min.",
    )
    feed = Feeding(20.0, 60.0, 30.0, 31.0, 40.0, 42.0, 9.81, 0.8, 1.2, 3.1, 17.2, 65.0, ("block", "hoses"))
    return Advised(
        Pumping((tall, own, wide), pairs, reason),
        (
            ChannelSize("feed", CHANNEL_WIDTH, 6.0, 8.0, 10.0, 0.012),
            ChannelSize("pump - block", CHANNEL_WIDTH, None, None, 11.5, 0.0),
        ),
        (group,),
        heat,
        feed,
    )


def sample_curve() -> LoopCurve:
    """Return a loop that asks for head with the square of the flow, through the sample's meeting."""
    flows = tuple(0.25 * k * L_MIN for k in range(25))
    heads = tuple(2.8 * (flow / (4.2 * L_MIN)) ** 2 for flow in flows)
    return LoopCurve(flows, heads, tuple(0.9 * head for head in heads), tuple(1.12 * head for head in heads))


def nested_steps() -> tuple[LoopStep, ...]:
    """Return a loop with a group inside a group: channels of the sample stand for all channels."""

    def step(name: str, start: str, end: str, kpa: tuple[float, float], flow: float, kind: Any) -> LoopStep:
        return LoopStep(
            name, kind, start, end, kpa[0] * 1e3, kpa[1] * 1e3, flow * L_MIN, 0.0 if kind == "pump" else 0.12
        )

    return (
        step("feed", "tank", "pump inlet", (0.0, -0.6), 4.2, "channel"),
        step("pump", "pump inlet", "pump outlet", (-0.6, 26.8), 4.2, "pump"),
        step("pump - block", "pump outlet", "block inlet", (26.8, 24.0), 4.2, "channel"),
        step("block", "block inlet", "a", (24.0, 14.0), 4.2, "part"),
        step("plate 1 with a long name of the kind that makers like", "a", "d", (14.0, 5.0), 2.0, "part"),
        step("plate 2", "a", "b", (14.0, 11.0), 2.2, "part"),
        step("inner left", "b", "c", (11.0, 6.5), 1.0, "part"),
        step("inner right", "b", "c", (11.0, 6.5), 1.2, "part"),
        step("plate 3", "c", "d", (6.5, 5.0), 2.2, "part"),
        step("block - tank", "d", "radiator inlet", (5.0, 3.2), 4.2, "channel"),
        step("radiator", "radiator inlet", "radiator outlet", (3.2, 0.9), 4.2, "part"),
        step("block - tank", "radiator outlet", "tank", (0.9, 0.0), 4.2, "channel"),
    )


def fault(code: str = "port.room") -> Finding:
    """Return a fault with a place."""
    return Finding(
        code,
        "fault",
        'ports "block inlet" and "block outlet" stand 20 mm apart; a spanner needs 25 mm',
        "Move one of them.",
        "common practice, no source",
        20.0,
        25.0,
        "mm",
        (40.0, 62.0, 20.0),
        ("port block inlet G1/4", "port block outlet G1/4"),
    )


def accept(finding: Finding, reason: str) -> Finding:
    """Return the finding as accepted by the panel file."""
    return replace(finding, severity="note", accepted=reason)


def _sample_routed() -> Routed:
    def channel(name: str, ends: tuple[str, ...], points: tuple[tuple[float, float], ...]) -> Channel:
        leg = Leg(name, ends[0], ends[1], points)
        return Channel(name, ends, (Run(points),), (leg,), (), CHANNEL_WIDTH, CHANNEL_DEPTH, BEND)

    supply = ((90.0, 35.0), (65.0, 35.0), (40.0, 35.0))
    drain = ((65.0, 35.0), (65.0, 15.0))
    junction = "pump - block junction 1"
    branched = Channel(
        "pump - block",
        ("pump outlet", "block inlet", "drain"),
        (Run((supply[0], supply[2])), Run(drain)),
        (
            Leg("pump - block 1", "pump outlet", junction, supply[:2]),
            Leg("pump - block 2", junction, "block inlet", supply[1:]),
            Leg("pump - block 3", junction, "drain", drain),
        ),
        (Junction(junction, supply[1], ("pump - block 1", "pump - block 2"), "pump - block 3"),),
        CHANNEL_WIDTH,
        CHANNEL_DEPTH,
        BEND,
    )
    return Routed(
        ports=(
            PlacedPort(
                "block inlet",
                "block",
                "inlet",
                "G1/4",
                "front",
                (40.0, 35.0, BODY),
                (40.0, 35.0),
                "pump - block",
                15.5,
            ),
            PlacedPort(
                "block outlet",
                "block",
                "outlet",
                "G1/4",
                "front",
                (25.0, 90.0, BODY),
                (25.0, 90.0),
                "block - tank",
                15.5,
            ),
            PlacedPort(
                "fill", "tank", "fill", "G1/4", "top", (105.0, HEIGHT, 11.0), (105.0, 100.0), "tank", 20.0
            ),
            PlacedPort(
                "drain",
                "drain",
                "drain",
                "G1/4",
                "bottom",
                (65.0, 0.0, 11.0),
                (65.0, 15.0),
                "pump - block",
                21.0,
            ),
        ),
        tank=PlacedTank((90.0, 75.0, 140.0, 105.0), (115.0, 75.0), 6.0),
        pump=PlacedPump((115.0, 35.0), (90.0, 35.0), 0, ((131.0, 51.0), (99.0, 19.0))),
        channels=(
            channel("feed", ("tank outlet", "pump inlet"), ((115.0, 78.0), (115.0, 35.0))),
            branched,
            channel(
                "block - tank",
                ("block outlet", "tank return"),
                ((25.0, 90.0), (50.0, 90.0), (50.0, 60.0), (80.0, 60.0), (80.0, 90.0), (95.0, 90.0)),
            ),
        ),
        cost=120.0,
        bound=118.0,
        gap=2.0 / 120.0,
        status="within 1.7 % (proven)",
    )


def _sample_sealed(routed: Routed) -> Sealed:
    by = 3.3
    grown = [
        outline_route(run.points, c.bend_radius if len(run.points) > 2 else BEND, c.width + 2 * by)
        for c in routed.channels
        for run in c.runs
    ]
    box = routed.tank.box
    assert box is not None
    grown.append(outline_rectangle(box[0] - by, box[1] - by, box[2] + by, box[3] + by, 6.0 + by))
    loops = tuple(
        CordLoop(f"groove {k}", "loop", round_reentrant(middle, (7.3,))[0], 2.6, 2.1)
        for k, middle in enumerate(unite_loops(tuple(grown)), 1)
    )
    return Sealed(loops, SCREWS)


def _sample_detail(routed: Routed) -> Detail:
    features: list[Feature] = []
    for c in routed.channels:
        region = tuple(outline_route(run.points, c.bend_radius, c.width) for run in c.runs)
        features.append(
            Feature(f"channel {c.name}", "channel", "wet", Prism(region, 0.0, CHANNEL_DEPTH), ("tank",))
        )
    box = routed.tank.box
    assert box is not None
    features.append(Feature("tank", "tank", "wet", Prism((outline_rectangle(*box, 6.0),), 0.0, 14.0)))
    into = {"front": (0.0, 0.0, -1.0), "top": (0.0, -1.0, 0.0), "bottom": (0.0, 1.0, 0.0)}
    for p in routed.ports:
        where = "tank" if p.channel == "tank" else f"channel {p.channel}"
        bore = Cylinder(p.at, into[p.on], p.depth, 5.9, 0.7)
        features.append(Feature(f"port {p.name} {p.thread}", "port", "wet", bore, (where,), (p.on,)))
    for end, at in (("inlet", routed.pump.inlet), ("outlet", routed.pump.outlet)):
        bore = Cylinder((*at, BODY), (0.0, 0.0, -1.0), 15.5, 4.0)
        where = "channel feed" if end == "inlet" else "channel pump - block"
        features.append(Feature(f"pump {end} bore", "pump bore", "wet", bore, (where,), ("front",)))
    for k, (x, y) in enumerate(_sample_sealed(routed).screws, 1):
        features.append(
            Feature(f"cover screw {k} M4", "screw hole", "dry", Cylinder((x, y, 0.0), (0, 0, 1), 8.0, 1.65))
        )
        features.append(
            Feature(
                f"cover clearance {k}",
                "clearance hole",
                "dry",
                Cylinder((x, y, -COVER), (0, 0, 1), COVER, 2.25),
                (f"cover screw {k} M4",),
                ("back",),
            )
        )
    # Not a true cord: a block that stands clear of everything, to have an insert.
    block = Prism((outline_rectangle(14.0, 14.0, 26.0, 26.0, 0.0),), 1.0, 3.0)
    outline = outline_rectangle(0.0, 0.0, WIDTH, HEIGHT, 6.0)
    blanks = (Blank("body", outline, 0.0, BODY), Blank("cover", outline, -COVER, 0.0))
    return Detail(blanks, tuple(features), (Insert("cord 1", block),))


def _sample_flowing() -> Flowing:
    def leg(name: str, flow_l_min: float, drop_pa: float) -> LegFlow:
        flow = flow_l_min * L_MIN
        velocity = flow / (CHANNEL_WIDTH * CHANNEL_DEPTH * 1e-6)
        reynolds = velocity * 8.47e-3 / 0.72e-6
        shares = (0.5 * drop_pa, 0.2 * drop_pa, 0.3 * drop_pa)
        return LegFlow(name, flow, velocity, reynolds, drop_pa, *shares, 0.12)

    def channel(name: str, length: float, bends: int, *legs: LegFlow) -> ChannelFlow:
        top = max(legs, key=lambda one: one.flow_m3_s)
        drop = sum(one.drop_pa for one in legs)
        return ChannelFlow(
            name, top.flow_m3_s, top.velocity_m_s, top.reynolds, drop, length, bends, legs, 0.12
        )

    return Flowing(
        channels=(
            channel("feed", 43.0, 0, leg("feed", 4.2, 410.0)),
            channel(
                "pump - block",
                70.0,
                0,
                leg("pump - block 1", 4.2, 900.0),
                leg("pump - block 2", 4.2, 900.0),
                leg("pump - block 3", 0.0, 0.0),
            ),
            channel("block - tank", 110.0, 4, leg("block - tank", 4.2, 3100.0)),
        ),
        parts=(PartFlow("block", 4.2 * L_MIN, 22050.0, 0.48, 0.1),),
        flow_m3_s=4.2 * L_MIN,
        head_m=2.8,
        loop_drop_pa=27360.0,
        band=0.06,
        head_band=0.06,
        density_kg_m3=994.0,
        viscosity_pa_s=0.72e-3,
        steps=(
            LoopStep("feed", "channel", "tank", "pump inlet", 0.0, -410.0, 4.2 * L_MIN, 0.12),
            LoopStep("pump", "pump", "pump inlet", "pump outlet", -410.0, 26950.0, 4.2 * L_MIN, 0.0),
            LoopStep(
                "pump - block", "channel", "pump outlet", "block inlet", 26950.0, 25150.0, 4.2 * L_MIN, 0.12
            ),
            LoopStep("block", "part", "block inlet", "block outlet", 25150.0, 3100.0, 4.2 * L_MIN, 0.1),
            LoopStep("block - tank", "channel", "block outlet", "tank", 3100.0, 0.0, 4.2 * L_MIN, 0.12),
        ),
    )
