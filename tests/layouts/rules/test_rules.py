"""Each rule red and green once, the formulas behind them against their sources, the catalogue against the code."""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from geom.features import Detail
from geom.findings import Finding, accept_findings, has_fault
from geom.outline import outline_circle
from geom.standards import tables
from layouts.advice import Advised, GroupBalance, Heating, HeatStep, Restrictor
from layouts.advise import advise_plan
from layouts.clearance import clearances_of, feed_width
from layouts.closing.close import close_panel
from layouts.closing.gland import MOST_FILL, greatest_fill
from layouts.detail import detail_panel
from layouts.feed import examine_feed, outlet_bore
from layouts.flow import size_flow
from layouts.milling.plan_milling import plan_milling
from layouts.panel import Panel
from layouts.plan import Flowing, Junction, Routed, Sealed
from layouts.printing.plan_print import plan_print
from layouts.rules import (
    feed_rules,
    fill_rules,
    floor_rules,
    flow_rules,
    heat_rules,
    material_rules,
    port_rules,
    screw_rules,
    seal_rules,
    stock_rules,
)
from layouts.rules.catalogue import RULES
from layouts.rules.cautions import CAUTIONS
from layouts.rules.check_plan import check_plan
from layouts.rules.findings import find_rule, make_finding
from layouts.rules.port_walls import check_port_walls
from layouts.rules.roof_rules import check_bridges, note_roofs
from tests.layouts.sample_routed import L_MIN, sample_panel, sample_routed
from tests.layouts.sample_screws import keep_screws

INCH = 0.0254
US_GPM = 3.785411784e-3 / 60


def finish(panel: Panel, routed: Routed) -> tuple[Sealed, Flowing, Advised, Detail]:
    gaps = clearances_of(panel)
    sealed = close_panel(panel, routed, gaps)
    flowing = size_flow(panel, routed)
    advised = advise_plan(panel, routed, flowing)
    return sealed, flowing, advised, detail_panel(panel, routed, sealed, gaps)


PANEL, ROUTED = sample_panel(), sample_routed()
SEALED, FLOWING, ADVISED, DETAIL = finish(PANEL, ROUTED)
FEEDING = ADVISED.feeding
BORE = outlet_bore(ROUTED) or 0.0
CLOSED = sample_panel("one-piece")
WIDE = replace(ROUTED, channels=tuple(replace(c, width=12.0) for c in ROUTED.channels))


def set_group(first: float, second: float) -> GroupBalance:
    """Return a group of two blocks with these flows, [L/min]."""
    flows = (first * L_MIN, second * L_MIN)
    restrictors = (Restrictor("block b", 4.1, None),)
    return GroupBalance((("block a",), ("block b",)), flows, 0.0, restrictors, flows, 0.0, 4 * L_MIN)


def change(panel: Panel, **sections: dict[str, object]) -> Panel:
    """Return the panel with some fields of its sections changed."""
    return replace(panel, **{name: replace(getattr(panel, name), **new) for name, new in sections.items()})


