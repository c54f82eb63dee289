"""Design rules of the feed: from the tank down to the pump, filling, and draining.

Heights are along the panel's `up`; where the panel lies flat they say nothing and these rules are silent.
"""

from __future__ import annotations

import math
from itertools import pairwise

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.outline import Point
from geom.units import l_min, show_number
from layouts.clearance import channel_z
from layouts.flow import measure_leg
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.pump import GRAVITY_M_S2
from layouts.nets import PUMP_INLET, TANK_OUTLET
from layouts.panel import Panel
from layouts.plan import Channel, Flowing, PlacedPort, Routed
from layouts.rule_catalogue import make_finding

HOT_C = 60.0
"""Coolant above it harms pumps, tubes and acrylic; common practice, no source."""

UPRIGHT_DEG = 1.0
"""A panel tilted by more is not upright."""

FAR_WIDER = 1.5
"""A pump's inlet bore of more channel widths is worth a word; common practice, no source."""

BARE_SHARE = 0.5
"""Least depth over the tank's outlet in its diameters: a lower surface lies below a side outlet's rim."""

LEAST_LEVEL = 50
"""A remedy asks for no lower filling level than this, [%]."""

FILL_C = 20.0
"""Temperature of the coolant when it is filled in, [°C]."""

FLAT_SINE = 0.05
"""In-plane part of `up` under which the panel lies flat and heights in it mean nothing."""


