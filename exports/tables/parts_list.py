"""The parts list: everything that one panel takes, with counts, sizes and cut lengths, as rows and as CSV.

What the cost sheet counts too is taken from it, so that both say the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from exports.tables.cost_tables import show_quantity, write_csv
from exports.wording.closing_work import HEAD
from exports.wording.cord_names import cord_tag, name_rounds
from exports.wording.figures import show_mm
from geom.standards import tables
from geom.units import l_min, show_ml, show_number
from geom.words import count_of, ends_within, join_names
from layouts.closing.bond import squeezed_ml
from layouts.closing.gland import cut_length, scarf_allowance
from layouts.cost.quantities import cost_sheet
from layouts.cost.sheet import CostItem, CostSheet
from layouts.faces import material_of
from layouts.leak_test import find_gauge_port, group_test_plugs
from layouts.plan import CordLoop, PlacedPort, Plan
from layouts.printing.split_ring import ring_cut_length

COLUMNS = (
    "number",
    "item",
    "size",
    "material",
    "count",
    "unit",
    "cut_length_least_mm",
    "cut_length_most_mm",
    "for",
    "note",
)
"""Of parts.csv, in this order; lengths in mm, other units beside their counts."""

COUNTED = ("cover screws", "washers", "inserts", "pump screws", "joint screws", "joint washers", "joint pins")
"""Items of the cost sheet that are rows here as they are."""

COVER_SCREW, COVER_WASHER, INSERT = "cover screw", "washer under each cover screw", "threaded insert"
"""What is at each cover screw: the drawing finds its numbers by these names."""

FITTING, PLUG, VENTED_PLUG = "fitting", "plug", "vented plug"
"""What is screwed into a port in use."""

OUTSIDE = "outside the panel"
"""Use of the parts that coolant passes."""

SINGULAR = {
    "cover screws": COVER_SCREW,
    "washers": COVER_WASHER,
    "inserts": INSERT,
    "pump screws": "pump screw",
    "joint screws": "screw of the split",
    "joint washers": "washer under each screw of the split",
    "joint pins": "pin of the split",
}


VENTED = "its breather lets air through and holds coolant back; never a tight one"
"""Of what closes the tank: all checks of strength take the tank as open to the air."""

CUT_TUBE = "cut square, to within 1 mm"
"""Of tubes; common practice, no source."""

UNKNOWN = "volume not known"
"""Where the file does not tell it."""


@dataclass(frozen=True, slots=True)
class PartRow:
    """One row.

    Parameters
    ----------
    item : str
        What it is: "body", "cord 3", "cover screw".
    size : str
        Dimensions with their units, or thread.
    count : str
        As it is told.
    unit : str
        "pcs", "L", "m".
    material : str
        Empty where it is whatever is bought.
    cut : (float, float) or None
        Least and greatest length that it is cut to, [mm].
    use : str
        Where it goes.
    note : str
        What to mind.
    """

    item: str
    size: str
    count: str
    unit: str = "pcs"
    material: str = ""
    cut: tuple[float, float] | None = None
    use: str = ""
    note: str = ""

    @property
    def cut_shown(self) -> tuple[str, ...]:
        """Least and greatest length with the digits that count; one where both are told alike, none where uncut."""
        return () if self.cut is None else ends_within(*self.cut)


def list_parts(plan: Plan, cost: CostSheet | None = None) -> tuple[PartRow, ...]:
    """Return everything that one panel takes, in the order in which it is used.

    Parameters
    ----------
    plan : Plan
    cost : CostSheet, optional
        That of the plan alone without it.

    Returns
    -------
    tuple of PartRow
        Fittings at the parts' own ports are not among them.
    """
    costs = cost or cost_sheet(plan)
    items = {item.item: item for item in costs.items}
    return (
        *_list_blanks(plan, items),
        *_list_cords(plan, items),
        *_list_bond(plan),
        *_list_counted(costs.items),
        *_list_fittings(plan),
        *_list_tubes(plan),
        *_list_bought(plan),
        *_list_coolant(items),
    )


def parts_csv(plan: Plan, cost: CostSheet | None = None) -> str:
    """Return the parts list as CSV text.

    Parameters
    ----------
    plan : Plan
    cost : CostSheet, optional
    """
    return write_csv(
        [COLUMNS, *(csv_row(number, row) for number, row in enumerate(list_parts(plan, cost), 1))]
    )


def csv_row(number: int, row: PartRow) -> tuple[str, ...]:
    """Return the cells of a row, one for each of `COLUMNS`."""
    cut = row.cut_shown
    least, most = (cut[0], cut[-1]) if cut else ("", "")
    return str(number), row.item, row.size, row.material, row.count, row.unit, least, most, row.use, row.note


def name_cord(loop: CordLoop) -> str:
    """Return the item of one cord: "cord 3"."""
    return f"cord {cord_tag(loop)}"


def name_closure(port: PlacedPort) -> str:
    """Return the item that is screwed into a port in use: `FITTING`, `PLUG` or `VENTED_PLUG`."""
    if not port.is_shut:
        return FITTING
    return VENTED_PLUG if port.role == "fill" else PLUG


def is_pump(row: PartRow) -> bool:
    """Return whether a row is the pump's own."""
    return row.item == "pump" or row.item.startswith('pump "')


