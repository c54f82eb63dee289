"""Design rules of printed roofs, by the plan alone: what must be bridged, and what shaped roofs do to the flow."""

from __future__ import annotations

import math
from dataclasses import replace

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.words import count_of
from layouts.clearance import inlet_section
from layouts.installed import find_feed
from layouts.panel import Panel
from layouts.plan import Channel, Routed
from layouts.printing.poses import PlannedRoof, choose_pose, plan_pose
from layouts.printing.printed import ChannelRoof, Pose, Printed
from layouts.printing.process import process_of
from layouts.printing.roof_shapes import find_roof_place, find_widest_roof, lies_flat
from layouts.printing.tried import WEIGHTY
from layouts.rules.findings import make_finding

DEPTH_STEP = 0.5
"""Depths of channels and thicknesses are advised to this, [mm]."""

WIDTH_STEP = 0.5
"""Widths are advised to this, [mm]."""

TOLD_MM, TOLD_SHARE = 0.05, 0.01
"""A roof that stands no higher than this, [mm], and changes the friction less than this, [-], is as a flat one."""

TILT_DEG = 45.0
"""A tilt at which neither faces nor walls of a panel lean out further than they may."""


def check_bridges(panel: Panel, routed: Routed, printed: Printed | None) -> tuple[Finding, ...]:
    """Ask whether every roof inside prints without support (`print.bridge`).

    Only a closed print has roofs inside: under a cover the channels lie open.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    printed : Printed or None
    """
    if printed is None:
        return ()
    bridge = process_of(panel).bridge
    return tuple(
        make_finding(
            "print.bridge",
            "caution",
            f"printed {printed.pose.name}, the roof over {roof.name} spans {roof.span:.3g} mm, more than {bridge:g} mm",
            ", or ".join(_list_remedies(panel, routed, printed, roof)),
            roof.span,
            bridge,
            "mm",
            roof.at,
            (roof.name,),
        )
        for roof in plan_pose(panel, routed, printed.pose, printed.split).roofs
    )


def note_roofs(panel: Panel, routed: Routed, printed: Printed | None) -> tuple[Finding, ...]:
    """Tell what the shapes of the roofs do to heights and flow (`print.shape`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    printed : Printed or None
    """
    shaped = [roof for roof in (() if printed is None else printed.roofs) if _is_told(roof)]
    if printed is None:
        return ()
    instead = _note_pointed(panel, routed, printed)
    if not shaped:
        return instead
    highest = max(shaped, key=lambda roof: (roof.higher, roof.channel))
    kinds = " or ".join(sorted({roof.kind for roof in shaped}))
    up, down = ("front", "back") if printed.pose.up[2] > 0 else ("back", "front")
    one = len(shaped) == 1
    return (
        *instead,
        make_finding(
            "print.shape",
            "note",
            f"printed {printed.pose.name}, {count_of(len(shaped), 'channel')} with a {kinds} roof "
            f"{'stands' if one else 'stand'} up to {highest.higher:.2g} mm higher than under a flat one of the same "
            f"section; the friction on their straights is {_tell_friction(shaped)} than reckoned with",
            f"print it with the {up} up: with the {down} up these roofs are floors, and the floors roofs",
            highest.higher,
            None,
            "mm",
            find_roof_place(panel, routed.channel(highest.channel), highest, printed.pose),
            tuple(f"channel {roof.channel}" for roof in shaped),
        ),
    )


def _note_pointed(panel: Panel, routed: Routed, printed: Printed) -> tuple[Finding, ...]:
    """Tell of roofs that were to be round and are not: two quarters of a circle do not fit there."""
    pointed = [roof for roof in printed.roofs if roof.kind == "pointed"]
    if panel.printing.roofs != "round" or not pointed:
        return ()
    first = pointed[0]
    return (
        make_finding(
            "print.shape",
            "note",
            f"printed {printed.pose.name}, {count_of(len(pointed), 'channel')} "
            f"{'has' if len(pointed) == 1 else 'have'} a pointed roof where roofs are to be round: a round one needs "
            "more height in the channel or more body over it",
            'make the body thicker or the channel deeper, or set roofs = "pointed" in [printing]',
            float(len(pointed)),
            None,
            "",
            find_roof_place(panel, routed.channel(first.channel), first, printed.pose),
            tuple(f"channel {roof.channel}" for roof in pointed),
        ),
    )


def _is_told(roof: ChannelRoof) -> bool:
    """Return whether a shaped roof changes anything that can be seen or measured."""
    return roof.kind != "flat" and (roof.higher >= TOLD_MM or abs(roof.drop_share - 1.0) >= TOLD_SHARE)


def _tell_friction(shaped: list[ChannelRoof]) -> str:
    """Return what shaped roofs do to the friction that is reckoned with, in words."""
    shares = [(roof.drop_share - 1.0) * 100.0 for roof in shaped]
    low, high = min(shares), max(shares)
    if low < 0.0 < high:
        return f"between {-low:.1f} % less and {high:.1f} % more"
    near, far = (f"{share:.1f}" for share in sorted((abs(low), abs(high))))
    much = near if near == far else f"{near} to {far}"
    return f"{much} % {'more' if high > 0.0 else 'less'}"


