"""Design rules of stock and machine: whether the sheet is large enough, and whether the panel goes under the spindle
as it lies, and as it stands for the bores of its edges."""

from __future__ import annotations

from geom.features import Detail
from geom.findings import Finding
from geom.frame import SAME_MM
from layouts.milling.stock import MARGIN_MM, Upright, list_stock, list_upright, lying_height
from layouts.panel import Panel
from layouts.rules.findings import make_finding


def check_travel(panel: Panel, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether a milled panel fits the machine as it lies on the table (`make.room`).

    It is turned in plan if need be. The outline asks for the cutter's diameter more, the tallest part for its longest
    drill above it.
    """
    if panel.make.method != "milled" or panel.make.room is None:
        return ()
    *plan, height = panel.make.room
    found = list(_check_plan_view(panel, sorted(plan)))
    stocks = list_stock(panel, detail)
    thickest = max(stocks, key=lambda stock: stock.thickness, default=None)
    if thickest is None:
        return tuple(found)
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
    needs, part = max((lying_height(detail, stock.part)[0], stock.part) for stock in stocks)
    _, longest = lying_height(detail, part)
    if needs > height + SAME_MM and longest is not None:
        found.append(
            make_finding(
                "make.room",
                "caution",
                f"the {part} and the drill of {longest.name}, lifted over it, stand {needs:.3g} mm high; the machine's "
                f"travel is {height:g} mm",
                f"drill {longest.name} on a drill press, or use a thinner sheet or a larger machine",
                needs,
                height,
                "mm",
                longest.bore.mouth,
                (longest.name,),
            )
        )
    return tuple(found)


def check_upright(panel: Panel, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether the panel stands under the spindle for the bores of its edges (`make.upright`).

    Nothing is asked where they are drilled on a drill press, or where the file gives no machine.
    """
    if panel.make.method != "milled" or panel.make.room is None or panel.milling.edges == "drill press":
        return ()
    height = panel.make.room[2]
    over = [upright for upright in list_upright(panel, detail) if upright.needed > height + SAME_MM]
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
            worst.bore.bore.mouth,
            tuple(bore_name for upright in over for bore_name in upright.names),
        ),
    )


def check_sheet(panel: Panel, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether the sheet leaves stock round the panel, and whether it has to be sawn first (`make.stock`)."""
    if panel.make.method != "milled" or panel.milling.stock is None:
        return ()
    found = []
    width, height = panel.milling.stock
    spare = min(width - panel.width, height - panel.height) / 2
    if spare < MARGIN_MM - SAME_MM:
        found.append(
            make_finding(
                "make.stock",
                "note",
                f"the sheet of {width:g} x {height:g} mm leaves {max(spare, 0.0):.3g} mm round the panel",
                f"true its edges and clamp it inside the outline, or use a sheet {2 * MARGIN_MM:g} mm wider and "
                "higher than the panel"
                if spare > SAME_MM
                else "its own edges are those of the panel: have it sawn square and to size, and clamp it from above",
                max(spare, 0.0),
                MARGIN_MM,
                "mm",
            )
        )
    if panel.make.room is not None:
        over = [
            (side, travel)
            for side, travel in zip(sorted((width, height)), sorted(panel.make.room[:2]), strict=True)
            if side > travel + SAME_MM
        ]
        if over:
            side, travel = max(over, key=lambda row: row[0] - row[1])
            found.append(
                make_finding(
                    "make.stock",
                    "note",
                    f"the sheet of {width:g} x {height:g} mm is larger than the machine's travel of {travel:g} mm",
                    f"saw it down to {panel.width + 2 * MARGIN_MM:g} x {panel.height + 2 * MARGIN_MM:g} mm first",
                    side,
                    travel,
                    "mm",
                )
            )
    return tuple(found)


def _check_plan_view(panel: Panel, travel: list[float]) -> tuple[Finding, ...]:
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
    round_it = panel.make.cutter
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