def check_roofs(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    return check_bridges(panel, routed, plan_print(panel, routed))


def move_port(name: str, **new: object) -> Routed:
    ports = tuple(replace(port, **new) if port.name == name else port for port in ROUTED.ports)
    return replace(ROUTED, ports=ports)


def ring_sealed(*inner: float) -> Sealed:
    """Return round grooves whose inner walls have these radii, side by side 20 mm apart."""
    rings = [outline_circle((60.0 + 20.0 * k, 60.0), radius + 1.4) for k, radius in enumerate(inner)]
    return Sealed(
        tuple(replace(SEALED.loops[k], path=ring) for k, ring in enumerate(rings)), ((150.0, 125.0),)
    )


def cross_grooves(sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether grooves cross, with nothing else in the panel."""
    detail = detail_panel(PANEL, ROUTED, sealed, clearances_of(PANEL))
    grooves = tuple(feature for feature in detail.features if feature.kind == "groove")
    return seal_rules.check_groove_crossings(PANEL, sealed, replace(detail, features=grooves))


MILLED = plan_milling(PANEL, DETAIL)


def check_travel(panel: Panel) -> tuple[Finding, ...]:
    return stock_rules.check_travel(panel, plan_milling(panel, DETAIL))


def change_channel(name: str, **new: object) -> Routed:
    channels = tuple(replace(c, **new) if c.name == name else c for c in ROUTED.channels)
    return replace(ROUTED, channels=channels)


def move_feed(points: tuple[tuple[float, float], ...]) -> Routed:
    leg = replace(ROUTED.channels[0].legs[0], points=points)
    return replace(change_channel("feed", legs=(leg,)), tank=replace(ROUTED.tank, outlet=points[0]))


def set_speed(channel: str, velocity: float) -> Flowing:
    channels = tuple(
        replace(
            c,
            velocity_m_s=velocity,
            legs=tuple(replace(leg, velocity_m_s=velocity) for leg in c.legs),
        )
        if c.channel == channel
        else c
        for c in FLOWING.channels
    )
    return replace(FLOWING, channels=channels)


def set_pump_screw_depth(length: float) -> Detail:
    features = tuple(
        replace(f, shape=replace(f.shape, length=length)) if f.name == "pump screw 1 M4" else f
        for f in DETAIL.features
    )
    return replace(DETAIL, features=features)


def set_level(level: float) -> Panel:
    return change(PANEL, tank={"level": level})


def check_depth(panel: Panel, **new: object) -> tuple[Finding, ...]:
    feeding = replace(FEEDING, **{"needs_mm": 60.0, **new})
    return feed_rules.check_feed_depth(panel, ROUTED, FLOWING, feeding)


def check_tilts(**new: float) -> tuple[Finding, ...]:
    level = dict.fromkeys(("tilt_left_deg", "tilt_right_deg", "tilt_front_deg", "tilt_back_deg"), 90.0)
    return feed_rules.check_feed_tilt(PANEL, ROUTED, replace(FEEDING, **{**level, **new}))


def check_head(available: float, least: float | None) -> tuple[Finding, ...]:
    feeding = replace(FEEDING, available_head_m=available, least_head_m=least)
    return feed_rules.check_inlet_head(PANEL, ROUTED, feeding)


def check_growth(**new: float | None) -> tuple[Finding, ...]:
    return fill_rules.check_growth(PANEL, ROUTED, replace(FEEDING, **new))


def set_heat(inlet: float, outlet: float, tank: float = 35.0, order_effect: float | None = 0.0) -> Heating:
    """Return the heat of a loop with one part, 3 L/min through it."""
    step = HeatStep("radiator", 3 * L_MIN, 100.0, inlet, outlet)
    return Heating((step,), tank, outlet - inlet, 100.0, None, False, order_effect, "")


def set_capacity(*flows: float) -> Panel:
    """Return the sample with a radiator whose capacity is known at these flows, [L/min]."""
    points = tuple((flow * L_MIN, 20.0) for flow in flows)
    parts = tuple(replace(p, capacity=points) if p.name == "radiator" else p for p in PANEL.parts)
    return replace(PANEL, parts=parts)


def set_curve(flows: tuple[float, ...], drops: tuple[float, ...]) -> Panel:
    """Return the sample with a radiator that has these drops [kPa] at these flows [L/min]."""
    points = tuple((flow * L_MIN, 1e3 * drop) for flow, drop in zip(flows, drops, strict=True))
    parts = tuple(replace(p, resistance=points) if p.name == "radiator" else p for p in PANEL.parts)
    return replace(PANEL, parts=parts, lines={**PANEL.lines, f"part.{len(parts)}.resistance": 41})


def set_circle(circle: float, count: int = 4) -> tuple[Panel, Detail]:
    """Return the sample with its pump's screws on another circle."""
    x, y = ROUTED.pump.inlet
    turns = [math.pi * (2 * k / count + 0.25) for k in range(count)]
    screws = tuple((x + circle / 2 * math.cos(t), y + circle / 2 * math.sin(t)) for t in turns)
    panel = change(PANEL, pump={"screw_circle": circle, "screw_count": count})
    routed = replace(ROUTED, pump=replace(ROUTED.pump, screws=screws))
    return panel, detail_panel(panel, routed, SEALED, clearances_of(panel))


Check = Callable[[], tuple[Finding, ...]]

RED: list[tuple[str, str, Check]] = [
    (
        "feed.column",
        "fault",
        lambda: feed_rules.check_feed_column(PANEL, move_feed(((150.0, 85.0), (150.0, 40.0)))),
    ),
    (
        "feed.column",
        "caution",
        lambda: feed_rules.check_feed_column(
            replace(PANEL, up=(math.sin(0.05), math.cos(0.05), 0.0)), ROUTED
        ),
    ),
    ("feed.low", "fault", lambda: feed_rules.check_feed_low(replace(PANEL, up=(0.0, -1.0, 0.0)), ROUTED)),
    ("feed.depth", "note", lambda: check_depth(PANEL, cover_mm=1.51 * BORE)),
    ("feed.depth", "caution", lambda: check_depth(PANEL, cover_mm=1.49 * BORE)),
    ("feed.depth", "fault", lambda: check_depth(PANEL, cover_mm=0.49 * BORE)),
    ("feed.tilt", "caution", lambda: check_tilts(tilt_left_deg=9.9)),
    ("feed.tilt", "caution", lambda: check_tilts(tilt_right_deg=9.9)),
    ("feed.tilt", "caution", lambda: check_tilts(tilt_front_deg=9.9)),
    ("feed.tilt", "caution", lambda: check_tilts(tilt_back_deg=0.0)),
    ("feed.head", "fault", lambda: check_head(9.0, 9.1)),
    ("feed.head", "caution", lambda: check_head(9.0, 8.6)),
    ("tank.room", "caution", lambda: check_growth(growth_ml=1.0, room_ml=0.0)),
    ("tank.room", "caution", lambda: check_growth(growth_ml=1.0, room_ml=0.99)),
    (
        "make.material",
        "caution",
        lambda: material_rules.check_printable(change(PANEL, make={"method": "printed"})),
    ),
    ("pump.screws", "fault", lambda: port_rules.check_pump_screws(*set_circle(10.0))),
    ("pump.screws", "fault", lambda: port_rules.check_pump_screws(*set_circle(69.2))),
    ("pump.screws", "fault", lambda: port_rules.check_pump_screws(*set_circle(62.8))),
    (
        "feed.bore",
        "caution",
        lambda: feed_rules.check_feed_bore(change(PANEL, tank={"outlet_bore": 8.9}), ROUTED),
    ),
    (
        "flow.fast",
        "caution",
        lambda: flow_rules.check_velocity(
            change(PANEL, pump={"outlet_bore": 10.0}), ROUTED, set_speed("feed", 1.6)
        ),
    ),
    (
        "flow.fast",
        "fault",
        lambda: flow_rules.check_velocity(
            change(PANEL, pump={"outlet_bore": 10.0}, rules={"most_velocity_m_s": 3.0}),
            ROUTED,
            set_speed("feed", 2.6),
        ),
    ),
    (
        "flow.fast",
        "caution",
        lambda: flow_rules.check_velocity(change(PANEL, pump={"outlet_bore": 8.0}), ROUTED, FLOWING),
    ),
    (
        "flow.uneven",
        "caution",
        lambda: flow_rules.check_uneven(PANEL, FLOWING, (set_group(2.1, 2.7),)),
    ),
    ("part.curve", "caution", lambda: flow_rules.check_part_curves(set_curve((2.0, 4.0), (8.0, 8.1)))),
    ("part.curve", "caution", lambda: flow_rules.check_part_curves(set_curve((2.0, 4.0), (8.0, 50.0)))),
    ("heat.rise", "note", lambda: heat_rules.check_rises(set_heat(35.0, 40.1))),
    ("heat.level", "caution", lambda: heat_rules.check_coolant_level(PANEL, set_heat(59.0, 60.1))),
    ("heat.level", "caution", lambda: heat_rules.check_coolant_level(PANEL, set_heat(60.1, 59.0))),
    (
        "heat.level",
        "caution",
        lambda: heat_rules.check_heat_kept(PANEL, replace(set_heat(35.0, 36.0), kept_w=100.0), FEEDING),
    ),
    # Ice water keeps this coolant under its freezing point.
    ("heat.level", "caution", lambda: heat_rules.check_coolant_level(PANEL, set_heat(-4.0, -3.0, -4.0))),
    ("heat.level", "note", lambda: heat_rules.check_coolant_level(PANEL, set_heat(40.1, 41.0, 40.1))),
    ("heat.level", "note", lambda: heat_rules.check_coolant_level(PANEL, set_heat(29.9, 31.0, 29.9))),
    ("heat.spread", "note", lambda: heat_rules.check_order(set_heat(35.0, 36.0, order_effect=5.1))),
    ("heat.capacity", "note", lambda: heat_rules.check_capacities(set_capacity(4.1), set_heat(35.0, 36.0))),
    (
        "heat.capacity",
        "note",
        lambda: heat_rules.check_capacities(set_capacity(1.0, 2.9), set_heat(35.0, 36.0)),
    ),
    (
        "tank.fill",
        "caution",
        lambda: fill_rules.check_fill(change(PANEL, tank={"fill": None}), ROUTED),
    ),
    (
        "tank.fill",
        "caution",
        lambda: fill_rules.check_fill(PANEL, move_port("fill", on="front", at=(145.0, 100.0, 20.0))),
    ),
    ("fill.volume", "note", lambda: fill_rules.note_volume(PANEL, ROUTED, FEEDING)),
    ("drain.low", "caution", lambda: fill_rules.check_drain(PANEL, move_port("drain", role="gone"))),
    (
        "port.room",
        "fault",
        lambda: port_rules.check_port_room(move_port("block b inlet", at=(83.9, 40.0, 20.0))),
    ),
    (
        "port.seat",
        "fault",
        lambda: port_rules.check_port_seats(PANEL, move_port("block a inlet", at=(9.4, 40.0, 20.0))),
    ),
    (
        "port.seat",
        "fault",
        lambda: port_rules.check_port_seats(PANEL, move_port("block a inlet", at=(103.0, 40.0, 20.0))),
    ),
    (
        "port.seat",
        "fault",
        lambda: port_rules.check_port_seats(PANEL, move_port("radiator inlet", at=(14.9, 140.0, 10.0))),
    ),
    (
        "port.seat",
        "fault",
        lambda: port_rules.check_port_seats(PANEL, move_port("radiator inlet", at=(30.0, 140.0, 8.9))),
    ),
    ("thread.depth", "caution", lambda: port_rules.check_threads(PANEL, ROUTED)),
    (
        "thread.depth",
        "fault",
        lambda: port_rules.check_threads(change(PANEL, make={"body": 17.8}), shallow(17.8)),
    ),
    ("port.wall", "caution", lambda: check_port_walls(PANEL, ROUTED, DETAIL)),
    ("port.torque", "note", lambda: port_rules.check_torque(PANEL, ROUTED)),
    ("material.heat", "fault", lambda: material_rules.check_material_heat(PANEL, set_heat(70.0, 81.0))),
    (
        "material.coolant",
        "caution",
        lambda: material_rules.check_material_coolant(
            change(PANEL, coolant={"fluid": "ethylene glycol"}), set_heat(35.0, 36.0)
        ),
    ),
    (
        "screw.growth",
        "caution",
        lambda: material_rules.check_screw_growth(
            change(PANEL, make={"cover_material": "aluminium 6082-T6"}), SEALED, set_heat(70.0, 71.0)
        ),
    ),
    ("seal.bend", "note", lambda: seal_rules.check_groove_bends(PANEL, SEALED)),
    ("seal.bend", "caution", lambda: seal_rules.check_groove_bends(PANEL, ring_sealed(5.9))),
    ("seal.bend", "fault", lambda: seal_rules.check_groove_bends(PANEL, ring_sealed(1.9))),
    ("seal.cross", "fault", lambda: cross_grooves(ring_sealed(20.0, 20.0))),
    (
        "cover.screws",
        "caution",
        lambda: screw_rules.check_cover_screws(PANEL, ROUTED, keep_screws(PANEL, ROUTED, SEALED, 4)),
    ),
    (
        "cover.screws",
        "fault",
        lambda: screw_rules.check_cover_screws(PANEL, ROUTED, replace(SEALED, screws=())),
    ),
    (
        "cover.thick",
        "caution",
        lambda: floor_rules.check_cover(change(PANEL, make={"cover": 1.5}), ROUTED, ADVISED.heating),
    ),
    (
        "floor.thick",
        "fault",
        lambda: floor_rules.check_floors(change(PANEL, tank={"depth": 18.4}), ROUTED, ADVISED.heating),
    ),
    (
        "seat.floor",
        "fault",
        lambda: port_rules.check_seat_floor(change(PANEL, pump={"seat_depth": 9.1}), ROUTED),
    ),
    ("pump.screws", "caution", lambda: port_rules.check_pump_screws(PANEL, set_pump_screw_depth(9.3))),
    (
        "make.room",
        "fault",
        lambda: check_travel(change(PANEL, make={"room": (199.0, 139.0, 80.0)})),
    ),
    (
        "make.wall",
        "caution",
        lambda: material_rules.check_milled_wall(change(PANEL, rules={"least_wall": 1.0})),
    ),
    (
        "wall.floor",
        "fault",
        lambda: floor_rules.check_layer_floor(change(PANEL, make={"body": 19.9}, channel={"layers": 2})),
    ),
    ("print.bridge", "caution", lambda: check_roofs(change(CLOSED, channel={"width": 8.0}), ROUTED)),
    ("print.shape", "note", lambda: note_roofs(CLOSED, WIDE, plan_print(CLOSED, WIDE))),
]


def shallow(body: float) -> Routed:
    """Return the sample with its front ports in a thinner body."""
    ports = tuple(
        replace(p, at=(*p.at[:2], body), depth=body - 4.5) if p.on == "front" else p for p in ROUTED.ports
    )
    return replace(ROUTED, ports=ports)


@pytest.mark.parametrize(
    ("code", "severity", "check"), RED, ids=[f"{c}-{s}-{k}" for k, (c, s, _) in enumerate(RED)]
)
def test_red(code, severity, check):
    found = check()
    assert [(f.code, f.severity) for f in found] == [(code, severity)]
    finding = found[0]
    assert finding.source == find_rule(code).source
    assert finding.text[0].isupper() or not finding.text[0].isalpha()
    assert finding.text.endswith(".")
    assert finding.remedy.endswith(".")
    assert "-0 " not in finding.text
    if finding.value is not None and finding.limit is not None:
        assert finding.unit
        assert math.isfinite(finding.value)


GREEN: dict[str, Check] = {
    "feed.column": lambda: feed_rules.check_feed_column(PANEL, ROUTED),
    "feed.low": lambda: feed_rules.check_feed_low(PANEL, ROUTED),
    "feed.depth": lambda: check_depth(PANEL, cover_mm=100.0),
    "feed.depth, separate tank": lambda: check_depth(PANEL, cover_mm=None),
    "feed.tilt": lambda: check_tilts(tilt_back_deg=10.0),
    "feed.head": lambda: check_head(9.0, 8.5),
    "feed.head, no need given": lambda: check_head(0.1, None),
    # The pump's own bore is no matter of the drop.
    "feed.bore": lambda: feed_rules.check_feed_bore(change(PANEL, pump={"inlet_bore": 30.0}), ROUTED),
    "flow.fast": lambda: flow_rules.check_velocity(
        change(PANEL, pump={"outlet_bore": 10.0}), ROUTED, set_speed("feed", 1.5)
    ),
    "flow.uneven": lambda: flow_rules.check_uneven(PANEL, FLOWING, (set_group(2.17, 2.7),)),
    "part.curve": lambda: flow_rules.check_part_curves(set_curve((2.0, 4.0, 8.0), (2.0, 3.8, 22.0))),
    "part.curve, one point": lambda: flow_rules.check_part_curves(set_curve((2.0,), (8.0,))),
    "heat.rise": lambda: heat_rules.check_rises(set_heat(35.0, 40.0)),
    "heat.level": lambda: heat_rules.check_coolant_level(PANEL, set_heat(39.0, 60.0, 39.9)),
    "heat.level, heat is taken away": lambda: heat_rules.check_heat_kept(
        PANEL, set_heat(35.0, 36.0), FEEDING
    ),
    "heat.spread": lambda: heat_rules.check_order(set_heat(35.0, 36.0, order_effect=5.0)),
    "heat.spread, no other order": lambda: heat_rules.check_order(set_heat(35.0, 36.0, order_effect=None)),
    "heat.capacity": lambda: heat_rules.check_capacities(set_capacity(3.0, 4.0), set_heat(35.0, 36.0)),
    "tank.fill": lambda: fill_rules.check_fill(PANEL, ROUTED),
    "drain.low": lambda: fill_rules.check_drain(PANEL, ROUTED),
    "port.room": lambda: port_rules.check_port_room(ROUTED),
    "port.seat": lambda: port_rules.check_port_seats(PANEL, ROUTED),
    "thread.depth": lambda: port_rules.check_threads(change(PANEL, make={"body": 21.5}), shallow(21.5)),
    "seal.squeeze, seal.fill": lambda: seal_rules.check_cord(PANEL),
    "seal.bend": lambda: seal_rules.check_groove_bends(PANEL, ring_sealed(12.0)),
    "seal.cross": lambda: seal_rules.check_groove_crossings(PANEL, SEALED, DETAIL),
    "cover.screws": lambda: screw_rules.check_cover_screws(PANEL, ROUTED, SEALED),
    "cover.thick": lambda: floor_rules.check_cover(PANEL, ROUTED, ADVISED.heating),
    "floor.thick": lambda: floor_rules.check_floors(PANEL, ROUTED, ADVISED.heating),
    "seat.floor": lambda: port_rules.check_seat_floor(PANEL, ROUTED),
    "tank.room": lambda: check_growth(growth_ml=1.0, room_ml=1.0),
    "tank.room, separate tank": lambda: check_growth(growth_ml=None, room_ml=None),
    "make.material": lambda: material_rules.check_printable(CLOSED),
    "pump.screws, clear of the rim": lambda: port_rules.check_pump_screws(*set_circle(69.4)),
    "pump.screws": lambda: port_rules.check_pump_screws(PANEL, set_pump_screw_depth(9.4)),
    "make.room": lambda: check_travel(change(PANEL, make={"room": (152.0, 212.0, 41.0)})),
    "make.wall": lambda: material_rules.check_milled_wall(PANEL),
    "wall.floor": lambda: floor_rules.check_layer_floor(change(PANEL, channel={"layers": 2})),
    "print.bridge": lambda: check_roofs(PANEL, ROUTED),
    "print.shape": lambda: note_roofs(PANEL, ROUTED, None),
}


@pytest.mark.parametrize("check", GREEN.values(), ids=GREEN.keys())
def test_green(check):
    assert check() == ()


def test_bore_of_the_drop_tells_both_values_and_the_room_to_make():
    (finding,) = feed_rules.check_feed_bore(change(PANEL, tank={"outlet_bore": 11.0}), ROUTED)
    assert (finding.value, finding.limit) == (8.8, 11.0)
    assert "8.8 mm wide" in finding.text
    assert "11 mm" in finding.text
    # Half of the 2.2 mm that are missing, on top of the 20 mm between the pump's bores.
    assert "21.1 mm apart" in finding.remedy
    assert "lower outlet_bore to 8.8 mm" in finding.remedy
    roomy = change(PANEL, tank={"outlet_bore": 11.0}, pump={"outlet_offset": (21.1, 0.0)})
    assert feed_width(roomy) == 11.0


def test_drop_of_less_section_than_the_inlet_bore_is_a_fault_with_what_cures_it():
    narrow = replace(ROUTED, channels=(replace(ROUTED.channel("feed"), width=8.7), *ROUTED.channels[1:]))
    (finding,) = feed_rules.check_feed_column(PANEL, narrow)
    assert (finding.code, finding.severity, finding.unit) == ("feed.column", "fault", "mm2")
    assert finding.value == pytest.approx(8.7 * 9)
    assert finding.limit == pytest.approx(math.pi / 4 * 10**2)
    assert "20 mm apart" in finding.remedy
    assert "inlet bore of 9.9 mm" in finding.remedy
    assert "9.1 mm deep" in finding.remedy
    for cured in (
        change(PANEL, pump={"inlet_bore": 9.9}),
        change(PANEL, channel={"depth": 9.1}),
    ):
        deeper = replace(narrow.channel("feed"), depth=cured.channel.depth)
        routed = replace(narrow, channels=(deeper, *narrow.channels[1:]))
        assert feed_rules.check_feed_column(cured, routed) == ()


def test_what_opens_into_the_drop_is_named():
    port = replace(ROUTED.ports[0], channel="feed")
    junction = Junction("feed junction 1", (145.0, 60.0), ("feed 1", "feed 2"), "feed 3")
    feed = replace(ROUTED.channel("feed"), junctions=(junction,))
    routed = replace(ROUTED, ports=(port, *ROUTED.ports[1:]), channels=(feed, *ROUTED.channels[1:]))
    (finding,) = feed_rules.check_feed_column(PANEL, routed)
    assert finding.severity == "fault"
    assert "feed junction 1 and block a inlet open into it on the way" in finding.text


def test_level_that_leaves_the_outlet_bare_is_a_fault_at_half_its_diameter():
    # The feed's section as a round outlet; the tank is 35 mm tall.
    half = math.sqrt(4 / math.pi * ROUTED.channel("feed").width * 9) / 2
    for level, severity in ((0.999 * half / 35, "fault"), (1.001 * half / 35, "caution")):
        panel = set_level(level)
        feeding = examine_feed(panel, ROUTED, FLOWING)
        found = feed_rules.check_feed_depth(panel, ROUTED, FLOWING, feeding)
        assert found[0].severity == severity


def test_level_of_the_remedy_leaves_just_the_room():
    panel = set_level(1.0)
    (finding,) = fill_rules.check_growth(panel, ROUTED, examine_feed(panel, ROUTED, FLOWING))
    most = int(re.search(r'level = "(\d+) %"', finding.remedy)[1])
    assert most == fill_rules.MOST_LEVEL
    tight = replace(panel, hose_volume_ml=400.0)
    (finding,) = fill_rules.check_growth(tight, ROUTED, examine_feed(tight, ROUTED, FLOWING))
    most = int(re.search(r'level = "(\d+) %"', finding.remedy)[1])
    assert most < fill_rules.MOST_LEVEL
    for level, count in ((most, 0), (most + 1, 1)):
        lower = replace(set_level(level / 100), hose_volume_ml=400.0)
        feeding = examine_feed(lower, ROUTED, FLOWING)
        assert len(fill_rules.check_growth(lower, ROUTED, feeding)) == count


def test_volume_tells_what_is_not_known():
    parts = tuple(
        replace(part, volume_ml=volume) for part, volume in zip(PANEL.parts, (30.0, 40.0, None), strict=True)
    )
    panel = replace(PANEL, parts=parts, hose_volume_ml=60.0)
    feeding = examine_feed(panel, ROUTED, FLOWING)
    (finding,) = fill_rules.note_volume(panel, ROUTED, feeding)
    assert "parts and hoses 130 mL" in finding.text
    assert 'what "radiator" hold comes on top' in finding.text
    assert finding.value == pytest.approx(feeding.tank_ml + feeding.loop_ml)


def test_heat_that_nothing_takes_away_is_told_by_the_minute():
    """600 W in a litre of water: 600 J each second over some 4.16 kJ/K."""
    heating = replace(set_heat(35.0, 36.0), kept_w=600.0)
    (finding,) = heat_rules.check_heat_kept(PANEL, heating, replace(FEEDING, tank_ml=300.0, loop_ml=700.0))
    assert finding.value == pytest.approx(600 * 60 / 4160, rel=0.01)
    assert "600 W warm the coolant by up to 8.7 K per minute" in finding.text


@pytest.mark.parametrize(
    ("tank", "air", "told"),
    [
        (94.9, 22.0, '"95 °C"'),
        (95.6, 22.0, "more capacity, give them more air, or put less heat"),
        (121.0, 22.0, "more capacity, give them more air, or put less heat"),
        (25.3, 25.2, '"26 °C"'),
    ],
)
def test_temperature_of_the_remedy_is_one_that_the_file_may_have(tank, air, told):
    panel = change(PANEL, coolant={"ambient_c": air})
    found = heat_rules.check_coolant_level(panel, set_heat(tank, tank, tank))
    (finding,) = (one for one in found if "properties" in one.text)
    assert told in finding.remedy
    assert ("temperature" in finding.remedy) == ("°C" in told)


def test_screws_tell_what_they_cut():
    (finding,) = port_rules.check_pump_screws(*set_circle(10.0))
    assert "pump inlet bore is cut by pump screw 1 M4, pump screw 2 M4" in finding.text
    (finding,) = port_rules.check_pump_screws(*set_circle(66.0))
    assert "the rim of the pump's seat is cut by" in finding.text
    assert '"62.7 mm" or less, or "69.3 mm" or more' in finding.remedy
    crowded = port_rules.check_pump_screws(*set_circle(24.0, 24))
    assert any("cut into each other" in finding.text for finding in crowded)


def test_remedies_name_the_body_that_would_do():
    (thread,) = port_rules.check_threads(PANEL, ROUTED)
    assert "use a body of 22 mm or a shallower channel" in thread.remedy
    (screw, *_) = port_rules.check_pump_screws(PANEL, set_pump_screw_depth(9.3))
    assert screw.remedy.endswith("or use a body of 21 mm.")


def test_remedies_on_the_back_name_the_cover():
    back = move_port("block a inlet", on="back", at=(60.0, 40.0, -8.0), depth=12.5)
    panel = change(PANEL, make={"cover": 8.0})
    faults = [f for f in port_rules.check_threads(panel, back) if f.severity == "fault"]
    assert [f.remedy for f in faults] == ["Use a cover of 9 mm, or a smaller thread."]
    panel = change(PANEL, pump={"on": "back"})
    detail = detail_panel(panel, ROUTED, SEALED, clearances_of(panel))
    # Two pitches of 0.7 mm below the thread, as it is tapped, and the four that are alike in one finding.
    (finding,) = port_rules.check_pump_screws(panel, detail)
    assert finding.features == tuple(f"pump screw {number} M4" for number in range(1, 5))
    (tapped,) = {f.thread_depth for f in detail.features if f.name in finding.features}
    assert finding.value == tapped == pytest.approx(8.0 - 2.0 - 1.4)
    assert f"have {tapped:.3g} mm of thread" in finding.text
    told = re.search(r"Use a cover of ([\d.]+) mm", finding.remedy)
    assert told is not None
    assert "body" not in finding.remedy
    # Engagement, two pitches and the least wall.
    assert 8.0 + 1.4 + 2.0 <= float(told[1]) <= 12.0
    thicker = change(panel, make={"cover": float(told[1])})
    detail = detail_panel(thicker, ROUTED, SEALED, clearances_of(thicker))
    assert port_rules.check_pump_screws(thicker, detail) == ()
    # Tapped into the cover, they ask for what its material asks for.
    for made in (
        {"cover": 10.0, "cover_material": "aluminium 6082-T6"},
        {"material": "aluminium 6082-T6", "cover_material": "PMMA cast"},
    ):
        panel = change(thicker, make=made)
        detail = detail_panel(panel, ROUTED, SEALED, clearances_of(panel))
        assert port_rules.check_pump_screws(panel, detail) == ()


def test_overfull_groove():
    """No row of the table overfills; a cord that would is a fault."""
    row = tables.cord(2.0)
    assert greatest_fill(row) < MOST_FILL
    assert greatest_fill(replace(row, groove_width=2.5)) > MOST_FILL


@pytest.mark.parametrize(
    ("code", "severity", "row"),
    [
        ("seal.fill", "fault", replace(tables.cord(2.0), groove_width=2.5)),
        ("seal.squeeze", "caution", replace(tables.cord(2.0), tolerance=0.15, groove_width=3.2)),
        ("seal.squeeze", "caution", replace(tables.cord(2.0), groove_depth=1.4, groove_width=3.0)),
    ],
)
def test_cord_that_does_not_suit_its_groove(monkeypatch, code, severity, row):
    monkeypatch.setattr(tables, "cord", lambda _: row)
    assert [(f.code, f.severity) for f in seal_rules.check_cord(PANEL)] == [(code, severity)]


@pytest.mark.parametrize("section", tables.cord_sections())
def test_every_cord_of_the_table_suits(section):
    assert seal_rules.check_cord(change(PANEL, make={"cord": section})) == ()


def test_every_code_has_been_red():
    """In the table here, or by name in the tests of its own module."""
    ours = {code for path in RULE_FILES for code in read_codes(path)}
    reds = {code for code, _, _ in RED}
    assert reds <= ours
    beside = {
        node.value
        for path in sorted((ROOT / "tests" / "layouts").rglob("test_*.py"))
        if path.name != "test_rules.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    # The last two stand in `test_cord_that_does_not_suit_its_groove`.
    assert not ours - reds - beside - {"seal.fill", "seal.squeeze"}


def test_edge_thread_counts_the_whole_bore():
    """Beside the channel the thread of an edge port goes on: a short edge is a fault only under the collar's."""
    routed = move_port("radiator inlet", depth=8.5)
    assert not any(
        "radiator inlet" in f.features and f.severity == "fault"
        for f in port_rules.check_threads(PANEL, routed)
    )
    routed = move_port("radiator inlet", depth=8.3)
    assert any(
        "radiator inlet" in f.features and f.severity == "fault"
        for f in port_rules.check_threads(PANEL, routed)
    )


def test_room_to_a_rounded_corner():
    """On the corner's diagonal the room is the corner circle's."""
    off = 4.0
    expected = 6.0 - math.hypot(6.0 - off, 6.0 - off)
    routed = move_port("block a inlet", at=(off, off, 20.0))
    (finding,) = port_rules.check_port_seats(PANEL, routed)
    assert finding.value == pytest.approx(expected)


def test_curve_that_no_coolant_has_is_told_with_its_points_and_line():
    """8 to 8.1 kPa over twice the flow is the power of log 1.0125 / log 2, 0.018."""
    (finding,) = flow_rules.check_part_curves(set_curve((1.0, 2.0, 4.0), (2.0, 8.0, 8.1)))
    assert (
        '"radiator" rises with the flow to the power of 0.018 from 2 to 4 L/min (8 to 8.1 kPa)'
        in finding.text
    )
    assert "less than 0.9" in finding.text
    assert "units" in finding.remedy
    assert "in line 41" in finding.remedy


def test_roofs_remedy_follows_what_asks_for_the_width():
    """A narrower channel, an outlet or inlet bore, or more depth where the inlet bore's section asks for width."""

    def remedies(**new: dict[str, object]) -> list[str]:
        panel = change(CLOSED, printing={"roofs": "flat"}, **new)
        wide = change_channel("feed", width=max(12.0, panel.channel.width))
        return [f.remedy for f in check_roofs(panel, wide) if f.features == ("channel feed",)]

    (wide,) = remedies(channel={"width": 12.0})
    assert 'set roofs = "auto" in [printing]' in wide.lower()
    assert wide.endswith('set width = "10 mm" or less in [channel].')
    (grown,) = remedies(channel={"width": 12.0, "widen_to": 30.0})
    assert "where widen_to stops too" in grown
    bores = {"inlet_bore": 8.0}
    (outlet,) = remedies(pump=bores, tank={"outlet_bore": 12.0})
    assert 'set outlet_bore = "10 mm" or less in [tank]' in outlet
    (inlet,) = remedies(pump={"inlet_bore": 11.0}, tank={"outlet_bore": 8.0})
    assert "use a pump with an inlet bore of 10 mm or less" in inlet
    (section,) = remedies(channel={"depth": 7.0}, pump={"inlet_bore": 10.0}, tank={"outlet_bore": 8.0})
    assert 'set depth = "8 mm" in [channel]' in section
    # pi / 4 (10 mm)2 over 8 mm is 9.8 mm: the depth holds what it promises.
    deeper = change(CLOSED, channel={"depth": 8.0}, pump={"inlet_bore": 10.0}, tank={"outlet_bore": 8.0})
    assert feed_width(deeper) <= 10.0


def test_plan_of_the_sample():
    found = check_plan(PANEL, ROUTED, SEALED, FLOWING, ADVISED, DETAIL, MILLED)
    assert not has_fault(found)
    codes = {f.code for f in found}
    assert codes == {
        "feed.depth",
        "flow.fast",
        "fill.volume",
        "thread.depth",
        "port.wall",
        "port.torque",
        "screw.insert",
        "screw.torque",
        "seal.bend",
        "tolerance.screws",
        "tolerance.squeeze",
        "make.upright",
    }
    accepted = accept_findings(found, {"seal.bend": "soft cord"})
    assert [f.severity for f in accepted if f.code == "seal.bend"] == ["note"]
    kept = replace(ADVISED, heating=replace(ADVISED.heating, kept_w=100.0))
    (more,) = set(check_plan(PANEL, ROUTED, SEALED, FLOWING, kept, DETAIL, MILLED)) - set(found)
    assert (more.code, more.severity) == ("heat.level", "caution")


@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_plan_without_a_cord(closing):
    panel, routed = sample_panel(closing), sample_routed(closing)
    codes = {f.code for f in check_plan(panel, routed, *finish(panel, routed))}
    assert not any(code.startswith("seal.") or code == "cover.screws" for code in codes)


unit = st.floats(0.0, 1.0)


@settings(max_examples=40, deadline=None)
@given(
    up=st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)).filter(lambda u: math.hypot(*u) > 0.1),
    body=st.floats(10.5, 60.0),
    depth=st.floats(0.5, 9.5),
    level=st.floats(0.01, 1.0),
    cord=st.sampled_from(tables.cord_sections()),
    material=st.sampled_from(tables.material_names()),
    cutter=st.floats(0.5, 20.0),
    flow=st.floats(1e-7, 1e-3),
    places=st.lists(st.tuples(unit, unit), min_size=8, max_size=8),
    closing=st.sampled_from(["cord", "bonded", "one-piece"]),
)
def test_rules_never_fail(up, body, depth, level, cord, material, cutter, flow, places, closing):
    """Whatever the numbers: findings of known codes, finite values, places inside reason."""
    size = math.hypot(*up)
    panel = change(
        replace(sample_panel(closing), up=(up[0] / size, up[1] / size, up[2] / size)),
        make={"body": body, "cord": cord, "material": material, "cutter": cutter},
        tank={"depth": depth, "level": level},
    )
    ports = tuple(
        replace(port, at=(x * panel.width, y * panel.height, body), thread=tables.thread_names()[k % 4])
        for k, (port, (x, y)) in enumerate(zip(ROUTED.ports, places, strict=True))
    )
    routed = replace(ROUTED, ports=ports)
    parts = tuple(
        replace(p, flow_m3_s=flow * (k + 1), rise_k=1e-3 / flow) for k, p in enumerate(FLOWING.parts)
    )
    flowing = replace(FLOWING, flow_m3_s=flow, parts=parts)
    for finding in check_plan(panel, routed, SEALED, flowing, ADVISED, DETAIL):
        assert find_rule(finding.code)
        assert finding.value is None or math.isfinite(finding.value)
        assert finding.limit is None or math.isfinite(finding.limit)
        assert finding.text.strip()
        assert finding.remedy.strip()


ROOT = Path(__file__).resolve().parents[3]
RULE_FILES = tuple(sorted((ROOT / "layouts" / "rules").glob("*.py")))
CODE = re.compile(r"[a-z]+\.[a-z]+")


def read_codes(path: Path) -> set[str]:
    """Return the codes of all findings made in a module; a code that is no literal is an error."""
    codes: set[str] = set()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for call in ast.walk(tree):
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name | ast.Attribute)):
            continue
        name = call.func.id if isinstance(call.func, ast.Name) else call.func.attr
        if name not in ("Finding", "make_finding") or path == ROOT / "layouts" / "rules" / "findings.py":
            continue
        given_code = next(
            (k.value for k in call.keywords if k.arg == "code"), call.args[0] if call.args else None
        )
        assert given_code is not None, f"{path.name}:{call.lineno}: a finding without a code"
        found = {
            c.value
            for c in ast.walk(given_code)
            if isinstance(c, ast.Constant) and isinstance(c.value, str) and CODE.fullmatch(c.value)
        }
        assert found, f"{path.name}:{call.lineno}: the code of a finding must be written out"
        codes |= found
    return codes


def test_catalogue_holds_every_code():
    listed = {rule.code for rule in RULES}
    for folder in ("geom", "layouts", "exports"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            unknown = read_codes(path) - listed
            assert not unknown, f"{path.name}: {', '.join(sorted(unknown))} is not in the catalogue"


def test_catalogue_is_whole():
    codes = [rule.code for rule in RULES]
    assert len(set(codes)) == len(codes)
    for rule in RULES:
        assert CODE.fullmatch(rule.code)
        assert rule.question.endswith("?")
        assert all((rule.limit_text, rule.why, rule.source))
    assert find_rule("wall.thin").code == "wall.thin"
    with pytest.raises(OutOfRange, match=r'no check "wall\.fat": use one of air\.carry'):
        find_rule("wall.fat")
    with pytest.raises(OutOfRange):
        make_finding("wall.fat", "note", "text", "remedy")


@pytest.mark.parametrize(
    "word", ["unplug", "air", "acrylic", "vapour", "dust", "metals", "codes", "certificate"]
)
def test_cautions_name_what_hurts(word):
    assert any(word in text.lower() for text in CAUTIONS)
