"""Design rules of prints in liquid resin: it must run out of every hollow."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from geom.features import Cylinder, Detail, Feature
from geom.findings import Finding
from geom.frame import SAME_MM
from geom.printing.hollows import Cavity
from geom.units import show_number
from layouts.faces import joints_of, layer_z
from layouts.panel import Panel
from layouts.plan import Channel, Routed, Run
from layouts.printing.process import process_of
from layouts.rules.findings import make_finding

DEAD_WIDTHS = 2.0
"""A channel's end further than this many widths from any way out keeps resin; common practice, no source."""


def check_drain_paths(panel: Panel, routed: Routed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether liquid resin leaves every closed channel (`print.drain`): two openings, no dead ends.

    Under a cover the channels lie open until it is put on.
    """
    if not _prints_resin(panel) or joints_of(panel):
        return ()
    wide = process_of(panel).drain_bore
    found = []
    for region in dict.fromkeys(f.region for f in detail.features if f.region):
        mine = [f for f in detail.features if f.region == region]
        open_bores = [(f, bore) for f in mine if (bore := _opening(f)) is not None]
        enough = [f for f, bore in open_bores if 2 * bore.radius >= wide - SAME_MM]
        if len(enough) >= 2:
            continue
        first = open_bores[0][1].mouth if open_bores else None
        found.append(
            make_finding(
                "print.drain",
                "caution",
                f"{_channels(mine)} has {_count(len(enough))} of {wide:g} mm or more: resin leaves through one "
                "only while air comes in through another",
                "add a port or a drain at its other end, or use wider bores",
                float(len(enough)),
                2.0,
                "openings",
                first,
                tuple(f.name for f in mine if f.kind in ("channel", "tank")),
            )
        )
    return (*found, *_find_dead_ends(panel, routed, detail))


def check_cavities(panel: Panel, part: str, cavities: Sequence[Cavity]) -> tuple[Finding, ...]:
    """Ask whether anything is shut in inside a part (`print.cavity`).

    Parameters
    ----------
    panel : Panel
    part : str
        The part's name.
    cavities : sequence of Cavity
        From `geom.printing.find_hollows`.
    """
    return tuple(
        make_finding(
            "print.cavity",
            "fault" if _prints_resin(panel) else "caution",
            f"the {part} has a closed cavity of {show_number(cavity.volume, 3)} mm3"
            + (": the resin in it never comes out" if _prints_resin(panel) else ""),
            "lead an opening into it, or fill it",
            cavity.volume,
            0.0,
            "mm3",
            cavity.at,
            (part,),
        )
        for cavity in cavities
    )


def _find_dead_ends(panel: Panel, routed: Routed, detail: Detail) -> tuple[Finding, ...]:
    """Tell the ends of runs that lead nowhere and are far from any way out."""
    outlets = [
        (shapely.Point(bore.mouth[:2]) if abs(bore.direction[2]) > 0.5 else _plan_axis(bore)).buffer(
            bore.radius
        )
        for feature in detail.features
        if (bore := _opening(feature)) is not None
    ]
    tank = routed.tank.box
    if tank is not None:
        outlets.append(shapely.box(*tank))
    found = []
    for channel in routed.channels:
        for run in channel.runs:
            ways = [*outlets, *_other_runs(routed, channel, run)]
            line = shapely.LineString(run.points)
            for end, path in ((run.points[0], line), (run.points[-1], line.reverse())):
                off = _way_out(path, ways, channel)
                if off <= DEAD_WIDTHS * channel.width + SAME_MM:
                    continue
                found.append(
                    make_finding(
                        "print.drain",
                        "caution",
                        f"channel {channel.name} ends {show_number(off, 3)} mm from its nearest way out: resin stays "
                        "in it",
                        "end the channel at a port, or lead a bore into its end",
                        off,
                        DEAD_WIDTHS * channel.width,
                        "mm",
                        (*end, sum(layer_z(panel, run.layer)) / 2),
                        (f"channel {channel.name}",),
                    )
                )
    return tuple(found)


def _way_out(path: shapely.LineString, ways: Sequence[shapely.Geometry], channel: Channel) -> float:
    """Return how far along a path from its start the channel meets anything that opens it, [mm]."""
    offs = [
        path.project(shapely.Point(point))
        for way in ways
        for point in shapely.get_coordinates(path.intersection(way.buffer(channel.width / 2)))
    ]
    return min(offs, default=path.length)


def _other_runs(routed: Routed, channel: Channel, run: Run) -> list[shapely.Geometry]:
    """Return the middles of what a run may meet: the other runs, of its channel and of others, and its holes."""
    return [
        *(
            shapely.LineString(other.points)
            for each in routed.channels
            for other in each.runs
            if other is not run and other.layer == run.layer
        ),
        *(shapely.Point(hole) for hole in channel.holes),
    ]


def _opening(feature: Feature) -> Cylinder | None:
    """Return a wet bore that opens an outer face; None for anything else."""
    wet = feature.medium == "wet" and feature.opens
    return feature.shape if wet and isinstance(feature.shape, Cylinder) else None


def _plan_axis(bore: Cylinder) -> shapely.LineString:
    x, y, _ = bore.mouth
    return shapely.LineString(
        [(x, y), (x + bore.length * bore.direction[0], y + bore.length * bore.direction[1])]
    )


def _channels(features: Sequence[Feature]) -> str:
    return next((f.name for f in features if f.kind in ("channel", "tank")), features[0].name)


def _count(openings: int) -> str:
    return {0: "no opening", 1: "one opening"}[openings]


def _prints_resin(panel: Panel) -> bool:
    return panel.make.method == "printed" and panel.printing.process == "resin"