def _list_blanks(plan: Plan, items: dict[str, CostItem]) -> Iterator[PartRow]:
    stocks = {stock.part: stock for stock in (() if plan.milled is None else plan.milled.stocks)}
    for blank in plan.detail.blanks:
        points = [point for piece in blank.loop for point in (piece.start, piece.end)]
        sides = [max(p[k] for p in points) - min(p[k] for p in points) for k in (0, 1)]
        size = f"{show_mm(sides[0])} x {show_mm(sides[1])} x {show_mm(blank.z1 - blank.z0)} mm"
        stock = stocks.get(blank.name)
        finished = items.get(f"finished {blank.name}" if stock else f"print {blank.name}")
        weighs = "" if finished is None else f"weighs {show_quantity(finished)} kg"
        if stock is not None:
            sheet = f"from a sheet of {show_mm(stock.width)} x {show_mm(stock.height)} x {show_mm(stock.thickness)} mm"
            note = f"{sheet}; {weighs}" if weighs else sheet
        else:
            note = f"printed solid; {weighs}" if weighs else "printed solid"
        yield PartRow(blank.name, size, "1", material=material_of(plan.panel, blank.name), note=note)


def _list_cords(plan: Plan, items: dict[str, CostItem]) -> Iterator[PartRow]:
    if plan.sealed.loops:
        cord = tables.cord(plan.panel.make.cord)
        section, band = f"{show_mm(cord.section)} mm", f"(±{show_mm(cord.tolerance)} mm)"
        rubber, rounds = "rubber, 70 Shore A", name_rounds(plan.sealed)
        whole = items["cord"]
        in_all = (
            f"in all; each splice at 45 degrees takes {show_mm(scarf_allowance(cord))} mm more than its piece"
        )
        yield PartRow(
            "cord",
            f"{section} {band}",
            show_quantity(whole),
            whole.unit,
            rubber,
            note=in_all,
        )
        for loop in plan.sealed.loops:
            if loop.closed:
                note = "cut from it"
            else:
                note = "cut from it, square; trimmed until both ends just touch the cords beside it"
            joint = "" if plan.panel.channel.layers == 1 else f", joint at the {loop.layer}"
            yield PartRow(
                name_cord(loop),
                section,
                "1",
                material=rubber,
                cut=cut_length(loop, cord),
                use=f"{loop.name}, round {rounds[loop.name]}{joint}",
                note=note,
            )
    split = None if plan.printed is None else plan.printed.split
    if split is not None and split.cord > 0 and split.crossings:
        yield PartRow(
            "cord ring",
            f"{show_mm(split.cord)} mm",
            str(len(split.crossings)),
            material="rubber, 70 Shore A",
            cut=ring_cut_length(split),
            use="joint of the split, one round each channel",
        )


def _list_bond(plan: Plan) -> Iterator[PartRow]:
    for lands in plan.sealed.lands:
        kind = tables.material(material_of(plan.panel, "cover")).kind
        what = "cement or adhesive made for this plastic" if kind == "plastic" else "adhesive for metal"
        yield PartRow(
            what,
            f"for {show_number(lands.area_mm2 / 100, 2)} cm2 of lands",
            f"{2 * squeezed_ml(lands):.1f}",
            "mL",
            use=f"joint at the {lands.layer}",
            note="as a film of 0.2 mm; have more at hand",
        )


def _list_counted(items: tuple[CostItem, ...]) -> Iterator[PartRow]:
    for item in items:
        if item.item not in COUNTED:
            continue
        size, _, note = item.what.partition(", length by")
        note = f"length by{note}" if note else ""
        if item.item == "cover screws":
            note = HEAD
        yield PartRow(SINGULAR[item.item], size, show_quantity(item), item.unit, note=note)


