"""The cost sheet: masses by hand, counts of the file, prices only where the file gives them."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo
from sample_plan import sample_plan

from exports.report.cost import cost_section
from exports.tables.cost_tables import COLUMNS, cost_csv, describe_cost
from geom.build import build_solids
from geom.features import Blank, Cylinder, Detail, Feature, Prism
from geom.outline import outline_rectangle
from layouts.closing.gland import cut_length
from layouts.cost.parts import plan_part_mm3, weigh_parts
from layouts.cost.print_time import estimate_print
from layouts.cost.quantities import cost_sheet
from layouts.cost.sheet import CostItem, CostSheet
from layouts.panel import Prices
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan

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
    (part,) = weigh_parts(panel, detail, {})
    # The sheet less 40 x 30 x 10, a bore of 10 mm that is 10 mm long over the pocket, and one 30 mm long.
    volume = 200 * 100 * 20 - 40 * 30 * 10 - math.pi * 25 * (10 + 30)
    assert part.volume_mm3 == pytest.approx(volume, rel=1e-5)
    # PMMA: 1190 kg/m3; 3 mm more all round.
    assert part.mass_kg == pytest.approx(volume * 1.19e-6, rel=1e-5)
    assert part.stock is not None
    assert (part.stock.width, part.stock.height, part.stock.thickness) == (206.0, 106.0, 20.0)
    assert part.stock_kg == pytest.approx(206 * 106 * 20 * 1.19e-6)
    assert part.removed_mm3 == pytest.approx(206 * 106 * 20 - volume, rel=1e-4)


def test_the_files_sheet_is_the_stock_and_the_solid_comes_before_the_plan():
    panel = sample_plan().panel
    given = replace(panel, milling=replace(panel.milling, stock=(300.0, 200.0)))
    (part,) = weigh_parts(given, simple_detail(), {"body": 1e5})
    assert part.stock_kg == pytest.approx(300 * 200 * 20 * 1.19e-6)
    assert (part.measured, part.mass_kg) == (True, pytest.approx(0.119))


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
    assert tuple(rows[0]) == COLUMNS == ("item", "what", "quantity", "unit", "each", "sum")
    assert {len(row) for row in rows} == {6}
    section = cost_section(sheet)
    json.dumps(section, allow_nan=False)
    items = section["items"]
    assert [row[0] for row in rows[1 : 1 + len(items)]] == [item["item"] for item in items]
    for row, item in zip(rows[1:], items, strict=False):
        assert float(row[2]) == item["quantity"]
    assert rows[-2][0] == "sum"
    assert float(rows[-2][5]) == section["total"]
    assert rows[-1][0] == "not priced"


def test_printing_takes_the_time_that_its_lines_take():
    plan = plan_demo("cupboard-server")
    printed = estimate_print(plan.panel, 5.4 * 3600 * 10, (0.0, 0.0, 1.0))
    # 0.45 x 0.2 mm at 60 mm/s: 5.4 mm3/s.
    assert printed.hours == pytest.approx(10.0)
    assert "5.4 mm3/s" in printed.assumptions[0]
    resin = replace(plan.panel, printing=replace(plan.panel.printing, process="resin"))
    upright = estimate_print(resin, 1.0, (0.0, 1.0, 0.0))
    assert upright.hours == pytest.approx(plan.panel.height / 0.05 * 10 / 3600)
    sheet = cost_sheet(plan)
    assert find(sheet, "machine").quantity > 1
    assert not [item for item in sheet.items if item.item.startswith("stock")]
    assert any("estimate" in text for text in sheet.assumptions)
