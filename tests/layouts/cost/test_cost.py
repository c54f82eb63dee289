"""The cost sheet: masses by hand, counts of the file, prices only where the file gives them."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from sample_demos import plan_demo
from sample_plan import sample_plan

from exports.pipeline import plan_panel
from exports.report.cost import cost_section
from exports.tables.cost_tables import COLUMNS, cost_csv, describe_cost, show_quantity
from geom.build import build_solids
from geom.features import Blank, Cylinder, Detail, Feature, Prism
from geom.outline import outline_rectangle
from layouts.closing.gland import cut_length
from layouts.cost.parts import plan_part_mm3, weigh_parts
from layouts.cost.print_time import estimate_print
from layouts.cost.quantities import cost_sheet
from layouts.cost.sheet import CostItem, CostSheet
from layouts.milling.work import Milled, Stock
from layouts.panel import Prices
from layouts.panels.catalogue import demo_names, demo_path
from layouts.plan import Plan
from layouts.printing.printed import Crossing, Split

DEMOS = (*demo_names(), "new")
PRICES = Prices(
    "EUR",
    material_per_kg=12.5,
    cord_per_m=1.8,
    screw_each=0.12,
    fitting_each=(("G1/4", 4.2),),
    coolant_per_l=6.0,
    machine_per_h=35.0,
)


def priced(plan: Plan, prices: Prices | None) -> CostSheet:
    return cost_sheet(replace(plan, panel=replace(plan.panel, prices=prices)))


def find(sheet: CostSheet, item: str) -> CostItem:
    (found,) = [one for one in sheet.items if one.item == item]
    return found


def simple_detail() -> Detail:
    """Return a sheet of 200 x 100 x 20 mm with one pocket, one upright and one level bore into it."""
    sheet = outline_rectangle(0.0, 0.0, 200.0, 100.0, 0.0)
    pocket = Feature(
        "tank", "tank", "wet", Prism((outline_rectangle(50.0, 30.0, 90.0, 60.0, 0.0),), 0.0, 10.0)
    )
    upright = Feature(
        "port a G1/4",
        "port",
        "wet",
        Cylinder((70.0, 45.0, 20.0), (0.0, 0.0, -1.0), 15.0, 5.0),
        ("tank",),
        ("front",),
    )
    level = Feature(
        "port b G1/4", "port", "wet", Cylinder((0.0, 80.0, 10.0), (1.0, 0.0, 0.0), 30.0, 5.0), (), ("left",)
    )
    return Detail((Blank("body", sheet, 0.0, 20.0),), (pocket, upright, level), ())


def test_mass_of_a_simple_panel_by_hand():
    panel, detail = sample_plan().panel, simple_detail()
    milled = Milled((), stocks=(Stock("body", 224.0, 124.0, 20.0),))
    (part,) = weigh_parts(panel, detail, milled, {})
    # The sheet less 40 x 30 x 10, a bore of 10 mm that is 10 mm long over the pocket, and one 30 mm long.
    volume = 200 * 100 * 20 - 40 * 30 * 10 - math.pi * 25 * (10 + 30)
    assert part.volume_mm3 == pytest.approx(volume, rel=1e-5)
    # PMMA: 1190 kg/m3.
    assert part.mass_kg == pytest.approx(volume * 1.19e-6, rel=1e-5)
    assert part.stock_kg == pytest.approx(224 * 124 * 20 * 1.19e-6)


def test_the_solid_comes_before_the_plan():
    (part,) = weigh_parts(sample_plan().panel, simple_detail(), None, {"body": 1e5})
    assert (part.measured, part.mass_kg) == (True, pytest.approx(0.119))
    assert (part.stock, part.stock_kg) == (None, 0.0)


@pytest.mark.parametrize("name", ["workshop-render", "laser-driver"])
def test_what_is_removed_is_what_the_cutter_list_takes(name: str):
    plan = plan_demo(name)
    assert plan.milled is not None
    removed = find(cost_sheet(plan), "removed")
    chips = math.fsum(job.volume_mm3 for job in plan.milled.jobs)
    assert removed.quantity == pytest.approx(chips / 1e3)
    # It comes out of the sheets: what is left of them is the parts and a frame round them.
    sheets = math.fsum(stock.volume_mm3 for stock in plan.milled.stocks)
    parts = math.fsum(plan_part_mm3(blank, plan.detail.features) for blank in plan.detail.blanks)
    assert sheets - parts >= chips * 0.995


@pytest.mark.parametrize("name", ["laser-driver", "cupboard-server"])
def test_plan_and_solid_weigh_the_same(name: str):
    plan = plan_demo(name)
    volumes = build_solids(plan.detail).volumes
    for blank in plan.detail.blanks:
        solid = volumes[f"part {blank.name}"]
        assert plan_part_mm3(blank, plan.detail.features) == pytest.approx(solid, rel=5e-3)


@pytest.mark.parametrize("name", DEMOS)
def test_counts_are_those_of_the_plan(name: str):
    plan = plan_demo(name)
    sheet = cost_sheet(plan)
    fittings = sum(item.quantity for item in sheet.items if item.item.startswith("fittings"))
    assert fittings == len(plan.routed.ports)
    cover = sum(item.quantity for item in sheet.items if item.item == "cover screws")
    assert cover == len(plan.sealed.screws) + len(plan.sealed.front_screws)
    pump = sum(item.quantity for item in sheet.items if item.item == "pump screws")
    assert pump == len(plan.routed.pump.screws)
    feeding = plan.advised.feeding
    assert find(sheet, "coolant").quantity == pytest.approx((feeding.tank_ml + feeding.loop_ml) / 1e3)
    assert all(item.quantity > 0 for item in sheet.items)


def test_cord_is_cut_with_its_splices():
    plan = plan_demo("new")
    cord = find(cost_sheet(plan), "cord")
    from geom.standards.tables import cord as row

    lengths = [cut_length(loop, row(2.0))[1] for loop in plan.sealed.loops]
    assert cord.quantity == pytest.approx((sum(lengths) + 2.0 * len(lengths)) / 1e3)


def test_a_cord_butted_against_another_has_no_splice():
    plan = plan_demo("new")
    first, *rest = plan.sealed.loops
    butted = replace(first, closed=False)
    before = find(cost_sheet(plan), "cord").quantity
    after = find(
        cost_sheet(replace(plan, sealed=replace(plan.sealed, loops=(butted, *rest)))), "cord"
    ).quantity
    # 2 mm of splice, and 2 mm of the cords that it ends at.
    assert before - after == pytest.approx(4e-3)


def test_rings_are_cut_as_the_split_tells():
    plan = plan_demo("cupboard-server")
    assert plan.printed is not None
    crossings = tuple(Crossing("a", (10.0 * k, 20.0, 10.0), 6.0, 8.0) for k in (1, 3, 5))
    split = Split("y", 20.0, crossings, 20.0, 1.5, (), 15.0, 2.0)
    rings = find(cost_sheet(replace(plan, printed=replace(plan.printed, split=split))), "cord rings")
    assert rings.quantity == pytest.approx(3 * math.pi * 17.5 / 1e3)


def test_a_sheet_cover_of_a_printed_panel_is_stock(tmp_path: Path):
    text = demo_path("synthesizer-rack").read_text("utf-8")
    file = tmp_path / "panel.toml"
    file.write_text(
        re.sub(r'material = "PETG"\n', 'material = "PETG"\ncover_material = "aluminium 6082-T6"\n', text),
        "utf-8",
    )
    plan = plan_panel(file)
    parts = {
        part.part: part
        for part in weigh_parts(plan.panel, plan.detail, plan.milled, {"body": 3e5, "cover": 1e5})
    }
    assert parts["body"].stock is None
    assert parts["cover"].stock is not None
    assert parts["cover"].mass_kg == pytest.approx(2700 * 1e-4, rel=0.01)
    sheet = cost_sheet(plan, {"body": 3e5, "cover": 1e5})
    assert find(sheet, "printed").quantity == 300.0
    assert find(sheet, "machine").quantity == pytest.approx(
        estimate_print(plan.panel, plan.detail.blanks[:1], 3e5, (0.0, 0.0, 1.0)).hours
    )
    assert not [item for item in sheet.items if item.item == "print cover"]
    assert "aluminium 6082-T6" in find(sheet, "stock cover").what


def test_without_prices_there_are_no_sums():
    sheet = priced(plan_demo("new"), None)
    assert all(item.each is None and item.sum is None for item in sheet.items)
    assert (sheet.total, sheet.currency, sheet.unpriced) == (None, "", ())
    assert "sum" not in describe_cost(sheet)
    rows = list(csv.DictReader(io.StringIO(cost_csv(sheet))))
    assert {row["each"] + row["sum"] for row in rows} == {""}
    section = cost_section(sheet)
    assert (section["currency"], section["total"], section["not_priced"]) == (None, None, [])


def test_sums_are_of_what_is_priced_and_the_rest_is_named():
    plan = plan_demo("new")
    sheet = priced(plan, PRICES)
    ports = [port.thread for port in plan.routed.ports]
    screws = find(sheet, "cover screws")
    assert screws.sum == round(0.12 * len(plan.sealed.screws), 2)
    assert find(sheet, "fittings G1/4").sum == round(4.2 * ports.count("G1/4"), 2)
    stock = find(sheet, "stock body")
    assert stock.sum == round(stock.quantity * 12.5, 2)
    assert find(sheet, "stock cover").each == 12.5
    assert sheet.total == pytest.approx(sum(item.sum for item in sheet.items if item.sum is not None))
    assert "washers" in sheet.unpriced
    assert "finished body" not in sheet.unpriced
    assert "not priced: washers" in describe_cost(sheet)
    assert f"sum {sheet.total:.2f} EUR" in describe_cost(sheet)
    dear = priced(plan, replace(PRICES, fitting_each=()))
    assert "fittings G1/4" in dear.unpriced
    assert dear.total == pytest.approx((sheet.total or 0.0) - 4.2 * ports.count("G1/4"))


def test_a_cover_of_another_material_has_a_price_of_its_own():
    plan = plan_demo("new")
    other = replace(plan.panel, make=replace(plan.panel.make, cover_material="aluminium 6082-T6"))
    plan = replace(plan, panel=other)
    assert find(priced(plan, PRICES), "stock cover").each is None
    assert find(priced(plan, replace(PRICES, cover_material_per_kg=9.0)), "stock cover").each == 9.0


def test_csv_has_stable_columns_and_the_report_the_same_items():
    sheet = priced(plan_demo("new"), PRICES)
    rows = list(csv.reader(io.StringIO(cost_csv(sheet))))
    assert tuple(rows[0]) == COLUMNS == ("item", "what", "quantity", "unit", "each", "sum", "currency")
    assert {len(row) for row in rows} == {7}
    assert {row[6] for row in rows[1:] if row[5]} == {"EUR"}
    section = cost_section(sheet)
    json.dumps(section, allow_nan=False)
    items = section["items"]
    assert [row[0] for row in rows[1 : 1 + len(items)]] == [item["item"] for item in items]
    for row, item in zip(rows[1:], items, strict=False):
        assert float(row[2]) == item["quantity"]
    assert rows[-2][0] == "sum"
    assert float(rows[-2][5]) == section["total"]
    assert rows[-1][0] == "not priced"


def test_no_cell_is_one_that_a_spreadsheet_takes_for_a_formula():
    items = tuple(CostItem(f"{sign}1+1", f"{sign}cmd", 1.0, "pcs", True, 1.0) for sign in "=+-@")
    rows = list(csv.reader(io.StringIO(cost_csv(CostSheet(items, "=EUR")))))
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@"))]


def test_printing_takes_the_time_that_its_lines_take():
    plan = plan_demo("cupboard-server")
    printed = estimate_print(plan.panel, plan.detail.blanks, 5.4 * 3600 * 10, (0.0, 0.0, 1.0))
    # 0.45 x 0.2 mm at 60 mm/s: 5.4 mm3/s.
    assert printed.hours == pytest.approx(10.0)
    assert "5.4 mm3/s" in printed.assumptions[0]
    resin = replace(plan.panel, printing=replace(plan.panel.printing, process="resin"))
    upright = estimate_print(resin, plan.detail.blanks, 1.0, (0.0, 1.0, 0.0))
    assert upright.hours == pytest.approx(plan.panel.height / 0.05 * 10 / 3600)
    # The pieces of a split panel one after the other, each as high as it is.
    pieces = [
        Blank(name, outline_rectangle(0.0, y0, 200.0, y1, 0.0), 0.0, 20.0)
        for name, y0, y1 in (("panel lower", 0.0, 130.0), ("panel upper", 130.0, 250.0))
    ]
    hours = [estimate_print(resin, pieces, 1.0, up).hours for up in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))]
    assert hours == pytest.approx([h / 0.05 * 10 / 3600 for h in (400.0, 250.0)])
    sheet = cost_sheet(plan)
    assert find(sheet, "machine").quantity > 1
    assert not [item for item in sheet.items if item.item.startswith("stock")]
    assert any("estimate" in text for text in sheet.assumptions)


@pytest.mark.parametrize(
    ("quantity", "unit", "shown"),
    [
        (0.764, "L", 0.77),
        (1.9115, "m", 1.92),
        (0.76, "L", 0.76),
        (1.2 + 0.36 + 0.36, "m", 1.92),
        (0.3741, "kg", 0.374),
    ],
)
def test_what_is_cut_or_poured_is_bought_whole(quantity, unit, shown):
    assert CostItem("x", "", quantity, unit).shown == shown
    assert CostItem("x", "", quantity, unit, False).shown == round(quantity, 3 if unit == "kg" else 2)


def test_every_sum_is_that_of_the_quantity_as_shown():
    """0.2986 L at 6 EUR a litre is shown as 0.30 L: 1.80, not 1.79."""
    litres = CostItem("coolant", "water", 0.2986, "L", True, 6.0)
    assert (litres.shown, litres.sum) == (0.3, 1.8)
    rows = list(csv.DictReader(io.StringIO(cost_csv(priced(plan_demo("new"), PRICES)))))
    summed = [row for row in rows if row["each"]]
    assert len(summed) >= 6
    for row in summed:
        assert float(row["sum"]) == pytest.approx(float(row["quantity"]) * float(row["each"]), abs=0.0051)


def test_hours_are_told_to_two_digits_and_solid_prints_as_such():
    for hours, shown in ((59.47, "59"), (2.571, "2.6"), (0.1234, "0.12"), (123.4, "120")):
        item = CostItem("machine", "", hours, "h", True, 10.0)
        assert show_quantity(item) == shown
        assert item.sum == pytest.approx(10.0 * float(shown))
    printed = find(cost_sheet(plan_demo("cupboard-server")), "print panel")
    assert "solid" in printed.what
    assert "support not counted" in printed.what
