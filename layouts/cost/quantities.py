"""What goes into a panel, counted: sheets, cord, screws, fittings, coolant, hours.

Nothing is guessed at: what the file gives no price for has none. The pump and the parts outside of the panel are not
on the sheet.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping

from geom.standards import tables
from geom.words import join_names
from layouts.closing.gland import cut_length, scarf_allowance
from layouts.cost.parts import PartMass, weigh_parts
from layouts.cost.print_time import PrintTime, estimate_print
from layouts.cost.sheet import CostItem, CostSheet
from layouts.faces import COVERS
from layouts.panel import Prices
from layouts.plan import SHUT_ROLES, Plan
from layouts.printing.split_features import PIN_DIAMETER, PIN_LENGTH
from layouts.printing.split_ring import ring_cut_length
from layouts.strength.fastening import fasten_plan
from layouts.strength.results import Fastening

MM3_PER_CM3 = 1e3
NO_PRICES = Prices("")


def cost_sheet(plan: Plan, solids_mm3: Mapping[str, float] | None = None) -> CostSheet:
    """Return the cost sheet of a panel.

    Parameters
    ----------
    plan : Plan
    solids_mm3 : mapping of str to float, optional
        Part to the measured volume of its solid, [mm3]; the plan's volumes are taken without it.

    Returns
    -------
    CostSheet
    """
    prices = plan.panel.prices or NO_PRICES
    parts = weigh_parts(plan.panel, plan.detail, plan.milled, solids_mm3 or {})
    printing = time_print(plan, parts)
    items = (
        *_list_material(plan, prices, parts),
        *_list_hours(plan, prices, printing),
        *_list_cord(plan, prices),
        *_list_screws(plan, prices),
        *_list_fittings(plan, prices),
        *_list_coolant(plan, prices),
    )
    milling = plan.milled.assumptions if plan.milled is not None and plan.milled.minutes > 0 else ()
    printed = () if printing is None else printing.assumptions
    return CostSheet(items, prices.currency, (*printed, *milling))


def _list_material(plan: Plan, prices: Prices, parts: tuple[PartMass, ...]) -> Iterator[CostItem]:
    for part in parts:
        each = _price_of(plan, prices, part)
        stock = part.stock
        if stock is not None:
            size = f"{part.material}, {stock.width:g} x {stock.height:g} x {stock.thickness:g} mm"
            yield CostItem(f"stock {part.part}", size, part.stock_kg, "kg", True, each)
            yield CostItem(f"finished {part.part}", _told(part), part.mass_kg, "kg", False)
        else:
            yield CostItem(
                f"print {part.part}",
                f"{part.material}, solid, {_told(part)}; support not counted",
                part.mass_kg,
                "kg",
                True,
                each,
            )
    if plan.milled is not None and plan.milled.removed_mm3 > 0:
        inside, around = plan.milled.removed_mm3 / MM3_PER_CM3, plan.milled.outline_mm3 / MM3_PER_CM3
        what = f"chips: {inside:.1f} cm3 of the parts, {around:.1f} round them"
        yield CostItem("removed", what, inside + around, "cm3", False)
    printed = math.fsum(part.volume_mm3 for part in parts if part.stock is None)
    if printed > 0:
        yield CostItem("printed", "volume of all printed parts", printed / MM3_PER_CM3, "cm3", False)
    area = math.fsum(lands.area_mm2 for lands in plan.sealed.lands)
    if area > 0:
        yield CostItem("bond", "adhesive for all lands", area / 100, "cm2")


def _told(part: PartMass) -> str:
    return "from the solid" if part.measured else "from the plan"


def _price_of(plan: Plan, prices: Prices, part: PartMass) -> float | None:
    """Return the price of a part's material, a kilogram; None for another than the body's that has none of its own."""
    if part.part in COVERS and prices.cover_material_per_kg is not None:
        return prices.cover_material_per_kg
    return prices.material_per_kg if part.material == plan.panel.make.material else None


def time_print(plan: Plan, parts: tuple[PartMass, ...]) -> PrintTime | None:
    """Return how long the printed parts of a panel take; None where it is milled.

    Parameters
    ----------
    plan : Plan
    parts : tuple of PartMass
        All of the panel.
    """
    if plan.printed is None:
        return None
    printed = {part.part: part.volume_mm3 for part in parts if part.stock is None}
    blanks = [blank for blank in plan.detail.blanks if blank.name in printed]
    return estimate_print(plan.panel, blanks, math.fsum(printed.values()), plan.printed.pose.up)


def _list_hours(plan: Plan, prices: Prices, printing: PrintTime | None) -> Iterator[CostItem]:
    if printing is not None:
        band = f"printing, within {100 * printing.band:.0f} %"
        yield CostItem("machine", band, printing.hours, "h", True, prices.machine_per_h)
    if plan.milled is not None and plan.milled.minutes > 0:
        # The price of an hour is that of the machine that makes the body.
        item, each = ("machine", prices.machine_per_h) if printing is None else ("mill", None)
        yield CostItem(item, "milling and drilling, estimated", plan.milled.minutes / 60, "h", True, each)


def _list_cord(plan: Plan, prices: Prices) -> Iterator[CostItem]:
    split = None if plan.printed is None else plan.printed.split
    if plan.sealed.loops:
        cord = tables.cord(plan.panel.make.cord)
        # One that is butted against another has no splice.
        length = math.fsum(
            cut_length(loop, cord)[1] + (scarf_allowance(cord) if loop.closed else 0.0)
            for loop in plan.sealed.loops
        )
        count = len(plan.sealed.loops)
        what = f"{cord.section:g} mm, {count} {'piece' if count == 1 else 'pieces'} with their splices"
        yield CostItem("cord", what, length / 1e3, "m", True, prices.cord_per_m)
    if split is not None and split.cord > 0 and split.crossings:
        _, ring = ring_cut_length(split)
        count = len(split.crossings)
        what = f"{split.cord:g} mm, {count} {'ring' if count == 1 else 'rings'} of the split's joint"
        yield CostItem("cord rings", what, count * ring / 1e3, "m", True, prices.cord_per_m)


def _list_screws(plan: Plan, prices: Prices) -> Iterator[CostItem]:
    fastened = fasten_plan(plan)
    screws = Counter[str]()
    washers, inserts = Counter[str](), Counter[str]()
    for one in fastened:
        screws[_size(one)] += len(one.loads_n)
        if one.washer:
            washers[f"{one.screw}, {one.washer:g} mm, {one.washer_standard}"] += len(one.loads_n)
        if one.insert is not None:
            inserts[one.insert] += len(one.loads_n)
    for size, count in screws.items():
        yield CostItem("cover screws", size, count, "pcs", True, prices.screw_each)
    for size, count in washers.items():
        yield CostItem("washers", size, count, "pcs")
    for size, count in inserts.items():
        yield CostItem("inserts", size, count, "pcs", True, prices.insert_each)
    pump = len(plan.routed.pump.screws)
    if plan.panel.pump.screw_size is not None and pump:
        what = f"{plan.panel.pump.screw_size}, length by the pump's flange"
        yield CostItem("pump screws", what, pump, "pcs", True, prices.screw_each)
    split = None if plan.printed is None else plan.printed.split
    if split is not None and split.screw is not None:
        what = f"{split.screw.name} x {split.screw.length:g}"
        yield CostItem("joint screws", what, len(split.screws), "pcs", True, prices.screw_each)
        if split.screw.washer:
            what = f"{split.screw.name}, {split.screw.washer:g} mm"
            yield CostItem("joint washers", what, len(split.screws), "pcs")
        if split.pins:
            yield CostItem("joint pins", f"{PIN_DIAMETER:g} x {PIN_LENGTH:g} mm", len(split.pins), "pcs")


def _size(one: Fastening) -> str:
    return one.screw if one.length is None else f"{one.screw} x {one.length:g}"


def _list_fittings(plan: Plan, prices: Prices) -> Iterator[CostItem]:
    each = dict(prices.fitting_each)
    counted = Counter(port.thread for port in plan.routed.ports)
    shut = [port for port in plan.routed.ports if port.is_shut]
    for name in tables.thread_names():
        if counted[name]:
            roles = [role for role in SHUT_ROLES for port in shut if (port.role, port.thread) == (role, name)]
            plugs = f", {len(roles)} of them {join_names([*dict.fromkeys(roles)])}" if roles else ""
            yield CostItem(
                f"fittings {name}", f"for {name} ports{plugs}", counted[name], "pcs", True, each.get(name)
            )


def _list_coolant(plan: Plan, prices: Prices) -> Iterator[CostItem]:
    feeding = plan.advised.feeding
    whole = (feeding.tank_ml + feeding.loop_ml) / 1e3
    if whole > 0:
        more = "at least: not every volume is given" if feeding.unknown_parts else "loop, parts and hoses"
        coolant = plan.panel.coolant
        fluid = coolant.fluid + (f" {100 * coolant.mass_fraction:g} %" if coolant.mass_fraction > 0 else "")
        yield CostItem("coolant", f"{fluid}, {more}", whole, "L", True, prices.coolant_per_l)
