"""The demos routed and planned, each once for all tests: same file, same values, and all of them frozen."""

from __future__ import annotations

from functools import cache

from exports.pipeline import plan_panel
from layouts.file.read import read_panel
from layouts.panels.catalogue import demo_path
from layouts.plan import Plan, Routed
from layouts.route import route_panel
from layouts.routing.effort import NORMAL, Effort


@cache
def route_demo(name: str, effort: Effort = NORMAL) -> Routed:
    """Return the routing of a panel that the project ships."""
    return route_panel(read_panel(demo_path(name)), 0, effort)


@cache
def plan_demo(name: str) -> Plan:
    """Return the plan of a panel that the project ships."""
    return plan_panel(demo_path(name))
