"""Design rules of stock and machine: whether the sheet is large enough, and whether the panel goes under the spindle
as it lies, and as it stands for the bores of its edges."""

from __future__ import annotations

import math

from geom.features import Detail
from geom.findings import Finding, KeyChange
from geom.frame import ROUNDING, SAME_MM, Vec
from geom.words import join_names
from layouts.file.offers import keep_readable
from layouts.file_changes import set_key, set_length, set_stock
from layouts.milling.cutters import REACH_GOOD, REACH_MOST, reach_ratio, usable_reach
from layouts.milling.frame import plane_of
from layouts.milling.stock import (
    RIM_MM,
    Upright,
    choose_outline_mill,
    list_upright,
    lying_height,
    outline_mill_of,
)
from layouts.milling.work import Milled, SetUp
from layouts.panel import EndMill, Panel
from layouts.rules.findings import make_finding


def check_travel(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether a milled panel fits the machine as it lies on the table (`make.room`).

    It is turned in plan if need be. The outline asks for its cutter's diameter more, the tallest part for its longest
    drill above it.
    """
    # The room of a printed panel is its printer's.
    if milled is None or panel.make.method != "milled" or panel.make.room is None:
        return ()
    *plan, height = panel.make.room
    found = list(_check_plan_view(panel, milled, sorted(plan)))
    thickest = max(milled.stocks, key=lambda stock: stock.thickness)
    if thickest.thickness > height + SAME_MM:
        found.append(
            make_finding(
                "make.room",
                "fault",
                f"the {thickest.part} is {thickest.thickness:g} mm thick and does not go under the spindle, whose "
                f"travel is {height:g} mm",
                "use a thinner sheet, or a larger machine",
                thickest.thickness,
                height,
                "mm",
            )
        )
        return tuple(found)
    tallest = max(milled.stocks, key=lambda stock: lying_height(milled, stock)[0])
    needs, longest = lying_height(milled, tallest)
    if needs > height + SAME_MM and longest is not None:
        found.append(
            make_finding(
                "make.room",
                "caution",
                f"the {tallest.part} and the drill of {longest.name}, lifted over it, stand {needs:.3g} mm high; the "
                f"machine's travel is {height:g} mm",
                f"drill {longest.name} on a drill press, or use a thinner sheet or a larger machine",
                needs,
                height,
                "mm",
                longest.bore.mouth,
                (longest.name,),
            )
        )
    return tuple(found)


def check_upright(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether the panel stands under the spindle for the bores of its edges (`make.upright`).

    Nothing is asked where they are drilled on a drill press, or where the file gives no machine.
    """
    if milled is None or panel.make.method != "milled" or panel.make.room is None:
        return ()
    if panel.milling.edges == "drill press":
        return ()
    height = panel.make.room[2]
    over = [upright for upright in list_upright(panel, milled) if upright.needed > height + SAME_MM]
    if not over:
        return ()
    worst = max(over, key=lambda upright: upright.needed)
    edges = " and ".join(f"the {upright.face}" for upright in over)
    return (
        make_finding(
            "make.upright",
            "caution",
            f"for its bores in {edges} the panel stands on edge: {_sum_up(worst)} ask for {worst.needed:.3g} mm under "
            f"the spindle, the machine has {height:g} mm",
            'set edges = "drill press" in [milling] and drill them there, or hold the panel upright beside the table, '
            "over its edge",
            worst.needed,
            height,
            "mm",
            worst.hole.bore.mouth,
            tuple(name for upright in over for name in upright.names),
            keep_readable(panel, set_key("drill press", "milling", "edges")),
        ),
    )


def check_outline_reach(panel: Panel, detail: Detail, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether a cutter at hand reaches through each sheet where parts are cut out of it (`make.reach`)."""
    if milled is None:
        return ()
    short, long = [], []
    for setup in milled.setups:
        if setup.outline is not None:
            mill = choose_outline_mill(panel, setup, milled.cuttings)
            if usable_reach(mill) < setup.height - SAME_MM:
                short.append((setup, mill))
            elif reach_ratio(mill, setup.height) > REACH_GOOD + ROUNDING:
                long.append((setup, mill))
    return (*_tell_short(panel, detail, short), *_tell_long(panel, detail, long))


def _tell_long(panel: Panel, detail: Detail, over: list[tuple[SetUp, EndMill]]) -> tuple[Finding, ...]:
    """Return the finding on cutters that are long for the sheets which they go through, as in pockets."""
    if not over:
        return ()
    setup, mill = max(over, key=lambda row: reach_ratio(row[1], row[0].height))
    ratio = reach_ratio(mill, setup.height)
    hard = ratio > REACH_MOST + ROUNDING
    diameter = math.ceil(setup.height / REACH_GOOD - SAME_MM)
    return (
        make_finding(
            "make.reach",
            "fault" if hard else "caution",
            f"the cut round {join_names(tuple(f'the {one.part}' for one, _ in over))} is {setup.height:g} mm deep, "
            f"{ratio:.1f} diameters of a {mill.diameter:g} mm cutter",
            f"give a cutter of {diameter:g} mm or more that reaches {setup.height:g} mm in cutters of [milling], or "
            f"{_sawn_remedy(panel)}",
            ratio,
            REACH_MOST if hard else REACH_GOOD,
            "diameters",
            _beside_part(detail, setup),
            changes=_saw_to_size(panel),
        ),
    )


def _tell_short(panel: Panel, detail: Detail, over: list[tuple[SetUp, EndMill]]) -> tuple[Finding, ...]:
    """Return the finding on sheets that no cutter reaches through."""
    if not over:
        return ()
    setup, mill = max(over, key=lambda row: row[0].height)
    parts = tuple(f"the {one.part}" for one, _ in over)
    return (
        make_finding(
            "make.reach",
            "fault",
            f"no cutter at hand reaches through the sheet round {join_names(parts)}: {setup.height:g} mm; the "
            f"{mill.diameter:g} mm cutter reaches {usable_reach(mill):g} mm",
            f"give a cutter with a reach of {setup.height:g} mm or more in cutters of [milling], or "
            f"{_sawn_remedy(panel)}",
            setup.height,
            usable_reach(mill),
            "mm",
            _beside_part(detail, setup),
            changes=_saw_to_size(panel),
        ),
    )


def _saw_to_size(panel: Panel) -> tuple[KeyChange, ...]:
    """Return what `_sawn_remedy` says as changes to the file."""
    return keep_readable(
        panel,
        set_stock(panel.width, panel.height),
        set_length(0.0, "panel", "corner_radius"),
    )


def _sawn_remedy(panel: Panel) -> str:
    sheet = f'stock = ["{panel.width:g} mm", "{panel.height:g} mm"] in [milling]'
    return f'buy the sheets sawn to size, with square corners: {sheet}, corner_radius = "0 mm" in [panel]'


def check_sheet(panel: Panel, milled: Milled | None) -> tuple[Finding, ...]:
    """Ask whether the sheet leaves stock round the panel, and whether it has to be sawn first (`make.stock`)."""
    if milled is None or panel.milling.stock is None:
        return ()
    found = []
    width, height = panel.milling.stock
    cutter = outline_mill_of(milled) or 0.0
    margin = cutter + RIM_MM
    spare = min(width - panel.width, height - panel.height) / 2
    if cutter and spare < margin - SAME_MM:
        found.append(
            make_finding(
                "make.stock",
                "note",
                f"the sheet of {width:g} x {height:g} mm leaves {max(spare, 0.0):.3g} mm round the panel, "
                f"too little for a {cutter:g} mm cutter and a rim to hold it by",
                f"true its edges and clamp it inside the outline, or use a sheet {2 * margin:g} mm wider and "
                "higher than the panel"
                if spare > SAME_MM
                else "its own edges are those of the panel: have it sawn square and to size, and clamp it from above",
                max(spare, 0.0),
                margin,
                "mm",
                changes=keep_readable(panel, set_stock(panel.width + 2 * margin, panel.height + 2 * margin))
                if spare > SAME_MM
                else (),
            )
        )
    if panel.make.room is not None and panel.make.method == "milled":
        over = [
            (side, travel)
            for side, travel in zip(sorted((width, height)), sorted(panel.make.room[:2]), strict=True)
            if side > travel + SAME_MM
        ]
        least = sorted((panel.width, panel.height))
        room = sorted(panel.make.room[:2])
        # Where the panel itself is too large, `make.room` tells.
        if over and all(side <= travel + SAME_MM for side, travel in zip(least, room, strict=True)):
            side, travel = max(over, key=lambda row: row[0] - row[1])
            down = [min(one + 2 * margin, most) for one, most in zip(least, room, strict=True)]
            sawn = down if panel.width <= panel.height else down[::-1]
            found.append(
                make_finding(
                    "make.stock",
                    "note",
                    f"the sheet of {width:g} x {height:g} mm is larger than the machine's travel of {travel:g} mm",
                    f"saw it down to {down[1]:g} x {down[0]:g} mm first",
                    side,
                    travel,
                    "mm",
                    changes=keep_readable(panel, set_stock(*sawn)),
                )
            )
    return tuple(found)


def _beside_part(detail: Detail, setup: SetUp) -> Vec:
    """Return the middle of a part's lower side, where the cut round it comes out of the sheet, [mm]."""
    plane = plane_of(next(blank for blank in detail.blanks if blank.name == setup.part), setup.face)
    return plane.to_panel((setup.size[0] / 2, 0.0, setup.height))


def _check_plan_view(panel: Panel, milled: Milled, travel: list[float]) -> tuple[Finding, ...]:
    """Return what is wrong with the sides of the panel: too long for the travel, or for a cutter to go round them."""
    sides = sorted((panel.width, panel.height))
    over = [(side, room) for side, room in zip(sides, travel, strict=True) if side > room + SAME_MM]
    if over:
        side, room = max(over, key=lambda row: row[0] - row[1])
        return (
            make_finding(
                "make.room",
                "fault",
                f"a side of {side:g} mm does not fit the machine's {room:g} mm",
                "make the panel smaller, or use a larger machine",
                side,
                room,
                "mm",
            ),
        )
    round_it = outline_mill_of(milled) or 0.0
    tight = [
        (side + round_it, room)
        for side, room in zip(sides, travel, strict=True)
        if side + round_it > room + SAME_MM
    ]
    if not tight:
        return ()
    needs, room = max(tight, key=lambda row: row[0] - row[1])
    return (
        make_finding(
            "make.room",
            "caution",
            f"to go round a side of {needs - round_it:g} mm a {round_it:g} mm cutter travels {needs:g} mm; the machine "
            f"has {room:g} mm",
            "buy the sheets sawn to size, move them once for the outline, or use a larger machine",
            needs,
            room,
            "mm",
        ),
    )


def _sum_up(upright: Upright) -> str:
    return (
        f"{upright.standing:g} mm of panel, {upright.drill:.3g} mm of drill and {upright.chuck:g} mm of chuck"
    )
