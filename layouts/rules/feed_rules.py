"""Design rules of the feed from the tank down to the pump.

Heights are along the panel's `up`. Where the panel lies flat they say nothing: `feed.low` says so, and the rules
of depth and tilt are silent.
"""

from __future__ import annotations

import math
from itertools import pairwise

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.outline import Point
from geom.units import l_min, show_number
from layouts.advice import Feeding
from layouts.clearance import WIDTH_STEP, feed_room, inlet_section
from layouts.feed import BARE_SHARE, outlet_bore
from layouts.file.offers import keep_readable
from layouts.file_changes import UPRIGHT, set_length
from layouts.installed import (
    TURN_UPRIGHT,
    drop_to_inlet,
    find_feed,
    lies_flat,
    outlet_stands_high,
    place_at,
    pump_lies_under,
    tilt_degrees,
)
from layouts.nets import PUMP_INLET, TANK_OUTLET
from layouts.panel import Panel
from layouts.plan import Channel, Flowing, Routed
from layouts.rules.findings import make_finding

UPRIGHT_DEG = 1.0
"""A panel tilted by more is not upright."""

CALM_SHARE = 1.5
"""Depth over the outlet, in its diameters, from which the bound made for sumps is only noted.

Common practice, no source. At this size the Weber number of the outlet, density V^2 D / surface tension, is about
100: below some 120 surface tension holds the vortex back (Jain, Raju and Garde, Vortex formation at vertical pipe
intakes, J. Hydraulics Division ASCE 104, 1978; recalled, not verified), so that the bound is far on the safe side.
"""

LEAST_TILT_DEG = 10.0
"""A panel is carried, hung and bled at tilts up to this; common practice, no source."""

LEAST_SPARE_M = 0.5
"""Least head at the pump's inlet over what it needs, [m]; common practice, no source."""


