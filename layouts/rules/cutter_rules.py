"""Design rules of milling: ways and corners against the cutters, reach, floors between pockets."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

from geom.features import Detail
from geom.findings import Finding, KeyChange, Severity
from geom.frame import ROUNDING, SAME_MM
from geom.standards import tables
from geom.words import count_of, join_names
from layouts.cures import Cure, join_cures
from layouts.faces import material_of
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_channel_width, set_length, thicken_sheet, write_length
from layouts.milling.cutters import (
    COMMON_SIZES,
    REACH_GOOD,
    REACH_MOST,
    WET_POCKETS,
    cutters_for,
    quiet_radius,
    reach_ratio,
    usable_reach,
)
from layouts.milling.floors import list_floors
from layouts.milling.work import Cutting, Milled, Pocket, Rest, SetUp
from layouts.panel import EndMill, Panel
from layouts.rules.findings import make_finding

DEEP_CORNER = 4.0
"""Depth over the radius of an inner corner up to which it is cut cheaply: milling guides."""

FEASIBLE_FLOOR = {"plastic": 1.0, "metal": 0.5}
"""Floor that can be milled at all, [mm], where the materials table says what is milled without trouble.

https://www.zekes3d.com/basic-design-guide-for-cnc-milling/
"""

_Reaching = tuple["_Cut", EndMill, float, float]
"""A pocket, its finishing cutter, depth in diameters of it, and what the cutter's given reach falls short, [mm]."""

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class _Cut:
    """A pocket with its set-up and what cuts it."""

    setup: SetUp
    pocket: Pocket
    cutting: Cutting


