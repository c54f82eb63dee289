"""A panel placed and routed by hand, closed in each of the three ways. All numbers are invented.

A tank over the pump, two blocks in parallel from a T, a radiator on the top edge, a drain at the bottom::

    +--------------------------------------+
    |  radiator        fill                |
    |  in     out    +------------+        |
    |  |       +-----|    tank    |        |
    |  +--b          +-----+------+        |
    |  a                   |               |
    |       a------T---- out  in           |
    |              b           |           |
    +------------------------drain---------+
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geom.frame import Face
from geom.outline import Point, path_points, round_corners
from geom.standards.tables import thread
from layouts.clearance import feed_width, port_axis_z, port_bore_length
from layouts.hydraulics.coolant import coolant_properties
from layouts.panel import (
    ChannelSection,
    Closing,
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
from layouts.plan import Channel, Junction, Leg, PlacedPort, PlacedPump, PlacedTank, Routed, Run

L_MIN = 1e-3 / 60
GRAVITY_M_S2 = 9.80665
CURVE = ((0.0, 3.9), (4 * L_MIN, 3.3), (8 * L_MIN, 2.3), (12 * L_MIN, 0.8))
WIDTH, HEIGHT = 200.0, 140.0
CHANNEL_WIDTH, CHANNEL_DEPTH, BEND = 8.0, 9.0, 14.0
TANK_BOX = (110.0, 85.0, 180.0, 120.0)

PORTS: tuple[tuple[str, str, str, Face, Point, str], ...] = (
    ("block a inlet", "block a", "inlet", "front", (60.0, 40.0), "pump - blocks"),
    ("block b inlet", "block b", "inlet", "front", (90.0, 20.0), "pump - blocks"),
    ("block a outlet", "block a", "outlet", "front", (30.0, 60.0), "blocks - radiator"),
    ("block b outlet", "block b", "outlet", "front", (60.0, 80.0), "blocks - radiator"),
    ("radiator inlet", "radiator", "inlet", "top", (30.0, 120.0), "blocks - radiator"),
    ("radiator outlet", "radiator", "outlet", "top", (75.0, 120.0), "radiator - tank"),
    ("drain", "drain", "drain", "bottom", (145.0, 20.0), "drain"),
)
"""Name, part, role, face, foot, channel; the fill port stands apart."""


def sample_panel(closing: Closing = "cord") -> Panel:
    """Return the panel that was placed and routed by hand."""
    ports = {name: _file_port(name, part, role, on, foot) for name, part, role, on, foot, _ in PORTS}
    plastic = "PETG" if closing == "one-piece" else "PMMA cast"
    return Panel(
        name=f"sample {closing}",
        width=WIDTH,
        height=HEIGHT,
        corner_radius=6.0,
        pitch=5.0,
        up=(0.0, 1.0, 0.0),
        make=Make(
            method="printed" if closing == "one-piece" else "milled",
            closing=closing,
            material=plastic,
            body=20.0,
            cover=0.0 if closing == "one-piece" else 8.0,
            cord=2.0 if closing == "cord" else 0.0,
            screw="M4",
            cutter=0.0 if closing == "one-piece" else 6.0,
            room=(400.0, 300.0, 80.0),
        ),
        channel=ChannelSection(CHANNEL_WIDTH, CHANNEL_DEPTH, BEND, 1),
        coolant=CoolantChoice("water", 0.0, 35.0),
        tank=Tank(
            kind="pocket",
            size=(70.0, 35.0),
            depth=13.0,
            within=None,
            at=(110.0, 85.0),
            outlet_bore=8.0,
            fill=Port("fill", "tank", "fill", "top", "G1/4", None, None, (110.0, 180.0), "tank.fill", 30),
            outlet=None,
            inlet=None,
            volume_ml=None,
            level=0.85,
            line=24,
        ),
        pump=Pump(
            on="front",
            within=None,
            at=(145.0, 40.0),
            inlet_bore=10.0,
            outlet_bore=8.0,
            outlet_offset=(20.0, 0.0),
            turns=(0, 90, 180, 270),
            seat_diameter=66.0,
            seat_depth=1.5,
            screw_size="M4",
            screw_circle=76.0,
            screw_count=4,
            curve=CURVE,
            choices=(PumpChoice("pump", CURVE, 10.0, 8.0, 66.0, None, None, None, None, 33),),
            line=33,
            used="pump",
        ),
        parts=tuple(
            Part(name, heat, ((4 * L_MIN, drop),), ports[f"{name} inlet"], ports[f"{name} outlet"], 45 + k)
            for k, (name, heat, drop) in enumerate(
                (("block a", 140.0, 20e3), ("block b", 220.0, 18e3), ("radiator", 0.0, 6e3))
            )
        ),
        loop=("tank", "pump", ("block a", "block b"), "radiator", "tank"),
        drain=ports["drain"],
        keep_clear=(KeepClear("cable slot", (0.0, 5.0, 20.0, 30.0), 60),),
        rules=Limits(least_wall=2.0, most_velocity_m_s=1.5, test_pressure_pa=0.5e5, accept={}),
        path="sample.toml",
        sha256="0" * 64,
    )


def sample_routed(closing: Closing = "cord") -> Routed:
    """Return the places and routes that belong to `sample_panel(closing)`."""
    panel = sample_panel(closing)
    axis = port_axis_z(panel, thread("G1/4"), "tank.fill")
    fill = PlacedPort(
        "fill", "tank", "fill", "G1/4", "top", (145.0, HEIGHT, axis), (145.0, 105.0), "tank", HEIGHT - 105.0
    )
    return Routed(
        ports=(*(_placed_port(panel, *row) for row in PORTS), fill),
        tank=PlacedTank(TANK_BOX, (145.0, 85.0), 6.0),
        pump=PlacedPump(
            (145.0, 40.0),
            (125.0, 40.0),
            180,
            tuple((145.0 + x, 40.0 + y) for x in (-27, 27) for y in (-27, 27)),
        ),
        channels=_channels(feed_width(panel)),
        cost=1234.0,
        bound=1200.0,
        gap=34.0 / 1234.0,
        status="within 2.8 % (proven)",
    )


def sample_back(closing: Closing = "cord") -> tuple[Panel, Routed]:
    """Return the sample with the outlet of block b on the back, through the cover."""
    panel, routed = sample_panel(closing), sample_routed(closing)
    z = 0.0 if closing == "one-piece" else -panel.make.cover
    ports = tuple(
        replace(p, on="back", at=(*p.foot, z), depth=port_bore_length(panel, "back", 0.0, CHANNEL_WIDTH))
        if p.name == "block b outlet"
        else p
        for p in routed.ports
    )
    return panel, replace(routed, ports=ports)


def with_curve(panel: Panel, shut_off_m: float, fall: float, last_l_min: float) -> Panel:
    """Return the panel with the pump curve H = shut_off - fall * Q^2, Q in L/min, in fine steps."""
    flows = [last_l_min * k / 60 for k in range(61)]
    curve = tuple((q * L_MIN, shut_off_m - fall * q * q) for q in flows)
    return replace(panel, pump=replace(panel.pump, curve=curve))


def with_parts(panel: Panel, **metres: float) -> Panel:
    """Return the panel whose parts drop this many metres of its coolant at 1 L/min, with the square of Q."""
    coolant = coolant_properties(
        panel.coolant.fluid, panel.coolant.mass_fraction, panel.coolant.temperature_c
    )
    pa = coolant.density_kg_m3 * GRAVITY_M_S2
    parts = tuple(
        replace(p, resistance=((10 * L_MIN, 100 * metres[p.name.replace(" ", "_")] * pa),))
        for p in panel.parts
    )
    return replace(panel, parts=parts)


def _file_port(name: str, part: str, role: str, on: Face, foot: Point) -> Port:
    front = on == "front"
    place = None if front else (foot[0] - 10.0, foot[0] + 10.0)
    return Port(
        name, part, role, on, "G1/4", foot if front else None, None, place, name.replace(" ", "."), 50
    )


def _placed_port(
    panel: Panel, name: str, part: str, role: str, on: Face, foot: Point, channel: str
) -> PlacedPort:
    axis = port_axis_z(panel, thread("G1/4"), name)
    inset = {"top": HEIGHT - foot[1], "bottom": foot[1]}.get(on, 0.0)
    at = {"top": (foot[0], HEIGHT, axis), "bottom": (foot[0], 0.0, axis)}.get(on, (*foot, panel.make.body))
    depth = port_bore_length(panel, on, inset, CHANNEL_WIDTH)
    return PlacedPort(name, part, role, "G1/4", on, at, foot, channel, depth)


def _channels(feed: float) -> tuple[Channel, ...]:
    def plain(name: str, start: str, end: str, points: tuple[Point, ...]) -> Channel:
        legs = (Leg(name, start, end, points),)
        return Channel(name, (start, end), (Run(points),), legs, (), CHANNEL_WIDTH, CHANNEL_DEPTH, BEND)

    def branched(
        name: str, ends: tuple[str, str, str], main: tuple[Point, ...], at: Point, branch: Point
    ) -> Channel:
        """Return a T: in from ends[0] and ends[1], out to ends[2], or the reverse; `branch` is ends[1]'s."""
        junction = f"{name} junction 1"
        split = ends[0] == "pump outlet"
        second = (at, branch) if split else (branch, at)
        legs = (
            Leg(f"{name} 1", ends[0], junction, (main[0], at)),
            Leg(f"{name} 2", *((junction, ends[1]) if split else (ends[1], junction)), second),
            Leg(f"{name} 3", junction, ends[2], (at, main[-1])),
        )
        tee = Junction(junction, at, (f"{name} 1", f"{name} 3"), f"{name} 2")
        runs = (Run(main), Run((branch, at)))
        return Channel(name, ends, runs, legs, (tee,), CHANNEL_WIDTH, CHANNEL_DEPTH, BEND)

    return (
        replace(
            plain("feed", "tank outlet", "pump inlet", ((145.0, 85.0), (145.0, 40.0))),
            width=feed,
        ),
        branched(
            "pump - blocks",
            ("pump outlet", "block b inlet", "block a inlet"),
            ((125.0, 40.0), (60.0, 40.0)),
            (90.0, 40.0),
            (90.0, 20.0),
        ),
        branched(
            "blocks - radiator",
            ("block a outlet", "block b outlet", "radiator inlet"),
            ((30.0, 60.0), (30.0, 120.0)),
            (30.0, 80.0),
            (60.0, 80.0),
        ),
        plain(
            "radiator - tank",
            "radiator outlet",
            "tank return",
            ((75.0, 120.0), (75.0, 100.0), (110.0, 100.0)),
        ),
        plain("drain", "pump inlet", "drain", ((145.0, 40.0), (145.0, 20.0))),
    )


def centreline_points(points: tuple[Point, ...], radius: float, step: float) -> np.ndarray:
    """Return points along a route's centreline, its last one among them, at most `step` apart, (n, 2) [mm]."""
    return np.vstack([path_points(round_corners(points, radius), step), points[-1]])
