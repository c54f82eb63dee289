"""Ports that a plug closes in use, as pictures, tables, cost sheet and report show them."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from picture_texts import texts_of
from sample_demos import plan_demo

from exports.pictures.plan_picture import draw_plan
from exports.pictures.plan_symbols import draw_edge_port, draw_plug
from exports.pictures.svg import View
from exports.report.document import report_document
from exports.tables.panel_tables import describe_plan
from layouts.cost.quantities import cost_sheet
from layouts.filling.service.proposals import service_ports

DEMO = "workshop-render"


def test_the_plan_shows_a_plug_where_each_stands():
    plan = plan_demo(DEMO)
    ports = service_ports(plan.panel, plan.routed)
    assert {port.role for port in ports} == {"bleed", "drain"}
    svg = draw_plan(plan)
    assert "bleed and drain, closed in use" in svg
    without = replace(plan, routed=replace(plan.routed, ports=plan.routed.ports[: -len(ports)]))
    assert "closed in use" not in draw_plan(without)
    hexagons = re.findall(r'd="M[\d. -]+(?:L[\d. -]+){5}Z" fill="none"', svg)
    assert len(hexagons) == len(ports) + 1
    assert {port.name for port in ports} <= {text for text, _ in texts_of(svg)}


def test_a_plug_is_a_regular_hexagon_in_its_bore():
    disc, hexagon = draw_plug((20.0, 10.0), 5.0, View(2.0, 100.0), on_back=True)
    corners = [tuple(map(float, pair.split())) for pair in re.findall(r"[ML]([\d.]+ [\d.]+)", hexagon)]
    assert len(corners) == 6
    assert {round(math.dist(corner, (40.0, 180.0)), 1) for corner in corners} == {6.0}
    assert "dasharray" in disc


def test_no_arrow_stands_at_a_drain_in_an_edge():
    plan = plan_demo(DEMO)
    view = View(2.0, plan.panel.height)
    drawn = {port.role: draw_edge_port(port, 8.8, view) for port in plan.routed.ports if port.on == "bottom"}
    assert [len(lines) for lines in drawn.values()] == [1]


def test_sheet_table_and_report_know_them():
    plan = plan_demo(DEMO)
    (item,) = [item for item in cost_sheet(plan).items if item.item == "fittings G1/4"]
    assert (item.what, item.quantity) == ("for G1/4 ports, 4 of them fill, bleed and drain", 16)
    rows = [line.split() for line in describe_plan(plan).splitlines()]
    assert ["bleed", "1", "G1/4", "front"] in [row[:4] for row in rows]
    told = {
        port["name"]: (port["part"], port["role"])
        for port in report_document(plan, None, (), (), {})["ports"]
    }
    assert told["bleed 1"] == ("bleed", "bleed")
    assert told["drain 2"] == ("drain", "drain")
    assert told["drain"] == ("drain", "drain")
