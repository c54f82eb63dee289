"""What findings are told with: values and limits, and the names of channels and ports in them."""

from __future__ import annotations

from geom.findings import Finding
from geom.units import show_number
from layouts.plan import Channel, PlacedPort

DIGITS = (3, 4, 5, 6)
"""To which a value and its limit are told: the least at which unlike ones look unlike."""


def show_both(finding: Finding) -> tuple[str, str]:
    """Return a finding's value and limit with their unit, in as many digits as tell them apart; empty without."""
    value, limit = finding.value, finding.limit
    digits = next(
        (
            n
            for n in DIGITS
            if value is None or limit is None or show_number(value, n) != show_number(limit, n)
        ),
        DIGITS[0],
    )
    unit = f" {finding.unit}" if finding.unit else ""
    shown = ("" if one is None else f"{show_number(one, digits)}{unit}" for one in (value, limit))
    first, second = shown
    return first, second


def channel_names(channel: Channel) -> tuple[str, ...]:
    """Return all names under which findings speak of a channel, that of its solid first."""
    return f"channel {channel.name}", f"channel {channel.name} front", channel.name


def port_names(port: PlacedPort) -> tuple[str, ...]:
    """Return all names under which findings speak of a port, that of its solid first."""
    return f"port {port.name} {port.thread}", f"port {port.name}", port.name, f"spot face {port.name}"