def cure_roofs(panel: Panel, routed: Routed, printed: Printed) -> str | None:
    """Return the keys by which, as far as the plan tells, no roof inside is too wide; None where there are none.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    printed : Printed

    Returns
    -------
    str or None
        None too where the plan finds no roof too wide as it is: it cannot tell what the solids have.
    """
    asked, split = panel.printing, printed.split
    if not plan_pose(panel, routed, printed.pose, split).roofs:
        return None
    free = replace(asked, lies_on=None)
    for printing in (replace(asked, roofs="auto"), free, replace(free, roofs="auto")):
        keyed = replace(panel, printing=printing)
        pose = choose_pose(keyed, routed, split)
        there = plan_pose(keyed, routed, pose, split)
        if there.roofs or not there.fits or not there.stands:
            continue
        lies = f'lies_on = "{pose.lies_on}"' if printing.lies_on != asked.lies_on else ""
        roofs = f'roofs = "{printing.roofs}"' if printing.roofs != asked.roofs else ""
        told = f"set {' and '.join(key for key in (lies, roofs) if key)} in [printing]"
        return f"print it {pose.name}: {told}" if lies else told
    return None


def _list_remedies(panel: Panel, routed: Routed, printed: Printed, roof: PlannedRoof) -> list[str]:
    """Return what would make a roof print, each by a key of the file; the easiest first."""
    now = plan_pose(panel, routed, printed.pose, printed.split).rank[:WEIGHTY]
    asked, split = panel.printing, printed.split

    def helps(other: Panel) -> Pose | None:
        pose = choose_pose(other, routed, split)
        return pose if plan_pose(other, routed, pose, split).rank[:WEIGHTY] < now else None

    ways = []
    if asked.roofs == "flat" and helps(replace(panel, printing=replace(asked, roofs="auto"))):
        ways.append('set roofs = "auto" in [printing]')
    if asked.lies_on is not None:
        free = helps(replace(panel, printing=replace(asked, lies_on=None)))
        if free is not None and free.tilt_deg == 0.0:
            ways.append(f'set lies_on = "{free.lies_on}" in [printing]')
    if TILT_DEG not in asked.tilts and helps(replace(panel, printing=replace(asked, tilts=(TILT_DEG,)))):
        ways.append(f'set tilts = ["{TILT_DEG:g} deg"] in [printing]')
    channel = next((c for c in routed.channels if roof.name == f"channel {c.name}"), None)
    if channel is None:
        return [*ways, "close the panel with a cover"]
    shaped = printed.roof_of(channel.name)
    if not lies_flat(printed.pose):
        bridge = process_of(panel).bridge
        return [*ways, f'set depth = "{bridge:g} mm" or less in [channel]']
    if shaped is not None and 0.0 < shaped.short < math.inf:
        body = DEPTH_STEP * math.ceil((panel.make.body + 2 * shaped.short) / DEPTH_STEP - SAME_MM)
        ways.append(f'set body = "{body:g} mm" in [make]')
    narrower = narrow_channel(panel, routed, channel)
    return ways if narrower is None else [*ways, narrower]


def narrow_channel(panel: Panel, routed: Routed, channel: Channel) -> str | None:
    """Return what makes a channel as narrow as a roof may be, by what asks for its width; None where it is.

    Parameters
    ----------
    panel : Panel
        Not printed standing by its file.
    routed : Routed
    channel : Channel
    """
    most = WIDTH_STEP * math.floor(find_widest_roof(panel) / WIDTH_STEP + SAME_MM)
    if channel.width <= most + SAME_MM:
        return None
    if channel.name in dict(panel.channel.own):
        return f'set its width to "{most:g} mm" or less in [channel]'
    if channel is not find_feed(routed) or panel.channel.width > most + SAME_MM:
        grown = "" if panel.channel.widen_to is None else ", where widen_to stops too"
        return f'set width = "{most:g} mm" or less in [channel]{grown}'
    pump, tank = panel.pump, panel.tank
    if tank.outlet_bore > most + SAME_MM and tank.outlet_bore >= pump.inlet_bore:
        return f'set outlet_bore = "{most:g} mm" or less in [tank]'
    if pump.inlet_bore > most + SAME_MM:
        return f"use a pump with an inlet bore of {most:g} mm or less"
    # Narrower alone, its section would fall short of the inlet bore's, which `feed.column` refuses.
    depth = math.ceil(inlet_section(panel) / most / DEPTH_STEP - SAME_MM) * DEPTH_STEP
    return (
        f'set depth = "{depth:g} mm" in [channel], with a thicker body if it needs one, so that the drop keeps the '
        f"inlet bore's section at {most:g} mm"
    )