def check_cutter(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether a cutter that may cut a pocket passes its narrowest way (`make.cutter`)."""
    if milled is None:
        return ()
    ways = [rest for rest in milled.rests if rest.width < rest.cutter - SAME_MM]
    worst = _worst_of_each(ways, lambda rest: rest.width)
    kinds = {cut.pocket.name: cut.pocket.kind for cut in _list_cuts(milled)}
    found = []
    for group in _alike(worst, lambda rest: (kinds[rest.pocket], round(rest.width, 2), rest.cutter)):
        rest, kind = group[0], kinds[group[0].pocket]
        names = tuple(one.pocket for one in group)
        cures = _let_through(panel, kind, rest)
        found.append(
            make_finding(
                "make.cutter",
                "fault",
                f"{join_names(names)} {'are' if len(names) > 1 else 'is'} {rest.width:g} mm wide at the narrowest, "
                f"the smallest cutter for {'them' if len(names) > 1 else 'it'} {rest.cutter:g} mm",
                join_cures(cures),
                rest.width,
                rest.cutter,
                "mm",
                rest.at,
                names,
                offer_changes(panel, *cures),
            )
        )
    return tuple(found)


def check_radius(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether the cutters get round every inner corner, and with room (`make.radius`)."""
    if milled is None:
        return ()
    cuts = _list_cuts(milled)
    kinds = {cut.pocket.name: cut.pocket.kind for cut in cuts}
    corners = [rest for rest in milled.rests if rest.width >= rest.cutter - SAME_MM]
    found = []
    for rest in _worst_of_each(corners, lambda rest: rest.radius):
        places = sum(1 for one in corners if one.pocket == rest.pocket)
        more = f", and at {count_of(places - 1, 'other place')}" if places > 1 else ""
        shape = "is sharp" if rest.radius < SAME_MM else f"has a radius of {rest.radius:.3g} mm"
        found.append(
            make_finding(
                "make.radius",
                "fault",
                f"an inner corner of {rest.pocket} {shape}{more}; the {rest.cutter:g} mm cutter leaves "
                f"{rest.cutter / 2:g} mm",
                f"round the corner to {rest.cutter / 2:g} mm or more, or {_smaller(panel, kinds[rest.pocket])}",
                rest.radius,
                rest.cutter / 2,
                "mm",
                rest.at,
                (rest.pocket,),
            )
        )
    for cut in sorted(cuts, key=lambda cut: cut.cutting.tightest):
        found += _note_tight(panel, cut)
    return tuple(found)


def _note_tight(panel: Panel, cut: _Cut) -> list[Finding]:
    """Return the finding on a corner that the finishing cutter fills, or that is tight for its depth."""
    mill, radius = cut.cutting.finish, cut.cutting.tightest
    if mill is None or cut.cutting.tightest_at is None or radius < mill.diameter / 2 - SAME_MM:
        return []
    pocket = cut.pocket
    quiet, deep = quiet_radius(mill, pocket.depth), pocket.depth / DEEP_CORNER
    if radius >= max(quiet, deep) - SAME_MM:
        return []
    loud = radius < quiet - SAME_MM
    limit = quiet if loud else deep
    return [
        make_finding(
            "make.radius",
            "caution" if loud else "note",
            f"the inner radius of {pocket.name} is {radius:.3g} mm, "
            + (
                f"a {mill.diameter:g} mm cutter runs quietly from {limit:.3g} mm"
                if loud
                else f"a quarter of its depth of {pocket.depth:g} mm is {limit:.3g} mm"
            ),
            f"use a larger radius, or {_smaller(panel, pocket.kind)}"
            if loud
            else "use a larger radius, or a shallower pocket: a stiffer cutter then cuts it",
            radius,
            limit,
            "mm",
            cut.cutting.tightest_at,
            (pocket.name,),
        )
    ]


def check_reach(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether the cutters reach the floors (`make.reach`)."""
    if milled is None:
        return ()
    rows: list[_Reaching] = []
    for cut in _list_cuts(milled):
        mill = cut.cutting.finish
        if mill is not None:
            ratio = reach_ratio(mill, cut.pocket.floor)
            short = cut.pocket.floor - (mill.reach if mill.reach is not None else cut.pocket.floor)
            if ratio > REACH_GOOD + ROUNDING or short > SAME_MM:
                rows.append((cut, mill, ratio, short))
    rows.sort(key=lambda row: (-max(row[3], 0.0), -row[2], row[0].pocket.name))
    found = []
    for group in _alike(rows, lambda row: (row[0].pocket.kind, row[0].pocket.floor, row[1])):
        cut, mill, ratio, short = group[0]
        names = tuple(row[0].pocket.name for row in group)
        one = f"{join_names(names)} {'are' if len(names) > 1 else 'is'} {cut.pocket.floor:g} mm deep"
        place = cut.cutting.at
        if short > SAME_MM:
            found.append(
                make_finding(
                    "make.reach",
                    "fault",
                    f"{one}, the {mill.diameter:g} mm cutter reaches {mill.reach:g} mm",
                    _reach_remedy(panel, cut, mill),
                    cut.pocket.floor,
                    mill.reach,
                    "mm",
                    place,
                    names,
                )
            )
            continue
        hard = ratio > REACH_MOST + ROUNDING
        found.append(
            make_finding(
                "make.reach",
                "fault" if hard else "caution",
                f"{one}, {ratio:.1f} diameters of a {mill.diameter:g} mm cutter",
                f"use a wider {cut.pocket.kind} with a larger cutter, a shallower one ({_depth_key(cut.pocket.kind)}), "
                "or a long-reach cutter",
                ratio,
                REACH_MOST if hard else REACH_GOOD,
                "diameters",
                place,
                names,
            )
        )
    return tuple(found)


def check_milled_floors(panel: Panel, detail: Detail, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether floors under pockets, and between pockets of two faces, stand being milled (`make.floor`)."""
    if milled is None:
        return ()
    found = []
    rows = {
        part: tables.material(material_of(panel, part))
        for part in dict.fromkeys(s.part for s in milled.setups)
    }
    most = max((row.least_wall_milled or 0.0 for row in rows.values()), default=0.0)
    for floor in list_floors(detail, milled.setups, most):
        row = rows[floor.part]
        least = row.least_wall_milled
        if least is None or floor.thickness >= least - SAME_MM:
            continue
        hard = floor.thickness < FEASIBLE_FLOOR[row.kind] - SAME_MM
        limit = FEASIBLE_FLOOR[row.kind] if hard else least
        severity: Severity = "fault" if hard else "caution"
        where = (
            f"under {floor.pockets[0]}"
            if len(floor.pockets) == 1
            else f"between {floor.pockets[0]} and {floor.pockets[1]}"
        )
        sheet: Literal["body", "cover"] = "cover" if floor.part != "body" else "body"
        found.append(
            make_finding(
                "make.floor",
                severity,
                f"the floor of the {floor.part} {where} is {floor.thickness:.3g} mm thick over {floor.area:.0f} mm2, "
                f"{row.name} is milled "
                + (f"to {limit:g} mm at the thinnest" if hard else f"without trouble to {limit:g} mm"),
                f"set {sheet} in [make] {least - floor.thickness:.3g} mm thicker, or make one of the pockets shallower",
                floor.thickness,
                limit,
                "mm",
                floor.at,
                floor.pockets,
                keep_readable(panel, thicken_sheet(panel, sheet, least - floor.thickness)),
            )
        )
    return tuple(sorted(found, key=lambda finding: finding.value or 0.0))


def _list_cuts(milled: Milled) -> list[_Cut]:
    return [
        _Cut(setup, pocket, milled.cutting_of(setup.part, setup.face, pocket.name))
        for setup in milled.setups
        for pocket in setup.pockets
    ]


def _worst_of_each(rests: list[Rest], size: Callable[[Rest], float]) -> list[Rest]:
    """Return the worst of what is left in each pocket, the very worst first."""
    worst: dict[str, Rest] = {}
    for rest in sorted(rests, key=size):
        worst.setdefault(rest.pocket, rest)
    return list(worst.values())


def _alike(items: Sequence[Item], key: Callable[[Item], Hashable]) -> list[list[Item]]:
    """Return items in groups of one key, in the order of each group's first."""
    groups: dict[Hashable, list[Item]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return list(groups.values())


def _let_through(panel: Panel, kind: str, rest: Rest) -> list[Cure]:
    """Return what lets a cutter through a way: a smaller one, or a wider way."""
    cutter = Cure(_smaller(panel, kind, rest.width), _list_smaller(panel, kind, rest.width))
    wider = {
        "channel": f'set width = "{rest.cutter:g} mm" or more in [channel]',
        "tank": "set a larger size or no posts in [tank]",
        "groove": "set a thicker cord in [make]",
        "seat": "set a wider seat in [pump]",
    }
    if kind not in wider:
        return [cutter]
    widened = (set_channel_width(None, rest.cutter),) if kind == "channel" else ()
    return [cutter, Cure(wider[kind], widened)]


def _smaller(panel: Panel, kind: str, width: float | None = None) -> str:
    """Return what to write for a smaller cutter, of up to a width where that is given."""
    size = "a smaller one" if width is None else f"one of {width:g} mm or less"
    if kind in WET_POCKETS:
        listed = ", and in cutters of [milling]" if panel.milling.cutters else ""
        return f"set cutter to {size} in [make]{listed}"
    return f"add {size} to cutters in [milling]"


def _list_smaller(panel: Panel, kind: str, width: float) -> tuple[KeyChange, ...]:
    """Return the changes that bring the largest usual cutter of up to a width; none where none is so small."""
    listed = [cutter.diameter for cutter in panel.milling.cutters]
    fitting = [size for size in sorted({*COMMON_SIZES, *listed}) if size <= width + SAME_MM]
    if not fitting:
        return ()
    size = fitting[-1]
    cutter = (set_length(size, "make", "cutter"),) if kind in WET_POCKETS else ()
    if not listed or size in listed:
        return cutter
    return (*cutter, KeyChange(("milling", "cutters", len(listed)), {"diameter": write_length(size)}))


def _depth_key(kind: str) -> str:
    keys = {
        "channel": "depth in [channel]",
        "tank": "depth in [tank]",
        "groove": "cord in [make]",
        "seat": "seat in [pump]",
    }
    return keys.get(kind, "body in [make]")


def _reach_remedy(panel: Panel, cut: _Cut, mill: EndMill) -> str:
    """Return what to write for a pocket that is deeper than its cutter reaches, with the larger one that does."""
    depth = cut.pocket.floor
    larger = [
        cutter
        for cutter in cutters_for(panel, cut.pocket.kind)
        if cutter.diameter > mill.diameter
        and usable_reach(cutter) >= depth - SAME_MM
        and reach_ratio(cutter, depth) <= REACH_MOST + ROUNDING
    ]
    remedy = (
        f"give a {mill.diameter:g} mm cutter with a reach of {depth:g} mm or more in cutters of [milling], or make the "
        f"{cut.pocket.kind} shallower ({_depth_key(cut.pocket.kind)})"
    )
    if not larger:
        return remedy
    return (
        f"{remedy}, or make room for the {larger[0].diameter:g} mm cutter, which reaches it: ways of "
        f"{larger[0].diameter:g} mm and inner corners of {larger[0].diameter / 2:g} mm or more"
    )