def check_feed_column(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the tank drops straight into the pump's inlet (`feed.column`)."""
    outlet, inlet = routed.tank.outlet, routed.pump.inlet
    found = []
    feed = find_feed(routed)
    points = (outlet, inlet) if feed is None else _feed_points(feed)
    off = max((abs(x - inlet[0]) for x, _ in points), default=0.0)
    rising = any(b[1] > a[1] + SAME_MM for a, b in pairwise(points))
    between = () if feed is None else _stand_between(routed, feed)
    if feed is None or off > SAME_MM or rising or outlet[1] <= inlet[1] or between:
        problem = (
            "no channel leads from it to the pump's inlet"
            if feed is None
            else f"the way down strays {off:.3g} mm from the pump inlet's column"
            if off > SAME_MM
            else f"{' and '.join(between)} open into it on the way"
            if between
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
    if feed is not None:
        found.extend(_check_section(panel, routed, feed))
    tilt = tilt_degrees(panel)
    if tilt > UPRIGHT_DEG:
        upright = not lies_flat(panel) and drop_to_inlet(panel, routed) > SAME_MM
        found.append(
            make_finding(
                "feed.column",
                "caution",
                "the drop from tank to pump runs straight down the panel's own y, but the panel is "
                f"installed {tilt:.3g} degrees off upright",
                "install the panel upright, or make sure by filling that the pump stays covered"
                if upright
                else TURN_UPRIGHT,
                tilt,
                UPRIGHT_DEG,
                "deg",
                place_at(panel, outlet),
                ("tank", "pump inlet"),
                UPRIGHT,
            )
        )
    return tuple(found)


def _stand_between(routed: Routed, feed: Channel) -> tuple[str, ...]:
    """Return what opens into the feed besides the tank, the pump and the drain at the pump's inlet.

    Bleeds and drains of their own are shut while the pump runs.
    """
    ports = (
        port.name
        for port in routed.ports
        if port.channel == feed.name and port.foot != routed.tank.outlet and not port.is_shut
    )
    return (*(junction.name for junction in feed.junctions), *ports)


def _check_section(panel: Panel, routed: Routed, feed: Channel) -> tuple[Finding, ...]:
    """Ask whether the feed's section is no smaller than that of the pump's inlet bore."""
    has, needs, bore = feed.width * feed.depth, inlet_section(panel), panel.pump.inlet_bore
    if has >= needs * (1 - SAME_MM):
        return ()
    width = math.ceil(needs / feed.depth / WIDTH_STEP - SAME_MM) * WIDTH_STEP
    depth = math.ceil(needs / feed.width / WIDTH_STEP - SAME_MM) * WIDTH_STEP
    most = math.floor(math.sqrt(4 / math.pi * has) / WIDTH_STEP + SAME_MM) * WIDTH_STEP
    return (
        make_finding(
            "feed.column",
            "fault",
            f"the drop from the tank, {feed.width:g} mm wide and {feed.depth:g} mm deep, has {has:.1f} mm2, less "
            f"than the {needs:.1f} mm2 of the pump's inlet bore of {bore:g} mm",
            f"{_pump_with_room(panel, width)}, or one with an inlet bore of {most:.4g} mm, or cut the channels "
            f"{depth:.4g} mm deep",
            has,
            needs,
            "mm2",
            place_at(panel, routed.tank.outlet),
            ("tank", "pump inlet"),
            keep_readable(panel, set_length(depth, "channel", "depth")),
        ),
    )


def check_feed_low(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the pump's inlet is below the tank's outlet as installed (`feed.low`)."""
    if lies_flat(panel):
        return _tell_flat(panel, routed)
    drop = drop_to_inlet(panel, routed)
    if drop > SAME_MM:
        return ()
    stands = f"{-drop:.3g} mm above" if drop < -SAME_MM else "as high as"
    return (
        make_finding(
            "feed.low",
            "fault",
            f"as installed the pump's inlet stands {stands} the tank's outlet, so it is not fed",
            'place the pump under the tank, or correct "up" in [panel]',
            drop,
            0.0,
            "mm",
            place_at(panel, routed.pump.inlet),
            ("pump inlet", "tank"),
            UPRIGHT if routed.tank.outlet[1] > routed.pump.inlet[1] + SAME_MM else (),
        ),
    )


def _tell_flat(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Tell that a panel lying flat does not feed its pump by height.

    A pump under it still stands lower than the pocket, and a separate tank may stand higher: these are cautions.
    """
    deep = f"the tank is only as deep as its pocket, {panel.tank.depth:g} mm"
    under = pump_lies_under(panel)
    if routed.tank.box is None:
        text = "whether its separate tank stands higher than the pump's inlet the file does not say"
    elif under:
        text = f"{deep}, and covers the inlet of the pump under it no longer than it covers its own outlet"
    else:
        text = (
            f"{deep}, and does not stand above the inlet of the pump on top of it, so it is not fed by height"
        )
    return (
        make_finding(
            "feed.low",
            "caution" if under or routed.tank.box is None else "fault",
            f"as installed the panel lies flat: {text}",
            TURN_UPRIGHT
            if routed.tank.box is not None
            else f"set the tank above the panel, or {TURN_UPRIGHT}",
            0.0,
            0.0,
            "mm",
            place_at(panel, routed.pump.inlet),
            ("pump inlet", "tank"),
            UPRIGHT,
        ),
    )


def check_feed_depth(panel: Panel, routed: Routed, flowing: Flowing, feeding: Feeding) -> tuple[Finding, ...]:
    """Ask whether enough coolant stands over the tank's outlet at the cold level (`feed.depth`)."""
    bore, stands = outlet_bore(routed), feeding.cover_mm
    if bore is None or stands is None:
        return ()
    if stands <= BARE_SHARE * bore:
        return (
            make_finding(
                "feed.depth",
                "fault",
                f"filled to its level of {100 * panel.tank.level:.3g} %, the tank leaves its outlet bare: "
                f"{stands:.2g} mm of coolant stands over it, half of its diameter is "
                f"{BARE_SHARE * bore:.2g} mm",
                TURN_UPRIGHT
                if outlet_stands_high(panel, routed)
                else "raise level in [tank], or make the tank taller",
                stands,
                BARE_SHARE * bore,
                "mm",
                place_at(panel, routed.tank.outlet),
                ("tank",),
                UPRIGHT if outlet_stands_high(panel, routed) else (),
            ),
        )
    return _check_vortex(panel, routed, flowing, feeding, bore, stands)


def check_feed_tilt(panel: Panel, routed: Routed, feeding: Feeding) -> tuple[Finding, ...]:
    """Ask whether the panel may be tilted each way before the tank's outlet is bare (`feed.tilt`)."""
    tilts = {
        "to the left": feeding.tilt_left_deg,
        "to the right": feeding.tilt_right_deg,
        "forwards": feeding.tilt_front_deg,
        "backwards": feeding.tilt_back_deg,
    }
    small = [(tilt, way) for way, tilt in tilts.items() if tilt is not None and tilt < LEAST_TILT_DEG]
    if not small:
        return ()
    tilt, way = min(small)
    return (
        make_finding(
            "feed.tilt",
            "caution",
            f"tilted {way} by {tilt:.1f} degrees the panel bares the tank's outlet at the cold level; "
            f"{LEAST_TILT_DEG:g} degrees are asked for",
            TURN_UPRIGHT
            if outlet_stands_high(panel, routed)
            else "raise level in [tank], make the tank taller, or move its outlet away from the wall on the other side",
            tilt,
            LEAST_TILT_DEG,
            "deg",
            place_at(panel, routed.tank.outlet),
            ("tank",),
            UPRIGHT if outlet_stands_high(panel, routed) else (),
        ),
    )


def check_inlet_head(panel: Panel, routed: Routed, feeding: Feeding) -> tuple[Finding, ...]:
    """Ask whether the pump's inlet has the head that it needs (`feed.head`)."""
    available, least = feeding.available_head_m, feeding.least_head_m
    if available is None or least is None or available >= least + LEAST_SPARE_M:
        return ()
    short = available < least
    return (
        make_finding(
            "feed.head",
            "fault" if short else "caution",
            f"the pump's inlet has {show_number(available, 3)} m of head over the coolant's vapour pressure at "
            f"{panel.coolant.temperature_c:g} °C; the pump needs {show_number(least, 3)} m"
            + ("" if short else f" and {LEAST_SPARE_M:g} m to spare"),
            "set the tank higher over the pump, make the feed wider, cool the coolant, or use a pump that needs less",
            available,
            least if short else least + LEAST_SPARE_M,
            "m",
            place_at(panel, routed.pump.inlet),
            ("pump inlet",),
        ),
    )


def check_feed_bore(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the drop from the tank is as wide as the tank's outlet asks for (`feed.bore`)."""
    feed, bore = find_feed(routed), panel.tank.outlet_bore
    if feed is None or bore <= feed.width + SAME_MM:
        return ()
    return (
        make_finding(
            "feed.bore",
            "caution",
            f"the drop from the tank is cut {feed.width:g} mm wide, under the tank's outlet_bore of {bore:g} mm",
            f"{_pump_with_room(panel, bore)}, or lower outlet_bore to {feed.width:g} mm",
            feed.width,
            bore,
            "mm",
            place_at(panel, routed.tank.outlet),
            ("tank", "pump inlet"),
            keep_readable(panel, set_length(feed.width, "tank", "outlet_bore")),
        ),
    )


def _pump_with_room(panel: Panel, width: float) -> str:
    """Return the remedy that makes room for a feed of `width` beside the pump's own outlet."""
    apart = math.hypot(*panel.pump.outlet_offset) + (width - feed_room(panel)) / 2
    apart = math.ceil(apart / WIDTH_STEP - SAME_MM) * WIDTH_STEP
    return f"use a pump whose bores stand {apart:.4g} mm apart or more ([pump] outlet_offset)"


def _check_vortex(
    panel: Panel, routed: Routed, flowing: Flowing, feeding: Feeding, bore: float, stands: float
) -> tuple[Finding, ...]:
    needs = feeding.needs_mm
    if needs is None or stands >= needs:
        return ()
    calm = stands >= CALM_SHARE * bore
    flow = show_number(l_min(flowing.flow_m3_s), 2)
    return (
        make_finding(
            "feed.depth",
            "note" if calm else "caution",
            f"{stands:.0f} mm of coolant stands over the tank's outlet at the filling level; against a "
            f"vortex that draws air {needs:.0f} mm is asked for at {flow} L/min (an upper bound at this size)",
            "set a baffle or vortex breaker over the tank's outlet and accept this with that reason, or make the "
            "tank taller or the feed channel wider",
            stands,
            needs,
            "mm",
            place_at(panel, routed.tank.outlet),
            ("tank",),
        ),
    )


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