def check_feed_column(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the tank drops straight into the pump's inlet (`feed.column`)."""
    outlet, inlet = routed.tank.outlet, routed.pump.inlet
    found = []
    feed = find_feed(routed)
    points = (outlet, inlet) if feed is None else _feed_points(feed)
    off = max((abs(x - inlet[0]) for x, _ in points), default=0.0)
    rising = any(b[1] > a[1] + SAME_MM for a, b in pairwise(points))
    if feed is None or off > SAME_MM or rising or outlet[1] <= inlet[1]:
        problem = (
            "no channel leads from it to the pump's inlet"
            if feed is None
            else f"the way down strays {off:.3g} mm from the pump inlet's column"
            if off > SAME_MM
            else "the way to the pump's inlet does not go straight down"
        )
        found.append(
            make_finding(
                "feed.column",
                "fault",
                f"the tank outlet at ({outlet[0]:g}, {outlet[1]:g}) mm does not drop straight into the pump "
                f"inlet at ({inlet[0]:g}, {inlet[1]:g}) mm: {problem}",
                "place the tank so that its outlet stands in the pump inlet's column, above it",
                off,
                0.0,
                "mm",
                place_at(panel, outlet),
                ("tank", "pump inlet"),
            )
        )
    tilt = tilt_degrees(panel)
    if tilt > UPRIGHT_DEG:
        found.append(
            make_finding(
                "feed.column",
                "caution",
                "the drop from tank to pump runs straight down the panel's own y, but the panel is "
                f"installed {tilt:.3g} degrees off upright",
                "install the panel upright, or make sure by filling that the pump stays covered",
                tilt,
                UPRIGHT_DEG,
                "deg",
                place_at(panel, outlet),
                ("tank", "pump inlet"),
            )
        )
    return tuple(found)


def check_feed_low(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the pump's inlet is below the tank's outlet as installed (`feed.low`)."""
    if lies_flat(panel):
        return ()
    drop = height_of(panel, routed.tank.outlet) - height_of(panel, routed.pump.inlet)
    if drop > SAME_MM:
        return ()
    return (
        make_finding(
            "feed.low",
            "fault",
            f"as installed the pump's inlet stands {abs(drop):.3g} mm above the tank's outlet, so it is not fed",
            'place the pump under the tank, or correct "up" in [panel]',
            drop,
            0.0,
            "mm",
            place_at(panel, routed.pump.inlet),
            ("pump inlet", "tank"),
        ),
    )


def check_feed_depth(panel: Panel, routed: Routed, flowing: Flowing) -> tuple[Finding, ...]:
    """Ask whether enough coolant stands over the tank's outlet (`feed.depth`)."""
    feed = find_feed(routed)
    level = fill_level(panel, routed)
    if feed is None or level is None:
        return ()
    bore = math.sqrt(4 / math.pi * feed.width * feed.depth)
    stands = level - height_of(panel, routed.tank.outlet)
    if stands < BARE_SHARE * bore:
        return (
            make_finding(
                "feed.depth",
                "fault",
                f"filled to its level of {100 * panel.tank.level:.3g} %, the tank leaves its outlet bare: "
                f"{max(stands, 0.0):.2g} mm of coolant stand over it, half of its diameter is "
                f"{BARE_SHARE * bore:.2g} mm",
                "raise level in [tank], or make the tank taller",
                stands,
                BARE_SHARE * bore,
                "mm",
                place_at(panel, routed.tank.outlet),
                ("tank",),
            ),
        )
    flow = show_number(l_min(flowing.flow_m3_s), 2)
    needs = least_submergence(bore * 1e-3, flowing.flow_m3_s) * 1e3
    if stands >= needs:
        return ()
    return (
        make_finding(
            "feed.depth",
            "caution",
            f"{stands:.0f} mm of coolant stand over the tank's outlet at the filling level; against a "
            f"vortex that draws air {needs:.0f} mm are asked for at {flow} L/min (an upper bound at this size)",
            "set a baffle over the tank's outlet, or make the tank taller or the feed channel wider",
            stands,
            needs,
            "mm",
            place_at(panel, routed.tank.outlet),
            ("tank",),
        ),
    )


def check_feed_bore(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the drop from the tank is as wide as the tank's outlet asks for (`feed.bore`)."""
    width, bore, inlet = panel.channel.width, panel.tank.outlet_bore, panel.pump.inlet_bore
    if bore <= width + SAME_MM:
        return ()
    far = f" and far under the pump's inlet bore of {inlet:g} mm" if inlet > FAR_WIDER * width else ""
    return (
        make_finding(
            "feed.bore",
            "caution",
            f"the drop from the tank is cut {width:g} mm wide, as all channels are, under the tank's "
            f"outlet_bore of {bore:g} mm{far}",
            f'widen the channels, [channel] width = "{bore:g} mm", or lower outlet_bore to {width:g} mm',
            width,
            bore,
            "mm",
            place_at(panel, routed.tank.outlet),
            ("tank", "pump inlet"),
        ),
    )


def least_submergence(bore_m: float, flow_m3_s: float) -> float:
    """Return how high the surface must stand over an outlet so that no vortex draws air.

    Parameters
    ----------
    bore_m : float
        Diameter of the outlet, [m].
    flow_m3_s : float
        [m3/s]

    Returns
    -------
    float
        [m]; made for sumps, an upper bound at the size of a panel.

    Source
    ------
    ANSI/HI 9.8-1998, Pump Intake Design, section 9.8.7: S = D (1 + 2.3 Fr).
    """
    velocity = flow_m3_s / (math.pi / 4 * bore_m**2)
    return bore_m * (1 + 2.3 * velocity / math.sqrt(GRAVITY_M_S2 * bore_m))


def check_fill(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the tank can be filled to its level from above (`tank.fill`)."""
    level = fill_level(panel, routed)
    if routed.tank.box is None:
        return ()
    fill = find_fill_port(panel, routed)
    if fill is None:
        x0, y0, x1, y1 = routed.tank.box
        return (
            make_finding(
                "tank.fill",
                "caution",
                "the tank has no fill port",
                'give [tank] a fill port, best: fill = { on = "top" }',
                at_mm=place_at(panel, ((x0 + x1) / 2, (y0 + y1) / 2)),
                features=("tank",),
            ),
        )
    if level is None:
        return ()
    mouth = height_of(panel, (fill.at[0], fill.at[1]))
    if mouth >= level - SAME_MM:
        return ()
    return (
        make_finding(
            "tank.fill",
            "caution",
            f"the mouth of the fill port lies {level - mouth:.3g} mm under the tank's filling level",
            'put the fill port on the top edge: fill = { on = "top" }',
            mouth - level,
            0.0,
            "mm",
            fill.at,
            (fill.name, "tank"),
        ),
    )


def check_level(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the tank's free part takes up the coolant's expansion (`tank.level`).

    Tank and channels count, filled cold and warmed to the limit of `heat.rise`; parts and hoses come on top.
    """
    if routed.tank.box is None:
        return ()
    tank = tank_volume_ml(panel, routed)
    holds = tank * panel.tank.level + channel_volume_ml(routed)
    choice, hot_c = panel.coolant, max(HOT_C, panel.coolant.temperature_c)
    cold, hot = (
        coolant_properties(choice.fluid, choice.mass_fraction, celsius).density_kg_m3
        for celsius in (FILL_C, hot_c)
    )
    free, grows = tank * (1 - panel.tank.level), holds * (cold / hot - 1)
    if free >= grows:
        return ()
    x0, y0, x1, y1 = routed.tank.box
    most = min(85, math.floor(100 * (tank - grows) / tank))
    larger = "make the tank larger"
    return (
        make_finding(
            "tank.level",
            "caution",
            f"filled to {100 * panel.tank.level:.3g} %, the tank has {max(free, 0.0):.2g} mL free; what tank "
            f"and channels hold grows by {grows:.2g} mL from {FILL_C:g} to {hot_c:.3g} °C",
            f'set level = "{most} %" or less in [tank], or {larger}' if most > LEAST_LEVEL else larger,
            free,
            grows,
            "mL",
            place_at(panel, ((x0 + x1) / 2, (y0 + y1) / 2)),
            ("tank",),
        ),
    )


def note_volume(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Say how much coolant tank and channels take (`fill.volume`)."""
    if routed.tank.box is None:
        return ()
    tank = tank_volume_ml(panel, routed)
    channels = channel_volume_ml(routed)
    x0, y0, x1, y1 = routed.tank.box
    return (
        make_finding(
            "fill.volume",
            "note",
            f"the tank holds {tank:.0f} mL, {tank * panel.tank.level:.0f} mL at its filling level; the "
            f"channels hold {channels:.0f} mL; parts and hoses come on top",
            f"have {tank * panel.tank.level + channels:.0f} mL of coolant ready, and besides it what parts "
            "and hoses hold",
            tank * panel.tank.level + channels,
            None,
            "mL",
            place_at(panel, ((x0 + x1) / 2, (y0 + y1) / 2)),
            ("tank",),
        ),
    )


def check_drain(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the drain is the lowest wet place (`drain.low`)."""
    if lies_flat(panel):
        return ()
    drain = next((port for port in routed.ports if port.part == "drain"), None)
    if drain is None:
        return (
            make_finding(
                "drain.low",
                "caution",
                "the panel has no drain, so it can be emptied only through an opened part",
                "add a [drain] port at the panel's lowest edge",
            ),
        )
    lowest, channel, point = min(
        (height_of(panel, point) - channel.width / 2, channel.name, point)
        for channel in routed.channels
        for run in channel.runs
        for point in run.points
    )
    own = min(height_of(panel, drain.foot), height_of(panel, (drain.at[0], drain.at[1])))
    above = own - panel.channel.width / 2 - lowest
    if above <= SAME_MM:
        return ()
    return (
        make_finding(
            "drain.low",
            "caution",
            f"channel {channel} reaches {above:.3g} mm lower than the drain, and stays full there",
            "move the drain to the lowest edge, or tilt the panel towards the drain when emptying it",
            above,
            0.0,
            "mm",
            place_at(panel, point),
            (drain.name, f"channel {channel}"),
        ),
    )


def tilt_degrees(panel: Panel) -> float:
    """Return the angle between the panel's y and up as it is installed, [deg]."""
    return math.degrees(math.acos(max(-1.0, min(1.0, panel.up[1]))))


def lies_flat(panel: Panel) -> bool:
    """Return whether the panel lies so flat that heights in its plane mean nothing."""
    return math.hypot(panel.up[0], panel.up[1]) < FLAT_SINE


def height_of(panel: Panel, point: Point) -> float:
    """Return a plan point's height as installed, [mm]."""
    return panel.up[0] * point[0] + panel.up[1] * point[1]


def find_feed(routed: Routed) -> Channel | None:
    """Return the channel from the tank's outlet to the pump's inlet; None where there is none."""
    for channel in routed.channels:
        if TANK_OUTLET in channel.ends and PUMP_INLET in channel.ends:
            return channel
    return None


def find_fill_port(panel: Panel, routed: Routed) -> PlacedPort | None:
    """Return the tank's fill port; None where there is none."""
    if panel.tank.fill is None:
        return None
    return next((port for port in routed.ports if port.name == panel.tank.fill.name), None)


def tank_volume_ml(panel: Panel, routed: Routed) -> float:
    """Return the volume of the tank pocket (or of the separate tank, 0 where not given), [mL]."""
    if routed.tank.box is None:
        return panel.tank.volume_ml or 0.0
    x0, y0, x1, y1 = routed.tank.box
    corners = (4 - math.pi) * routed.tank.corner_radius**2
    return ((x1 - x0) * (y1 - y0) - corners) * panel.tank.depth * 1e-3


def channel_volume_ml(routed: Routed) -> float:
    """Return the volume of all channels, [mL]."""
    return sum(
        channel.width * channel.depth * measure_leg(leg.points, channel.bend_radius)[1] * 1e-3
        for channel in routed.channels
        for leg in channel.legs
    )


def fill_level(panel: Panel, routed: Routed) -> float | None:
    """Return the height of the filling level as installed, [mm]; None where it is not known."""
    if routed.tank.box is None or lies_flat(panel):
        return None
    x0, y0, x1, y1 = routed.tank.box
    corners = [height_of(panel, corner) for corner in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    return min(corners) + panel.tank.level * (max(corners) - min(corners))


def place_at(panel: Panel, point: Point) -> tuple[float, float, float]:
    """Return a plan point at the channels' mid-depth, [mm]."""
    z0, z1 = channel_z(panel)
    return (point[0], point[1], (z0 + z1) / 2)


def _feed_points(feed: Channel) -> tuple[Point, ...]:
    """Return the corners of the way from the tank's outlet to the pump's inlet, in that order."""
    ways: dict[str, tuple[Point, ...]] = {TANK_OUTLET: ()}
    waiting = [TANK_OUTLET]
    while waiting:
        here = waiting.pop()
        for leg in feed.legs:
            for a, b, points in ((leg.start, leg.end, leg.points), (leg.end, leg.start, leg.points[::-1])):
                if a == here and b not in ways:
                    ways[b] = (*ways[a], *points)
                    waiting.append(b)
    return ways.get(PUMP_INLET, ())