def _list_fittings(plan: Plan) -> Iterator[PartRow]:
    tubing = plan.panel.tubing
    tubed = set() if tubing is None else {tube.port for tube in plan.tubes}
    for thread in tables.thread_names():
        ports = [port for port in plan.routed.ports if port.thread == thread]
        hoses = [port for port in ports if not port.is_shut]
        plugs = [port for port in ports if port.is_shut]
        ring = "parallel thread, sealing ring under the collar"
        joined = [port for port in hoses if port.name in tubed]
        free = [port for port in hoses if port.name not in tubed]
        if joined and tubing is not None:
            size = f"{thread}, for tube of {show_mm(tubing.outer)} mm"
            yield PartRow(FITTING, size, str(len(joined)), use=_name_all(joined), note=ring)
        if free:
            size = f"{thread}, for hose" if tubed else thread
            yield PartRow(FITTING, size, str(len(free)), use=_name_all(free), note=ring)
        vents = [port for port in plugs if name_closure(port) == VENTED_PLUG]
        tight = [port for port in plugs if name_closure(port) == PLUG]
        if tight:
            yield PartRow(PLUG, thread, str(len(tight)), use=_name_all(tight), note=ring)
        if vents:
            yield PartRow(
                VENTED_PLUG, thread, str(len(vents)), use=_name_all(vents), note=f"{VENTED}; {ring}"
            )
    gauge = find_gauge_port(plan)
    yield PartRow(
        "test fitting",
        gauge.thread,
        "1",
        use=gauge.name,
        note="for the leak test: gauge, valve, relief valve",
    )
    for thread, ports in group_test_plugs(plan).items():
        yield PartRow(
            "test plug", thread, str(len(ports)), use=_name_all(ports), note="for the test of the panel alone"
        )
    for part in plan.panel.parts:
        if part.restrictor is not None:
            yield PartRow("orifice", f"bore {show_mm(part.restrictor)} mm", "1", use=part.inlet.name)


def _name_all(ports: list[PlacedPort]) -> str:
    return join_names(tuple(port.name for port in ports))


def _list_tubes(plan: Plan) -> Iterator[PartRow]:
    tubing = plan.panel.tubing
    joined = set()
    for tube in plan.tubes:
        joined.add(tube.port)
        if tubing is None or not tube.points:
            yield PartRow(
                tube.name, "", "1", use=f"{tube.port} to {tube.part}", note=tube.why_none or "no way"
            )
            continue
        bends = len(tube.bends)
        how = "straight" if not bends else f"{count_of(bends, 'bend')} of {show_mm(tube.bend_radius)} mm"
        yield PartRow(
            tube.name,
            f"{show_mm(tubing.outer)} mm, {how}",
            "1",
            cut=(tube.length, tube.length),
            use=f"{tube.port} to {tube.part}",
            note=CUT_TUBE,
        )
    open_ = [port for port in plan.routed.ports if not port.is_shut and port.name not in joined]
    if open_:
        note = "its way and length are not in the file; clamps by the fittings' maker"
        use = _name_all(open_) if joined else "each fitting to its part"
        yield PartRow("hose", "to suit the fittings", str(len(open_)), use=use, note=note)


def _list_bought(plan: Plan) -> Iterator[PartRow]:
    panel, pump = plan.panel, plan.panel.pump
    name = "pump" if pump.used in ("", "pump") else f'pump "{pump.used}"'
    seat = f"seat {show_mm(pump.seat_diameter)} mm, bores {show_mm(pump.inlet_bore)} and {show_mm(pump.outlet_bore)} mm"
    sealing = "with its maker's seals"
    flow = f"{show_number(l_min(plan.flowing.flow_m3_s), 2)} L/min on this loop"
    yield PartRow(name, seat, "1", note=f"{sealing}; {flow}")
    if panel.tank.kind == "separate":
        whole = panel.tank.volume_ml
        level = plan.advised.feeding.tank_ml
        size = UNKNOWN if whole is None else f"{show_ml(whole)} mL, filled to its level {show_ml(level)} mL"
        yield PartRow("vented vessel", size, "1", use="tank, above the panel", note=VENTED)
    for part in panel.parts:
        holds = UNKNOWN if part.volume_ml is None else f"holds {show_number(part.volume_ml, 3)} mL"
        yield PartRow(part.name, holds, "1", use=OUTSIDE)


def _list_coolant(items: dict[str, CostItem]) -> Iterator[PartRow]:
    item = items.get("coolant")
    if item is not None:
        fluid, _, more = item.what.partition(", ")
        yield PartRow(f"coolant: {fluid}", "", show_quantity(item), item.unit, note=more)
