"""The demos' drawings, and those of panels that no demo is: views made once, sheets for each paper and projection."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from sample_demos import plan_demo

from exports.drawing.draw_sheets import lay_sheets
from exports.drawing.needed_views import take_views
from exports.drawing.values import DrawingSet, View
from exports.pipeline import plan_panel
from geom.build import build_solids
from layouts.drawing_choice import DrawingChoice, PaperName, Projection
from layouts.panels.catalogue import DEMOS, demo_path
from layouts.plan import Plan

SPLIT, ROOF, POSTS = "split server", "roofed server", "large tank"
"""A panel in two pieces, one with pointed roofs over its channels, one with posts in its tank."""

SERVER = "cupboard-server"
CHANGES: dict[str, tuple[tuple[str, str], ...]] = {
    SPLIT: (('room = ["220 mm", "220 mm", "220 mm"]', 'room = ["150 mm", "170 mm", "150 mm"]'),),
    ROOF: (
        ('body = "25 mm"', 'body = "36 mm"'),
        (
            'width = "7 mm"\ndepth = "7 mm"\nbend_radius = "10 mm"',
            'width = "12 mm"\ndepth = "12 mm"\nbend_radius = "15 mm"',
        ),
        ("[rules]", '[printing]\nroofs = "auto"\nlies_on = "back"\n\n[rules]'),
    ),
}
"""What in the file of the server is another: old and new."""


@cache
def plan_of(name: str) -> Plan:
    """Return the plan of a demo or of one of the panels named here."""
    if name in DEMOS:
        return plan_demo(name)
    if name == POSTS:
        return plan_panel(Path(__file__).parent / "exports" / "large-tank.toml")
    text = demo_path(SERVER).read_text("utf-8")
    for old, new in CHANGES[name]:
        assert text.count(old) == 1
        text = text.replace(old, new)
    with TemporaryDirectory() as folder:
        file = Path(folder) / "panel.toml"
        file.write_text(text, "utf-8")
        return plan_panel(file)


@cache
def demo_views(name: str) -> dict[str, View]:
    """Return all views of a demo's solids."""
    plan = plan_of(name)
    return take_views(plan, build_solids(plan.detail))


def drawn_plan(name: str, paper: PaperName = "A3", projection: Projection = "first angle") -> Plan:
    """Return a demo's plan with what its file would say of its drawing."""
    plan = plan_of(name)
    return replace(plan, panel=replace(plan.panel, drawing=DrawingChoice(projection, paper)))


@cache
def draw_demo(name: str, paper: PaperName = "A3", projection: Projection = "first angle") -> DrawingSet:
    """Return a demo's drawing."""
    return lay_sheets(drawn_plan(name, paper, projection), demo_views(name))
