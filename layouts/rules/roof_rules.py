"""Design rules of printed roofs, by the plan alone: what must be bridged, and what shaped roofs do to the flow."""

from __future__ import annotations

import math
from dataclasses import replace

from geom.findings import Finding
from geom.frame import SAME_MM
from geom.words import count_of
from layouts.clearance import inlet_section
from layouts.cures import Cure, join_cures
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_channel_width, set_key, set_length
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

SHAPE_ROOFS = Cure('set roofs = "auto" in [printing]', (set_key("auto", "printing", "roofs"),))
"""The way out of roofs that the plan shapes."""

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
    found = []
    for roof in plan_pose(panel, routed, printed.pose, printed.split).roofs:
        ways = _list_ways(panel, routed, printed, roof)
        found.append(
            make_finding(
                "print.bridge",
                "caution",
                f"printed {printed.pose.name}, the roof over {roof.name} spans {roof.span:.3g} mm, more than "
                f"{bridge:g} mm",
                join_cures(ways),
                roof.span,
                bridge,
                "mm",
                roof.at,
                (roof.name,),
                offer_changes(panel, *ways),
            )
        )
    return tuple(found)


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
            keep_readable(panel, set_key("pointed", "printing", "roofs")),
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


def cure_roofs(panel: Panel, routed: Routed, printed: Printed) -> Cure | None:
    """Return the keys by which, as far as the plan tells, no roof inside is too wide; None where there are none.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    printed : Printed

    Returns
    -------
    Cure or None
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
        keys = []
        if printing.lies_on != asked.lies_on:
            keys.append(Cure(f'lies_on = "{pose.lies_on}"', (set_key(pose.lies_on, "printing", "lies_on"),)))
        if printing.roofs != asked.roofs:
            keys.append(Cure(f'roofs = "{printing.roofs}"', (set_key(printing.roofs, "printing", "roofs"),)))
        told = f"set {join_cures(keys, ' and ')} in [printing]"
        laid = printing.lies_on != asked.lies_on
        return Cure(
            f"print it {pose.name}: {told}" if laid else told,
            tuple(change for key in keys for change in key.changes),
        )
    return None


def _list_ways(panel: Panel, routed: Routed, printed: Printed, roof: PlannedRoof) -> list[Cure]:
    """Return what would make a roof print, each by a key of the file; the easiest first."""
    now = plan_pose(panel, routed, printed.pose, printed.split).rank[:WEIGHTY]
    asked, split = panel.printing, printed.split

    def helps(other: Panel) -> Pose | None:
        pose = choose_pose(other, routed, split)
        return pose if plan_pose(other, routed, pose, split).rank[:WEIGHTY] < now else None

    ways = []
    if asked.roofs == "flat" and helps(replace(panel, printing=replace(asked, roofs="auto"))):
        ways.append(SHAPE_ROOFS)
    if asked.lies_on is not None:
        free = helps(replace(panel, printing=replace(asked, lies_on=None)))
        if free is not None and free.tilt_deg == 0.0:
            laid = (set_key(free.lies_on, "printing", "lies_on"),)
            ways.append(Cure(f'set lies_on = "{free.lies_on}" in [printing]', laid))
    if TILT_DEG not in asked.tilts and helps(replace(panel, printing=replace(asked, tilts=(TILT_DEG,)))):
        tilted = (set_key([f"{TILT_DEG:g} deg"], "printing", "tilts"),)
        ways.append(Cure(f'set tilts = ["{TILT_DEG:g} deg"] in [printing]', tilted))
    channel = next((c for c in routed.channels if roof.name == f"channel {c.name}"), None)
    if channel is None:
        return [*ways, Cure("close the panel with a cover")]
    shaped = printed.roof_of(channel.name)
    if not lies_flat(printed.pose):
        bridge = process_of(panel).bridge
        shallow = (set_length(bridge, "channel", "depth"),)
        return [*ways, Cure(f'set depth = "{bridge:g} mm" or less in [channel]', shallow)]
    if shaped is not None and 0.0 < shaped.short < math.inf:
        body = DEPTH_STEP * math.ceil((panel.make.body + 2 * shaped.short) / DEPTH_STEP - SAME_MM)
        ways.append(Cure(f'set body = "{body:g} mm" in [make]', (set_length(body, "make", "body"),)))
    narrower = narrow_channel(panel, routed, channel)
    return ways if narrower is None else [*ways, narrower]


def narrow_channel(panel: Panel, routed: Routed, channel: Channel) -> Cure | None:
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
        own = (set_channel_width(channel.name, most),)
        return Cure(f'set its width to "{most:g} mm" or less in [channel]', own)
    if channel is not find_feed(routed) or panel.channel.width > most + SAME_MM:
        grown = "" if panel.channel.widen_to is None else ", where widen_to stops too"
        stop = () if panel.channel.widen_to is None else (set_length(most, "channel", "widen_to"),)
        return Cure(
            f'set width = "{most:g} mm" or less in [channel]{grown}', (set_channel_width(None, most), *stop)
        )
    pump, tank = panel.pump, panel.tank
    if tank.outlet_bore > most + SAME_MM and tank.outlet_bore >= pump.inlet_bore:
        bore = (set_length(most, "tank", "outlet_bore"),)
        return Cure(f'set outlet_bore = "{most:g} mm" or less in [tank]', bore)
    if pump.inlet_bore > most + SAME_MM:
        return Cure(f"use a pump with an inlet bore of {most:g} mm or less")
    # Narrower alone, its section would fall short of the inlet bore's, which `feed.column` refuses.
    depth = math.ceil(inlet_section(panel) / most / DEPTH_STEP - SAME_MM) * DEPTH_STEP
    return Cure(
        f'set depth = "{depth:g} mm" in [channel], with a thicker body if it needs one, so that the drop keeps the '
        f"inlet bore's section at {most:g} mm",
        (set_length(depth, "channel", "depth"),),
    )
